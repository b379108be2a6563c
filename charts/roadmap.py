"""The roadmap unfolded: from a chart as written to the route, bar by bar in the order of playing.

What is played (common practice, no source, unless the notation says so):

* The steps of the roadmap in order, ``twice`` and ``x3`` being so many steps; without a roadmap the sections in the
  order written. Inside a section its repeats are taken as ``charts.repeats`` says.
* Signs work in that order of steps. A jump (D.S., D.C.) stands behind its bar and is taken once, the last time that
  its bar comes round in the written order. D.S. goes back to the nearest segno before it, D.C. to the beginning.
* After a jump, fine ends the song and "to coda" leads to the coda, each behind its bar; "al coda" waits for the coda
  and "al fine" for the fine, and before any jump both are passed over. The coda is the next bar so marked; where none
  is, the section named Coda. After it, fine still holds.
* What is heard again after a jump is played without its repeats, as the last time round (``time`` says so); what
  lies behind the jump's own sign is new and has its repeats.
* A pickup is played only where the route begins with it. Wherever else its section comes round, the bar before is
  complete already, and a pickup after it would lengthen the time.
* An ``underscore`` is played once here: how often it goes round is the player's to say. It is held unless it names a feel.
* A step's ``rit.`` is for its last time where it is played several times; ``wait`` for each.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from charts.chart import (
    CODA,
    DC,
    DC_AL_CODA,
    DC_AL_FINE,
    DS,
    DS_AL_CODA,
    DS_AL_FINE,
    FINE,
    SEGNO,
    TO_CODA,
    Bar,
    Chart,
    Section,
    Step,
    same_name,
)
from charts.errors import ChartError, Problem
from charts.repeats import rounds
from charts.route import Route, RouteBar, RouteChange
from charts.transposing import Interval, interval

JUMPS = {
    DS: (SEGNO, {TO_CODA, FINE}),
    DS_AL_CODA: (SEGNO, {TO_CODA}),
    DS_AL_FINE: (SEGNO, {FINE}),
    DC: (None, {TO_CODA, FINE}),
    DC_AL_CODA: (None, {TO_CODA}),
    DC_AL_FINE: (None, {FINE}),
}
"""Where each jump leads (None: the beginning) and which signs hold after it."""
LONGEST = 9999
"""Bars. No service is that long: a chart that gives more has a slip in one of its numbers."""
HELD = "held"
"""The feel of an underscore."""
RIT_BARS = 2
"""How many bars a step marked ``rit.`` slows down for."""


@dataclass(frozen=True, slots=True)
class Planned:
    """One bar of the steps written out, before the signs are obeyed."""

    step: int
    """Index into the steps, each time of ``twice`` its own."""
    written: tuple[str, int]
    """The written bar: its section's name and its index there."""
    bar: Bar
    time: int
    last: bool
    """Whether it is played when repeats are not taken."""


Steps = Sequence[tuple[Step, Section]]


def unfold(chart: Chart) -> Route:
    """The chart in the order of playing.

    Raises ChartError where the roadmap names a section that is not there, where a jump finds no segno or coda, where
    there is nothing to play, and where the route would be longer than ``LONGEST`` bars.
    """
    steps = steps_of(chart)
    plan = _plan(chart, steps)
    order = list(_order(chart, plan))
    if not order:
        raise ChartError.at(0, 0, "there are no bars to play; a section has bars such as | D | A |", chart.source)
    if len(order) > LONGEST:
        raise _too_long(chart)
    visits = _visits(plan, order)
    bars: list[RouteBar] = []
    changes: list[RouteChange] = []
    passes: Counter[str] = Counter()
    position = Fraction(0)
    for number, visit in enumerate(visits):
        step, section = steps[visit[0].step]
        passes[section.name] += 1
        model = _step_bar(chart, step, section, number, passes[section.name])
        lift = interval(section.key or chart.key, model.key, step.up) if step.up else None
        for nth, planned in enumerate(visit):
            written = planned.bar
            remaining = len(visit) - nth
            bars.append(
                replace(
                    model,
                    index=len(bars),
                    time=planned.time,
                    number=written.number,
                    position=position,
                    length=written.length,
                    meter=written.meter,
                    wait=step.wait and remaining == 1,
                    rit=step.rit and remaining <= RIT_BARS,
                    marks=written.marks,
                    words=_words(section, written, bars[-1] if nth else None),
                    changes=tuple(range(len(changes), len(changes) + len(written.changes))),
                    starts_section=nth == 0,
                    ends_section=remaining == 1,
                    line=written.line,
                )
            )
            changes.extend(_changes(bars[-1], written, lift))
            position += written.length
    return Route(chart=chart, bars=tuple(bars), changes=_with_lengths(changes, position))


