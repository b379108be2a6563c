"""How an imagined player walks through a route, and when each beat falls.

Conventions: a *count* is quarter notes played since the start, always growing; positions are quarter notes of the
route. The two part company where the player repeats or skips something unasked. Seconds count from the start of the
script.

Human time is the sum of simple things, each with a source of its own:

* *clock noise*: every beat interval is a little wrong, and the next one starts from there (Wing & Kristofferson 1973: a
  timer and a motor delay; a timer's errors add up, a motor's do not; from memory);
* *drift*: the period wanders slowly and comes back (an autoregressive walk in the logarithm of the period);
* *wander*: the tempo moves on all scales at once, from beat to beat as from line to line (beats of people who play by
  themselves are 1/f noise: Gilden, Thornton & Mallon 1995; Hennig et al. 2011; both from memory). Made as a sum of
  first-order processes whose memories double, the usual sum for 1/f noise;
* *arches*: a phrase begins and ends slower than it goes in the middle (Todd 1985; Repp 1992; both from memory);
* *ritard*: the tempo falls over the zone as in ``liveassist.arranging.clock``;
* *drag*: who follows a congregation sinks with it through a section and picks the tempo up at the next. That players who hear
  each other late slow down steadily is known (from 11.5 ms on: Chafe et al. 2004); how far a congregation sinks is not, and 5
  to 10 % a section is a choice of ours;
* *pauses*: holds, breaths, waits and stops put extra seconds between two counts.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from charts.route import Route, RouteBar, RouteChange
from liveassist.arranging.clock import Clock, Pause, Zone, ritards, slowed


@dataclass(frozen=True, slots=True)
class PlayedBar:
    """One bar as it was really played."""

    bar: RouteBar
    count: Fraction
    """Quarter notes played before it."""
    landed: bool = False
    """The player came here by an unplanned repeat or skip."""

    @property
    def end(self) -> Fraction:
        return self.count + self.bar.length


def playing_order(
    route: Route, jumps: Sequence[tuple[int, int]] = (), *, first: int = 0, bars: int = 0
) -> tuple[PlayedBar, ...]:
    """The bars as the player goes through them.

    Args:
        route: where the chart would lead.
        jumps: (after, to) pairs of indices into ``route.bars``: after the bar ``after`` the player goes to ``to``
            instead of straight on. Each jump is taken once, in the order given.
        first: index of the bar to begin with.
        bars: so many bars and no more; 0: to the end.

    Raises:
        ValueError: a bar that is not in the route, or a jump whose turn never comes.
    """
    waiting = list(jumps)
    for index in (first, *(bar for jump in waiting for bar in jump)):
        if not 0 <= index < len(route.bars):
            raise ValueError(f"bar {index} is not in the route; its bars go from 0 to {len(route.bars) - 1}")
    order: list[PlayedBar] = []
    index, count, landed = first, Fraction(0), False
    while index < len(route.bars) and not 0 < bars <= len(order):
        bar = route.bars[index]
        order.append(PlayedBar(bar, count, landed))
        count += bar.length
        landed = bool(waiting) and waiting[0][0] == index
        index = waiting.pop(0)[1] if landed else index + 1
    if waiting:
        raise ValueError(f"the player never comes to the jump {waiting[0]}")
    return tuple(order)


@dataclass(frozen=True, slots=True)
class PlayedChange:
    """One change as it was really played."""

    change: RouteChange
    count: Fraction
    """Quarter notes played before it."""
    end: Fraction
    bar: RouteBar
    """The bar in which the player takes it up."""

    @property
    def beat(self) -> Fraction:
        """One counted beat, in quarter notes."""
        return self.bar.meter.counted_beat

    @property
    def position(self) -> Fraction:
        """Where in the route the player takes it up: its own position, or where a jump landed in the middle of it."""
        return self.change.end - (self.end - self.count)


def changes_played(route: Route, order: Sequence[PlayedBar]) -> tuple[PlayedChange, ...]:
    """The changes in the order of playing. Landing in the middle of a chord strikes it anew."""
    starts: list[tuple[RouteChange, Fraction, RouteBar]] = []
    for number, played in enumerate(order):
        bar = played.bar
        inside = [route.changes[index] for index in bar.changes]
        if (played.landed or number == 0) and not (inside and inside[0].position == bar.position):
            going_on = route.change_at(bar.position)
            if going_on.position < bar.position:
                starts.append((going_on, played.count, bar))
        starts += [(change, played.count + change.position - bar.position, bar) for change in inside]
    ends = [count for _, count, _ in starts[1:]] + [order[-1].end]
    return tuple(PlayedChange(change, count, end, bar) for (change, count, bar), end in zip(starts, ends, strict=True))


@dataclass(frozen=True, kw_only=True, slots=True)
class Pace:
    """How a player keeps time. ``Pace()`` is a metronome at the chart's tempo; ``organist.HUMAN_PACE`` is a person."""

    tempo: float = 0.0
    """Counted beats a minute at the chart's first tempo; 0 takes the chart's."""
    clock_noise: float = 0.0
    """SD of a beat interval, as a share of the beat."""
    drift: float = 0.0
    """SD of the step of the wandering period, a beat, as a share of the period."""
    drift_return: float = 0.05
    """Share of the wandering that is taken back each beat."""
    wander: float = 0.0
    """SD of the tempo's 1/f noise, as a share of the tempo."""
    arch: float = 0.0
    """How much faster the middle of a phrase goes than its ends, as a share of the tempo."""
    phrase_bars: int = 4
    drag: tuple[float, float] = (0.0, 0.0)
    """The least and the most by which the tempo sinks from a section's start to its end, as a share; dealt for each section."""
    ritard_to: float = 1.0
    """Tempo at the end of a ritard as a share of the tempo before it; 1 plays marked ritards in time."""
    ritard_curve: float = 2.5
    closing_bars: int = 0
    """Bars of ritard at the very end where the chart marks none."""

    def seconds(self, route: Route, bar: RouteBar, length: Fraction) -> float:
        """How long so many quarter notes of a bar last at this pace, before anything human is added."""
        chart = route.chart
        written = chart.tempo.quarter_bpm / float(chart.meter.counted_beat)
        scale = self.tempo / written if self.tempo else 1.0
        return float(length) * 60.0 / (bar.quarter_bpm * scale)


