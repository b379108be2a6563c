"""When each place of a route falls, in seconds: a clock, and the one that nobody leads, at the written tempi.

Conventions: a *count* is quarter notes since the start, exact. Where a route is played as written, counts are its positions;
a player who repeats or skips something has counts of their own. Seconds count from the first one.

What the page leaves to the player is settled by these rules when nobody plays:

* a ritard runs from its mark to ``a tempo`` or the end of the section, and over the bars that the roadmap marks; the tempo
  falls as v(x) = [1 + (w^q - 1) x]^(1/q), x from 0 to 1 (Friberg & Sundberg 1999), here to w = 0.6 with q = 2.5: listeners
  prefer q from 2 to 3. What follows is in tempo again;
* a hold lasts two counted beats longer than written, a breath takes half a counted beat, and after a section that waits for
  the foot there are two counted beats of silence (common practice, no source).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

from charts.chart import A_TEMPO, BREATH, HOLD, RIT
from charts.route import Route, RouteBar

RITARD_TO = 0.6
"""Tempo at the end of a ritard, as a share of the tempo before it."""
RITARD_CURVE = 2.5
HOLD_BEATS = 2.0
"""Counted beats by which a hold is longer than written."""
BREATH_BEATS = 0.5
WAIT_BEATS = 2.0

Zone = tuple[Fraction, Fraction]
"""From one count to another."""


@dataclass(frozen=True, slots=True)
class Pause:
    """Extra time between two counts."""

    seconds: float
    held: bool
    """The notes before it stay down through it (a hold); else they are let go (a breath)."""


@dataclass(frozen=True)
class Clock:
    """When each count falls: a line through grid points, with pauses between."""

    counts: tuple[Fraction, ...]
    """The grid, ascending."""
    seconds: tuple[float, ...]
    """For each grid point the time at which it begins, after any pause that stands there."""
    pauses: Mapping[Fraction, Pause]

    def at(self, count: Fraction) -> float:
        """When a note written at a count begins."""
        index = min(max(bisect_right(self.counts, count) - 1, 0), len(self.counts) - 2)
        start, end = self.counts[index], self.counts[index + 1]
        share = float((count - start) / (end - start))
        return self.seconds[index] + share * (self._arrival(index + 1) - self.seconds[index])

    def until(self, count: Fraction) -> float:
        """When a note written to end at a count is let go: before a breath, at the end of a hold."""
        index = bisect_left(self.counts, count)
        if index == len(self.counts) or self.counts[index] != count:
            return self.at(count)
        pause = self.pauses.get(count)
        return self.seconds[index] if pause is None or pause.held else self._arrival(index)

    def standing(self) -> tuple[tuple[float, float], ...]:
        """From when to when time stands still, pause by pause; what comes after the last count aside."""
        inside = sorted(count for count in self.pauses if self.counts[0] < count < self.counts[-1])
        return tuple((self._arrival(bisect_left(self.counts, count)), self.at(count)) for count in inside)

    def _arrival(self, index: int) -> float:
        """When a grid point is reached, before the pause that stands there."""
        pause = self.pauses.get(self.counts[index])
        return self.seconds[index] - (pause.seconds if pause else 0.0)


def ritard_speed(x: float, final: float, curve: float) -> float:
    """Tempo as a share of the tempo before the ritard.

    Args:
        x: how far through the ritard, 0 to 1.
        final: share of the tempo reached at x = 1.
        curve: the exponent q; 2 is a steady brake in time, listeners prefer 2 to 3.
    """
    return float((1.0 + (final**curve - 1.0) * x) ** (1.0 / curve))


def slowed(count: Fraction, zones: Iterable[Zone], final: float, curve: float) -> float:
    """Tempo at a count as a share of what it would be without ritards."""
    for start, end in zones:
        if start <= count < end:
            return ritard_speed(float((count - start) / (end - start)), final, curve)
    return 1.0


def ritards(route: Route, order: Iterable[tuple[RouteBar, Fraction]]) -> tuple[Zone, ...]:
    """Where the music slows down: from a mark ``rit.`` to ``a tempo`` or the end of the section, and the bars that the
    roadmap marks. ``order``: the bars as played, each with the count at which it begins."""
    zones: list[Zone] = []
    opened: Fraction | None = None
    end = Fraction(0)
    for bar, begin in order:
        end = begin + bar.length
        if bar.rit and opened is None:
            opened = begin
        for change in (route.changes[index] for index in bar.changes):
            count = begin + change.position - bar.position
            if A_TEMPO in change.marks and opened is not None:
                zones.append((opened, count))
                opened = None
            if RIT in change.marks and opened is None:
                opened = count
        if bar.ends_section and opened is not None:
            zones.append((opened, end))
            opened = None
    if opened is not None:
        zones.append((opened, end))
    return tuple(zone for zone in zones if zone[0] < zone[1])


def written_tempo(bar: RouteBar) -> float:
    """Counted beats a minute, as the chart has them."""
    return bar.quarter_bpm / float(bar.meter.counted_beat)


def in_proportion(tempo: float, here: RouteBar, there: RouteBar) -> float:
    """The tempo ``there`` of a song that has this one ``here``, both in counted beats a minute: the chart's tempo changes keep
    their proportion. 0, the chart's own, stays 0."""
    if written_tempo(here) == written_tempo(there):
        return tempo
    return tempo * written_tempo(there) / written_tempo(here)


