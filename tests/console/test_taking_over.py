"""The player's hand on the figure's manual, all the way to the organ: the band ends at once, and never cuts his keys.

The organ here is one that cuts: a note-off ends a key even while it is held. Most organs join key and MIDI instead."""

from __future__ import annotations

import random
from collections.abc import Sequence

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.performance import Performance
from liveassist.band.song import arrangements
from liveassist.console.hearing import Interpreter
from liveassist.console.outlets import Outlets
from liveassist.console.profile import PLAIN
from liveassist.console.runner import Runner
from liveassist.console.timeline import Arrival, SimulatedTimeline
from liveassist.link import Request
from liveassist.settings import Settings

SONG = "title = Quay\nkey = D\ntempo = quarter 120\nfeel = quarters\n== Verse ==\n| D | % | % | % | % | % | % | % |]\n"
FOOT = b"\x93\x26\x40"


class CuttingOrgan:
    """Keys of channel 2 that sound, and those that the player holds."""

    def __init__(self, timeline: SimulatedTimeline) -> None:
        self.timeline = timeline
        self.came: list[tuple[float, int, int]] = []
        self.cut: list[int] = []
        self.held: set[int] = set()

    def send(self, message: bytes) -> bool:
        on = message[0] & 0xF0 == 0x90
        self.came.append((self.timeline.now(), message[1], on))
        if message[1] in self.held:
            self.cut.append(message[1])
        return True

    def down(self, at: float) -> set[int]:
        keys: set[int] = set()
        for moment, key, on in self.came:
            if moment <= at:
                (keys.add if on else keys.discard)(key)
        return keys


class Hands(SimulatedTimeline):
    """A timeline that tells the organ which keys of the figure's manual the player holds."""

    organ: CuttingOrgan

    def wait(self, until: float | None, *, sharp: bool = False) -> list[Arrival]:
        arrived = super().wait(until, sharp=sharp)
        for arrival in arrived:
            if isinstance(arrival.what, bytes) and arrival.what[0] in (0x91, 0x81):
                (self.organ.held.add if arrival.what[0] == 0x91 else self.organ.held.discard)(arrival.what[1])
        return arrived


def played(moves: Sequence[tuple[float, bytes | Request]]) -> CuttingOrgan:
    route = unfold(read_chart(SONG))
    settings = Settings()
    band = Performance(route, arrangements(route, settings), settings, random.Random(1))
    timeline = Hands(Arrival(at, "", what) for at, what in [*moves, (9.0, Request(ask="leave"))])
    timeline.organ = organ = CuttingOrgan(timeline)
    ears = Interpreter(PLAIN)
    outlets = Outlets(PLAIN, {"": organ}, sent=ears.sent, held=ears.holds)
    Runner(band, timeline, PLAIN, ears, outlets).run()
    return organ


CHORD = sorted(played([(1.0, FOOT)]).down(5.2))
OURS = CHORD[0]
"""A key that the figure sounds at 5.2 s, a fifth of a second after its attack."""
HAND, UP = bytes((0x91, OURS, 64)), bytes((0x81, OURS, 64))
IN = Request(ask="nod", name="in")


def test_the_hand_ends_the_figure_but_not_the_key_it_holds() -> None:
    assert len(CHORD) >= 3
    organ = played([(1.0, FOOT), (5.2, HAND), (7.0, UP)])
    assert organ.down(5.2) == {OURS}, "within the same attack"
    assert organ.cut == []
    assert organ.down(6.9) == {OURS}, "nothing new either"
    assert organ.down(7.0) == set(), "our own end comes with his"


def test_after_in_the_figure_leaves_out_what_the_hand_still_holds() -> None:
    organ = played([(1.0, FOOT), (5.2, HAND), (6.1, IN), (8.2, UP)])
    assert organ.cut == []
    struck = {key for at, key, on in organ.came if 6.1 < at < 8.0 and on}
    assert struck == set(CHORD) - {OURS}
    assert OURS in {key for at, key, on in organ.came if at > 8.2 and on}, "and strikes it again once it is free"


def test_cut_waits_for_nobody() -> None:
    organ = played([(1.0, FOOT), (5.2, HAND), (5.5, Request(ask="nod", name="cut"))])
    assert organ.down(5.4) == {OURS}
    assert organ.down(5.5) == set()


def test_a_hand_on_another_key_ends_all() -> None:
    organ = played([(1.0, FOOT), (5.2, b"\x91\x60\x40"), (6.0, b"\x81\x60\x40")])
    assert organ.down(5.2) == set()
    assert not [key for at, key, on in organ.came if at > 5.2 and on]
