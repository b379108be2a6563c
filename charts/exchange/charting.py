"""From a sheet to a chart: its sections, its bars with their chords where the notation can write them, words and tune.

* A section begins at a heading, a new key or a new tempo, where no repeat is open there. Without headings it is named Verse
  where there are words, Tune where there are none. Sections of one name that are alike in all are written once, and the
  roadmap says how often; of one name and not alike, the later one gets a name of its own.
* A short first bar outside a repeat is the chart's pickup; any other bar of odd length states its meter.
* A chord between the places that the notation has (beats, and the *and* of each) goes to the nearest free one, as is told.
  Where more than one in fifty of a compound meter would have to, its eighths are counted, one by one.
* Parts without chord symbols are given the chords that their notes make (``charts.exchange.hymn``).
* A section states its first chord: where the page states none there, the chord goes on that sounded before, or it is N.C.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from charts.chart import BAR_MARKS, Bar, Change, Chart, Section, Step
from charts.chord import NO_CHORD, Chord
from charts.errors import ChartError
from charts.exchange.headings import unique
from charts.exchange.hymn import is_hymn, with_chords
from charts.exchange.settling import guessed_key
from charts.exchange.sheet import GOES_ON, Remark, Sheet, SheetBar, SheetChord, attacks, fitting_meter
from charts.exchange.tune_text import bar_text, usual_unit
from charts.key import Key
from charts.marks import in_order
from charts.meter import Meter
from charts.notation import DEFAULT_TEMPO, read_chart
from charts.roadmap import unfold
from charts.syllables import laid
from charts.writing import BARS_IN_A_LINE, chords_text, write_chart

LONGEST_LINE = 8
"""Bars; a page's longer lines are divided."""
_NOTHING = SheetChord(offset=Fraction(0), chord=NO_CHORD)
TOO_MANY_MOVED = Fraction(1, 50)
FASTEST_COUNT = 200
"""Units a minute that anybody counts one by one."""


@dataclass(frozen=True, slots=True)
class Imported:
    """A chart made from a sheet."""

    chart: Chart
    """As it is read back from its text."""
    remarks: tuple[Remark, ...]


def chart_of(sheet: Sheet, source: str = "") -> Imported:
    """The chart. Raises ChartError where the sheet holds no bars, or its chart could not be read back."""
    if not sheet.bars:
        raise ChartError.at(0, 0, "there is no music in this", source)
    if is_hymn(sheet):
        sheet = with_chords(sheet)
    counted = _counted(sheet)
    made = _Charting(counted)
    remarks = counted.remarks
    if not any(bar.chords for bar in counted.bars):
        remarks = (*remarks, Remark(message="there are no chords on this page: N.C. stands in the chart", lost=False))
    try:
        chart = read_chart(write_chart(made.chart()), source)
        try:
            unfold(chart)
        except ChartError as error:
            told = Remark(
                message=f"the signs of the roadmap lead nowhere and are left out: {error.problems[0].message}"
            )
            remarks = (*remarks, told)
            made = _Charting(_without_signs(counted))
            chart = read_chart(write_chart(made.chart()), source)
            unfold(chart)
    except ChartError as error:
        raise ChartError.at(0, 0, f"this makes no chart that can be read: {error.problems[0]}", source) from None
    return Imported(chart, (*remarks, *made.remarks))


def _without_signs(sheet: Sheet) -> Sheet:
    return replace(sheet, bars=tuple(replace(bar, marks=()) for bar in sheet.bars))