def _words(section: Section, written: Bar, before: RouteBar | None) -> tuple[str, ...]:
    """The words below a bar as it is played: those of its line stand below the first bar of that line that is played, which
    is another one where a repeat or a sign leads into the middle of the line, behind a pickup above all."""
    goes_on = before is not None and before.line == written.line and before.number < written.number
    if written.words or goes_on or not written.line:
        return written.words
    return next(bar.words for bar in section.bars if bar.line == written.line)


def steps_of(chart: Chart) -> list[tuple[Step, Section]]:
    """The steps in order with their sections, ``twice`` and ``x3`` written out."""
    if not chart.roadmap:
        return [(Step(section=section.name, line=section.line), section) for section in chart.sections]
    problems: list[Problem] = []
    steps: list[tuple[Step, Section]] = []
    for step in chart.roadmap:
        try:
            section = chart.section(step.section)
        except KeyError:
            problems.append(
                Problem(line=step.line, column=0, message=unknown_section(chart, step), source=chart.source)
            )
            continue
        if step.times > LONGEST:
            raise _too_long(chart, step.line)
        for time in range(1, step.times + 1):
            steps.append((replace(step, times=1, rit=step.rit and time == step.times), section))
    if problems:
        raise ChartError(*problems)
    return steps


def unknown_section(chart: Chart, step: Step) -> str:
    """What is wrong with a step whose section is not there."""
    names = ", ".join(section.name for section in chart.sections)
    return f'the roadmap asks for "{step.section}", and there is no section of that name; the sections are: {names}'


def _plan(chart: Chart, steps: Steps) -> list[Planned]:
    plan: list[Planned] = []
    for number, (step, section) in enumerate(steps):
        for played in rounds(section.bars):
            written = (section.name, played.bar)
            plan.append(Planned(number, written, section.bars[played.bar], played.time, played.last))
            if len(plan) > LONGEST:
                raise _too_long(chart, step.line)
    return plan


def _too_long(chart: Chart, line: int = 0) -> ChartError:
    message = f"written out, this song has more than {LONGEST} bars; look at the numbers of its repeats (x2, twice)"
    return ChartError.at(line, 0, message, chart.source)


def _order(chart: Chart, plan: Sequence[Planned]) -> Iterator[int]:
    """Indices into the plan in the order of playing, signs obeyed. Ends, because no jump is taken twice."""
    last_time = {planned.written: index for index, planned in enumerate(plan)}
    holding: set[str] = set()
    """Signs that hold, now that a jump has been taken."""
    heard = -1
    """Everything before this place has been heard: no repeats there."""
    taken: set[tuple[tuple[str, int], str]] = set()
    here, begun = 0, False
    while here < len(plan):
        planned = plan[here]
        marks = planned.bar.marks
        if (here < heard and not planned.last) or (begun and planned.bar.number == 0):
            here += 1
            continue
        yield here
        begun = True
        jump = next((mark for mark in marks if mark in JUMPS and (planned.written, mark) not in taken), None)
        if FINE in marks and FINE in holding:
            return
        if TO_CODA in marks and TO_CODA in holding:
            here, holding = _coda(chart, plan, here), {FINE}
        elif jump is not None and here == last_time[planned.written]:
            taken.add((planned.written, jump))
            heard = max(heard, here)
            here, holding = _target(chart, plan, here, jump), JUMPS[jump][1]
        else:
            here += 1


