"""Chord symbols: what is read alike, spelling, scale degrees, canonical form, and what is told of a chord that cannot be read.

Spellings and what they mean are common practice, no source, unless a check names one; ``test_chord_against_others.py`` compares
the tones with a standard and two libraries.
"""

from __future__ import annotations

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.chord import NO_CHORD, Chord, read_chord
from charts.key import read_key
from charts.pitch import Spelling
from charts.qualities import ALTERATION_SPELLINGS, ALTERATIONS, QUALITIES, SPELLINGS, USUAL, altered, canonical

ROOTS = [Spelling(letter, alter) for letter in "CDEFGAB" for alter in (-1, 0, 1)]
CHORDS = st.builds(
    lambda root, quality, alterations, slash: Chord(root, *canonical(quality, tuple(alterations)), slash),
    st.sampled_from(ROOTS),
    st.sampled_from(sorted(QUALITIES)),
    st.lists(st.sampled_from(list(ALTERATIONS)), max_size=3, unique=True),
    st.none() | st.sampled_from(ROOTS),
)

SAME = [
    "Dm7 Dmin7 D-7 Dmi7",
    "Dm7 DMI7 DMIN7 D−7 D–7 Dm(7)",
    "Gmaj7 GM7 Gma7 GΔ GΔ7 G∆7 G△ Gj7 GMA7 GMaj7 G7M G(maj7)",
    "Bdim Bo B° Bº BDIM Bm(b5)",
    "Bdim7 Bo7 B°7",
    "Bdim9 Bo9 B°9",
    "F#m7b5 F#ø F#ø7 F#Ø7 F#-7b5 F#-7-5 F#m7(b5) F♯m7♭5 F#half-dim F#halfdim7",
    "F#m9b5 F#ø9 F#m7b5(9)",
    "Asus4 Asus ASUS4 A(sus4) Am(sus4)",
    "A7sus4 A7sus A7(sus4) Asus7 Am7sus4",
    "A7sus4b9 A7b9sus4 A7(b9)sus A7sus(b9)",
    "A9sus4 A9sus Asus9",
    "A13sus4 A13sus Asus13",
    "D2 Dadd2 D(add2)",
    "D4 Dadd4",
    "Dadd9 D(add9) D(9) D/9 DADD9 DMadd9",
    "Dmadd9 Dm(add9) D-add9",
    "D9 D7/9 D7(9) D7add9",
    "Dm7(11) Dm7/11 Dm7add11 Dm7add4",
    "G5 G(no3) Gno3 G(omit3)",
    "C6/9 C69 C6(9) C6add9 C(6/9) C9/6 C6(add9)",
    "E7(b9) E7b9 E7-9 E7♭9",
    "C7(b9,#11) C7b9#11 C7(#11,b9) C7(b9)(#11) C7(b9_#11) C7(b9;#11) C7(b9/#11)",
    "C7#9 C7(#9) C7+9 C7(+9)",
    "Caug C+ C(#5) C+5",
    "Caug7 C+7 C7#5 C7(#5) C7+ C7+5 C7aug",
    "Caug9 C+9 C9+ C9#5",
    "C7#5#9 C7(#5,#9) C+7#9",
    "Cmaj7#5 C+maj7 C+M7 Cmaj7+5",
    "Cm(maj7) CmM7 Cmmaj7 C-maj7 C-Δ7 CmΔ Cm/maj7 Cm/M7 Cm(M7) CMI(MA7) Cm#7",
    "C7alt Calt C7(alt)",
    "N.C. NC n.c.",
]


@pytest.mark.parametrize("spellings", SAME)
def test_the_usual_spellings_read_alike(spellings):
    assert len({read_chord(symbol.replace("_", " ")) for symbol in spellings.split()}) == 1


@pytest.mark.parametrize(
    ("symbol", "others"),
    [
        pytest.param("Cb5", "C(b5)", id="a-power-chord-on-c-flat"),
        pytest.param("C+9", "C7+9", id="augmented-ninth-or-sharp-ninth"),
        pytest.param("C-9", "C7-9", id="minor-ninth-or-flat-ninth"),
        pytest.param("Cmadd9", "CMadd9", id="small-and-capital-m"),
        pytest.param("Cm7", "CM7 C7", id="sevenths"),
        pytest.param("C2", "Csus2 Cadd9 C9", id="seconds-and-ninths"),
        pytest.param("C4", "Csus4 Cadd11 C11", id="fourths-and-elevenths"),
        pytest.param("C", "C5 Cm", id="triads"),
    ],
)
def test_what_looks_alike_is_kept_apart(symbol, others):
    assert all(read_chord(symbol) != read_chord(other) for other in others.split())


