"""The answer in the notation: read, written, proofed, unfolded and transposed."""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.answer import Answer
from charts.errors import ChartError
from charts.meter import read_meter
from charts.notation import read_chart, write_chart
from charts.proof import proof
from charts.roadmap import unfold
from charts.transposing import transposed
from charts.values import answer_text, read_answer


@pytest.mark.parametrize(
    ("text", "answer", "canonical"),
    [
        ("echo", Answer(kind="echo"), "echo, one bar"),
        ("Echo, one bar, octave below", Answer(kind="echo", octaves=-1), "echo, one bar, octave below"),
        ("canon, two beats", Answer(kind="canon", count=Fraction(2), unit="beat"), "canon, two beats"),
        ("canon, 2 beats later, at the unison", Answer(kind="canon", count=Fraction(2), unit="beat"), "canon, two beats"),
        ("canon, at the octave above, half a bar", Answer(kind="canon", count=Fraction(1, 2), octaves=1),
         "canon, half a bar, octave above"),
        ("echo, a beat", Answer(kind="echo", unit="beat"), "echo, one beat"),
        ("none", Answer(kind="none"), "none"),
    ],
)  # fmt: skip
def test_answers_in_trade_words(text: str, answer: Answer, canonical: str) -> None:
    assert read_answer(text) == answer
    assert answer_text(answer) == canonical
    assert read_answer(canonical) == answer


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("fugue, one bar", '"fugue, one bar" is not an answer I know; I can read echo, canon or none'),
        ("echo, a while", '"a while" is nothing I know of an answer; I can read echo, canon or none'),
        ("echo, one bar, fifth below", "unison, octave below, octave above"),
        ("echo, one bar, two bars", '"two bars" is nothing I know'),
        ("none, one bar", '"none, one bar" is not an answer'),
        ("canon, 0 bars", '"0 bars"'),
    ],
)
def test_an_unknown_word_lists_the_known_ones(text: str, told: str) -> None:
    with pytest.raises(ChartError) as caught:
        read_chart(f"key = C\nanswer = {text}\n== A ==\n| C |")
    (problem,) = caught.value.problems
    assert problem.line == 2
    assert told in problem.message


@pytest.mark.parametrize(("meter", "bars", "beats"), [("4/4", 4, 2), ("6/8", 3, 3), ("3/4", 3, 2), ("2/2", 4, 4)])
def test_bars_and_counted_beats_are_those_of_the_meter(meter: str, bars: int, beats: int) -> None:
    assert read_answer("echo, one bar").distance(read_meter(meter)) == bars
    assert read_answer("echo, two beats").distance(read_meter(meter)) == beats


SONG = "title = Song\nkey = C\nmeter = 4/4\ntempo = quarter 84\nanswer = canon, two beats\n\n== A ==\n| C |\n\n"
PARTS = SONG + "== B ==\nanswer = none\n| F |\n\n== C ==\nanswer = echo, half a bar, octave below\n| G | C |\n"


def test_a_section_has_its_own_answer_or_none() -> None:
    bars = unfold(read_chart(PARTS)).bars
    assert [bar.answer.kind if bar.answer else "" for bar in bars] == ["canon", "none", "echo", "echo"]


def test_writing_and_reading_is_a_fixed_point() -> None:
    written = write_chart(read_chart(PARTS))
    assert "answer = canon, two beats" in written
    assert write_chart(read_chart(written)) == written
    assert read_chart(written) == read_chart(PARTS)


def test_a_transposed_chart_keeps_its_answers() -> None:
    moved = transposed(read_chart(PARTS), 2)
    assert moved.answer == read_chart(PARTS).answer
    assert [section.answer for section in read_chart(moved.text).sections] == [
        section.answer for section in read_chart(PARTS).sections
    ]


def test_an_answer_that_comes_when_its_section_is_over_is_told() -> None:
    chart = read_chart("key = C\nanswer = echo, two bars\n== A ==\n| C | F |\n== B ==\n| C | F | G |")
    (problem,) = proof(chart)
    assert (problem.line, problem.serious) == (3, False)
    assert "A is 8 quarter notes long, and its answer comes 8 behind the tune" in problem.message
