"""The sheet: which bars are printed, and with which repeats and signs.

An organist reads from left to right with both hands and both feet busy, so the sheet is the route in the order of playing; a
repeat is printed as one only where every staff is the same each time, the left hand to the last note: inner repeats with their
endings, a section that comes round at once again (``twice``), and D.S. and D.C. in a chart without a roadmap. Anything that
differs (another key, a fuller time, a voicing led from elsewhere) is written out. ``unfolded`` writes everything out.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby

from charts.chart import BAR_MARKS, TAG, TAG_END, VAMP, VAMP_END, Bar, Chart, Section
from charts.repeats import rounds
from charts.roadmap import JUMPS
from charts.route import RouteBar
from liveassist.page.score import Score

NOWHERE = Fraction(0)
_PLACES = (TAG, TAG_END, VAMP, VAMP_END)
"""Marks that are printed wherever their bar is; the others are signs, which only a folded sheet obeys."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Printed:
    """One bar of the sheet."""

    index: int
    """The bar of the route that it is, the first of them where it is played several times."""
    heading: str = ""
    """The section's name, where it begins."""
    marks: tuple[str, ...] = ()
    """Members of ``BAR_MARKS``."""
    opens_repeat: bool = False
    closes_repeat: int = 0
    """How often the repeat that ends here is played in all; 0 where none ends."""
    endings: tuple[int, ...] = ()
    """The times of the ending bracket that begins here."""
    closes_ending: bool = False
    in_endings: tuple[int, ...] = ()
    barline: str = "|"
    new_line: bool = False
    """The chart begins a line of bars here."""
    times: int = 1
    """How often the section that begins here is played, one time after the other."""


def sheet(score: Score, *, unfolded: bool = False) -> tuple[Printed, ...]:
    """The bars to print, in order."""
    chart = score.route.chart
    printed: list[Printed] | None = None
    if not unfolded and not chart.roadmap:
        printed = _as_written(score)
    if printed is None:
        printed = _in_order(score, unfolded=unfolded)
    return tuple(_finished(printed))


def _in_order(score: Score, *, unfolded: bool) -> list[Printed]:
    """One time through a section after the other."""
    visits = [list(bars) for _, bars in groupby(score.route.bars, key=lambda bar: bar.step)]
    printed: list[list[Printed]] = []
    before: list[RouteBar] = []
    for visit in visits:
        if not unfolded and printed and _equal(score, before, visit):
            again = _once_more(printed[-1])
            if again is not None:
                printed[-1] = again
                continue
        section = score.route.chart.section(visit[0].section)
        folded = None if unfolded else _folded(score, visit, section)
        printed.append(folded or list(_written_out(visit, section)))
        before = visit
    return [bar for visit_ in printed for bar in visit_]


def _same(score: Score, one: int, other: int) -> bool:
    """Whether two bars of the route look the same on the page."""
    bars = score.route.bars
    return score.contents[one] == score.contents[other] and _stated(bars[one]) == _stated(bars[other])


def _stated(bar: RouteBar) -> RouteBar:
    """What a bar of the route states, wherever in the route it lies."""
    return replace(
        bar, index=0, step=0, pass_=0, time=0, position=NOWHERE, changes=(), starts_section=False, ends_section=False
    )


def _equal(score: Score, one: Sequence[RouteBar], other: Sequence[RouteBar]) -> bool:
    return len(one) == len(other) and all(_same(score, a.index, b.index) for a, b in zip(one, other, strict=True))


def _once_more(printed: list[Printed]) -> list[Printed] | None:
    """The same bars played one time more, by a repeat around all of them; None where there are repeats inside."""
    inside = printed[1:-1]
    first, last = printed[0], printed[-1]
    if any(bar.endings or bar.in_endings for bar in printed) or any(b.opens_repeat or b.closes_repeat for b in inside):
        return None
    whole = first.opens_repeat and last.closes_repeat and len(printed) > 1
    plain = not (first.opens_repeat or first.closes_repeat or last.opens_repeat or last.closes_repeat)
    if not whole and not plain:
        return None
    # played so often in one time through
    rounds_ = last.closes_repeat // first.times if whole else 1
    found = [replace(first, opens_repeat=True, times=first.times + 1), *printed[1:]]
    found[-1] = replace(found[-1], closes_repeat=rounds_ * (first.times + 1))
    return found


