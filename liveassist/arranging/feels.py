"""Feels: named ways of playing the figure, read from data files that a musician can edit.

A feel is one TOML file in ``liveassist/feels``; ``held.toml`` tells its words line by line. A cell is written on a grid:
``x`` an attack, ``-`` the attack before is held, ``.`` a rest; a cell shorter than the bar is played again until the bar is
full. Above it stands a weight for each sign: an organ has no velocity, so a strong attack is one with more voices and a
longer note. Offsets and values are quarter notes from the start of a full bar, exact.

The patterns are common practice, no source; they are written for this project.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from importlib import resources
from types import MappingProxyType
from typing import Any

from charts.meter import Meter, read_meter
from liveassist.arranging.arrangement import FULLNESS
from liveassist.errors import PlayerError

ATTACK, HOLD, REST = "x", "-", "."
STRONG, PLAIN, LIGHT = ">", "-", "."
CHORD = "*"
"""In a broken chord: here the whole chord sounds."""
ANY, BEAT, CHANGE = "any", "beat", "change"
GRIDS = {
    "sixteenth": Fraction(1, 4),
    "eighth": Fraction(1, 2),
    "quarter": Fraction(1),
    "half": Fraction(2),
    "dotted quarter": Fraction(3, 2),
    BEAT: None,
    CHANGE: None,
}
"""What one sign of a cell lasts, in quarter notes; None where meter or change decide."""
TOUCHES = {"held": 1000, "legato": 970, "detached": 750, "short": 500, "very short": 300}
"""Sounding share of the written value, in thousandths (reference figures of our own choice; 1000 fills it)."""
QUARTERS = "quarters"
"""The feel that fits wherever no other does."""
HELD = "held"


class FeelError(PlayerError):
    """A feel's file that cannot be read. The message names file, field and value, and says what would fit."""


@dataclass(frozen=True, slots=True)
class CellAttack:
    """One attack of a cell in a full bar."""

    offset: Fraction
    """Quarter notes from the start of the bar."""
    value: Fraction
    """Written value in quarter notes."""
    weight: str
    """STRONG, PLAIN or LIGHT."""
    voice: int
    """The voice of a broken chord that sounds, from 1 at the bottom; 0 for the chord."""


@dataclass(frozen=True, slots=True)
class Row:
    """A feel at one fullness."""

    cell: str
    voices: int
    light: int
    """Voices on light attacks."""


@dataclass(frozen=True, kw_only=True)
class Feel:
    """A named way of playing the figure."""

    name: str
    about: str
    meters: tuple[str, ...]
    """Names of the meters it fits, or ``any``."""
    default: tuple[str, ...]
    """Names of the meters whose charts get it when they name none."""
    grid: str
    """A name from ``GRIDS``."""
    swing: Fraction
    """Long to short in each pair of the grid: 1 for even notes, 2 for 2:1."""
    touch: str
    """A name from ``TOUCHES``."""
    weight: str
    broken: str
    """For each sign of the cell a voice or ``*``; empty where chords are not broken."""
    rows: Mapping[int, Row]
    """For each fullness."""

    @property
    def held(self) -> bool:
        """One attack for each change."""
        return self.grid == CHANGE

    def fits(self, meter: Meter) -> bool:
        return ANY in self.meters or meter.name in self.meters

    def attacks(self, meter: Meter, fullness: int) -> tuple[CellAttack, ...]:
        """The attacks of a full bar, in order; none for a held feel, whose attacks are the changes themselves."""
        if self.held:
            return ()
        step = GRIDS[self.grid] or meter.counted_beat
        cell, length = self.rows[fullness].cell, meter.bar_length
        signs = cell * int(length / step / len(cell))
        found = []
        for index, sign in enumerate(signs):
            if sign != ATTACK:
                continue
            last = index + 1
            while last < len(signs) and signs[last] == HOLD:
                last += 1
            offset, place = self._place(index, step), index % len(cell)
            # Where the cell is a single beat it knows no bar: the bar's first beat is its strong one.
            strong = self.grid == BEAT and index == 0
            voice = self.broken[place] if self.broken else CHORD
            found.append(
                CellAttack(
                    offset,
                    self._place(last, step) - offset,
                    STRONG if strong else self.weight[place],
                    0 if voice == CHORD else int(voice),
                )
            )
        return tuple(found)

    def _place(self, index: int, step: Fraction) -> Fraction:
        """Where a sign of the cell falls: the second of a swung pair comes late."""
        pair, second = divmod(index, 2)
        return step * 2 * pair + second * step * 2 * self.swing / (self.swing + 1)


