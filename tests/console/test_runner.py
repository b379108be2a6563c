"""The band's loop on a clock that jumps: in from a script, out to a wire, into the take and the picture."""

from __future__ import annotations

import random
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import Action, Event, KeyDown, Nodded, NoteOff, NoteOn, StateIs, SwitchPressed, Told
from liveassist.band.song import performance
from liveassist.band.view import View
from liveassist.console.hearing import Interpreter
from liveassist.console.instrument import ClockPorts, Profile
from liveassist.console.outlets import Outlets
from liveassist.console.picture import Painter
from liveassist.console.ports import EchoBinding
from liveassist.console.profile import PLAIN
from liveassist.console.replaying import replayed, story
from liveassist.console.runner import ENDED, WENT_WRONG, Runner
from liveassist.console.takes import Header, TakeWriter, read_take
from liveassist.console.timeline import Arrival, SimulatedTimeline
from liveassist.console.watching import Watch
from liveassist.link import Picture, Request
from liveassist.players.organist import script
from liveassist.settings import Settings, layered

QUAY = """
title = Quay
key = D
tempo = quarter 120
feel = quarters

== Verse ==
| D | G | A | D |

== Ending ==
| G | A | D |]
"""
D_FOOT, G_FOOT = bytes((0x93, 38, 64)), bytes((0x93, 43, 64))
D_UP = bytes((0x83, 38, 64))


class Wire:
    """Keeps what was sent, and when."""

    def __init__(self, timeline: SimulatedTimeline) -> None:
        self.timeline = timeline
        self.came: list[tuple[float, bytes]] = []

    def send(self, message: bytes) -> bool:
        self.came.append((self.timeline.now(), message))
        return True

    @property
    def down(self) -> set[int]:
        keys: set[int] = set()
        for _, (status, key, _) in self.came:
            (keys.add if status & 0xF0 == 0x90 else keys.discard)(key)
        return keys


class ScriptedBand:
    """A stand-in for the performance: answers each kind of event as told, and plays what is written for it."""

    def __init__(self, answers: Callable[[Event], list[Action]] | None = None, later: Sequence[Action] = ()) -> None:
        self.heard: list[Event] = []
        self._answers = answers or (lambda event: [])
        self._later = sorted(later, key=lambda action: action.at)

    def receive(self, event: Event) -> list[Action]:
        self.heard.append(event)
        return [*self.due(event.heard), *self._answers(event)]

    def due(self, now: float) -> list[Action]:
        ready = [action for action in self._later if action.at <= now]
        self._later = self._later[len(ready) :]
        return ready

    def off_the_beat(self, at: float) -> float | None:
        return None

    def next_due(self) -> float | None:
        return self._later[0].at if self._later else None

    def view(self, now: float | None = None) -> View:
        return View(
            at=now or 0.0,
            state="playing",
            change=0,
            next_change=1,
            next_in=1.0,
            bar=0,
            beat=1.0,
            position=Fraction(0),
            bpm=120.0,
            home_bpm=120.0,
            sure=1.0,
            lift=0,
            fullness=2,
            out=False,
            asked=(),
            sounding=(),
        )


class Setting:
    """A runner and everything around it."""

    def __init__(
        self, band: Any, arrivals: Iterable[tuple[float, bytes | Request]] = (), profile: Profile = PLAIN, **more: Any
    ) -> None:
        self.band = band
        self.timeline = SimulatedTimeline(Arrival(at, "console", what) for at, what in arrivals)
        self.wire = Wire(self.timeline)
        self.pictures: list[Picture] = []
        ears = Interpreter(profile)
        outlets = Outlets(profile, {"": self.wire, "organ": self.wire}, sent=ears.sent)
        self.runner = Runner(
            band,
            self.timeline,
            profile,
            ears,
            outlets,
            painter=Painter(unfold(read_chart(QUAY)), layered()),
            publish=self.pictures.append,
            **more,
        )

    def run(self, *first: Nodded) -> int:
        return self.runner.run(first)

    @property
    def told(self) -> list[str]:
        return [line.text for line in self.pictures[-1].heard]


def on(pitch: int, at: float) -> NoteOn:
    return NoteOn(at=at, part="figure", pitch=pitch, position=Fraction(0))


