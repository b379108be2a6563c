"""The table of chord qualities: the one place that says how a quality is written and what sounds.

A tone is a degree of the major scale on the root, flattened or sharpened: ``b3`` is three semitones up, ``#11`` six (an octave
higher). The tones are the ones that the symbol names; where lead sheets differ, those of the MusicXML 4.0 kinds are taken: an
eleventh chord has its ninth, a thirteenth its ninth and eleventh. A second table says what an alteration takes away and what it
brings. Adding a quality or an alteration is adding a row.

Canonical form: chords of the same tones are written alike, whatever was read. A row of the table comes before a row with
alterations, fewer alterations before more, and the upper row where these are equal: ``Cm7(b5)`` is ``Cm7b5``, ``C7(sus4)`` is
``C7sus4``, ``C7#5#9`` and ``C+7(#9)`` are one chord. Beside a seventh an added second, fourth or sixth (of a chord with its
third) is a ninth, eleventh or thirteenth.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache

from charts.key import MAJOR_SCALE

ToneAt = tuple[int, int]
"""(degree, semitones above the root, 0 to 11)."""

_TONE = re.compile(r"(bb|b|#|)(\d+)")
_SHARPENED = {"bb": -2, "b": -1, "": 0, "#": 1}


def tone(text: str) -> ToneAt:
    """``"b9"`` to its degree and its semitones above the root, 0 to 11."""
    match = _TONE.fullmatch(text)
    if match is None:
        raise ValueError(f"{text} is not a degree")
    degree = int(match[2])
    return degree, (MAJOR_SCALE[(degree - 1) % 7] + _SHARPENED[match[1]]) % 12


@dataclass(frozen=True, slots=True)
class Quality:
    """One row of the table of qualities."""

    name: str
    """As written behind the root in canonical form; empty for a major triad."""
    tones: tuple[ToneAt, ...]
    """From the root up."""
    spellings: tuple[str, ...]
    """Everything that is read as this quality, the name among them."""


@dataclass(frozen=True, slots=True)
class Alteration:
    """One row of the table of alterations."""

    name: str
    """As written in parentheses in canonical form."""
    takes: frozenset[ToneAt]
    """The tones that it takes away, where they are there."""
    brings: frozenset[ToneAt]
    spellings: tuple[str, ...]
    """Everything that is read as this alteration, the name among them."""


_FAMILIES = {
    "{M}": ("maj", "ma", "M", "Δ", "j"),
    "{m}": ("m", "min", "mi", "-"),
    "{o}": ("dim", "o", "°"),
    "{+}": ("aug", "+"),
    "{no}": ("no", "omit"),
}
"""Beginnings that the tables write short."""

_QUALITIES = """
            | 1 3 5               | maj  ma  M  major
