"""One page for a whole service: what the organist must know of each song if the laptop dies.

For each song in order: key, meter and tempo, the first pedal note, the roadmap, and what the chart notes about registration,
with room to write more. Where the band is tacet, a line says for what.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from charts.chart import Chart, Section
from charts.directions import step_text
from charts.route import Route
from charts.values import tempo_text
from liveassist.page.html import document, shown

_STYLE = """
.overview { line-height: 1.2; }
.overview table { border-collapse: collapse; width: 100%; }
.overview th { text-align: left; font-weight: normal; font-style: italic; }
.overview th, .overview td { border-bottom: 0.3mm solid; padding: 1.5mm 2mm 1.5mm 0; vertical-align: top; }
.overview tr { break-inside: avoid; }
.overview .title { font-weight: bold; }
.overview .song { min-width: 45mm; }
.overview .pedal { font-size: 2em; font-weight: bold; line-height: 1; white-space: nowrap; }
.overview .write { min-width: 38mm; }
"""
_SIZES = ((5, 14), (8, 12), (12, 10))
"""Up to so many songs, in points; more are set in the smallest."""
_SMALLEST = 8.5
TITLE = "Order of songs"


@dataclass(frozen=True, kw_only=True, slots=True)
class Line:
    """One line of the page."""

    title: str
    route: Route | None
    """None where the band is tacet."""
    notes: str = ""
    """First registration; empty: the chart's notes."""
    before: str = ""
    """What comes before it."""
    feel: str = ""
    """The feel of the day; empty: the chart's."""
    today: str = ""
    """What else the service sets for the band in this song."""


def overview_page(items: Sequence[Route | Line], title: str = TITLE) -> str:
    """The page, as HTML."""
    size = next((points for most, points in _SIZES if len(items) <= most), _SMALLEST)
    lines = [item if isinstance(item, Line) else Line(title=item.chart.title, route=item) for item in items]
    rows = "\n".join(_row(number, line) for number, line in enumerate(lines, start=1))
    page = (
        f'<div class="page overview" style="font-size: {size}pt">\n'
        f"{'' if title == TITLE else f'<h1>{shown(title)}</h1>'}<table>\n"
        "<tr><th></th><th>song</th><th>first pedal</th><th>roadmap</th><th>registration</th></tr>\n"
        f"{rows}\n</table>\n</div>"
    )
    return document(title, [page], style=_STYLE)


def _row(number: int, line: Line) -> str:
    head = f'<tr><td>{number}</td><td class="song">{f"<i>{shown(line.before)}</i><br>" if line.before else ""}'
    if line.route is None:
        notes = f'<td class="write">{shown(line.notes)}</td></tr>'
        return f"{head}{shown(line.title)}</td><td></td><td>tacet</td>{notes}"
    chart = line.route.chart
    about = [
        f"{chart.key.shown}, {chart.meter.name}",
        ", ".join(filter(None, [tempo_text(chart.tempo), line.feel or chart.feel])),
        *filter(None, [line.today]),
    ]
    return (
        f'{head}<span class="title">{shown(line.title)}</span><br>'
        f"{'<br>'.join(shown(each) for each in about)}</td>"
        f"<td>{_first_pedal(line.route)}</td><td>{' · '.join(shown(each) for each in roadmap(chart))}</td>"
        f'<td class="write">{shown(line.notes or chart.notes)}</td></tr>'
    )


def _first_pedal(route: Route) -> str:
    """The first note of the feet, and where it comes if not at once."""
    for change in route.changes:
        bass = change.chord.bass
        if bass is None or route.bars[change.bar].manuals_only:
            continue
        bar = route.bars[change.bar]
        where = [f"for {change.chord.shown}"] if change.chord.shown != bass.shown else []
        if change.index:
            where.append(f"in {bar.section}, bar {bar.number}")
        elif bar.number == 0:
            where.append("in the pickup")
        told = f"<br>{shown(', '.join(where))}" if where else ""
        return f'<span class="pedal">{shown(bass.shown)}</span>{told}'
    return "none"


def roadmap(chart: Chart) -> Iterator[str]:
    """The roadmap step by step, with the keys and tempi that sections have of their own; without one the sections as
    written, with the signs that lead elsewhere."""
    if chart.roadmap:
        for step in chart.roadmap:
            name, _, said = step_text(step).partition("    ")
            yield _told(name, [*_own(chart.section(step.section)), said])
        return
    for section in chart.sections:
        yield _told(section.name, [*_own(section), *(mark for bar in section.bars for mark in bar.marks)])


def _own(section: Section) -> list[str]:
    """What the feet must know of a section that differs from the song."""
    return [
        section.key.shown if section.key else "",
        section.meter.name if section.meter else "",
        tempo_text(section.tempo) if section.tempo else "",
    ]


def _told(name: str, said: Sequence[str]) -> str:
    text = ", ".join(filter(None, said))
    return f"{name} ({text})" if text else name
