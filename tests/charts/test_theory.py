"""Pitch, meter and key against the circle of fifths, music21, and the counting of beats (common practice)."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import interval, key, pitch

from charts.key import Key, read_key
from charts.meter import Meter, read_meter
from charts.pitch import Spelling, read_spelling, simplest

SPELLINGS = st.builds(Spelling, st.sampled_from("CDEFGAB"), st.integers(-1, 1))
CIRCLE = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
"""Major keys by their number of sharps, from seven flats to seven sharps."""
INTERVALS = {
    "m2": (1, 1),
    "M2": (1, 2),
    "m3": (2, 3),
    "M3": (2, 4),
    "P4": (3, 5),
    "P5": (4, 7),
    "m6": (5, 8),
    "M7": (6, 11),
}


@pytest.mark.parametrize(("number", "name"), list(enumerate(CIRCLE, start=-7)))
def test_signatures_follow_the_circle_of_fifths(number, name):
    assert read_key(name).fifths == number
    assert key.Key(name.replace("b", "-")).sharps == number


@pytest.mark.parametrize(
    ("name", "sharps"), [("Am", 0), ("Em", 1), ("F#m", 3), ("Dm", -1), ("C minor", -3), ("G#m", 5)]
)
def test_minor_keys_share_the_signature_of_their_relative_major(name, sharps):
    assert read_key(name).fifths == sharps
    assert read_key(name).minor


@pytest.mark.parametrize("text", ["H", "d", "", "D dorian", "7"])
def test_what_is_no_key_is_told(text):
    with pytest.raises(ValueError, match="is not a key"):
        read_key(text)


@pytest.mark.parametrize(
    ("home", "semitones", "there"),
    [
        ("D", 2, "E"),
        ("E", 1, "F"),
        ("F", 1, "Gb"),
        ("B", 1, "C"),
        ("Eb", -1, "D"),
        ("A", 1, "Bb"),
        ("Am", 3, "Cm"),
        ("G", 0, "G"),
    ],
)
def test_a_lifted_key_has_the_fewest_accidentals(home, semitones, there):
    assert read_key(home).lifted(semitones) == read_key(there)


@given(st.sampled_from(CIRCLE), st.booleans(), st.integers(-11, 11))
def test_lifted_keys_sound_right_and_can_be_printed(name, minor, semitones):
    lifted = Key(read_key(name).tonic, minor).lifted(semitones)
    assert (lifted.tonic.pitch_class - read_key(name).tonic.pitch_class - semitones) % 12 == 0
    assert lifted.usual or semitones % 12 == 0


@pytest.mark.parametrize(
    ("home", "other", "up"),
    [("D", "Eb", 1), ("D", "C", -2), ("C", "F#", 6), ("C", "G", -5), ("Am", "Dm", 5), ("G", "G", 0)],
)
def test_the_smaller_way_to_another_key(home, other, up):
    assert read_key(home).half_steps_to(read_key(other)) == up


@pytest.mark.parametrize(("number", "alter", "name"), [(1, 0, "Eb"), (3, 0, "G"), (7, -1, "Db"), (4, 1, "A")])
def test_degrees_of_e_flat(number, alter, name):
    assert read_key("Eb").degree(number, alter).name == name


@given(SPELLINGS, st.sampled_from(sorted(INTERVALS)))
def test_transposing_a_note_is_music21s(spelling, name):
    steps, semitones = INTERVALS[name]
    theirs = interval.Interval(name).transposePitch(pitch.Pitch(spelling.name.replace("b", "-") + "4"))
    ours = spelling.transposed(steps, semitones)
    assert ours.pitch_class == theirs.pitchClass
    assert ours.name == theirs.name.replace("-", "b")


@given(st.integers(0, 11), st.booleans())
def test_the_simplest_spelling_has_one_accidental_at_most(pitch_class, sharps):
    spelling = simplest(pitch_class, sharps=sharps)
    assert spelling.pitch_class == pitch_class
    assert abs(spelling.alter) <= 1


@pytest.mark.parametrize(
    ("text", "name", "rest"),
    [
        ("F#m7", "F#", "m7"),
        ("B♭", "Bb", ""),
        ("Ebb", "Ebb", ""),
        ("C𝄪7", "C##", "7"),
        ("A", "A", ""),
        ("Cb5", "Cb", "5"),
    ],
)
def test_note_names_are_read_from_the_front(text, name, rest):
    spelling, remains = read_spelling(text)
    assert (spelling.name, remains) == (name, rest)


@pytest.mark.parametrize(
    ("text", "counted", "beat", "length"),
    [
        ("2/4", 2, "1", "2"),
        ("4/2", 4, "2", "8"),
        ("4/4", 4, "1", "4"),
        ("3/4", 3, "1", "3"),
        ("2/2", 2, "2", "4"),
        ("6/8", 2, "3/2", "3"),
        ("9/8", 3, "3/2", "9/2"),
        ("12/8", 4, "3/2", "6"),
        ("5/4", 5, "1", "5"),
        ("3/8", 3, "1/2", "3/2"),
        ("6/4", 2, "3", "6"),
    ],
)
def test_counted_beats(text, counted, beat, length):
    meter = read_meter(text)
    assert (meter.counted_beats, meter.counted_beat, meter.bar_length) == (counted, Fraction(beat), Fraction(length))


def test_six_eight_may_be_counted_in_eighths():
    assert Meter(6, 8, by_unit=True).counted_beats == 6


@pytest.mark.parametrize("text", ["4", "4/5", "0/4", "a/b", "4/4/4"])
def test_what_is_no_meter_is_told(text):
    with pytest.raises(ValueError, match="not a meter"):
        read_meter(text)