m           | 1 b3 5              | {m}  minor
dim         | 1 b3 b5             | {o}
aug         | 1 3 #5              | {+}
sus4        | 1 4 5               | sus
sus2        | 1 2 5               |
sus2sus4    | 1 2 4 5             | sus24  sus42
2           | 1 2 3 5             |
4           | 1 3 4 5             |
m2          | 1 2 b3 5            | {m}2
m4          | 1 b3 4 5            | {m}4
add9        | 1 3 5 9             |
m(add9)     | 1 b3 5 9            |
add11       | 1 3 5 11            |
m(add11)    | 1 b3 5 11           |
6           | 1 3 5 6             | {M}6
m6          | 1 b3 5 6            | {m}6
6sus4       | 1 4 5 6             | 6sus
6/9         | 1 3 5 6 9           | 69  {M}69  {M}6/9  9/6
m6/9        | 1 b3 5 6 9          | {m}69  {m}6/9
7           | 1 3 5 b7            | dom7  dom
maj7        | 1 3 5 7             | {M}7  7{M}  Δ
m7          | 1 b3 5 b7           | {m}7
m(maj7)     | 1 b3 5 7            |
dim7        | 1 b3 b5 bb7         | {o}7
m7b5        | 1 b3 b5 b7          | ø  ø7  halfdim  halfdim7  half-dim  half-dim7  {o}(b7)
dim(maj7)   | 1 b3 b5 7           |
aug7        | 1 3 #5 b7           | {+}7
maj7#5      | 1 3 #5 7            |
7b5         | 1 3 b5 b7           |
maj7b5      | 1 3 b5 7            |
7sus4       | 1 4 5 b7            | sus7  sus47
7sus2       | 1 2 5 b7            |
maj7sus4    | 1 4 5 7             |
maj7sus2    | 1 2 5 7             |
9           | 1 3 5 b7 9          | dom9
maj9        | 1 3 5 7 9           | {M}9
m9          | 1 b3 5 b7 9         | {m}9
m(maj9)     | 1 b3 5 7 9          | {m}{M}9  {m}({M}9)
dim9        | 1 b3 b5 bb7 9       | {o}9
m9b5        | 1 b3 b5 b7 9        | ø9
aug9        | 1 3 #5 b7 9         | {+}9
maj9#5      | 1 3 #5 7 9          | {+}{M}9
9sus4       | 1 4 5 b7 9          | sus9
maj9sus4    | 1 4 5 7 9           |
11          | 1 3 5 b7 9 11       | dom11
maj11       | 1 3 5 7 9 11        | {M}11
m11         | 1 b3 5 b7 9 11      | {m}11
m(maj11)    | 1 b3 5 7 9 11       | {m}{M}11  {m}({M}11)
dim11       | 1 b3 b5 bb7 9 11    | {o}11
m11b5       | 1 b3 b5 b7 9 11     | ø11
aug11       | 1 3 #5 b7 9 11      | {+}11
maj11#5     | 1 3 #5 7 9 11       | {+}{M}11
13          | 1 3 5 b7 9 11 13    | dom13
maj13       | 1 3 5 7 9 11 13     | {M}13
m13         | 1 b3 5 b7 9 11 13   | {m}13
m(maj13)    | 1 b3 5 7 9 11 13    | {m}{M}13  {m}({M}13)
m13b5       | 1 b3 b5 b7 9 11 13  | ø13
aug13       | 1 3 #5 b7 9 11 13   | {+}13
maj13#5     | 1 3 #5 7 9 11 13    | {+}{M}13
13sus4      | 1 4 5 b7 9 13       | sus13
7alt        | 1 3 b5 #5 b7 b9 #9  | alt
5           | 1 5                 | power
"""
"""Name, tones and further spellings. A spelling that is another row with an alteration needs no place here."""

_ALTERATIONS = """
sus4   | b3 3 11    | 4   | sus
sus2   | b3 3 9     | 2   |
maj7   | bb7 b7     | 7   | {M}7  Δ  #7  +7
b5     | 5          | b5  | -5  dim5
#5     | 5          | #5  | +5  {+}
add2   |            | 2   |
add4   |            | 4   |
b6     | 6          | b6  | addb6
add6   |            | 6   | 6
b9     | 9          | b9  | -9  addb9
add9   |            | 9   | 9
#9     | 9          | #9  | +9  add#9  b10
add11  |            | 11  | 11
#11    | 11         | #11 | +11  add#11  #4
b13    | 13         | b13 | -13  addb13
add13  |            | 13  | 13
no3    | b3 3       |     | {no}3  {no}3rd
no5    | b5 5 #5    |     | {no}5  {no}5th
no7    | bb7 b7 7   |     | {no}7
no9    | b9 9 #9    |     | {no}9
no11   | 11 #11     |     | {no}11
"""
"""Name, tones taken away, tones brought and further spellings, in the order in which they are written."""

_READ_ONLY = ("sus4", "sus2", "maj7")
"""Alterations that canonical form never needs: there are rows for what they make."""


def _cells(table: str) -> Iterator[list[str]]:
    for line in table.strip("\n").splitlines():
        yield [cell.strip() for cell in line.split("|")]


def _tones(text: str) -> tuple[ToneAt, ...]:
    return tuple(tone(each) for each in text.split())


def _spelled(name: str, spellings: str) -> tuple[str, ...]:
    """A row's spellings, the families written out; the name itself counts as one."""
    found = [name, *spellings.split()]
    for mark, family in _FAMILIES.items():
        found = [text.replace(mark, begins) for text in found for begins in (family if mark in text else ("",))]
    return tuple(dict.fromkeys(found))