@pytest.mark.parametrize(
    ("symbol", "degrees"),
    [
        ("C11", "1 3 5 7 9 11"),
        ("C13", "1 3 5 7 9 11 13"),
        ("C13sus4", "1 4 5 7 9 13"),
        ("C7(add13)", "1 3 5 7 13"),
        ("C2", "1 2 3 5"),
        ("C7alt", "1 3 5 5 7 9 9"),
        ("C7(no3)", "1 5 7"),
        ("C13(no11)", "1 3 5 7 9 13"),
    ],
)
def test_a_symbol_names_these_degrees(symbol, degrees):
    assert [tone.degree for tone in read_chord(symbol).tones] == [int(degree) for degree in degrees.split()]


@pytest.mark.parametrize(
    ("symbol", "canonical"),
    [
        ("D-7/G", "Dm7/G"),
        ("A7b9", "A7(b9)"),
        ("A7#11b9", "A7(b9,#11)"),
        ("G(omit3)", "G5"),
        ("G7omit3", "G7(no3)"),
        ("C9b5", "C9(b5)"),
        ("Cmadd9b5", "Cdim(add9)"),
        ("Cm(maj7)(add11)", "Cm(maj7,add11)"),
        ("nc", "N.C."),
    ],
)
def test_the_canonical_symbol(symbol, canonical):
    assert read_chord(symbol).symbol == canonical


@pytest.mark.parametrize(
    ("symbol", "shown"), [("F#m7b5/C#", "F♯m7♭5/C♯"), ("Bb7b9#11", "B♭7(♭9,♯11)"), ("Ab13", "A♭13"), ("N.C.", "N.C.")]
)
def test_printed_accidentals_are_typographic(symbol, shown):
    assert read_chord(symbol).shown == shown


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
        ("Cdim7", "C Eb Gb Bbb"),
        ("Fbdim7", "Fb Abb Cbb Db"),
        ("E#7", "E# G## B# D#"),
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
        ("D", "56/9 55 55/2 6-7/5 5/C# ♭7 #4ø7 47", "A6/9 A5 A5/E Bm7/A A/C# C G#m7b5 G7"),
    ],
)
def test_scale_degrees_count_from_the_tonic(key, degrees, symbols):
    read = [read_chord(degree, key=read_key(key)).symbol for degree in degrees.split()]
    assert read == symbols.split()


def test_degrees_of_a_minor_key_may_count_from_its_relative_major():
    assert read_chord("6-", key=read_key("Em"), degrees_from=Spelling("G")).symbol == "Em"


def test_a_letter_has_no_degree_for_a_bass():
    with pytest.raises(ValueError, match="bass note"):
        read_chord("G/3", key=read_key("D"))


def test_a_degree_needs_a_key():
    with pytest.raises(ValueError, match="root from A to G"):
        read_chord("57")


def test_every_chord_of_the_tables_has_one_canonical_form():
    for quality in QUALITIES:
        for names in (*combinations(ALTERATIONS, 1), *combinations(ALTERATIONS, 2)):
            chord = Chord(Spelling("C"), *canonical(quality, names))
            assert read_chord(chord.symbol) == chord
            assert altered(chord.quality, chord.alterations) == altered(quality, names)


@pytest.mark.parametrize("quality", QUALITIES, ids=[quality or "major" for quality in QUALITIES])
def test_every_spelling_of_the_table_reads_as_its_row(quality):
    for spelling in QUALITIES[quality].spellings:
        assert (read_chord("F#" + spelling).quality, read_chord("F#" + spelling).alterations) == (quality, ())


def test_no_spelling_stands_in_two_rows():
    for table, spellings in ((QUALITIES, SPELLINGS), (ALTERATIONS, ALTERATION_SPELLINGS)):
        assert len(spellings) == sum(len(row.spellings) for row in table.values())


def test_no_two_qualities_have_the_same_tones():
    assert len({row.tones for row in QUALITIES.values()}) == len(QUALITIES)


def test_an_error_names_qualities_of_the_table():
    assert set(USUAL) <= QUALITIES.keys()


@given(st.text("ABCDEFGabdgijmnostux#b♭♯°øΔ+-/(),; 1234567890.", max_size=10))
def test_any_text_is_a_chord_or_is_told(text):
    try:
        chord = read_chord(text, key=read_key("Eb"))
    except ValueError as error:
        told = str(error)
        chord = None
    assert read_chord(chord.symbol) == chord if chord else "is not a chord I know" in told


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
        ("Cmaj77", 'After "C" I can read maj7, m7, 7, 6, sus4, '),
        ("C7(b9,x)", 'could read "C7(b9"'),
        ("C99", 'could read "C9"'),
        ("C7/X", 'could read "C7". After the stroke'),
        ("C/", "bass note"),
        ("C7//G", "bass note"),
        ("C7(b9", "parenthesis"),
        ("C)7(", "parenthesis"),
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
