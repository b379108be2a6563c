"""The table of chord qualities: the one place that says how a quality is written and what sounds.

A tone is a degree of the major scale on the root, flattened or sharpened: ``b3`` is three semitones up, ``#11`` six (an octave
higher). The tones are the ones that the symbol names; where lead sheets differ, those of the MusicXML 4.0 kinds are taken: an
eleventh chord has its ninth, a thirteenth its ninth and eleventh. Adding a quality is adding a row.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from charts.key import MAJOR_SCALE

_TONE = re.compile(r"(bb|b|#|)(\d+)")
_SHARPENED = {"bb": -2, "b": -1, "": 0, "#": 1}


def tone(text: str) -> tuple[int, int]:
    """``"b9"`` to its degree and its semitones above the root, 0 to 11."""
    match = _TONE.fullmatch(text)
    if match is None:
        raise ValueError(f"{text} is not a degree")
    degree = int(match[2])
    return degree, (MAJOR_SCALE[(degree - 1) % 7] + _SHARPENED[match[1]]) % 12


@dataclass(frozen=True, slots=True)
class Quality:
    """One row of the table."""

    name: str
    """As written behind the root in canonical form; empty for a major triad."""
    tones: tuple[tuple[int, int], ...]
    """(degree, semitones above the root), from the root up."""
    spellings: tuple[str, ...]
    """Everything that is read as this quality, the name among them."""


_MAJOR, _MINOR, _DIMINISHED, _AUGMENTED = "maj|ma|M|Maj|MAJ|Δ|j", "m|min|mi|-|Min|MIN", "dim|o|°|Dim", "aug|+|Aug"
"""How the four families of triads begin; ``{M}``, ``{m}``, ``{o}`` and ``{+}`` stand for them in the table."""

_TABLE = """
            | 1 3 5              | maj  ma  M  Maj  MAJ  major
m           | 1 b3 5             | {m}  minor
dim         | 1 b3 b5            | {o}  m(b5)  -b5
aug         | 1 3 #5             | {+}  (#5)
5           | 1 5                | (no3)  power
sus4        | 1 4 5              | sus  Sus  sus4
sus2        | 1 2 5              |
sus2sus4    | 1 2 4 5            | sus24  sus42  sus4sus2
2           | 1 2 3 5            | add2  (add2)
4           | 1 3 4 5            | add4  (add4)
m2          | 1 2 b3 5           | {m}add2  {m}(add2)  {m}2
m4          | 1 b3 4 5           | {m}add4  {m}(add4)  {m}4
add9        | 1 3 5 9            | (add9)  {M}add9  {M}(add9)
m(add9)     | 1 b3 5 9           | {m}add9  {m}(add9)
add11       | 1 3 5 11           | (add11)
m(add11)    | 1 b3 5 11          | {m}add11  {m}(add11)
6           | 1 3 5 6            | {M}6  add6  (add6)
m6          | 1 b3 5 6           | {m}6  {m}add6
6/9         | 1 3 5 6 9          | 69  6(9)  6add9  6(add9)  {M}69  {M}6/9
m6/9        | 1 b3 5 6 9         | {m}69  {m}6/9  {m}6(9)  {m}6add9
7           | 1 3 5 b7           | dom7  dom
maj7        | 1 3 5 7            | {M}7  7maj  Δ
m7          | 1 b3 5 b7          | {m}7
m(maj7)     | 1 b3 5 7           | {m}{M}7  {m}({M}7)
dim7        | 1 b3 b5 bb7        | {o}7
m7b5        | 1 b3 b5 b7         | ø  ø7  {m}7b5  {m}7(b5)  {m}7-5  halfdim  halfdim7  half-dim  half-dim7  {o}(b7)
dim(maj7)   | 1 b3 b5 7          | {o}{M}7  {o}({M}7)
aug7        | 1 3 #5 b7          | {+}7  7{+}  7#5  7(#5)  7+5
maj7#5      | 1 3 #5 7           | {M}7#5  {M}7(#5)  {+}{M}7  {+}({M}7)  {M}7+5
7b5         | 1 3 b5 b7          | 7(b5)  7-5
maj7b5      | 1 3 b5 7           | {M}7b5  {M}7(b5)
7sus4       | 1 4 5 b7           | 7sus  7(sus4)  7(sus)  sus7  sus47
7sus2       | 1 2 5 b7           | 7(sus2)
maj7sus4    | 1 4 5 7            | {M}7sus4  {M}7sus
9           | 1 3 5 b7 9         | dom9
maj9        | 1 3 5 7 9          | {M}9
m9          | 1 b3 5 b7 9        | {m}9
m(maj9)     | 1 b3 5 7 9         | {m}{M}9  {m}({M}9)
aug9        | 1 3 #5 b7 9        | {+}9  9#5  9(#5)
9sus4       | 1 4 5 b7 9         | 9sus  9(sus4)  sus9
11          | 1 3 5 b7 9 11      | dom11
maj11       | 1 3 5 7 9 11       | {M}11
m11         | 1 b3 5 b7 9 11     | {m}11
13          | 1 3 5 b7 9 11 13   | dom13
maj13       | 1 3 5 7 9 11 13    | {M}13
m13         | 1 b3 5 b7 9 11 13  | {m}13
13sus4      | 1 4 5 b7 9 13      | 13sus  13(sus4)
7alt        | 1 3 b5 #5 b7 b9 #9 | alt  7(alt)
"""


def _spelled(name: str, spellings: str) -> tuple[str, ...]:
    """A row's spellings, the families written out; the name itself counts as one."""
    families = {"{M}": _MAJOR, "{m}": _MINOR, "{o}": _DIMINISHED, "{+}": _AUGMENTED}
    found = [name, *re.split(r"\s+", spellings.strip())]
    for mark, family in families.items():
        found = [
            spelling.replace(mark, begins)
            for spelling in found
            for begins in (family.split("|") if mark in spelling else [""])
        ]
    return tuple(dict.fromkeys(found))


