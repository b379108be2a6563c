"""Lines of bars: barlines, repeats, endings, ``%``, and the bars between them.

A line of bars begins with ``|``. Where a barline ends one line and begins the next, both are one: their signs are
taken together. The last barline of a line may be left out. A repeat is played twice, or as often as ``xN`` behind its
``:|`` says, or as often as its highest ending; an ending goes on to ``:|``, ``||``, ``|]``, the next ending, the next
``|:`` or the end of the section. ``%`` copies the chords of the bar before and the marks that stand after them. A meter in
parentheses before a bar's first chord, ``| (2/4) G | (4/4) D |``, holds from that bar on, to the section's end at most.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from charts.chart import Bar, Change
from charts.chord import NO_CHORD, Chord
from charts.counting import AND, BEAT, CHORD, offsets
from charts.lines import Line, Problems
from charts.marks import in_order
from charts.meter import Meter, read_meter
from charts.symbols import COPY, Cell, read_cell

_BARLINE = re.compile(
    r"""(?P<close>:)? (?P<stroke>\|\]|\|\||\|) (?P<open>:)?
        (?:\s*(?P<times>\d{1,2}(?:\s*[,–-]\s*\d{1,2})*)\.(?![\d.]))?
        (?:\s*(?P<x>[x×])\s*(?P<plays>\d{1,2})(?!\w))?""",
    re.VERBOSE | re.IGNORECASE,
)
_METER = re.compile(r"\s*\((?P<meter>\s*\d{1,2}\s*/\s*\d{1,2}\s*)\)")
"""A meter stated before a bar's first chord."""
_FITS = "% repeats the bar before, / is a beat of the chord going on, N.C. is no chord"
_UNTOLD = -1
"""A repeat that ends here and does not say how often it is played."""


@dataclass(frozen=True, slots=True)
class Barline:
    """A barline and the signs on it."""

    column: int
    stroke: str
    closes: bool
    opens: bool
    times: tuple[int, ...]
    plays: int

    @property
    def plain(self) -> bool:
        return self.stroke == "|" and not (self.closes or self.opens or self.times or self.plays)


