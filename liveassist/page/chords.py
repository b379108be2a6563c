"""Chords in large type: the chart as written, bar by bar, with its words, to be read from a music desk.

Repeats, endings and signs stand as the chart has them, and the roadmap above the first section; nothing is unfolded. A bar is
as wide as it is long, and its chords stand where they fall; ``%`` repeats the bar before, and a stroke goes on with the chord
before. The type is as large as one page allows.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from html import escape
from itertools import groupby

from charts.chart import CODA, HOLD, SEGNO, Bar, Chart, Section
from charts.directions import step_text
from charts.values import tempo_text
from liveassist.page.html import document, shown

_STYLE = """
.chords { line-height: 1.15; }
.chords h1 { font-size: 1.3em; margin: 0; }
.chords .about { font-size: 0.7em; margin: 0.2em 0; }
.chords section { break-inside: avoid; }
.chords h2 { font-size: 0.8em; margin: 0.7em 0 0.2em; }
.chords h2 span { font-weight: normal; font-size: 0.8em; }
.chords .line { display: flex; break-inside: avoid; }
.chords .bar { position: relative; display: flex; padding: 0.2em; border-right: 0.4mm solid; }
.chords .bar.first { border-left: 0.4mm solid; }
.chords .bar.double { border-right: 1.2mm double; }
.chords .bar.final, .chords .bar.closes { border-right: 1.4mm solid; }
.chords .bar.opens { border-left: 1.4mm solid; }
.chords .line.endings .bar { padding-top: 0.8em; }
.chords .bar.told { padding-bottom: 0.8em; }
.chords .bar .end { position: absolute; right: 0.5em; bottom: 0.2em; white-space: nowrap; }
.chords .ending i { position: absolute; top: 0; left: 0; font-size: 0.55em; border-top: 0.3mm solid; padding: 0 1em 0 0.4em; }
.chords .chord { flex: 1 1 0; white-space: nowrap; font-weight: bold; padding-right: 0.25em; }
.chords .dots { font-weight: bold; padding: 0 0.2em 0 0; }
.chords small { display: block; font-size: 0.55em; font-style: italic; font-weight: normal; }
.chords .words { font-size: 0.7em; margin: 0 0 0.1em 0.4em; }
"""
_MUSIC = {SEGNO: "\ue047", CODA: "\ue048", HOLD: "\ue4c0"}
"""Marks with a sign of their own, in SMuFL."""
_BARLINES = {"||": "double", "|]": "final"}
SHORT_LINE = 4
"""Bars: a line with fewer is not stretched over the page."""
LARGEST, SMALLEST = 24.0, 10.0
"""Points."""
WIDTH, HEIGHT = 530.0, 700.0
"""Of a page, in points."""
LETTER = 0.56
"""How wide a letter of a chord is, in ems; a little generous."""


def chords_page(chart: Chart) -> str:
    """The page, as HTML."""
    body = "\n".join(_body(chart))
    fits = min(LARGEST, HEIGHT / _height(chart), WIDTH / _width(chart))
    size = max(SMALLEST, int(fits * 2) / 2)
    return document(
        chart.title, [f'<div class="page chords" style="font-size: {size:g}pt">\n{body}\n</div>'], style=_STYLE
    )


def _height(chart: Chart) -> float:
    """How high the page is, in ems of its chords; a little generous."""
    height = 3.5 + 0.04 * sum(len(step_text(step)) for step in chart.roadmap) / 3
    for section in chart.sections:
        height += 1.8
        for line in _lines(section):
            marked = any(_told_below(bar) for bar in line)
            height += 1.65 + 0.65 * marked + 0.6 * any(bar.endings for bar in line)
            height += 0.95 * len(next((bar.words for bar in line if bar.words), ()))
    return height


def _width(chart: Chart) -> float:
    """How wide the fullest line is, in ems of its chords."""
    return max(_line_width(line) for section in chart.sections for line in _lines(section))


def _line_width(bars: Sequence[Bar]) -> float:
    """A line's bars are as wide as the fullest for its length makes them."""
    lengths = [float(bar.length / bar.meter.bar_length) for bar in bars]
    filled = [
        0.6 + 0.4 * bool(bar.opens_repeat) + sum(0.3 + LETTER * len(change.chord.shown) for change in bar.changes)
        for bar in bars
    ]
    crowded = max(content / length for content, length in zip(filled, lengths, strict=True))
    return max(sum(filled), 0.8 * sum(lengths) * crowded)


