"""The chart notation: reading a chart from text, and writing it.

A chart is a header of ``name = value`` lines, an optional roadmap, and sections of bars with words and melody below
them. The seams: ``lines`` (comments, headings), ``values`` (what stands behind an equals sign), ``directions`` (the
roadmap), ``bars``, ``symbols`` and ``counting`` (bars, what stands in them, where it falls), ``marks``, ``writing``.

Needed are a key and at least one section. A title is taken from the file's name where none is stated, the meter is
then 4/4 and the tempo quarter 84. Everything wrong on the page is reported at once.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import takewhile
from pathlib import Path
from typing import TypeVar

from charts.answer import Answer
from charts.bars import SectionBars
from charts.chart import Chart, Places, Section, Tempo
from charts.chord import Chord, read_chord
from charts.directions import read_step
from charts.errors import ChartError, Problem
from charts.key import Key, read_key
from charts.lines import Block, Line, Problems, divide, lines_of, shortened
from charts.meter import Meter, read_meter
from charts.pitch import Spelling
from charts.values import (
    LEADS,
    PATIENCE,
    RELATIVE_MAJOR,
    one_of,
    read_answer,
    read_count,
    read_pickup,
    read_room,
    read_tempo,
    read_text,
)
from charts.writing import write_chart

__all__ = ["read_as_it_stands", "read_chart", "read_chart_file", "text_of_file", "write_chart"]

DEFAULT_TEMPO = Tempo(Fraction(1), 84.0)
HEADER_NAMES = (
    "title",
    "key",
    "meter",
    "tempo",
    "feel",
    "answer",
    "pickup",
    "count",
    "lead",
    "patience",
    "room",
    "degrees",
    "notes",
)
SECTION_NAMES = ("key", "meter", "tempo", "feel", "answer")
MOST_STRANGE_LINES = 8
OTHER_FILES = {
    "[[items]]": "a whole service",
    "[divisions.": "a console profile",
    "[parts.": "a console profile",
    "[fullness]": "a feel",
}
"""How a line begins that no chart has, and of what kind of file it is."""
"""A text with more of them before anything of a header is stated is no chart."""

_ENTRY = re.compile(r"\s*(?P<name>[^=|]*?)\s*=(?!=)\s*(?P<value>.*)")
_LOST_BAR_LINE = re.compile(r"(?P<cell>[^|]*)\|")

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Entry:
    """A line ``name = value``."""

    value: str
    line: int
    column: int
    """Where the value begins."""


Entries = Mapping[str, Entry]


def read_chart(text: str, source: str = "") -> Chart:
    """Reads a chart. ``source`` is the file's name, for messages and for the title where none is stated.

    Raises ChartError with everything found wrong, in order of place.
    """
    chart, problems = read_as_it_stands(text, source)
    if problems:
        raise ChartError(*problems)
    return chart


def read_as_it_stands(text: str, source: str = "") -> tuple[Chart, tuple[Problem, ...]]:
    """Reads a chart that may not be right yet, with everything found wrong, in order of place. Where a value cannot be
    read, a usual one stands in, so that one thing wrong hides no other.

    Raises ChartError where the text is no chart at all.
    """
    problems = Problems(source)
    header_lines, roadmap_lines, blocks = divide(lines_of(text), problems)
    _refuse_what_is_no_chart(header_lines, bool(blocks or roadmap_lines), source)
    header = _header(header_lines, problems)
    unit = _read(header, "count", read_count, problems)
    meter = _read(header, "meter", _meter_reader(unit), problems) or Meter(4, 4)
    key = _read(header, "key", read_key, problems) or Key(Spelling("C"))
    if "key" not in header:
        problems.add(0, 0, 'the chart states no key; write one at the top, such as "key = D" or "key = F#m"')
    tempo = _read(header, "tempo", lambda value: read_tempo(value, meter), problems) or DEFAULT_TEMPO
    degrees = _read(header, "degrees", one_of("way to count degrees", (RELATIVE_MAJOR,)), problems)
    own = [_own_settings(block, unit, meter, problems) for block in blocks]
    first_meter = (own[0].meter if own else None) or meter
    pickup = _read(header, "pickup", lambda value: read_pickup(value, first_meter), problems) or Fraction(0)
    sections = []
    for index, (block, settings) in enumerate(zip(blocks, own, strict=True)):
        bars = SectionBars(
            settings.meter or meter,
            pickup if index == 0 else Fraction(0),
            _chord_reader(settings.key or key, degrees),
            problems,
            _meter_reader(unit),
        )
        sections.append(_section(block, settings, bars, problems))
    meters = [bar.meter for section in sections for bar in section.bars]
    _check_count(header, unit, [meter, *(settings.meter or meter for settings in own), *meters], problems)
    if not sections:
        problems.add(0, 0, "the chart has no section; bars stand below a section's name: == Verse 1 ==")
    names = [section.name for section in sections]
    steps = [read_step(line, names, problems) for line in roadmap_lines]
    chart = Chart(
        title=_read(header, "title", read_text, problems) or Path(source).stem or "Untitled",
        key=key,
        meter=meter,
        tempo=tempo,
        feel=_read(header, "feel", read_text, problems),
        answer=_read(header, "answer", read_answer, problems),
        pickup=pickup,
        lead=_read(header, "lead", one_of("lead", LEADS), problems),
        patience=_read(header, "patience", one_of("patience", PATIENCE), problems),
        room=_read(header, "room", read_room, problems),
        degrees=degrees,
        notes=_read(header, "notes", read_text, problems) or "",
        roadmap=tuple(step for step in steps if step is not None),
        sections=tuple(sections),
        source=source,
        text=text,
        places=_places(header),
    )
    return chart, problems.found


def read_chart_file(path: str | Path) -> Chart:
    """Reads a chart from a file. Raises ChartError where the file cannot be opened or is not UTF-8 text, too."""
    return read_chart(text_of_file(path), Path(path).name)


def text_of_file(path: str | Path) -> str:
    """The text of a chart's file. Raises ChartError where it cannot be opened or is not UTF-8 text."""
    path = Path(path)
    try:
        raw = path.read_bytes()
    except FileNotFoundError:
        raise ChartError.at(0, 0, "there is no such file", str(path)) from None
    except IsADirectoryError:
        raise ChartError.at(0, 0, "this is a folder; a chart is a text file, *.chart", str(path)) from None
    except OSError as error:
        raise ChartError.at(0, 0, f"this cannot be opened: {error.strerror}", str(path)) from None
    if b"\0" in raw and not raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ChartError.at(0, 0, "this is not a text file; a chart is plain text, UTF-8", path.name)
    try:
        text = raw.decode("utf-8")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8")) + 1
        message = f"this is not UTF-8 text (byte {raw[error.start]:#04x}); save the chart as plain text, UTF-8"
        raise ChartError.at(line, column, message, path.name) from None
    return text


