"""How far each foot is off its beat: the shape of the scatter beyond a plain bell.

A foot's delay is its lead, the pull of the section, and noise. Each is turned on by itself:

* *tails*: Student's t instead of a bell, scaled to the same SD: mostly closer than a bell, now and then far out. The fewer
  degrees of freedom the heavier; four and five are usual for data with outliers (from memory);
* *lingering*: one foot's error lives on in the next (a first-order process): asynchronies between players are correlated
  from note to note (Vorberg & Wing 1996, from memory). How strongly is a choice of ours;
* *pull*: a player lies a little ahead through one section and behind through another (common practice, no source).
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Sequence
from fractions import Fraction

LEAST_TAILS = 2.0
"""Student's t has an SD only above so many degrees of freedom."""


def scattered(dice: random.Random, heavy: random.Random, *, tails: float, lingering: float) -> Iterator[float]:
    """One error a foot, of SD 1.

    Args:
        dice: throws the bell.
        heavy: throws what makes its tails heavy.
        tails: degrees of freedom of Student's t; 0 keeps the bell.
        lingering: correlation of one error with the next.

    Raises:
        ValueError: so few degrees of freedom that there is no SD.
    """
    if tails and tails <= LEAST_TAILS:
        raise ValueError(f"tails is {tails:g}; 0, or more than {LEAST_TAILS:g} degrees of freedom would be a scatter")
    before: float | None = None
    while True:
        error = dice.gauss(0.0, 1.0)
        if tails:
            error *= math.sqrt((tails - LEAST_TAILS) / (2.0 * heavy.gammavariate(tails / 2.0, 1.0)))
        if before is not None:
            error = lingering * before + math.sqrt(1.0 - lingering**2) * error
        yield error
        before = error


def pulled(
    sections: Sequence[tuple[Fraction, Fraction]], pull: float, dice: random.Random
) -> list[tuple[Fraction, float]]:
    """How far ahead of the beat each section is played, in seconds, by the count at which it begins."""
    return [(start, dice.gauss(0.0, 1.0) * pull) for start, _ in sections]


def pull_at(leads: Sequence[tuple[Fraction, float]], count: Fraction) -> float:
    """The pull of the section that a count lies in; before the first that of the first."""
    return next((lead for start, lead in reversed(leads) if start <= count), leads[0][1])