@cache
def load_feels() -> Mapping[str, Feel]:
    """All feels that come with the tool, by name. Raises FeelError."""
    found: dict[str, Feel] = {}
    folder = resources.files("liveassist") / "feels"
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if not file.name.endswith(".toml"):
            continue
        feel = read_feel(file.read_text(encoding="utf-8"), source=file.name)
        if feel.name in found:
            raise FeelError(f'{file.name}: name: another feel is called "{feel.name}"; give this one a name of its own')
        found[feel.name] = feel
    return MappingProxyType(found)


def find_feel(name: str) -> Feel | None:
    """The feel of that name, capitals and spaces aside; None where there is none."""
    return load_feels().get(" ".join(name.casefold().split()))


def default_feel(meter: Meter) -> Feel:
    """The feel for a chart that names none, or names one that does not fit this meter."""
    for feel in load_feels().values():
        if meter.name in feel.default:
            return feel
    return load_feels()[QUARTERS]


def feel_for(name: str | None, meter: Meter) -> Feel:
    """The feel of that name where there is one and it fits the meter, else the meter's default."""
    feel = find_feel(name) if name else None
    return feel if feel is not None and feel.fits(meter) else default_feel(meter)


# -- reading --------------------------------------------------------------------------------------------------------

_KINDS: Mapping[str, type] = {
    "name": str,
    "about": str,
    "meters": list,
    "grid": str,
    "touch": str,
    "cell": str,
    "weight": str,
    "fullness": dict,
    "default": list,
    "swing": str,
    "broken": str,
}
_OPTIONAL: Mapping[str, Any] = {"default": [], "swing": "1:1", "broken": ""}
_ROW_KINDS: Mapping[str, type] = {"cell": str, "voices": int, "light": int}
_WORDS = {
    str: 'text in quotes, such as "x-x-"',
    list: 'a list, such as ["4/4"]',
    dict: "a table",
    int: "a whole number",
}


