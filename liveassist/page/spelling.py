"""Spelling: which of its names a key has on the page.

A tone of the chord that sounds is spelled as the chord has it (the third of D7 is F sharp in every key), the bass behind a
stroke as it is written; anything else as the key has it, and what is in neither leans to the sharps or flats of the key.
Double accidentals are read slowly at a console, so the seventh of a diminished chord on C is written A. Octaves are those of
scientific pitch: middle C is C4, and the B sharp below it is B3.
"""

from __future__ import annotations

from dataclasses import dataclass

from charts.chord import Chord
from charts.key import Key
from charts.pitch import LETTERS, NATURAL, Spelling, simplest

_MINOR_THIRD = 3


@dataclass(frozen=True, slots=True)
class Written:
    """One note as it stands on the staff."""

    spelling: Spelling
    octave: int

    @property
    def key_number(self) -> int:
        """The MIDI key that it names."""
        return 12 * (self.octave + 1) + NATURAL[self.spelling.letter] + self.spelling.alter

    @property
    def height(self) -> int:
        """Steps of the staff above C0."""
        return 7 * self.octave + LETTERS.index(self.spelling.letter)


def page_key(key: Key) -> Key:
    """The key as its signature is printed: never more than seven sharps or flats."""
    return key if key.usual else min((key.lifted(up).lifted(-up) for up in (1, 2)), key=lambda each: abs(each.fifths))


def scale(key: Key) -> dict[int, Spelling]:
    """The notes of the key's signature by pitch class."""
    tonic = key.tonic.transposed(2, _MINOR_THIRD) if key.minor else key.tonic
    return {note.pitch_class: note for note in map(Key(tonic).degree, range(1, 8))}


def spell(pitch_class: int, key: Key, chord: Chord | None = None) -> Spelling:
    """The name of a pitch class in a key, over a chord."""
    if chord is not None and chord.root is not None:
        named = [*([chord.slash] if chord.slash else []), *(tone.spelling for tone in chord.tones)]
        for note in named:
            if note.pitch_class == pitch_class and abs(note.alter) < 2:
                return note
    return scale(key).get(pitch_class) or simplest(pitch_class, sharps=key.sharps)


def write_pitch(pitch: int, spelling: Spelling) -> Written:
    """A key number under a name for its pitch class."""
    return Written(spelling, (pitch - NATURAL[spelling.letter] - spelling.alter) // 12 - 1)


def signature(key: Key) -> dict[str, int]:
    """For each letter its alteration in the key's signature."""
    return {note.letter: note.alter for note in scale(key).values()}