def paces(route: Route, tempo: float) -> list[float]:
    """For each bar its tempo in quarter notes a minute. ``tempo``: counted beats a minute at the start, with which the
    chart's tempo changes keep their proportion; 0 takes the chart's."""
    if not route.bars or not tempo:
        return [bar.quarter_bpm for bar in route.bars]
    first = route.bars[0]
    faster = tempo * float(first.meter.counted_beat) / first.quarter_bpm
    return [bar.quarter_bpm * faster for bar in route.bars]


def written_time(route: Route, tempo: float = 0.0) -> Clock:
    """The clock of a route that is played as written, by the rules above.

    Args:
        route: with one bar at least.
        tempo: counted beats a minute at the start, 0 for the chart's.
    """
    quarters = paces(route, tempo)
    pauses = _pauses(route, quarters)
    zones = ritards(route, ((bar, bar.position) for bar in route.bars))
    counts, seconds = [route.bars[0].position], [0.0]
    for bar, pace in zip(route.bars, quarters, strict=True):
        struck = (route.changes[index].position for index in bar.changes)
        for end in sorted(place for place in {*route.beats(bar), *struck, bar.end} if place > bar.position):
            begin = counts[-1]
            speed = slowed((begin + end) / 2, zones, RITARD_TO, RITARD_CURVE)
            pause = pauses.get(end)
            counts.append(end)
            seconds.append(seconds[-1] + float(end - begin) * 60.0 / (pace * speed) + (pause.seconds if pause else 0.0))
    return Clock(tuple(counts), tuple(seconds), pauses)


def _pauses(route: Route, quarters: Sequence[float]) -> dict[Fraction, Pause]:
    """Holds, breaths and waits, by the count before which they stand. At the very end nobody breathes or waits."""
    found: dict[Fraction, Pause] = {}

    def add(count: Fraction, bar: RouteBar, beats: float, *, held: bool) -> None:
        if held or count < route.length:
            before = found.get(count, Pause(0.0, True))
            seconds = beats * float(bar.meter.counted_beat) * 60.0 / quarters[bar.index]
            found[count] = Pause(before.seconds + seconds, before.held and held)

    for change in route.changes:
        if HOLD in change.marks:
            add(change.end, route.bars[change.bar], HOLD_BEATS, held=True)
        if BREATH in change.marks:
            add(change.end, route.bars[change.bar], BREATH_BEATS, held=False)
    for bar in route.bars:
        if bar.wait:
            add(bar.end, bar, WAIT_BEATS, held=False)
    return found
