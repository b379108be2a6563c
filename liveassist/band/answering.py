"""Answering the right hand: where a section has an answer and no tune is written, what the melody manual has just played comes
back on the figure's manual at the distance that the chart states.

Counts are quarter notes played since the start (see ``pulse``). A note is answered in the key in which it was played, as long
as it was held, but never longer than the distance; the rules by which it gives way to the chord are those of the written
answer (``liveassist.arranging.answer``). An echo waits until the tune has stood still for a beat and a half, and ends when it
goes on. What was played before a jump or a hold is forgotten.
"""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """One note of the right hand that will be answered."""

    key: int
    """As the answer plays it."""
    played: int
    """As it was played."""
    begun: float
    """Count at which it was struck."""
    due: float
    """Count at which it is answered."""
    length: float
    """Quarter notes that the answer lasts."""


class Answering:
    """The notes still to be answered, in the order in which they were played."""

    def __init__(self) -> None:
        self._heard: list[Heard] = []
        self.struck: float | None = None
        """Count of the latest note of the tune."""

    def press(self, played: int, count: float, *, distance: float | None, key: int) -> None:
        """The right hand strikes a key, to be answered at a distance (None: not at all) on a key."""
        self.struck = count
        if distance is not None:
            self._heard.append(Heard(key=key, played=played, begun=count, due=count + distance, length=distance))

    def release(self, played: int, count: float) -> None:
        """The right hand lets a key go."""
        for index in reversed(range(len(self._heard))):
            heard = self._heard[index]
            if heard.played == played:
                held = min(heard.length, max(0.0, count - heard.begun))
                self._heard[index] = replace(heard, length=held)
                return

    def next_due(self) -> float | None:
        """The count at which the next note is answered."""
        return min((heard.due for heard in self._heard), default=None)

    def take(self, count: float) -> list[Heard]:
        """The notes that are due by a count; they wait no longer."""
        due = [heard for heard in self._heard if heard.due <= count + 1e-9]
        self._heard = [heard for heard in self._heard if heard.due > count + 1e-9]
        return due

    def shift(self, counts: float) -> None:
        """Everything stands at so much another count."""
        self._heard = [replace(heard, begun=heard.begun + counts, due=heard.due + counts) for heard in self._heard]
        self.struck = None if self.struck is None else self.struck + counts

    def forget(self) -> None:
        """Nothing that was played will be answered."""
        self._heard = []
