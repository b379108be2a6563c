"""Proofing a chart: everything that is wrong, or worth a look, at once.

*Serious* is what keeps the chart from being played as it stands; the rest may well be meant. Each check reads the chart
(and the route, where the chart has one) and knows nothing of the others. The limits: tempo 40 to 160 counted beats, the
working range of congregational singing (from memory); no more than six accidentals in a signature (common practice, no
source).
"""

from __future__ import annotations

import difflib
from collections.abc import Callable, Collection, Iterator
from dataclasses import dataclass
from itertools import pairwise

from charts.answer import NONE
from charts.chart import (
    CODA,
    DC_AL_CODA,
    DC_AL_FINE,
    DS_AL_CODA,
    DS_AL_FINE,
    FINE,
    SEGNO,
    TAG,
    TAG_END,
    TO_CODA,
    VAMP,
    VAMP_END,
    Bar,
    Chart,
    Section,
    same_name,
)
from charts.errors import ChartError, Problem
from charts.key import Key
from charts.melody import written_melody
from charts.notation import read_as_it_stands
from charts.repeats import Item, Repeat, repeats
from charts.roadmap import JUMPS, MISSING_CODA, coda_bars, missing_segno, unfold, unknown_section
from charts.route import Route

SLOWEST, FASTEST = 40, 160
"""Counted beats a minute."""
MOST_ACCIDENTALS = 6
MOST_CHANGES = 4
"""In a bar, or one for every counted beat where there are more."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Reading:
    """What the checks look at."""

    chart: Chart
    route: Route | None
    """None where the chart cannot be unfolded."""
    pedals: tuple[int, int]
    """The lowest and the highest pedal, MIDI key numbers."""
    feels: Collection[str]
    """Names of the feels there are; empty: any name will do."""

    def bars(self) -> Iterator[tuple[Section, Bar]]:
        """Every written bar with its section."""
        for section in self.chart.sections:
            for bar in section.bars:
                yield section, bar

    def marked(self, *marks: str) -> list[tuple[Section, Bar]]:
        """The written bars that carry any of these marks."""
        return [(section, bar) for section, bar in self.bars() if set(marks) & set(bar.marks)]


Findings = Iterator[Problem]
Check = Callable[[Reading], Findings]


def proof(chart: Chart, *, pedals: tuple[int, int] = (36, 67), feels: Collection[str] = ()) -> tuple[Problem, ...]:
    """Everything wrong with a chart, or worth a look, in order of place.

    ``pedals`` are the lowest and the highest pedal as MIDI key numbers; ``feels`` the names of the feels that can be
    played, any name where none are given.
    """
    route: Route | None = None
    refused: tuple[Problem, ...] = ()
    try:
        route = unfold(chart)
    except ChartError as error:
        refused = error.problems
    reading = Reading(chart=chart, route=route, pedals=pedals, feels=feels)
    found = {problem: None for check in CHECKS for problem in check(reading)}
    told = {(problem.line, problem.message) for problem in found}
    rest = (problem for problem in refused if (problem.line, problem.message) not in told)
    return _in_order((*found, *rest))


def proof_text(
    text: str, source: str = "", *, pedals: tuple[int, int] = (36, 67), feels: Collection[str] = ()
) -> tuple[Problem, ...]:
    """The same for a chart as written, which may not be right yet: what cannot be read, and what proofing finds in the
    rest. Of a chart that cannot be read as a whole only what is surely wrong is told."""
    try:
        chart, unread = read_as_it_stands(text, source)
    except ChartError as error:
        return error.problems
    if not unread:
        return proof(chart, pedals=pedals, feels=feels)
    reading = Reading(chart=chart, route=None, pedals=pedals, feels=feels)
    found = {problem: None for check in OF_AN_UNFINISHED_CHART for problem in check(reading) if problem.serious}
    return _in_order((*unread, *found))


def _in_order(problems: Collection[Problem]) -> tuple[Problem, ...]:
    return tuple(sorted(problems, key=lambda problem: (problem.line, problem.column)))


def _at(reading: Reading, line: int, column: int, message: str, *, serious: bool = True) -> Problem:
    return Problem(line=line, column=column, message=message, serious=serious, source=reading.chart.source)


def _where(section: Section, bar: Bar) -> str:
    return f"{section.name}, {f'bar {bar.number}' if bar.number else 'the pickup'}"


# -- chords and bars ------------------------------------------------------------------------------------------------


def bars_that_do_not_add_up(reading: Reading) -> Findings:
    for section, bar in reading.bars():
        full = bar.meter.bar_length
        if bar.number == 0 and not 0 < bar.length < full:
            message = f"{bar.length} quarter notes; a pickup in {bar.meter.name} is shorter than {full}"
        elif bar.number and bar.length != full:
            message = f"found {bar.length} quarter notes, and {bar.meter.name} has {full}"
        elif any(not 0 <= change.offset < bar.length for change in bar.changes):
            message = f"a chord stands outside the bar's {bar.length} quarter notes"
        elif any(one.offset >= other.offset for one, other in pairwise(bar.changes)):
            message = "two chords stand in the same place, or in the wrong order"
        else:
            continue
        yield _at(reading, bar.line, bar.column, f"{_where(section, bar)} does not add up: {message}")


def melodies_that_do_not_add_up(reading: Reading) -> Findings:
    yield from written_melody(reading.chart)[1]


def missing_chords(reading: Reading) -> Findings:
    chords = [change.chord for _, bar in reading.bars() for change in bar.changes]
    if not any(chord.root is not None for chord in chords):
        yield _at(reading, 0, 0, "there is no chord in the whole chart: nothing for the left hand to play")
        return
    for section in reading.chart.sections:
        if section.bars and not _begins_with_a_chord(section.bars[0]):
            bar = section.bars[0]
            message = f"{section.name} does not begin with a chord: write one on its first beat, or N.C."
            yield _at(reading, bar.line, bar.column, message)


def arrivals_without_a_chord(reading: Reading) -> Findings:
    for section, bar in reading.bars():
        arrival = bar.opens_repeat or {SEGNO, CODA} & set(bar.marks)
        if arrival and bar is not section.bars[0] and not _begins_with_a_chord(bar):
            message = (
                f"{_where(section, bar)} can be reached from more than one place and has no chord on its first beat: "
                "whichever chord comes before goes on; write the chord again if one is meant"
            )
            yield _at(reading, bar.line, bar.column, message, serious=False)


def _begins_with_a_chord(bar: Bar) -> bool:
    return bool(bar.changes) and bar.changes[0].offset == 0


def crowded_bars(reading: Reading) -> Findings:
    for section, bar in reading.bars():
        if len(bar.changes) > max(MOST_CHANGES, bar.meter.counted_beats):
            message = f"{_where(section, bar)} has {len(bar.changes)} chords: a lot for two feet"
            yield _at(reading, bar.line, bar.column, message, serious=False)


def bass_notes_off_the_pedals(reading: Reading) -> Findings:
    low, high = reading.pedals
    board = {key % 12 for key in range(low, high + 1)}
    needed = [(change.chord.bass, change.line, change.column) for _, bar in reading.bars() for change in bar.changes]
    if reading.route is not None:  # A step that goes up or down needs other notes than those written.
        bars = reading.route.bars
        needed += [(change.chord.bass, bars[change.bar].line, 0) for change in reading.route.changes]
    told: set[int] = set()
    for bass, line, column in needed:
        if bass is not None and bass.pitch_class not in board | told:
            told.add(bass.pitch_class)
            message = f"your pedals, keys {low} to {high}, have no {bass.name} in any octave, and this bass needs it"
            yield _at(reading, line, column, message)


# -- repeats and signs ----------------------------------------------------------------------------------------------


def repeats_and_endings(reading: Reading) -> Findings:
    for section in reading.chart.sections:
        for repeat in _repeats(repeats(section.bars)):
            yield from _repeat_problems(reading, section, repeat)


def _repeats(items: tuple[Item, ...]) -> Iterator[Repeat]:
    for item in items:
        if isinstance(item, Repeat):
            yield item
            yield from _repeats(item.items)


def _repeat_problems(reading: Reading, section: Section, repeat: Repeat) -> Findings:
    def tell(index: int, message: str, *, serious: bool = True) -> Problem:
        bar = section.bars[index]
        return _at(reading, bar.line, bar.column, f"{_where(section, bar)}: {message}", serious=serious)

    if not repeat.endings:
        if not repeat.closed:
            yield tell(_first(repeat.items), "the repeat that opens here never closes; write :| where it goes back")
        return
    starts = [ending.bars[0] for ending in repeat.endings]
    closed = [bool(section.bars[ending.bars[-1]].closes_repeat) for ending in repeat.endings]
    numbers = sorted(time for ending in repeat.endings for time in ending.times)
    if not repeat.closed:
        yield tell(starts[0], "an ending without a repeat: nothing goes back; write :| where the first ending ends")
    else:
        for start, does_close in list(zip(starts, closed, strict=True))[:-1]:
            if not does_close:
                yield tell(start, "this ending does not go back, and another follows it; write :| where it ends")
    if not repeat.items:
        yield tell(starts[0], "an ending, and no bars before it to repeat")
    for number in sorted({number for number in numbers if numbers.count(number) > 1}):
        yield tell(starts[-1], f"there are two endings for time {number}; the first is taken", serious=False)
    for number in sorted(set(range(1, numbers[-1])) - set(numbers)):
        yield tell(starts[0], f"there is no ending for time {number}, which goes on without one", serious=False)
    if len(starts) == 1 and len(numbers) >= repeat.plays > 1:
        yield tell(
            starts[0], f"this ending is for all {repeat.plays} times; another behind it may be meant", serious=False
        )


def _first(items: tuple[Item, ...]) -> int:
    """The first bar of a stretch."""
    item = items[0]
    return item if isinstance(item, int) else _first(item.items or item.endings[0].bars)


NEEDED = {
    DS_AL_CODA: (TO_CODA, "the music that leaves for the coda"),
    DC_AL_CODA: (TO_CODA, "the music that leaves for the coda"),
    DS_AL_FINE: (FINE, "the bar that ends the song"),
    DC_AL_FINE: (FINE, "the bar that ends the song"),
}
"""What a jump needs beside the place it leads to."""


def jumps_that_lead_nowhere(reading: Reading) -> Findings:
    for section, bar in reading.marked(*JUMPS):
        for jump in (mark for mark in bar.marks if mark in JUMPS):
            if JUMPS[jump][0] == SEGNO and not reading.marked(SEGNO):
                yield _at(reading, bar.line, bar.column, missing_segno(jump))
            sign, what = NEEDED.get(jump, ("", ""))
            if sign and not reading.marked(sign):
                message = f"{_where(section, bar)} says {jump}, and no bar is marked ({sign}): mark {what}"
                yield _at(reading, bar.line, bar.column, message)


def signs_without_a_partner(reading: Reading) -> Findings:
    jumps = reading.marked(*JUMPS)
    going_back = [mark for mark, (sign, _) in JUMPS.items() if sign == SEGNO]
    for section, bar in reading.marked(TO_CODA):
        if not coda_bars(reading.chart):
            yield _at(reading, bar.line, bar.column, MISSING_CODA)
        elif not jumps:
            message = f'{_where(section, bar)}: "to coda" is taken only after a D.S. or D.C., and there is none'
            yield _at(reading, bar.line, bar.column, message)
    lonely = (
        (SEGNO, reading.marked(*going_back), "a segno, and no D.S. goes back to it"),
        (CODA, reading.marked(TO_CODA), 'a coda, and no "to coda" leads to it'),
        (FINE, jumps, "fine ends the song only after a D.S. or D.C., and there is none: it is passed over"),
    )
    for sign, partners, message in lonely:
        for section, bar in reading.marked(sign) if not partners else []:
            yield _at(reading, bar.line, bar.column, f"{_where(section, bar)}: {message}", serious=False)


def tags_and_vamps(reading: Reading) -> Findings:
    for section in reading.chart.sections:
        for begin, end in ((TAG, TAG_END), (VAMP, VAMP_END)):
            opened: Bar | None = None
            for bar in section.bars:
                if begin in bar.marks and opened is not None:
                    message = f"{_where(section, opened)}: the {begin} that begins here does not end before the next"
                    yield _at(reading, opened.line, opened.column, message)
                opened = bar if begin in bar.marks else opened
                if end in bar.marks and opened is None:
                    message = f"{_where(section, bar)}: ({end}), and no ({begin}) stands before it in this section"
                    yield _at(reading, bar.line, bar.column, message)
                opened = None if end in bar.marks else opened
            if opened is not None:
                message = f"{_where(section, opened)}: the {begin} that begins here has no ({end}) in this section"
                yield _at(reading, opened.line, opened.column, message)


# -- the roadmap ----------------------------------------------------------------------------------------------------


def steps_that_name_no_section(reading: Reading) -> Findings:
    names = [section.name for section in reading.chart.sections]
    for step in reading.chart.roadmap:
        if not any(same_name(step.section, name) for name in names):
            yield _at(reading, step.line, 0, unknown_section(reading.chart, step))


def underscores_told_how_often(reading: Reading) -> Findings:
    for step in reading.chart.roadmap:
        if step.underscore and step.times > 1:
            message = (
                f"{step.section} goes round until the nod 'on', and then {step.times - 1} more times until the next 'on': "
                f"leave out x{step.times}"
            )
            yield _at(reading, step.line, 0, message, serious=False)


def music_never_played(reading: Reading) -> Findings:
    steps = reading.chart.roadmap
    played = {bar.id for bar in reading.route.bars} if reading.route else set()
    for section in reading.chart.sections:
        unheard = [bar for bar in section.bars if (section.name, bar.number) not in played]
        left_out = steps and not any(same_name(step.section, section.name) for step in steps)
        if left_out or (reading.route and len(unheard) == len(section.bars)):
            message = f"{section.name} is never played: the roadmap does not lead there"
            yield _at(reading, section.line, 0, message, serious=False)
        elif reading.route and unheard:
            numbers = ", ".join(f"bar {bar.number}" if bar.number else "the pickup" for bar in unheard)
            message = f"{section.name}: {numbers}: never played, as roadmap, repeats and signs stand"
            yield _at(reading, unheard[0].line, unheard[0].column, message, serious=False)


# -- key, tempo, feel -----------------------------------------------------------------------------------------------


def odd_keys(reading: Reading) -> Findings:
    chart = reading.chart
    stated = [("the chart", chart.key, chart.places.get("key", (0, 0)))]
    stated += [
        (section.name, section.key, section.places.get("key", (section.line, 0)))
        for section in chart.sections
        if section.key
    ]
    for step in chart.roadmap:
        if step.up and any(same_name(step.section, section.name) for section in chart.sections):
            key = (chart.section(step.section).key or chart.key).lifted(step.up)
            stated.append((f"{step.section} (lifted)", key, step.places.get("up", (step.line, 0))))
    for where, key, place in stated:
        if abs(key.fifths) > MOST_ACCIDENTALS:
            message = f"{where} is in {key.shown}, {_signature(key)}; {_simpler(key).shown} sounds the same"
            yield _at(reading, *place, f"{message} and is easier to read", serious=False)


def _signature(key: Key) -> str:
    return f"{abs(key.fifths)} {'sharps' if key.fifths > 0 else 'flats'}"


def _simpler(key: Key) -> Key:
    return key.lifted(1).lifted(-1)


def odd_tempos(reading: Reading) -> Findings:
    chart = reading.chart
    stated = [(chart.tempo, chart.meter, "the chart", chart.places.get("tempo", (0, 0)))]
    stated += [
        (
            section.tempo or chart.tempo,
            section.meter or chart.meter,
            section.name,
            section.places.get("tempo") or section.places.get("meter", (section.line, 0)),
        )
        for section in chart.sections
        if section.tempo or section.meter
    ]
    for tempo, meter, where, place in stated:
        beats = tempo.quarter_bpm / float(meter.counted_beat)
        if not SLOWEST <= beats <= FASTEST:
            message = (
                f"{where} goes at {beats:.4g} counted beats a minute in {meter.name}; singing goes at {SLOWEST} to "
                f"{FASTEST}: look at the note value of the tempo"
            )
            yield _at(reading, *place, message, serious=False)


def answers_that_never_come(reading: Reading) -> Findings:
    for section in reading.chart.sections:
        answer = section.answer or reading.chart.answer
        if answer is None or answer.kind == NONE or not section.bars:
            continue
        distance = answer.distance(section.bars[-1].meter)
        length = sum(bar.length for bar in section.bars)
        if distance >= length:
            message = (
                f"{section.name} is {length} quarter notes long, and its answer comes {distance} behind the tune: it is over "
                "before its first note is answered"
            )
            yield _at(reading, section.line, 0, message, serious=False)


def unknown_feels(reading: Reading) -> Findings:
    if not reading.feels:
        return
    chart = reading.chart
    stated = [(chart.feel, chart.places.get("feel", (0, 0)))]
    stated += [(step.feel, step.places.get("feel", (step.line, 0))) for step in chart.roadmap]
    stated += [(section.feel, section.places.get("feel", (section.line, 0))) for section in chart.sections]
    names = sorted(reading.feels)
    for feel, place in stated:
        if feel and not any(same_name(feel, name) for name in names):
            near = difflib.get_close_matches(feel.casefold(), names, n=1)
            advice = f'; did you mean "{near[0]}"?' if near else f"; I can play {', '.join(names)}"
            yield _at(reading, *place, f'"{feel}" is not a feel I know{advice}')


CHECKS: tuple[Check, ...] = (
    bars_that_do_not_add_up,
    melodies_that_do_not_add_up,
    missing_chords,
    arrivals_without_a_chord,
    crowded_bars,
    bass_notes_off_the_pedals,
    repeats_and_endings,
    jumps_that_lead_nowhere,
    signs_without_a_partner,
    tags_and_vamps,
    steps_that_name_no_section,
    underscores_told_how_often,
    music_never_played,
    odd_keys,
    odd_tempos,
    unknown_feels,
    answers_that_never_come,
)

OF_AN_UNFINISHED_CHART: tuple[Check, ...] = (
    repeats_and_endings,
    jumps_that_lead_nowhere,
    signs_without_a_partner,
    tags_and_vamps,
    unknown_feels,
)
"""What can be told of a chart of which something could not be read: nothing here asks what is missing."""
