"""A second imagined player, independent of ``liveassist.players`` and of the analyser: plants known errors in a take.

Feet fall on a click with a lead, a scatter and a drift; a share of the notes is left out, a share is wrong, and a share is
followed by another note half a beat later, as somebody does who feels for the next pedal. (The same note again half a beat
later, where the first was left out, would be one note late and not two faults.) What was planted is told.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from charts.route import Route
from liveassist.band.events import PEDAL, Action, BeatIs, Event, KeyDown, KeyUp

START = 2.0
WRONG_BY = (-3, -2, -1, 1, 2, 3, 5)


@dataclass(frozen=True)
class Planted:
    events: list[Event]
    actions: list[Action]
    faults: list[tuple[str, int]]
    """(kind, index of the bar), in order."""
    clean: list[tuple[float, float]]
    """(when due, error in seconds) of every note that was played as written."""


def planted(route: Route, seed: int, *, bpm: float, rate: float, lead: float, scatter: float, drift: float) -> Planted:
    """``rate``: of the notes that something is wrong with; a third each missed, wrong, and followed by one too many.
    ``lead`` and ``scatter`` in seconds, ``drift`` in seconds a second."""
    dice = random.Random(seed)
    beat = 60.0 / bpm
    unit = float(route.bars[0].meter.counted_beat)

    def when(position: Fraction) -> float:
        return START + float(position) * beat / unit

    actions: list[Action] = [BeatIs(at=when(place), position=place) for bar in route.bars for place in route.beats(bar)]
    faults: list[tuple[str, int]] = []
    clean: list[tuple[float, float]] = []
    struck: list[tuple[float, int]] = []
    before = None
    for change in route.changes:
        if change.bass is None or route.bars[change.bar].manuals_only:
            continue
        meter = route.bars[change.bar].meter
        division = beat / (3 if meter.compound else 2)
        early = division * (("push" in change.marks) - ("late" in change.marks))
        due = when(change.position) - early
        gone = lead + drift * (due - START)
        error = gone + dice.gauss(0.0, scatter)
        fate = dice.random() / rate if rate else 1.0
        if fate < 1 / 3 and change.bass != before:
            faults.append(("missed", change.bar))
        elif fate < 2 / 3:
            faults.append(("wrong", change.bar))
            struck.append((due + error, 36 + (change.bass + dice.choice(WRONG_BY)) % 12))
        else:
            clean.append((due, error))
            struck.append((due + error, 36 + change.bass))
        inside = change.position + meter.counted_beat / 2 < route.bars[change.bar].end
        if dice.random() < rate / 3 and float(change.length) >= unit and inside and not early:
            faults.append(("extra", change.bar))
            key = dice.choice([key for key in range(36, 56) if key % 12 != change.bass])
            struck.append((due + gone + beat / 2 + dice.gauss(0.0, scatter), key))
        before = change.bass
    struck.sort()
    events: list[Event] = []
    for (at, key), (following, _) in pairwise([*struck, (struck[-1][0] + beat, 0)]):
        events.append(KeyDown(at=at, heard=at, division=PEDAL, key=key))
        up = at + 0.9 * (following - at)
        events.append(KeyUp(at=up, heard=up, division=PEDAL, key=key))
    return Planted(events, actions, faults, clean)
