"""The messages of the link, and how they are written.

Pictures go from band to desk: whole, self-contained, newest wins. Requests go the other way. Both are JSON
objects, one a line. Text in a picture is ready to show.

    desk  {"link": 1, "token": "...", "role": "nod"}       first line; wrong version or token: {"refused": why}, closed
    band  {"link": 1, "may_nod": true}                     and again {"may_nod": true} when the one before has left
    band  {"picture": {...}}  {"alive": true}  {"bye": true}
    desk  {"request": {"ask": "nod", "name": "again"}}     not taken: {"say": why}
"""

from __future__ import annotations

import json
import secrets
from dataclasses import dataclass, fields, replace
from typing import Any, TypeVar

T = TypeVar("T")

VERSION = 1
"""Of the messages. Fields may be added without a new version; readers ignore what they do not know."""
NODDER, LOOKER = "nod", "look"
"""What a reader wants to do. The first nodder may nod; the others look until it leaves."""
TOKEN_VARIABLE = "LIVEASSIST_LINK_TOKEN"
"""The environment variable that carries the token to the desk: the command line of a process is everybody's to read."""
BUFFER = 32768
"""Bytes of the sockets' buffers, kept small: what lies in them is stale when a slow reader comes back."""


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
    bars_left: int = 0
    """Bars until the next section begins, this one counted; 0 before the start."""
    next_section: str = ""
    """Its name; empty where the song ends."""
    counting: int = 0
    """In the count-in: counted beats until the first of the song."""
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
    rehearsing: bool = False
    """The feet are shown around the beat."""
    feet: tuple[int, ...] = ()
    """How many milliseconds after (negative: before) the beat the latest pedal notes fell, oldest first, at most twelve."""
    words: tuple[str, ...] = ()
    next_words: tuple[str, ...] = ()
    fullness: int = 2
    lift: int = 0
    """Semitones up from the route's key by nods."""
    out: bool = False
    """The figure is silent (a nod, or the player's own hand)."""
    asked: tuple[str, ...] = ()
    """Nods taken that wait for their bar line, in words."""
    underscore: int | None = None
    """Whole seconds since an underscore began; None where there is none."""
    sounding: int = 0
    """How many notes of ours sound now."""
    take: str = ""
    """Where the take is written."""
    origins: tuple[tuple[str, str, str], ...] = ()
    """Settings as (name, value, where it came from)."""
    muted: bool = False
    """The click is silent by a nod."""
    bench: tuple[str, ...] = ()
    """What a bench check has found so far, a line each; empty where none was asked for."""
    bench_asks: str = ""
    """What it asks now; empty where it is done."""
    item: str = ""
    """Of a service: which item this is, "3 of 8"; empty for a song alone."""
    following: str = ""
    """The item after it."""
    first_of: str = ""
    """Before the first note: the song whose tempo and pedal note these are, this one or the next."""
    first_tempo: str = ""
    first_pedal: str = ""
    gap: int | None = None
    """Whole seconds left of the gap before this item; None where there is none."""
    page_turner: tuple[tuple[str, str], ...] = ()
    """What keys of the page-turner ask where it is not the cue: (key, nod)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Request:
    """What a desk asks of the band."""

    ask: str
    """"nod" (with ``name``), "cue" (the foot switch, from a page-turner's key), "leave" (end the band process) or
    "bench" (the bench check, with ``name`` "begin", "yes", "no", "pass" or "end")."""
    name: str = ""
    argument: int | None = None


def new_token() -> str:
    """A token for one run of the band."""
    return secrets.token_hex(16)


_NAMES: dict[type, tuple[str, ...]] = {
    kind: tuple(item.name for item in fields(kind)) for kind in (Step, Heard, PortHealth, Picture, Request)
}
_NESTED: dict[str, type] = {"roadmap": Step, "heard": Heard, "ports": PortHealth}
ASKS = ("nod", "cue", "leave", "bench")


def _plain(value: Any) -> dict[str, Any]:
    return {name: getattr(value, name) for name in _NAMES[type(value)]}


def write_line(message: dict[str, Any]) -> bytes:
    """One message as a line of JSON; pictures and requests in it by their field names."""
    return json.dumps(message, default=_plain, ensure_ascii=False, separators=(",", ":")).encode() + b"\n"


def _known(kind: type[T], stated: Any) -> T:
    """The dataclass from a JSON object. Fields we do not know are ignored: the band may be newer than the desk."""
    if not isinstance(stated, dict):
        raise ValueError(f"{kind.__name__} should be a JSON object, not {stated!r}")
    try:
        return kind(**{name: _frozen(stated[name]) for name in _NAMES[kind] if name in stated})
    except TypeError as error:
        raise ValueError(f"{kind.__name__}: {error}") from error


def _frozen(value: Any) -> Any:
    return tuple(_frozen(item) for item in value) if isinstance(value, list) else value


def read_picture(stated: Any) -> Picture:
    """A picture from its JSON object. Raises ValueError where it is none."""
    if not isinstance(stated, dict):
        raise ValueError(f"a picture should be a JSON object, not {stated!r}")
    nested: dict[str, Any] = {
        name: tuple(_known(kind, item) for item in stated[name]) for name, kind in _NESTED.items() if name in stated
    }
    plain = _known(Picture, {name: value for name, value in stated.items() if name not in _NESTED})
    return replace(plain, **nested)


def read_request(stated: Any) -> Request:
    """A request from its JSON object. Raises ValueError saying what would be accepted."""
    request = _known(Request, stated)
    if request.ask not in ASKS:
        raise ValueError(f'"{request.ask}" is not a request; I know {", ".join(ASKS)}')
    if not isinstance(request.name, str):
        raise ValueError(f"the name of a nod is text, not {request.name!r}")
    if request.argument is not None and type(request.argument) is not int:
        raise ValueError(f"the argument of a nod is a whole number, not {request.argument!r}")
    return request