def _target(chart: Chart, plan: Sequence[Planned], here: int, jump: str) -> int:
    """Where a jump leads."""
    sign = JUMPS[jump][0]
    if sign is None:
        return 0
    found = [index for index, planned in enumerate(plan[: here + 1]) if sign in planned.bar.marks]
    if not found:
        raise ChartError.at(plan[here].bar.line, plan[here].bar.column, missing_segno(jump), chart.source)
    return max((index for index in found if plan[index].last), default=found[-1])


def missing_segno(jump: str) -> str:
    """What is wrong with a jump that finds no segno."""
    return f"{jump} goes back to the segno, and no bar before it is marked (segno)"


def _coda(chart: Chart, plan: Sequence[Planned], here: int) -> int:
    """Where "to coda" leads: the next coda, or one before where none follows."""
    codas = coda_bars(chart)
    found = [index for index, planned in enumerate(plan) if planned.written in codas]
    if not found:
        raise ChartError.at(plan[here].bar.line, plan[here].bar.column, MISSING_CODA, chart.source)
    return next((index for index in found if index > here), found[0])


MISSING_CODA = (
    '"to coda" leads to the coda, and no bar is marked (coda), nor is there a section named Coda to be played'
)


def coda_bars(chart: Chart) -> set[tuple[str, int]]:
    """The written bars at which a coda begins: those marked, else the first bar of a section named Coda."""
    marked = {
        (section.name, index)
        for section in chart.sections
        for index, bar in enumerate(section.bars)
        if CODA in bar.marks
    }
    return marked or {(section.name, 0) for section in chart.sections if same_name(section.name, CODA)}


def _visits(plan: Sequence[Planned], order: Sequence[int]) -> list[list[Planned]]:
    """The planned bars in the order of playing, divided where another step begins or a jump leads back."""
    visits: list[list[Planned]] = []
    before = -1
    for index in order:
        planned = plan[index]
        if before < 0 or index <= before or planned.step != plan[before].step:
            visits.append([])
        visits[-1].append(planned)
        before = index
    return visits


def _step_bar(chart: Chart, step: Step, section: Section, number: int, pass_: int) -> RouteBar:
    """What all bars of one time through a section have in common."""
    tempo = section.tempo or chart.tempo
    return RouteBar(
        index=0,
        section=section.name,
        step=number,
        pass_=pass_,
        time=1,
        number=0,
        position=Fraction(0),
        length=Fraction(0),
        meter=section.meter or chart.meter,
        key=(section.key or chart.key).lifted(step.up),
        quarter_bpm=tempo.quarter_bpm,
        feel=step.feel or (HELD if step.underscore else section.feel or chart.feel),
        answer=section.answer or chart.answer,
        fullness=step.fullness,
        manuals_only=step.manuals_only,
        out=step.out,
        up=step.up,
        underscore=step.underscore,
    )


def _changes(bar: RouteBar, written: Bar, lift: Interval | None) -> Iterator[RouteChange]:
    """The changes of a bar; how long each one lasts is not known yet."""
    for index, change in zip(bar.changes, written.changes, strict=True):
        yield RouteChange(
            index=index,
            position=bar.position + change.offset,
            length=Fraction(0),
            chord=lift.chord(change.chord) if lift else change.chord,
            bar=bar.index,
            offset=change.offset,
            marks=change.marks,
        )


def _with_lengths(changes: Sequence[RouteChange], end: Fraction) -> tuple[RouteChange, ...]:
    """The changes, each lasting until the next or the end of the route."""
    ends = [change.position for change in changes[1:]] + [end]
    return tuple(replace(change, length=until - change.position) for change, until in zip(changes, ends, strict=False))
