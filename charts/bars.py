"""Lines of bars: barlines, repeats, endings, ``%``, and the bars between them.

A line of bars begins with ``|``. Where a barline ends one line and begins the next, both are one: their signs are taken
together. The last barline of a line may be left out. A repeat is played twice, or as often as ``xN`` behind its ``:|`` says,
or as often as its highest ending; an ending goes on to ``:|``, ``||``, ``|]``, the next ending, the next ``|:`` or the end of
the section. ``%`` copies the chords of the bar before and the marks that stand after them.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from charts.chart import Bar, Change
from charts.chord import Chord
from charts.counting import AND, BEAT, CHORD, offsets
from charts.lines import Line, Problems
from charts.marks import in_order
from charts.meter import Meter
from charts.symbols import COPY, Cell, Symbol, read_cell

_BARLINE = re.compile(
    r"""(?P<close>:)? (?P<stroke>\|\]|\|\||\|) (?P<open>:)?
        (?:\s*(?P<times>\d+(?:\s*[,–-]\s*\d+)*)\.(?![\w.]))?
        (?:\s*[x×]\s*(?P<plays>\d+)(?!\w))?""",
    re.VERBOSE | re.IGNORECASE,
)
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

    def __init__(self, meter: Meter, pickup: Fraction, read_chord: Callable[[str], Chord], problems: Problems) -> None:
        self.bars: list[Bar] = []
        self._line_starts = 0
        self._meter = meter
        self._pickup = pickup
        self._read_chord = read_chord
        self._problems = problems
        self._opens = False
        self._times: tuple[int, ...] = ()
        self._bracket: tuple[int, ...] = ()
        self._unreadable: set[int] = set()

    def read(self, line: Line) -> None:
        """Reads a line of bars."""
        text = line.text
        self._line_starts = len(self.bars)
        strokes = list(_BARLINE.finditer(text))
        barlines = [self._barline(match, line) for match in strokes]
        ends = [match.start() for match in strokes[1:]] + [len(text)]
        self._pass(barlines[0], line)
        for index, (match, end) in enumerate(zip(strokes, ends, strict=True)):
            cell = text[match.end() : end]
            following = barlines[index + 1] if index + 1 < len(barlines) else None
            if cell.strip():
                self._add(self._read_cell(cell, match.end() + 1, line))
            elif following is not None and not _join(barlines[index], following):
                self._problems.add(
                    line.number,
                    barlines[index].column,
                    "this bar is empty; % repeats the bar before, / is a beat of the chord going on, N.C. is no chord",
                )
            if following is not None:
                self._pass(following, line)
        if len(self.bars) == self._line_starts and not any(
            text[m.end() : e].strip() for m, e in zip(strokes, ends, strict=True)
        ):
            self._problems.add(line.number, line.column, "there is no bar in this line; write one as | D |")

    def below(self, *, words: str = "", melody: str = "", line: int = 0) -> bool:
        """Adds words or melody to the line of bars above; False where there is none."""
        if self._line_starts >= len(self.bars):
            return bool(self.bars)
        bar = self.bars[self._line_starts]
        if words:
            bar = replace(bar, words=(*bar.words, words))
        if melody:
            joined = f"{bar.melody}\n{melody}" if bar.melody else melody
            bar = replace(bar, melody=joined, melody_line=bar.melody_line or line)
        self.bars[self._line_starts] = bar
        return True

    def readable(self, text: str) -> bool:
        """Whether a text without barlines would be read as a bar's chords."""
        nothing_told = Problems()
        return bool(read_cell(text, 1, 1, self._read_chord, nothing_told).symbols) and not nothing_told

    def finished(self) -> tuple[Bar, ...]:
        """All bars, once the section has ended: only now is it known how often each repeat is played."""
        return told_repeats(self.bars)

    def _barline(self, match: re.Match[str], line: Line) -> Barline:
        column = match.start() + 1
        closes, plays = match["close"] is not None, int(match["plays"] or 0)
        if match["plays"] and (not closes or plays < 1):
            self._problems.add(
                line.number,
                match.start("plays"),
                f"x{plays} says how often a repeat is played, 1 or more; it belongs behind the repeat's end: :| x2",
            )
            plays = 0
        times = self._times_of(match["times"] or "", match.start("times") + 1, line)
        return Barline(column, match["stroke"], closes, match["open"] is not None, times, plays)

    def _times_of(self, text: str, column: int, line: Line) -> tuple[int, ...]:
        times: list[int] = []
        for part in filter(None, re.split(r"\s*,\s*", text)):
            first, _, last = re.sub(r"\s*–\s*|\s*-\s*", "-", part).partition("-")
            times.extend(range(int(first), int(last or first) + 1))
        if text and (not times or times != sorted(set(times)) or times[0] < 1 or times[-1] > 99):
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

    def _add(self, bar: Bar) -> None:
        self._bracket = self._times or self._bracket
        self.bars.append(replace(bar, opens_repeat=self._opens, endings=self._times, in_endings=self._bracket))
        self._opens, self._times = False, ()

    def _read_cell(self, text: str, column: int, line: Line) -> Bar:
        cell = read_cell(text, column, line.number, self._read_chord, self._problems)
        first = not self.bars
        column += len(text) - len(text.lstrip())
        length = self._pickup if first and self._pickup else self._meter.bar_length
        number = len(self.bars) + (0 if self._pickup else 1)
        changes = self._changes(cell, length, first, column, line)
        return Bar(
            number=number,
            length=length,
            meter=self._meter,
            changes=changes,
            marks=in_order(cell.bar_marks),
            copies=any(symbol.kind == COPY for symbol in cell.symbols),
            line=line.number,
            column=column,
        )

    def _changes(self, cell: Cell, length: Fraction, first: bool, column: int, line: Line) -> tuple[Change, ...]:
        symbols = cell.symbols
        kinds = [symbol.kind for symbol in symbols]
        if first and kinds and kinds[0] in (BEAT, COPY):
            self._problems.add(
                line.number,
                symbols[0].column,
                f'a section states its own first chord; it cannot begin with "{symbols[0].text}": write the chord again',
            )
        changes: tuple[Change, ...] = ()
        if COPY in kinds:
            changes = self._copied(symbols, length, first, line)
        elif not kinds:
            self._problems.add(
                line.number,
                column,
                "there is no chord in this bar; write the chord again, / for every beat, or N.C. for none",
            )
        else:
            try:
                changes = _placed(symbols, offsets(kinds, self._meter, length), line.number)
            except ValueError as error:
                self._problems.add(line.number, column, str(error))
                self._unreadable.add(len(self.bars))
                return ()
        return self._marked(changes, cell, line)

    def _copied(self, symbols: Sequence[Symbol], length: Fraction, first: bool, line: Line) -> tuple[Change, ...]:
        sign = next(symbol for symbol in symbols if symbol.kind == COPY)
        if len(symbols) > 1:
            self._problems.add(line.number, sign.column, "% repeats the whole bar before and stands alone in its bar")
        if first:
            return ()
        model = self.bars[-1]
        if model.length != length:
            self._problems.add(
                line.number,
                sign.column,
                "the bar before is a pickup, and shorter than this one: write the chords again",
            )
        if len(self.bars) - 1 in self._unreadable:
            self._unreadable.add(len(self.bars))
        return tuple(replace(change, line=line.number, column=sign.column) for change in model.changes)

    def _marked(self, changes: tuple[Change, ...], cell: Cell, line: Line) -> tuple[Change, ...]:
        """The changes with the marks of their bar that do not follow a chord directly."""
        marked = list(changes)
        chords = 0
        loose = cell.opening_marks
        beats_first = False
        for symbol in cell.symbols:
            if symbol.kind in (CHORD, AND):
                chords += 1
                if loose and chords == 1 and not beats_first and marked:
                    marked[0] = _with_marks(marked[0], loose)
                    loose = ()
            elif symbol.kind == COPY:
                loose += symbol.marks
                if marked and loose:
                    marked[-1] = _with_marks(marked[-1], loose)
                    loose = ()
            elif chords and marked and symbol.marks:
                marked[chords - 1] = _with_marks(marked[chords - 1], symbol.marks)
            elif not chords:
                beats_first = True
                loose += symbol.marks
        if loose and len(self.bars) not in self._unreadable and self.bars:
            self._problems.add(
                line.number,
                cell.mark_column,
                f"({', '.join(loose)}) belongs to a chord, and none is written before it in this bar: write the chord again",
            )
        return tuple(marked)


