"""Leaping: where a player may leave the written order, where a jump lands, and how likely one is at a foot.

A jump leaves at a bar line: seldom inside a section, likelier at its end. From the end it goes to the same section again, past
the next one, or back to the last; from inside to the next section, cut short, or to the start of the same. Other sections are
rarer, other bars rarer still. A section's first foot may be missing, so that the jump shows with the second.

The bar line may just have gone by the clock, the foot being a little late: it is looked for behind a change without a cue as
well as ahead.

All ways out of one step of the roadmap are summed before the landings are weighed, which keeps a jump linear in the length of
the route (Nakamura et al. 2014).
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from charts.route import Route, RouteBar
from liveassist.band.expecting import Expecting
from liveassist.band.hypothesis import JUMP, Hypothesis, density
from liveassist.band.pulse import Pulse

INSIDE, AT_END = 0.010, 0.12
"""How likely a player leaves the written order at a bar line, and at the end of a section."""
LAND_ON_SECTION = 0.7
"""Share of jumps that land on the start of a section; the rest land on any bar."""
FROM_INSIDE = {0: 1.0, 1: 2.0}
"""How likely a jump out of a section lands on a step of the roadmap, by its distance: begun anew, or cut short."""
FROM_END = {0: 3.0, -1: 1.0, 2: 2.0}
"""The same for a jump from its end: this section again, the last again, the next one left out."""
ELSEWHERE = 0.15
"""The same for any other section."""
OUT_OF_TIME = 0.05
"""Share of jumps after a stop, per counted beat."""
EXITS = 3
"""Bar lines after a change at which a jump is looked for: feet may have been missed before it."""
LATEST = 2
"""The foot that first shows a jump to a section is for one of so many changes there."""
FAINTEST = 1e-4
"""Jumps less likely than this, as a share of all jumps, are not followed up: the pitch speaks against them."""

Origin = tuple[int, bool]
"""The step of the roadmap that a jump leaves, and whether at its end."""


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a jump may first show."""

    change: int
    section: int | None
    """The step of the roadmap whose start it is; None for a bar inside a section."""
    share: float
    """Of all jumps to that section, or of all jumps."""
    into: float
    """Quarter notes from the bar line at which the player landed."""


@dataclass(frozen=True, slots=True)
class Exit:
    """A bar line at which the player may leave the written order."""

    distance: float
    """Quarter notes from the change last cued."""
    share: float
    """How likely the player leaves there."""
    origin: Origin


@dataclass(frozen=True, slots=True)
class _Departure:
    """All jumps that land so long before a foot."""

    count: float
    pulse: Pulse
    """Of the likeliest among them."""
    out_of_time: bool
    weights: dict[Origin, float]
    whole: float
    """Their sum."""


