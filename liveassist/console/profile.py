"""The console profile: the player's instrument in one TOML file, read and written.

``_TABLES`` says which names each table of the file knows and what each accepts; reader and error texts are made from it.
Everything wrong is told at once. What the player must never do by a slip of the pen is refused: a part on the melody
manual, a click on an organ division (see ``instrument.contradictions``).
"""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import fields
from typing import Any

from liveassist.band.events import DIVISIONS
from liveassist.band.kit import KEYS
from liveassist.console.instrument import (
    ASKS,
    COMPASSES,
    FARTHEST_SHIFT,
    KEYED,
    LONGEST_DELAY,
    OUTPUT_PARTS,
    PAGE_KEYS,
    PLAIN,
    SILENCERS,
    UNITS,
    WAYS,
    ClockPorts,
    Coupler,
    Division,
    Part,
    Profile,
    Shoe,
    Switch,
    cautions,
    contradictions,
)
from liveassist.errors import PlayerError
from liveassist.settings import check

__all__ = ["PLAIN", "Profile", "ProfileError", "cautions", "read_profile", "write_profile"]


class ProfileError(PlayerError):
    """A console profile that cannot be used. ``problems`` holds everything found."""

    def __init__(self, *problems: str) -> None:
        self.problems = problems
        super().__init__("\n".join(problems))


# -- what each name accepts -----------------------------------------------------------------------------------------

Check = Callable[[Any], Any]
"""The value as kept, or ValueError with what would be accepted."""


def _whole(low: int, high: int, what: str) -> Check:
    def checked(value: Any) -> int:
        if type(value) is not int or not low <= value <= high:
            raise ValueError(f"{what} from {low} to {high}")
        return value

    return checked


def _number(low: float, high: float, what: str) -> Check:
    def checked(value: Any) -> float:
        if type(value) not in (int, float) or not low <= value <= high:
            raise ValueError(f"{what} from {low:g} to {high:g}")
        return float(value)

    return checked


def _one_of(*choices: str) -> Check:
    def checked(value: Any) -> str:
        if value not in choices:
            raise ValueError(f"one of {', '.join(choices)}")
        return str(value)

    return checked


def _text(value: Any) -> str:
    if not isinstance(value, str):
        raise ValueError('text, in quotation marks: "Great"')
    return value


