"""Writing a chart: canonical text that reads as the same chart.

Bars stand in the lines they were read in; where that is not known, four to a line. A line also begins where words or
melody belong to a bar. Names, marks and directions are written in their first spelling, chords alone where they share
a bar evenly, with ``/`` where they do not. Scale degrees are written as chord symbols. Writing what was read from
written text changes nothing.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from fractions import Fraction

from charts.bars import usual_plays
from charts.chart import CODA, SEGNO, TAG, VAMP, Bar, Change, Chart, Section
from charts.counting import AND, BEAT, CHORD, offsets
from charts.directions import step_text
from charts.lines import ROADMAP
from charts.meter import Meter
from charts.values import COUNT_NAMES, answer_text, number_text, pickup_text, tempo_text

BARS_IN_A_LINE = 4
_OPENING_MARKS = (SEGNO, CODA, TAG, VAMP)
"""Marks written at the beginning of their bar; all others stand at its end."""


def write_chart(chart: Chart) -> str:
    """The chart as text. Raises ValueError where a bar's chords fall on places that the notation cannot write."""
    parts = [_entries(_header(chart))]
    if chart.roadmap:
        parts.append("\n".join([f"== {ROADMAP} ==", *map(step_text, chart.roadmap)]))
    parts.extend(_section_text(section, chart.meter) for section in chart.sections)
    return "\n\n".join(parts) + "\n"


def _header(chart: Chart) -> Iterator[tuple[str, str]]:
    yield "title", _words(chart.title)
    yield "key", chart.key.name
    yield "meter", chart.meter.name
    meters = [chart.meter, *(section.meter for section in chart.sections if section.meter)]
    meters.extend(bar.meter for section in chart.sections for bar in section.bars)
    unit = next((meter.unit for meter in meters if meter.by_unit), None)
    if unit is not None:
        yield "count", COUNT_NAMES[unit]
    yield "tempo", tempo_text(chart.tempo)
    if chart.feel:
        yield "feel", _words(chart.feel)
    if chart.answer:
        yield "answer", answer_text(chart.answer)
    if chart.pickup:
        yield "pickup", pickup_text(chart.pickup, chart.sections[0].meter or chart.meter)
    for name, value in (("lead", chart.lead), ("patience", chart.patience), ("degrees", chart.degrees)):
        if value:
            yield name, value
    if chart.room is not None:
        yield "room", number_text(chart.room)
    if chart.notes:
        yield "notes", _words(chart.notes)


def _entries(entries: Iterator[tuple[str, str]]) -> str:
    pairs = list(entries)
    width = max((len(name) for name, _ in pairs), default=0)
    return "\n".join(f"{name:{width}} = {value}" for name, value in pairs)


def _section_text(section: Section, chart_meter: Meter) -> str:
    meter = section.meter or chart_meter
    lines = [f"== {section.name} =="]
    own = [
        ("key", section.key.name if section.key else ""),
        ("meter", section.meter.name if section.meter else ""),
        ("tempo", tempo_text(section.tempo) if section.tempo else ""),
        ("feel", _words(section.feel or "")),
        ("answer", answer_text(section.answer) if section.answer else ""),
    ]
    stated = [(name, value) for name, value in own if value]
    if stated:
        lines.append(_entries(iter(stated)))
    for start, end in _lines(section.bars):
        lines.append(_bars_text(section.bars, start, end, section.bars[start - 1].meter if start else meter))
        first = section.bars[start]
        lines.extend(f"  {re.sub('^#', '♯', _words(words))}" for words in first.words)
        lines.extend(f"melody = {melody}" for melody in first.melody.splitlines())
    return "\n".join(lines)


def _lines(bars: Sequence[Bar]) -> Iterator[tuple[int, int]]:
    """The first bar of each line, and the one after its last."""
    start = 0
    for index in range(1, len(bars) + 1):
        if index == len(bars) or _begins_line(bars, start, index):
            yield start, index
            start = index


def _begins_line(bars: Sequence[Bar], start: int, index: int) -> bool:
    bar, before = bars[index], bars[index - 1]
    full = not bar.line and index - start >= BARS_IN_A_LINE
    return full or bar.line != before.line or bool(bar.words or bar.melody)


