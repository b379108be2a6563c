"""Which tones the left hand plays.

The rules are common practice, no source; the tones themselves are checked against music21's reading of the symbol.
"""

from __future__ import annotations

from itertools import product

import pytest
from music21 import harmony

from charts.chord import read_chord
from charts.qualities import QUALITIES
from liveassist.arranging.low_intervals import pedal_sound, too_low
from liveassist.arranging.tones import HAND, Hand, recipe, thinned, voicings

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
    "an altered dominant has one tone of each": ("C7alt", 4, [{E, 10, 8, 1}, {E, 10, 8, 3}]),
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
HANDS = {"a ninth": HAND, "an octave": Hand(span=12), "an eleventh": Hand(span=17), "the outer range": HAND.outer}
SLASHES = ("", "/C", "/E", "/F#", "/Bb")


@pytest.mark.parametrize("hand", HANDS.values(), ids=HANDS.keys())
@pytest.mark.parametrize("quality", QUALITIES)
def test_every_quality_lies_in_range_and_span_and_doubles_nothing_forbidden(quality: str, hand: Hand) -> None:
    for root, slash in zip(ROOTS * 2, SLASHES * 5, strict=False):
        chord = read_chord(root + quality + slash)
        tones = {tone.degree: tone.semitones for tone in chord.tones}
        assert chord.root is not None
        for pedal_plays, voices in product((True, False), (2, 3, 4, 5)):
            made_of = recipe(chord, pedal_plays=pedal_plays, leading=B)
            assert made_of is not None
            for voicing in voicings(made_of, voices, hand):
                pitches = voicing.pitches
                classes = [pitch % 12 for pitch in pitches]
                assert hand.lowest <= pitches[0] <= pitches[-1] <= hand.highest
                assert pitches[-1] - pitches[0] <= hand.span
                assert len(set(pitches)) == len(pitches) <= max(voices, made_of.least)
                assert classes.count(B) <= 1, "the leading tone of C is doubled"
                assert set(classes) <= {(chord.root.pitch_class + tone.semitones) % 12 for tone in chord.tones}
                assert too_low(pitches, pedal_sound(made_of.pedal) if made_of.pedal is not None else ()) == 0
                if 7 in tones:
                    assert classes.count((chord.root.pitch_class + tones[7]) % 12) == 1
                if 7 in tones and pedal_plays and not slash:
                    assert chord.root.pitch_class not in classes, "the root of a seventh belongs to the pedal"
                if 1 in tones and not pedal_plays:
                    assert chord.root.pitch_class in classes, "the pedal is silent: the hand has the root"


FULL = {"C9": 5, "C13": 5, "Cm11": 5, "Csus4": 5, "C6": 4, "C": 4, "C5": 3}
"""How many voices there are at most in a ninth, by hand: a triad has no fifth key (C E G C is an octave already)."""


@pytest.mark.parametrize(("symbol", "most"), FULL.items(), ids=FULL.keys())
def test_five_voices_where_the_chord_gives_them(symbol: str, most: int) -> None:
    made_of = recipe(read_chord(symbol))
    assert made_of is not None
    assert {len(voicing.pitches) for voicing in voicings(made_of, 5)} == {most}


def test_a_wider_hand_has_a_fifth_voice_for_a_triad() -> None:
    made_of = recipe(read_chord("C"))
    assert made_of is not None
    assert [voicing.pitches for voicing in voicings(made_of, 5, Hand(span=15))] == [(52, 55, 60, 64, 67)]


def test_with_the_tune_in_the_way_there_may_be_fewer_voices_but_not_too_few() -> None:
    made_of = recipe(read_chord("G7"))
    assert made_of is not None
    found = voicings(made_of, 4, HAND, True)
    assert {len(voicing.pitches) for voicing in found} == {2, 3}
    assert all({F, B} <= {pitch % 12 for pitch in voicing.pitches} for voicing in found)


def test_a_hand_too_small_for_the_chord_is_told() -> None:
    made_of = recipe(read_chord("C"))
    assert made_of is not None
    with pytest.raises(ValueError, match="a hand from 61 to 63"):
        voicings(made_of, 3, Hand(61, 63, 2))


def test_a_thinned_voicing_keeps_third_and_seventh() -> None:
    made_of = recipe(read_chord("Em9"))
    assert made_of is not None
    for voicing in voicings(made_of, 4):
        assert {pitch % 12 for pitch in thinned(voicing.pitches, made_of, 2)} == {G, D}
        assert len(thinned(voicing.pitches, made_of, 3)) == 3
