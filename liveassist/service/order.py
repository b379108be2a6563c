"""The order of a service: its file and every chart it names, read together."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass, replace
from pathlib import Path

from charts.chart import Chart
from charts.errors import ChartError, Problem
from charts.notation import read_chart, text_of_file
from charts.proof import Reading, music_never_played, proof, proof_text
from charts.roadmap import unfold
from charts.route import Route
from liveassist.service.day import chart_of_the_day
from liveassist.service.file import Item, Service, read_service_file

SUFFIX = ".toml"


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One item, ready to be played."""

    item: Item
    folder: Path = Path()
    """Where the service's file is."""
    path: Path | None = None
    """The chart's file; None while the band is tacet."""
    stamp: tuple[int, ...] = ()
    """The file's time and size when it was read."""
    written: Chart | None = None
    """The chart as it stands in its file."""
    chart: Chart | None = None
    """The chart of the day."""

    @property
    def title(self) -> str:
        return self.chart.title if self.chart is not None else self.item.tacet

    @property
    def route(self) -> Route | None:
        """The chart of the day in the order of playing."""
        return None if self.chart is None else unfold(self.chart)


@dataclass(frozen=True, kw_only=True, slots=True)
class Order:
    """A service and its entries."""

    service: Service
    entries: tuple[Entry, ...]

    @property
    def songs(self) -> tuple[Entry, ...]:
        return tuple(entry for entry in self.entries if entry.chart is not None)


def is_service(path: str | Path) -> bool:
    """Whether a file is a service by its name."""
    return Path(path).suffix.casefold() == SUFFIX


def read_order(path: str | Path) -> Order:
    """A service with its charts. Raises ChartError with everything that keeps it from being played."""
    service, problems = read_service_file(path)
    wrong = list(problems)
    entries = []
    for item in service.items:
        try:
            entries.append(read_entry(service, item, Path(path).parent))
        except ChartError as error:
            wrong += error.problems
    if wrong:
        raise ChartError(*_in_order(service, wrong))
    return Order(service=service, entries=tuple(entries))


def read_entry(service: Service, item: Item, folder: Path) -> Entry:
    """An item with its chart, as the file stands now. Raises ChartError."""
    if not item.chart:
        return Entry(item=item, folder=folder)
    path = folder / item.chart
    stamp = stamp_of(path)
    text = _text(service, item, path)
    written = read_chart(text, path.name)
    unfold(written)
    return Entry(
        item=item,
        folder=folder,
        path=path,
        stamp=stamp,
        written=written,
        chart=chart_of_the_day(item, written, _fields(service, item)),
    )


def stamp_of(path: Path) -> tuple[int, ...]:
    """Time and size of a file; empty where it is not there."""
    try:
        stat = path.stat()
    except OSError:
        return ()
    return stat.st_mtime_ns, stat.st_size


def proof_order(
    path: str | Path,
    *,
    pedals: tuple[int, int] = (36, 67),
    feels: Callable[[Path], Collection[str]] = lambda chart: (),
) -> tuple[Problem, ...]:
    """Everything wrong, or worth a look, in a service and in its charts as written, each chart once.

    Args:
        path: the service file.
        pedals: the lowest and the highest pedal as MIDI key numbers.
        feels: the feels there are for a chart, by its file.
    """
    try:
        service, wrong = read_service_file(path)
    except ChartError as error:
        return error.problems
    found, proofed = list(wrong), set()
    for item in service.items:
        if not item.chart:
            continue
        file = Path(path).parent / item.chart
        try:
            text = _text(service, item, file)
        except ChartError as error:
            found += error.problems
            continue
        known = feels(file)
        found += (each for each in _feel_of_the_day(service, item, known) if each not in found)
        told = proof_text(text, file.name, pedals=pedals, feels=known)
        found += () if file in proofed else told
        proofed.add(file)
        if any(problem.serious for problem in told):
            continue
        written = read_chart(text, file.name)
        try:
            today = chart_of_the_day(item, written, _fields(service, item))
        except ChartError as error:
            found += error.problems
            continue
        found += _of_the_day(today, written, service, item, pedals)
    return _in_order(service, found)


def _feel_of_the_day(service: Service, item: Item, known: Collection[str]) -> Iterator[Problem]:
    """What is wrong with the feel that an item, or the service for all its songs, states."""
    own = "feel" in item.settings
    feel = (item if own else service).settings.get("feel")
    if feel and known and feel.casefold() not in (name.casefold() for name in known):
        line, source = (item.line, service.where(item, "feel")) if own else (0, f"{service.source}, feel")
        message = f'"{feel}" is not a feel I know; liveassist feels lists them'
        yield Problem(line=line, column=0, message=message, source=source)


def _of_the_day(today: Chart, written: Chart, service: Service, item: Item, pedals: tuple[int, int]) -> list[Problem]:
    """What proofing finds in the chart of the day that it does not find in the chart as written. A stanza that is never
    played is left out on purpose."""
    if today is written:
        return []
    reading = Reading(chart=today, route=unfold(today), pedals=pedals, feels=())
    before = {problem.message for problem in (*proof(written, pedals=pedals), *music_never_played(reading))}
    new = (problem for problem in proof(today, pedals=pedals) if problem.message not in before)
    about = {problem.message: problem for problem in new}
    return [replace(problem, line=item.line, column=0, source=service.where(item)) for problem in about.values()]


def _fields(service: Service, item: Item) -> Callable[[str], str]:
    return lambda name: service.where(item, name)


def _text(service: Service, item: Item, path: Path) -> str:
    """The text of an item's chart; what is wrong with its file is told of the item."""
    try:
        return text_of_file(path)
    except ChartError as error:
        where = service.where(item, "chart")
        raise ChartError(
            *(replace(each, source=where, line=item.line, message=f"{path}: {each.message}") for each in error.problems)
        ) from None


def _in_order(service: Service, problems: list[Problem]) -> tuple[Problem, ...]:
    """What is wrong with the service first, by its lines, then its charts one by one."""
    own = [problem for problem in problems if problem.source.startswith(service.source)]
    return (*sorted(own, key=lambda problem: problem.line), *(each for each in problems if each not in own))
