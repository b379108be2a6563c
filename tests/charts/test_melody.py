"""The chart's tune by route position. Positions and keys are counted by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.chart import Chart
from charts.errors import ChartError
from charts.melody import joined, melody, written_melody
from charts.notation import read_chart
from charts.proof import proof
from charts.roadmap import unfold
from charts.transposing import transposed


def song(body: str, header: str = "key = C\nmeter = 4/4") -> Chart:
    return read_chart(f"title = Made Up\n{header}\n{body}", "made_up.chart")


def told(chart: Chart, *, ties: bool = True) -> str:
    notes = melody(unfold(chart))
    notes = notes if ties else joined(notes)
    return " ".join(
        f"{note.position}:{'~' * note.tied}{note.spelling.name}{note.octave}/{note.length}{'~' * note.ties}"
        for note in notes
    )


def test_the_tune_stands_bar_by_bar_on_its_bars() -> None:
    chart = song("== A ==\n| C | G |\nmelody = c4 d4 | e8 |\n| F |\nmelody = f8")
    assert told(chart) == "0:C5/2 2:D5/2 4:E5/4 8:F5/4"
    assert [note.bar for note in melody(unfold(chart))] == [0, 0, 1, 2]


def test_lines_without_a_tune_are_silent() -> None:
    assert told(song("== A ==\n| C | G |\n| F |\nmelody = f8\n== B ==\n| C |")) == "8:F5/4"


def test_a_chart_without_a_tune_has_none() -> None:
    assert melody(unfold(song("== A ==\n| C |"))) == ()


def test_a_pickup_is_as_long_as_the_charts() -> None:
    chart = song("== A ==\n| G7 | C |\nmelody = G2 | c8 |", "key = C\nmeter = 4/4\npickup = 1")
    assert told(chart) == "0:G4/1 1:C5/4"


def test_repeats_and_endings_are_played_as_the_chart_says() -> None:
    body = "== A ==\n|: C |1. G :|2. F |\nmelody = |: c8 |1 d8 :|2 e8 |"
    assert told(song(body)) == "0:C5/4 4:D5/4 8:C5/4 12:E5/4"


def test_the_section_takes_its_own_key_and_meter() -> None:
    chart = song("== A ==\n| C |\nmelody = f8\n== B ==\nkey = D\nmeter = 2/4\n| D |\nmelody = f4 c4")
    assert told(chart) == "0:F5/4 4:F#5/1 5:C#5/1"


def test_a_step_that_goes_up_takes_the_tune_along() -> None:
    body = "== Roadmap ==\nA\nA   up a tone\nA   down a half step\nA  up an octave\n\n== A ==\n| C |\nmelody = e4 ^f4"
    assert told(song(body)) == "0:E5/2 2:F#5/2 4:F#5/2 6:G#5/2 8:D#5/2 10:E#5/2 12:E6/2 14:F#6/2"


def test_what_the_tune_states_holds_to_the_end_of_its_section() -> None:
    body = "== A ==\n| C |\nmelody = [K:D][L:1/4] f4\n| C |\nmelody = f4\n== B ==\n| C |\nmelody = f8"
    assert told(song(body)) == "0:F#5/4 4:F#5/4 8:F5/4"


def test_a_tie_joins_one_key_and_no_other() -> None:
    body = "== A ==\n| C | C | C |\nmelody = c4 d4- | d4- e4- | z8"
    assert told(song(body)) == "0:C5/2 2:D5/2~ 4:~D5/2 6:E5/2"
    assert told(song(body), ties=False) == "0:C5/2 2:D5/4 6:E5/2"


def test_a_tie_into_a_second_ending_leads_from_the_repeated_bar() -> None:
    body = "== A ==\n|: C |1. G :|2. F |\nmelody = c8- |1 c8 :|2 d8 |"
    assert told(song(body)) == "0:C5/4~ 4:~C5/4 8:C5/4 12:D5/4"


@pytest.mark.parametrize(
    ("body", "line", "message"),
    [
        pytest.param(
            "== A ==\n| C | G |\nmelody = c4 d4 | e6 |",
            6,
            'A, bar 2: the melody does not add up: "e6" is 3 quarter notes long, and the bar has 4',
            id="a short bar",
        ),
        pytest.param(
            "== A ==\n| C | G |\nmelody = c8",
            6,
            "A, bar 1: the melody has 1 bar, and the line of bars above it 2",
            id="a bar missing",
        ),
        pytest.param(
            "== A ==\n| C |\nwords\nmelody = c8 | ? d8",
            7,
            "A, bar 1: the melody has 2 bars, and the line of bars above it 1",
            id="a bar too many",
        ),
        pytest.param(
            "== A ==\n| C |\nmelody = c4 & e4",
            6,
            'A, bar 1: the melody: "&" is nothing I can read in a tune; the melody of a chart is one voice',
            id="a second voice",
        ),
    ],
)
def test_what_does_not_add_up_is_told_with_its_line(body: str, line: int, message: str) -> None:
    chart = song(body)
    with pytest.raises(ChartError) as caught:
        melody(unfold(chart))
    (problem,) = caught.value.problems
    assert (problem.line, problem.message, problem.source) == (line, message, "made_up.chart")
    assert problem in proof(chart)


def test_everything_wrong_is_told_at_once() -> None:
    _, problems = written_melody(song("== A ==\n| C | G |\nmelody = c4 | d4\n== B ==\n| C |\nmelody = &"))
    assert [problem.line for problem in problems] == [6, 6, 9]


LENGTHS = st.sampled_from(["", "2", "3", "/2", "3/2", "4"])
NOTES = st.tuples(st.sampled_from(["", "^", "_", "="]), st.sampled_from("CDEFGABcdefgab"), LENGTHS).map("".join)


@given(st.lists(NOTES, min_size=1, max_size=12), st.integers(-11, 11))
def test_a_transposed_chart_sings_the_same_tune_elsewhere(notes: list[str], semitones: int) -> None:
    home = read_chart("key = D\nmeter = 16/1\n== A ==\n| D |\nmelody = [L:1/8]" + " ".join(notes))
    tune = Fraction(sum(_length(note) for note in notes))
    rest = Fraction(64) - tune
    home = read_chart(home.text + f" z{rest * 2}")
    before, after = melody(unfold(home)), melody(unfold(transposed(home, semitones)))
    assert [(note.position, note.length) for note in before] == [(note.position, note.length) for note in after]
    assert {new.pitch - old.pitch for old, new in zip(before, after, strict=True)} == {semitones}


def _length(note: str) -> Fraction:
    """Quarter notes of a note written over eighths."""
    digits = note.lstrip("^_=")[1:]
    return Fraction(f"1{digits}" if digits.startswith("/") else digits or "1") / 2


@given(st.lists(NOTES, min_size=1, max_size=12), st.integers(-11, 11).filter(bool))
def test_a_step_up_is_the_transposed_chart(notes: list[str], semitones: int) -> None:
    way = f"{'up' if semitones > 0 else 'down'} {abs(semitones)} half steps"
    rest = (Fraction(64) - sum(_length(note) for note in notes)) * 2
    bars = f"== A ==\n| D |\nmelody = {' '.join(notes)} z{rest}"
    stepped = read_chart(f"key = D\nmeter = 16/1\n== Roadmap ==\nA {way}\n{bars}")
    moved = transposed(read_chart(f"key = D\nmeter = 16/1\n{bars}"), semitones)
    one, other = melody(unfold(stepped)), melody(unfold(moved))
    assert [note.pitch for note in one] == [note.pitch for note in other]
    assert stepped.sections == read_chart(stepped.text).sections
