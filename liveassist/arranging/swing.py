"""Swing: how long the first of two notes is against the second, by how fast the pairs go.

Players swing less the faster they play: the ratio falls roughly linearly with the tempo, to even notes when very fast, and
2:1 is right at one tempo only (A. Friberg and A. Sundström, "Swing Ratios and Ensemble Timing in Jazz Performance", Music
Perception 19/3, 2002). The corner points below are a choice of our own for singing in a church: 2:1 up to 120 pairs a minute,
3:2 at 160, even from 300 on, straight lines between. What goes by tempo is the pair: swung sixteenths at 80 quarters a minute
are swung like eighths at 160.

Ratios are exact: the share of the longer note is a whole number of ``GRAIN``, so a swung note always falls on a tick.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

GRAIN = Fraction(1, 240)
"""Of a pair: 2:1, 3:2 and 1:1 are whole numbers of it."""
CORNERS = ((0.0, 2.0), (120.0, 2.0), (160.0, 1.5), (300.0, 1.0))
"""Pairs a minute, and long to short there."""
EVEN = Fraction(1)


def swing_at(pairs_bpm: float) -> Fraction:
    """Long to short for pairs of notes at so many pairs a minute; 2:1 where the tempo is not known (0)."""
    for (slow, much), (fast, little) in pairwise(CORNERS):
        if pairs_bpm <= fast:
            ratio = much + (little - much) * (pairs_bpm - slow) / (fast - slow)
            share = round(ratio / (ratio + 1) / float(GRAIN)) * GRAIN
            return share / (1 - share)
    return EVEN