QUALITIES: dict[str, Quality] = {
    name: Quality(name, _tones(tones), _spelled(name, spellings)) for name, tones, spellings in _cells(_QUALITIES)
}
"""Every quality by its canonical name."""
ALTERATIONS: dict[str, Alteration] = {
    name: Alteration(name, frozenset(_tones(takes)), frozenset(_tones(brings)), _spelled(name, spellings))
    for name, takes, brings, spellings in _cells(_ALTERATIONS)
}
"""Every alteration by its canonical name, in the order in which they are written."""
USUAL = ("maj7", "m7", "7", "6", "sus4", "sus2", "m", "dim", "aug", "5", "add9", "9", "m7b5")
"""The qualities that an error names."""
USUAL_ALTERATIONS = tuple(name for name in ALTERATIONS if name not in _READ_ONLY)
"""The alterations that an error names."""

SPELLINGS: dict[str, str] = {text: row.name for row in QUALITIES.values() for text in row.spellings}
"""Every way of writing a quality, to its canonical name."""
ALTERATION_SPELLINGS: dict[str, str] = {text: row.name for row in ALTERATIONS.values() for text in row.spellings}
"""Every way of writing an alteration, to its canonical one."""
WORDS = frozenset(
    word
    for text in (_QUALITIES, _ALTERATIONS, *(begins for family in _FAMILIES.values() for begins in family))
    for word in re.findall(r"(?<![a-z{])[a-z]{2,}(?![a-z}])", text)
    if word not in ("bb", "addb")
)
"""The words in the tables, which are read in capitals too: ``CMA7``, ``CSUS4``. A single m or M is never changed."""

_ORDER = {name: place for place, name in enumerate(ALTERATIONS)}
_BROUGHT = {each: row.name for row in ALTERATIONS.values() if row.name not in _READ_ONLY for each in row.brings}
_NO_TENSION = ("no7", "no9", "no11")
_BESIDE_A_SEVENTH = {6: 13}
_AND_A_THIRD = {2: 9, 4: 11, 6: 13}
"""What an added degree is called then; without a third, the second or fourth is its suspension and keeps its name."""


def altered(quality: str, alterations: Iterable[str]) -> tuple[ToneAt, ...]:
    """The tones of a quality with its alterations, from the root up. First all of them take away, then all bring."""
    rows = [ALTERATIONS[name] for name in alterations]
    tones = set(QUALITIES[quality].tones).difference(*(row.takes for row in rows)).union(*(row.brings for row in rows))
    degrees = {degree for degree, _ in tones}
    if 7 in degrees:
        higher = _AND_A_THIRD if 3 in degrees else _BESIDE_A_SEVENTH
        tones = {(higher.get(degree, degree), semitones) for degree, semitones in tones}
    return tuple(sorted(tones))


def canonical(quality: str, alterations: Iterable[str]) -> tuple[str, tuple[str, ...]]:
    """The quality and alterations that are the canonical form of these."""
    return _named(altered(quality, alterations))


def written(quality: str, alterations: tuple[str, ...]) -> str:
    """A quality and its alterations as they stand behind the root: ``7(b9,#11)``, ``m(maj7,b9)``."""
    if not alterations:
        return quality
    inside = ",".join(alterations)
    return f"{quality[:-1]},{inside})" if quality.endswith(")") else f"{quality}({inside})"


@lru_cache(maxsize=4096)
def _named(tones: tuple[ToneAt, ...]) -> tuple[str, tuple[str, ...]]:
    """The row that comes to these tones with the fewest alterations, and those alterations."""
    found = []
    for place, row in enumerate(QUALITIES):
        alterations = _needed(row, tones)
        if altered(row, alterations) == tones:
            # 9(b5) rather than 7b5(add9), 7(add11) rather than 11(no9)
            roundabout = written(row, alterations).count("add") + sum(name in _NO_TENSION for name in alterations)
            found.append((len(alterations), roundabout, place, row, alterations))
    *_, row, alterations = min(found)
    return row, alterations


def _needed(row: str, tones: tuple[ToneAt, ...]) -> tuple[str, ...]:
    """The alterations that could make a row into the tones: for every tone it lacks, and for every tone left over."""
    has = set(QUALITIES[row].tones)
    brought = {_BROUGHT[each] for each in set(tones) - has if each in _BROUGHT}
    left = has - set(tones) - {each for name in brought for each in ALTERATIONS[name].takes}
    dropped = {f"no{degree}" for degree, _ in left} & ALTERATIONS.keys()
    return tuple(sorted(brought | dropped, key=_ORDER.__getitem__))