def _rows() -> dict[str, Quality]:
    rows: dict[str, Quality] = {}
    for line in _TABLE.strip("\n").splitlines():
        name, tones, spellings = (cell.strip() for cell in line.split("|"))
        rows[name] = Quality(name, tuple(tone(text) for text in tones.split()), _spelled(name, spellings))
    return rows


QUALITIES: dict[str, Quality] = _rows()
"""Every quality by its canonical name."""
USUAL = ("m", "7", "maj7", "m7", "sus4", "sus2", "6", "dim", "aug", "5", "add9", "9", "m7b5")
"""The ones that an error names."""
SPELLINGS: dict[str, str] = {
    spelling: row.name for row in reversed(QUALITIES.values()) for spelling in row.spellings if spelling or not row.name
}
"""Every way of writing a quality, to its canonical name."""
_BY_TONES = {frozenset(row.tones): row.name for row in reversed(QUALITIES.values())}

ALTERATIONS = ("no3", "no5", "b5", "#5", "b6", "b9", "9", "#9", "11", "#11", "b13", "13")
"""What may be added behind a quality, or in parentheses, in the order in which it is written."""
_OTHER_ALTERATIONS = {
    "omit3": "no3",
    "omit5": "no5",
    "no3rd": "no3",
    "no5th": "no5",
    "-5": "b5",
    "+5": "#5",
    "-9": "b9",
    "+9": "#9",
    "+11": "#11",
    "-13": "b13",
    "add9": "9",
    "add2": "9",
    "addb9": "b9",
    "add#9": "#9",
    "add4": "11",
    "add#11": "#11",
    "addb13": "b13",
    "addb6": "b6",
    "add11": "11",
    "add13": "13",
    "add6": "13",
    "#4": "#11",
    "b10": "#9",
}
ALTERATION_SPELLINGS = {text: text for text in ALTERATIONS} | _OTHER_ALTERATIONS
"""Every way of writing an alteration, to its canonical one."""


def altered(quality: str, alterations: tuple[str, ...]) -> tuple[tuple[int, int], ...]:
    """The tones of a quality with its alterations, from the root up. An altered fifth takes the fifth's place."""
    tones = list(QUALITIES[quality].tones)
    for text in alterations:
        if text.startswith("no"):
            tones = [item for item in tones if item[0] != int(text[2:])]
            continue
        degree, semitones = tone(text)
        if degree == 5:
            tones = [item for item in tones if item != (5, 7)]
        elif semitones != MAJOR_SCALE[(degree - 1) % 7]:
            tones = [item for item in tones if item != (degree, MAJOR_SCALE[(degree - 1) % 7])]
        if (degree, semitones) not in tones:
            tones.append((degree, semitones))
    return tuple(sorted(tones))


def canonical(quality: str, alterations: tuple[str, ...]) -> tuple[str, tuple[str, ...]]:
    """The same tones in canonical form: as a row of the table where one has them, else with the alterations in order."""
    tones = altered(quality, alterations)
    row = _BY_TONES.get(frozenset(tones))
    if row is not None:
        return row, ()
    plain = set(QUALITIES[quality].tones)
    kept = [text for text in dict.fromkeys(alterations) if text.startswith("no") or tone(text) not in plain]
    return quality, tuple(sorted(kept, key=ALTERATIONS.index))
