"""Where a click goes: a side, a level, an offset. See ``earpiece`` for the loudness; nothing heavy is imported here."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

LEFT, RIGHT, BOTH = "left", "right", "both"
SIDES: Mapping[str, tuple[float, float]] = {LEFT: (1.0, 0.0), RIGHT: (0.0, 1.0), BOTH: (1.0, 1.0)}
"""Gains of the left and the right channel."""
USUAL_LEVEL, ONE_EAR_LEVEL = -24.0, -30.0
LOWEST, HIGHEST = -60.0, -12.0
"""dBFS."""


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
