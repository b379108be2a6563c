"""Harmony as MusicXML 4.0 has it: the kinds of its schema, and their tones as its documentation lists them.

A kind, added, altered and subtracted degrees together name tones; tones name a chord of ``charts.qualities``. The kinds that
name a function rather than tones (Neapolitan, Italian, French, German) are read as the chords they are (from memory, any
harmony textbook): a major triad, a seventh without its fifth, a seventh with a flat fifth, a seventh; the Tristan chord as the
half-diminished one that it sounds as.

Source: W3C MusicXML 4.0, simple type kind-value and element degree (names and intervals copied as facts).
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from charts.chord import Chord
from charts.key import MAJOR_SCALE
from charts.pitch import Spelling
from charts.qualities import ALTERATIONS, QUALITIES, ToneAt, altered, canonical, tone

_KINDS = """
major               | 1 3 5
minor               | 1 b3 5
augmented           | 1 3 #5
diminished          | 1 b3 b5
dominant            | 1 3 5 b7
major-seventh       | 1 3 5 7
minor-seventh       | 1 b3 5 b7
diminished-seventh  | 1 b3 b5 bb7
augmented-seventh   | 1 3 #5 b7
half-diminished     | 1 b3 b5 b7
major-minor         | 1 b3 5 7
major-sixth         | 1 3 5 6
minor-sixth         | 1 b3 5 6
dominant-ninth      | 1 3 5 b7 9
major-ninth         | 1 3 5 7 9
minor-ninth         | 1 b3 5 b7 9
dominant-11th       | 1 3 5 b7 9 11
major-11th          | 1 3 5 7 9 11
minor-11th          | 1 b3 5 b7 9 11
dominant-13th       | 1 3 5 b7 9 11 13
major-13th          | 1 3 5 7 9 11 13
minor-13th          | 1 b3 5 b7 9 11 13
suspended-second    | 1 2 5
suspended-fourth    | 1 4 5
Neapolitan          | 1 3 5
Italian             | 1 3 b7
French              | 1 3 b5 b7
German              | 1 3 5 b7
pedal               | 1
power               | 1 5
Tristan             | 1 b3 b5 b7
"""
_BEYOND = """
minor-major-ninth           | 1 b3 5 7 9
minor-major-11th            | 1 b3 5 7 9 11
minor-major-13th            | 1 b3 5 7 9 11 13
augmented-major-seventh     | 1 3 #5 7
augmented-major-ninth       | 1 3 #5 7 9
augmented-major-11th        | 1 3 #5 7 9 11
augmented-major-13th        | 1 3 #5 7 9 11 13
augmented-ninth             | 1 3 #5 b7 9
augmented-dominant-ninth    | 1 3 #5 b7 9
augmented-11th              | 1 3 #5 b7 9 11
augmented-dominant-13th     | 1 3 #5 b7 9 11 13
half-diminished-ninth       | 1 b3 b5 b7 9
half-diminished-minor-ninth | 1 b3 b5 b7 b9
half-diminished-11th        | 1 b3 b5 b7 9 11
half-diminished-13th        | 1 b3 b5 b7 9 11 13
diminished-ninth            | 1 b3 b5 bb7 9
diminished-minor-ninth      | 1 b3 b5 bb7 b9
diminished-11th             | 1 b3 b5 bb7 9 11
seventh-flat-five           | 1 3 b5 b7
suspended-fourth-seventh    | 1 4 5 b7
"""


def _table(text: str) -> dict[str, tuple[ToneAt, ...]]:
    rows = (line.partition("|") for line in text.strip().splitlines())
    return {name.strip(): tuple(tone(each) for each in tones.split()) for name, _, tones in rows}


KINDS = _table(_KINDS)
"""Every kind of the schema that names tones, with them; beside these it has ``other`` and ``none``."""
BEYOND = _table(_BEYOND)
"""Kinds that exporters write in the manner of the schema, which has them not."""
NONE = "none"
"""The kind of N.C."""
WRITTEN = tuple(name for name in KINDS if name not in ("Neapolitan", "Italian", "French", "German", "pedal", "Tristan"))
"""The kinds that are written."""
OTHER_NAMES = {
    "min": "minor",
    "maj": "major",
    "aug": "augmented",
    "dim": "diminished",
    "dominant-seventh": "dominant",
    "sus2": "suspended-second",
    "sus4": "suspended-fourth",
    "sus47": "suspended-fourth",
    "maj69": "major-sixth",
    "min69": "minor-sixth",
    "minor-major": "major-minor",
    "minor-major-seventh": "major-minor",
    "major-minor-seventh": "dominant",
    "half-diminished-seventh": "half-diminished",
    "dim7": "diminished-seventh",
    "7": "dominant",
    "m7": "minor-seventh",
    "min7": "minor-seventh",
    "maj7": "major-seventh",
    "min9": "minor-ninth",
    "maj9": "major-ninth",
    "9": "dominant-ninth",
    "6": "major-sixth",
    "m6": "minor-sixth",
}
"""Names that exporters write although the schema has them not."""


@dataclass(frozen=True, slots=True)
class Degree:
    """One way in which a chord differs from its kind. What is added counts from the dominant (a seventh is the minor one,
    everything else major or perfect), what is altered from the kind's own.
    """

    value: int
    alter: int
    type: str
    """add, alter or subtract."""


ADDED_SEVENTH = Degree(7, 0, "add")


def with_degrees(tones: Iterable[ToneAt], degrees: Iterable[Degree]) -> tuple[ToneAt, ...]:
    """Tones with degrees added, altered or subtracted. One that is to be altered or subtracted and is not there is meant an
    octave away (a ninth for a second); where that is not there either, altering adds.
    """
    plain = set(tones)
    found = set(plain)
    for degree in degrees:
        same = {each for each in plain if each[0] == degree.value}
        same = same or {each for each in plain if (each[0] - degree.value) % 7 == 0}
        if degree.type == "subtract":
            found -= same
        elif degree.type == "alter" and same:
            found -= same
            found |= {(value, (at + degree.alter) % 12) for value, at in same}
        else:
            found.add((degree.value, (_dominant(degree.value) + degree.alter) % 12))
    return tuple(sorted(found))


def named(tones: Iterable[ToneAt]) -> tuple[str, tuple[str, ...]] | None:
    """The quality and alterations that name exactly these tones; None where none do."""
    wanted = tuple(sorted(set(tones)))
    for quality in ("", "m", "7"):
        # Any row will do to start from: the canonical form of whatever comes to these tones is found from the tones.
        needed = _brought(quality, wanted)
        if needed is not None:
            return canonical(quality, needed)
    for quality in QUALITIES:
        needed = _brought(quality, wanted)
        if needed is not None:
            return canonical(quality, needed)
    return None


_ROWS = ("sus4", "sus2", "maj7")
"""Alterations that are never needed: there are rows for what they make."""
_BRINGS = {each: row.name for row in ALTERATIONS.values() if row.name not in _ROWS for each in row.brings}


def _brought(quality: str, wanted: tuple[ToneAt, ...]) -> list[str] | None:
    """The alterations that make a quality these tones; None where they don't."""
    has = set(QUALITIES[quality].tones)
    lacks, left = set(wanted) - has, has - set(wanted)
    if any(each not in _BRINGS for each in lacks):
        return None
    names = [_BRINGS[each] for each in sorted(lacks)]
    gone = {each for name in names for each in ALTERATIONS[name].takes}
    for degree, _ in sorted(left - gone):
        if f"no{degree}" not in ALTERATIONS:
            return None
        names.append(f"no{degree}")
    return names if altered(quality, names) == _as_named(wanted) else None


