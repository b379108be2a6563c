"""A view of the band at one moment: plain data for the desk, the take and the tests. Asking for it changes nothing."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class TimeLine:
    """How positions of the route and seconds go together just now: what a clock needs that is sent to others."""

    ticks: bool
    """There is a tempo to be sent: from the count-in to the end."""
    rolls: bool
    """The place moves on; not at a hold, nor in the count-in."""
    time: float
    """Seconds, of one position."""
    position: float
    """Quarter notes; before the start, in the count-in, below the first."""
    period: float
    """Seconds per quarter note."""

    def position_at(self, time: float) -> float:
        return self.position + (time - self.time) / self.period

    def time_of(self, position: float) -> float:
        return self.time + (position - self.position) * self.period


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
    time_lead: str = ""
    """Where time comes from now; empty: as the settings say."""
    bars_left: int = 0
    """Bars until the next section begins, this one counted; 0 before the start."""
    next_section: str = ""
    """Its name; empty where the song ends."""
    counting: int = 0
    """In the count-in: counted beats until the first of the song."""
    muted: bool = False
    """The click is silent by the nod ``mute``."""
