"""A wild player: any event that there is, at any time, and an account of what it leaves sounding."""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator

from charts.route import Route
from liveassist.band.events import (
    DIVISIONS,
    Action,
    DivisionBack,
    DivisionLost,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    NoteOff,
    NoteOn,
    Slept,
    SwitchPressed,
)
from liveassist.band.nods import NODS

WAITS = (0.0, 0.0, 0.01, 0.05, 0.24, 0.5, 0.5, 1.0, 2.0, 9.0)
LATE = (0.0, 0.0, 0.0, 0.003, 0.2, 3.0)


def wild(route: Route, count: int, dice: random.Random) -> Iterator[Event]:
    """So many events; every third is a foot on a bass that is written somewhere."""
    at = heard = 0.0
    names = sorted(NODS)
    for _ in range(count):
        at += dice.choice(WAITS)
        heard = max(heard, at + dice.choice(LATE))
        division, key = dice.choice(DIVISIONS), dice.randint(30, 100)
        match dice.randrange(12):
            case 0 | 1 | 2 | 3:
                key = 36 + (dice.choice(route.changes).bass or 0)
                yield KeyDown(at=at, heard=heard, division="pedal", key=key)
            case 4 | 5:
                yield KeyDown(at=at, heard=heard, division=division, key=key)
            case 6 | 7:
                yield KeyUp(at=at, heard=heard, division=division, key=key)
            case 8:
                yield SwitchPressed(at=at, heard=heard, unit=dice.choice(("change", "bar", "section")))
            case 9 | 10:
                argument = dice.choice((None, None, -1, 0, 2, 4))
                yield Nodded(at=at, heard=heard, nod=dice.choice(names), argument=argument)
            case _:
                kind = dice.randrange(5)
                if kind < 4:
                    yield (DivisionLost if kind < 2 else DivisionBack)(at=at, heard=heard, division=division)
                else:
                    woke = heard + dice.choice((1.5, 60.0))
                    yield Slept(at=heard, heard=woke)
                    at = heard = woke


class Account:
    """Pairs starts and ends as they come."""

    def __init__(self) -> None:
        self.on: set[tuple[str, int]] = set()
        self.starts = 0
        self.latest = 0.0

    def hear(self, actions: Iterable[Action]) -> None:
        """An end without a start, a start on a sounding key, or time that goes back, is an error."""
        for action in actions:
            assert action.at >= self.latest - 1e-9, "time went back"
            self.latest = action.at
            if isinstance(action, NoteOn):
                assert (action.part, action.pitch) not in self.on, "started twice"
                self.on.add((action.part, action.pitch))
                self.starts += 1
            elif isinstance(action, NoteOff):
                self.on.remove((action.part, action.pitch))