def _counted(sheet: Sheet) -> Sheet:
    """The sheet, its compound meters counted by their units where the tempo is that of a unit (so that it can be counted), or
    where too many chords fall between their beats.
    """
    compound = [bar for bar in sheet.bars if bar.meter.compound]
    units = {bar.meter.unit for bar in compound}
    chords = sum(len(bar.chords) for bar in compound)
    moved = sum(
        _places(bar.chords, fitting_meter(bar.length, bar.meter) or bar.meter, bar.length) is None for bar in compound
    )
    if len(units) != 1:
        return sheet
    unit = units.pop()
    tempo = sheet.tempo
    # A quarter is what many write whatever they count.
    stated = tempo is not None and unit > 4 and tempo.value * unit == 4 and tempo.per_minute <= FASTEST_COUNT
    if not stated and moved <= TOO_MANY_MOVED * chords:
        return sheet

    def by_unit(meter: Meter) -> Meter:
        return replace(meter, by_unit=True) if meter.unit == unit else meter

    why = "the tempo is that of a unit" if stated else "chords fall between the beats"
    remark = Remark(message=f"{why}: every unit of the bar is counted", lost=False)
    bars = tuple(replace(bar, meter=by_unit(bar.meter)) for bar in sheet.bars)
    return replace(sheet, bars=bars, meter=by_unit(sheet.meter), remarks=(*sheet.remarks, remark))


