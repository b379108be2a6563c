"""The bench check at the desk, in the band's loop on a clock that jumps: the keys are its own while it lasts."""

from __future__ import annotations

import random
import time
from collections.abc import Callable

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.performance import Performance
from liveassist.band.song import arrangements
from liveassist.console.bench import CHORD, CHORD_LENGTH, Line
from liveassist.console.bench_at_desk import BenchAtDesk
from liveassist.console.hearing import Interpreter
from liveassist.console.laptop import Look
from liveassist.console.outlets import Outlets
from liveassist.console.picture import Painter
from liveassist.console.profile import PLAIN
from liveassist.console.runner import Runner
from liveassist.console.timeline import Arrival, SimulatedTimeline
from liveassist.link import Picture, Request
from liveassist.settings import Settings, layered

SONG = "title = Quay\nkey = D\n== Verse ==\n| D | G | A | D |]\n"
PEDAL, TUNE, HAND, CUE = b"\x93\x26\x40", b"\x90\x3e\x40", b"\x91\x3e\x40", b"\xb3\x40\x7f"


def ask(at: float, name: str) -> Arrival:
    return Arrival(at, "desk", Request(ask="bench", name=name))


def key(at: float, message: bytes) -> Arrival:
    return Arrival(at, "", message)


class Turns(SimulatedTimeline):
    """Gives way at each turn, so that the laptop's thread has its own."""

    def wait(self, until: float | None, *, sharp: bool = False) -> list[Arrival]:
        time.sleep(0.001)
        return super().wait(until, sharp=sharp)


class Wire:
    def __init__(self, timeline: SimulatedTimeline) -> None:
        self.timeline = timeline
        self.came: list[tuple[float, tuple[int, int]]] = []
        self.sounding: set[int] = set()

    def send(self, message: bytes) -> bool:
        self.came.append((self.timeline.now(), (message[0], message[1])))
        (self.sounding.add if message[0] & 0xF0 == 0x90 else self.sounding.discard)(message[1])
        return True


class Kept:
    def __init__(self) -> None:
        self.lines: list[Line] = []

    def keep(self, lines: list[Line]) -> str:
        self.lines = list(lines)
        return "kept in takes/check.json"


Play = Callable[..., tuple[Wire, list[Picture], Kept, Performance]]


@pytest.fixture
def play() -> Play:
    def played(*arrivals: Arrival, at_last: float = 60.0) -> tuple[Wire, list[Picture], Kept, Performance]:
        route = unfold(read_chart(SONG))
        settings = Settings()
        band = Performance(route, arrangements(route, settings), settings, random.Random(1))
        timeline = Turns([*arrivals, Arrival(at_last, "desk", Request(ask="leave"))])
        wire, pictures, kept = Wire(timeline), [], Kept()
        ears = Interpreter(PLAIN)
        outlets = Outlets(PLAIN, {"": wire}, sent=ears.sent, held=ears.holds)
        told = [Look("power", True, "the charger is in")]
        bench = BenchAtDesk(PLAIN, outlets, laptop=lambda: told, keep=kept.keep)
        runner = Runner(
            band,
            timeline,
            PLAIN,
            ears,
            outlets,
            painter=Painter(route, layered()),
            publish=pictures.append,
            bench=bench,
        )
        runner.run()
        return wire, pictures, kept, band

    return played


STEPS = (key(2.0, PEDAL), key(3.0, TUNE), key(4.0, HAND), key(5.0, CUE), ask(8.0, "yes"), ask(9.0, "yes"))


def test_a_whole_check_is_shown_line_by_line_and_kept(play: Play) -> None:
    wire, pictures, kept, _ = play(ask(1.0, "begin"), *STEPS)
    assert [line.name for line in kept.lines] == [
        "pedal",
        "tune",
        "own hand",
        "switch 'cue'",
        "figure",
        "silence",
        "power",
    ]
    assert {line.verdict for line in kept.lines} == {"well"}
    assert pictures[-1].bench[-1] == "kept in takes/check.json"
    assert pictures[-1].bench_asks == ""
    assert any("bench check: all in order" in line.text for line in pictures[-1].heard)
    asked = list(dict.fromkeys(picture.bench_asks for picture in pictures if picture.bench_asks))
    assert asked[0].startswith("Play any pedal")
    assert len(asked) == 6
    assert {moment[1] for _, moment in wire.came} == set(CHORD)
    assert wire.sounding == set()


def test_the_band_is_deaf_while_it_lasts_and_hears_again_after_it(play: Play) -> None:
    _, _, _, band = play(ask(1.0, "begin"), *STEPS)
    assert band.state == "ready"
    _, _, _, band = play(ask(1.0, "begin"), *STEPS, key(12.0, b"\x83\x26\x40"), key(13.0, PEDAL), at_last=13.5)
    assert band.change == 0


def test_a_pedal_that_was_down_before_it_comes_up_for_the_band_too(play: Play) -> None:
    pedal_up = key(2.0, b"\x83\x26\x40")
    _, _, _, band = play(
        Arrival(0.5, "desk", Request(ask="nod", name="tacet")), key(0.9, PEDAL), ask(1.0, "begin"), pedal_up
    )
    assert not band.keys.down["pedal"]


@pytest.mark.parametrize(
    "ends",
    [
        pytest.param(ask(7.0, "end"), id="put-away"),
        pytest.param(Arrival(7.0, "desk", Request(ask="nod", name="cut")), id="cut"),
        pytest.param(ask(6.0 + CHORD_LENGTH + 1.0, "begin"), id="nobody-answers"),
    ],
)
def test_the_chord_does_not_stay(play: Play, ends: Arrival) -> None:
    wire, _, kept, _ = play(ask(1.0, "begin"), *STEPS[:4], ends)
    assert len(wire.came) == 2 * len(CHORD)
    assert wire.sounding == set()
    assert wire.came[-1][0] <= 5.0 + CHORD_LENGTH + 0.1
    assert kept.lines == []


def test_no_check_while_the_band_plays(play: Play) -> None:
    _, pictures, _, band = play(key(1.0, PEDAL), ask(1.5, "begin"), at_last=2.0)
    assert band.change == 0
    assert all(picture.bench_asks == "" for picture in pictures)
    assert any("before and after the song" in line.text for line in pictures[-1].heard)
