"""The melody: the chart's written tune by route position.

A chart has its tune in lines ``melody = ...`` below the bars they belong to; ``charts.tune`` reads them. Here every bar of the
tune is laid upon its bar: a line of tune has as many bars as the line of bars above it, each as long. What a section's tune
states (key, unit note length) holds from line to line to the section's end. In the route the tune is repeated, skipped and
transposed with its bars, an octave up where they go up an octave.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from charts.chart import Bar, Chart, Section
from charts.errors import ChartError, Problem
from charts.pitch import NATURAL, Spelling
from charts.route import Route, RouteBar
from charts.transposing import Interval, interval
from charts.tune import Tune, TuneBar, TuneNote

Written = dict[tuple[str, int], tuple[TuneNote, ...]]
"""For each written bar (section and number) that has a tune, its notes."""


@dataclass(frozen=True, kw_only=True, slots=True)
class MelodyNote:
    """One note as it stands in one bar of the route; a tie may join it to its neighbours."""

    position: Fraction
    """Quarter notes from the start of the route."""
    length: Fraction
    """Quarter notes, as written."""
    pitch: int
    """MIDI key number, as it sounds here: transposed with its bar."""
    spelling: Spelling
    bar: int
    """Index into ``Route.bars``."""
    tied: bool = False
    """It is the note before going on: no new attack."""
    ties: bool = False
    """The next note is this one going on."""

    @property
    def end(self) -> Fraction:
        return self.position + self.length

    @property
    def octave(self) -> int:
        """The octave of its name: middle C is C4, and the B sharp below it B3."""
        return (self.pitch - NATURAL[self.spelling.letter] - self.spelling.alter) // 12 - 1


def melody(route: Route) -> tuple[MelodyNote, ...]:
    """The written tune in the order of playing; empty where the chart has none.

    Raises ChartError with everything that cannot be read or does not add up.
    """
    written, problems = written_melody(route.chart)
    if problems:
        raise ChartError(*problems)
    return _in_route(route, written)


def _in_route(route: Route, written: Written) -> tuple[MelodyNote, ...]:
    notes = [note for bar in route.bars for note in _sounding(bar, written.get(bar.id, ()), _lift(route.chart, bar))]
    return tuple(_tied(notes))


def readable_melody(route: Route) -> tuple[MelodyNote, ...]:
    """As ``melody``, without the lines of tune that cannot be read or do not add up: for playing, where ``proof`` tells."""
    return _in_route(route, written_melody(route.chart)[0])


def joined(notes: Sequence[MelodyNote]) -> tuple[MelodyNote, ...]:
    """The same notes with tied ones made one, each in the bar in which it is struck."""
    whole: list[MelodyNote] = []
    for note in notes:
        if note.tied and whole:
            whole[-1] = replace(whole[-1], length=whole[-1].length + note.length, ties=False)
        else:
            whole.append(replace(note, ties=False))
    return tuple(whole)


def written_melody(chart: Chart) -> tuple[Written, tuple[Problem, ...]]:
    """The tune of every written bar that has one, and what is wrong with the tune."""
    written: Written = {}
    problems: list[Problem] = []
    for section in chart.sections:
        tune = Tune(section.key or chart.key, section.meter or chart.meter)
        for bars in _lines(section):
            if not bars[0].melody:
                continue
            try:
                found = tune.read(bars[0].melody, [bar.length for bar in bars])
            except ValueError as error:
                problems.append(_problem(chart, section, bars[0], f"the melody: {error}"))
                continue
            messages = list(_misfits(section, bars, found))
            problems.extend(_problem(chart, section, bar, message) for bar, message in messages)
            if not messages:
                written |= {(section.name, bar.number): each.notes for bar, each in zip(bars, found, strict=True)}
    return written, tuple(problems)


def _lines(section: Section) -> Iterator[list[Bar]]:
    """The bars of a section as the melody divides them: from one bar that has a tune, or begins a line, to the next."""
    line: list[Bar] = []
    for bar in section.bars:
        if line and (bar.line != line[0].line or bar.melody):
            yield line
            line = []
        line.append(bar)
    if line:
        yield line


def _misfits(section: Section, bars: Sequence[Bar], found: Sequence[TuneBar]) -> Iterator[tuple[Bar, str]]:
    """Bars whose tune does not add up, told."""
    for bar, tune in zip(bars, found, strict=False):
        if tune.length is not None and tune.length != bar.length:
            message = (
                f'the melody does not add up: "{tune.text}" is {_quarters(tune.length)}, and the bar has {bar.length}'
            )
            yield bar, message
    if len(found) != len(bars):
        yield bars[0], f"the melody has {_bars(len(found))}, and the line of bars above it {len(bars)}"


def _quarters(length: Fraction) -> str:
    return f"{length} quarter note{'' if length <= 1 else 's'} long"


def _bars(count: int) -> str:
    return f"{count} bar{'' if count == 1 else 's'}"


def _problem(chart: Chart, section: Section, bar: Bar, message: str) -> Problem:
    where = f"{section.name}, {f'bar {bar.number}' if bar.number else 'the pickup'}"
    line = next((other.melody_line for other in section.bars if other.line == bar.line and other.melody_line), bar.line)
    return Problem(line=line, column=0, message=f"{where}: {message}", source=chart.source)


def _lift(chart: Chart, bar: RouteBar) -> Interval | None:
    """The interval by which the roadmap moves a bar."""
    return interval(chart.section(bar.section).key or chart.key, bar.key, bar.up) if bar.up else None


def _sounding(bar: RouteBar, notes: Sequence[TuneNote], lift: Interval | None) -> Iterator[MelodyNote]:
    for note in notes:
        yield MelodyNote(
            position=bar.position + note.offset,
            length=note.length,
            pitch=note.pitch + (lift.semitones if lift else 0),
            spelling=note.spelling.transposed(lift.steps, lift.semitones) if lift else note.spelling,
            bar=bar.index,
            ties=note.ties,
        )


def _tied(notes: Sequence[MelodyNote]) -> Iterator[MelodyNote]:
    """A tie joins two notes of one pitch that follow each other in the route; others (across a jump, say) lead nowhere."""
    tied = False
    for index, note in enumerate(notes):
        following = notes[index + 1] if index + 1 < len(notes) else None
        holds = note.ties and following is not None and following.pitch == note.pitch and following.position == note.end
        yield replace(note, tied=tied, ties=holds)
        tied = holds