def _refuse_what_is_no_chart(header: Sequence[Line], divided: bool, source: str) -> None:
    """Raises one ChartError for a text of another kind, rather than one for each of its lines: before anything of a
    header is stated stands something else, which is all there is, or too much to be a slip."""
    for line in header:
        for beginning, kind in OTHER_FILES.items():
            if line.content.startswith(beginning):
                message = f"this is {kind}, and no chart: the file of one song is wanted here"
                raise ChartError.at(line.number, line.column, message, source)
    before = list(takewhile(lambda line: not _states_a_header(line), header))
    strange = [line for line in before if not line.content.startswith("|")]
    nothing_else = strange and len(strange) == len(header) and not divided
    if nothing_else or len(strange) > MOST_STRANGE_LINES:
        first = strange[0]
        message = (
            f'this is no chart: it begins "{shortened(first.content)}"; a chart begins with lines such as "key = D", '
            "and its bars stand below the names of sections: == Verse 1 =="
        )
        raise ChartError.at(first.number, first.column, message, source)


def _states_a_header(line: Line) -> bool:
    match = _ENTRY.fullmatch(line.text)
    return match is not None and " ".join(match["name"].casefold().split()) in HEADER_NAMES


def _places(entries: Entries) -> dict[str, tuple[int, int]]:
    return {name: (entry.line, entry.column) for name, entry in entries.items()}


def _entries(lines: Iterable[tuple[Line, re.Match[str]]], known: Sequence[str], problems: Problems) -> dict[str, Entry]:
    """Lines ``name = value`` by name; unknown and doubled names are reported."""
    entries: dict[str, Entry] = {}
    for line, match in lines:
        name = " ".join(match["name"].casefold().split())
        if name not in known:
            problems.add(
                line.number, line.column, f'"{match["name"]}" is not a name I know here; these are: {", ".join(known)}'
            )
        elif name in entries:
            problems.add(line.number, line.column, f'"{name}" is stated already, in line {entries[name].line}')
        else:
            entries[name] = Entry(match["value"].strip(), line.number, match.start("value") + 1)
    return entries


