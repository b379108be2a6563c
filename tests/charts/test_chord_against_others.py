"""The tones of chord symbols against the chord kinds of MusicXML 4.0, music21.harmony and pychord.

What a symbol of eleven or thirteen contains differs between musicians; the kinds of MusicXML are stacked thirds, and music21
and pychord agree. Where music21 or pychord is not followed, a table says why.
"""

from __future__ import annotations

import pytest
from music21 import harmony
from pychord import Chord as PyChord
from pychord.constants.qualities import DEFAULT_QUALITIES

from charts.chord import read_chord
from charts.qualities import QUALITIES

KINDS = {
    # kind of MusicXML 4.0 (kind-value of the schema; the degrees are those of its documentation, from memory): our symbol
    "major": ("C", "1 3 5"),
    "minor": ("Cm", "1 b3 5"),
    "augmented": ("Caug", "1 3 #5"),
    "diminished": ("Cdim", "1 b3 b5"),
    "dominant": ("C7", "1 3 5 b7"),
    "major-seventh": ("Cmaj7", "1 3 5 7"),
    "minor-seventh": ("Cm7", "1 b3 5 b7"),
    "diminished-seventh": ("Cdim7", "1 b3 b5 bb7"),
    "augmented-seventh": ("Caug7", "1 3 #5 b7"),
    "half-diminished": ("Cm7b5", "1 b3 b5 b7"),
    "major-minor": ("Cm(maj7)", "1 b3 5 7"),
    "major-sixth": ("C6", "1 3 5 6"),
    "minor-sixth": ("Cm6", "1 b3 5 6"),
    "dominant-ninth": ("C9", "1 3 5 b7 9"),
    "major-ninth": ("Cmaj9", "1 3 5 7 9"),
    "minor-ninth": ("Cm9", "1 b3 5 b7 9"),
    "dominant-11th": ("C11", "1 3 5 b7 9 11"),
    "major-11th": ("Cmaj11", "1 3 5 7 9 11"),
    "minor-11th": ("Cm11", "1 b3 5 b7 9 11"),
    "dominant-13th": ("C13", "1 3 5 b7 9 11 13"),
    "major-13th": ("Cmaj13", "1 3 5 7 9 11 13"),
    "minor-13th": ("Cm13", "1 b3 5 b7 9 11 13"),
    "suspended-second": ("Csus2", "1 2 5"),
    "suspended-fourth": ("Csus4", "1 4 5"),
    "power": ("C5", "1 5"),
    "none": ("N.C.", ""),
}
"""Left out: the functional sixths (Neapolitan, Italian, French, German), pedal, Tristan and other, which no symbol names."""
SEMITONES = {"1": 0, "2": 2, "b3": 3, "3": 4, "4": 5, "b5": 6, "5": 7, "#5": 8, "6": 9, "bb7": 9, "b7": 10, "7": 11}
SEMITONES |= {"9": 2, "11": 5, "13": 9}


@pytest.mark.parametrize(("symbol", "degrees"), KINDS.values(), ids=KINDS)
def test_every_kind_of_musicxml_is_a_row_with_its_degrees(symbol, degrees):
    chord = read_chord(symbol)
    assert chord.quality in QUALITIES
    assert chord.alterations == ()
    wanted = {(int(degree.lstrip("b#")), SEMITONES[degree]) for degree in degrees.split()}
    assert {(tone.degree, tone.semitones) for tone in chord.tones} == wanted


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "none"])
@pytest.mark.parametrize("root", ["C", "F#", "Bb", "E"])
def test_the_kinds_sound_as_in_music21(kind, root):
    theirs = harmony.ChordSymbol(root=root.replace("b", "-"), kind=kind)
    ours = read_chord(KINDS[kind][0].replace("C", root, 1))
    assert ours.pitch_classes == tuple(sorted({pitch.pitchClass for pitch in theirs.pitches}))


NOT_AS_MUSIC21 = {
    "Neapolitan": "a function in a key, which no chord symbol names",
    "Italian": "a function in a key",
    "French": "a function in a key",
    "German": "a function in a key",
    "Tristan": "a name, not a symbol",
    "pedal": "a single note, which a chart writes as a mark",
    "diminished-minor-ninth": "ob9 reads here as a diminished triad with a flat ninth; with the seventh it is o7b9",
}
MUSIC21 = [
    (kind, spelling)
    for kind, (_, spellings) in harmony.CHORD_TYPES.items()
    for spelling in spellings
    if kind not in NOT_AS_MUSIC21
]


@pytest.mark.parametrize(("kind", "spelling"), MUSIC21)
def test_every_spelling_of_music21_sounds_as_there(kind, spelling):
    theirs = harmony.ChordSymbol(root="C", kind=kind)
    assert read_chord("C" + spelling).pitch_classes == tuple(sorted({pitch.pitchClass for pitch in theirs.pitches}))


NOT_AS_PYCHORD = {"7b9b13": "pychord adds the eleventh, which the symbol does not name"}
PYCHORD = [name for name, _ in DEFAULT_QUALITIES if name not in NOT_AS_PYCHORD]


@pytest.mark.parametrize("quality", PYCHORD, ids=[quality or "major" for quality in PYCHORD])
def test_every_quality_of_pychord_sounds_as_there(quality):
    for root in ("C", "Eb", "A"):
        theirs = {read_chord(str(name)).root.pitch_class for name in PyChord(root + quality).components()}
        assert set(read_chord(root + quality).pitch_classes) == theirs
