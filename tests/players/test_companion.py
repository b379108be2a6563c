"""The demo's imagined organist goes along with the nods of whoever looks on: where the band was asked to go, the feet go.

The song is the demo's own: Intro (4 bars), Verse 1 (6), Chorus (8), Verse 2 (6), Chorus (8), Chorus (8), Bridge (8),
Chorus (8), Ending (3). The organist takes the first Chorus twice unasked, as long as nobody nods. A nod at second 16 finds
both in the second bar of Verse 1.
"""

from __future__ import annotations

import random
from collections.abc import Iterable
from functools import cache

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import Action, Nodded, PlaceIs, StateIs
from liveassist.band.performance import Performance
from liveassist.band.song import Arrangements, arrangements
from liveassist.commands.demo import CHART
from liveassist.commands.scenes import scene
from liveassist.console.hearing import Interpreter
from liveassist.console.outlets import Outlets
from liveassist.console.runner import Runner
from liveassist.console.settling import IMAGINED
from liveassist.console.timeline import Arrival, SimulatedTimeline
from liveassist.link import Request
from liveassist.players.companion import Companion
from liveassist.settings import Settings

ROUTE = unfold(read_chart(CHART.read_text(encoding="utf-8")))
ORGANIST, PEDAL_DOWN = "organist", 0x93
VERSE, BRIDGE, ENDING = 1, 6, 8
"""Steps of the roadmap, from 0."""
Nod = tuple[float, str] | tuple[float, str, int]


@cache
def left_hand(lead: str) -> Arrangements:
    return arrangements(ROUTE, Settings(lead=lead))


class Pair:
    """What organist and band do when somebody nods."""

    def __init__(self, *nods: Nod, lead: str = "feet", until: float = 400.0) -> None:
        settings = Settings(lead=lead)
        shown = scene(ROUTE, settings, 1)
        band = Performance(ROUTE, left_hand(lead), settings, random.Random(1))
        companion = Companion(band, settings, shown.played.messages, shown.begun(1), nods=shown.nods)
        timeline = SimulatedTimeline(Arrival(at, ORGANIST, message) for at, message in shown.played.messages)
        for at, name, *number in nods:
            timeline.add([Arrival(at, "desk", Request(ask="nod", name=name, argument=number[0] if number else None))])
        self.actions: list[Action] = []
        self.feet: list[tuple[float, int]] = []
        self.down: set[tuple[int, int]] = set()
        """Channel and key of what the organist has pressed and not let go."""
        self.said: list[tuple[float, str]] = []

        def watched(actions: Iterable[Action]) -> None:
            actions = tuple(actions)
            self.actions += actions
            other = companion.went(actions, timeline.now())
            if other is not None:
                after, messages = other
                timeline.instead(ORGANIST, after, (Arrival(at, ORGANIST, message) for at, message in messages))
            self.said += [(timeline.now(), text) for text in companion.said(timeline.now())]
            if timeline.now() > until:
                runner.leave()

        def heard(message: bytes) -> None:
            status, key, velocity = message
            if status == PEDAL_DOWN:
                self.feet.append((timeline.now(), key))
            if status & 0xF0 == 0x90 and velocity:
                self.down.add((status & 0x0F, key))
            elif status & 0xF0 == 0x80:
                self.down.discard((status & 0x0F, key))

        runner = Runner(
            band, timeline, IMAGINED, Interpreter(IMAGINED), Outlets(IMAGINED, {}), watched=watched, overheard=heard
        )
        assert runner.run([Nodded(at=0.0, heard=0.0, nod=nod) for nod in shown.nods]) == 0

    def places(self, start: float) -> list[PlaceIs]:
        return [action for action in self.actions if isinstance(action, PlaceIs) and action.at >= start]

    def bars(self, start: float) -> list[tuple[int, int]]:
        """Where the band was from a moment on: step of the roadmap and bar of the section."""
        found: list[tuple[int, int]] = []
        for place in self.places(start):
            bar = ROUTE.bars[ROUTE.changes[place.change].bar]
            if not found or found[-1] != (bar.step, bar.number):
                found.append((bar.step, bar.number))
        return found

    def together(self, start: float, *, lift: int = 0) -> bool:
        """Whether each foot from a moment on was the bass of the chord that the band played just after."""
        places = self.places(0.0)
        feet = [(at, key) for at, key in self.feet if at >= start]
        assert feet, "the organist plays on"
        for at, key in feet:
            here = [place for place in places if place.at <= at + 0.2]
            bass = ROUTE.changes[here[-1].change].bass
            if bass is None or (bass + lift) % 12 != key % 12:
                return False
        return True

    def state(self, at: float) -> str:
        return [action.state for action in self.actions if isinstance(action, StateIs) and action.at <= at][-1]


def bars(step: int, *numbers: int) -> list[tuple[int, int]]:
    return [(step, number) for number in numbers]


