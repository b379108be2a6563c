"""Harmony as MusicXML 4.0 has it: the kinds of its schema, and their tones as its documentation lists them.

A kind, added, altered and subtracted degrees together name tones; tones name a chord of ``charts.qualities``. The kinds that
name a function rather than tones (Neapolitan, Italian, French, German) are read as the chords they are (from memory, any
harmony textbook): a major triad, a seventh without its fifth, a seventh with a flat fifth, a seventh; the Tristan chord as the
half-diminished one that it sounds as.

Source: W3C MusicXML 4.0, simple type kind-value and element degree (names and intervals copied as facts).
"""

from __future__ import annotations

from collections.abc import Iterable

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
KINDS: dict[str, tuple[ToneAt, ...]] = {
    name.strip(): tuple(tone(each) for each in tones.split())
    for name, _, tones in (line.partition("|") for line in _KINDS.strip().splitlines())
}
"""Every kind of the schema that names tones, with them; beside these it has ``other`` and ``none``."""
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


def with_degrees(tones: Iterable[ToneAt], degrees: Iterable[tuple[str, int, int]]) -> tuple[ToneAt, ...]:
    """Tones with degrees added, altered or subtracted: (type, value, semitones). In ``add`` the semitones alter the degree
    of the major scale (the seventh counts as minor), in ``alter`` what the kind has there.
    """
    found = set(tones)
    for what, value, semitones in degrees:
        same = {each for each in found if (each[0] - value) % 7 == 0}
        plain = (MAJOR_SCALE[(value - 1) % 7] - (value == 7)) % 12
        if what == "subtract":
            found -= same
        elif what == "alter" and same:
            found -= same
            found |= {(degree, (at + semitones) % 12) for degree, at in same}
        else:
            found.add((value, (plain + semitones) % 12))
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


def chord_of(root: Spelling, tones: Iterable[ToneAt], slash: Spelling | None = None) -> Chord | None:
    """The chord of these tones on a root; None where no symbol names them."""
    found = named(tones)
    if found is None:
        return None
    return Chord(root, *found, None if slash == root else slash)


def kind_and_degrees(chord: Chord) -> tuple[str, tuple[tuple[str, int, int], ...]]:
    """The kind nearest to a chord, and the degrees that make the difference, as the schema writes them."""
    tones = altered(chord.quality, chord.alterations)
    best = min(WRITTEN, key=lambda name: _difference(name, tones))
    return best, _degrees(KINDS[best], tones)


def _difference(name: str, tones: tuple[ToneAt, ...]) -> tuple[int, int, int]:
    return len(_degrees(KINDS[name], tones)), len(set(KINDS[name]) - set(tones)), WRITTEN.index(name)


def _degrees(kind: tuple[ToneAt, ...], tones: tuple[ToneAt, ...]) -> tuple[tuple[str, int, int], ...]:
    told: list[tuple[str, int, int]] = []
    lost = sorted(set(kind) - set(tones))
    new = sorted(set(tones) - set(kind))
    for degree, at in lost:
        fits = [each for each in new if each[0] == degree]
        alone = len([each for each in kind if each[0] == degree]) == 1
        if len(fits) == 1 and alone:
            new.remove(fits[0])
            told.append(("alter", degree, _signed(fits[0][1] - at)))
        else:
            told.append(("subtract", degree, 0))
    for degree, at in new:
        plain = MAJOR_SCALE[(degree - 1) % 7] - (degree == 7)
        told.append(("add", degree, _signed(at - plain)))
    return tuple(told)


def _signed(semitones: int) -> int:
    return (semitones + 6) % 12 - 6
