"""The lines of a take: one performance written down event by event, so that it can be replayed exactly.

A take is JSON Lines, UTF-8. The first line is the *header*, with everything that a replay needs; then each line is an event as
the band received it, an action as the band gave it, or something that went wrong::

    {"take": 1, "program": "0.1.0", "started": "...", "title": "...", "chart": "...", "settings": {...}, ...}
    {"event": "key down", "at": 2.0, "heard": 2.0011, "division": "pedal", "key": 43}
    {"action": "note on", "at": 2.0011, "part": "figure", "pitch": 62, "position": "0"}
    {"wrong": "Traceback ..."}

Times are seconds from the start of the take, not rounded: a replay needs them as they were. Positions are exact, as text.
What an event or action holds is read off its dataclass; a new one is a row in ``EVENTS`` or ``ACTIONS``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any

from liveassist.band import events
from liveassist.band.events import Action, Event

VERSION = 1
"""Of the format. Names may be added without a new version; what is there keeps its meaning."""
EVENTS: dict[str, type[Event]] = {
    "key down": events.KeyDown,
    "key up": events.KeyUp,
    "switch": events.SwitchPressed,
    "shoe": events.ShoeMoved,
    "nod": events.Nodded,
    "tempo": events.TempoAsked,
    "division lost": events.DivisionLost,
    "division back": events.DivisionBack,
    "slept": events.Slept,
}
ACTIONS: dict[str, type[Action]] = {
    "note on": events.NoteOn,
    "note off": events.NoteOff,
    "place": events.PlaceIs,
    "beat": events.BeatIs,
    "state": events.StateIs,
    "nod": events.NodTaken,
    "told": events.Told,
}


@dataclass(frozen=True, kw_only=True, slots=True)
class Header:
    """What a replay needs to know, and what a player wants to see of a take."""

    version: int = VERSION
    program: str = ""
    """Version of the program that wrote it."""
    started: str = ""
    """Date and time of day of second 0, ISO 8601."""
    title: str = ""
    chart: str = ""
    """Text of the chart."""
    chart_name: str = ""
    """Name of the chart's file."""
    profile: str = ""
    """Text of the console profile."""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """Every setting, as played."""
    feels: Mapping[str, Any] = field(default_factory=dict)
    """Texts of the player's own feels, by the names of their files."""
    seed: int = 1
    """Of the seeded generator."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Take:
    """A take that has been read."""

    header: Header
    events: tuple[Event, ...]
    """In the order received."""
    actions: tuple[Action, ...] = ()
    """What the band did, in order."""
    remarks: tuple[str, ...] = ()
    """What is odd about the file, for the player."""


# -- lines ----------------------------------------------------------------------------------------------------------

_NAMES: dict[type, str] = {kind: name for rows in (EVENTS, ACTIONS) for name, kind in rows.items()}
_FIELDS: dict[type, tuple[str, ...]] = {kind: tuple(item.name for item in fields(kind)) for kind in (*_NAMES, Header)}


def _time(value: Any) -> float:
    if type(value) not in (int, float) or not math.isfinite(value):
        raise ValueError(f"{value!r} is not a number")
    return float(value)


def _whole(value: Any) -> int:
    if type(value) is not int:
        raise ValueError(f"{value!r} is not a whole number")
    return value


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError(f"{value!r} is not text")
    return value


def _position(value: Any) -> Fraction:
    try:
        return Fraction(_text(value))
    except (ValueError, ZeroDivisionError):
        raise ValueError(f'{value!r} is not a position such as "129/2"') from None


def _table(value: Any) -> Mapping[str, Any]:
    if not isinstance(value, dict):
        raise ValueError(f"{value!r} is not a table")
    return value


_READ: dict[str, Callable[[Any], Any]] = {
    "float": _time,
    "int": _whole,
    "int | None": lambda value: None if value is None else _whole(value),
    "str": _text,
    "Fraction": _position,
    "Mapping[str, Any]": _table,
}
"""How a value is read, by the type that its dataclass states."""


def as_json(thing: Event | Action) -> dict[str, Any]:
    """An event or action as a JSON object."""
    values = ((name, getattr(thing, name)) for name in _FIELDS[type(thing)])
    plain = {name: str(value) if isinstance(value, Fraction) else value for name, value in values}
    return {"event" if isinstance(thing, Event) else "action": _NAMES[type(thing)], **plain}


def header_as_json(header: Header) -> dict[str, Any]:
    """A header as a JSON object."""
    return {"take": header.version, **{name: getattr(header, name) for name in _FIELDS[Header] if name != "version"}}


def as_line(stated: Mapping[str, Any]) -> str:
    return json.dumps(stated, ensure_ascii=False, separators=(",", ":"), allow_nan=False)


def made_of(kind: type, stated: Mapping[str, Any]) -> Any:
    """The dataclass from a JSON object. Names that we do not know are passed over."""
    values = {}
    for item in fields(kind):
        if item.name in stated:
            try:
                values[item.name] = _READ[str(item.type)](stated[item.name])
            except ValueError as error:
                raise ValueError(f'"{item.name}": {error}') from None
    try:
        return kind(**values)
    except TypeError:
        missing = [item.name for item in fields(kind) if item.name not in values]
        raise ValueError(f"{' and '.join(missing)} missing") from None


def from_json(stated: Any) -> Event | Action | None:
    """An event or action from its JSON object; None for a line that is neither. Raises ValueError saying what is wrong."""
    if not isinstance(stated, dict):
        raise ValueError("this is no JSON object")
    if "wrong" in stated:
        return None
    for what, rows in (("event", EVENTS), ("action", ACTIONS)):
        if what in stated:
            if stated[what] not in rows:
                raise ValueError(f'"{stated[what]}" is no {what}; I know {", ".join(rows)}')
            made: Event | Action = made_of(rows[stated[what]], stated)
            return made
    raise ValueError('a line of a take begins with "event", "action" or "wrong"')
