"""Clocks: one that jumps, one that is real (with a clock of our own handed in, so that nothing waits)."""

from __future__ import annotations

import threading

from liveassist.console.timeline import Arrival, RealTimeline, SimulatedTimeline
from liveassist.link import Request

FOOT = b"\x93\x26\x40"


def arrivals(*moments: float) -> list[Arrival]:
    return [Arrival(at, "script", FOOT) for at in moments]


def test_a_simulated_clock_jumps_to_what_comes_next() -> None:
    timeline = SimulatedTimeline(arrivals(2.0, 1.0))
    assert timeline.wait(0.5) == []
    assert timeline.now() == 0.5
    assert timeline.wait(None) == arrivals(1.0)
    assert timeline.now() == 1.0
    assert not timeline.over
    assert timeline.wait(2.0) == arrivals(2.0)
    assert timeline.over
    assert timeline.wait(1.0) == []
    assert timeline.now() == 2.0


class Clock:
    """Goes on by a little whenever it is looked at."""

    def __init__(self) -> None:
        self.seconds = 100.0

    def __call__(self) -> float:
        self.seconds += 0.0001
        return self.seconds


def test_real_time_counts_from_the_beginning() -> None:
    clock = Clock()
    timeline = RealTimeline(clock=clock)
    clock.seconds += 5.0
    timeline.begin()
    assert 0.0 < timeline.now() < 0.001


def test_what_a_port_heard_comes_with_its_own_time() -> None:
    clock = Clock()
    timeline = RealTimeline(clock=clock)
    origin = clock.seconds
    timeline.midi("console")(origin + 0.25, FOOT)
    timeline.asked(Request(ask="cue"))
    first, second = timeline.wait(None)
    assert (round(first.at, 9), first.port, first.what) == (0.25, "console", FOOT)
    assert (second.port, second.what) == ("desk", Request(ask="cue"))


def test_a_sharp_moment_is_not_missed_by_more_than_a_look_at_the_clock() -> None:
    clock = Clock()
    timeline = RealTimeline(clock=clock)
    assert timeline.wait(timeline.now() + 0.0009, sharp=True) == []
    assert timeline.wait(0.0005, sharp=True) == []
    assert 0.0 <= timeline.now() - 0.0013 < 0.001


def test_what_arrives_while_it_spins_is_heard() -> None:
    timeline = RealTimeline()
    player = threading.Timer(0.005, timeline.midi("console"), (timeline.now(), FOOT))
    player.start()
    assert [arrival.what for arrival in timeline.wait(timeline.now() + 10.0)] == [FOOT]
    player.join()


def test_a_script_is_heard_in_real_time() -> None:
    clock = Clock()
    timeline = RealTimeline(arrivals(0.0005, 0.0006, 0.5), clock=clock)
    heard = timeline.wait(0.1)
    assert heard[0] == arrivals(0.0005)[0]
    assert timeline.now() < 0.01
    assert not timeline.over
