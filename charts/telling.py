"""The route told: as data for programs, which ``liveassist route CHART --json`` prints, and as lines to read.

Positions and lengths are quarter notes, exact, as text (``"40"``, ``"129/2"``); a beat is a float in counted beats from 1;
a pitch class is 0 to 11, C being 0; a tempo is counted beats a minute. N.C. has root and bass null and no pitch classes.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from charts.chart import Chart, Section
from charts.route import Route, RouteBar, RouteChange
from charts.writing import chords_text


def route_as_json(route: Route) -> dict[str, Any]:
    """The chart's header and sections as written, and its bars in the order of playing.

    Names may be added in later versions; those here keep their meaning.
    """
    chart = route.chart
    return {
        "title": chart.title,
        "key": chart.key.name,
        "meter": chart.meter.name,
        "tempo": _bpm(chart.tempo.quarter_bpm, float(chart.meter.counted_beat)),
        "feel": chart.feel,
        "sections": [_section(section, chart) for section in chart.sections],
        "bars": [_bar(bar, route) for bar in route.bars],
    }


def _section(section: Section, chart: Chart) -> dict[str, Any]:
    """A section as written; ``bars`` counts its written bars, a pickup left out."""
    meter = section.meter or chart.meter
    return {
        "name": section.name,
        "bars": sum(bar.number > 0 for bar in section.bars),
        "pickup": any(bar.number == 0 for bar in section.bars),
        "key": (section.key or chart.key).name,
        "meter": meter.name,
        "tempo": _bpm((section.tempo or chart.tempo).quarter_bpm, float(meter.counted_beat)),
        "feel": section.feel or chart.feel,
        "line": section.line,
    }


def _bar(bar: RouteBar, route: Route) -> dict[str, Any]:
    return {
        "section": bar.section,
        "pass": bar.pass_,
        "time": bar.time,
        "bar": bar.number,
        "position": str(bar.position),
        "length": str(bar.length),
        "meter": bar.meter.name,
        "key": bar.key.name,
        "changes": [_change(route.changes[index], bar) for index in bar.changes],
    }


def _change(change: RouteChange, bar: RouteBar) -> dict[str, Any]:
    return {
        "change": change.index,
        "position": str(change.position),
        "beat": float(bar.beat_at(change.position)),
        "chord": change.chord.symbol,
        "root": change.root,
        "bass": change.bass,
        "pitch_classes": sorted(change.chord.pitch_classes),
    }


def route_in_words(route: Route) -> Iterator[str]:
    """The bars in the order of playing, a line each: where it stands in the route, its number, and its chords as the
    notation writes them. The times of an inner repeat are marked where each begins."""
    chart = route.chart
    yield f"{chart.title}: {chart.key.shown}, {chart.meter.name}, {len(route.bars)} bars"
    yield "The first number counts the bars as they are played (for --from-bar), the second within the section."
    before: RouteBar | None = None
    for bar in route.bars:
        begins = before is None or before.step != bar.step
        if begins:
            yield ""
            yield f"{bar.section}{f' (time {bar.pass_})' if bar.pass_ > 1 else ''}"
        another = bar.time > 1 if begins or before is None else bar.time not in (1, before.time)
        chords = [(route.changes[index].offset, route.changes[index].chord.shown) for index in bar.changes]
        text = chords_text(chords, bar.meter, bar.length) or " ".join(shown for _, shown in chords)
        yield f"  {bar.index + 1:>4} {bar.number:>4}  {text}{f'   (repeat, time {bar.time})' if another else ''}"
        before = bar


def _bpm(quarters: float, counted_beat: float) -> float:
    return round(quarters / counted_beat, 6)