def _as_named(tones: tuple[ToneAt, ...]) -> tuple[ToneAt, ...]:
    """Tones as ``altered`` calls them: beside a seventh an added second is a ninth, and so on."""
    degrees = {degree for degree, _ in tones}
    if 7 not in degrees:
        return tones
    higher = {2: 9, 4: 11, 6: 13} if 3 in degrees else {6: 13}
    return tuple(sorted((higher.get(degree, degree), at) for degree, at in tones))


_SOUNDING = {frozenset(at for _, at in row.tones): (name, ()) for name, row in reversed(QUALITIES.items())}
"""Qualities by what sounds; of several the upper row."""


def chord_of(root: Spelling, tones: Iterable[ToneAt], slash: Spelling | None = None) -> Chord | None:
    """The chord of these tones on a root, or else the one that sounds the same (a diminished seventh is a sixth); None where
    no symbol names them.
    """
    wanted = set(tones)
    found = named(wanted)
    if found is None and len({at for _, at in wanted}) == len(wanted):
        found = _SOUNDING.get(frozenset(at for _, at in wanted))
    if found is None:
        return None
    return Chord(root, *found, None if slash == root else slash)


@lru_cache(maxsize=1024)
def kind_of(chord: Chord) -> tuple[str, tuple[Degree, ...]]:
    """The kind of a chord and the degrees by which it differs. The fewest win, then the upper row; but readers differ about
    an added minor seventh, so a kind that has it goes before.
    """
    if chord.root is None:
        return NONE, ()
    tones = tuple((each.degree, each.semitones) for each in chord.tones)
    found = [(_differences(tones, KINDS[name]), place, name) for place, name in enumerate(WRITTEN)]
    degrees, _, name = min(found, key=lambda each: (len(each[0]) + 2 * (ADDED_SEVENTH in each[0]), each[1]))
    return name, degrees


def _differences(tones: tuple[ToneAt, ...], kind: tuple[ToneAt, ...]) -> tuple[Degree, ...]:
    """The degrees that make a kind into a chord."""
    new, gone = sorted(set(tones) - set(kind)), sorted(set(kind) - set(tones))
    found = []
    for degree, semitones in new:
        own = next((each for each in gone if each[0] == degree), None)
        if own is not None:
            gone.remove(own)
            found.append(Degree(degree, _nearest(semitones - own[1]), "alter"))
        else:
            found.append(Degree(degree, _nearest(semitones - _dominant(degree)), "add"))
    return (*found, *(Degree(degree, 0, "subtract") for degree, _ in gone))


def _dominant(degree: int) -> int:
    return 10 if degree == 7 else MAJOR_SCALE[(degree - 1) % 7]


def _nearest(semitones: int) -> int:
    return (semitones + 6) % 12 - 6
