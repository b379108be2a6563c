"""Blocks of sound through a device chosen by name, until they end or somebody stops them.

What is stopped is faded out, as a hand takes its keys up, instead of breaking off. A device that goes away is silence: no
other device takes over.
"""

from __future__ import annotations

import threading
import time
from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np

from liveassist.ears.rendering import Block
from liveassist.ears.sound import BLOCK_MS, WATCH_SECONDS, Player
from liveassist.ears.tone import RATE, ramp
from liveassist.errors import PlayerError

FADE_SECONDS = 0.05
"""What has been stopped is silent after so long."""
LOOK_SECONDS = 0.1
"""How often to tell how far it is."""


class Recital:
    """Blocks, drawn by a device in pieces of any size. Silence follows the last."""

    def __init__(self, blocks: Iterator[Block], began: float, rate: int = RATE) -> None:
        """``began``: now, in seconds of the clock that ``block`` is asked with."""
        self.over = threading.Event()
        """Set when nothing sounds any more."""
        self._blocks = blocks
        self._rest: Block = np.zeros((0, 2), np.float32)
        self._rate = rate
        self._frames = 0
        self._asked = began
        self._stopping = threading.Event()
        self._faded = 0

    @property
    def seconds(self) -> float:
        """How much has been drawn."""
        return self._frames / self._rate

    def stop(self) -> None:
        """Fade out."""
        self._stopping.set()

    def block(self, frames: int, now: float) -> Block:
        """The next so many frames."""
        self._asked = now
        heard = self._draw(frames)
        if self._stopping.is_set():
            whole = round(FADE_SECONDS * self._rate)
            left = whole - self._faded - np.arange(frames)
            heard = heard * ramp(left / whole).astype(np.float32)[:, None]
            self._faded += frames
            if self._faded >= whole:
                self.over.set()
        return heard

    def stalled(self, now: float) -> bool:
        """Whether the device has stopped asking."""
        return now - self._asked > WATCH_SECONDS

    def _draw(self, frames: int) -> Block:
        while len(self._rest) < frames and not self.over.is_set():
            following = next(self._blocks, None)
            if following is None:
                self.over.set()
            else:
                self._rest = np.concatenate((self._rest, following))
        heard, self._rest = self._rest[:frames], self._rest[frames:]
        self._frames += len(heard)
        return np.concatenate((heard, np.zeros((frames - len(heard), 2), np.float32)))


def play(
    blocks: Iterator[Block],
    device: str,
    *,
    told: Callable[[float], None] | None = None,
    backends: Sequence[Any] | None = None,
) -> None:
    """Play blocks to their end. Ctrl-C fades them out and goes on as an interrupt.

    Args:
        blocks: as from ``rendering.render``, at its usual rate.
        device: name of the sound device.
        told: called now and then with the seconds played so far.
        backends: of the sound system, for tests.

    Raises:
        PlayerError: the device is not there, would not open, or goes away.
    """
    recital = Recital(blocks, time.monotonic())
    player = Player(device, recital, backends)
    try:
        watched = time.monotonic()
        while not recital.over.wait(LOOK_SECONDS):
            if told:
                told(recital.seconds)
            if time.monotonic() - watched > WATCH_SECONDS:
                watched = time.monotonic()
                if player.gone():
                    raise PlayerError(f'the sound device "{player.name}" went away')
    finally:  # an end, Ctrl-C or a lost device: a fade of what sounds, and time for the device to play what it has
        recital.stop()
        if recital.over.wait(WATCH_SECONDS):
            time.sleep(2 * BLOCK_MS / 1000)
        player.close()
