"""Drumming: what a drummer's strokes say of the pulse. Pure; no clock, no ports.

A stroke is taken for one of the places in a beat where drummers strike: the beat, its halves, quarters and thirds (compound
beats: thirds, sixths, halves), or for none of them. Which, is not decided: every place has a share, which learns what the
drummer uses, and the correction is the mean over all places, weighed by how well each explains the stroke (probabilistic data
association, after Bar-Shalom). So a ghost note, a fill or a stray stroke, which many places or none explain, moves little,
and a stroke on the beat much. The pulse is the linear dynamical system of ``pulse``: phase and period with their spread, and
the gate is as wide as what is not known. What is never asked is which multiple of the beat is meant: the count-in has said
so, and no correction is larger than half a place. So a groove in half or double time stays a groove at the tempo that was
counted.

Two pulses follow the drummer, a calm one and a nimble one. The calm one is the band's: fills and solos hardly bend it. Where
the nimble one explains the strokes better for a while, the drummer has changed the tempo faster than drummers do, and it is
believed; where it does not, it begins anew from the calm one.

Halves are struck late where music swings: where the second half really falls is learned (``swing``). A flam, or a pad that
bounces, is one stroke, the stronger of two.

``Drummer`` keeps what is known of the one at the kit. The band's pulse goes in and comes out; it is kept by the band.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from math import exp, floor, log, pi, sqrt

from liveassist.band.kit import Drum, drum
from liveassist.band.pulse import Pulse

SIMPLE: Mapping[float, float] = {
    0.0: 0.50,
    1 / 2: 0.26,
    1 / 4: 0.08,
    3 / 4: 0.08,
    1 / 3: 0.02,
    2 / 3: 0.06,
    **dict.fromkeys((1 / 6, 5 / 6), 0.01),
    **dict.fromkeys((1 / 8, 3 / 8, 5 / 8, 7 / 8), 0.005),
}
"""Where in a beat that halves strokes fall, and how often at first (common practice, no source)."""
SLOW: Mapping[float, float] = {**SIMPLE, **dict.fromkeys((1 / 8, 3 / 8, 5 / 8, 7 / 8), 0.03)}
"""The same for a beat as slow as two: half notes in cut time, say."""
COMPOUND: Mapping[float, float] = {
    0.0: 0.46,
    1 / 3: 0.20,
    2 / 3: 0.22,
    1 / 2: 0.03,
    1 / 6: 0.03,
    5 / 6: 0.06,
}
SLOW_BEAT = 0.80
"""A beat of so many seconds is divided in eight."""
FLOOR = 0.15
"""Share of strokes that mean no place at all: the floor of the gate."""
LEARNS, KEEPS = 0.03, 0.35
"""How fast the shares follow what is struck, and how much of the first ones stays."""
SWING_LEARNS = 0.06
LILTS: Mapping[float, tuple[float, float]] = {1 / 2: (0.48, 0.70), 1 / 4: (0.23, 0.32), 3 / 4: (0.73, 0.82)}
"""Between which bounds a place may fall where music swings, in beats that are halved."""
LEAD_LEARNS, LONGEST_LEAD, MARKED = 0.05, 0.030, 4.0
"""How fast it is learned how far a drum is ahead of kick and snare, its bound in seconds, and for how many counted beats after
one of those it can be."""
OFF_BEAT = 1.35
"""Strokes off the beat scatter so much more."""
NORMAL, GHOST = 64, 40
"""MIDI velocities: a usual stroke, and one below which it is a ghost note, of less exact time."""
DENSE, DENSE_SCATTER = 0.35, 4.0
"""A stroke so soon after the one before on the same drum, in counted beats, is part of a run and says less: its SD is so much
larger."""
FLAM = 0.050
"""Two strokes of one drum within this time, in seconds, are one."""
NIMBLE = 4.0
"""A second pulse follows so much faster; it is weighed against the first by how well each explains the strokes."""
WEIGHS, ADOPTS, GIVES_UP = 0.12, 0.7, -0.3
"""The share of one stroke in that, and from which mean advantage on, as a logarithm, the second is believed, or begun anew."""

RIVALS, CONTENDS, OUTDOES = (-0.03, 0.03), 12.0, 1.2
"""Other tempi that a count may have meant, as shares of its own; for how many counted beats they are weighed; and from which
advantage on, as a logarithm, one is believed."""
MARKS: Mapping[float, float] = {0.0: 0.70, 1 / 2: 0.20, 1 / 4: 0.04, 3 / 4: 0.04, 1 / 3: 0.01, 2 / 3: 0.01}
MARKS_COMPOUND: Mapping[float, float] = {0.0: 0.70, 1 / 3: 0.10, 2 / 3: 0.16, 1 / 2: 0.04}
"""Where kick and snare fall: what tells the beat where it has to be found."""
EXACT = 0.025
"""SD of strokes around a pulse that they are held against, in seconds."""
STEPS, FAR, MOST_HELD = 24, 0.19, 12
"""A pulse is tried in so many steps of a beat, one further off than this part of it being less likely, on so many strokes."""
ASTRAY = (-1 / 3, -1 / 4, -1 / 6, 1 / 6, 1 / 4, 1 / 3)
MIX = 0.7
LOOKS, LOOKS_BACK, STRAYED, SURELY = 4.0, 12.0, 8, 9.0
MOST_MARKS = 48
"""How a pulse is found that a fill has taken along: which parts of a beat are tried; every so many counted beats, over twice as
many, on so many strokes, and from which advantage on, as a logarithm."""
PRESENT = 4
"""So many strokes show that somebody drums."""
TOGETHER = 2.0
"""They lie within so many counted beats of each other."""
SILENT_TOLD, SILENT_GONE = 4.0, 8.0
"""After so many counted beats without a stroke that is told; after so many the feet keep the time until the drummer is back."""


@dataclass(frozen=True, slots=True)
class Stroke:
    """One stroke on the kit."""

    at: float
    """Seconds."""
    key: int
    """General MIDI."""
    strength: int = NORMAL
    """MIDI velocity."""

    @property
    def drum(self) -> Drum:
        return drum(self.key)

    @property
    def marks(self) -> bool:
        """Whether it is one that a drummer sets the beat with."""
        return self.drum.marks and self.strength >= GHOST

    @property
    def voice(self) -> str:
        """The drum, and whether it is a ghost note: they are struck in different places."""
        return self.drum.name if self.strength >= GHOST else f"{self.drum.name}, ghost"

    @property
    def scatter(self) -> float:
        """SD of such a stroke around what it means, in seconds."""
        return self.drum.scatter * (1.6 if self.strength < GHOST else 1.0)


@dataclass(frozen=True, slots=True)
class Grid:
    """The beats of the bar being played."""

    anchor: float
    """The count of one of them."""
    compound: bool


class Drummer:
    """Who sits at the kit, as far as is known."""

    def __init__(self) -> None:
        self.strokes: deque[Stroke] = deque(maxlen=32)
        """The latest, flams taken as one."""
        self._marks: deque[Stroke] = deque(maxlen=MOST_MARKS)
        """The latest that a drummer sets the beat with."""
        self._falls: dict[float, float] = {}
        """Where in the beat the places of ``LILTS`` fall."""
        self._shares: dict[str, dict[float, float]] = {}
        """Where in the beat each drum is struck, and how often."""
        self._first: Mapping[float, float] = {}
        self._leads: dict[str, float] = {}
        """How far each drum is behind (negative: ahead of) kick and snare, in seconds."""
        self._marked = float("-inf")
        """When kick or snare were struck last."""
        self._looked = float("-inf")
        """When it was last asked whether the pulse has strayed."""
        self._latest: dict[str, float] = {}
        """When each drum was struck last."""
        self._nimble: Pulse | None = None
        """The pulse of the same drummer if the tempo changes faster than they do as a rule."""
        self._advantage = 0.0
        """How much better that explains the latest strokes, as a logarithm."""
        self._rivals: list[tuple[Pulse, float]] = []
        """After a count: the pulse in other tempi that it may have meant, and how much better each explains the strokes."""
        self._begun = float("inf")
        self._before: tuple[Stroke, Pulse, Pulse] | None = None
        """The latest stroke, and the pulse before and after it."""

    @property
    def latest(self) -> float:
        """When the latest stroke was."""
        return self.strokes[-1].at if self.strokes else float("-inf")

    def hear(self, stroke: Stroke) -> bool:
        """Remember a stroke. False for the second of a flam or of a pad that bounced."""
        for other in reversed(self.strokes):
            if stroke.at - other.at > FLAM:
                break
            if other.drum == stroke.drum:
                return False
        self.strokes.append(stroke)
        if stroke.marks:
            self._marks.append(stroke)
        return True

    def drums_at(self, now: float, beat: float) -> bool:
        """Whether somebody drums now, a beat being so many seconds."""
        if len(self.strokes) < PRESENT:
            return False
        return now - self.strokes[-PRESENT].at <= 2 * TOGETHER * beat and now - self.latest <= TOGETHER * beat

    # -- following ------------------------------------------------------------------------------------------------

    def follow(self, pulse: Pulse, grid: Grid, stroke: Stroke, *, flam: bool = False, looseness: float = 1.0) -> Pulse:
        """The pulse after a stroke.

        Args:
            pulse, grid: as they are now.
            stroke: what was heard.
            flam: it is the second of a flam, and counts in place of the first if it is stronger.
            looseness: above 1 the tempo follows fast, as in a marked ritard.
        """
        if flam:
            if self._before is None:
                return pulse
            first, before, after = self._before
            if pulse != after or stroke.drum != first.drum or stroke.strength < first.strength:
                return pulse
            pulse = before
        if self._before is None or pulse != self._before[2]:  # somebody else has moved it
            self._nimble, self._advantage = pulse, 0.0
            first = self._before is None
            self._rivals = [(replace(pulse, period=pulse.period * (1 + off)), -0.5) for off in RIVALS if first]
            self._begun = stroke.at
        places = list(self._places(grid, pulse, stroke, looseness))
        moved, explained = _moved(pulse, places, stroke, looseness)
        self._learn(stroke, places, pulse.period * pulse.beat)
        if not flam:
            moved = self._second_opinion(moved, explained, grid, stroke, looseness)
            moved = self._rivalled(moved, explained, grid, stroke, looseness)
            if stroke.marks and (shift := self._strayed(moved, grid, stroke.at)):
                seconds = moved.period * moved.beat
                moved = replace(moved, time=moved.time + shift * seconds, var_time=(0.04 * seconds) ** 2, cov=0.0)
                self._nimble, self._advantage, self._first = moved, 0.0, {}
        self._latest[stroke.drum.name] = stroke.at
        self._before = (stroke, pulse, moved)
        return moved

    def _second_opinion(self, calm: Pulse, explained: float, grid: Grid, stroke: Stroke, looseness: float) -> Pulse:
        """The calm pulse, or the nimble one where that has explained the strokes better for a while."""
        assert self._nimble is not None
        looseness *= NIMBLE
        places = list(self._places(grid, self._nimble, stroke, looseness))
        self._nimble, also = _moved(self._nimble, places, stroke, looseness)
        self._advantage += WEIGHS * (log(also / explained) - self._advantage)
        if self._advantage > ADOPTS:
            calm, self._advantage = self._nimble, 0.0
        elif self._advantage < GIVES_UP:
            self._nimble, self._advantage = calm, 0.0
        return calm

    def _rivalled(self, pulse: Pulse, explained: float, grid: Grid, stroke: Stroke, looseness: float) -> Pulse:
        """The pulse, or in its first bars the same in another tempo that the count may have meant, once it explains more."""
        if stroke.at - self._begun > CONTENDS * pulse.period * pulse.beat:
            self._rivals = []
        followed = []
        for rival, score in self._rivals:
            moved, also = _moved(rival, list(self._places(grid, rival, stroke, looseness)), stroke, looseness)
            followed.append((moved, score + log(also / explained)))
        self._rivals = followed
        best = max(self._rivals, key=lambda item: item[1], default=None)
        if best is None or best[1] < OUTDOES:
            return pulse
        self._rivals = [(moved, score - best[1]) for moved, score in self._rivals if moved is not best[0]] + [
            (pulse, -best[1])
        ]
        self._nimble, self._advantage = best[0], 0.0
        return best[0]

    def _places(self, grid: Grid, pulse: Pulse, stroke: Stroke, looseness: float) -> Iterator[_Place]:
        """What the stroke may mean."""
        now, seconds = pulse.count_at(stroke.at), pulse.period * pulse.beat
        var_time = pulse.ahead(now, looseness)[0]
        place = (now - self._leads.get(stroke.drum.name, 0.0) / pulse.period - grid.anchor) / pulse.beat
        beat = floor(place)
        since = stroke.at - self._latest.get(stroke.drum.name, float("-inf"))
        scatter_of = stroke.scatter * (DENSE_SCATTER if since < DENSE * seconds and not stroke.drum.keeps else 1.0)
        for fraction, share in self._shares_of(stroke.voice, grid, seconds).items():
            falls = fraction if grid.compound else self._falls.get(fraction, fraction)
            for number in (beat - 1, beat, beat + 1):
                miss = (place - number - falls) * seconds
                if abs(miss) > 0.6 * seconds:
                    continue
                scatter = scatter_of * (1.0 if fraction == 0.0 else OFF_BEAT)
                spread = sqrt(var_time + scatter**2)
                likely = exp(-0.5 * (miss / spread) ** 2) / (spread * sqrt(2 * pi))
                yield _Place(fraction, miss, scatter, spread, share * likely, place - number)

    def _shares_of(self, voice: str, grid: Grid, seconds: float) -> dict[float, float]:
        first = COMPOUND if grid.compound else SLOW if seconds > SLOW_BEAT else SIMPLE
        if first is not self._first:
            self._first, self._shares = first, {}
        if voice not in self._shares:
            total = sum(first.values())
            self._shares[voice] = {fraction: share / total for fraction, share in first.items()}
        return self._shares[voice]

    def _learn(self, stroke: Stroke, places: list[_Place], seconds: float) -> None:
        """Where this drummer strikes, how the halves swing, and which drum is ahead of which."""
        if not places:
            return
        if stroke.marks:
            self._marked = stroke.at
        best = max(places, key=lambda item: item.weight)
        if best.weight < 0.5 * (FLOOR / seconds + sum(item.weight for item in places)):
            return
        name = stroke.drum.name
        if not stroke.marks and stroke.at - self._marked < MARKED * seconds:
            lead = self._leads.get(name, 0.0)
            lead += LEAD_LEARNS * (best.miss - lead)  # the two meet half-way
            self._leads[name] = min(LONGEST_LEAD, max(-LONGEST_LEAD, lead))
        first = sum(self._first.values())
        shares = self._shares[stroke.voice]
        for fraction, share in shares.items():
            aim = KEEPS * self._first[fraction] / first + (1.0 - KEEPS) * (fraction == best.fraction)
            shares[fraction] = share + LEARNS * (aim - share)
        if best.fraction in LILTS:
            falls, (first, last) = self._falls.get(best.fraction, best.fraction), LILTS[best.fraction]
            self._falls[best.fraction] = min(last, max(first, falls + SWING_LEARNS * (best.into - falls)))

    # -- joining --------------------------------------------------------------------------------------------------

    def since(self, time: float) -> list[Stroke]:
        """The strokes from a time on."""
        return [stroke for stroke in self.strokes if stroke.at >= time]

    def joined(self, pulse: Pulse, grid: Grid, *, since: float = float("-inf")) -> Pulse:
        """The pulse moved to where the latest strokes have their beats: for a drummer who joins or comes back. It moves by at
        most half a beat; a nearer place needs less to be believed. ``since``: what was struck before says nothing."""
        seconds = pulse.period * pulse.beat
        heard = self.since(max(since, self.latest - 2 * TOGETHER * seconds))[-MOST_HELD:]
        fits = {step / STEPS: _fits(pulse, grid, heard, step / STEPS) for step in range(-STEPS // 2, STEPS // 2 + 1)}
        best = max(fits, key=lambda shift: fits[shift] - 0.5 * (shift / FAR) ** 2)
        return replace(pulse, time=pulse.time + best * seconds, var_time=(0.08 * seconds) ** 2, cov=0.0)

    def _strayed(self, pulse: Pulse, grid: Grid, at: float) -> float:
        """By which part of a beat the pulse has to be moved, where the strokes have long been between its places: a fill may
        have taken it along. Half a beat is never asked: who plays off the beat does so on purpose."""
        seconds = pulse.period * pulse.beat
        if grid.compound or at - self._looked < LOOKS * seconds:
            return 0.0
        heard = [stroke for stroke in self._marks if stroke.at >= at - LOOKS_BACK * seconds]
        if len(heard) < STRAYED:
            return 0.0
        self._looked = at
        here = self._fits(pulse, grid, heard, 0.0)
        fits = {shift: self._fits(pulse, grid, heard, shift) - here for shift in ASTRAY}
        best = max(fits, key=fits.__getitem__)
        return best if fits[best] > SURELY else 0.0

    def _fits(self, pulse: Pulse, grid: Grid, heard: Sequence[Stroke], shift: float) -> float:
        """How well strokes fit the pulse shifted by a part of a beat, by where this drummer strikes which drum, as a logarithm."""
        seconds = pulse.period * pulse.beat
        total = 0.0
        for stroke in heard:
            place = (pulse.count_at(stroke.at) - grid.anchor) / pulse.beat - shift
            usual = MARKS if stroke.marks else SIMPLE
            likely = 0.02
            for fraction, share in self._shares_of(stroke.voice, grid, seconds).items():
                off = place - (fraction if grid.compound else self._falls.get(fraction, fraction))
                off = (off - round(off)) * seconds / EXACT
                if abs(off) < 4.0:
                    likely += (MIX * share + (1 - MIX) * usual.get(fraction, 0.005)) * exp(-0.5 * off * off)
            total += log(likely)
        return total


def _fits(pulse: Pulse, grid: Grid, heard: Sequence[Stroke], shift: float) -> float:
    """How well strokes fit a pulse whose beats fall later by a part of a beat, as a logarithm."""
    seconds = pulse.period * pulse.beat
    total = 0.0
    for stroke in heard:
        place = (pulse.count_at(stroke.at) - grid.anchor) / pulse.beat - shift
        if stroke.marks:
            shares = MARKS_COMPOUND if grid.compound else MARKS
        else:
            shares = COMPOUND if grid.compound else SIMPLE
        likely = 0.02
        for fraction, share in shares.items():
            off = place - fraction
            off = (off - round(off)) * seconds / EXACT
            if abs(off) < 4.0:
                likely += share * exp(-0.5 * off * off)
        total += log(likely)
    return total


def _moved(pulse: Pulse, places: list[_Place], stroke: Stroke, looseness: float) -> tuple[Pulse, float]:
    """The pulse after a stroke that may mean each of some places, or none; and how likely such a stroke was, a second."""
    now = pulse.count_at(stroke.at)
    var_time, cov, var_period = pulse.ahead(now, looseness)
    none = FLOOR / (pulse.period * pulse.beat)
    total = none + sum(item.weight for item in places)
    ideas = [(none / total, 0.0, 0.0)]  # of each place its share, and by how much time and period would move
    left_time = left_cov = left_period = 0.0
    for item in places:
        share, spread = item.weight / total, var_time + item.scatter**2
        gain_time, gain_period = var_time / spread, cov / spread
        ideas.append((share, gain_time * item.miss, gain_period * item.miss))
        left_time += share * gain_time * var_time
        left_cov += share * gain_time * cov
        left_period += share * gain_period * cov
    time = sum(share * moved for share, moved, _ in ideas)
    period = sum(share * moved for share, _, moved in ideas)
    var_time += sum(share * (moved - time) ** 2 for share, moved, _ in ideas) - left_time
    cov += sum(share * (one - time) * (other - period) for share, one, other in ideas) - left_cov
    var_period += sum(share * (moved - period) ** 2 for share, _, moved in ideas) - left_period
    after = replace(
        pulse,
        count=now,
        time=stroke.at + time,
        period=pulse.within(pulse.period + period),
        var_time=max(1e-7, var_time),
        cov=cov,
        var_period=max(1e-10, var_period),
    )
    return after, total


@dataclass(frozen=True, slots=True)
class _Place:
    """A place in the beat that a stroke may mean."""

    fraction: float
    miss: float
    """How much later the stroke was, in seconds."""
    scatter: float
    spread: float
    weight: float
    into: float
    """Where in that beat the stroke was."""
