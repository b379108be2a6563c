"""Meter: how long a bar is and how it is counted.

Lengths are quarter notes, exact (``Fraction``). Counted beats follow common practice: a numerator of 6, 9, 12, ... is
compound and counts dotted values in three eighths (or whatever the unit is); everything else counts its unit.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, slots=True)
class Meter:
    """``Meter(6, 8)`` has two counted beats of a dotted quarter; ``Meter(6, 8, by_unit=True)`` counts six eighths."""

    beats: int
    unit: int
    by_unit: bool = False
    """Count every unit even in a compound meter (``count = eighths``)."""

    def __post_init__(self) -> None:
        if self.beats < 1 or self.unit not in (1, 2, 4, 8, 16, 32):
            raise ValueError(f"{self.beats}/{self.unit} is not a meter I know; 4/4, 3/4, 6/8 and the like are")

    @property
    def compound(self) -> bool:
        return self.beats > 3 and self.beats % 3 == 0 and not self.by_unit

    @property
    def bar_length(self) -> Fraction:
        """Quarter notes in a bar."""
        return Fraction(4 * self.beats, self.unit)

    @property
    def counted_beat(self) -> Fraction:
        """Quarter notes in one counted beat."""
        return Fraction(4, self.unit) * (3 if self.compound else 1)

    @property
    def counted_beats(self) -> int:
        """Counted beats in a bar."""
        return self.beats // 3 if self.compound else self.beats

    @property
    def name(self) -> str:
        return f"{self.beats}/{self.unit}"


def read_meter(text: str, *, by_unit: bool = False) -> Meter:
    """``"6/8"`` to a meter. Raises ValueError with what would fit."""
    match = re.fullmatch(r"\s*(\d{1,2})\s*/\s*(\d{1,2})\s*", text)
    if match is None:
        raise ValueError(f'"{text.strip()}" is not a meter; I can read two numbers such as 4/4, 3/4 or 6/8')
    return Meter(int(match[1]), int(match[2]), by_unit)
