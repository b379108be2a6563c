"""An earpiece: where the click goes, for whom, how loud, how much later; and what it sounds at the moment.

Loudness. Levels are dBFS of a click's loudest millisecond, as in ``tone``. The first click comes 18 dB below its level and
each of the next three 6 dB nearer, and so again after a silence that was asked for: it never grows by more than 6 dB at once.
One ear alone is tempted to turn up some 6 dB (two equal sounds add up to about that), so the usual level there is the lower
one.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from liveassist.ears.tone import CLICK_LEVEL, Samples, ramp

LEFT, RIGHT, BOTH = "left", "right", "both"
SIDES: Mapping[str, tuple[float, float]] = {LEFT: (1.0, 0.0), RIGHT: (0.0, 1.0), BOTH: (1.0, 1.0)}
"""Gains of the left and the right channel."""
USUAL_LEVEL, ONE_EAR_LEVEL = -24.0, -30.0
LOWEST, HIGHEST = -60.0, -12.0
"""dBFS."""
FADE = 240
"""Samples in which what is hushed dies away: 5 ms."""
STEP, BELOW = 6.0, 18.0
"""Decibels from one click to the next at the start, and of the first below its level."""


@dataclass(frozen=True, slots=True)
class Destination:
    """One pair of ears, or one ear."""

    side: str = BOTH
    level: float = 0.0
    """dBFS; 0: the usual one for its side."""
    offset: float = 0.0
    """Milliseconds by which all comes later; negative: earlier."""

    @property
    def loudness(self) -> float:
        """The level, in bounds whatever was asked."""
        usual = USUAL_LEVEL if self.side == BOTH else ONE_EAR_LEVEL
        return min(max(self.level or usual, LOWEST), HIGHEST)

    def option(self) -> str:
        """As the sound process takes it: ``left,-30,20``."""
        return f"{self.side},{self.level:g},{self.offset:g}"


def read_destination(text: str) -> Destination:
    """``"left,-30,20"`` to a destination. Raises ValueError saying what would fit."""
    side, _, numbers = text.partition(",")
    try:
        level, offset = (float(number) for number in numbers.split(","))
        if side not in SIDES:
            raise ValueError
    except ValueError:
        raise ValueError(
            f'"{text}": I can read SIDE,LEVEL,OFFSET with left, right or both, dBFS, milliseconds'
        ) from None
    return Destination(side, level, offset)


class Earpiece:
    """What one destination hears."""

    def __init__(self, destination: Destination) -> None:
        self.offset = destination.offset / 1000.0
        """Seconds."""
        self.side = SIDES[destination.side]
        self._gain = destination.loudness - CLICK_LEVEL
        self._below = BELOW
        self._sounding: list[tuple[Samples, int]] = []

    def click(self, wave: Samples) -> None:
        """Begin a click."""
        self._begin(wave, self._gain - self._below)
        self._below = max(0.0, self._below - STEP)

    def clip(self, wave: Samples) -> None:
        """Begin a sign or a word."""
        self._begin(wave, self._gain)

    def _begin(self, wave: Samples, decibels: float) -> None:
        self._sounding.append((wave * 10.0 ** (decibels / 20.0), 0))

    def hush(self) -> None:
        """Silence, and softly again after it. What sounds dies away in some milliseconds."""
        fading = ramp(np.arange(FADE, 0, -1) / FADE)
        self._sounding = [(wave[at : at + FADE] * fading[: len(wave[at:])], 0) for wave, at in self._sounding]
        self._below = BELOW

    def next(self, frames: int) -> Samples:
        """The next so many samples, one column an ear, not limited yet. Moves on."""
        mono = np.zeros(frames)
        left: list[tuple[Samples, int]] = []
        for wave, at in self._sounding:
            piece = wave[at : at + frames]
            mono[: len(piece)] += piece
            if at + frames < len(wave):
                left.append((wave, at + frames))
        self._sounding = left
        return np.asarray(mono[:, None] * self.side)
