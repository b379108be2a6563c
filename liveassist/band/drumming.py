"""Drumming: what a drummer's strokes say of the pulse. Pure; no clock, no ports.

A stroke is taken for one of the places in a beat where drummers strike (``groove``), or for none of them. Which, is not
decided: the correction is the mean over all places, weighed by how well each explains the stroke (probabilistic data
association, after Bar-Shalom). So a ghost note, a fill or a stray stroke, which many places or none explain, moves little, and
a stroke on the beat much. The pulse is the linear dynamical system of ``pulse``: phase and period with their spread, and the
gate is as wide as what is not known. What is never asked is which multiple of the beat is meant: the count-in has said so, and
no correction is larger than half a place. So a groove in half or double time stays a groove at the tempo that was counted.

More than one pulse follows the drummer. The calm one is the band's: fills and solos hardly bend it. Where a nimble one explains
the strokes better for a while, the drummer has changed the tempo faster than drummers do, and it is believed; where it does
not, it begins anew from the calm one. In the first bars there are rivals, too: four clicks tell a tempo within two or three
parts of a hundred, which sixteenths in a fast tempo do not forgive. And a pulse that a fill has taken along to the neighbouring
place is found by kick and snare, which for some bars have not been where this drummer strikes them.

A flam, or a pad that bounces, is one stroke, the stronger of two.

``Drummer`` keeps what is known of the one at the kit. The band's pulse goes in and comes out; it is kept by the band.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Sequence
from dataclasses import replace
from math import log

from liveassist.band.groove import FLOOR, Grid, Groove, Place, Stroke
from liveassist.band.pulse import Pulse

FLAM = 0.050
"""Two strokes of one drum within this time, in seconds, are one."""
NIMBLE = 4.0
"""A second pulse follows so much faster; it is weighed against the first by how well each explains the strokes."""
WEIGHS, ADOPTS, GIVES_UP = 0.12, 0.7, -0.3
"""The share of one stroke in that, and from which mean advantage on, as a logarithm, the second is believed, or begun anew."""
RIVALS, UNLIKELIER, CONTENDS, OUTDOES = (-0.03, 0.03), -0.5, 12.0, 1.2
"""Other tempi that a count may have meant, as shares of its own; how likely they are at first beside it, as a logarithm; for
how many counted beats they are weighed; and from which advantage on one is believed."""
STEPS, FAR, MOST_HELD = 24, 0.19, 12
"""A pulse is tried in so many steps of a beat, one further off than this part of it being less likely, on so many strokes."""
ASTRAY = (-1 / 3, -1 / 4, -1 / 6, 1 / 6, 1 / 4, 1 / 3)
LOOKS, LOOKS_BACK, STRAYED, MOST_MARKS, LEARNED, SURELY = 4.0, 12.0, 8, 48, 0.7, 9.0
"""How a pulse is found that a fill has taken along: which parts of a beat are tried; every so many counted beats, over so many,
on so many strokes of kick and snare at least and at most; how much what was learned counts beside what is usual; and from which
advantage on, as a logarithm."""
PRESENT = 4
"""So many strokes show that somebody drums."""
TOGETHER = 2.0
"""They lie within so many counted beats of each other."""
SILENT_TOLD, SILENT_GONE = 4.0, 8.0
"""After so many counted beats without a stroke that is told; after so many the feet keep the time until the drummer is back."""


class Drummer:
    """Who sits at the kit, as far as is known."""

    def __init__(self) -> None:
        self.strokes: deque[Stroke] = deque(maxlen=32)
        """The latest, flams taken as one."""
        self._marks: deque[Stroke] = deque(maxlen=MOST_MARKS)
        """The latest that a drummer sets the beat with."""
        self._groove = Groove()
        self._looked = float("-inf")
        """When it was last asked whether the pulse has strayed."""
        self._nimble: Pulse | None = None
        """The pulse of the same drummer if the tempo changes faster than they do as a rule."""
        self._advantage = 0.0
        """How much better that explains the latest strokes, as a logarithm."""
        self._rivals: list[tuple[Pulse, float]] = []
        """After a count: the pulse in other tempi that it may have meant, and how much better each explains the strokes."""
        self._begun = float("-inf")
        """When they began."""
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
            tempi = RIVALS if self._before is None else ()
            self._rivals = [(replace(pulse, period=pulse.period * (1 + off)), UNLIKELIER) for off in tempi]
            self._begun = stroke.at
        places = list(self._groove.places(grid, pulse, stroke, looseness))
        moved, explained = _moved(pulse, places, stroke, looseness)
        self._groove.learn(stroke, places, pulse.period * pulse.beat)
        if not flam:
            moved = self._second_opinion(moved, explained, grid, stroke, looseness)
            moved = self._rivalled(moved, explained, grid, stroke, looseness)
            if stroke.marks and (shift := self._strayed(moved, grid, stroke.at)):
                seconds = moved.period * moved.beat
                moved = replace(moved, time=moved.time + shift * seconds, var_time=(0.04 * seconds) ** 2, cov=0.0)
                self._nimble, self._advantage, self._rivals = moved, 0.0, []
                self._groove.forget_places()
        self._groove.heard(stroke, pulse.period * pulse.beat)
        self._before = (stroke, pulse, moved)
        return moved

    def _second_opinion(self, calm: Pulse, explained: float, grid: Grid, stroke: Stroke, looseness: float) -> Pulse:
        """The calm pulse, or the nimble one where that has explained the strokes better for a while."""
        assert self._nimble is not None
        looseness *= NIMBLE
        places = list(self._groove.places(grid, self._nimble, stroke, looseness))
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
        for number, (rival, score) in enumerate(self._rivals):
            places = list(self._groove.places(grid, rival, stroke, looseness))
            rival, also = _moved(rival, places, stroke, looseness)
            self._rivals[number] = rival, score + log(also / explained)
        best, ahead = max(self._rivals, key=lambda item: item[1], default=(pulse, 0.0))
        if ahead < OUTDOES:
            return pulse
        others = [(rival, score - ahead) for rival, score in self._rivals if rival is not best]
        self._rivals = [*others, (pulse, -ahead)]
        self._nimble, self._advantage = best, 0.0
        return best

    # -- joining --------------------------------------------------------------------------------------------------

    def since(self, time: float) -> list[Stroke]:
        """The strokes from a time on."""
        return [stroke for stroke in self.strokes if stroke.at >= time]

    def joined(self, pulse: Pulse, grid: Grid, *, since: float = float("-inf")) -> Pulse:
        """The pulse moved to where the latest strokes have their beats: for a drummer who joins or comes back. It moves by at
        most half a beat; a nearer place needs less to be believed. ``since``: what was struck before says nothing."""
        seconds = pulse.period * pulse.beat
        heard = self.since(max(since, self.latest - 2 * TOGETHER * seconds))[-MOST_HELD:]
        shifts = [step / STEPS for step in range(-STEPS // 2, STEPS // 2 + 1)]
        fits = {shift: self._groove.fits(pulse, grid, heard, shift) for shift in shifts}
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
        here = self._groove.fits(pulse, grid, heard, 0.0, LEARNED)
        fits = {shift: self._groove.fits(pulse, grid, heard, shift, LEARNED) - here for shift in ASTRAY}
        best = max(fits, key=fits.__getitem__)
        return best if fits[best] > SURELY else 0.0


def _moved(pulse: Pulse, places: Sequence[Place], stroke: Stroke, looseness: float) -> tuple[Pulse, float]:
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
