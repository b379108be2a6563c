"""From a chart to a sheet: its bars in the order written, with their tune and words, for the writers of other formats.

Other formats have no roadmap. Where the chart's order is not the order written, the sections stand as often as they are played,
transposed where the roadmap says so; where there are signs (D.S., coda ...) as well, the route stands bar by bar, without
repeats and signs. What a format cannot say (fuller, thinner, manuals only, wait) is told.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction

from charts.chart import BAR_MARKS, TAG, TAG_END, VAMP, VAMP_END, Bar, Chart, Section, Step, Tempo
from charts.errors import ChartError
from charts.exchange.sheet import Remark, Sheet, SheetBar, SheetChord
from charts.key import Key
from charts.melody import Written, written_melody
from charts.meter import Meter
from charts.roadmap import unfold
from charts.transposing import interval, transposed
from charts.tune import TuneNote

_SIGNS = frozenset(BAR_MARKS) - {TAG, TAG_END, VAMP, VAMP_END}


def sheet_of(chart: Chart) -> Sheet:
    """The sheet. Raises ChartError where the chart cannot be unfolded or its tune cannot be read."""
    remarks: list[Remark] = []
    if not chart.roadmap:
        bars = [bar for section in chart.sections for bar in _section(chart, section, _tune(chart))]
    elif any(set(bar.marks) & _SIGNS for section in chart.sections for bar in section.bars):
        remarks.append(Remark(message="roadmap and signs stand bar by bar, as they are played", lost=False))
        bars = list(_route(chart))
    else:
        bars = list(_by_steps(chart))
    told = {what for step in chart.roadmap for what in _untold(step)}
    if told:
        remarks.append(Remark(message=f"not told in this format: {', '.join(sorted(told))}", lost=False))
    return Sheet(
        title=chart.title,
        key=chart.key,
        meter=chart.meter,
        tempo=_in_counts(chart.tempo, chart.meter),
        notes=chart.notes,
        bars=tuple(_only_changes(bars)),
        remarks=tuple(remarks),
    )


def _in_counts(tempo: Tempo, meter: Meter) -> Tempo:
    """The tempo of a compound meter counted by its units, in these: other formats have no other word for it."""
    if not replace(meter, by_unit=False).compound or not meter.by_unit:
        return tempo
    unit = Fraction(4, meter.unit)
    return Tempo(unit, float(Fraction(tempo.quarter_bpm) / unit))


def _untold(step: Step) -> Iterator[str]:
    for name, value in (
        ("fuller" if step.fullness > 0 else "thinner", step.fullness),
        ("manuals only", step.manuals_only),
        ("wait", step.wait),
        ("out", step.out),
        ("rit.", step.rit),
        ("underscore", step.underscore),
        ("feel", step.feel),
    ):
        if value:
            yield name


def _by_steps(chart: Chart) -> Iterator[SheetBar]:
    moved = {0: (chart, _tune(chart))}
    first = True
    for step in chart.roadmap:
        if step.up not in moved:
            here = transposed(chart, step.up)
            moved[step.up] = here, _tune(here)
        here, tune = moved[step.up]
        section = here.section(step.section)
        for _ in range(step.times):
            bars = _section(here, section, tune)
            # Where the section comes again, the bar before it is whole already.
            yield from bars if first or section.bars[0].number else _without_pickup(bars)
            first = False


def _without_pickup(bars: Sequence[SheetBar]) -> Iterator[SheetBar]:
    """The bars behind a pickup, begun as it begins."""
    if len(bars) < 2:
        return
    pickup, second, *others = bars
    yield replace(
        second,
        heading=pickup.heading,
        key=pickup.key,
        tempo=pickup.tempo,
        new_line=True,
        words=pickup.words or second.words,
    )
    yield from others


def _tune(chart: Chart) -> Written:
    written, problems = written_melody(chart)
    if problems:
        raise ChartError(*problems)
    return written


def _section(chart: Chart, section: Section, tune: Written) -> list[SheetBar]:
    found = []
    for index, bar in enumerate(section.bars):
        line = not index or bar.line != section.bars[index - 1].line
        found.append(
            replace(
                _bar(bar, tune.get((section.name, bar.number), ())),
                heading=section.name if not index else "",
                new_line=line,
                key=(section.key or chart.key) if not index else None,
                tempo=_in_counts(section.tempo or chart.tempo, section.meter or chart.meter) if not index else None,
            )
        )
    return found


def _bar(bar: Bar, notes: Sequence[TuneNote]) -> SheetBar:
    return SheetBar(
        length=bar.length,
        meter=bar.meter,
        chords=tuple(SheetChord(offset=each.offset, chord=each.chord, marks=each.marks) for each in bar.changes),
        notes=tuple(notes),
        voices=tuple(notes),
        words=bar.words,
        marks=bar.marks,
        opens_repeat=bar.opens_repeat,
        closes_repeat=bar.closes_repeat,
        endings=bar.endings,
        in_endings=bar.in_endings,
        barline=bar.barline,
    )


def _route(chart: Chart) -> Iterator[SheetBar]:
    """The route bar by bar."""
    route = unfold(chart)
    written = _tune(chart)
    bars = {(section.name, bar.number): bar for section in chart.sections for bar in section.bars}
    before = ""
    for each in route.bars:
        section = chart.section(each.section)
        bar = bars[each.id]
        notes = written.get(each.id, ())
        changes = [route.changes[index] for index in each.changes]
        if each.up:
            by = interval(section.key or chart.key, each.key, each.up)
            notes = tuple(
                replace(n, pitch=n.pitch + by.semitones, spelling=n.spelling.transposed(by.steps, by.semitones))
                for n in notes
            )
        plain = replace(_bar(bar, notes), marks=(), opens_repeat=False, closes_repeat=0, endings=(), in_endings=())
        yield replace(
            plain,
            chords=tuple(
                SheetChord(offset=change.position - each.position, chord=change.chord, marks=change.marks)
                for change in changes
            ),
            heading=each.section if before != each.section or each.number <= 1 else "",
            new_line=bool(bar.words or bar.melody) or before != each.section,
            key=each.key,
            tempo=_in_counts(section.tempo or chart.tempo, section.meter or chart.meter),
        )
        before = each.section


def _only_changes(bars: Sequence[SheetBar]) -> Iterator[SheetBar]:
    """The bars with keys and tempi where they change, and at the first bar."""
    key: Key | None = None
    tempo = None
    for bar in bars:
        new_key, new_tempo = bar.key or key, bar.tempo or tempo
        yield replace(bar, key=new_key if new_key != key else None, tempo=new_tempo if new_tempo != tempo else None)
        key, tempo = new_key, new_tempo
