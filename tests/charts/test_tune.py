"""Reading the body of an ABC tune: each case is worked out by hand from the ABC standard 2.1 (from memory where it is quoted).

Notes are told as "name octave:length", lengths in quarter notes; a rest is not told, a tie is a trailing "-".
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.key import read_key
from charts.meter import read_meter
from charts.tune import Tune, TuneBar


def told(bars: list[TuneBar]) -> str:
    return " | ".join(
        " ".join(
            f"{note.spelling.name}{note.pitch // 12 - 1}:{note.length}{'-' * note.ties}"
            + (f"@{note.offset}" if index == 0 and note.offset else "")
            for index, note in enumerate(bar.notes)
        )
        for bar in bars
    )


def read(text: str, key: str = "C", meter: str = "4/4") -> list[TuneBar]:
    return Tune(read_key(key), read_meter(meter)).read(text)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("C c c' C, c,", "C4:1/2 C5:1/2 C6:1/2 C3:1/2 C4:1/2", id="octaves"),
        pytest.param("C2 C/ C/4 C// C3/2 C3/", "C4:1 C4:1/4 C4:1/8 C4:1/8 C4:3/4 C4:3/4", id="lengths"),
        pytest.param(
            "^F F f | F", "F#4:1/2 F#4:1/2 F#5:1/2 | F4:1/2", id="an accidental holds for the bar in every octave"
        ),
        pytest.param(
            "_B =B B __B ^^G", "Bb4:1/2 B4:1/2 B4:1/2 Bbb4:1/2 G##4:1/2", id="naturals and double accidentals"
        ),
        pytest.param(
            "^F4- | F2 F2", "F#4:2- | F#4:1 F4:1", id="a tie carries its accidental over the barline, no further"
        ),
        pytest.param("z2 C x2 | Z | C", "C4:1/2@1 |  | C4:1/2", id="rests"),
        pytest.param(
            "C>D C<D C>>D C3>D", "C4:3/4 D4:1/4 C4:1/4 D4:3/4 C4:7/8 D4:1/8 C4:9/4 D4:1/4", id="broken rhythm"
        ),
        pytest.param("C > D", "C4:3/4 D4:1/4", id="broken rhythm with spaces"),
        pytest.param("(3CDE C2", "C4:1/3 D4:1/3 E4:1/3 C4:1", id="a triplet"),
        pytest.param("(2CD (4CDEF", "C4:3/4 D4:3/4 C4:3/8 D4:3/8 E4:3/8 F4:3/8", id="two in three, four in three"),
        pytest.param("(3:2:2C2D E", "C4:2/3 D4:1/3 E4:1/2", id="a tuplet that says all"),
        pytest.param("(3:2:4G4c4G2c2", "G4:4/3 C5:4/3 G4:2/3 C5:2/3", id="three in two for four notes"),
        pytest.param("(3::2C2D E", "C4:2/3 D4:1/3 E4:1/2", id="a tuplet that leaves out its time"),
        pytest.param("(5CDEFG", " ".join(f"{n}4:1/5" for n in "CDEFG"), id="five in the time of two, simple meter"),
        pytest.param("(CD) (C(3DEF)", "C4:1/2 D4:1/2 C4:1/2 D4:1/3 E4:1/3 F4:1/3", id="slurs are not tuplets"),
        pytest.param("[CEG]2 [C2E2G2] [ceG]", "G4:1 G4:1 E5:1/2", id="chords give their highest note"),
        pytest.param("[C2E2]- | [CE]", "E4:1- | E4:1/2", id="a tied chord"),
        pytest.param(
            '{fg}"Am7"!trill!C ~D .E TF vG "^slow"A', "C4:1/2 D4:1/2 E4:1/2 F4:1/2 G4:1/2 A4:1/2", id="ornaments"
        ),
        pytest.param("[L:1/4]C C2\nL:1/16\nC", "C4:1 C4:2 C4:1/4", id="unit length in the line"),
        pytest.param("[K:Bb]B [K:A]c", "Bb4:1/2 C#5:1/2", id="key in the line"),
        pytest.param("[K:Ddor]F [K:G mix]f [K:Em]f [K:none]f", "F4:1/2 F5:1/2 F#5:1/2 F5:1/2", id="modes"),
        pytest.param("|: C2 D2 :|2 E4 || F4 |]", "C4:1 D4:1 | E4:2 | F4:2", id="bar lines of all kinds"),
        pytest.param("C2 :: D2 |[1 E2 :|[2 F2 |]", "C4:1 | D4:1 | E4:1 | F4:1", id="endings are the chart's affair"),
        pytest.param("A:| C", "A4:1/2 | C4:1/2", id="a note before a repeat sign is no field"),
        pytest.param("w: la la\nC2 % comment\nD2 `E2\\", "C4:1 D4:1 E4:1", id="words, comments and beams"),
    ],
)
def test_what_is_written_is_what_is_played(text: str, expected: str) -> None:
    assert told(read(text)) == expected


@pytest.mark.parametrize(
    ("key", "text", "expected"),
    [
        ("D", "F C =C C", "F#4:1/2 C#4:1/2 C4:1/2 C4:1/2"),
        ("Eb", "B e A d", "Bb4:1/2 Eb5:1/2 Ab4:1/2 D5:1/2"),
        ("Em", "F C D", "F#4:1/2 C4:1/2 D4:1/2"),
        ("Cb", "C F", "Cb3:1/2 Fb4:1/2"),
        ("C#", "B E", "B#5:1/2 E#4:1/2"),
    ],
)
def test_a_note_takes_the_signature_of_the_key(key: str, text: str, expected: str) -> None:
    assert told(read(text, key)) == expected


@pytest.mark.parametrize(
    ("meter", "unit"), [("4/4", "1/2"), ("3/4", "1/2"), ("6/8", "1/2"), ("2/4", "1/4"), ("3/8", "1/4"), ("2/2", "1/2")]
)
def test_the_unit_is_a_sixteenth_in_a_bar_shorter_than_three_quarters(meter: str, unit: str) -> None:
    assert told(read("C", meter=meter)) == f"C4:{unit}"


def test_five_go_in_the_time_of_three_where_the_meter_is_compound() -> None:
    assert told(read("(5CDEFG", meter="6/8")) == " ".join(f"{name}4:3/10" for name in "CDEFG")
    assert told(read("[M:6/8](5CDEFG")) == " ".join(f"{name}4:3/10" for name in "CDEFG")


def test_key_and_unit_hold_on_to_the_next_line_and_a_tie_goes_over() -> None:
    tune = Tune(read_key("C"), read_meter("4/4"))
    assert told(tune.read("[K:D][L:1/4]^G2F2-")) == "G#4:2 F#4:2-"
    assert told(tune.read("FG")) == "F#4:1 G4:1"


def test_a_line_that_ends_with_a_full_bar_may_lack_its_bar_line() -> None:
    tune = Tune(read_key("C"), read_meter("4/4"))
    whole = Fraction(4)
    assert told(tune.read("C8\nD4\nE4 | F8", [whole, whole, whole])) == "C4:4 | D4:2 E4:2 | F4:4"


@pytest.mark.parametrize(
    ("text", "wrong"),
    [
        ("C2 & D2", "one voice"),
        ("C2 [K:HP] D2", "K:HP"),
        ("C2 [L:3/8]", "L:3/8"),
        ("- C2", "no note before"),
        ("> C2", "none before it"),
        ("C0", "no length"),
        ("C/0", "no length"),
        ("C2 Z D2", "stands alone"),
        ("C2 # D2", '"#"'),
        ('C2 "Am', "quotes needs two"),
        ("[M:fast]C", "not a meter"),
    ],
)
def test_what_cannot_be_read_is_told(text: str, wrong: str) -> None:
    with pytest.raises(ValueError) as caught:
        read(text)
    assert wrong in str(caught.value)
