"""Reading a feel's file: everything wrong with it at once, field by field, and what is odd though it can be played.

A file is TOML; its words are told in ``liveassist/feels/held.toml``. What each field takes stands in the tables here. A field
that cannot be read is told once, and what leans on it is not judged.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping, Sequence
from fractions import Fraction
from types import MappingProxyType
from typing import Any

from charts.meter import Meter, read_meter
from liveassist.arranging.arrangement import FULLNESS
from liveassist.arranging.feel import (
    ANY,
    ATTACK,
    BEAT,
    BY_TEMPO,
    CHANGE,
    CHORD,
    ENDINGS,
    GO_ON,
    GRIDS,
    HOLD,
    LEAST_ATTACKS,
    LIGHT,
    PLAIN,
    QUARTERS,
    REST,
    RITARDS,
    STRONG,
    TOUCHES,
    VOICES,
    Feel,
    Row,
)
from liveassist.arranging.swing import EVEN
from liveassist.errors import PlayerError

MOST_SWING = 4
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
    "ending": str,
    "ritard": str,
    "variety": bool,
}
_OPTIONAL: Mapping[str, Any] = {
    "default": [],
    "swing": "1:1",
    "broken": "",
    "ending": GO_ON,
    "ritard": QUARTERS,
    "variety": True,
}
_ROW_KINDS: Mapping[str, type] = {"cell": str, "voices": int, "light": int}
_WORDS: Mapping[type, str] = {
    str: "text in quotes",
    list: 'a list, such as ["4/4"]',
    dict: "a table",
    int: "a whole number",
    bool: "true or false",
}


_EXAMPLES: Mapping[str, str] = {
    "name": "quayside",
    "about": "on the beat, light",
    "grid": "eighth",
    "touch": "short",
    "cell": "x-x-",
    "weight": ">.-.",
    "swing": "2:1",
}
"""For what takes text, one that would do."""


def _takes(field: str, kind: type) -> str:
    """What a field takes."""
    return f'{_WORDS[kind]}, such as "{_EXAMPLES[field]}"' if field in _EXAMPLES else _WORDS[kind]


class FeelError(PlayerError):
    """A feel's file that cannot be read. Each line of the message names file, field and value, and says what would fit."""

    def __init__(self, problems: Sequence[str], source: str = "") -> None:
        self.problems = tuple(f"{source}: {problem}" if source else problem for problem in problems)
        super().__init__("\n".join(self.problems))


def read_feel(text: str, source: str = "") -> Feel:
    """A feel from the text of its file. Raises FeelError with everything that is wrong."""
    try:
        data = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers and nesting beyond what Python reads
        raise FeelError([str(error)], source) from None
    reader = _Reader()
    feel = reader.feel(data)
    if feel is None or reader.problems:
        raise FeelError(reader.problems, source)
    return feel


