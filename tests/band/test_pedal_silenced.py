"""A piston or the general cancel switches the pedal's MIDI off under a moving tune: told at once, the place goes on with the
tune and the pulse, and comes back with the foot. QUAY at 120: a bar is two seconds."""

from __future__ import annotations

import pytest

from liveassist.band.events import Told
from tests.band.rehearsing import pedal, tune

D, G, A, B = 38, 43, 45, 47


def told(band, words):
    return [round(action.at, 3) for action in band.done if isinstance(action, Told) and words in action.text]


def play(band, last_foot, until, *, every=0.5, comes_back=None):
    """The written bass up to a change, then none; a tune of the chords' roots all the while; feet again from a change on."""
    at = 1.0
    for change in band.route.changes:
        if at > until:
            break
        length = float(change.length) * 0.5
        if change.index <= last_foot or (comes_back is not None and change.index >= comes_back):
            band.walk(change.index, change.index, at)
        beat = at
        while beat < at + length - 0.1:
            band.hear(tune(beat, 72 + change.root % 12))
            beat += every
        at += length


def test_a_silent_pedal_under_a_moving_tune_is_told_within_two_beats(rehearse):
    band = rehearse()
    play(band, last_foot=1, until=12.0)
    due = 5.0  # change 2, G, wants a foot there
    assert told(band, "nothing from the pedal") == [pytest.approx(due + 1.0, abs=0.05)], "once"


def test_the_place_goes_on_with_the_tune_and_the_pulse(rehearse):
    band = rehearse(patience="0")
    play(band, last_foot=1, until=14.0)
    assert [change for _, change in band.places()] == list(range(len(band.places())))
    assert [at for at, change in band.places() if change == 5] == [pytest.approx(9.1, abs=0.1)]
    assert len(band.starts(9.0, 14.0)) > 10


def test_the_pedal_comes_back_with_the_foot(rehearse):
    band = rehearse()
    play(band, last_foot=1, until=16.0, comes_back=6)
    back = 11.0
    assert told(band, "heard again") == [back]
    assert (back, 6) in band.places()
    assert [change for _, change in band.places()][-1] >= 7


def test_after_it_came_back_it_may_be_told_again(rehearse):
    band = rehearse(patience="always")
    band.walk(0, 1, 1.0)
    for beat in range(8):
        band.hear(tune(5.0 + beat / 2))
    band.walk(5, 5, 9.0)
    for beat in range(12):
        band.hear(tune(11.0 + beat / 2))
    assert len(told(band, "nothing from the pedal")) == 2
    assert len(told(band, "heard again")) == 1


def test_a_late_foot_is_no_silent_pedal(rehearse):
    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(tune(5.0), tune(5.4), pedal(5.45, G), tune(5.9), tune(6.4))
    assert told(band, "pedal") == []


def test_a_pedal_that_is_still_down_may_be_a_pedal_point_and_is_told_later(rehearse):
    band = rehearse()
    band.walk(0, 0, 1.0)
    band.hear(pedal(3.0, B))
    for beat in range(10):
        band.hear(tune(4.0 + beat / 2))
    assert told(band, "nothing from the pedal") == [], "8.5 s: not yet"
    for beat in range(4):
        band.hear(tune(9.0 + beat / 2))
    assert told(band, "nothing from the pedal") == [pytest.approx(9.0, abs=0.1)]


@pytest.mark.parametrize(
    "case",
    [
        pytest.param({"lead": "pulse"}, id="place-by-the-clock"),
        pytest.param({"lead": "switch"}, id="place-by-the-switch"),
    ],
)
def test_where_the_feet_do_not_lead_their_silence_says_nothing(rehearse, case):
    band = rehearse(**case)
    play(band, last_foot=1, until=12.0)
    assert told(band, "nothing from the pedal") == []


def test_a_tune_that_rests_too_is_a_breath_and_no_silent_pedal(rehearse):
    band = rehearse()
    band.hear(tune(1.0))
    band.walk(0, 1, 1.0)
    band.until(12.0)
    assert told(band, "nothing from the pedal") == []


def test_a_player_without_feet_is_not_told_of_them(rehearse):
    band = rehearse(patience="always")
    from tests.band.rehearsing import press

    band.hear(press(1.0))
    for beat in range(20):
        band.hear(tune(1.0 + beat / 2))
    assert told(band, "nothing from the pedal") == []
