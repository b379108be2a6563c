"""The figure: where the left hand attacks, before it is known which keys it takes.

The feel's cell is laid over each bar and cut at every change, so that chords never blur: an attack belongs to the chord
written at its place, and nothing is held past the change that owns it. A change has an attack of its own: at its place where
the feel has one on the first beat of the bar, or where the change stands off the beat; in a feel that leaves the beats to the
pedal, the first attack inside it; and where the cell leaves it none, one at its place. The last change of all is struck at
its place in every feel, so that a player who holds it has something to hold.

Marks: ``push`` strikes the chord one division of the counted beat early (and again on its beat only where the bar would be
left with a single attack), ``late`` one division late; ``hold`` is one attack for the whole change, ``break`` one short
attack and silence, ``tacet`` silence; ``rit.`` thins to an attack on each beat until ``a tempo`` or the end of the section;
``breath`` leaves a gap before what follows. A division is half of a simple beat and a third of a compound one, the place
where ``&`` puts a chord. What a feel has for a ritard instead, and for the last bar of a section, are rules of its own file; a
section of a single bar has no last bar.

From fullness 2 up every bar has two attacks, except where the feel is held or a mark asks for less: what pushes, cuts and the
room take away is made up for on the next free beat.

Nothing is pushed into a bar in which the figure is out, nor after a hold, a breath or a stop: there the foot leads.

Places here are whole ticks, a share of a quarter note chosen so that everything in a route falls on one (``Ticks``).
"""

from __future__ import annotations

import itertools
from bisect import bisect_left, insort
from collections.abc import Callable, Generator, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import lcm

from charts.chart import A_TEMPO, BREAK, BREATH, HOLD, LATE, PUSH, RIT, TACET
from charts.meter import Meter
from charts.route import Route, RouteBar, RouteChange
from liveassist.arranging.arrangement import FULLNESS
from liveassist.arranging.feel import GO_ON, HELD, LEAST_ATTACKS, LIFT, LIGHT, PLAIN, QUARTERS, STRONG, Feel
from liveassist.arranging.feels import Feels, feel_for, load_feels
from liveassist.arranging.slicing import A_FEW, finished

FINEST = 960
"""Ticks to a quarter note: triplets, and the thirty-second notes of every meter, fall on one."""
BREAK_SHARE = Fraction(1, 2)
"""A break's attack, as a share of the counted beat."""
BREATH_SHARE = Fraction(1, 2)
"""A breath, as a share of the counted beat; never more than half of the change."""
LIFT_SHARE = Fraction(1, 2)
"""The lift at a section's end, as a share of the counted beat; never more than half of the last attack."""

_RANK = {STRONG: 1, PLAIN: 2, LIGHT: 3}


@dataclass(frozen=True, slots=True)
class Attack:
    """One attack of the figure."""

    start: int
    stop: int
    """Where its written value ends."""
    change: int
    bar: int
    """The bar it stands in."""
    weight: str
    voice: int
    """The voice of a broken chord, from 1; 0 for the chord."""
    touch: str
    first: bool
    """The first attack of its change."""
    shorter: bool = False
    """For variety: a fifth shorter than its touch."""


@dataclass(frozen=True, slots=True)
class Piece:
    """The part of a change that lies in one bar."""

    bar: RouteBar
    start: int
    stop: int


class Ticks:
    """A route's places in ticks."""

    def __init__(self, route: Route, within: Iterable[Fraction] = ()) -> None:
        """``within``: places in bars that must fall on a tick too."""
        places = [change.position for change in route.changes] + [bar.position for bar in route.bars] + [route.length]
        self.per_quarter = lcm(FINEST, *(place.denominator for place in (*places, *within)))

    def of(self, quarters: Fraction) -> int:
        """Quarter notes in ticks."""
        return int(quarters * self.per_quarter)


def division(meter: Meter) -> Fraction:
    """Quarter notes in the division of a counted beat."""
    return meter.counted_beat / (3 if meter.compound else 2)


def level_of(bar: RouteBar, fullness: int) -> int:
    """The fullness of a bar where so much is asked for: its own steps added, from bare to full."""
    return min(max(fullness + bar.fullness, FULLNESS[0]), FULLNESS[-1])


