"""Chord symbols, checked against music21.harmony, pychord and the chord kinds of MusicXML 4.0."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from music21 import harmony
from pychord import Chord as PyChord

from charts.chord import NO_CHORD, Chord, read_chord
from charts.key import read_key
from charts.pitch import Spelling
from charts.qualities import ALTERATIONS, QUALITIES, canonical

ROOTS = [Spelling(letter, alter) for letter in "CDEFGAB" for alter in (-1, 0, 1)]
CHORDS = st.builds(
    lambda root, quality, alterations, slash: Chord(root, *canonical(quality, tuple(alterations)), slash),
    st.sampled_from(ROOTS),
    st.sampled_from(sorted(QUALITIES)),
    st.lists(st.sampled_from(list(ALTERATIONS)), max_size=3, unique=True),
    st.none() | st.sampled_from(ROOTS),
)

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
DEGREES = {"1": 0, "2": 2, "b3": 3, "3": 4, "4": 5, "b5": 6, "5": 7, "#5": 8, "6": 9, "bb7": 9, "b7": 10, "7": 11}
DEGREES |= {"9": 2, "11": 5, "13": 9}


@pytest.mark.parametrize(("symbol", "degrees"), KINDS.values(), ids=KINDS)
def test_the_kinds_of_musicxml(symbol, degrees):
    assert read_chord(symbol).pitch_classes == tuple(sorted({DEGREES[degree] for degree in degrees.split()}))


@pytest.mark.parametrize("kind", [kind for kind in KINDS if kind != "none"])
@pytest.mark.parametrize("root", ["C", "F#", "Bb", "E"])
def test_the_pitch_classes_are_music21s(kind, root):
    theirs = harmony.ChordSymbol(root=root.replace("b", "-"), kind=kind)
    ours = read_chord(KINDS[kind][0].replace("C", root, 1))
    assert ours.pitch_classes == tuple(sorted({pitch.pitchClass for pitch in theirs.pitches}))


PYCHORD = [
    "", "m", "5", "dim", "aug", "sus4", "sus2", "6", "m6", "7", "m7", "M7", "maj7", "mM7", "dim7", "m7-5", "m7b5", "7-5",
    "7+5", "7b5", "7sus4", "add9", "madd9", "9", "m9", "M9", "maj9", "9sus4", "7b9", "7#9", "7(b9)", "6/9", "69", "11", "7#11",
    "maj7#11", "add11",
]  # fmt: skip


@pytest.mark.parametrize("quality", PYCHORD, ids=[quality or "major" for quality in PYCHORD])
@pytest.mark.parametrize("root", ["C", "Eb", "A"])
def test_the_components_are_pychords(quality, root):
    if quality in ("7(b9)", "6/9"):
        theirs = PyChord(root + {"7(b9)": "7b9", "6/9": "69"}[quality])
    else:
        theirs = PyChord(root + quality)
    names = {read_chord(str(name)).root.pitch_class for name in theirs.components()}
    assert set(read_chord(root + quality).pitch_classes) == names


SAME = [
    "Dm7 Dmin7 D-7 Dmi7",
    "Gmaj7 GM7 Gma7 GΔ GΔ7",
    "Bdim Bo B°",
    "Bdim7 Bo7 B°7",
    "F#m7b5 F#ø F#ø7 F#-7b5 F#m7(b5) F♯m7♭5",
    "Asus4 Asus",
    "A7sus4 A7sus A7(sus4)",
    "D2 Dadd2 D(add2)",
    "D4 Dadd4",
    "Dadd9 D(add9)",
    "G5 G(no3) Gno3 G(omit3)",
    "C6/9 C69 C6(9) C6add9",
    "E7(b9) E7b9 E7-9 E7♭9",
    "C7(b9,#11) C7b9#11 C7(#11,b9) C7(b9)(#11) C7(b9_#11)",
    "Caug C+ C(#5)",
    "Caug7 C+7 C7#5 C7(#5)",
    "Cm(maj7) CmM7 Cmmaj7 C-maj7",
    "C7alt Calt",
    "N.C. NC n.c.",
]


@pytest.mark.parametrize("spellings", SAME)
def test_the_usual_spellings_read_alike(spellings):
    assert len({read_chord(symbol.replace("_", " ")) for symbol in spellings.split()}) == 1


@pytest.mark.parametrize(
    ("symbol", "names"),
    [
        ("Cm7b5", "C Eb Gb Bb"),
        ("F#dim7", "F# A C Eb"),
        ("Bbm", "Bb Db F"),
        ("G#m", "G# B D#"),
        ("E7(#9)", "E G# B D F##"),
        ("Db9", "Db F Ab Cb Eb"),
        ("Caug", "C E G#"),
    ],
)
def test_tones_are_spelled_by_their_degrees(symbol, names):
    assert [tone.spelling.name for tone in read_chord(symbol).tones] == names.split()


@pytest.mark.parametrize(
    ("key", "degrees", "symbols"),
    [
        ("D", "1 4 5/7 6- b7 57 2m7 4maj7 55 #4o7 5sus4 1/3", "D G A/C# Bm C A7 Em7 Gmaj7 A5 G#dim7 Asus4 D/F#"),
        ("Bb", "1 5 6- 4 b3", "Bb F Gm Eb Db"),
        ("Am", "1- 4- 5 b6 b7", "Am Dm E F G"),
    ],
)
def test_scale_degrees_count_from_the_tonic(key, degrees, symbols):
    read = [read_chord(degree, key=read_key(key)).symbol for degree in degrees.split()]
    assert read == symbols.split()


def test_degrees_of_a_minor_key_may_count_from_its_relative_major():
    assert read_chord("6-", key=read_key("Em"), degrees_from=Spelling("G")).symbol == "Em"


@given(CHORDS)
def test_what_is_written_reads_back(chord):
    assert read_chord(chord.symbol) == chord
    assert read_chord(chord.shown) == chord


@given(CHORDS, st.integers(0, 11))
def test_transposing_moves_every_tone_alike(chord, semitones):
    steps = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)[semitones]
    moved = chord.transposed(steps, semitones)
    assert set(moved.pitch_classes) == {(pitch_class + semitones) % 12 for pitch_class in chord.pitch_classes}


def test_no_chord_has_neither_root_nor_tones():
    assert (NO_CHORD.root, NO_CHORD.bass, NO_CHORD.tones, NO_CHORD.pitch_classes) == (None, None, (), ())


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("Cmaj77", 'could read "Cmaj7"'),
        ("H", "root from A to G"),
        ("Cfoo", "maj7, m7"),
        ("C/X", "bass note"),
        ("", "root from A to G"),
        ("c", "root from A to G"),
    ],
)
def test_what_cannot_be_read_is_told_with_what_could(text, says):
    with pytest.raises(ValueError, match=r"not a chord I know") as error:
        read_chord(text)
    assert says in str(error.value)


@pytest.mark.parametrize("quality", ["5", "sus4", "sus2"])
def test_these_never_get_a_third(quality):
    assert read_chord("G" + quality).tone(3) is None


@pytest.mark.parametrize("symbol", ["G2", "Gadd2", "Gadd9", "G6/9"])
def test_these_keep_their_third(symbol):
    assert read_chord(symbol).tone(3) is not None