def _yes_or_no(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("true or false")
    return value


def _keys(value: Any) -> tuple[int, int]:
    whole = isinstance(value, list) and len(value) == 2 and all(type(key) is int and 0 <= key <= 127 for key in value)
    if not whole or value[0] > value[1]:
        raise ValueError("the lowest and the highest key, 0 to 127, as in [36, 67]")
    return value[0], value[1]


def _silencers(value: Any) -> tuple[int, ...]:
    if not isinstance(value, list) or any(number not in SILENCERS for number in value):
        raise ValueError("a list of 120 (all sound off) and 123 (all notes off), or []; nothing else is ever sent")
    return tuple(dict.fromkeys(value))


def _pads(value: Any) -> tuple[int, ...]:
    if not isinstance(value, list) or any(type(key) is not int or not 0 <= key <= 127 for key in value):
        raise ValueError("a list of the keys that the pad sends, 0 to 127, as in [36, 35]")
    return tuple(dict.fromkeys(value))


CHANNEL = _whole(1, 16, "a channel")
NUMBER = _whole(0, 127, "a MIDI number")

_TABLES: dict[str, dict[str, Check]] = {
    "division": {"port": _text, "channel": CHANNEL, "compass": _keys, "cue_keys": _keys},
    "part": {
        "port": _text,
        "channel": CHANNEL,
        "delay": _number(0.0, LONGEST_DELAY, "milliseconds"),
        "silencers": _silencers,
    },
    "switch": {
        "what": _one_of(*ASKS),
        "port": _text,
        "channel": CHANNEL,
        **dict.fromkeys(WAYS, NUMBER),
        "rest": _one_of("open", "closed"),
        "latching": _yes_or_no,
        "argument": _whole(0, 127, "a number"),
        "unit": _one_of(*UNITS),
    },
    "coupler": {
        "pressed": _one_of(*KEYED),
        "brings": _one_of(*KEYED),
        "shift": _whole(-FARTHEST_SHIFT, FARTHEST_SHIFT, "half steps"),
    },
    "shoe": {"port": _text, "channel": CHANNEL, "control": NUMBER},
    "kit": dict.fromkeys(KEYS, _pads),
    "clock": {"sends": _text, "hears": _text},
    "page_turner": dict.fromkeys(PAGE_KEYS, _one_of(*ASKS)),
    "console": {"name": _text, "velocity": _whole(1, 127, "a velocity")},
}
_PLURALS = {"switch": "switches", "coupler": "couplers"}
_TOP = (
    *("name", "velocity", "divisions", "parts", "switches", "couplers"),
    *("page_turner", "shoe", "kit", "clock", "settings"),
)


class _Reading:
    """The tables of a file as they are read, and the problems found on the way."""

    def __init__(self, source: str) -> None:
        self._source = source
        self.problems: list[str] = []

    def wrong(self, text: str) -> None:
        self.problems.append(f"{self._source}: {text}" if self._source else text)

    def table(self, stated: Any, what: str, where: str, needed: tuple[str, ...] = ()) -> dict[str, Any] | None:
        """The values of one table, or None where something in it is wrong."""
        rules = _TABLES[what]
        if not isinstance(stated, dict):
            self.wrong(f"{where} = {_shown(stated)}: this is a table, with {', '.join(rules)}")
            return None
        before, values = len(self.problems), {}
        for name, value in stated.items():
            at = f"{where}.{name}" if where else name
            if name not in rules:
                self.wrong(f'{at} = {_shown(value)}: there is no "{name}" here; I know {", ".join(rules)}')
                continue
            try:
                values[name] = rules[name](value)
            except ValueError as error:
                self.wrong(f"{at} = {_shown(value)}: it takes {error}")
        for name in needed:
            if name not in stated:
                self.wrong(f'{where}: "{name}" is missing')
        return values if len(self.problems) == before else None

    def named(self, stated: Any, what: str, where: str, names: tuple[str, ...]) -> Iterator[tuple[str, dict[str, Any]]]:
        """The tables in a table of tables, each under one of some names."""
        if not isinstance(stated, dict):
            self.wrong(f"{where} = {_shown(stated)}: these are tables, as in [{where}.{names[0]}]")
            return
        for name, inner in stated.items():
            if name not in names:
                self.wrong(f'{where}.{name}: there is no "{name}" here; I know {", ".join(names)}')
                continue
            values = self.table(inner, what, f"{where}.{name}", ("channel",))
            if values is not None:
                yield name, values

    def listed(self, stated: Any, what: str, needed: tuple[str, ...]) -> Iterator[tuple[str, dict[str, Any]]]:
        """The tables in a list of tables: where each stands, and its values."""
        plural = _PLURALS[what]
        if not isinstance(stated, list):
            self.wrong(f"{plural} = {_shown(stated)}: begin each {what} with a line [[{plural}]]")
            return
        for number, inner in enumerate(stated, 1):
            where = f"{plural}, number {number}"
            values = self.table(inner, what, where, needed)
            if values is not None:
                yield where, values

    def switches(self, stated: Any) -> Iterator[Switch]:
        for where, values in self.listed(stated, "switch", ("what", "channel")):
            ways = [way for way in WAYS if way in values]
            if len(ways) != 1:
                found = " and ".join(ways) or "none of them"
                self.wrong(f"{where}: it needs one of {', '.join(WAYS)} with its number, and has {found}")
                continue
            yield Switch(by=ways[0], number=values.pop(ways[0]), **values)

    def settings(self, stated: Any) -> dict[str, Any]:
        if not isinstance(stated, dict):
            self.wrong(f"settings = {_shown(stated)}: this is a table of settings")
            return {}
        values = {}
        for name, value in stated.items():
            try:
                values[name] = check(name, value, f"settings.{name} = {_shown(value)}")
            except ValueError as error:
                self.wrong(str(error))
        return values


def _shown(value: Any) -> str:
    """A value as it stands in the file, shortened."""
    text = json.dumps(value, ensure_ascii=False, default=str)
    return text if len(text) <= 40 else f"{text[:37]}..."


def read_profile(text: str, source: str = "") -> Profile:
    """A profile from the text of its file.

    Args:
        text: TOML.
        source: name of the file, for messages.
    Raises:
        ProfileError: with everything that is wrong, each with file, name, value and what would be accepted.
    """
    reading = _Reading(source)
    try:
        stated = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers and nesting beyond what Python reads
        reading.wrong(f"this is no TOML: {error}")
        raise ProfileError(*reading.problems) from None
    for name in stated:
        if name not in _TOP:
            reading.wrong(f'{name}: there is no "{name}" here; I know {", ".join(_TOP)}')
    console = reading.table({name: stated[name] for name in ("name", "velocity") if name in stated}, "console", "")
    divisions = {
        name: Division(**{"compass": COMPASSES[name], **values})
        for name, values in reading.named(stated.get("divisions", {}), "division", "divisions", DIVISIONS)
    }
    parts = {
        name: Part(**values) for name, values in reading.named(stated.get("parts", {}), "part", "parts", OUTPUT_PARTS)
    }
    shoe = reading.table(stated["shoe"], "shoe", "shoe", ("channel",)) if "shoe" in stated else None
    clock = reading.table(stated["clock"], "clock", "clock") if "clock" in stated else None
    profile = Profile(
        divisions=divisions,
        parts=parts,
        switches=tuple(reading.switches(stated.get("switches", []))),
        couplers=tuple(
            Coupler(**values)
            for _, values in reading.listed(stated.get("couplers", []), "coupler", ("pressed", "brings"))
        ),
        page_turner=reading.table(stated.get("page_turner", {}), "page_turner", "page_turner") or {},
        shoe=Shoe(**shoe) if shoe else None,
        kit=reading.table(stated.get("kit", {}), "kit", "kit") or {},
        clock=ClockPorts(**clock) if clock else None,
        settings=reading.settings(stated.get("settings", {})),
        **(console or {}),
    )
    for problem in contradictions(profile):
        reading.wrong(problem)
    if reading.problems:
        raise ProfileError(*reading.problems)
    return profile


# -- writing --------------------------------------------------------------------------------------------------------


def write_profile(profile: Profile) -> str:
    """The text of a profile; reading it gives the same profile. What is as usual is left out."""
    rows = [f"{name} = {_toml(value)}" for name, value in _stated(profile, ("name", "velocity"))]
    for heading, tables in (("divisions", profile.divisions), ("parts", profile.parts)):
        for name, table in tables.items():
            rows += ["", f"[{heading}.{name}]", *_rows(table)]
    for switch in profile.switches:
        rows += ["", "[[switches]]", f"what = {_toml(switch.what)}", f"{switch.by} = {switch.number}"]
        rows += [row for row in _rows(switch) if row.split(" = ")[0] not in ("what", "by", "number")]
    for coupler in profile.couplers:
        rows += ["", "[[couplers]]", *_rows(coupler)]
    for heading, values in (("page_turner", profile.page_turner), ("kit", profile.kit), ("settings", profile.settings)):
        if values:
            rows += ["", f"[{heading}]", *(f"{name} = {_toml(value)}" for name, value in values.items())]
    if profile.shoe is not None:
        rows += ["", "[shoe]", *_rows(profile.shoe)]
    if profile.clock is not None and profile.clock != ClockPorts():
        rows += ["", "[clock]", *_rows(profile.clock)]
    return "\n".join(rows).strip("\n") + "\n"


def _rows(table: Any) -> list[str]:
    return [f"{name} = {_toml(value)}" for name, value in _stated(table, tuple(item.name for item in fields(table)))]


def _stated(table: Any, names: tuple[str, ...]) -> Iterator[tuple[str, Any]]:
    """The fields that are not as usual."""
    for item in fields(table):
        value = getattr(table, item.name)
        if item.name in names and value != item.default:
            yield item.name, value


def _toml(value: Any) -> str:
    """A value in TOML. Its strings are JSON's, but that TOML escapes the delete character too."""
    if isinstance(value, tuple):
        return f"[{', '.join(_toml(item) for item in value)}]"
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")
