"""The pulse against the textbook: a Kalman filter for a constant-velocity state, and published thresholds."""

from __future__ import annotations

import random
import statistics

import pytest

from liveassist.band.pulse import Pulse


def steady(bpm: float = 90.0) -> Pulse:
    return Pulse.begin(0.0, 0.0, 60.0 / bpm, 1.0)


def test_time_and_count_are_each_others_inverse():
    pulse = steady()
    assert pulse.count_at(pulse.time_of(7.25)) == pytest.approx(7.25)


def test_a_question_changes_nothing():
    pulse = steady()
    before = repr(pulse)
    pulse.spread(8.0), pulse.time_of(3.0), pulse.bpm(1.0)
    assert repr(pulse) == before


def test_spread_grows_with_distance():
    spreads = [steady().spread(count) for count in (0, 1, 2, 4, 8)]
    assert spreads == sorted(spreads)
    assert spreads[0] < spreads[-1]


@pytest.mark.parametrize("bpm", [60, 90, 130])
def test_tempo_is_within_three_per_cent_after_four_cues(bpm):
    """Tempo JND 6 % for one interval, 3 % for six (Drake & Botte 1993): within 3 % after four cues, two beats apart."""
    misses = []
    for seed in range(60):
        dice = random.Random(seed)
        pulse = steady(bpm * 1.06)
        for k in range(4):
            count = 2.0 * (k + 1)
            pulse = pulse.corrected(count, count * 60.0 / bpm + dice.gauss(0, 0.02))
        misses.append(abs(pulse.bpm(1.0) / bpm - 1))
    assert statistics.median(misses) < 0.03


def test_one_early_eighth_moves_the_next_beat_less_than_twelve_per_cent():
    """Steps of tempo below some 12 % go unnoticed (awareness threshold of a tempo step in tapping)."""
    pulse = steady()
    for k in range(1, 9):
        pulse = pulse.corrected(2.0 * k, 2.0 * k * 60 / 90)
    beat = 60 / 90
    moved = pulse.corrected(18.0, 18.0 * beat - beat / 2)
    assert abs(moved.time_of(19.0) - 19.0 * beat) < 0.35 * beat
    assert abs(moved.period / pulse.period - 1) < 0.12


def test_a_click_is_moved_by_nothing():
    pulse = Pulse.begin(0.0, 0.0, 0.5, 1.0, steady=True)
    assert pulse.corrected(4.0, 2.4) == pulse


def test_restarting_keeps_the_old_tempo():
    pulse = steady().corrected(4.0, 4 * 60 / 90)
    again = pulse.restarted(9.0, 11.0)
    assert again.period == pulse.period
    assert again.time_of(9.0) == 11.0


def test_tempo_stays_within_its_bounds():
    pulse = steady(100)
    for k in range(1, 40):
        pulse = pulse.corrected(float(k), pulse.time_of(k) + 0.3)
    assert pulse.bpm(1.0) >= 60 - 1e-6