def _bars_text(bars: Sequence[Bar], start: int, end: int, meter: Meter) -> str:
    """A line of bars; ``meter`` is the one that holds before it."""
    text = "|" + _before(bars[start])
    for index in range(start, end):
        bar = bars[index]
        text += f" ({bar.meter.name})" if bar.meter != meter else ""
        meter = bar.meter
        text += f" {_bar_text(bar, bars[index - 1] if index else None)} {_after(bars, index)}"
        if index + 1 < end:
            following = _before(bars[index + 1])
            # Behind "x3" a bar needs a barline of its own, and so does a sign behind "|]".
            apart = text[-1].isdigit() or (following and text[-1] == "]")
            text += f" |{following}" if apart else following
    return text


def _before(bar: Bar) -> str:
    """What the barline before a bar says of it."""
    return (":" if bar.opens_repeat else "") + (f"{','.join(map(str, bar.endings))}." if bar.endings else "")


def _after(bars: Sequence[Bar], index: int) -> str:
    """The barline after a bar."""
    bar = bars[index]
    if not bar.closes_repeat:
        return bar.barline
    told = "" if bar.closes_repeat == usual_plays(bars, index) else f" x{bar.closes_repeat}"
    return f":{bar.barline}{told}"


def _bar_text(bar: Bar, before: Bar | None) -> str:
    opening = [mark for mark in bar.marks if mark in _OPENING_MARKS]
    closing = [mark for mark in bar.marks if mark not in _OPENING_MARKS]
    return " ".join(filter(None, [_marks(opening), _chords_text(bar, before), _marks(closing)]))


def _marks(marks: Sequence[str]) -> str:
    return f"({', '.join(marks)})" if marks else ""


def _chords_text(bar: Bar, before: Bar | None) -> str:
    if bar.copies and before is not None:
        more = _marks_beyond(bar, before)
        if more is not None:
            return " ".join(filter(None, ["%", _marks(more)]))
    text = chords_text([(change.offset, _change_text(change)) for change in bar.changes], bar.meter, bar.length)
    if text is None:
        raise ValueError(
            f"bar {bar.number} has chords at {', '.join(str(change.offset) for change in bar.changes)} quarter notes; "
            f"the notation can write them on the beats of {bar.meter.name} and on the and of each"
        )
    return text


def chords_text(chords: Sequence[tuple[Fraction, str]], meter: Meter, length: Fraction) -> str | None:
    """Chords and where in the bar they fall, as the notation writes them; None where it cannot."""
    falls = [offset for offset, _ in chords]
    for kinds in _ways_to_write(falls, meter, length):
        try:
            places = offsets(kinds, meter, length)
        except ValueError:
            continue
        if places == tuple(falls):
            written = (symbol for _, symbol in chords)
            return " ".join("/" if kind == BEAT else ("&" if kind == AND else "") + next(written) for kind in kinds)
    return None


def _ways_to_write(places: Sequence[Fraction], meter: Meter, length: Fraction) -> Iterator[list[str]]:
    """Rows of symbols that might put the chords where they fall: alone, then with every beat written out."""
    beat = meter.counted_beat
    falls = {offset: (AND if (offset / beat).denominator != 1 else CHORD) for offset in places}
    if places:
        yield list(falls.values())
    row: list[str] = []
    for k in range(int(length // beat)):
        row.append(CHORD if k * beat in falls else BEAT)
        row.extend(AND for offset in falls if k * beat < offset < (k + 1) * beat)
    yield row


def _marks_beyond(bar: Bar, before: Bar) -> list[str] | None:
    """The marks of a ``%`` bar that its model has not; None where the bar is no copy and must be written out."""
    same = [(change.offset, change.chord) for change in bar.changes] == [
        (change.offset, change.chord) for change in before.changes
    ]
    if not same or bar.length != before.length:
        return None
    if not bar.changes:
        return []
    pairs = list(zip(bar.changes, before.changes, strict=True))
    if any(mine.marks != model.marks for mine, model in pairs[:-1]) or not set(pairs[-1][1].marks) <= set(
        pairs[-1][0].marks
    ):
        return None
    return [mark for mark in pairs[-1][0].marks if mark not in pairs[-1][1].marks]


def _change_text(change: Change) -> str:
    return " ".join(filter(None, [change.chord.symbol, _marks(change.marks)]))


def _words(text: str) -> str:
    """Words as one line. A ``#`` that would begin a comment becomes a sharp sign."""
    return re.sub(r"(^|\s)#(?=\s|$)", r"\1♯", " ".join(text.splitlines()).strip())
