"""The coach in the runner: feet shown around the beat, passes judged, the ladder climbed; and a replay plays the same."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import suppress
from fractions import Fraction
from typing import Any

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from liveassist.band.events import Action, BeatIs, Event, Nodded, NoteOn, PlaceIs, StateIs, TempoAsked, Told
from liveassist.band.song import performance
from liveassist.console import launcher
from liveassist.console.coaching import Coach
from liveassist.console.hearing import Interpreter
from liveassist.console.launcher import Session
from liveassist.console.outlets import Outlets
from liveassist.console.picture import Painter
from liveassist.console.profile import PLAIN
from liveassist.console.replaying import replayed
from liveassist.console.runner import Runner
from liveassist.console.settling import IMAGINED
from liveassist.console.takes import read_take
from liveassist.console.timeline import Arrival, SimulatedTimeline
from liveassist.link import Picture
from liveassist.rehearsal.ladder import Ladder
from liveassist.settings import Settings, layered

CHART = "title = Quay\nkey = D\ntempo = 120\nfeel = quarters\n\n== Verse ==\n| D | G | A | D |\n"
STEADY: dict[str, Any] = {"lead": "pulse", "click": True, "count_in": 1}


class Room:
    """A rehearsal without a clock: somebody plays each root so many seconds after the band."""

    def __init__(self, late: float, ladder: Ladder | None = None, wrong_pass: int = -1) -> None:
        self.route: Route = unfold(read_chart(CHART))
        settings = Settings(**STEADY, tempo=ladder.first if ladder else 0.0)
        self.band = performance(self.route, settings)
        self.late, self.wrong_pass, self.passes = late, wrong_pass, 0
        self.timeline = SimulatedTimeline(())
        self.done: list[Action] = []
        self.events: list[Event] = []
        self.pictures: list[Picture] = []
        coach = Coach(self.route, ladder, work=lambda work: work())
        hear = coach.heard
        coach.heard = lambda event: (self.events.append(event), hear(event))[1]  # type: ignore[method-assign]
        self.runner = Runner(
            self.band,
            self.timeline,
            IMAGINED,
            Interpreter(IMAGINED),
            Outlets(IMAGINED, {}),
            painter=Painter(self.route, layered()),
            publish=self.pictures.append,
            watched=self.play_along,
            coach=coach,
            alone=True,
        )
        assert self.runner.run([Nodded(at=0.0, heard=0.0, nod="count")]) == 0

    def play_along(self, actions: Any) -> None:
        for action in actions:
            self.done.append(action)
            if isinstance(action, StateIs) and action.state == "count-in":
                self.passes += 1
            if isinstance(action, PlaceIs):
                key = 36 + (self.route.changes[action.change].bass or 0) + (self.passes == self.wrong_pass)
                at = action.at + self.late
                self.timeline.add(
                    [Arrival(at, "", bytes((0x93, key, 99))), Arrival(at + 1.0, "", bytes((0x83, key, 0)))]
                )

    @property
    def notes(self) -> list[str]:
        return [one.text for one in self.done if isinstance(one, Told) and one.kind == "note"]


def test_feet_are_shown_around_the_beat() -> None:
    room = Room(late=0.024)
    assert room.pictures[-1].rehearsing
    assert room.pictures[-1].feet == (24, 24, 24, 24)


def test_a_pass_is_told_and_then_it_is_over() -> None:
    room = Room(late=0.02)
    assert room.notes == ["4 of 4 right, 0 ms around your middle: a good pass"]
    assert room.done[-1].at < 14.0  # a bar of count-in, four bars, two seconds of rest


def test_the_ladder_counts_in_again_by_itself() -> None:
    ladder = Ladder(first=120.0, last=126.0, step=6.0)
    room = Room(late=0.02, ladder=ladder, wrong_pass=2)
    assert [one.bpm for one in room.events if isinstance(one, TempoAsked)] == [120.0, 120.0, 120.0, 126.0, 126.0]
    assert room.notes[-1].endswith("twice at 126: the top of the ladder")
    assert sum("not yet" in note for note in room.notes) == 1
    last = [one.bpm for one in room.done if isinstance(one, PlaceIs)][-1]
    assert last == pytest.approx(126.0)


def test_the_ladder_is_in_the_take_and_replays_the_same() -> None:
    room = Room(late=0.02, ladder=Ladder(first=120.0, last=126.0, step=6.0))
    again = replayed(performance(room.route, Settings(**STEADY, tempo=120.0)), room.events)
    heard = [one for one in room.done if isinstance(one, NoteOn | PlaceIs)]
    assert [one for one in again if isinstance(one, NoteOn | PlaceIs)] == heard


def test_the_ladder_waits_for_somebody_to_play() -> None:
    room = Room(late=90.0, ladder=Ladder(first=120.0, last=126.0, step=6.0))
    assert room.notes[0].startswith("no pedal note of the chart in this pass")
    assert room.passes == 1


def test_a_review_that_fails_keeps_nobody_waiting(monkeypatch: pytest.MonkeyPatch) -> None:
    def fails(*_: object) -> None:
        raise ZeroDivisionError

    def beside(work: Callable[[], None]) -> None:
        with suppress(ZeroDivisionError):
            work()

    monkeypatch.setattr("liveassist.console.coaching.review", fails)
    coach = Coach(unfold(read_chart(CHART)), work=beside)
    coach.played([BeatIs(at=1.0, position=Fraction(0)), StateIs(at=2.0, state="fine")])
    assert not coach.over
    coach.advice(3.0)
    assert coach.over


def test_a_rehearsal_in_its_own_processes_ends_with_the_fine(tmp_path, capsys: pytest.CaptureFixture[str]) -> None:
    """The real band behind its guardian, without a desk: counted in, played, judged, over."""
    take = tmp_path / "take.jsonl"
    chart = read_chart("title = Short\nkey = D\ntempo = 300\n\n== Verse ==\n| D | G |\n", "short.chart")
    feet = tuple((at, bytes((0x93, key, 99))) for at, key in ((0.82, 38), (1.62, 43)))
    found = layered(("here", {**STEADY}))
    played = Session(
        chart=chart, profile=PLAIN, layered=found, take=str(take), script=feet, nods=("count",), rehearsed=True
    )
    assert launcher.run(played, desk=False) == 0
    told = [one.text for one in read_take(take).actions if isinstance(one, Told)]
    assert any(text.startswith("2 of 2 right") for text in told), told