class _Charting:
    """Makes one chart, and remarks on the way."""

    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.remarks: list[Remark] = []
        self.key = sheet.key or guessed_key(sheet.bars)
        first = sheet.bars[0]
        self.meter = first.meter
        short = first.length < first.meter.bar_length and not first.opens_repeat
        begins = first.chords if first.chords and not first.chords[0].offset else (_NOTHING, *first.chords)
        writable = _places(begins, first.meter, first.length) is not None
        self.pickup = first.length if short and writable and len(sheet.bars) > 1 else Fraction(0)
        self.sounding: Chord = NO_CHORD
        self.line = 0

    def tell(self, bar: int, message: str, *, lost: bool = True) -> None:
        self.remarks.append(Remark(bar=bar + 1, message=message, lost=lost))

    def chart(self) -> Chart:
        sections: list[Section] = []
        order: list[str] = []
        key, tempo = self.key, self.sheet.tempo or DEFAULT_TEMPO
        for start, end in self._sections():
            bars = self.sheet.bars[start:end]
            first = bars[0]
            key = first.key or key
            tempo = first.tempo or tempo
            name = first.heading or (order[-1] if order and start else "")
            if not name or (not first.heading and not order):
                name = "Verse" if any(any(bar.words) for bar in self.sheet.bars) else "Tune"
            section = Section(
                name=name,
                bars=tuple(self._bars(start, end, key)),
                key=key if key != self.key else None,
                meter=first.meter if first.meter != self.meter else None,
                tempo=tempo if tempo != (self.sheet.tempo or DEFAULT_TEMPO) else None,
            )
            same = next((other for other in sections if _alike(section, other)), None)
            if same is None:
                section = replace(section, name=unique(name, [other.name for other in sections]))
                sections.append(section)
            order.append((same or section).name)
        steps: tuple[Step, ...] = ()
        if self.sheet.roadmap:
            steps = self._stated_order([section.name for section in sections])
        elif order != [section.name for section in sections]:
            steps = tuple(_steps(order))
        return Chart(
            title=" ".join(self.sheet.title.split()) or "Untitled",
            key=self.key,
            meter=self.meter,
            tempo=self.sheet.tempo or DEFAULT_TEMPO,
            pickup=self.pickup,
            notes=" ".join(self.sheet.notes.split()),
            roadmap=steps,
            sections=tuple(sections),
        )

    def _stated_order(self, names: Sequence[str]) -> tuple[Step, ...]:
        by_name = {name.casefold(): name for name in names}
        missing = [name for name in self.sheet.roadmap if name.casefold() not in by_name]
        if missing:
            self.remarks.append(
                Remark(message=f'the order names "{missing[0]}", which is not there; sections as written')
            )
            return ()
        return tuple(_steps([by_name[name.casefold()] for name in self.sheet.roadmap]))

    # -- sections -------------------------------------------------------------------------------------------------

    def _sections(self) -> Iterator[tuple[int, int]]:
        starts = [0]
        inside = _inside_repeats(self.sheet.bars)
        key, tempo = self.key, self.sheet.tempo or DEFAULT_TEMPO
        for index, bar in enumerate(self.sheet.bars):
            new_key = bar.key is not None and bar.key != key
            new_tempo = bar.tempo is not None and bar.tempo != tempo
            key, tempo = bar.key or key, bar.tempo or tempo
            if not index or not (bar.heading or new_key or new_tempo):
                continue
            if not inside[index]:
                starts.append(index)
                continue
            if bar.heading:
                self.tell(
                    index, f'the heading "{bar.heading}" stands inside a repeat; no section begins there', lost=False
                )
            if new_key:
                self.tell(
                    index,
                    f"the key of {bar.key.shown if bar.key else ''} begins inside a repeat; notes and chords have it",
                )
            if new_tempo:
                self.tell(index, "a new tempo begins inside a repeat; it is left out")
        yield from zip(starts, [*starts[1:], len(self.sheet.bars)], strict=True)

    def _bars(self, start: int, end: int, key: Key) -> Iterator[Bar]:
        tune = any(bar.notes for bar in self.sheet.bars[start:end])
        meter = self.sheet.bars[start].meter
        number = 0 if start == 0 and self.pickup else 1
        for first, last in self._lines(start, end):
            self.line += 1
            line = self.sheet.bars[first:last]
            melody = _melody(line, key, usual_unit(meter)) if tune else ""
            words = _words(line, self.sheet.bars[first - 1] if first else None)
            for index in range(first, last):
                yield replace(
                    self._bar(index, index == start, number + index - start),
                    words=words if index == first else (),
                    melody=melody if index == first else "",
                    line=self.line,
                )

    def _lines(self, start: int, end: int) -> Iterator[tuple[int, int]]:
        """Lines of bars: the page's where it has some of a good length, else four bars a line."""
        bars = self.sheet.bars
        page = any(bar.new_line for bar in bars[1:])
        here, full = start, start + (1 if bars[start].length < bars[start].meter.bar_length else 0)
        for index in range(start + 1, end):
            long = index - full >= (LONGEST_LINE if page else BARS_IN_A_LINE)
            if long or (page and bars[index].new_line):
                yield here, index
                here = full = index
        yield here, end

    # -- bars -----------------------------------------------------------------------------------------------------

    def _bar(self, index: int, first: bool, number: int) -> Bar:
        bar = self.sheet.bars[index]
        meter = bar.meter if number == 0 else fitting_meter(bar.length, bar.meter) or bar.meter
        chords = list(bar.chords)
        if first and (not chords or chords[0].offset > 0):
            chords.insert(0, SheetChord(offset=Fraction(0), chord=self.sounding))
        chords = self._placed(index, chords, meter, bar.length)
        if chords:
            self.sounding = chords[-1].chord
        following = self.sheet.bars[index + 1] if index + 1 < len(self.sheet.bars) else None
        barline = "|" if bar.closes_repeat else bar.barline
        leaves = bar.in_endings and following is not None and not following.in_endings and not bar.closes_repeat
        if leaves and barline == "|" and following is not None and not following.opens_repeat:
            barline = "||"
        return Bar(
            number=number,
            length=bar.length,
            meter=meter,
            changes=tuple(Change(offset=each.offset, chord=each.chord, marks=each.marks) for each in chords),
            marks=in_order(bar.marks),
            opens_repeat=bar.opens_repeat,
            closes_repeat=bar.closes_repeat,
            endings=tuple(sorted(set(bar.endings))),
            in_endings=tuple(sorted(set(bar.in_endings))),
            barline=barline,
        )

    def _placed(self, index: int, chords: Sequence[SheetChord], meter: Meter, length: Fraction) -> list[SheetChord]:
        """The chords where the notation can write them."""
        places = _places(chords, meter, length)
        if places is not None:
            return list(chords)
        free = _writable(meter, length)
        found: list[SheetChord] = []
        for nth, each in enumerate(chords):
            behind = [place for place in free if not found or place > found[-1].offset]
            room = behind[: len(behind) - (len(chords) - nth - 1)] or behind[:1]
            if not room:
                self.tell(index, f"there is no room for {each.chord.symbol} in this bar; it is left out")
                continue
            place = min(room, key=lambda at: (abs(at - each.offset), at))
            if place != each.offset:
                was, now = _beat(each.offset, meter), _beat(place, meter)
                self.tell(index, f"{each.chord.symbol} stands on beat {was}; it is written on beat {now}")
            found.append(replace(each, offset=place))
        return found


