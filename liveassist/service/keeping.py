"""After the service: today's key, tempo and route as a chart's new default.

Only those three are written into the chart's file, each where it stands; registration, settings, comments and everything else
of the chart stay. (Where that cannot be done, it is written anew in the notation's own spelling, with the comments at its
head.) What it was before is kept beside it, under the same name with ``.before`` behind it. It is written whole or not at all.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import count, takewhile
from pathlib import Path

from charts.amending import amended
from charts.chart import Chart
from charts.errors import ChartError
from charts.notation import read_chart
from charts.values import tempo_text
from charts.whole import write_whole
from charts.writing import write_chart
from liveassist.errors import PlayerError
from liveassist.service.file import Service
from liveassist.service.order import Entry, read_entry

BEFORE = ".before"


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """A chart that was otherwise today."""

    path: Path
    text: str
    """Of the chart as it would be from now on."""
    told: str
    """What is new: "Lanterns on the Quay: E♭ major, quarter 88"."""


def changes(service: Service, entries: Sequence[Entry]) -> list[Change]:
    """What could be kept of these songs, by the files as they are now; of a song that comes twice, as it was last."""
    found = {change.path: change for entry in entries for change in _change(service, entry)}
    return list(found.values())


def _change(service: Service, entry: Entry) -> Iterator[Change]:
    if entry.path is None:
        return
    item = replace(entry.item, notes="")
    try:
        now = read_entry(service, item, entry.folder)
    except ChartError:  # it was edited meanwhile, and is not right yet: there is nothing to be kept
        return
    if now.written is None or now.chart is None or now.chart is now.written:
        return
    told = ", ".join(_told(now.written, now.chart))
    if told:
        yield Change(path=entry.path, text=_text(now.written, now.chart), told=f"{entry.title}: {told}")


def _told(before: Chart, after: Chart) -> Iterator[str]:
    if after.key != before.key:
        yield after.key.shown
    if after.tempo != before.tempo:
        yield tempo_text(after.tempo)
    if after.roadmap != before.roadmap:
        yield "another route"


def _text(written: Chart, today: Chart) -> str:
    try:
        return amended(written, today)
    except ValueError:
        return _head(written.text) + write_chart(today)


def _head(text: str) -> str:
    """The comments at the head of a chart."""
    lines = text.removeprefix("\ufeff").splitlines(keepends=True)
    return "".join(takewhile(lambda line: line.lstrip().startswith("#"), lines))


def _names(path: Path) -> Iterator[Path]:
    """Names for what a chart was: song.chart.before, song.chart.before2 ..."""
    yield path.with_name(path.name + BEFORE)
    yield from (path.with_name(f"{path.name}{BEFORE}{number}") for number in count(2))


def keep(change: Change) -> Path:
    """Write a chart. Returns the file in which the chart as it was is kept. Raises PlayerError."""
    read_chart(change.text, change.path.name)
    path = change.path
    before = next(name for name in _names(path) if not name.exists())
    try:
        write_whole(before, path.read_bytes(), over=False)
        write_whole(path, change.text)
    except OSError as error:
        raise PlayerError(f"{path}: cannot be written: {error.strerror}; the chart is as it was") from None
    return before