def off(pitch: int, at: float) -> NoteOff:
    return NoteOff(at=at, part="figure", pitch=pitch, position=Fraction(0))


def foot_chord(event: Event) -> list[Action]:
    return [on(62, event.heard)] if isinstance(event, KeyDown) else []


# -- in and out -------------------------------------------------------------------------------------------------------


def test_a_foot_is_answered_at_once_and_written_notes_come_when_they_are_due() -> None:
    setting = Setting(ScriptedBand(foot_chord, [off(62, 1.5)]), [(1.0, D_FOOT)])
    assert setting.run() == ENDED
    assert setting.wire.came == [(1.0, bytes((0x91, 62, 64))), (1.5, bytes((0x81, 62, 64)))]
    assert setting.band.heard == [KeyDown(at=1.0, heard=1.0, division="pedal", key=38)]


def test_what_still_sounds_in_the_end_is_let_go() -> None:
    setting = Setting(ScriptedBand(foot_chord), [(1.0, D_FOOT)])
    setting.run()
    assert setting.wire.down == set()


def test_the_organs_echo_is_no_cue() -> None:
    echo = bytes((0x91, 62, 64))
    setting = Setting(ScriptedBand(foot_chord), [(1.0, D_FOOT), (1.01, echo)])
    setting.run()
    assert len(setting.band.heard) == 1


@pytest.mark.parametrize(
    ("request_", "event"),
    [
        pytest.param(Request(ask="cue"), SwitchPressed(at=1.0, heard=1.0, unit="change"), id="page-turner"),
        pytest.param(Request(ask="nod", name="again"), Nodded(at=1.0, heard=1.0, nod="again"), id="nod"),
        pytest.param(
            Request(ask="nod", name="vamp", argument=2),
            Nodded(at=1.0, heard=1.0, nod="vamp", argument=2),
            id="two-bars",
        ),
    ],
)
def test_what_the_desk_asks_is_heard(request_: Request, event: Event) -> None:
    setting = Setting(ScriptedBand(), [(1.0, request_)])
    setting.run()
    assert setting.band.heard == [event]


def test_the_desk_may_end_it() -> None:
    setting = Setting(ScriptedBand(foot_chord, [off(62, 9.0)]), [(1.0, D_FOOT), (2.0, Request(ask="leave"))])
    assert setting.run() == ENDED
    assert setting.timeline.now() == 2.0
    assert setting.wire.down == set()


def test_when_nobody_watches_it_ends_after_the_fine() -> None:
    setting = Setting(ScriptedBand(None, [StateIs(at=3.0, state="fine"), on(62, 9.0)]))
    setting.runner.orphan()
    setting.run()
    assert setting.timeline.now() == 3.0


def test_when_nobody_watches_and_nothing_has_begun_it_ends_at_once() -> None:
    """Else a forgotten band would play with the next hymn."""
    setting = Setting(performance(unfold(read_chart(QUAY)), Settings()), [(1.0, D_FOOT)])
    setting.runner.orphan()
    assert setting.run() == ENDED
    assert setting.wire.came == []


def test_what_was_asked_before_the_clock_began_is_heard_as_of_now() -> None:
    setting = Setting(ScriptedBand(), [(1.0, Request(ask="cue"))])
    setting.timeline.wait = lambda until, *, sharp=False: [Arrival(9.0, "desk", Request(ask="leave"))]  # type: ignore[method-assign]
    assert setting.run() == ENDED
    setting.runner._arrived(Arrival(9.0, "desk", Request(ask="cue")))
    assert setting.band.heard == [SwitchPressed(at=0.0, heard=0.0, unit="change")]


def test_nods_to_begin_with_are_heard_first() -> None:
    setting = Setting(ScriptedBand(), [(1.0, D_FOOT)])
    setting.run(Nodded(at=0.0, heard=0.0, nod="up"))
    assert [type(event) for event in setting.band.heard] == [Nodded, KeyDown]


# -- stopping ---------------------------------------------------------------------------------------------------------

CUT = Request(ask="nod", name="cut")


@pytest.mark.parametrize(("second", "swept"), [(2.5, True), (4.5, False)], ids=["within-two-seconds", "later"])
def test_a_second_cut_sweeps_every_key(second: float, swept: bool) -> None:
    setting = Setting(ScriptedBand(), [(1.0, CUT), (second, CUT)])
    setting.run()
    assert len(setting.wire.came) == (128 if swept else 0)
    assert [message[1] for _, message in setting.wire.came] == list(range(128) if swept else [])


