"""Groove: where in the beat this drummer strikes which drum, as far as it has been learned. Pure; no pulse is moved here.

A stroke is taken for one of the places in a beat where drummers strike: the beat, its halves, quarters and thirds (compound
beats: thirds, sixths, halves). Each voice, a drum or its ghost notes, has a share for each place, which is a usual one at first
and learns from what is struck. Halves and quarters are struck late where music swings, or early: where they really fall is
learned, too, and so is how far a drum is ahead of kick and snare.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
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
SLOW_BEAT, STILL_SLOW = 0.80, 0.72
"""A beat of so many seconds is divided in eight, and goes on being so until it is quicker than the second figure."""
FLOOR = 0.15
"""Share of strokes that mean no place at all: the floor of the gate."""
LEARNS, KEEPS = 0.03, 0.35
"""How fast the shares follow what is struck, and how much of the first ones stays."""
SWING_LEARNS = 0.06
"""The same for where places fall."""
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
RUN_LEARNS, ALWAYS = 0.05, 0.65
"""Unless that drum does nothing else: how fast it is learned which part of its strokes come so soon, and from which part on it
keeps time, as hats do."""
MARKS: Mapping[float, float] = {0.0: 0.70, 1 / 2: 0.20, 1 / 4: 0.04, 3 / 4: 0.04, 1 / 3: 0.01, 2 / 3: 0.01}
MARKS_COMPOUND: Mapping[float, float] = {0.0: 0.70, 1 / 3: 0.10, 2 / 3: 0.16, 1 / 2: 0.04}
"""Where kick and snare fall: what tells the beat where it has to be found."""
USUAL = {(True, False): MARKS, (True, True): MARKS_COMPOUND, (False, False): SIMPLE, (False, True): COMPOUND}
"""By whether the stroke marks the beat, and whether the beat is compound."""
EXACT = 0.025
"""SD of strokes around a pulse that they are held against, in seconds."""
UNEXPLAINED = 0.02
"""Weight of what falls in no place, when strokes are held against a pulse."""


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


@dataclass(frozen=True, slots=True)
class Place:
    """A place in the beat that a stroke may mean."""

    fraction: float
    """Where in the beat it is written."""
    miss: float
    """How much later the stroke was, in seconds."""
    scatter: float
    """SD of such a stroke there, in seconds."""
    weight: float
    """How well it explains the stroke: its share times the likelihood, a second."""
    into: float
    """Where in that beat the stroke was."""


class Groove:
    """What one drummer plays."""

    def __init__(self) -> None:
        self._shares: dict[str, dict[float, float]] = {}
        """Where in the beat each voice is struck, and how often."""
        self._first: Mapping[float, float] = {}
        """The shares that hold at first."""
        self._falls: dict[float, float] = {}
        """Where in the beat the places of ``LILTS`` fall."""
        self._leads: dict[str, float] = {}
        """How far each drum is behind (negative: ahead of) kick and snare, in seconds."""
        self._marked = float("-inf")
        """When kick or snare were struck last."""
        self._latest: dict[str, float] = {}
        """When each drum was struck last."""
        self._runs: dict[str, float] = {}
        """Which part of each drum's strokes come soon after another."""

    def places(self, grid: Grid, pulse: Pulse, stroke: Stroke, looseness: float) -> Iterator[Place]:
        """What the stroke may mean, the pulse being as it is."""
        now, seconds = pulse.count_at(stroke.at), pulse.period * pulse.beat
        var_time = pulse.ahead(now, looseness)[0]
        place = (now - self._leads.get(stroke.drum.name, 0.0) / pulse.period - grid.anchor) / pulse.beat
        beat = floor(place)
        runs = self._is_soon(stroke, seconds) and self._runs.get(stroke.drum.name, 0.0) < ALWAYS
        scatter_of = stroke.scatter * (DENSE_SCATTER if runs and not stroke.drum.keeps else 1.0)
        for fraction, share in self._shares_of(stroke.voice, grid, seconds).items():
            falls = self._fall(fraction, grid)
            for number in (beat - 1, beat, beat + 1):
                miss = (place - number - falls) * seconds
                if abs(miss) > 0.6 * seconds:
                    continue
                scatter = scatter_of * (1.0 if fraction == 0.0 else OFF_BEAT)
                spread = sqrt(var_time + scatter**2)
                likely = exp(-0.5 * (miss / spread) ** 2) / (spread * sqrt(2 * pi))
                yield Place(fraction, miss, scatter, share * likely, place - number)

    def _shares_of(self, voice: str, grid: Grid, seconds: float) -> dict[float, float]:
        slow = seconds > (STILL_SLOW if self._first is SLOW else SLOW_BEAT)
        first = COMPOUND if grid.compound else SLOW if slow else SIMPLE
        if first is not self._first:
            self._first, self._shares = first, {}  # other beats: what was learned is of no use
        if voice not in self._shares:
            total = sum(first.values())
            self._shares[voice] = {fraction: share / total for fraction, share in first.items()}
        return self._shares[voice]

    def learn(self, stroke: Stroke, places: Sequence[Place], seconds: float) -> None:
        """Learn where this drummer strikes, how the beat swings, and which drum is ahead of which, a beat being so many
        seconds."""
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
            falls, (early, late) = self._falls.get(best.fraction, best.fraction), LILTS[best.fraction]
            self._falls[best.fraction] = min(late, max(early, falls + SWING_LEARNS * (best.into - falls)))

    def heard(self, stroke: Stroke, seconds: float) -> None:
        """A stroke is over: the next on the same drum comes so soon after it, or not, a beat being so many seconds."""
        name = stroke.drum.name
        runs = self._runs.get(name, 0.0)
        self._runs[name] = runs + RUN_LEARNS * (self._is_soon(stroke, seconds) - runs)
        self._latest[name] = stroke.at

    def _is_soon(self, stroke: Stroke, seconds: float) -> bool:
        return stroke.at - self._latest.get(stroke.drum.name, float("-inf")) < DENSE * seconds

    def forget_places(self) -> None:
        """What was learned of the places was learned beside the beat."""
        self._first = {}

    def fits(self, pulse: Pulse, grid: Grid, heard: Sequence[Stroke], shift: float, learned: float = 0.0) -> float:
        """How well strokes fit a pulse whose beats fall later by a part of a beat, as a logarithm; by where drums are usually
        struck, or partly (``learned``, a share) by where this drummer strikes them."""
        seconds = pulse.period * pulse.beat
        total = 0.0
        for stroke in heard:
            place = (pulse.count_at(stroke.at) - grid.anchor) / pulse.beat - shift
            usual = USUAL[stroke.marks, grid.compound]
            likely = UNEXPLAINED
            for fraction, share in self._shares_of(stroke.voice, grid, seconds).items():
                off = place - self._fall(fraction, grid)
                off = (off - round(off)) * seconds / EXACT
                if abs(off) < 4.0:
                    likely += (learned * share + (1.0 - learned) * usual.get(fraction, 0.0)) * exp(-0.5 * off * off)
            total += log(likely)
        return total

    def _fall(self, fraction: float, grid: Grid) -> float:
        return fraction if grid.compound else self._falls.get(fraction, fraction)
