"""Timing: the figures of a row of errors. Pure statistics; errors are seconds, positive late.

Definitions:

* drift: the slope of the error over time (least squares), as a share of the tempo; ``mean`` is the error in the middle of the
  row, ``sd`` the sample standard deviation around the line, so that drift is told once;
* lead: the median of what is left when drift is taken away, negative where the feet are ahead. Feet lead a click: taps come
  some 20 to 80 ms before it, musicians' 10 to 30 (Repp 2005, Aschersleben 2002; from memory), and a foot some 10 ms before a
  hand (Fujii et al. 2011). It is a habit, not a fault, and is taken away before anything is judged;
* steadiness: length of the mean of unit vectors at the angle of each error in its beat, 1 for perfect, 0 for chance;
* clock and motor: Wing and Kristofferson 1973 (from memory): with the intervals' deviations d and their lag-k autocovariance
  g(k), the motor variance is -g(1) and the clock's g(0) + 2 g(1). That holds where each interval is timed anew and no click is
  followed; with a click it is a rough picture;
* bands: an SD below 20 ms is excellent, to 35 good ensemble level, to 50 acceptable, above loose. Musicians who tap to a click
  have 2 to 4 % of the interval, 10 to 20 ms at 120 a minute, others 4 to 8 % (Repp 2005, from memory); the notes of live trios
  are 30 to 50 ms apart (SD) and not heard as uneven (Rasch 1979, as told in a later thesis), those of ensembles at large 30 to
  40. The split is our own.
"""

from __future__ import annotations

import cmath
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import pi, sqrt
from statistics import fmean, median, stdev

GOOD_SD = 0.035
BANDS = ((0.020, "excellent"), (GOOD_SD, "good"), (0.050, "acceptable"))
LOOSE = "loose"
CLOSE, NEAR = 0.020, 0.050
"""Which of two sounds comes first is heard from some 20 ms on, three times in four at 22 (Hirsh, in Watson 2004); 50 ms is the
far end of what live trios differ by (Rasch 1979)."""
FEWEST = 10
"""Intervals without which clock and motor are not told apart."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Timing:
    """Figures of one row of errors. Seconds, but for shares."""

    count: int
    mean: float
    sd: float
    """0 for fewer than three."""
    median: float
    median_absolute: float
    """Of the errors as judged: without drift and lead."""
    close: float
    """Share within 20 ms, as judged."""
    near: float
    """Share within 50 ms, as judged."""
    drift: float
    """Growth of the error, seconds a second: positive is slowing down."""
    lead: float
    steadiness: float
    clock: float | None
    motor: float | None
    autocorrelation: float | None
    """Of the intervals, at lag one: between -0.5 and 0 is usual, below is over-correcting, above is drifting (Wing and
    Kristofferson 1973, from memory)."""

    @property
    def band(self) -> str:
        """The SD in a word."""
        return next((word for limit, word in BANDS if self.sd < limit), LOOSE)


def line_through(times: Sequence[float], errors: Sequence[float]) -> tuple[float, float]:
    """Least squares: the error in the middle of the times, and its growth a second."""
    middle, mean = fmean(times), fmean(errors)
    spread = sum((at - middle) ** 2 for at in times)
    if len(times) < 3 or spread == 0.0:
        return mean, 0.0
    return mean, sum((at - middle) * (error - mean) for at, error in zip(times, errors, strict=True)) / spread


def levelled(times: Sequence[float], errors: Sequence[float]) -> tuple[float, float, list[float]]:
    """The error in the middle of the times, its growth a second, and the errors with that growth taken away."""
    mean, drift = line_through(times, errors)
    middle = fmean(times)
    return mean, drift, [error - drift * (at - middle) for at, error in zip(times, errors, strict=True)]


def judged(times: Sequence[float], errors: Sequence[float]) -> list[float]:
    """Errors without the player's drift and lead."""
    if not errors:
        return []
    _, _, flat = levelled(times, errors)
    lead = median(flat)
    return [error - lead for error in flat]


def timing(times: Sequence[float], errors: Sequence[float], beats: Sequence[float]) -> Timing | None:
    """The figures of a row of errors: when each was due, how late it was, how long a beat was there. None for an empty row."""
    if not errors:
        return None
    mean, drift, flat = levelled(times, errors)
    lead = median(flat)
    left = [error - lead for error in flat]
    turns = [cmath.exp(2j * pi * error / beat) for error, beat in zip(left, beats, strict=True)]
    clock, motor, autocorrelation = clock_and_motor(flat)
    return Timing(
        count=len(errors),
        mean=mean,
        sd=stdev(flat) if len(flat) > 2 else 0.0,
        median=median(errors),
        median_absolute=median(abs(error) for error in left),
        close=fmean(abs(error) <= CLOSE for error in left),
        near=fmean(abs(error) <= NEAR for error in left),
        drift=drift,
        lead=lead,
        steadiness=abs(sum(turns)) / len(turns),
        clock=clock,
        motor=motor,
        autocorrelation=autocorrelation,
    )


def clock_and_motor(errors: Sequence[float]) -> tuple[float | None, float | None, float | None]:
    """Standard deviations of clock and motor, and the intervals' autocorrelation at lag one; None where too few."""
    intervals = [later - sooner for sooner, later in pairwise(errors)]
    if len(intervals) < FEWEST:
        return None, None, None
    mean = fmean(intervals)
    off = [interval - mean for interval in intervals]
    g0 = fmean(one * one for one in off)
    g1 = sum(one * other for one, other in pairwise(off)) / len(off)
    if g0 == 0.0:
        return 0.0, 0.0, None
    return sqrt(max(0.0, g0 + 2 * g1)), sqrt(max(0.0, -g1)), g1 / g0
