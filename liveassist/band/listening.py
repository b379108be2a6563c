"""Listening: what a foot meant.

A foot is one of: the cue for the next change; a cue for one after that, where some were missed; a note that is no cue (a
root again, a fifth, a passing note); or the sign that the player has jumped. Which, is weighed by pitch and by time, and
the doubt is kept: several hypotheses of (place, phase, period) live side by side, each with a pulse of its own, until the
next foot tells them apart.

What the chart says beforehand is in ``expecting``; here it meets time. Densities are per counted beat, so a cue right on time
weighs by how well the pulse is known: by the pulse's own spread, with a flat floor of 3 % for feet out of time, and a slow
tail for a late foot after a stop.

What is believed first is the harmony, over all places that have it, and then the likeliest place: choruses sound the same.
While the harmony itself is in doubt, ``shared`` tells what the likely chords have in common.

The tune is heard too, where there is any (``tune_listening``). It weighs the hypotheses; what the band does with what it says
stands in ``by_tune``.

What others ask of it: ``begin``, ``foot``, ``tune``, ``shared``, ``still_down``, ``passed``, ``arrived``, ``moved``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import sqrt

from charts.chart import WALK
from charts.melody import MelodyNote
from charts.route import Route
from liveassist.band.expecting import Expecting
from liveassist.band.habits import Habits
from liveassist.band.hypothesis import CUE, JUMP, KEPT, NO_CUE, Hypothesis, by_clock, density
from liveassist.band.leaping import Leaping
from liveassist.band.plan import Plan
from liveassist.band.pulse import Pulse
from liveassist.band.tune_listening import Sung, TuneListening
from liveassist.band.written_tune import WrittenTune

FLOOR = 0.03
LATE_TAIL = 0.10
"""Share of cues that come late out of time: breaths, stops, holds that nobody marked."""
AWAITED, STOOD = 0.05, 0.20
"""The same, per counted beat, for the change that the band waits for: on a missing cue, and at a marked hold or breath."""
REENTRY_MISSED = 0.15
"""How likely the foot of that change is left out all the same, at most: a root may go on under a new chord."""
SOON = 0.5
"""A foot that is late by less than so many counted beats is more likely slower than out of time."""
NO_CUE_RATE, BUSIEST = 0.08, 1.0
"""Notes that are no cue, per counted beat: at first, and at most. Learned: who strikes every beat does so again."""
WALK_RATE = 0.8
"""The same over a walking bass, at least."""
OVERDUE = 2.0
"""A cue is overdue so many standard deviations after its time."""
DOUBT, LIKELY = 0.7, 0.15
"""A harmony is in doubt below this belief, and another then likely from this one on."""
TWIN = 0.060
"""Two feet within this time are one, in seconds."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """What a foot meant, as far as is known."""

    kind: str
    """CUE, NO_CUE or JUMP."""
    best: Hypothesis
    sure: float
    """Belief in the place of ``best``, 0 to 1."""
    agreed: float
    """Belief in its chord, 0 to 1: places with the same chord cannot be told apart yet, and sound the same."""
    exact: bool
    """The pitch is the bass (or the root) of the change of ``best``."""


class Listening:
    """Hypotheses about the player's place. ``lift`` is the key change by nods so far, in semitones."""

    def __init__(self, route: Route, plan: Plan, shifts: Sequence[Fraction], tune: Sequence[MelodyNote] = ()) -> None:
        """``shifts``: for each change how much before (negative) or after its written place it is played, quarter notes."""
        self.route, self.plan = route, plan
        self.shifts = [float(shift) for shift in shifts]
        self.lift = 0
        self.lift_asked, self.bar = 0, 0
        """A key change asked for the next bar line, and the bar being played."""
        self.hypotheses: tuple[Hypothesis, ...] = ()
        self.busy = NO_CUE_RATE
        self._others, self._since = 0, 0.0
        """Notes that were no cue since the latest cue, and the count of that cue."""
        self._expects = Expecting(route, plan)
        self._leaping = Leaping(route, self._expects)
        self.habits = Habits()
        self.section_starts = [bar.changes[0] for bar in route.bars if bar.starts_section and bar.changes]
        """The changes with which sections begin, or that come first in them."""
        self.tune_heard = TuneListening(plan, self._expects, WrittenTune(route, tune), self._lifted)

    def written(self, change: int, pitch_class: int) -> int:
        """The pitch class as written at a change: a key change by nod taken away again."""
        return (pitch_class - self._lifted(change)) % 12

    def _lifted(self, change: int) -> int:
        """The key change by nods at a change, in semitones."""
        return self.lift + (self.lift_asked if self.route.changes[change].bar != self.bar else 0)

    def pitch(self, change: int, pitch_class: int) -> float:
        """How likely a foot that cues this change plays this pitch class."""
        return self._pitch(change, self.written(change, pitch_class))

    def _pitch(self, change: int, written: int) -> float:
        """The same for a pitch class as written."""
        return self._expects.pitch[change][written] * self.habits.ratios[self._expects.cue_kind[change][written]]

    def exact(self, change: int, pitch_class: int) -> bool:
        """Whether a pitch class is the written bass, or the root, of a change."""
        here = self.route.changes[change]
        return self.written(change, pitch_class) in (here.bass, here.root)

    def alike(self, one: int, other: int) -> bool:
        """Whether two changes sound the same."""
        return self._expects.sounds[one] == self._expects.sounds[other]

    def same_place(self, one: int, other: int) -> bool:
        """Whether two changes are one in the chart, whichever time it comes round."""
        return self._expects.written[one] == self._expects.written[other]

    def place(self, change: int) -> float:
        """Belief in the place of the chart where a change stands, whichever time it comes round."""
        here = self._expects.written[change]
        return sum(item.weight for item in self.hypotheses if self._expects.written[item.change] == here)

    # -- the start ------------------------------------------------------------------------------------------------

    def begin(self, pitch_class: int, at: float, first: int, pulse_for: Callable[[int], Pulse]) -> Verdict:
        """The first foot. ``first`` is the change at which the player should start; ``pulse_for`` gives the pulse that
        begins at a change. The place is believed at once where the pitch fits, at a section start a little less."""
        hopes = {change: 0.05 * share for change, share in self._leaping.starts.items()}
        chances = (0.80, 0.15, 0.03)  # the first root, or one of the next two where that was left out
        changes = range(first, len(self.route.changes))
        hopes |= dict(zip(changes, chances, strict=False))
        hypotheses = []
        for change, prior in hopes.items():
            pulse = pulse_for(change)
            weight = prior * self.pitch(change, pitch_class)
            hypotheses.append(self.tune_heard.after_silence(Hypothesis(change, pulse.count, pulse, weight), first, at))
        self._keep(hypotheses)
        return self._verdict(pitch_class)

    def moved(self, change: int, count: float, pulse: Pulse) -> None:
        """The place is known from elsewhere: a switch, a count, a nod."""
        self.hypotheses = (Hypothesis(change, count, pulse, 1.0),)

    def stands_at(self, change: int, further: float) -> None:
        """A change stands at a count that is so much greater."""
        self.hypotheses = tuple(
            replace(item, count=item.count + further) if item.change == change else item for item in self.hypotheses
        )

    def retimed(self, pulse: Pulse, change: int | None = None) -> None:
        """The tempo is another: set by hand, or written at a change that some hypotheses stand at."""
        self.hypotheses = tuple(
            replace(item, pulse=pulse) if change in (None, item.change) else item for item in self.hypotheses
        )

    def arrived(self, change: int) -> None:
        """The tune has come to a change without a foot: those that were on their way there now stand there."""
        moved = []
        for item in self.hypotheses:
            for there, distance in () if item.change == change else self.plan.ahead(item.change):
                if there == change:
                    item = replace(item, change=change, count=item.count + distance, uncued=True)
                    break
            moved.append(item)
        self.hypotheses = tuple(moved)

    def passed(self, change: int) -> None:
        """A change went by without a cue of its own: those who expected it next now stand there."""
        moved = []
        for item in self.hypotheses:
            following = self.plan.next_change(item.change)
            if following is not None and following[0] == change:
                item = replace(item, change=change, count=item.count + following[1], uncued=True)
            moved.append(item)
        self.hypotheses = tuple(moved)

    # -- a foot ---------------------------------------------------------------------------------------------------

    def foot(
        self,
        pitch_class: int,
        at: float,
        *,
        loose: bool = False,
        awaited: int | None = None,
        standing: bool = False,
    ) -> Verdict:
        """A foot was heard. ``loose``: inside a ritard, or after a hold or a breath, where time says less. ``awaited``: the
        change for which the band stands still or vamps. ``standing``: at a marked hold, breath or wait, where the clock says
        nothing of the changes after that one."""
        grown: list[Hypothesis] = []
        for hypothesis in self.hypotheses:
            grown += self._strays(hypothesis, pitch_class, at)
            grown += self._cues(hypothesis, pitch_class, at, loose, awaited, standing)
        if self.hypotheses:
            landed = (pitch_class - self.lift - self.lift_asked) % 12
            following = self.plan.next_change(self.hypotheses[0].change)
            straight_on = None if following is None else following[0]
            landings = self._leaping.jumps(self.hypotheses, straight_on, landed, at, self._pitch)
            grown += [self.tune_heard.after_landing(item, at) for item in landings]
        self._keep(grown)
        return self._verdict(pitch_class)

    def tune(self, key: int, at: float) -> Sung | None:
        """A note of the tune was heard. Tells where it is written, if it is where the likeliest place has it."""
        self.hypotheses, sung = self.tune_heard.weighed(self.hypotheses, key, at)
        return sung

    def shared(self, change: int, at: float) -> frozenset[int] | None:
        """While the harmony of a change is in doubt, the written pitch classes that belong to every likely chord; None where
        it is believed."""
        first = self.hypotheses[0] if self.hypotheses else None
        if first is None or (first.weight >= DOUBT and by_clock(self.plan, first, at)[0] == change):
            return None
        sounding = [(by_clock(self.plan, item, at)[0], item.weight) for item in self.hypotheses]
        belief = self._belief_in_sounds(sounding)
        here = self._expects.sounds[change]
        if belief.get(here, 0.0) >= DOUBT * sum(belief.values()):
            return None
        likely = [there for there, _ in sounding if belief[self._expects.sounds[there]] >= LIKELY]
        chords = (self.route.changes[there].chord for there in (change, *likely))
        return frozenset.intersection(*(frozenset(chord.pitch_classes) for chord in chords))

    def still_down(self, change: int, at: float, count: float) -> None:
        """The foot that came early stayed down until the beat of its change: the change happens there."""
        best = self.hypotheses[0]
        others = [replace(item, weight=item.weight * 0.5) for item in self.hypotheses]
        self._keep([replace(best, change=change, count=count, kind=CUE, uncued=False, out_of_time=False), *others])

    def _strays(self, hypothesis: Hypothesis, pitch_class: int, at: float) -> Iterable[Hypothesis]:
        """The note is no cue. Where cues are overdue, either they were left out and the music has gone on, or it stands."""
        change, count, prior = hypothesis.change, hypothesis.count, 1.0
        for following, distance in self.plan.ahead(hypothesis.change):
            played = hypothesis.count + distance + self.shifts[following]
            if hypothesis.pulse.time_of(played) + OVERDUE * hypothesis.pulse.spread(played) > at:
                break
            prior *= self._expects.unheard(following)
            change, count = following, hypothesis.count + distance
        stray = self._stray_rate(change, pitch_class)
        if change == hypothesis.change:
            pulse = hypothesis.pulse
            if hypothesis.uncued and at > pulse.time_of(count) + OVERDUE * pulse.spread(count):
                stands = min(1.0, self._expects.unheard(change) + LATE_TAIL)
                yield hypothesis.without_cue(change, count, hypothesis.weight * stands * stray, uncued=False)
                return
            yield hypothesis.without_cue(change, count, hypothesis.weight * stray, uncued=hypothesis.uncued)
            return
        yield hypothesis.without_cue(change, count, hypothesis.weight * prior * stray, uncued=True)
        stray = self._stray_rate(hypothesis.change, pitch_class)
        yield hypothesis.without_cue(
            hypothesis.change, hypothesis.count, hypothesis.weight * LATE_TAIL * stray, uncued=hypothesis.uncued
        )

    def _stray_rate(self, change: int, pitch_class: int) -> float:
        """Notes of this pitch class that are no cue, per counted beat, while a change sounds."""
        rate = max(self.busy, WALK_RATE) if WALK in self.route.changes[change].marks else self.busy
        return rate * self._expects.stray[change][self.written(change, pitch_class)]

    def _cues(
        self, hypothesis: Hypothesis, pitch_class: int, at: float, loose: bool, awaited: int | None, standing: bool
    ) -> Iterable[Hypothesis]:
        """The note cues one of the changes ahead, or the one that just went by without a cue."""
        prior = 1.0
        pulse = hypothesis.pulse
        beat_seconds = pulse.period * pulse.beat
        for change, distance in self._coming(hypothesis):
            count = hypothesis.count + distance
            played = count + self.shifts[change]
            due, spread = pulse.time_of(played), pulse.spread(played)
            if loose:
                spread = sqrt(spread**2 + (0.25 * beat_seconds) ** 2)
            miss = at - due
            if miss < -2.0 * beat_seconds and miss < -6.0 * spread and not standing:
                return
            in_time = (1 - FLOOR - LATE_TAIL) * density(miss, spread, beat_seconds)
            out = _out_of_time(miss / beat_seconds, (STOOD if standing else AWAITED) if change == awaited else None)
            if standing and change != awaited:
                in_time, out = 0.0, STOOD
            likely = prior * self.pitch(change, pitch_class)
            exact = self.exact(change, pitch_class)
            if in_time >= out:
                moved = pulse.corrected(played, at, trust=1.0 if exact else 0.5, looseness=5.0 if loose else 1.0)
                yield Hypothesis(change, count, moved, hypothesis.weight * likely * (in_time + out))
            else:
                now = pulse.count_at(at)
                moved = pulse.restarted(now, at)
                yield Hypothesis(
                    change, now - self.shifts[change], moved, hypothesis.weight * likely * out, CUE, out_of_time=True
                )
            missed = self._expects.unheard(change)
            prior *= min(REENTRY_MISSED, missed) if change == awaited else missed

    def _coming(self, hypothesis: Hypothesis) -> Iterable[tuple[int, float]]:
        """The changes that a foot may cue, with their distances in quarter notes."""
        if hypothesis.uncued:
            yield hypothesis.change, 0.0
        yield from self.plan.ahead(hypothesis.change)

    # -- belief ---------------------------------------------------------------------------------------------------

    def _keep(self, hypotheses: list[Hypothesis]) -> None:
        """Join those that say the same, keep the best, and let the weights sum to 1. Deterministic."""
        joined: dict[tuple[int, int], Hypothesis] = {}
        for item in hypotheses:
            key = (item.change, round(item.pulse.time_of(item.count) / (0.08 * item.pulse.period * item.pulse.beat)))
            twin = joined.get(key)
            if twin is None:
                joined[key] = item
            elif item.weight > twin.weight:
                joined[key] = item.weighing(item.weight + twin.weight)
            else:
                joined[key] = twin.weighing(item.weight + twin.weight)
        kept = sorted(joined.values(), key=lambda item: (-item.weight, item.change))[:KEPT]
        total = sum(item.weight for item in kept) or 1.0
        self.hypotheses = tuple(item.weighing(item.weight / total) for item in kept if item.weight > 1e-6 * total) or (
            kept[0],
        )

    def _verdict(self, pitch_class: int) -> Verdict:
        """The likeliest harmony first, then the likeliest place of the chart that has it, then the likeliest time through."""
        sounds = self._belief_in_sounds((item.change, item.weight) for item in self.hypotheses)
        sound = max(sounds, key=sounds.__getitem__)
        alike = [item for item in self.hypotheses if self._expects.sounds[item.change] == sound]
        for told in (self._expects.written.__getitem__, lambda change: change):
            belief: dict[tuple[int, bool], float] = {}
            for item in alike:
                key = (told(item.change), item.kind == NO_CUE)
                belief[key] = belief.get(key, 0.0) + item.weight
            likeliest = max(belief, key=belief.__getitem__)
            alike = [item for item in alike if (told(item.change), item.kind == NO_CUE) == likeliest]
        best = alike[0]
        verdict = self.verdict_for(best, pitch_class)
        self._learn(verdict, self.written(best.change, pitch_class))
        return verdict

    def _belief_in_sounds(self, changes: Iterable[tuple[int, float]]) -> dict[int, float]:
        """From belief in changes, belief in what sounds there."""
        belief: dict[int, float] = {}
        for change, weight in changes:
            sound = self._expects.sounds[change]
            belief[sound] = belief.get(sound, 0.0) + weight
        return belief

    def _learn(self, verdict: Verdict, written: int) -> None:
        """How many notes of this player's are no cue, from one cue to the next; and what the feet play for a change."""
        best = verdict.best
        if best.kind == NO_CUE:
            self._others += 1
            return
        beats = (best.count - self._since) / best.pulse.beat
        if beats >= 1.0:
            self.busy = min(BUSIEST, max(NO_CUE_RATE, 0.6 * self.busy + 0.4 * self._others / beats))
        self._others, self._since = 0, best.count
        if best.kind == JUMP:
            self.habits.forget()
        self.habits.cue(self._expects.cue_kind[best.change][written], verdict.sure)

    def verdict_for(self, best: Hypothesis, pitch_class: int) -> Verdict:
        """What a foot meant if one of the hypotheses is right."""
        sound = self._expects.sounds[best.change]
        sure = self.place(best.change)
        agreed = sum(item.weight for item in self.hypotheses if self._expects.sounds[item.change] == sound)
        return Verdict(best.kind, best, min(1.0, sure), min(1.0, agreed), self.exact(best.change, pitch_class))


def _out_of_time(beats: float, awaited: float | None) -> float:
    """How likely a cue comes so many counted beats late (negative: early) for other reasons than an uneven beat, per beat.
    ``awaited``: how likely the one is that the band waits for."""
    likely = FLOOR / 4 if abs(beats) < 2 else 0.0
    if beats > 0:
        stopped = LATE_TAIL / 4 / (1 + (beats / 4) ** 2) if awaited is None else awaited
        likely += stopped * min(1.0, beats / SOON) ** 2
    return likely
