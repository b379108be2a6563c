"""Spelling on the page: by chord, by key, readable. Expected names are what any theory primer has (common practice, no source)
and, for the scales, music21's."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import key as m21key

from charts.chord import read_chord
from charts.key import Key, read_key
from charts.pitch import Spelling
from liveassist.page.spelling import page_key, scale, signature, spell, write_pitch


@pytest.mark.parametrize(
    ("key", "chord", "pitch_class", "name"),
    [
        ("F", "Bb", 10, "Bb"),
        ("F", "C7", 10, "Bb"),
        ("F", "Dm", 5, "F"),
        ("F", "D7", 6, "F#"),
        ("Bb", "D7", 6, "F#"),
        ("Db", "Gb", 6, "Gb"),
        ("D", "F#m", 1, "C#"),
        ("Am", "E7", 8, "G#"),
        ("Gm", "D7", 6, "F#"),
        ("C", "Fm", 8, "Ab"),
        ("C", "E7", 8, "G#"),
        ("Eb", "Adim7", 6, "Gb"),
        ("C", "C7(#9)", 3, "D#"),
        ("C", "Baug", 7, "G"),  # F double sharp is read as G
        ("C", "Cdim7", 9, "A"),  # and B double flat as A
        ("F#", "C#7", 5, "E#"),
        ("Gb", "Cb", 11, "Cb"),
        ("E", "Fdim7/B", 11, "B"),
        ("F", "N.C.", 10, "Bb"),
        ("G", "N.C.", 6, "F#"),
        ("F", "N.C.", 3, "Eb"),
        ("G", "N.C.", 8, "G#"),
    ],
)
def test_names(key, chord, pitch_class, name):
    assert spell(pitch_class, read_key(key), read_chord(chord)).name == name


@pytest.mark.parametrize("name", ["C", "G", "D", "A", "E", "B", "F#", "C#", "F", "Bb", "Eb", "Ab", "Db", "Gb", "Cb"])
@pytest.mark.parametrize("minor", [False, True], ids=["major", "minor"])
def test_the_scale_is_that_of_the_signature(name, minor):
    key = read_key(name)
    own = Key(key.degree(6), minor=True) if minor else key
    theirs = m21key.KeySignature(own.fifths)
    assert {note.letter: note.alter for note in scale(own).values()} == {
        letter: (theirs.accidentalByStep(letter).alter if theirs.accidentalByStep(letter) else 0)
        for letter in "CDEFGAB"
    }


@pytest.mark.parametrize(("name", "shown"), [("G#", "Ab"), ("D#", "Eb"), ("Fb", "E"), ("Db", "Db"), ("C#", "C#")])
def test_no_signature_has_more_than_seven(name, shown):
    assert page_key(read_key(name)).name == shown


@given(st.integers(36, 96), st.sampled_from("CDEFGAB"), st.integers(-2, 2))
def test_a_key_under_its_name_is_the_same_key(pitch, letter, alter):
    spelling = Spelling(letter, alter)
    pitch -= (pitch - spelling.pitch_class) % 12
    assert write_pitch(pitch, spelling).key_number == pitch


def test_b_sharp_belongs_to_the_octave_below():
    assert write_pitch(60, Spelling("B", 1)).octave == 3
    assert write_pitch(59, Spelling("C", -1)).octave == 4


def test_every_key_names_each_letter_once():
    assert sorted(signature(read_key("Ebm"))) == list("ABCDEFG")
