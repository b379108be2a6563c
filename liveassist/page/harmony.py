"""Chord symbols as MusicXML has them: a kind, and the degrees by which the chord differs from it.

The kinds and their tones are those of MusicXML 4.0 (the comments of its schema on ``kind-value``). A degree that is added
counts from the dominant: a seventh is the minor one, everything else major or perfect; one that is altered counts from the
kind's own. The fewest degrees win, then the upper row; but readers differ about an added minor seventh, so a kind that has
it goes before. What is printed is our own symbol, in the attribute ``text``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from charts.chord import Chord
from charts.key import MAJOR_SCALE
from charts.qualities import ToneAt, tone

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
power               | 1 5
"""
KINDS: dict[str, tuple[ToneAt, ...]] = {
    name.strip(): tuple(tone(each) for each in tones.split())
    for name, tones in (line.split("|") for line in _KINDS.strip().splitlines())
}
"""The kinds of MusicXML 4.0 that name tones above a root."""
NONE = "none"
"""The kind of N.C."""


@dataclass(frozen=True, slots=True)
class Degree:
    """One way in which a chord differs from its kind."""

    value: int
    alter: int
    type: str
    """add, alter or subtract."""


ADDED_SEVENTH = Degree(7, 0, "add")


@lru_cache(maxsize=1024)
def kind_of(chord: Chord) -> tuple[str, tuple[Degree, ...]]:
    """The kind of a chord and its degrees."""
    if chord.root is None:
        return NONE, ()
    tones = tuple((each.degree, each.semitones) for each in chord.tones)
    found = [(_differences(tones, own), place, name) for place, (name, own) in enumerate(KINDS.items())]
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