class SectionBars:
    """The bars of one section, read line by line."""

    def __init__(
        self,
        meter: Meter,
        pickup: Fraction,
        read_chord: Callable[[str], Chord],
        problems: Problems,
        meter_of: Callable[[str], Meter] = read_meter,
    ) -> None:
        self.bars: list[Bar] = []
        self._line_starts = 0
        self._meter = meter
        self._pickup = pickup
        self._read_chord = read_chord
        self._problems = problems
        self._meter_of = meter_of
        self._opens = False
        self._sign = (0, 0)
        self._times: tuple[int, ...] = ()
        self._bracket: tuple[int, ...] = ()
        self._unreadable: set[int] = set()

    def read(self, line: Line) -> None:
        """Reads a line of bars."""
        self._line_starts = len(self.bars)
        strokes = list(_BARLINE.finditer(line.text))
        barlines = [self._barline(match, line) for match in strokes]
        starts = [match.end() for match in strokes]
        ends = [match.start() for match in strokes[1:]] + [len(line.text)]
        cells = [line.text[start:end] for start, end in zip(starts, ends, strict=True)]
        if not any(map(str.strip, cells)):
            self._problems.add(line.number, line.column, "there is no bar in this line; write one as | D |")
        for index, cell in enumerate(cells):
            self._pass(barlines[index], line)
            if cell.strip():
                self._add(self._read_bar(cell, starts[index] + 1, line))
            elif index + 1 < len(cells) and not _join(barlines[index], barlines[index + 1]):
                self._problems.add(line.number, barlines[index].column, f"this bar is empty; {_FITS}")

    def below(self, *, words: str = "", melody: str = "", line: int = 0) -> None:
        """Adds a line of words or of melody to the line of bars above it."""
        if self._line_starts == len(self.bars):
            return
        bar = self.bars[self._line_starts]
        if words:
            bar = replace(bar, words=(*bar.words, words))
        if melody:
            joined = f"{bar.melody}\n{melody}" if bar.melody else melody
            bar = replace(bar, melody=joined, melody_line=bar.melody_line or line)
        self.bars[self._line_starts] = bar

    def readable(self, text: str) -> bool:
        """Whether a text without barlines would be read as a bar's chords."""
        nothing_told = Problems()
        return bool(read_cell(text, 1, 1, self._read_chord, nothing_told).symbols) and not nothing_told

    def finished(self) -> tuple[Bar, ...]:
        """All bars, once the section has ended: only now is it known how often each repeat is played."""
        if self._opens or self._times:
            self._problems.add(*self._sign, "a repeat or an ending begins here, and no bar follows in this section")
        return _told_repeats(self.bars)

    def _barline(self, match: re.Match[str], line: Line) -> Barline:
        column = match.start() + 1
        closes, plays = match["close"] is not None, int(match["plays"] or 0)
        if match["plays"] and (not closes or plays < 1):
            self._problems.add(
                line.number,
                match.start("x") + 1,
                f"x{plays} says how often a repeat is played, 1 or more; it belongs behind the repeat's end: :| x2",
            )
        times = self._times_of(match["times"] or "", match.start("times") + 1, line)
        return Barline(column, match["stroke"], closes, match["open"] is not None, times, plays)

    def _times_of(self, text: str, column: int, line: Line) -> tuple[int, ...]:
        times: list[int] = []
        for part in filter(None, re.split(r"\s*,\s*", text)):
            first, _, last = re.sub(r"\s*–\s*|\s*-\s*", "-", part).partition("-")
            times.extend(range(int(first), int(last or first) + 1))
        if text and (not times or times != sorted(set(times)) or times[0] < 1):
            self._problems.add(
                line.number, column, f'"{text}." does not number an ending; 1., 2. and 1,2. or 1-3. do, in rising order'
            )
            return ()
        return tuple(times)

    def _pass(self, barline: Barline, line: Line) -> None:
        """Goes past a barline: what it says of the bar before, and of the bar to come."""
        if self.bars and (barline.stroke != "|" or barline.closes):
            before = self.bars[-1]
            closes = (barline.plays or _UNTOLD) if barline.closes else before.closes_repeat
            stroke = barline.stroke if barline.stroke != "|" else before.barline
            self.bars[-1] = replace(before, barline=stroke, closes_repeat=closes)
        elif barline.closes:
            self._problems.add(
                line.number, barline.column, "a repeat ends here, and there is no bar before it to repeat"
            )
        if barline.closes or barline.opens or barline.stroke != "|":
            self._bracket = ()
        self._opens = self._opens or barline.opens
        self._times = barline.times or self._times
        if barline.opens or barline.times:
            self._sign = (line.number, barline.column)

    def _add(self, bar: Bar) -> None:
        self._bracket = self._times or self._bracket
        self.bars.append(replace(bar, opens_repeat=self._opens, endings=self._times, in_endings=self._bracket))
        self._opens, self._times = False, ()

    def _read_bar(self, text: str, column: int, line: Line) -> Bar:
        problems_before = len(self._problems)
        text, column = self._without_meter(text, column, line)
        cell = read_cell(text, column, line.number, self._read_chord, self._problems)
        column += len(text) - len(text.lstrip())
        length = self._pickup if self._pickup and not self.bars else self._meter.bar_length
        changes: tuple[Change, ...] = ()
        if cell.symbols:
            changes = self._changes(cell, length, column)
        elif len(self._problems) == problems_before:
            cell.report(column, f"there is no chord in this bar; {_FITS}")
        return Bar(
            number=len(self.bars) + (0 if self._pickup else 1),
            length=length,
            meter=self._meter,
            changes=changes,
            marks=in_order(cell.bar_marks),
            copies=any(symbol.kind == COPY for symbol in cell.symbols),
            line=line.number,
            column=column,
        )

    def _without_meter(self, text: str, column: int, line: Line) -> tuple[str, int]:
        """A bar's text behind the meter that it may state, and the column where that begins. The meter holds from here on."""
        stated = _METER.match(text)
        if stated is None:
            return text, column
        try:
            self._meter = self._meter_of(stated["meter"].replace(" ", ""))
        except ValueError as error:
            self._problems.add(line.number, column + stated.start("meter"), str(error))
        return text[stated.end() :], column + stated.end()

    def _changes(self, cell: Cell, length: Fraction, column: int) -> tuple[Change, ...]:
        """The changes of a bar, placed; none where it does not add up."""
        kinds = [symbol.kind for symbol in cell.symbols]
        if not self.bars and kinds[0] in (BEAT, COPY):
            cell.report(
                cell.symbols[0].column,
                f'a section states its own first chord and cannot begin with "{cell.symbols[0].text}": write the chord',
            )
        if COPY in kinds:
            return self._copied(cell, length)
        try:
            places = offsets(kinds, self._meter, length)
        except ValueError as error:
            cell.report(column, str(error))
            self._unreadable.add(len(self.bars))
            return ()
        chords = [symbol for symbol in cell.symbols if symbol.kind in (CHORD, AND)]
        return tuple(
            Change(
                offset=place,
                chord=symbol.chord or NO_CHORD,
                marks=in_order(symbol.marks),
                line=cell.line,
                column=symbol.column,
            )
            for symbol, place in zip(chords, places, strict=True)
        )

    def _copied(self, cell: Cell, length: Fraction) -> tuple[Change, ...]:
        """The changes of the bar before; a mark behind the sign goes to the last of them."""
        sign = next(symbol for symbol in cell.symbols if symbol.kind == COPY)
        if len(cell.symbols) > 1:
            cell.report(sign.column, "% repeats the whole bar before and stands alone in its bar")
        if not self.bars:
            return ()
        model = self.bars[-1]
        if model.length != length:
            cell.report(sign.column, "the bar before is a pickup, shorter than this one: write the chords again")
        changes = [replace(change, line=cell.line, column=sign.column) for change in model.changes]
        if changes:
            changes[-1] = replace(changes[-1], marks=in_order((*changes[-1].marks, *sign.marks)))
        elif len(self.bars) - 1 in self._unreadable:
            self._unreadable.add(len(self.bars))
        elif sign.marks:
            cell.report(
                sign.column, f"({sign.marks[0]}) belongs to a chord, and the bar before has none: write it again"
            )
        return tuple(changes)


def _told_repeats(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """The same bars with every untold repeat told how often it is played."""
    return tuple(
        replace(bar, closes_repeat=usual_plays(bars, index)) if bar.closes_repeat == _UNTOLD else bar
        for index, bar in enumerate(bars)
    )


def usual_plays(bars: Sequence[Bar], index: int) -> int:
    """How often the repeat that ends with a bar is played where nothing is said: twice, or up to its highest ending."""
    if not bars[index].in_endings:
        return 2
    start = max((i for i in range(index + 1) if bars[i].opens_repeat), default=0)
    end = min((i for i in range(index + 1, len(bars)) if bars[i].opens_repeat), default=len(bars))
    return max(2, *(time for bar in bars[start:end] for time in bar.endings))


def _join(one: Barline, other: Barline) -> bool:
    """Whether two barlines with nothing between them are one, written in two."""
    return not (one.opens or one.times) and not (one.plain and other.plain)
