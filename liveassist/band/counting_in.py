"""Counting in by hand: a drummer's clicks, or presses of a switch, start the song and set its tempo.

A count is so many clicks of one kind, evenly spaced, with nothing else between: as many as a bar has beats (four where it has
two). The song begins one click after the last. A drummer may click twice as fast or half as fast as the beat is counted, or
the divisions of a compound beat: the one nearest to the chart's tempo is meant. So the count also says, once and for all,
which multiple of the beat the grooves to come are in.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from math import log2

from charts.meter import Meter

BOUNCE = 0.08
"""Two clicks within this time, in seconds, are one: 750 a minute is no count."""
UNEVEN = 0.13
"""A click may be off by this share of the interval: a slow count of a nervous drummer."""
SLOWEST = 2.2
"""Seconds between two clicks of a count, at most."""
FAR = 0.35
"""In octaves of tempo: a count is in beats up to 1.6 times the chart's tempo, and only from there on in halves or doubles."""


@dataclass(frozen=True, slots=True)
class Counted:
    """A song was counted in."""

    last: float
    """When the last click was, in seconds."""
    interval: float
    """Seconds from click to click."""
    beats: float
    """Counted beats in a click."""
    clicks: int
    """Clicks in the count."""


class CountIn:
    """Hears clicks, and knows a count when it is complete."""

    def __init__(self) -> None:
        self._clicks: deque[float] = deque(maxlen=8)
        self._key: int | None = None

    def forget(self) -> None:
        """Begin anew."""
        self._clicks.clear()
        self._key = None

    def hear(self, at: float, key: int, meter: Meter, home: float) -> Counted | None:
        """A click. ``home`` is the counted beat at the chart's tempo, in seconds."""
        if key != self._key or (self._clicks and at - self._clicks[-1] > SLOWEST):
            self._clicks.clear()
            self._key = key
        if self._clicks and at - self._clicks[-1] < BOUNCE:
            return None
        self._clicks.append(at)
        for beats, needed in _counts(meter):
            if len(self._clicks) < needed:
                continue
            clicks = list(self._clicks)[-needed:]
            interval = _even(clicks)
            if interval is not None and beats == _meant(interval, meter, home):
                # the line through all of them: the last one alone is as uneven as any
                middle, mean = (needed - 1) / 2, sum(clicks) / needed
                return Counted(mean + middle * interval, interval, beats, needed)
        return None


def _even(clicks: list[float]) -> float | None:
    """The interval of evenly spaced clicks, by least squares; None where they are not."""
    number = len(clicks)
    middle, mean = (number - 1) / 2, sum(clicks) / number
    spread = sum((index - middle) ** 2 for index in range(number))
    interval = sum((index - middle) * (at - mean) for index, at in enumerate(clicks)) / spread
    even = all(abs(at - mean - (index - middle) * interval) <= UNEVEN * interval for index, at in enumerate(clicks))
    return interval if even else None


def _counts(meter: Meter) -> list[tuple[float, int]]:
    """What a click may be, in counted beats, and how many make a count."""
    bar = meter.counted_beats if meter.counted_beats >= 3 else 4
    if meter.compound:
        return [(1.0, bar), (1 / 3, 3 if bar == 3 else 6), (2.0, 4)]
    return [(1.0, bar), (2.0, 4), (0.5, 4)]


def _meant(interval: float, meter: Meter, home: float) -> float:
    """What a click is, in counted beats, by the tempo nearest to the chart's; a beat, unless that is far from it."""

    def strange(beats: float) -> float:
        return abs(log2(interval / beats / home)) + (0.0 if beats == 1.0 else FAR)

    return min((beats for beats, _ in _counts(meter)), key=strange)
