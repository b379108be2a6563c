"""An imagined rehearser: plays the pedal to a steady pulse, a little late and uneven, with a slip now and then.

Unlike the organist, who has a performance written out beforehand, this one listens: it plays to each change that the band comes
to, so it keeps up with a loop, with another tempo, and with whatever comes round again.
"""

from __future__ import annotations

import random
from collections.abc import Iterable

from charts.route import Route
from liveassist.band.events import Action, PlaceIs

PEDAL_ON, PEDAL_OFF, STRENGTH = 0x93, 0x83, 100
LATE, SCATTER = 0.020, 0.012
"""Seconds after the band on the average, and their SD."""
WRONG, MISSED = 0.01, 0.01
"""Of the notes."""
HELD = 0.8
"""Of a change's length."""
LOWEST = 36


class Rehearser:
    """Plays along. ``answer`` gives the messages for what the band has just done."""

    def __init__(self, route: Route, dice: random.Random) -> None:
        self._route, self._dice = route, dice

    def answer(self, actions: Iterable[Action]) -> list[tuple[float, bytes]]:
        """Seconds and MIDI messages, on the plain console's pedal channel."""
        found: list[tuple[float, bytes]] = []
        for action in actions:
            if isinstance(action, PlaceIs):
                found += self._foot(action)
        return found

    def _foot(self, action: PlaceIs) -> list[tuple[float, bytes]]:
        change = self._route.changes[action.change]
        bar = self._route.bars[change.bar]
        fate = self._dice.random()
        if change.bass is None or bar.manuals_only or fate < MISSED:
            return []
        key = LOWEST + change.bass + (1 if fate < MISSED + WRONG else 0)
        at = action.at + max(0.001, self._dice.gauss(LATE, SCATTER))
        lasts = HELD * float(change.length / bar.meter.counted_beat) * 60.0 / action.bpm
        return [(at, bytes((PEDAL_ON, key, STRENGTH))), (at + lasts, bytes((PEDAL_OFF, key, 0)))]
