"""A meter stated before a bar's first chord (common practice, no source: a bar of two in a tune in three says so)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.errors import ChartError
from charts.notation import read_chart, write_chart
from charts.roadmap import unfold

TUNE = "title = A\nkey = D\nmeter = 3/4\ntempo = quarter 84\n\n== A ==\n{}\n\n== B ==\n| G |\n"


def test_a_bar_of_two_in_a_tune_in_three() -> None:
    chart = read_chart(TUNE.format("| D | (2/4) A7 D | (3/4) G |"))
    assert [bar.length for section in chart.sections for bar in section.bars] == [3, 2, 3, 3]
    assert [change.offset for change in chart.sections[0].bars[1].changes] == [0, 1]


def test_the_meter_holds_until_the_next_one_or_the_section_ends() -> None:
    chart = read_chart(TUNE.format("| (2/4) D | A |\n| G |"))
    assert [bar.length for section in chart.sections for bar in section.bars] == [2, 2, 2, 3]


def test_a_pickup_inside_a_repeat_is_a_short_bar() -> None:
    route = unfold(read_chart(TUNE.format("|: (1/4) A7 | (3/4) D | (2/4) D :|")))
    assert [bar.length for bar in route.bars[:6]] == [1, 3, 2, 1, 3, 2]


def test_writing_it_again_changes_nothing() -> None:
    text = write_chart(read_chart(TUNE.format("| D | ( 2/4 ) A7 D |\n| G | (3/4)D |: (1/8) A :| (3/4) G |")))
    assert "| D | (2/4) A7 D |\n| G | (3/4) D |: (1/8) A :| (3/4) G |" in text
    assert write_chart(read_chart(text)) == text


def test_count_counts_for_it_too() -> None:
    chart = read_chart("key = D\ncount = eighths\n== A ==\n| D | (6/8) G / A / D / |")
    assert chart.sections[0].bars[1].changes[1].offset == Fraction(1)


def test_a_meter_that_is_none_is_told_with_its_place() -> None:
    with pytest.raises(ChartError, match=r"line 3, column 8: 3/5 is not a meter"):
        read_chart("key = D\n== A ==\n| D | (3/5) G |")