def read_feel(text: str, source: str = "") -> Feel:
    """A feel from the text of its file. Raises FeelError naming file, field, value and what would fit."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise FeelError(f"{source}: {error}" if source else str(error)) from None
    return _Reader(source).feel(data)


class _Reader:
    """Reads one file's data and says where it stumbles."""

    def __init__(self, source: str) -> None:
        self._source = source

    def _wrong(self, field: str, message: str) -> FeelError:
        return FeelError(f"{self._source}: {field}: {message}" if self._source else f"{field}: {message}")

    def _checked(
        self, data: Mapping[str, Any], kinds: Mapping[str, type], optional: Mapping[str, Any], where: str
    ) -> Any:
        for field, value in data.items():
            if field not in kinds:
                raise self._wrong(where + field, f"I do not know this; I know {', '.join(kinds)}")
            if not isinstance(value, kinds[field]) or isinstance(value, bool):
                raise self._wrong(where + field, f"{value!r} does not fit; it takes {_WORDS[kinds[field]]}")
        missing = [field for field in kinds if field not in data and field not in optional]
        if missing:
            raise self._wrong(where + missing[0], f"is missing; it takes {_WORDS[kinds[missing[0]]]}")
        return {**optional, **data}

    def feel(self, data: Mapping[str, Any]) -> Feel:
        given = self._checked(data, _KINDS, _OPTIONAL, "")
        name = " ".join(given["name"].casefold().split())
        if not name or name != given["name"]:
            raise self._wrong("name", f"{given['name']!r} does not fit; small letters and single spaces do")
        for field, known in (("grid", GRIDS), ("touch", TOUCHES)):
            if given[field] not in known:
                raise self._wrong(field, f"{given[field]!r} is not one I know; I know {', '.join(known)}")
        self._check_signs("cell", given["cell"], given["cell"])
        self._check_row("weight", given["weight"], STRONG + PLAIN + LIGHT, given["cell"])
        if given["broken"]:
            self._check_row("broken", given["broken"], CHORD + "1234", given["cell"])
        feel = Feel(
            name=name,
            about=given["about"],
            meters=tuple(given["meters"]),
            default=tuple(given["default"]),
            grid=given["grid"],
            swing=self._swing(given["swing"]),
            touch=given["touch"],
            weight=given["weight"],
            broken=given["broken"],
            rows=self._rows(given["fullness"], given["cell"]),
        )
        self._check_meters(feel)
        return feel

    def _swing(self, text: str) -> Fraction:
        long, colon, short = text.partition(":")
        try:
            ratio = Fraction(long) / Fraction(short)
        except (ValueError, ZeroDivisionError):
            colon, ratio = "", Fraction(1)
        if not colon or not 1 <= ratio <= 4:
            raise self._wrong("swing", f'{text!r} does not fit; long to short does, from "1:1" to "4:1", such as "2:1"')
        return ratio

    def _rows(self, table: Mapping[str, Any], cell: str) -> Mapping[int, Row]:
        levels = [str(level) for level in FULLNESS]
        if sorted(table) != levels:
            raise self._wrong(
                "fullness", f"it has {', '.join(sorted(table)) or 'no rows'}; it takes {', '.join(levels)}"
            )
        rows = {}
        for level in FULLNESS:
            where = f"fullness.{level}."
            if not isinstance(table[str(level)], dict):
                raise self._wrong(where[:-1], "it takes a row such as { voices = 3, light = 2 }")
            row = self._checked(table[str(level)], _ROW_KINDS, {"cell": cell}, where)
            self._check_signs(where + "cell", row["cell"], cell)
            if not 2 <= row["voices"] <= 4:
                raise self._wrong(where + "voices", f"{row['voices']} does not fit; 2, 3 or 4 do")
            if not 2 <= row["light"] <= row["voices"]:
                raise self._wrong(where + "light", f"{row['light']} does not fit; 2 to {row['voices']} (its voices) do")
            rows[level] = Row(row["cell"], row["voices"], row["light"])
        return MappingProxyType(rows)

    def _check_signs(self, field: str, cell: str, model: str) -> None:
        self._check_row(field, cell, ATTACK + HOLD + REST, model)
        if ATTACK not in cell:
            raise self._wrong(field, f"{cell!r} has no attack; write at least one x")
        if cell[0] == HOLD or REST + HOLD in cell:
            raise self._wrong(field, f"{cell!r} holds what was not attacked; - follows an x or another -")

    def _check_row(self, field: str, signs: str, known: str, cell: str) -> None:
        unknown = [sign for sign in signs if sign not in known]
        if unknown or not signs:
            raise self._wrong(field, f"{signs!r} does not fit; the signs are {' '.join(known)}")
        if len(signs) != len(cell):
            raise self._wrong(
                field, f"{signs!r} has {len(signs)} signs and the cell has {len(cell)}; write {len(cell)}"
            )

    def _check_meters(self, feel: Feel) -> None:
        """The cell goes into the bar of each meter, and gives it enough attacks."""
        size = len(feel.rows[1].cell)
        free = feel.grid in (BEAT, CHANGE)
        if free and size > 1:
            raise self._wrong("cell", f"{feel.rows[1].cell!r} does not fit the grid {feel.grid}; a single x does")
        if not feel.meters or (ANY in feel.meters) != free:
            fits = '["any"]' if free else 'the meters it fits, such as ["4/4", "2/4"]'
            raise self._wrong("meters", f"{list(feel.meters)!r} does not go with the grid {feel.grid}; it takes {fits}")
        for field, names in (("meters", feel.meters), ("default", feel.default)):
            for name in names:
                if name != ANY or field == "default":
                    self._check_meter(feel, field, name)

    def _check_meter(self, feel: Feel, field: str, name: Any) -> None:
        try:
            meter = read_meter(str(name))
        except ValueError as error:
            raise self._wrong(field, str(error)) from None
        if field == "default" and not feel.fits(meter):
            raise self._wrong(field, f"{name} is not among its meters, which are {', '.join(feel.meters)}")
        step = GRIDS[feel.grid]
        if step is None:
            return
        cell = step * len(feel.rows[1].cell)
        if (meter.bar_length / cell).denominator != 1:
            raise self._wrong(
                field, f"a bar of {name} has {meter.bar_length} quarter notes, and the cell of {cell} does not fill it"
            )
        for level in FULLNESS[1:]:
            if len(feel.attacks(meter, level)) < 2:
                raise self._wrong(
                    f"fullness.{level}", f"a bar of {name} gets fewer than two attacks; from fullness 2 it needs two"
                )