def test_one_cut_sweeps_nothing() -> None:
    setting = Setting(ScriptedBand(), [(1.0, CUT)])
    setting.run()
    assert setting.wire.came == []


# -- when something goes wrong ------------------------------------------------------------------------------------------


def buggy(event: Event) -> list[Action]:
    if isinstance(event, KeyDown) and event.key == 43:
        raise ZeroDivisionError("a bug in the core")
    return foot_chord(event)


def test_a_bug_silences_what_sounds_and_is_told_and_kept_in_the_take(tmp_path: Path) -> None:
    take = TakeWriter(tmp_path / "take.jsonl", Header())
    setting = Setting(ScriptedBand(buggy), [(1.0, D_FOOT), (1.2, G_FOOT), (1.4, D_FOOT)], take=take)
    assert setting.run() == WENT_WRONG
    take.close()
    assert setting.wire.came == [(1.0, bytes((0x91, 62, 64))), (1.2, bytes((0x81, 62, 64)))]
    assert "something went wrong" in setting.told[-1]
    assert "ZeroDivisionError: a bug in the core" in take.path.read_text()
    assert [event.heard for event in read_take(take.path).events] == [1.0, 1.2]


def test_notes_that_are_too_late_are_left_out_and_told() -> None:
    setting = Setting(ScriptedBand(lambda event: [on(62, event.heard - 1.0), off(62, event.heard)]), [(2.0, D_FOOT)])
    setting.run()
    assert setting.wire.came == []
    assert setting.told == ["the computer was busy: too late and left out: 1"]


def test_a_full_disk_is_told_and_the_music_goes_on() -> None:
    class FullDisk:
        path = Path("take.jsonl")
        troubles = ["the take cannot be written now; the music goes on"]  # noqa: RUF012

        def event(self, event: Event) -> None: ...

        def action(self, action: Action) -> None: ...

        def trouble(self) -> str:
            return self.troubles.pop() if self.troubles else ""

    setting = Setting(ScriptedBand(foot_chord), [(1.0, D_FOOT)], take=FullDisk())
    assert setting.run() == ENDED
    assert setting.told == ["the take cannot be written now; the music goes on"]
    assert len(setting.wire.came) == 2


# -- ports --------------------------------------------------------------------------------------------------------------


def test_a_pedal_that_is_unplugged_is_told_to_the_band_and_so_is_its_return() -> None:
    wires = EchoBinding("console", "organ")
    watch = Watch(wires)
    watch.hear("console", lambda at, message: None)
    watch.play("organ")
    profile = replace(
        PLAIN,
        divisions={name: replace(division, port="console") for name, division in PLAIN.divisions.items()},
        parts={name: replace(part, port="organ") for name, part in PLAIN.parts.items()},
        switches=(),
        shoe=None,
    )
    band = ScriptedBand(None, [Told(at=float(second), text=f"second {second}") for second in (2, 4, 6)])
    setting = Setting(band, profile=profile, watch=watch)
    moves = iter([lambda: None, lambda: wires.unplug("console"), lambda: wires.plug("console"), lambda: None])
    due = band.due

    def due_and_move(now: float) -> list[Action]:
        actions = due(now)
        if actions:
            next(moves)()
        return actions

    band.due = due_and_move  # type: ignore[method-assign]
    setting.run()
    kinds = [(type(event).__name__, event.division) for event in band.heard]  # type: ignore[attr-defined]
    divisions = ("melody", "figure", "pedal", "drums")
    assert kinds == [(kind, name) for kind in ("DivisionLost", "DivisionBack") for name in divisions]
    health = {port.name: (port.role, port.well) for port in setting.pictures[-1].ports}
    assert health["console"] == ("Melody manual, Figure manual, Pedal, Drums", True)
    gone = [picture.ports[0] for picture in setting.pictures if not picture.ports[0].well]
    assert "unplugged" in gone[0].text
    assert health["organ"] == ("To the figure", True)