class _Reader:
    """Reads one file's data and collects where it stumbles."""

    def __init__(self) -> None:
        self.problems: list[str] = []

    def _wrong(self, field: str, message: str) -> None:
        self.problems.append(f"{field}: {message}")

    def _checked(
        self, data: Mapping[str, Any], kinds: Mapping[str, type], optional: Mapping[str, Any], where: str
    ) -> dict[str, Any]:
        """What could be read, by field; fields that could not are told and left out."""
        found = dict(optional)
        for field, value in data.items():
            if field not in kinds:
                self._wrong(where + field, f"I do not know this; I know {', '.join(kinds)}")
                continue
            if type(value) is not kinds[field]:
                self._wrong(where + field, f"{value!r} does not fit; it takes {_takes(field, kinds[field])}")
                found.pop(field, None)
                continue
            found[field] = value
        for field, kind in kinds.items():
            if field not in data and field not in optional:
                self._wrong(where + field, f"is missing; it takes {_takes(field, kind)}")
        return found

    def feel(self, data: Mapping[str, Any]) -> Feel | None:
        """The feel, None where too little could be read to make one."""
        given = self._checked(data, _KINDS, _OPTIONAL, "")
        name = given.get("name", "test")
        if not name or name != " ".join(name.casefold().split()):
            self._wrong("name", f"{name!r} does not fit; small letters and single spaces do")
        for field, known in (("grid", GRIDS), ("touch", TOUCHES)):
            if field in given and given[field] not in known:
                self._wrong(field, f"{given[field]!r} is not one I know; I know {', '.join(known)}")
        swing = self._swing(given["swing"]) if "swing" in given else EVEN
        if "cell" in given:
            self._signs_of(given)
        rows = self._rows(given.get("fullness"), given.get("cell"))
        if self.problems or rows is None:
            return None
        feel = Feel(
            name=given["name"],
            about=given["about"],
            meters=tuple(given["meters"]),
            default=tuple(given["default"]),
            grid=given["grid"],
            swing=swing,
            touch=given["touch"],
            weight=given["weight"],
            broken=given["broken"],
            rows=rows,
            ending=given["ending"],
            ritard=given["ritard"],
            variety=given["variety"],
        )
        self._check_meters(feel)
        return feel

    def _signs_of(self, given: Mapping[str, Any]) -> None:
        """The cell and the rows of signs that go with it."""
        cell = given["cell"]
        self._check_cell("cell", cell, cell)
        if "weight" in given:
            self._check_row("weight", given["weight"], STRONG + PLAIN + LIGHT, cell)
        if given.get("broken"):
            self._check_row("broken", given["broken"], CHORD + "".join(map(str, range(1, VOICES[1] + 1))), cell)
        for field, words in (("ending", ENDINGS), ("ritard", RITARDS)):
            rule = given.get(field, words[0])
            if rule in words:
                continue
            if any(sign not in ATTACK + HOLD + REST for sign in rule) or not rule:
                spoken = ", ".join(f'"{word}"' for word in words)
                self._wrong(field, f"{rule!r} does not fit; {spoken} do, or a cell of the signs x - .")
            else:
                self._check_cell(field, rule, cell)

    def _swing(self, text: str) -> Fraction | None:
        if text == BY_TEMPO:
            return None
        long, colon, short = text.partition(":")
        try:
            ratio = Fraction(long) / Fraction(short)
        except (ValueError, ZeroDivisionError):
            colon, ratio = "", EVEN
        if not colon or not 1 <= ratio <= MOST_SWING:
            fits = f'long to short does, from "1:1" to "{MOST_SWING}:1", such as "2:1"; or "{BY_TEMPO}"'
            self._wrong("swing", f"{text!r} does not fit; {fits}")
        return ratio

    def _rows(self, table: Mapping[str, Any] | None, cell: str | None) -> Mapping[int, Row] | None:
        if table is None or cell is None:
            return None
        levels = [str(level) for level in FULLNESS]
        if sorted(table) != levels:
            self._wrong("fullness", f"it has {', '.join(sorted(table)) or 'no rows'}; it takes {', '.join(levels)}")
            return None
        rows: dict[int, Row] = {}
        fewest, most = VOICES
        for level in FULLNESS:
            where = f"fullness.{level}."
            if not isinstance(table[str(level)], dict):
                self._wrong(where[:-1], "it takes a row such as { voices = 3, light = 2 }")
                continue
            row = self._checked(table[str(level)], _ROW_KINDS, {"cell": cell}, where)
            if row.keys() != _ROW_KINDS.keys():
                continue
            if "cell" in table[str(level)]:
                self._check_cell(where + "cell", row["cell"], cell)
            if not fewest <= row["voices"] <= most:
                self._wrong(where + "voices", f"{row['voices']} does not fit; 2, 3, 4 or 5 do")
            elif not fewest <= row["light"] <= row["voices"]:
                self._wrong(where + "light", f"{row['light']} does not fit; 2 to {row['voices']} (its voices) do")
            rows[level] = Row(row["cell"], row["voices"], row["light"])
        return MappingProxyType(rows)

    def _check_cell(self, field: str, cell: str, model: str) -> None:
        if not self._check_row(field, cell, ATTACK + HOLD + REST, model):
            return
        if ATTACK not in cell:
            self._wrong(field, f"{cell!r} has no attack; write at least one x")
        if cell[0] == HOLD or REST + HOLD in cell:
            self._wrong(field, f"{cell!r} holds what was not attacked; - follows an x or another -")

    def _check_row(self, field: str, signs: str, known: str, cell: str) -> bool:
        if not signs or any(sign not in known for sign in signs):
            self._wrong(field, f"{signs!r} does not fit; the signs are {' '.join(known)}")
            return False
        if len(signs) != len(cell):
            self._wrong(field, f"{signs!r} has {len(signs)} signs and the cell has {len(cell)}; write {len(cell)}")
            return False
        return True

    def _check_meters(self, feel: Feel) -> None:
        """The cell goes into the bar of each meter, and gives it enough attacks."""
        size = len(feel.weight)
        free = feel.grid in (BEAT, CHANGE)
        if free and size > 1:
            self._wrong("cell", f"{feel.rows[1].cell!r} does not fit the grid {feel.grid}; a single x does")
            return
        if not feel.meters or (ANY in feel.meters) != free:
            fits = '["any"]' if free else 'the meters it fits, such as ["4/4", "2/4"]'
            self._wrong("meters", f"{list(feel.meters)!r} does not go with the grid {feel.grid}; it takes {fits}")
            return
        for field, names in (("meters", feel.meters), ("default", feel.default)):
            for name in names:
                if name != ANY or field == "default":
                    self._check_meter(feel, field, name)

    def _check_meter(self, feel: Feel, field: str, name: Any) -> None:
        try:
            meter = read_meter(str(name))
        except ValueError as error:
            self._wrong(field, str(error))
            return
        if field == "default":
            if not feel.fits(meter):
                self._wrong(field, f"{name} is not among its meters, which are {', '.join(feel.meters)}")
            return
        step = GRIDS[feel.grid]
        if step is None:
            return
        cell = step * len(feel.weight)
        if (meter.bar_length / cell).denominator != 1:
            self._wrong(
                field, f"a bar of {name} has {meter.bar_length} quarter notes, and the cell of {cell} does not fill it"
            )
            return
        self._check_attacks(feel, meter)

    def _check_attacks(self, feel: Feel, meter: Meter) -> None:
        """From fullness 2 up every bar has two attacks, a section's last and one in a ritard too."""
        bars = [(f"fullness.{level}", feel.signs(meter, level)) for level in FULLNESS[1:]]
        if feel.ending not in ENDINGS:
            bars.append(("ending", feel.signs(meter, FULLNESS[1], last=True)))
        if feel.ritard not in RITARDS:
            bars.append(("ritard", feel.slowed().signs(meter, FULLNESS[1])))
        for field, signs in bars:
            if signs.count(ATTACK) < LEAST_ATTACKS:
                self._wrong(field, f"a bar of {meter.name} gets fewer than two attacks; from fullness 2 it needs two")