class Leaping:
    """The jumps of one route; lists have one entry for each change."""

    def __init__(self, route: Route, expects: Expecting) -> None:
        self.route, self._expects = route, expects
        changes = range(len(route.changes))
        landings = self._find_landings()
        sections = sum(landing.section is not None and not landing.into for landing in landings)
        self.starts = {
            landing.change: landing.share / (1 if landing.section is None else sections)
            for landing in landings
            if not landing.into
        }
        """The changes on which a player may land, and how likely each is if all sections are alike."""
        self._landings = [self._landings_with(landings, pitch_class) for pitch_class in range(12)]
        self._exits = [self._find_exits(change) for change in changes]
        self._entries = [self._find_entry(change) for change in changes]
        steps = route.bars[-1].step + 1
        self._aims = {
            (step, at_end): self._aims_from(step, steps, FROM_END if at_end else FROM_INSIDE, at_end)
            for step in range(steps)
            for at_end in (False, True)
        }

    # -- the tables -----------------------------------------------------------------------------------------------

    def _find_landings(self) -> tuple[Landing, ...]:
        """Sections and bars that begin with a change, and what comes after a silent beginning."""
        starts = [bar for bar in self.route.bars if bar.changes and self.route.changes[bar.changes[0]].offset == 0]
        inside = sum(not bar.starts_section for bar in starts)
        found = []
        for bar in starts:
            share, within = (LAND_ON_SECTION, LATEST) if bar.starts_section else ((1 - LAND_ON_SECTION) / inside, 1)
            for change in range(bar.changes[0], min(bar.changes[0] + within, len(self.route.changes))):
                into = float(self.route.changes[change].position - bar.position)
                found.append(Landing(change, bar.step if bar.starts_section else None, share, into))
                share *= self._expects.unheard(change)
        return tuple(found)

    def _landings_with(self, landings: Sequence[Landing], pitch_class: int) -> tuple[Landing, ...]:
        """The landings that a written pitch class speaks for."""
        pitch = self._expects.pitch
        return tuple(item for item in landings if item.share * pitch[item.change][pitch_class] >= FAINTEST)

    def _find_exits(self, change: int) -> tuple[Exit, ...]:
        """The next few bar lines, as long as no foot would have been heard before."""
        here = self.route.changes[change]
        found, going_on = [], 1.0
        for bar in self.route.bars[here.bar : here.bar + EXITS]:
            for passed in bar.changes:
                going_on *= self._expects.unheard(passed) if passed > change else 1.0
            if going_on < FAINTEST:
                break
            found.append(_exit(bar, float(bar.end - here.position), going_on))
        return tuple(found)

    def _find_entry(self, change: int) -> tuple[Exit, ...]:
        """The bar line at which a change stands, if it does at one."""
        here = self.route.changes[change]
        return (_exit(self.route.bars[here.bar - 1], 0.0, 1.0),) if here.bar and not here.offset else ()

    @staticmethod
    def _aims_from(step: int, steps: int, near: dict[int, float], at_end: bool) -> list[float]:
        """For each step how likely it is the one jumped to; from the end the next one is no jump."""
        weights = [0.0 if at_end and to == step + 1 else near.get(to - step, ELSEWHERE) for to in range(steps)]
        total = sum(weights) or 1.0
        return [weight / total for weight in weights]

    # -- a foot ---------------------------------------------------------------------------------------------------

    def jumps(
        self,
        hypotheses: Sequence[Hypothesis],
        straight_on: int | None,
        pitch_class: int,
        at: float,
        pitch: Callable[[int, int], float],
    ) -> Iterator[Hypothesis]:
        """The player is somewhere else: any landing, from wherever they were. Out of time, they have stopped before.

        Args:
            hypotheses: where they were.
            straight_on: the change to which no jump is needed.
            pitch_class: of the foot, as written at a landing.
            at: the time of the foot in seconds.
            pitch: how likely the foot that cues a change plays a written pitch class.
        """
        departures: dict[float, _Departure] = {}
        for landing in self._landings[pitch_class]:
            if landing.change == straight_on:
                continue
            departure = departures.get(landing.into)
            if departure is None:
                departure = departures[landing.into] = self._departure(hypotheses, landing.into, at)
            aimed = departure.whole
            if landing.section is not None:
                aimed = sum(
                    weight * self._aims[origin][landing.section] for origin, weight in departure.weights.items()
                )
            likely = landing.share * pitch(landing.change, pitch_class) * aimed
            if likely >= FAINTEST * departure.whole:
                yield Hypothesis(
                    landing.change, departure.count, departure.pulse, likely, JUMP, False, departure.out_of_time
                )

    def _departure(self, hypotheses: Sequence[Hypothesis], into: float, at: float) -> _Departure:
        """The jumps that landed ``into`` quarter notes before a foot."""
        likeliest, count, most, out = hypotheses[0], 0.0, 0.0, 0.0
        weights: dict[Origin, float] = {}
        for item in hypotheses:
            pulse = item.pulse
            for weight, way in self._ways(item):
                leaves = weight * way.share
                landed = item.count + way.distance + into
                fits = density(at - pulse.time_of(landed), pulse.spread(landed), pulse.period * pulse.beat)
                in_time, stopped = leaves * (1 - OUT_OF_TIME) * fits, leaves * OUT_OF_TIME
                weights[way.origin] = weights.get(way.origin, 0.0) + in_time + stopped
                out += stopped
                if in_time > most:
                    likeliest, count, most = item, landed, in_time
        pulse, whole = likeliest.pulse, sum(weights.values())
        if most >= out:
            return _Departure(count, pulse.corrected(count, at), False, weights, whole)
        count = pulse.count_at(at)
        return _Departure(count, pulse.restarted(count, at), True, weights, whole)

    def _ways(self, item: Hypothesis) -> Iterable[tuple[float, Exit]]:
        """The bar lines at which a player may have left, with the belief in having come there."""
        if not item.uncued:
            return [(item.weight, way) for way in self._exits[item.change]]
        went_on = item.weight * self._expects.unheard(item.change)  # no foot comes for it any more
        return [(item.weight, way) for way in self._entries[item.change]] + [
            (went_on, way) for way in self._exits[item.change]
        ]


def _exit(bar: RouteBar, distance: float, share: float) -> Exit:
    """The bar line at the end of a bar."""
    leaves = AT_END if bar.ends_section else INSIDE
    return Exit(distance, share * leaves, (bar.step, bar.ends_section))
