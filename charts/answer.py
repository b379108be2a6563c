"""The answer as a chart states it: ``echo, one bar, octave below``, ``canon, two beats``, ``none``.

An answer is a second voice on the second manual, a distance behind the tune. An *echo* speaks only where the tune stands
still, a *canon* follows it note by note. The distance is in bars or counted beats, one bar where nothing is said; the interval
is the unison where nothing is said. Words stand between commas, the kind first (``charts.values`` reads them).
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from charts.meter import Meter

ECHO, CANON, NONE = KINDS = ("echo", "canon", "none")
BAR, BEAT = "bar", "beat"
INTERVALS = {"unison": 0, "octave below": -1, "octave above": 1}
"""Octaves up."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Answer:
    """A second voice that answers the tune."""

    kind: str
    """A member of ``KINDS``; none where a section has no answer although the chart has."""
    count: Fraction = Fraction(1)
    """The distance in its unit."""
    unit: str = BAR
    """``BAR`` or ``BEAT``."""
    octaves: int = 0
    """Octaves up from the tune; down, negative."""

    def distance(self, meter: Meter) -> Fraction:
        """How far the answer is behind the tune, in quarter notes."""
        return self.count * (meter.bar_length if self.unit == BAR else meter.counted_beat)
