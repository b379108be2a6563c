"""The swell shoe as fullness: closed is bare, open is full.

The way of the shoe, 0 closed to 127 open, is cut into four equal parts, one for each fullness. A foot is never quite still, so
a part is left only when the shoe is past its border by ``SURE``. The shoe speaks when it moves into another part; a nod that
comes later (fuller, thinner) holds until it does.
"""

from __future__ import annotations

from liveassist.arranging.arrangement import FULLNESS

WAY = 128
PART = WAY // len(FULLNESS)
SURE = 5
"""About a twenty-fifth of the way: more than the tremble of a foot, less than a movement that is meant."""


def fullness_at(value: int, before: int | None) -> int:
    """The fullness at a place of the shoe, 0 to 127; ``before`` is the one it stood for, None where it was not heard yet."""
    part = min(value // PART + 1, FULLNESS[-1])
    if before is None or part == before:
        return part
    # Which part it is if the shoe is in truth a little nearer to where it came from.
    nearer = value - SURE if part > before else value + SURE
    sure = min(max(nearer, 0) // PART + 1, FULLNESS[-1])
    return max(sure, before) if part > before else min(sure, before)
