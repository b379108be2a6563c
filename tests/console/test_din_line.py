"""What the band plays, over a DIN line: 31,250 bit/s, 10 bits a byte, so 320 microseconds a byte (MIDI 1.0); a note message has
three bytes, or two under running status. The notes of one attack must reach the organ within 4 ms of each other, and none far
behind its time. Two tones within 4 ms are heard as one onset: the bound is the project's own.
"""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import pytest

from charts.notation import read_chart_file
from charts.roadmap import unfold
from charts.route import Route
from liveassist.band.events import NoteOff, NoteOn
from liveassist.band.song import performance
from liveassist.console.hearing import Interpreter
from liveassist.console.outlets import Outlets
from liveassist.console.profile import PLAIN
from liveassist.console.replaying import replayed
from liveassist.players.organist import script
from liveassist.settings import Settings

BYTE = 10 / 31250
WITHIN = 0.004
LATEST = 0.008
"""Four ends and four starts, three bytes each, are 7.7 ms: no start is later than that."""
CHARTS = sorted((Path(__file__).parents[2] / "demo_charts").glob("*.chart"))


class DinLine:
    """Carries messages one after the other; with running status a status byte that repeats is left out."""

    def __init__(self, *, running_status: bool) -> None:
        self._running_status = running_status
        self._free = float("-inf")
        self._status = -1
        self.now = 0.0
        self.arrived: list[tuple[float, float, bytes]] = []
        """Sent at, arrived at, message."""

    def send(self, message: bytes) -> bool:
        left_out = self._running_status and message[0] == self._status
        self._status = message[0]
        self._free = max(self._free, self.now) + BYTE * (len(message) - left_out)
        self.arrived.append((self.now, self._free, message))
        return True


def played(route: Route, line: DinLine, fullness: int) -> None:
    """The imagined organist plays the song and the band goes with him, over the line."""
    ears = Interpreter(PLAIN)
    heard = [event for at, message in script(route).messages for event in ears.events(at, at, "", message)]
    outlets = Outlets(PLAIN, {"": line})
    for action in replayed(performance(route, Settings(fullness=fullness)), heard):
        if isinstance(action, NoteOn | NoteOff):
            line.now = max(line.now, action.at)
            outlets.play(action, action.at)


def attacks(line: DinLine) -> Iterator[tuple[float, list[float]]]:
    """When each attack was sent, and when its notes arrived."""
    starts: defaultdict[float, list[float]] = defaultdict(list)
    for sent, arrived, message in line.arrived:
        if message[0] & 0xF0 == 0x90:
            starts[sent].append(arrived)
    yield from sorted(starts.items())


@pytest.mark.parametrize("running_status", [False, True], ids=["full-status", "running-status"])
@pytest.mark.parametrize("chart", CHARTS, ids=lambda path: path.stem)
def test_the_notes_of_an_attack_arrive_together_over_a_din_line(chart: Path, running_status: bool) -> None:
    line = DinLine(running_status=running_status)
    played(unfold(read_chart_file(chart)), line, fullness=4)
    found = list(attacks(line))
    assert len(found) > 20
    assert max(max(arrived) - min(arrived) for _, arrived in found) < WITHIN
    assert max(max(arrived) - sent for sent, arrived in found) < LATEST


@pytest.mark.parametrize("voices", [1, 2, 3, 4, 5])
def test_a_chord_that_follows_another_straight_on_is_together_too(voices: int) -> None:
    """The core ends before it starts, and the ends do not come between the starts: the outlets keep that order."""
    line = DinLine(running_status=False)
    outlets = Outlets(PLAIN, {"": line})
    old = random.Random(voices).sample(range(50, 60), voices)
    for pitch in old:
        outlets.play(NoteOn(at=1.0, part="figure", pitch=pitch, position=Fraction(0)), 1.0)
    line.now = 2.0
    for action in (
        *(NoteOff(at=2.0, part="figure", pitch=pitch, position=Fraction(0)) for pitch in old),
        *(NoteOn(at=2.0, part="figure", pitch=pitch, position=Fraction(1)) for pitch in range(60, 60 + voices)),
    ):
        outlets.play(action, 2.0)
    (_, arrived) = list(attacks(line))[-1]
    assert max(arrived) - min(arrived) < WITHIN
