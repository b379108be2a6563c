"""Repeats within a section, written out: ``|: :| xN`` with first and second endings, one inside the other.

Conventions (common practice, no source):

* A ``:|`` without ``|:`` goes back to the start of the section, or to the end of the last repeat before it.
* Every time round takes the ending that is numbered for it; a time without an ending goes on behind the brackets, so
  a first ending alone is left out the last time. A ``:|`` behind the last ending is only a habit of writing: the
  repeat is over after its last time.
* Played more often than its endings are numbered, the last ending is kept for the last time and the one before it is
  taken again until then: ``|1. :| x4 |2.`` plays 1, 1, 1, 2.
* A repeat that never closes is played once.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from charts.chart import Bar


@dataclass(frozen=True, slots=True)
class Round:
    """One bar of a section in the order of playing."""

    bar: int
    """Index into the section's bars."""
    time: int
    """Which time round its innermost repeat, from 1; 1 outside repeats."""
    last: bool
    """Whether every repeat that the bar lies in is in its last time: what is played when repeats are not taken."""


@dataclass(frozen=True, slots=True)
class Ending:
    """What lies under one bracket."""

    times: tuple[int, ...]
    bars: tuple[int, ...]
    """Indices of its bars."""


@dataclass(frozen=True, slots=True)
class Repeat:
    """A stretch played ``plays`` times in all."""

    items: tuple[Item, ...]
    endings: tuple[Ending, ...]
    plays: int
    closed: bool = True
    """Whether a ``:|`` belongs to it."""

    def ending(self, time: int) -> tuple[int, ...]:
        """What follows the repeated stretch at a time round; nothing where no ending is meant for it."""
        endings = sorted(self.endings, key=lambda ending: max(ending.times))
        oftener = bool(endings) and self.plays > max(endings[-1].times)
        if oftener and time == self.plays:
            return endings[-1].bars if len(endings) > 1 else ()
        if oftener:
            endings = endings[:-1] or endings
        named = [ending for ending in endings if time in ending.times]
        before = [ending for ending in endings if oftener and min(ending.times) <= time]
        return next((ending.bars for ending in [*named, *reversed(before)]), ())


Item = int | Repeat
"""A bar's index, or a repeat."""


def rounds(bars: Sequence[Bar]) -> Iterator[Round]:
    """The bars of a section in the order of playing, its repeats taken."""
    return _played(repeats(bars), time=1, last=True)


def repeats(bars: Sequence[Bar]) -> tuple[Item, ...]:
    """The bars of a section with its repeats as written, one inside the other."""
    items: list[Item] = []
    since = 0
    """Where in ``items`` a repeat without ``|:`` begins."""
    here = 0
    while here < len(bars):
        if bars[here].opens_repeat:
            repeat, here = _repeat(bars, here)
        elif bars[here].endings:
            repeat, here = _with_endings(tuple(items[since:]), bars, here)
            del items[since:]
        elif bars[here].closes_repeat:
            repeat = Repeat((*items[since:], here), (), bars[here].closes_repeat)
            del items[since:]
            here += 1
        else:
            items.append(here)
            here += 1
            continue
        items.append(repeat)
        since = len(items)
    return tuple(items)


def _repeat(bars: Sequence[Bar], start: int) -> tuple[Repeat, int]:
    """The repeat that opens with a bar, and the index of the bar behind it."""
    items: list[Item] = []
    here = start
    while here < len(bars):
        if bars[here].opens_repeat and here > start:
            inner, here = _repeat(bars, here)
            items.append(inner)
        elif bars[here].endings:
            return _with_endings(tuple(items), bars, here)
        else:
            items.append(here)
            here += 1
            if bars[here - 1].closes_repeat:
                return Repeat(tuple(items), (), bars[here - 1].closes_repeat), here
    return Repeat(tuple(items), (), 1, closed=False), here


def _with_endings(items: tuple[Item, ...], bars: Sequence[Bar], here: int) -> tuple[Repeat, int]:
    """The repeat whose first ending begins with a bar, and the index of the bar behind its last ending."""
    endings: list[Ending] = []
    plays = 1
    closed = False
    while here < len(bars) and bars[here].endings and not (endings and bars[here].opens_repeat):
        times = bars[here].endings
        first = here
        here += 1
        while here < len(bars) and not bars[here - 1].closes_repeat and _under_the_same(bars[here]):
            here += 1
        plays = max(plays, bars[here - 1].closes_repeat, *times)
        closed = closed or bool(bars[here - 1].closes_repeat)
        endings.append(Ending(times, tuple(range(first, here))))
    return Repeat(items, tuple(endings), plays, closed), here


def _under_the_same(bar: Bar) -> bool:
    """Whether a bar goes on under the bracket that the bar before it lies under."""
    return bool(bar.in_endings) and not bar.endings and not bar.opens_repeat


def _played(items: Sequence[Item], *, time: int, last: bool) -> Iterator[Round]:
    for item in items:
        if isinstance(item, int):
            yield Round(item, time, last)
            continue
        for turn in range(1, item.plays + 1):
            now_last = last and turn == item.plays
            yield from _played(item.items, time=turn, last=now_last)
            yield from _played(item.ending(turn), time=turn, last=now_last)
