"""The service file, read strictly.

    title = "Harbour Sunday"
    lead = "feet"                      # for all songs, whatever their charts say

    [[items]]
    tacet = "Prelude"                  # the band is silent: a hymn, a prayer, a sermon

    [[items]]
    chart = "lanterns_on_the_quay.chart"
    key = "Eb"                         # today; the chart is transposed
    tempo = "quarter 88"
    roadmap = ["Intro", "Verse 1", "Chorus   twice", "Ending   wait"]
    notes = "flutes 8', swell box half open"
    gap = "after the blessing"         # words, or seconds that the desk counts down

Instead of a whole roadmap, ``omit`` and ``add`` name stanzas ("Verse 2", or 2), and ``last = "up a tone"`` lifts the last
stanza and what follows it. Chart files are looked for beside the service file.
"""

from __future__ import annotations

import datetime
import difflib
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from charts.directions import read_step
from charts.errors import ChartError, Problem
from charts.key import Key, read_key
from charts.lines import Line, Problems
from liveassist.settings import check

TACET, CHART = "tacet", "chart"
SETTINGS = ("lead", "patience", "fullness", "feel")
"""What a song may set for the band, and the service for all its songs."""
CONSOLE = frozenset({"divisions", "parts", "switches"})
"""What a console profile has, and no service."""
SERVICE_FIELDS = ("title", "date", "room", *SETTINGS, "items")
TACET_FIELDS = (TACET, "notes", "gap")
SONG_FIELDS = (CHART, "key", "tempo", "roadmap", "omit", "add", "last", "notes", "gap", *SETTINGS)
LONGEST_GAP = 3600
"""Seconds."""
LARGEST = 1_000_000
"""Bytes; no order of service is that long."""
_UP = "last"
_HEADING = re.compile(r"\s*\[\[\s*items\s*\]\]")


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One thing in the order of the service: a song, or something for which the band is tacet."""

    number: int
    """From 1."""
    line: int = 0
    """Where it begins in the file, 0 where that is not known."""
    tacet: str = ""
    """What it is while the band is tacet; empty for a song."""
    chart: str = ""
    """Name of the chart's file, as written; empty while the band is tacet."""
    key: Key | None = None
    """The key of the day."""
    tempo: str = ""
    """As the notation writes it; it is read once the chart's meter is known."""
    roadmap: tuple[str, ...] = ()
    """Lines of the roadmap of the day."""
    omit: tuple[str, ...] = ()
    """Stanzas to leave out: names of sections, or numbers as text."""
    add: tuple[str, ...] = ()
    """Stanzas to add, each once."""
    last: int = 0
    """Half steps by which the last stanza and what follows it are lifted."""
    notes: str = ""
    """First registration, and whatever else is to be known before the first note."""
    gap: str = ""
    """What comes before it: words, or seconds ("20 s")."""
    seconds: float = 0.0
    """Those seconds; 0 where the gap is said in words."""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """What it sets for the band."""

    @property
    def name(self) -> str:
        """How messages call it."""
        return self.tacet or Path(self.chart).stem


@dataclass(frozen=True, kw_only=True, slots=True)
class Service:
    """A service as written."""

    title: str
    date: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """For all songs, whatever their charts say; an item may say otherwise."""
    items: tuple[Item, ...]
    source: str = ""
    """Name of the file."""
    text: str = field(default="", repr=False)
    """Of the file."""

    def where(self, item: Item, name: str = "") -> str:
        """The place of an item, or of a field of it, for messages."""
        return _where(self.source, item.number, item.name, name)


def _where(source: str, number: int, called: str, name: str = "") -> str:
    item = f"item {number}" + (f" ({called})" if called else "")
    return ", ".join(filter(None, [source, item, name]))


def read_service_file(path: str | Path) -> tuple[Service, tuple[Problem, ...]]:
    """A service from a file, with everything found wrong. Raises ChartError where the file cannot be read at all."""
    path = Path(path)
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST + 1)
    except FileNotFoundError:
        raise ChartError.at(0, 0, "there is no such file; I need a service, *.toml", str(path)) from None
    except OSError as error:
        raise ChartError.at(0, 0, f"this cannot be opened: {error.strerror}", str(path)) from None
    if len(raw) > LARGEST:
        raise ChartError.at(0, 0, "this is far too long for a service", str(path))
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise ChartError.at(
            0, 0, f"this is not a text file in UTF-8 (byte {error.start + 1}); save it as UTF-8", str(path)
        ) from None
    return read_service(text, path.name)