def slow_zones(route: Route, order: Sequence[PlayedBar], closing_bars: int = 0) -> tuple[Zone, ...]:
    """Where the player slows down, as (from, to) counts: in the ritards as marked; ``closing_bars`` at the very end where
    nothing there is marked.
    """
    zones = ritards(route, ((played.bar, played.count) for played in order))
    if closing_bars and (not zones or zones[-1][1] < order[-1].end):
        zones = (*zones, (order[-min(closing_bars, len(order))].count, order[-1].end))
    return zones


def sections_played(order: Sequence[PlayedBar]) -> tuple[tuple[Fraction, Fraction], ...]:
    """Sections as they were really played, as (from, to) counts: a jump begins a new one."""
    starts = [played.count for number, played in enumerate(order) if not number or _begins(played)]
    return tuple(zip(starts, [*starts[1:], order[-1].end], strict=True))


def _begins(played: PlayedBar) -> bool:
    return played.bar.starts_section or played.landed


def keep_time(
    route: Route,
    order: Sequence[PlayedBar],
    pace: Pace,
    pauses: Mapping[Fraction, Pause],
    start: float,
    rng: random.Random,
    slow: random.Random | None = None,
    drags: random.Random | None = None,
) -> Clock:
    """When each beat falls, beat by beat.

    Args:
        route: the route that ``order`` walks through.
        order: the bars as played.
        pace: how this player keeps time.
        pauses: extra time, by the count before which it stands.
        start: seconds at the first count.
        rng: dice; two throws a stretch whatever the pace, so that one habit does not change the dice of another.
        slow: dice for the 1/f noise; without, seed 1.
        drags: dice for how far each section sinks; without, seed 1.
    """
    drags = drags or random.Random(1)
    sinking = [(start, end, drags.uniform(*pace.drag)) for start, end in sections_played(order)]
    flicker = one_over_f(slow or random.Random(1))
    zones = slow_zones(route, order, pace.closing_bars)
    counts, seconds = [order[0].count], [start]
    wander, phrase_bar = 0.0, -1
    for played in order:
        bar = played.bar
        phrase_bar = 0 if _begins(played) else phrase_bar + 1
        beat = bar.meter.counted_beat
        beats = {played.count + position - bar.position for position in route.beats(bar)}
        stood = {count for count in pauses if count < played.end}
        ends = sorted(count for count in {*beats, *stood, played.end} if count > played.count)
        for end in ends:
            begin = counts[-1]
            middle = (begin + end) / 2
            through = (phrase_bar % pace.phrase_bars + float((middle - played.count) / bar.length)) / pace.phrase_bars
            speed = (
                _arched(through, pace)
                * slowed(middle, zones, pace.ritard_to, pace.ritard_curve)
                * _dragged(middle, sinking)
            )
            plain = pace.seconds(route, bar, end - begin) / speed
            wander = wander * (1.0 - pace.drift_return) + rng.gauss(0.0, 1.0) * pace.drift
            noise = rng.gauss(0.0, 1.0) * pace.clock_noise * math.sqrt(float(beat / (end - begin)))
            interval = plain * max(math.exp(wander + pace.wander * next(flicker)) + noise, 0.4)
            pause = pauses.get(end)
            counts.append(end)
            seconds.append(seconds[-1] + interval + (pause.seconds if pause else 0.0))
    return Clock(tuple(counts), tuple(seconds), pauses)


MEMORIES = (1, 2, 4, 8, 16, 32, 64)
"""How many beats each part of the 1/f noise remembers."""


def one_over_f(dice: random.Random) -> Iterator[float]:
    """Noise of SD 1 whose power falls as one over the frequency, between the longest memory and the beat."""
    keep = [math.exp(-1.0 / beats) for beats in MEMORIES]
    parts = [dice.gauss(0.0, 1.0) for _ in MEMORIES]
    while True:
        yield sum(parts) / math.sqrt(len(parts))
        parts = [
            share * part + math.sqrt(1.0 - share**2) * dice.gauss(0.0, 1.0)
            for share, part in zip(keep, parts, strict=True)
        ]


def _arched(through: float, pace: Pace) -> float:
    """Tempo within a phrase as a share of its mean: a parabola, slow at both ends; ``through`` goes from 0 to 1."""
    return 1.0 + pace.arch * (4.0 * through * (1.0 - through) - 2.0 / 3.0)


def _dragged(count: Fraction, sinking: Sequence[tuple[Fraction, Fraction, float]]) -> float:
    """Tempo at a count as a share of that at the start of its section: a straight line down."""
    for start, end, share in sinking:
        if start <= count < end:
            return 1.0 - share * float((count - start) / (end - start))
    return 1.0