class Figure:
    """The figure of a route, for any fullness."""

    def __init__(
        self,
        route: Route,
        *,
        feel: str,
        least_spacing: Callable[[RouteBar], Fraction],
        quickest: Callable[[RouteBar], Fraction],
        paces: Sequence[float] = (),
        feels: Feels | None = None,
    ) -> None:
        """
        Args:
            route: as unfolded from the chart.
            feel: for every bar, instead of what the chart says; empty takes the chart's.
            least_spacing: how near attacks may come in a bar, in quarter notes.
            quickest: how near at the very least, where a bar would have too few of them.
            paces: for each bar its quarter notes a minute; empty takes what is written.
            feels: those there are; None: those that come with the tool.
        """
        self.route = route
        known = load_feels() if feels is None else feels
        self._feels = [feel_for(feel or bar.feel or route.chart.feel, bar.meter, known) for bar in route.bars]
        self._paces = list(paces) or [bar.quarter_bpm for bar in route.bars]
        self._slowing = _slowing(route)
        self._last = [bar.ends_section and not bar.starts_section for bar in route.bars]
        self.ticks = Ticks(route, self._places())
        self._least_spacing, self._at_least = least_spacing, quickest
        self._apart: list[int] = []
        """For each bar how near attacks may come, and how near at the very least."""
        self._quickest: list[int] = []
        self._pieces: list[list[Piece]] = []
        self._starts: list[int] = []
        """For each change where it takes over, and where the next one does."""
        self._stops: list[int] = []
        self._cells: dict[tuple[str, Meter, int, Fraction, bool], list[tuple[int, int, str, int]]] = {}

    def voices(self, change: RouteChange, fullness: int) -> int:
        """How many voices the feel gives a change."""
        bar = self.route.bars[change.bar]
        return self._feels[bar.index].rows[level_of(bar, fullness)].voices

    def light(self, change: RouteChange, fullness: int) -> int:
        """How many voices the feel gives its light attacks."""
        bar = self.route.bars[change.bar]
        return self._feels[bar.index].rows[level_of(bar, fullness)].light

    def takes_over(self, change: RouteChange) -> Fraction:
        """Where a change takes over, in quarter notes: early where it is pushed."""
        return Fraction(self._starts[change.index], self.ticks.per_quarter)

    def attacks(self, fullness: int) -> list[Attack]:
        """Every attack, in order."""
        return finished(self.attacks_in_slices(fullness))

    def attacks_in_slices(self, fullness: int) -> Generator[None, None, list[Attack]]:
        """The same, giving way after a few changes."""
        yield from self._lay_out()
        found: list[Attack] = []
        for change in self.route.changes:
            if not change.index % A_FEW:
                yield
            found += self._of_change(change, fullness)
        yield
        found = yield from _spaced(found, self._apart)
        yield
        spaced = self._enough(found, fullness)
        following = [*(attack.start for attack in spaced), self.ticks.of(self.route.length)][1:]
        ending: list[Attack] = []
        for attack, end in zip(spaced, following, strict=True):
            if not len(ending) % A_FEW:
                yield
            ending.append(replace(attack, stop=min(attack.stop, end)))
        return ending

    def steady(self, attack: Attack) -> bool:
        """Whether an attack is always played as it stands: where its feel wants no variety, the music slows down, it is held or
        broken off by a mark, or the song ends with it."""
        change, feel = self.route.changes[attack.change], self._feels[attack.bar]
        slows = self.route.bars[attack.bar].rit or self._slowing[attack.change]
        by_mark = HOLD in change.marks or BREAK in change.marks
        ends = attack.first and attack.change == len(self.route.changes) - 1
        return not feel.variety or slows or by_mark or ends

    # -- where changes lie ----------------------------------------------------------------------------------------

    def _lay_out(self) -> Generator[None, None, None]:
        """Where the changes lie; once, and in slices."""
        if self._starts:
            return
        self._apart = [self.ticks.of(self._least_spacing(bar)) for bar in self.route.bars]
        yield
        self._quickest = [self.ticks.of(self._at_least(bar)) for bar in self.route.bars]
        yield
        self._pieces = self._cut()
        yield
        self._starts = [self._start(change) for change in self.route.changes]
        self._stops = [*self._starts[1:], self.ticks.of(self.route.length)]
        yield

    def _cut(self) -> list[list[Piece]]:
        """For each change the bars it lies in, without those in which the figure is out."""
        pieces: list[list[Piece]] = [[] for _ in self.route.changes]
        sounding = -1
        for bar in self.route.bars:
            bar_start = self.ticks.of(bar.position)
            starts = [(index, self.ticks.of(self.route.changes[index].position)) for index in bar.changes]
            if sounding >= 0 and (not starts or starts[0][1] > bar_start):
                starts.insert(0, (sounding, bar_start))
            stops = [start for _, start in starts[1:]] + [self.ticks.of(bar.end)]
            for (index, start), stop in zip(starts, stops, strict=True):
                sounding = index
                if not bar.out:
                    pieces[index].append(Piece(bar, start, stop))
        return pieces

    def _silent(self, change: RouteChange) -> bool:
        return change.root is None or TACET in change.marks or self.route.bars[change.bar].out

    def _start(self, change: RouteChange) -> int:
        """Where a change takes over: early where it is pushed and there is something to push into."""
        here = self.ticks.of(change.position)
        if PUSH not in change.marks or change.index == 0 or self._silent(change):
            return here
        before, at_barline = self.route.changes[change.index - 1], change.offset == 0
        bar = self.route.bars[change.bar - at_barline]
        early = here - self.ticks.of(division(self.route.bars[change.bar].meter))
        foot_leads = HOLD in before.marks or BREATH in before.marks or (at_barline and (bar.wait or bar.out))
        return here if foot_leads or early <= self.ticks.of(before.position) else early

    # -- the attacks of one change --------------------------------------------------------------------------------

    def _of_change(self, change: RouteChange, fullness: int) -> list[Attack]:
        if self._silent(change):
            return []
        start, stop = self._starts[change.index], self._stops[change.index]
        pieces = [piece for piece in self._pieces[change.index] if piece.start < stop]
        bar = self.route.bars[change.bar]
        if LATE in change.marks:
            late = start + self.ticks.of(division(bar.meter))
            start = late if late < min(pieces[0].stop, stop) else start
        stop -= self._breath(change, start, stop)
        if BREAK in change.marks:
            return [
                self._own(change, start, min(stop, start + self.ticks.of(bar.meter.counted_beat * BREAK_SHARE)), HELD)
            ]
        feel = self._feel_in(change, bar, fullness)
        if HOLD in change.marks or feel.held:
            return [self._own(change, start, min(stop, _end_of_run(pieces)), HELD)]
        found = [attack for piece in pieces for attack in self._of_piece(change, piece, fullness)]
        found = [attack for attack in found if start <= attack.start < stop]
        if self._needs_own(change, pieces[0], start, found, fullness):
            written = max(start, pieces[0].start)
            if len(self._cell(change, bar, fullness)) > 2:  # a pushed chord is not struck again on its beat
                found = [attack for attack in found if attack.start > written]
            until = min(written + self.ticks.of(bar.meter.counted_beat), _end_of_run(pieces))
            found.insert(0, self._own(change, start, until, feel.touch))
        return [
            replace(attack, stop=min(attack.stop, stop), voice=attack.voice if number else 0, first=not number)
            for number, attack in enumerate(found)
        ]

    def _breath(self, change: RouteChange, start: int, stop: int) -> int:
        """How much of a change a breath takes."""
        if BREATH not in change.marks:
            return 0
        beat = self.route.bars[change.bar].meter.counted_beat
        return min(self.ticks.of(beat * BREATH_SHARE), (stop - start) // 2)

    def _own(self, change: RouteChange, start: int, stop: int, touch: str) -> Attack:
        """An attack that the change has whatever the cell says."""
        return Attack(start, stop, change.index, change.bar, STRONG, 0, touch, True)

    def _needs_own(self, change: RouteChange, first: Piece, start: int, found: Sequence[Attack], fullness: int) -> bool:
        """Whether a change must be struck at a place where the cell has nothing for it."""
        if start < first.start:
            return True
        if found and found[0].start == start:
            return False
        cell = self._cell(change, first.bar, fullness)
        on_the_beat = (first.bar.beat_at(change.position)).denominator == 1
        return (
            start > first.start
            or change.index == len(self.route.changes) - 1
            or not on_the_beat
            or cell[0][0] == 0
            or not any(attack.start < first.stop for attack in found)
        )

    def _of_piece(self, change: RouteChange, piece: Piece, fullness: int) -> list[Attack]:
        """What the cell has between the ends of a piece."""
        bar = piece.bar
        feel = self._feel_in(change, bar, fullness)
        if feel.held:  # a ritard came over a chord that was there before: struck once more, and held
            pieces = self._pieces[change.index]
            slow = [each for each in pieces if self._feel_in(change, each.bar, fullness).held]
            until = _end_of_run(slow)
            return (
                [Attack(piece.start, until, change.index, bar.index, STRONG, 0, HELD, False)]
                if piece == slow[0]
                else []
            )
        missing = bar.meter.bar_length - bar.length if bar.number == 0 else Fraction(0)
        origin = self.ticks.of(bar.position - missing)
        found = [
            Attack(origin + offset, origin + offset + value, change.index, bar.index, weight, voice, feel.touch, False)
            for offset, value, weight, voice in self._cell(change, bar, fullness)
            if piece.start <= origin + offset < piece.stop
        ]
        return [self._lifted(attack, bar) for attack in found] if self._lifts(bar, feel) else found

    def _lifts(self, bar: RouteBar, feel: Feel) -> bool:
        return self._last[bar.index] and feel.ending == LIFT

    def _lifted(self, attack: Attack, bar: RouteBar) -> Attack:
        """An attack that comes up before the next section begins."""
        half = attack.start + (attack.stop - attack.start + 1) // 2
        until = self.ticks.of(bar.end) - self.ticks.of(bar.meter.counted_beat * LIFT_SHARE)
        return replace(attack, stop=min(attack.stop, max(half, until)))

    def _feel_in(self, change: RouteChange, bar: RouteBar, fullness: int) -> Feel:
        """The feel of a change in a bar: what its rule leaves of it where the music slows down; by rule of thumb a chord on
        each beat, where it has more than that."""
        feel = self._feels[bar.index]
        if feel.held or feel.ritard == GO_ON or not (bar.rit or self._slowing[change.index]):
            return feel
        if feel.ritard == QUARTERS:
            attacks = feel.attacks(bar.meter, level_of(bar, fullness))
            sparse = len(attacks) <= bar.meter.counted_beats and attacks[0].offset == 0
            return feel if sparse else load_feels()[QUARTERS]
        return load_feels()[HELD] if feel.ritard == HELD else feel.slowed()

    def _cell(self, change: RouteChange, bar: RouteBar, fullness: int) -> list[tuple[int, int, str, int]]:
        """The attacks of a full bar in ticks: offset, value, weight, voice."""
        feel, level = self._feel_in(change, bar, fullness), level_of(bar, fullness)
        pace, last = self._paces[bar.index], self._last[bar.index]
        key = (feel.name, bar.meter, level, feel.ratio(bar.meter, pace), last)
        if key not in self._cells:
            self._cells[key] = [
                (self.ticks.of(attack.offset), self.ticks.of(attack.value), attack.weight, attack.voice)
                for attack in feel.attacks(bar.meter, level, quarter_bpm=pace, last=last)
            ]
        return self._cells[key]

    # -- enough of them -------------------------------------------------------------------------------------------

    def _enough(self, attacks: list[Attack], fullness: int) -> list[Attack]:
        """With what is missing where pushes, cuts and the room have left a bar fewer attacks than it needs."""
        starts = [attack.start for attack in attacks]
        added: list[Attack] = []
        for bar in self.route.bars:
            first, end = self.ticks.of(bar.position), self.ticks.of(bar.end)
            low, high = bisect_left(starts, first), bisect_left(starts, end)
            if high - low >= LEAST_ATTACKS or bar.out or not bar.number or level_of(bar, fullness) == FULLNESS[0]:
                continue
            near = starts[max(0, low - 1) : high + 1]
            for _ in range(LEAST_ATTACKS - (high - low)):
                another = self._another(bar, near, attacks[max(0, low - 1) : high], fullness)
                if another is not None:
                    added.append(another)
                    near = sorted([*near, another.start])
        return sorted([*attacks, *added], key=lambda attack: attack.start) if added else attacks

    def _another(self, bar: RouteBar, near: Sequence[int], struck: Sequence[Attack], fullness: int) -> Attack | None:
        """One more attack in a bar, on a free beat or, where none is free, between beats; as far from the others as the
        room asks, or else as the action does."""
        for apart in (self._apart[bar.index], self._quickest[bar.index]):
            for step, weight in ((bar.meter.counted_beat, PLAIN), (division(bar.meter), LIGHT)):
                for number in range(int(bar.length / step)):
                    start = self.ticks.of(bar.position + number * step)
                    free = self._free(bar, start, struck, fullness) if _free_of(start, near, apart) else None
                    if free is not None:
                        change, end = free
                        touch = self._feel_in(change, bar, fullness).touch
                        stop = min(start + self.ticks.of(step), end)
                        return Attack(start, stop, change.index, bar.index, weight, 0, touch, False)
        return None

    def _free(
        self, bar: RouteBar, start: int, struck: Sequence[Attack], fullness: int
    ) -> tuple[RouteChange, int] | None:
        """The change that may be struck once more at a place in a bar, and where it is over."""
        before = [attack for attack in struck if attack.start < start]
        if not before:
            return None
        change = self.route.changes[before[-1].change]
        begun, stop = self._starts[change.index], self._stops[change.index]
        end = stop - self._breath(change, begun, stop)
        once = {HOLD, BREAK} & set(change.marks)
        held = self._feel_in(change, bar, fullness).held
        return None if once or held or start >= end else (change, end)

    def _places(self) -> Iterable[Fraction]:
        """Where swung notes fall, within their pairs."""
        for feel, bar, pace in zip(self._feels, self.route.bars, self._paces, strict=True):
            ratio = feel.ratio(bar.meter, pace)
            yield 2 * feel.step(bar.meter) * ratio / (ratio + 1)


def _free_of(start: int, others: Sequence[int], apart: int) -> bool:
    return all(abs(start - other) >= max(apart, 1) for other in others)


def _slowing(route: Route) -> list[bool]:
    """For each change whether a written ritard is on: until ``a tempo`` or the end of the section."""
    found, slowing = [], False
    step = -1
    for change in route.changes:
        bar = route.bars[change.bar]
        if bar.step != step or A_TEMPO in change.marks:
            slowing = False
        step = bar.step
        slowing = slowing or RIT in change.marks
        found.append(slowing)
    return found


def _end_of_run(pieces: Sequence[Piece]) -> int:
    """Where the first gap comes in what a change has of its bars."""
    for piece, following in itertools.pairwise(pieces):
        if piece.stop != following.start:
            return piece.stop
    return pieces[-1].stop


def _spaced(attacks: list[Attack], apart: Sequence[int]) -> Generator[None, None, list[Attack]]:
    """Without the attacks that come too near to others: the first of each change stays, then strong before plain before light,
    earlier before later."""
    near = any(later.start - sooner.start < apart[later.bar] for sooner, later in itertools.pairwise(attacks))
    if not near:
        return attacks
    order = sorted(attacks, key=lambda attack: (0 if attack.first else _RANK[attack.weight], attack.start))
    kept: list[int] = []
    for number, attack in enumerate(order):
        if not number % A_FEW:
            yield
        at = bisect_left(kept, attack.start)
        free = all(abs(attack.start - other) >= apart[attack.bar] for other in kept[max(0, at - 1) : at + 1])
        if free or attack.first:
            insort(kept, attack.start)
    staying = set(kept)
    return [attack for attack in attacks if attack.start in staying]