WENT: dict[str, tuple[tuple[Nod, ...], list[tuple[int, int]]]] = {
    "again": (((16.0, "again"),), [*bars(VERSE, 2, 3, 4, 5, 6), *bars(VERSE, 1, 2)]),
    "close": (((16.0, "close"),), [*bars(VERSE, 2, 3, 4, 5, 6), *bars(ENDING, 1, 2, 3)]),
    "out to the bridge": (((16.0, "to", BRIDGE),), [*bars(VERSE, 2), *bars(BRIDGE, 1, 2, 3)]),
    "back to the verse": (((42.0, "to", VERSE),), [*bars(2, 2), *bars(VERSE, 1, 2, 3)]),
    "tag": (((16.0, "tag", 2),), [*bars(VERSE, 2, 3, 4, 5, 6, 5, 6), *bars(2, 1)]),
    "vamp": (((16.0, "vamp", 2), (32.0, "on")), [*bars(VERSE, 2, 1, 2, 1, 2, 1, 2, 3, 4)]),
}
"""Nods and the bars from the first of them on."""


@pytest.mark.parametrize(
    ("name", "lead"),
    [*((name, "feet") for name in WENT), *((name, lead) for name in ("again", "vamp") for lead in ("switch", "pulse"))],
)
def test_the_pair_goes_together_where_it_was_asked_to_go(name: str, lead: str) -> None:
    nods, expected = WENT[name]
    pair = Pair(*nods, lead=lead, until=50.0)
    began = max(place.at for place in pair.places(0.0) if place.at <= nods[0][0])
    assert pair.bars(began)[: len(expected)] == expected
    assert pair.together(began)


@pytest.mark.parametrize("lead", ["click", "drums"])
def test_whoever_has_the_time_the_feet_go_along(lead: str) -> None:
    pair = Pair((16.0, "again"), lead=lead, until=70.0)
    assert pair.bars(28.0)[:6] == bars(VERSE, 1, 2, 3, 4, 5, 6)
    assert pair.together(28.0)


def test_the_pair_comes_to_its_end_together_and_nothing_stays_down() -> None:
    pair = Pair((16.0, "again"))
    assert pair.together(14.0)
    assert pair.bars(14.0)[-3:] == bars(ENDING, 1, 2, 3)
    assert (pair.state(400.0), pair.down) == ("tacet", set())


def test_in_the_key_that_was_asked_for_the_feet_play_too() -> None:
    pair = Pair((16.0, "up"), until=60.0)
    assert pair.together(18.5, lift=1)


@pytest.mark.parametrize("lead", ["feet", "switch", "pulse"])
def test_a_hold_stands_until_on(lead: str) -> None:
    pair = Pair((16.0, "hold"), (25.0, "on"), lead=lead, until=50.0)
    assert pair.state(24.9) == "holding"
    assert not [at for at, _ in pair.feet if 16.5 < at < 24.9]
    assert pair.bars(20.0)[:3] == bars(VERSE, 3, 4, 5)
    assert pair.together(25.0)


def test_a_hold_is_left_for_where_the_nod_says() -> None:
    pair = Pair((16.0, "hold"), (25.0, "again"), until=60.0)
    assert pair.bars(20.0)[:6] == [*bars(VERSE, 3, 4, 5, 6), *bars(VERSE, 1, 2)]
    assert pair.together(25.0)


@pytest.mark.parametrize("stop", ["tacet", "cut"])
@pytest.mark.parametrize("start", ["ready", "count"])
def test_stopped_and_begun_anew(stop: str, start: str) -> None:
    pair = Pair((16.0, stop), (20.0, start), until=45.0)
    assert not [at for at, _ in pair.feet if 16.1 < at < 20.0]
    assert pair.bars(20.0)[:6] == [*bars(0, 1, 2, 3, 4), *bars(VERSE, 1, 2)]
    assert pair.together(20.1)


def test_after_a_cut_no_key_stays_down() -> None:
    pair = Pair((16.0, "cut"), until=30.0)
    assert pair.down == set()


def test_the_tempo_that_was_tapped_is_the_organists_too() -> None:
    pair = Pair((16.0, "tap"), (16.5, "tap"), (17.0, "tap"), until=60.0)
    assert pair.together(19.0)
    bars_begin = [place for place in pair.places(30.0) if ROUTE.changes[place.change].offset == 0]
    assert bars_begin[4].at - bars_begin[0].at == pytest.approx(4 * 4 * 0.5, rel=0.05)  # four bars of four at 120


def test_until_the_first_nod_the_organist_errs_and_then_no_more() -> None:
    assert any("unplanned" in text for _, text in Pair(until=55.0).said)
    nodded = Pair((16.0, "fuller"), (17.0, "again"), until=70.0)
    assert not [text for at, text in nodded.said if at > 16.0]
    assert nodded.bars(44.0)[:9] == [*bars(2, 1, 2, 3, 4, 1, 2, 3, 4), *bars(3, 1)]