def test_the_ports_of_a_midi_clock_are_shown_and_may_go_away() -> None:
    wires = EchoBinding("module", "sequencer")
    watch = Watch(wires)
    watch.hear("sequencer", lambda at, message: None)
    watch.play("module")
    profile = replace(PLAIN, clock=ClockPorts(sends="module", hears="sequencer"))
    band = ScriptedBand(None, [Told(at=1.0, text="a second")])
    setting = Setting(band, profile=profile, watch=watch)
    due = band.due

    def due_and_unplug(now: float) -> list[Action]:
        actions = due(now)
        if actions:
            wires.unplug("module")
        return actions

    band.due = due_and_unplug  # type: ignore[method-assign]
    assert setting.run() == ENDED
    health = {port.name: (port.role, port.well) for port in setting.pictures[-1].ports}
    assert health["sequencer"] == ("Clock in", True)
    assert health["module"][0] == "Clock out"
    assert any("module" in text for text in setting.told)


# -- the whole ------------------------------------------------------------------------------------------------------------


def played(path: Path) -> tuple[list[tuple[float, bytes]], bytes, list[Picture]]:
    """The imagined organist plays the quay song: what went to the organ, the take, the pictures."""
    settings = Settings()
    route = unfold(read_chart(QUAY))
    take = TakeWriter(path, Header(chart=QUAY))
    arrivals = script(route, rng=random.Random(3)).messages
    setting = Setting(performance(route, settings), arrivals, take=take)
    assert setting.run() == ENDED
    take.close()
    return setting.wire.came, path.read_bytes(), setting.pictures


def test_the_same_script_gives_the_same_music_and_the_same_take(tmp_path: Path) -> None:
    first, second = played(tmp_path / "one.jsonl"), played(tmp_path / "two.jsonl")
    assert first[:2] == second[:2]
    assert [replace(picture, take="") for picture in first[2]] == [replace(picture, take="") for picture in second[2]]
    assert len(first[0]) > 40


def test_a_take_replays_to_what_was_played(tmp_path: Path) -> None:
    played(tmp_path / "take.jsonl")
    take = read_take(tmp_path / "take.jsonl")
    route = unfold(read_chart(take.header.chart))
    again = tuple(replayed(performance(route, Settings()), take.events))
    assert again == take.actions


def test_a_take_cut_short_tells_the_same_story_so_far(tmp_path: Path) -> None:
    played(tmp_path / "take.jsonl")
    events = read_take(tmp_path / "take.jsonl").events
    route = unfold(read_chart(QUAY))
    whole = list(story(replayed(performance(route, Settings()), events), route))
    for count in range(0, len(events), 5):
        end = events[count].heard
        part = story(replayed(performance(route, Settings()), events[:count]), route)
        assert [line for line in part if line["at"] < end] == [line for line in whole if line["at"] < end]


def test_pictures_are_few_and_none_is_shown_twice(tmp_path: Path) -> None:
    pictures = played(tmp_path / "take.jsonl")[2]
    moments = [picture.at for picture in pictures]
    assert moments == sorted(moments)
    assert all(later - earlier > 0.08 for earlier, later in pairwise(moments[:-1]))
    assert all(replace(one, at=0.0) != replace(other, at=0.0) for one, other in pairwise(pictures))
    assert {picture.section for picture in pictures} == {"Verse", "Ending"}


class Heart:
    """Keeps what the guardian is told."""

    def __init__(self) -> None:
        self.told: list[str] = []
        self.broken = False

    def beat(self, now: float) -> None:
        self.told.append("beat")

    def rest(self) -> None:
        self.told.append("rest")


def test_chores_are_done_a_slice_at_a_time_and_the_music_does_not_change() -> None:
    feet = [(1.0, bytes((0xFE,))), (2.0, D_FOOT), (2.1, D_UP)]
    done: list[int] = []
    route = unfold(read_chart(QUAY))
    busy = Setting(performance(route, Settings()), feet, chores=(done.append(slice_) for slice_ in range(9)))
    idle = Setting(performance(route, Settings()), feet)
    busy.run()
    idle.run()
    assert done == list(range(9))
    assert busy.wire.came == idle.wire.came


def test_no_chore_is_begun_just_before_a_note() -> None:
    done: list[float] = []

    def chores() -> Iterator[None]:
        while True:
            done.append(setting.timeline.now())
            yield

    chord = NoteOn(at=2.5, part="figure", pitch=60, position=Fraction(0))
    sensing = bytes((0xFE,))
    setting = Setting(ScriptedBand(later=[chord]), [(1.0, sensing), (2.496, sensing)], chores=chores())
    setting.run()
    assert done == [1.0, 2.5]


