"""An earpiece: where the click goes, for whom, how loud, how much later; and what it sounds at the moment.

Loudness. Levels are dBFS of a click's loudest millisecond, as in ``tone``. The first sound, click, sign or word, comes 18 dB
below its level and each of the next three 6 dB nearer, and so again after a silence that was asked for: nothing ever grows by
more than 6 dB at once.
One ear alone is tempted to turn up some 6 dB (two equal sounds add up to about that), so the usual level there is the lower
one.
"""

from __future__ import annotations

import numpy as np

from liveassist.ears.destination import SIDES, Destination
from liveassist.ears.tone import CLICK_LEVEL, Samples, ramp

FADE = 240
"""Samples in which what is hushed dies away: 5 ms."""
STEP, BELOW = 6.0, 18.0
"""Decibels from one sound to the next at the start, and of the first below its level."""


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
        self._begin(wave)

    def clip(self, wave: Samples) -> None:
        """Begin a sign or a word."""
        self._begin(wave)

    def _begin(self, wave: Samples) -> None:
        self._sounding.append((wave * 10.0 ** ((self._gain - self._below) / 20.0), 0))
        self._below = max(0.0, self._below - STEP)

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
