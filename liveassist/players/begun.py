"""A performance that was written out beforehand and may go on otherwise: what is to be known of it. Plain values only."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Begun:
    """Where a performance goes. Seconds count from the start of the take; a bar is its index in the route."""

    seed: int
    """Of the dice with which it goes on."""
    bars: tuple[tuple[float, int], ...]
    """When each bar begins, and which it is."""
    end: float
    """When the last one ends."""
    mishaps: tuple[tuple[float, str], ...] = ()
    """What goes otherwise than written, and when."""
