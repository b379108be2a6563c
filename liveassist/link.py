"""What band and desk say to each other. The link knows neither of them.

Pictures go from band to desk: whole, self-contained, newest wins. Requests go the other way. Both are JSON objects, one a
line, over loopback TCP with a token; see ``LinkServer`` and ``LinkReader``. Text in a picture is ready to show.
"""

from __future__ import annotations

from dataclasses import dataclass

VERSION = 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One line of the roadmap as the desk shows it."""

    name: str
    note: str = ""
    """What differs this time: "fuller", "up a tone", ..."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Heard:
    """One line of what the band heard and made of it."""

    at: float
    text: str
    kind: str
    """heard, note or caution."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PortHealth:
    """One port of the console."""

    role: str
    """What it is for: "Pedal", "Figure manual", ..."""
    name: str
    well: bool
    text: str
    """"open", "gone, looking for it", ..."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Picture:
    """The band's state at one moment, as shown on the desk."""

    at: float = 0.0
    """Seconds since the start of the take."""
    state: str = "tacet"
    title: str = ""
    key: str = ""
    meter: str = ""
    chord: str = ""
    """The chord now, with typographic accidentals; "N.C." where there is none."""
    pedal: str = ""
    """The pedal note to play now."""
    next_chord: str = ""
    next_pedal: str = ""
    next_in: float | None = None
    """Counted beats until the next change, None while nothing moves."""
    section: str = ""
    pass_: int = 1
    bar: int = 1
    bars: int = 1
    """Bars in this section."""
    beat: int = 1
    """Counted beat in the bar, from 1; 0 while nothing moves."""
    beats: int = 4
    roadmap: tuple[Step, ...] = ()
    step: int = 0
    """Index of the current step of the roadmap."""
    bpm: float = 0.0
    home_bpm: float = 0.0
    lead: str = "feet"
    time_lead: str = "feet"
    place_lead: str = "feet"
    sure: float = 1.0
    heard: tuple[Heard, ...] = ()
    """The latest lines, oldest first, at most eight."""
    ports: tuple[PortHealth, ...] = ()
    words: tuple[str, ...] = ()
    next_words: tuple[str, ...] = ()
    fullness: int = 2
    lift: int = 0
    """Semitones up from the route's key by nods."""
    out: bool = False
    """The figure is silent (a nod, or the player's own hand)."""
    asked: tuple[str, ...] = ()
    """Nods taken that wait for their bar line, in words."""
    sounding: int = 0
    """How many notes of ours sound now."""
    take: str = ""
    """Where the take is written."""
    origins: tuple[tuple[str, str, str], ...] = ()
    """Settings as (name, value, where it came from)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Request:
    """What a desk asks of the band."""

    ask: str
    """"nod" (with ``name``), "cue" (the foot switch, from a page-turner's key) or "leave" (end the band process)."""
    name: str = ""
    argument: int | None = None