def _header(lines: Iterable[Line], problems: Problems) -> dict[str, Entry]:
    found = []
    for line in lines:
        match = _ENTRY.fullmatch(line.text)
        if match:
            found.append((line, match))
        elif line.content.startswith("|"):
            problems.add(line.number, line.column, "bars stand in a section, below its name: == Verse 1 ==")
        else:
            problems.add(
                line.number,
                line.column,
                f'"{shortened(line.content)}" is no line of the header; before the first section stand lines such as "key = D"',
            )
    return _entries(found, HEADER_NAMES, problems)


def _read(entries: Entries, name: str, read: Callable[[str], T], problems: Problems) -> T | None:
    """The value of an entry, or None where it is not stated or cannot be read (and is reported)."""
    entry = entries.get(name)
    if entry is None:
        return None
    if not entry.value:
        problems.add(entry.line, entry.column, f'"{name}" has no value; write "{name} = ..." or leave the line out')
        return None
    try:
        return read(entry.value)
    except ValueError as error:
        problems.add(entry.line, entry.column, str(error))
        return None


def _meter_reader(unit: int | None) -> Callable[[str], Meter]:
    """Reads a meter, which counts every unit where ``count`` names its unit."""

    def read(text: str) -> Meter:
        meter = read_meter(text)
        return Meter(meter.beats, meter.unit, by_unit=meter.unit == unit)

    return read


def _check_count(header: Entries, unit: int | None, meters: Sequence[Meter], problems: Problems) -> None:
    if unit is not None and all(meter.unit != unit for meter in meters):
        entry = header["count"]
        names = ", ".join(dict.fromkeys(meter.name for meter in meters))
        problems.add(
            entry.line,
            entry.column,
            f'nothing here is written in {entry.value} ({names}); "count = eighths" makes 6/8 count six',
        )


def _chord_reader(key: Key, degrees: str | None) -> Callable[[str], Chord]:
    """Reads one chord symbol or scale degree in a key."""
    tonic = key.tonic.transposed(2, 3) if degrees and key.minor else None
    return lambda text: read_chord(text, key=key, degrees_from=tonic)


@dataclass(frozen=True, slots=True)
class Settings:
    """What a section states before its bars."""

    key: Key | None
    meter: Meter | None
    tempo: Tempo | None
    feel: str | None
    answer: Answer | None
    places: Places


def _own_settings(block: Block, unit: int | None, meter: Meter, problems: Problems) -> Settings:
    found = []
    for line in block.lines:
        if line.content.startswith("|"):
            break
        match = _ENTRY.fullmatch(line.text)
        if match and match["name"].casefold() != "melody":
            found.append((line, match))
    entries = _entries(found, SECTION_NAMES, problems)
    own_meter = _read(entries, "meter", _meter_reader(unit), problems)
    return Settings(
        key=_read(entries, "key", read_key, problems),
        meter=own_meter,
        tempo=_read(entries, "tempo", lambda value: read_tempo(value, own_meter or meter), problems),
        feel=_read(entries, "feel", read_text, problems),
        answer=_read(entries, "answer", read_answer, problems),
        places=_places(entries),
    )


def _section(block: Block, settings: Settings, bars: SectionBars, problems: Problems) -> Section:
    begun = lost = False
    for line in block.lines:
        match = _ENTRY.fullmatch(line.text)
        name = match["name"].casefold() if match else ""
        if line.content.startswith("|"):
            begun = True
            bars.read(line)
        elif not begun and match and name != "melody":
            continue
        elif not begun:
            lost = True
            message = "words and melody stand below the bars they belong to; a line of bars begins with |"
            problems.add(line.number, line.column, message)
        elif match and name == "melody":
            bars.below(melody=match["value"].strip(), line=line.number)
        elif name in SECTION_NAMES:
            problems.add(
                line.number,
                line.column,
                f'"{name} =" stands before the bars of a section; begin a new section to change it',
            )
        elif _lost_barline(line, bars):
            problems.add(line.number, line.column, "this looks like bars, and a line of bars begins with |")
        else:
            bars.below(words=line.content)
    if not (begun or lost):
        problems.add(block.line, block.column, f'"{block.name}" has no bars; write at least one: | D |')
    return Section(
        name=block.name,
        bars=bars.finished(),
        key=settings.key,
        meter=settings.meter,
        tempo=settings.tempo,
        feel=settings.feel,
        answer=settings.answer,
        line=block.line,
        places=settings.places,
    )


def _lost_barline(line: Line, bars: SectionBars) -> bool:
    """Whether a line would be read as bars if it began with a barline; words hardly ever do."""
    if line.content.startswith(":|"):
        return True
    match = _LOST_BAR_LINE.match(line.text)
    return match is not None and bars.readable(match["cell"].rstrip(": "))
