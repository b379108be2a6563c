"""Touch: how long notes are, and the gap before a key is struck again."""

from __future__ import annotations

from fractions import Fraction

import pytest

from liveassist.arranging.arrange import arrange
from liveassist.arranging.touch import gap_seconds, least_spacing_seconds
from tests.arranging.routes import song

# Room, gap in seconds: a tenth of the reverberation (6 dB of 60), 50 ms for the action, never more than 0.4 s.
GAPS = [(0.3, 0.050), (0.5, 0.050), (1.0, 0.100), (1.8, 0.180), (4.0, 0.400), (9.0, 0.400)]


@pytest.mark.parametrize(("room", "gap"), GAPS)
def test_the_gap_grows_with_the_room(room: float, gap: float) -> None:
    assert gap_seconds(room) == pytest.approx(gap)


def test_attacks_keep_the_same_distance() -> None:
    assert least_spacing_seconds(0.3) == 0.125
    assert least_spacing_seconds(2.0) == pytest.approx(0.2)


# Feel, tempo, room, and where the first note of the first bar ends, by hand, in quarters.
LENGTHS = {
    # A tenth longer than detached (0.825 of a quarter), but the key is struck again after a gap of 180 ms, which at 60
    # is 0.18 quarters: that leaves 0.82.
    "strong, repeated": ("quarters", "60", 1.8, Fraction(82, 100)),
    # The same in a dry room: 50 ms, so the touch decides.
    "strong, dry": ("quarters", "60", 0.3, Fraction(825, 1000)),
    # Half of the value at most: an eighth at 120 lasts 250 ms, the gap would be 300 ms.
    "half the value at most": ("straight eighths", "120", 2.4, Fraction(1, 4)),
    # Held: to the end of the change, where the key is not struck again.
    "held": ("held", "60", 1.8, Fraction(4)),
}


@pytest.mark.parametrize(("feel", "tempo", "room", "length"), LENGTHS.values(), ids=LENGTHS.keys())
def test_the_first_note_by_hand(feel: str, tempo: str, room: float, length: Fraction) -> None:
    notes = arrange(song("C", "Bb", feel=feel, tempo=tempo), room=room, variety=False).levels[2]
    # The third sounds in every attack of the first chord, and not in the second.
    third = next(note for note in notes if note.pitch % 12 == 4)
    assert float(third.length) == pytest.approx(float(length), abs=1 / 480)


def test_strong_notes_are_longer_and_the_note_before_one_is_shorter() -> None:
    notes = arrange(song("C", "C", feel="quarters", tempo="60"), room=0.3, variety=False).levels[2]
    lengths = {note.position: note.length for note in notes if note.pitch % 12 == 4}
    assert lengths[Fraction(0)] > lengths[Fraction(1)] > lengths[Fraction(3)]


def test_strong_attacks_have_more_voices() -> None:
    arrangement = arrange(song("C", "F", feel="straight eighths"), variety=False)
    assert len(arrangement.notes_at(2, Fraction(0))) == 3
    assert len(arrangement.notes_at(2, Fraction(1, 2))) == 2


def test_lengths_are_simple_fractions_of_a_quarter() -> None:
    for notes in arrange(song("C", "G7 Am", "F", feel="shuffle", tempo="97"), room=2.3).levels.values():
        assert all(960 % note.length.denominator == 0 for note in notes)
        assert all(12 % note.position.denominator == 0 for note in notes)
