"""Songs with their tunes in the chart: those that come with a tune have it written out, the others are given one.

A tune that is made up is that of the imagined organist's hands (``liveassist.players.tune``), but the same whenever a section
comes round, as a written tune is. What is written is a bar's notes as they come when it is first played, cut at its end.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

from following_songs import Line, Song

from charts.chart import Bar, Section
from charts.exchange.tune_text import bar_text, usual_unit
from charts.melody import joined, melody
from charts.pitch import simplest
from charts.roadmap import unfold
from charts.route import Route
from charts.tune import TuneNote
from liveassist.players.timing import changes_played, playing_order
from liveassist.players.tune import Stroke, invented

SIXTEENTH = Fraction(1, 4)
"""What is shorter once it is cut at a bar line is left out."""


def in_the_chart(song: Song) -> Song:
    """The same song, its chart with the tune in it, and the tune as the chart has it."""
    route = song.route
    if melody(route):
        return replace(song, tune=_tune(route))
    strokes: list[Stroke] = [(start, start + length, key) for start, length, key in song.tune or ()]
    if song.tune is None:
        changes = changes_played(route, playing_order(route, ()))
        strokes = invented(changes, random.Random(f"tune of {song.name}"))
    written = _by_bar(route, strokes)
    sections = tuple(_with_tune(route, section, written) for section in route.chart.sections)
    route = unfold(replace(route.chart, sections=sections))
    return replace(song, route=route, tune=_tune(route))


def _tune(route: Route) -> Line:
    return tuple((note.position, note.length, note.pitch) for note in joined(melody(route)))


def _by_bar(route: Route, strokes: list[Stroke]) -> dict[tuple[str, int], list[TuneNote]]:
    """For each written bar the notes that begin in it."""
    found: dict[tuple[str, int], list[TuneNote]] = {}
    for bar in route.bars:
        if bar.id in found or bar.up:
            continue
        found[bar.id] = [
            TuneNote(
                offset=start - bar.position,
                length=min(end, bar.end) - start,
                spelling=simplest(key % 12, sharps=bar.key.sharps),
                pitch=key,
                ties=False,
            )
            for start, end, key in strokes
            if bar.position <= start <= bar.end - SIXTEENTH
        ]
    return found


def _with_tune(route: Route, section: Section, written: dict[tuple[str, int], list[TuneNote]]) -> Section:
    chart = route.chart
    key = section.key or chart.key
    unit = usual_unit(section.meter or chart.meter)

    def sung(bar: Bar) -> Bar:
        notes = written.get((section.name, bar.number))
        return bar if notes is None else replace(bar, melody=bar_text(notes, bar.length, key, unit))

    return replace(section, bars=tuple(sung(bar) for bar in section.bars))
