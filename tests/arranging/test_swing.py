"""Swing by tempo.

Friberg and Sundström (2002, Music Perception 19/3; figures from memory of its abstract): the ratio falls roughly linearly with
the tempo, from 3.5:1 when slow to 1:1 when fast, and 2:1 holds at one tempo only. How this tool applies it to singing in a
church (2:1 up to a medium tempo, 3:2 at 160 and beyond, even when very fast) is a choice of our own.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.meter import Meter
from liveassist.arranging.arrange import arrange
from liveassist.arranging.feel_files import read_feel
from liveassist.arranging.feels import load_feels
from liveassist.arranging.figure import FINEST
from liveassist.arranging.swing import swing_at
from tests.arranging.routes import faults, onsets, song
from tests.arranging.test_feels import GOOD

# Pairs a minute and long to short.
AT = [(0, 2), (60, 2), (92, 2), (120, 2), (160, Fraction(3, 2)), (300, 1), (360, 1)]


@pytest.mark.parametrize(("bpm", "ratio"), AT)
def test_the_corner_points(bpm: int, ratio: Fraction) -> None:
    assert swing_at(bpm) == ratio


@given(st.floats(20, 400), st.floats(20, 400))
def test_the_faster_the_more_even(one: float, other: float) -> None:
    assert swing_at(min(one, other)) >= swing_at(max(one, other))
    assert 1 <= swing_at(one) <= 2


@given(st.floats(20, 400))
def test_it_falls_about_linearly_between_the_corner_points(bpm: float) -> None:
    """Within half a grain of the pair's share: 1/480 of a pair is 1 ms at 120."""
    line = 2.0 if bpm <= 120 else 2 - (bpm - 120) / 80 if bpm <= 160 else max(1.0, 1.5 - (bpm - 160) / 280)
    share = float(swing_at(bpm) / (swing_at(bpm) + 1))
    assert share == pytest.approx(line / (line + 1), abs=1 / 480 + 1e-9)


@given(st.floats(20, 400), st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(2)]))
def test_a_swung_note_falls_on_a_tick(bpm: float, pair: Fraction) -> None:
    ratio = swing_at(bpm)
    assert FINEST % (pair * ratio / (ratio + 1)).denominator == 0


def test_a_shuffle_evens_out_as_it_gets_faster() -> None:
    # The second attack of a bar at 80, 160 and 300 quarters a minute: 2/3, 3/5 and 1/2 of a quarter. A very dry room.
    for tempo, place in ((80, Fraction(2, 3)), (160, Fraction(3, 5))):
        assert onsets(arrange(song("C", "F", feel="shuffle"), tempo=tempo, room=0.1, variety=False))[1] == place
    assert load_feels()["shuffle"].attacks(Meter(4, 4), 2, quarter_bpm=300)[1].offset == Fraction(1, 2)


def test_sixteenths_swing_by_the_tempo_of_their_pairs() -> None:
    """Sixteenths at 80 pass as quickly as eighths at 160."""
    slow = load_feels()["shuffled sixteenths"].attacks(Meter(4, 4), 2, quarter_bpm=80)
    assert slow[1].offset == Fraction(1, 2) + Fraction(1, 2) * Fraction(3, 5)


def test_a_fixed_ratio_of_any_kind_is_kept_exactly() -> None:
    feel = read_feel(GOOD.replace('touch = "short"', 'touch = "short"\nswing = "7:4"').replace('"x-x-"', '"xxxx"'))
    arrangement = arrange(song("C", "F"), feel="test", feels={**load_feels(), "test": feel}, room=0.1, variety=False)
    assert onsets(arrangement)[:4] == [0, Fraction(7, 11), 1, Fraction(18, 11)]


@pytest.mark.parametrize("tempo", [60, 97, 133, 160, 211])
def test_swung_bars_are_as_clean_as_straight_ones(tempo: int) -> None:
    for feel in ("shuffle", "charleston", "shuffled sixteenths", "four to the bar"):
        arrangement = arrange(song("C", "G7/B Am", "F &G / / /", "C", feel=feel), tempo=tempo)
        assert faults(arrangement, tempo=tempo) == []
