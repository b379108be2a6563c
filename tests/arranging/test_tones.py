"""Which tones the left hand plays.

The rules are common practice, no source; the tones themselves are checked against music21's reading of the symbol.
"""

from __future__ import annotations

import pytest
from music21 import harmony

from charts.chord import read_chord
from liveassist.arranging.tones import HIGHEST_KEY, LOWEST_KEY, WIDEST, recipe, thinned, voicings

C, D, E, F, G, A, B = 0, 2, 4, 5, 7, 9, 11

SYMBOLS = {
    "C": "C",
    "F#m": "F#m",
    "Bb": "B-",
    "G7": "G7",
    "Dm7": "Dm7",
    "Ebmaj7": "E-maj7",
    "Asus4": "Asus4",
    "Dsus2": "Dsus2",
    "C5": "Cpower",
    "Bdim": "Bdim",
    "C6": "C6",
    "Em9": "Em9",
    "D9": "D9",
    "Am6": "Am6",
    "G#dim7": "G#dim7",
    "Bm7b5": "Bm7b5",
    "Caug": "Caug",
    "A7sus4": "A7sus4",
    "Fmaj9": "FM9",
}
"""Our spelling and music21's."""


@pytest.mark.parametrize(("ours", "theirs"), SYMBOLS.items(), ids=SYMBOLS.keys())
@pytest.mark.parametrize("voices", [2, 3, 4])
def test_every_key_is_a_tone_that_music21_knows(ours: str, theirs: str, voices: int) -> None:
    reference = {pitch.pitchClass for pitch in harmony.ChordSymbol(theirs).pitches}
    made_of = recipe(read_chord(ours))
    assert made_of is not None
    for voicing in voicings(made_of, voices):
        assert {pitch % 12 for pitch in voicing.pitches} <= reference


@pytest.mark.parametrize(("ours", "theirs"), SYMBOLS.items(), ids=SYMBOLS.keys())
def test_the_third_and_the_seventh_that_music21_finds_always_sound(ours: str, theirs: str) -> None:
    symbol = harmony.ChordSymbol(theirs)
    wanted = {pitch.pitchClass for pitch in (symbol.third, symbol.seventh) if pitch is not None}
    made_of = recipe(read_chord(ours))
    assert made_of is not None
    for voices in (2, 3, 4):
        for voicing in voicings(made_of, voices):
            assert wanted <= {pitch % 12 for pitch in voicing.pitches}


# Symbol, voices, and the only pitch classes that may sound, by hand (doublings not counted).
CHOICES = {
    "a triad in three keeps its root": ("C", 3, [{C, E, G}]),
    "a triad in two has the third and one more": ("C", 2, [{E, G}, {C, E}]),
    "a seventh in three is rootless": ("G7", 3, [{B, D, F}]),
    "a seventh in two is third and seventh": ("G7", 2, [{B, F}]),
    "a ninth in three drops the fifth": ("C9", 3, [{E, 10, D}]),
    "a ninth in four has it": ("C9", 4, [{E, G, 10, D}]),
    "a thirteenth has third, seventh, thirteenth": ("C13", 3, [{E, 10, A}]),
    "an altered fifth is not dropped": ("Bm7b5", 3, [{D, F, A}]),
    "a diminished triad in two keeps its fifth": ("Bdim", 2, [{D, F}]),
    "a suspension stands for the third": ("Asus4", 2, [{D, E}, {D, A}]),
    "and over a seventh": ("A7sus4", 2, [{D, G}]),
    "a sixth stands for the seventh": ("C6", 2, [{E, A}]),
    "a power chord is root and fifth": ("C5", 4, [{C, G}]),
    "a foreign slash bass is left to the feet": ("C/D", 4, [{C, E, G}]),
    "a bass that is a tone takes nothing away": ("D/F#", 3, [{D, 6, A}]),
}


@pytest.mark.parametrize(("symbol", "voices", "allowed"), CHOICES.values(), ids=CHOICES.keys())
def test_tones_chosen_by_hand(symbol: str, voices: int, allowed: list[set[int]]) -> None:
    made_of = recipe(read_chord(symbol))
    assert made_of is not None
    found = [{pitch % 12 for pitch in voicing.pitches} for voicing in voicings(made_of, voices)]
    assert all(each in allowed for each in found)


@pytest.mark.parametrize("symbol", ["C", "Am", "G7", "Fmaj7", "D9"])
def test_where_the_pedal_is_silent_the_hand_has_the_root(symbol: str) -> None:
    chord = read_chord(symbol)
    made_of = recipe(chord, pedal_plays=False)
    assert made_of is not None
    assert chord.root is not None
    for voices in (2, 3, 4):
        for voicing in voicings(made_of, voices):
            assert chord.root.pitch_class in {pitch % 12 for pitch in voicing.pitches}


def test_nothing_is_played_for_no_chord() -> None:
    assert recipe(read_chord("N.C.")) is None


ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
QUALITIES = (
    "",
    "m",
    "7",
    "maj7",
    "m7",
    "sus4",
    "sus2",
    "5",
    "dim",
    "dim7",
    "m7b5",
    "6",
    "9",
    "13",
    "7sus4",
    "add9",
    "aug",
)


@pytest.mark.parametrize("quality", QUALITIES)
def test_every_voicing_lies_in_range_and_span_and_doubles_nothing_forbidden(quality: str) -> None:
    for root in ROOTS:
        chord = read_chord(root + quality)
        tones = {tone.degree: tone for tone in chord.tones}
        for pedal_plays in (True, False):
            made_of = recipe(chord, pedal_plays=pedal_plays, leading=B)
            assert made_of is not None
            for voices in (2, 3, 4):
                for voicing in voicings(made_of, voices):
                    pitches = voicing.pitches
                    classes = [pitch % 12 for pitch in pitches]
                    assert pitches[0] >= LOWEST_KEY
                    assert pitches[-1] <= HIGHEST_KEY
                    assert pitches[-1] - pitches[0] <= WIDEST
                    assert classes.count(B) <= 1, "the leading tone of C is doubled"
                    if 7 in tones and chord.root is not None:
                        assert classes.count((chord.root.pitch_class + tones[7].semitones) % 12) == 1
                        if pedal_plays:
                            assert chord.root.pitch_class not in classes, "the root of a seventh belongs to the pedal"


def test_a_thinned_voicing_keeps_third_and_seventh() -> None:
    made_of = recipe(read_chord("Em9"))
    assert made_of is not None
    for voicing in voicings(made_of, 4):
        assert {pitch % 12 for pitch in thinned(voicing.pitches, made_of, 2)} == {G, D}
        assert len(thinned(voicing.pitches, made_of, 3)) == 3
