"""What lies ahead in the plan: how many bars until another section begins, and which."""

from __future__ import annotations

from liveassist.band.plan import Plan

FARTHEST = 64
"""Bars; further on nobody counts."""


def section_ahead(plan: Plan, bar: int) -> tuple[int, str]:
    """Bars until the next section begins, the bar being played counted, and its name: empty where the song ends. Detours are
    counted: a vamp's next section is the one in which it goes round."""
    bars = plan.route.bars
    for left in range(1, FARTHEST + 1):
        following = plan.after(bar)
        if following is None:
            return left, ""
        if bars[following].starts_section or plan.detour(bar) is not None:
            return left, bars[following].section
        bar = following
    return FARTHEST, ""
