"""The route as data for programs: what ``liveassist route CHART --json`` prints.

Positions and lengths are quarter notes, exact, as text (``"40"``, ``"129/2"``); a beat is a float in counted beats from 1;
a pitch class is 0 to 11, C being 0; a tempo is counted beats a minute. N.C. has root and bass null and no pitch classes.
"""

from __future__ import annotations

from typing import Any

from charts.chart import Chart, Section
from charts.route import Route, RouteBar, RouteChange


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


def _bpm(quarters: float, counted_beat: float) -> float:
    return round(quarters / counted_beat, 6)
