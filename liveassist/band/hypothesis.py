"""One idea of where the player is, and how well a foot fits its time."""

from __future__ import annotations

from dataclasses import dataclass
from math import exp, pi, sqrt

from liveassist.band.plan import Plan
from liveassist.band.pulse import Pulse

CUE, NO_CUE, JUMP = "cue", "no cue", "jump"
KEPT = 12
"""How many hypotheses live on."""


@dataclass(frozen=True, slots=True)
class Hypothesis:
    """One idea of where the player is."""

    change: int
    """The change last cued."""
    count: float
    """The count at which that change stands."""
    pulse: Pulse
    weight: float
    """Share of belief, 0 to 1."""
    kind: str = CUE
    """What the latest foot was under this hypothesis."""
    uncued: bool = False
    """The change went by the clock: a foot may still come for it."""
    out_of_time: bool = False
    """The latest cue came so far off that the phase was taken from it alone."""

    def weighing(self, weight: float) -> Hypothesis:
        """The same idea with another share of belief."""
        return Hypothesis(self.change, self.count, self.pulse, weight, self.kind, self.uncued, self.out_of_time)

    def without_cue(self, change: int, count: float, weight: float, *, uncued: bool) -> Hypothesis:
        """The same idea after a note that is no cue, at a change that may have come meanwhile."""
        return Hypothesis(change, count, self.pulse, weight, NO_CUE, uncued, self.out_of_time)


def density(miss: float, spread: float, beat: float) -> float:
    """How well a foot fits its time: a bell, as a density per counted beat. All in seconds."""
    return exp(-0.5 * (miss / spread) ** 2) / (spread * sqrt(2 * pi)) * beat


def by_clock(plan: Plan, item: Hypothesis, at: float) -> tuple[int, float]:
    """The change that sounds at a time if nothing was left out, and its count."""
    change, count = item.change, item.count
    for following, distance in plan.ahead(item.change):
        if item.pulse.time_of(item.count + distance) - 0.5 * item.pulse.spread(item.count + distance) > at:
            break
        change, count = following, item.count + distance
    return change, count
