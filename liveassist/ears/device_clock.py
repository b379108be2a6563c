"""Which sample stands for which moment.

A device asks for a block when there is room for it: never early, now and then late. So the earliest asking, over half a
second, tells how its samples stand to the computer's clock. An earlier asking than ever before is believed at once. Else that
standing (the time at which sample 0 was asked for) is kept to the sample until the device has fallen behind it by ``DRIFT``, as
two quartzes do by some parts in 100,000; then it moves by that much, which nobody hears. Between two moves what was a second
apart on the schedule is a second of samples apart.
"""

from __future__ import annotations

from collections import deque

DRIFT = 0.001
"""Seconds."""
WINDOW = 0.5
"""Over so many seconds the earliest asking counts."""


class DeviceClock:
    """Seconds of the computer's clock to samples of the device."""

    def __init__(self, rate: int) -> None:
        self.rate = rate
        self.position = 0
        """The sample that will be asked for next."""
        self.block = 0.0
        """Seconds of the largest block asked for so far."""
        self._origin: float | None = None
        self._asked: deque[tuple[float, float]] = deque()

    def asked(self, frames: int, now: float) -> None:
        """The device asks for so many frames. Moves on: ``position`` is then behind them."""
        standing = now - self.position / self.rate
        self._asked.append((now, standing))
        while self._asked[0][0] < now - WINDOW:
            self._asked.popleft()
        earliest = min(value for _, value in self._asked)
        whole = now - self._asked[0][0] > WINDOW / 2
        if self._origin is None or earliest < self._origin or (whole and earliest > self._origin + DRIFT):
            self._origin = earliest
        self.position += frames
        self.block = max(self.block, frames / self.rate)

    def sample_at(self, time: float) -> int:
        """The sample that is asked for at a time, if the device asks as early as it can. To be asked after the first block."""
        assert self._origin is not None
        return round((time - self._origin) * self.rate)