def _body(chart: Chart) -> Iterator[str]:
    yield f"<h1>{shown(chart.title)}</h1>"
    about = [chart.key.shown, chart.meter.name, tempo_text(chart.tempo), chart.feel or ""]
    yield f'<p class="about">{shown(", ".join(filter(None, about)))}</p>'
    if chart.notes:
        yield f'<p class="about">{shown(chart.notes)}</p>'
    if chart.roadmap:
        yield f'<p class="about">{shown(" · ".join(_steps(chart)))}</p>'
    for section in chart.sections:
        yield f"<section>\n<h2>{shown(section.name)}{_differs(section)}</h2>"
        for line in _lines(section):
            yield from _line(line)
        yield "</section>"


def _steps(chart: Chart) -> Iterator[str]:
    for step in chart.roadmap:
        name, _, said = step_text(step).partition("    ")
        yield f"{name} ({said})" if said else name


def _differs(section: Section) -> str:
    """What a section has of its own."""
    own = [
        section.key.shown if section.key else "",
        section.meter.name if section.meter else "",
        tempo_text(section.tempo) if section.tempo else "",
        section.feel or "",
    ]
    said = ", ".join(filter(None, own))
    return f" <span>{shown(said)}</span>" if said else ""


def _lines(section: Section) -> list[list[Bar]]:
    """The bars by the lines of the chart."""
    return [list(bars) for _, bars in groupby(section.bars, key=lambda bar: bar.line)]


def _line(bars: Sequence[Bar]) -> Iterator[str]:
    cells = "".join(_bar(bar, first=number == 0) for number, bar in enumerate(bars))
    missing = max(0, SHORT_LINE - len(bars))
    filler = f'<div style="flex: {missing} 1 0"></div>' if missing else ""
    name = "line endings" if any(bar.endings for bar in bars) else "line"
    yield f'<div class="{name}">{cells}{filler}</div>'
    for text in next((bar.words for bar in bars if bar.words), ()):
        yield f'<p class="words">{shown(text)}</p>'


def _bar(bar: Bar, *, first: bool) -> str:
    kinds = {
        "first": first,
        "opens": bar.opens_repeat,
        "closes": bool(bar.closes_repeat),
        "ending": bool(bar.endings),
        "told": bool(_told_of_bar(bar)),
        _BARLINES.get(bar.barline, ""): True,
    }
    name = " ".join(["bar", *(kind for kind, holds in kinds.items() if kind and holds)])
    ending = f"<i>{', '.join(f'{time}.' for time in bar.endings)}</i>" if bar.endings else ""
    opens = '<span class="dots">:</span>' if bar.opens_repeat else ""
    closes = '<span class="dots">:</span>' if bar.closes_repeat else ""
    told = _told_of_bar(bar)
    end = f'<small class="end">{escape(told)}</small>' if told else ""
    width = float(bar.length / bar.meter.bar_length)
    before = "".join(f"{_sign(mark)} " for mark in bar.marks if mark in _MUSIC)
    return f'<div class="{name}" style="flex: {width:g} 1 0">{ending}{opens}{before}{_chords(bar)}{closes}{end}</div>'


def _chords(bar: Bar) -> str:
    """The chords of a bar, each as wide as it is long."""
    if bar.copies or not bar.changes:
        cells = [("%" if bar.copies else "/", bar.length, "")]
    else:
        ends = [change.offset for change in bar.changes[1:]] + [bar.length]
        cells = [("/", bar.changes[0].offset, "")] if bar.changes[0].offset else []
        for change, end in zip(bar.changes, ends, strict=True):
            hold = _sign(HOLD) if HOLD in change.marks else ""
            told = ", ".join(mark for mark in change.marks if mark != HOLD)
            cells.append((shown(change.chord.shown) + hold, end - change.offset, told))
    return "".join(_cell(*cell) for cell in cells)


def _cell(text: str, length: Fraction, told: str) -> str:
    below = f"<small>{escape(told)}</small>" if told else ""
    return f'<span class="chord" style="flex-grow: {float(length):g}">{text}{below}</span>'


def _told_of_bar(bar: Bar) -> str:
    """The signs of a bar that are words, and how often a repeat is played."""
    times = [f"×{bar.closes_repeat}"] if bar.closes_repeat > 2 and not bar.in_endings else []
    return ", ".join([*(mark for mark in bar.marks if mark not in _MUSIC), *times])


def _told_below(bar: Bar) -> bool:
    """Whether anything stands below a bar's chords."""
    return bool(_told_of_bar(bar)) or any(mark != HOLD for change in bar.changes for mark in change.marks)


def _sign(mark: str) -> str:
    return f'<span class="music">{_MUSIC[mark]}</span>'