# -- one time through a section -------------------------------------------------------------------------------------


def _written_out(visit: Sequence[RouteBar], section: Section) -> Iterator[Printed]:
    """Every bar in the order of playing, without signs."""
    by_number = {bar.number: bar for bar in section.bars}
    before = None
    for bar in visit:
        written = by_number[bar.number]
        yield Printed(
            index=bar.index,
            heading=section.name if before is None else "",
            marks=tuple(mark for mark in bar.marks if mark in _PLACES),
            barline=written.barline,
            new_line=before is None or bar.line != before.line or bar.number <= before.number,
        )
        before = bar


def _folded(score: Score, visit: Sequence[RouteBar], section: Section) -> list[Printed] | None:
    """A section with its repeats as written, where what is repeated is the same each time."""
    played = [section.bars[each.bar].number for each in rounds(section.bars)]
    numbers = [bar.number for bar in visit]
    if numbers not in (played, [number for number in played if number]):
        return None
    first = _first_times(score, visit)
    if first is None:
        return None
    bars = [bar for bar in section.bars if bar.number in first]
    return [
        replace(each, marks=tuple(mark for mark in each.marks if mark in _PLACES))
        for each in _with_signs(bars, section, first)
    ]


def _as_written(score: Score) -> list[Printed] | None:
    """The chart with its repeats and its signs, where every bar is the same each time it comes."""
    chart = score.route.chart
    if not _signs(chart):
        return None
    printed: list[Printed] = []
    for section in chart.sections:
        visits = [bar for bar in score.route.bars if bar.section == section.name]
        first = _first_times(score, visits)
        if first is None or any(bar.number not in first for bar in section.bars):
            return None
        printed += _with_signs(section.bars, section, first)
    return printed


def _signs(chart: Chart) -> bool:
    """Whether a jump is written anywhere."""
    return any(mark in JUMPS for section in chart.sections for bar in section.bars for mark in bar.marks)


def _first_times(score: Score, bars: Sequence[RouteBar]) -> dict[int, int] | None:
    """For each written bar its first time in the route; None where a later time differs."""
    first: dict[int, int] = {}
    for bar in bars:
        if not _same(score, first.setdefault(bar.number, bar.index), bar.index):
            return None
    return first


def _with_signs(bars: Sequence[Bar], section: Section, first: dict[int, int]) -> Iterator[Printed]:
    """Written bars as the chart has them."""
    for number, bar in enumerate(bars):
        following = bars[number + 1] if number + 1 < len(bars) else None
        yield Printed(
            index=first[bar.number],
            heading=section.name if not number else "",
            marks=tuple(mark for mark in BAR_MARKS if mark in bar.marks),
            opens_repeat=bar.opens_repeat,
            closes_repeat=bar.closes_repeat,
            endings=bar.endings,
            in_endings=bar.in_endings,
            closes_ending=bool(bar.in_endings) and (following is None or following.in_endings != bar.in_endings),
            barline=bar.barline,
            new_line=not number or bar.line != bars[number - 1].line,
        )


def _finished(printed: Sequence[Printed]) -> Iterator[Printed]:
    """Double barlines where a section ends, the final one at the end of the sheet."""
    for number, bar in enumerate(printed):
        if number + 1 == len(printed):
            yield bar if JUMPS.keys() & set(bar.marks) else replace(bar, barline="|]")
        elif printed[number + 1].heading:
            yield replace(bar, barline="||" if bar.barline == "|" else bar.barline)
        else:
            yield bar
