"""How much of a week's listening a performance was, where the player has measured the level at the ear.

Equal energy: at 80 dB(A) a week may hold 40 hours (WHO-ITU H.870, adults); 3 dB more is twice the energy, and half the time.
So the share of the week is hours / 40 x 2^((level - 80) / 3). A measured level is the player's word: nothing here measures, and
no share, however small, is a promise.
"""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path

from platformdirs import user_data_path

from charts.whole import write_whole

WEEK_HOURS, WEEK_LEVEL, EXCHANGE = 40.0, 80.0, 3.0


def share(level: float, seconds: float) -> float:
    """The share of a week's listening, 1 being all of it.

    Args:
        level: dB(A) at the ear.
        seconds: how long.
    """
    return float(seconds / 3600.0 / WEEK_HOURS * 2.0 ** ((level - WEEK_LEVEL) / EXCHANGE))


def week_of(day: date) -> str:
    """The week of a day, Monday to Sunday (ISO 8601): ``2026-W09``."""
    year, week, _ = day.isocalendar()
    return f"{year}-W{week:02}"


class ListeningTime:
    """The count of this week, in a small file."""

    def __init__(self, path: Path | None = None) -> None:
        self.path = path or user_data_path("liveassist") / "listening.json"

    def so_far(self, day: date) -> float:
        """The share of the week of a day that has been used."""
        try:
            stated = json.loads(self.path.read_text(encoding="utf-8"))
            return max(0.0, float(stated["share"])) if stated["week"] == week_of(day) else 0.0
        except (OSError, ValueError, KeyError, TypeError, RecursionError):  # none yet, or not ours: the count begins
            return 0.0

    def add(self, day: date, level: float, seconds: float) -> float:
        """Count a performance. Returns the week's share with it; where the file cannot be written, it is not kept."""
        whole = self.so_far(day) + share(level, seconds)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            write_whole(self.path, json.dumps({"week": week_of(day), "share": round(whole, 6)}))
        except OSError:
            pass
        return whole


def in_words(used: float, level: float) -> str:
    """What has been used of a week, and what is left of it."""
    left = max(0.0, 1.0 - used) * WEEK_HOURS / 2.0 ** ((level - WEEK_LEVEL) / EXCHANGE)
    text = f"listening this week: {used:.0%} of what 40 hours at 80 dB(A) are (WHO-ITU H.870)"
    if used >= 1.0:
        return f"{text}: rest your ears, or turn down"
    return f"{text}; at {level:g} dB(A) {left:.1f} hours are left"