def test_the_guardian_knows_of_a_nod_that_may_take_longer_while_nothing_plays() -> None:
    heart = Heart()
    setting = Setting(
        performance(unfold(read_chart(QUAY)), Settings()),
        [(1.0, Request(ask="nod", name="up")), (2.0, D_FOOT)],
        heart=heart,
    )
    setting.run()
    assert heart.told[:2] == ["rest", "beat"]
    assert heart.told.count("rest") == 1


def test_a_sound_device_that_goes_away_is_told_and_the_music_goes_on(tmp_path: Path) -> None:
    """What the sound has to complain about comes to the player; the band plays the same notes."""

    def notes(troubles: Callable[[], Iterable[str]]) -> tuple[list[Action], list[str]]:
        done: list[Action] = []
        timeline = SimulatedTimeline([Arrival(1.0, "console", D_FOOT)])
        runner = Runner(
            performance(unfold(read_chart(QUAY)), Settings(lead="pulse")),
            timeline,
            PLAIN,
            Interpreter(PLAIN),
            Outlets(PLAIN, {}),
            watched=done.extend,
            troubles=troubles,
        )
        assert runner.run() == ENDED
        told = [action.text for action in done if isinstance(action, Told) and action.kind == "caution"]
        return [action for action in done if isinstance(action, NoteOn)], told

    complaints = iter([[], ['sound: the sound device "In-ears" went away']])
    quiet, nothing = notes(lambda: ())
    played, told = notes(lambda: next(complaints, []))
    assert nothing == []
    assert told == ['sound: the sound device "In-ears" went away']
    assert played == quiet


def test_a_guardian_that_has_gone_is_told_once() -> None:
    heart = Heart()
    setting = Setting(ScriptedBand(foot_chord), [(1.0, D_FOOT), (2.0, D_UP)], heart=heart)
    heart.broken = True
    setting.run()
    assert [text for text in setting.told if "the guardian has gone" in text] == [setting.told[-1]]


class Drowsy(SimulatedTimeline):
    """A clock that runs on as a real one, and once sleeps for an hour."""

    def __init__(self, script: Iterable[Arrival], sleeps_at: float) -> None:
        super().__init__(script)
        self._sleeps_at = sleeps_at

    def wait(self, until: float | None, *, sharp: bool = False) -> list[Arrival]:
        arrived = super().wait(until, sharp=sharp)
        if self._now >= self._sleeps_at:
            self._now, self._sleeps_at = self._now + 3600.0, float("inf")
        return arrived


def test_a_computer_that_slept_ends_the_notes_and_catches_up_with_none(tmp_path: Path) -> None:
    route = unfold(read_chart(QUAY))
    timeline = Drowsy([Arrival(1.0, "console", D_FOOT), Arrival(3603.0, "console", G_FOOT)], sleeps_at=1.7)
    wire = Wire(timeline)
    take = TakeWriter(tmp_path / "take.jsonl", Header(chart=QUAY))
    ears = Interpreter(PLAIN)
    outlets = Outlets(PLAIN, {"": wire, "organ": wire}, sent=ears.sent)
    runner = Runner(performance(route, Settings()), timeline, PLAIN, ears, outlets, take=take, every=0.04)
    waited = timeline.wait

    def leaving(until: float | None, *, sharp: bool = False) -> list[Arrival]:
        if timeline.now() > 3604.0:
            runner.leave()
        return waited(until, sharp=sharp)

    timeline.wait = leaving  # type: ignore[method-assign]
    runner.run()
    take.close()
    assert not [at for at, message in wire.came if 1.8 < at < 3603.0 and message[0] == 0x91]
    assert [at for at, message in wire.came if message[0] == 0x91 and at >= 3603.0]
    assert wire.down == set()
    kept = read_take(take.path)
    assert [type(event).__name__ for event in kept.events] == ["KeyDown", "Slept", "KeyDown"]
    again = list(replayed(performance(route, Settings()), kept.events))
    notes = [action for action in kept.actions if isinstance(action, NoteOn | NoteOff)]
    assert [action for action in again if isinstance(action, NoteOn | NoteOff)][: len(notes)] == notes
