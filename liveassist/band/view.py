"""A view of the band at one moment: plain data for the desk, the take and the tests. Asking for it changes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class View:
    """What the band believes and does now."""

    at: float
    """The moment, in seconds."""
    state: str
    change: int | None
    """Index of the change whose harmony is played; None before the start."""
    next_change: int | None
    """The change that follows, detours counted; None at the end or before the start."""
    next_in: float | None
    """Counted beats until it; None while nothing moves."""
    bar: int
    """Index of the bar in the route."""
    beat: float
    """Beat in the bar, from 1, in counted beats; 0 while nothing moves."""
    position: Fraction
    """Position of the latest change or beat passed, quarter notes."""
    bpm: float
    """Counted beats a minute."""
    home_bpm: float
    sure: float
    lift: int
    """Semitones up by nods."""
    fullness: int
    out: bool
    asked: tuple[str, ...]
    """Nods that wait for their bar line."""
    underscore: float | None = None
    """Seconds since an underscore began, None where there is none."""
    sounding: tuple[tuple[str, int], ...]
    """(part, pitch) of every note now on."""
    muted: bool = False
    """The click is silent by the nod ``mute``."""