def read_service(text: str, source: str = "") -> tuple[Service, tuple[Problem, ...]]:
    """A service, and everything found wrong in it. What is wrong with one field hides no other.

    Raises ChartError where the text is no TOML.
    """
    try:
        stated = tomllib.loads(text)
    except (ValueError, RecursionError) as error:  # also numbers and nesting beyond what Python reads
        place = re.search(r"\(at line (\d+), column (\d+)\)", str(error))
        line, column = (int(place[1]), int(place[2])) if place else (0, 0)
        said = re.sub(r"\s*\(at [^)]*\)", "", str(error))
        message = f"this is not TOML: {said}; names and words stand in quotes, lists in [ ], and an item begins with [[items]]"
        raise ChartError.at(line, column, message, source) from None
    reader = _Reader(source)
    found = reader.service(stated, [n for n, row in enumerate(text.splitlines(), 1) if _HEADING.match(row)])
    return replace(found, text=text), tuple(reader.problems)


class _Reader:
    """Reads fields, and keeps what is wrong with them."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.problems: list[Problem] = []
        self._where = source
        self._line = 0

    def service(self, stated: Mapping[str, Any], lines: Sequence[int]) -> Service:
        if not stated.keys() & set(SERVICE_FIELDS[:2]) and "items" not in stated:
            if stated.keys() & CONSOLE:
                message = "this is a console profile, and no service; liveassist console check FILE tries it"
            else:
                message = (
                    "this is no service: it has no items; each begins with [[items]], below it "
                    'chart = "..." or tacet = "..."'
                )
            raise ChartError.at(0, 0, message, self.source)
        self._known(stated, SERVICE_FIELDS)
        title = self.words(stated, "title")
        date = stated.get("date", "")
        if not isinstance(date, str | datetime.date):
            self.wrong("date", f"{date!r} is not a date; write it as 2031-05-04, or in words between quotes")
        settings = self.settings(stated, (*SETTINGS, "room"))
        rows = stated.get("items", [])
        if not isinstance(rows, list) or not all(isinstance(row, dict) for row in rows):
            self.wrong("items", "each item begins with a line [[items]]")
            rows = []
        elif not rows:
            self.wrong("items", 'a service has items: a line [[items]], and below it chart = "..." or tacet = "..."')
        placed = list(lines) if len(lines) == len(rows) else [0] * len(rows)
        items = [self.item(number, row, placed[number - 1]) for number, row in enumerate(rows, 1)]
        shown = date.isoformat() if isinstance(date, datetime.date) else str(date)
        return Service(
            title=title or Path(self.source).stem.replace("_", " "),
            date=shown,
            settings=settings,
            items=tuple(items),
            source=self.source,
        )

    def item(self, number: int, stated: Mapping[str, Any], line: int) -> Item:
        called = next((stated[name] for name in (TACET, CHART) if isinstance(stated.get(name), str)), "")
        self._where = _where(self.source, number, Path(called).stem if CHART in stated else called)
        self._line = line
        kinds = [name for name in (CHART, TACET) if name in stated]
        if len(kinds) != 1:
            how = "both" if kinds else "neither"
            self.wrong("", f'an item has either chart = "song.chart" or tacet = "Prayer"; this one has {how}')
        elif not self.words(stated, kinds[0], told=False):
            self.wrong(kinds[0], "this wants words in quotes")
        self._known(stated, TACET_FIELDS if kinds == [TACET] else SONG_FIELDS)
        gap, seconds = self.gap(stated.get("gap", ""))
        item = Item(number=number, line=line, notes=self.words(stated, "notes"), gap=gap, seconds=seconds)
        if kinds == [TACET]:
            return replace(item, tacet=self.words(stated, TACET, told=False))
        roadmap = self.lines(stated.get("roadmap", ()), "roadmap", numbers=False)
        changed = [name for name in ("omit", "add") if name in stated]
        if "roadmap" in stated and changed:
            self.wrong(changed[0], "with a roadmap of the day there is nothing to omit or add: write it as it is to be")
        return replace(
            item,
            chart=self.words(stated, CHART, told=False),
            key=self.key(stated.get("key")),
            tempo=self.tempo(stated.get("tempo", "")),
            roadmap=roadmap,
            omit=self.lines(stated.get("omit", ()), "omit", numbers=True),
            add=self.lines(stated.get("add", ()), "add", numbers=True),
            last=self.last(stated.get("last", "")),
            settings=self.settings(stated, SETTINGS),
        )

    # -- fields -------------------------------------------------------------------------------------------------------

    def wrong(self, name: str, message: str) -> None:
        where = f"{self._where}, {name}" if name else self._where
        self.problems.append(Problem(line=self._line, column=0, message=message, source=where))

    def _known(self, stated: Mapping[str, Any], names: Sequence[str]) -> None:
        for name in stated:
            if name in names:
                continue
            near = difflib.get_close_matches(name, names, n=1)
            advice = f'did you mean "{near[0]}"? ' if near else ""
            if names is TACET_FIELDS and name in SONG_FIELDS:
                advice = "the band is tacet here; "
            self.wrong(name, f"this is nothing I know here; {advice}I can read {', '.join(names)}")

    def words(self, stated: Mapping[str, Any], name: str, *, told: bool = True) -> str:
        value = stated.get(name, "")
        if isinstance(value, str) and "\0" not in value:
            return " ".join(value.split())
        if told:
            self.wrong(name, f"this wants words in quotes, not {value!r}")
        return ""

    def lines(self, value: Any, name: str, *, numbers: bool) -> tuple[str, ...]:
        """A list of lines; a text is read line by line; a number alone is understood where stanzas are meant."""
        rows = value.splitlines() if isinstance(value, str) else [value] if type(value) is int else value
        accepted = (str, int) if numbers else (str,)
        if not isinstance(rows, list | tuple) or any(type(row) not in accepted for row in rows):
            fits = '["Verse 2"] or [2, 4]' if numbers else '["Verse 1", "Chorus   twice", "Ending"]'
            self.wrong(name, f"this wants a list, such as {fits}")
            return ()
        found = tuple(" ".join(str(row).split()) for row in rows)
        return tuple(row for row in found if row)

    def key(self, value: Any) -> Key | None:
        if value is None:
            return None
        try:
            return read_key(str(value))
        except ValueError as error:
            self.wrong("key", str(error))
            return None

    def tempo(self, value: Any) -> str:
        if isinstance(value, str) or (isinstance(value, int | float) and not isinstance(value, bool)):
            return str(value)
        self.wrong("tempo", f'{value!r} is not a tempo; I can read "quarter 92", or a number of counted beats a minute')
        return ""

    def last(self, value: Any) -> int:
        """``"up a tone"`` in half steps."""
        if not value:
            return 0
        problems = Problems()
        step = read_step(Line(1, f"{_UP} {value}"), [_UP], problems)
        if len(problems) or step is None or not step.up or step.places.keys() != {"up"}:
            self.wrong("last", f'"{value}" is no change of key; I can read up a half step, up a tone, down a tone ...')
            return 0
        return step.up

    def gap(self, value: Any) -> tuple[str, float]:
        """In words, and in seconds."""
        if isinstance(value, str):
            return " ".join(value.split()), 0.0
        if isinstance(value, int | float) and not isinstance(value, bool) and 0 <= value <= LONGEST_GAP:
            return f"{value:g} s", float(value)
        self.wrong("gap", f"{value!r} is no gap; I can read words in quotes, or seconds up to {LONGEST_GAP}")
        return "", 0.0

    def settings(self, stated: Mapping[str, Any], names: Sequence[str]) -> dict[str, Any]:
        found = {}
        for name in names:
            if name not in stated:
                continue
            try:
                found[name] = check(name, stated[name], "service")
            except ValueError as error:
                self.wrong(name, str(error).removeprefix("service: "))
        return found