def told_repeats(bars: Sequence[Bar]) -> tuple[Bar, ...]:
    """The same bars with every untold repeat told how often it is played."""
    return tuple(
        replace(bar, closes_repeat=usual_plays(bars, index)) if bar.closes_repeat == _UNTOLD else bar
        for index, bar in enumerate(bars)
    )


def usual_plays(bars: Sequence[Bar], index: int) -> int:
    """How often the repeat that ends with a bar is played where nothing is said: twice, or as its highest ending says."""
    start = max((i for i in range(index + 1) if bars[i].opens_repeat), default=0)
    end = min((i for i in range(index + 1, len(bars)) if bars[i].opens_repeat), default=len(bars))
    return max((time for bar in bars[start:end] for time in bar.endings), default=2) if end > start else 2


def _join(one: Barline, other: Barline) -> bool:
    """Whether two barlines with nothing between them are one, written in two."""
    return not (one.opens or one.times) and not (one.plain and other.plain)


def _placed(symbols: Sequence[Symbol], places: Sequence[Fraction], line: int) -> tuple[Change, ...]:
    chords = [symbol for symbol in symbols if symbol.kind in (CHORD, AND)]
    return tuple(
        Change(
            offset=place,
            chord=symbol.chord or Chord(None),
            marks=in_order(symbol.marks),
            line=line,
            column=symbol.column,
        )
        for symbol, place in zip(chords, places, strict=True)
    )


def _with_marks(change: Change, marks: tuple[str, ...]) -> Change:
    return replace(change, marks=in_order((*change.marks, *marks)))
