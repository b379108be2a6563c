"""The clock that nobody leads: written tempi, ritards, holds, breaths and waits, counted by hand."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from liveassist.arranging.clock import RITARD_TO, ritard_speed, slowed, written_time


def route_of(bars: str, *, head: str = "meter = 4/4\ntempo = quarter 60", roadmap: str = "") -> Route:
    return unfold(read_chart(f"title = Clockwork\nkey = C\n{head}\n\n{roadmap}== Verse ==\n{bars}\n"))


def starts(route: Route, tempo: float = 0.0) -> list[float]:
    """Seconds at which each bar begins, and the end of the last."""
    clock = written_time(route, tempo)
    return [round(clock.at(bar.position), 6) for bar in route.bars] + [round(clock.until(route.length), 6)]


def test_at_quarter_sixty_a_quarter_is_a_second():
    assert starts(route_of("| C | F | G |]")) == [0, 4, 8, 12]


@pytest.mark.parametrize(
    ("head", "bar"),
    [
        ("meter = 4/4\ntempo = quarter 120", 2.0),
        ("meter = 3/4\ntempo = quarter 90", 2.0),
        ("meter = 6/8\ntempo = dotted quarter 60", 2.0),
        ("meter = 6/8\ncount = eighths\ntempo = eighth 120", 3.0),
        ("meter = 2/2\ntempo = half 60", 2.0),
        ("meter = 5/4\ntempo = quarter 100", 3.0),
    ],
    ids=["4/4", "3/4", "6/8 in two", "6/8 in six", "2/2", "5/4"],
)
def test_a_bar_lasts_as_long_as_its_beats(head, bar):
    assert starts(route_of("| C | G |]", head=head)) == pytest.approx([0, bar, 2 * bar])


def test_another_tempo_keeps_the_proportion_of_the_tempo_changes():
    text = (
        "title = Two paces\nkey = C\nmeter = 4/4\ntempo = quarter 60\n\n"
        "== Verse ==\n| C |\n== Chorus ==\ntempo = quarter 120\n| F |\n"
    )
    route = unfold(read_chart(text))
    assert starts(route) == [0, 4, 6]
    assert starts(route, tempo=120.0) == [0, 2, 3]


def test_a_hold_is_two_counted_beats_longer_and_what_stands_in_it_stays():
    route = route_of("| C | F (hold) | G |]")
    assert starts(route) == [0, 4, 10, 14]
    clock = written_time(route)
    assert clock.until(Fraction(8)) == pytest.approx(10.0)


def test_a_hold_on_the_last_chord_lasts_to_the_end():
    assert starts(route_of("| C | F (hold) |]")) == [0, 4, 10]


def test_a_breath_takes_half_a_beat_and_what_came_before_is_let_go():
    route = route_of("| C (breath) | F |]")
    clock = written_time(route)
    assert clock.until(Fraction(4)) == pytest.approx(4.0)
    assert clock.at(Fraction(4)) == pytest.approx(4.5)


def test_a_section_that_waits_is_followed_by_two_beats_of_silence_but_not_at_the_end():
    roadmap = "== Roadmap ==\nVerse wait\nVerse wait\n\n"
    clock = written_time(route_of("| C |]", roadmap=roadmap))
    assert clock.until(Fraction(4)) == pytest.approx(4.0)
    assert clock.at(Fraction(4)) == pytest.approx(6.0)
    assert clock.until(Fraction(8)) == pytest.approx(10.0)


@given(st.floats(0.3, 0.95), st.floats(2.0, 3.0))
def test_a_ritard_begins_in_tempo_and_ends_at_its_share(final, curve):
    # Friberg & Sundberg 1999: v(0) = 1, v(1) = w.
    assert ritard_speed(0.0, final, curve) == pytest.approx(1.0)
    assert ritard_speed(1.0, final, curve) == pytest.approx(final)


def test_each_beat_of_a_ritard_is_longer_and_a_tempo_is_in_tempo_again():
    route = route_of("| C | F (rit.) | G | C (a tempo) |]")
    clock = written_time(route)
    beats = [clock.at(Fraction(beat + 1)) - clock.at(Fraction(beat)) for beat in range(16)]
    assert beats[:4] == pytest.approx([1.0] * 4)
    assert all(longer > shorter for shorter, longer in pairwise(beats[4:12]))
    assert 1.0 < beats[4] < 1.05
    assert beats[11] < 1.0 / RITARD_TO
    assert beats[12:] == pytest.approx([1.0] * 4)


def test_a_ritard_takes_the_time_that_its_formula_takes():
    # The integral of dx / v(x) from 0 to 1, v = [1 + (w^q - 1) x]^(1/q), is (w^(q-1) - 1) q / ((w^q - 1) (q - 1)).
    w, q = RITARD_TO, 2.5
    share = (w ** (q - 1) - 1) * q / ((w**q - 1) * (q - 1))
    *_, begin, end = starts(route_of("| C | F (rit.) |]"))
    assert end - begin == pytest.approx(4 * share, rel=0.01)  # beats are straight lines


def test_outside_ritards_the_tempo_is_whole():
    assert slowed(Fraction(3), [(Fraction(4), Fraction(8))], 0.6, 2.5) == 1.0
    assert slowed(Fraction(8), [(Fraction(4), Fraction(8))], 0.6, 2.5) == 1.0