def _places(chords: Sequence[SheetChord], meter: Meter, length: Fraction) -> str | None:
    return chords_text([(each.offset, "C") for each in chords], meter, length)


def _writable(meter: Meter, length: Fraction) -> list[Fraction]:
    """The places of a bar where the notation can write a chord."""
    beat = meter.counted_beat
    whole = [k * beat for k in range(max(1, -(-length // beat)))]
    if length % beat:
        return whole[:1]
    last_division = beat / (3 if meter.compound else 2)
    return sorted([*whole, *(place + beat - last_division for place in whole)])


def _beat(offset: Fraction, meter: Meter) -> str:
    return f"{float(offset / meter.counted_beat) + 1:.3g}"


def _inside_repeats(bars: Sequence[SheetBar]) -> list[bool]:
    """Whether a repeat is open before each bar."""
    inside: list[bool] = []
    opened = False
    for bar in bars:
        inside.append(opened or bool(bar.in_endings and (not bar.endings or min(bar.endings) > 1)))
        opened = (opened or bar.opens_repeat) and not bar.closes_repeat
    return inside


def _alike(one: Section, other: Section) -> bool:
    """Whether two sections are written alike: one can stand for both. Signs are obeyed where they stand, so not with them."""
    if one.name.casefold() != other.name.casefold() or any(set(bar.marks) & set(BAR_MARKS) for bar in one.bars):
        return False
    plain = [[replace(bar, line=0, melody_line=0) for bar in section.bars] for section in (one, other)]
    return plain[0] == plain[1] and (one.key, one.meter, one.tempo) == (other.key, other.meter, other.tempo)


def _steps(order: Sequence[str]) -> Iterator[Step]:
    index = 0
    while index < len(order):
        times = 1
        while index + times < len(order) and order[index + times] == order[index] and times < 9:
            times += 1
        yield Step(section=order[index], times=times)
        index += times


# -- words and tune -------------------------------------------------------------------------------------------------


def _words(line: Sequence[SheetBar], before: SheetBar | None) -> tuple[str, ...]:
    """The words of a line of bars, a line a verse: divided into syllables where each verse has one for each note."""
    verses = max((len(bar.words) for bar in line), default=0)
    rows = []
    for verse in range(verses):
        text = ""
        for bar in line:
            part = bar.words[verse] if verse < len(bar.words) else ""
            if part:
                text = text + part if text.endswith(GOES_ON) else f"{text} {part}"
        rows.append(text.strip())
    rows = [row for row in rows if row]
    divided = [row.replace(GOES_ON, "-") for row in rows]
    notes = sum(map(sum, attacks(line, before)))
    if not laid(divided, notes):
        divided = [re.sub(f"{GOES_ON}$", "-", row).replace(GOES_ON, "") for row in rows]
    return tuple(as_words(row) for row in divided)


def as_words(text: str) -> str:
    """A line of words that the notation takes for nothing else."""
    plain = " ".join(re.sub(r"[\u0000-\u001f\u0085\u2028\u2029\u00ad]", " ", text).split())
    plain = plain.replace("=", "–").replace("|", "¦")
    plain = re.sub(r"(^|\s)#(?=\s|$)", r"\1♯", plain).strip()
    return f"“{plain}”" if plain.startswith(("#", ":")) else plain


def _melody(line: Sequence[SheetBar], key: Key, unit: Fraction) -> str:
    return " | ".join(bar_text(bar.notes, bar.length, key, unit) if bar.notes else "Z" for bar in line) + " |"
