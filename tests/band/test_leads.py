"""Leads switch, pulse and click."""

from __future__ import annotations

import pytest

from tests.band.rehearsing import nod, pedal, press, sounding_after


def test_switch_moves_one_change_a_press(rehearse):
    band = rehearse(lead="switch")
    band.hear(*[press(1.0 + 2 * k) for k in range(4)])
    assert [change for _, change in band.places()] == [0, 1, 2, 3]


def test_without_a_press_the_chord_goes_round(rehearse):
    band = rehearse(lead="switch")
    band.hear(press(1.0))
    band.until(12.0)
    assert [change for _, change in band.places()] == [0]
    assert band.states()[-1] == "vamping"
    assert band.starts(8.0), "a switch player need not hold a key"
    band.hear(press(12.3))
    assert band.places()[-1] == (12.3, 1)


@pytest.mark.parametrize(("unit", "reached"), [("change", 2), ("bar", 2), ("section", 9)])
def test_a_press_moves_a_change_a_bar_or_a_section(rehearse, unit, reached):
    band = rehearse(lead="switch", switch_unit=unit)
    band.hear(press(1.0, unit), press(3.0, unit), press(5.0, unit))
    assert band.places()[-1][1] == reached


def test_in_switch_lead_the_feet_are_free(rehearse):
    band = rehearse(lead="switch")
    band.hear(press(1.0), pedal(2.0, 43), pedal(2.5, 45))
    assert [change for _, change in band.places()] == [0]


def test_in_switch_lead_a_pedal_down_just_before_its_change_moves_nothing(rehearse):
    """D, then Bm: its pedal goes down a moment before the barline, the press comes a moment after it."""
    band = rehearse(lead="switch")
    band.hear(press(1.0), pedal(2.98, 47), press(3.03))
    assert [change for _, change in band.places()] == [0, 1]


def test_pulse_never_waits_and_ends_by_itself(rehearse):
    band = rehearse(lead="pulse")
    band.hear(nod(0.5, "count"))
    band.until(120.0)
    assert [change for _, change in band.places()] == list(range(len(band.route.changes)))
    start = band.places()[0][0]
    for (at, change), position in zip(band.places(), band.route.changes, strict=True):
        assert at - start == pytest.approx(float(position.position) * 0.5, abs=1e-6), change
    assert band.states()[-3:] == ["ending", "fine", "tacet"]
    assert sounding_after(band.done) == set()


def test_pulse_obeys_nods(rehearse):
    band = rehearse(lead="pulse")
    band.hear(pedal(1.0, 38), nod(2.0, "again"))
    band.until(13.0)
    assert [change for _, change in band.places()][:7] == [0, 1, 2, 3, 4, 0, 1]


def test_click_keeps_its_time_whatever_the_feet_do(rehearse):
    band = rehearse(lead="click")
    band.walk(0, 8, 1.0, late=(0.0, 0.03, -0.03, 0.04))
    beats = [at for at, _ in band.beats()]
    assert beats == pytest.approx([1.0 + 0.5 * k for k in range(len(beats))], abs=0.005)


def test_a_foot_and_a_press_at_once_begin_the_song_once(rehearse):
    """A wrong foot, the switch, and the foot again, all within a moment."""
    band = rehearse()
    band.hear(pedal(0.24, 37), press(0.24), pedal(0.25, 38))
    band.until(1.0)
    assert band.places() == [(0.24, 0)]
