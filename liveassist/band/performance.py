"""The performance: a state machine with no input or output of its own.

``receive`` takes one event and first plays what is due up to when it was heard, then listens; ``due`` plays what is due;
``next_due`` says when to come back. Times are seconds from one monotonic clock, always handed in. An event delivered late
never pulls time backwards and never raises. The same chart, settings and events give the same actions.
"""

from __future__ import annotations

import math
from dataclasses import replace
from fractions import Fraction

from charts.pitch import simplest
from liveassist.band import asking, by_tune, clicking, leading, missing, offering, states, ticking
from liveassist.band.ahead import section_ahead
from liveassist.band.click import Click
from liveassist.band.clicking import Ahead
from liveassist.band.conductor import BELIEVE, BELIEVE_JUMP, NO_JUMP, grace
from liveassist.band.events import (
    DRUMS,
    FIGURE_MANUAL,
    MELODY_MANUAL,
    PEDAL,
    TOGETHER,
    Action,
    ClockSays,
    DivisionBack,
    DivisionLost,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    ShoeMoved,
    Slept,
    SwitchPressed,
    TempoAsked,
    Told,
)
from liveassist.band.hypothesis import JUMP, NO_CUE, Hypothesis
from liveassist.band.listening import TWIN, Verdict
from liveassist.band.playing import Playing
from liveassist.band.shoe import fullness_at
from liveassist.band.striking import GRID, RESTART, TOO_LATE
from liveassist.band.view import TimeLine, View

GONE = 0.9
"""How sure the band must be that the player is no longer here, to follow a jump though where to is less sure."""
ALIKE = 0.03
"""Of places with the same chord one is worth considering from this share of the likeliest's belief."""
LOST = 0.3
"""Below it the place is lost rather than in doubt."""
NEAR = 0.35
"""A cue within this share of a beat corrects the pulse; further off, the phase is taken from it alone."""
SAME_MOMENT = 1e-9
TICKING = states.BEGUN | {states.COUNT_IN}
"""The states in which a clock is sent to others."""


class Performance(Playing):
    """One song being played. See ``Playing`` for the state; this class hears."""

    latest_foot: tuple[float, int, tuple[Hypothesis, ...], bool] | None = None
    """When the latest foot was, its key, what was believed before it, and whether it was the right note for a cue."""
    _awake_since = float("-inf")
    """When the computer woke the last time. What was played before is no cue any more."""
    _hand: tuple[int, float] | None = None
    """The key by which the player's hand took over on the figure's manual, and when."""

    # -- time -----------------------------------------------------------------------------------------------------

    def next_due(self) -> float | None:
        """When the next thing happens if nothing is heard; None if nothing will."""
        return min((max(time, self.now) for time, _, _ in self.moments()), default=None)

    def due(self, now: float) -> list[Action]:
        """Play everything whose time has come."""
        actions: list[Action] = []
        while True:
            nearest = min(
                ((max(time, self.now), rank, act) for time, rank, act in self.moments()),
                key=lambda moment: (moment[0], moment[1]),
                default=None,
            )
            if nearest is None or nearest[0] > now + SAME_MOMENT:
                break
            self.now = nearest[0]
            actions += nearest[2](self.now)
        self.now = max(self.now, now)
        return actions

    def receive(self, event: Event) -> list[Action]:
        """Hear one event: what is due up to ``event.heard`` first, then what follows from it."""
        if isinstance(event, Slept):
            return [*self.due(event.at), *self._wake(event)]
        actions = self.due(event.heard)
        at = min(event.at, self.now)
        match event:
            case KeyDown(division=division, key=key, strength=strength) if division == DRUMS:
                self.keys.press(division, key, at)
                actions += leading.stroke(self, key, strength, at) if at >= self._awake_since else []
            case KeyDown(division=division, key=key):
                actions += self._key_down(division, key, at)
            case ClockSays(what=what):
                actions += ticking.hear(self, what, at)
            case KeyUp(division=division, key=key):
                self.keys.let_go(division, key, at)
                if division == MELODY_MANUAL:
                    self.answering.release(key, self.pulse.count_at(at))
                actions += self._released()
            case SwitchPressed(unit=unit):
                actions += self._switch(unit, at)
            case ShoeMoved(value=value):
                actions += self._shoe_moved(value)
            case Nodded(nod=nod, argument=argument):
                actions += asking.take(self, nod, argument, at)
            case TempoAsked(bpm=bpm):
                actions += asking.set_tempo(self, bpm)
            case DivisionLost(division=division):
                self.keys.lose(division, at)
                actions += [Told(at=self.now, text=f"the {division} has gone silent", kind="caution", sign="lost")]
                actions += self._released()
            case DivisionBack(division=division):
                self.keys.lost.discard(division)
                actions.append(Told(at=self.now, text=f"the {division} is back", kind="note"))
        return actions + self.due(self.now)

    def _wake(self, event: Slept) -> list[Action]:
        """What should have been played meanwhile is past, and is not caught up with. What sounds ends; a band that was playing
        holds where it is, and the next foot goes on as after a hold; a count-in is begun anew."""
        asleep = event.heard - self.now
        if asleep <= 0.0:
            return []
        self.now = self._awake_since = event.heard
        actions: list[Action] = [*self.sounding.end_all(self.now)]
        told = f"the computer slept for {asleep:.0f} s"
        if self.state == states.COUNT_IN:
            self.to_the_start()
            return [*actions, *self.become(states.READY, self.now), Told(at=self.now, text=told, kind="caution")]
        if self.state not in states.BEGUN:
            return actions
        if self.final:
            return [*actions, *self.finish(self.now)]
        self.waiting, self.loop, self.comes_in, self.struck, self.latest_foot = None, None, None, None, None
        following = self.plan.next_change(self.here.index)
        length = following[1] if following is not None else 0.0
        self.pulse = self.pulse.restarted(float(self.here.position) + length - self.offset, self.now)
        self.place_known(self.here.index)
        self.woke_on = self.change
        goes_on = "'on' goes on" if self.settings.place_lead == "bars" else "waiting for you"
        text = f"{told}: {goes_on}"
        return [*actions, *self.become(states.HOLDING, self.now), Told(at=self.now, text=text, kind="caution")]

    # -- keys -----------------------------------------------------------------------------------------------------

    def _key_down(self, division: str, key: int, at: float) -> list[Action]:
        latest = self.latest_foot
        bounced = latest is not None and latest[1] == key and abs(at - latest[0]) < TWIN
        self.keys.press(division, key, at)
        if self.state in (states.TACET, states.FINE) or at < self._awake_since:
            return []
        if division == FIGURE_MANUAL and not self.out:
            self.out, self._hand = True, (key, at)
            text = "your hand is on the figure's manual: the figure is silent until 'in'"
            return [*self.sounding.end_music(self.now), Told(at=self.now, text=text, kind="note", sign="takeover")]
        actions = self._taken_back(key, at) if division in (MELODY_MANUAL, PEDAL) else []
        if division == PEDAL:
            actions += missing.heard_again(self)
            return actions if bounced else [*actions, *self._foot(key, at)]
        if division == MELODY_MANUAL:
            actions += self.answer_struck(key, at)
        if division in (MELODY_MANUAL, FIGURE_MANUAL):  # there the player's own left hand
            actions += by_tune.hear(self, division, key, at)
        return actions

    def _taken_back(self, key: int, at: float) -> list[Action]:
        """The same key of another division, at the same moment: what was taken for the player's hand came by a coupler."""
        if self._hand is None or self._hand[0] != key or abs(at - self._hand[1]) > TOGETHER:
            return []
        self._hand, self.out = None, False
        text = (
            "a coupler brings that key to the figure's manual: the figure goes on ('liveassist console' can learn it)"
        )
        return [Told(at=self.now, text=text, kind="caution")]

    def _released(self) -> list[Action]:
        """A key came up: a held chord ends with the last of foot and melody."""
        if not self.keys.silent or not self.keys.latest:
            return []
        if self.final and self.closing is None:
            self.closing = self.now
            return [*self.sounding.end_music(self.now)]
        if self.state == states.HOLDING and self.sounding.held:
            return [*self.sounding.end_music(self.now)]
        return []

    def _foot(self, key: int, at: float) -> list[Action]:
        """A pedal went down."""
        if self.settings.place_lead == "switch":
            return []
        if self.settings.place_lead == "bars":
            return self.begin_by_hand(at) if self.state == states.READY else []
        pitch_class = key % 12
        if self.state == states.COUNT_IN:
            return self._foot_in_count(pitch_class, at)
        believed = self.listening.hypotheses
        twin = self.latest_foot
        if twin is not None and abs(at - twin[0]) < TWIN:
            if twin[3] or (key > twin[1] and not self._right(pitch_class)):
                return []
            believed = self.listening.hypotheses = twin[2]
        if self.state == states.READY:
            verdict = self.first_foot(pitch_class, at)
        else:
            verdict = self.listening.foot(
                pitch_class, at, loose=self._loose(), awaited=self._awaited(), standing=self.standing()
            )
        self.latest_foot = (at, key, believed, verdict.kind != NO_CUE and verdict.exact)
        self.shifting.foot((pitch_class - self.listening.lift) % 12, at)
        offered = offering.offer(self)
        if self.state == states.READY:
            first = verdict.exact and verdict.best.change == self.first_cue()
            if not first and by_tune.has_opened(self, at):
                return [*by_tune.begin(self, at), *offered]
            if not believed and not verdict.exact:  # it tells nothing of the place: the next foot may be the first
                self.listening.hypotheses = ()
            return [*self._start(verdict, pitch_class, at), *offered]
        return [*self._follow(verdict, pitch_class, at), *offered]

    def _right(self, pitch_class: int) -> bool:
        """Whether a pitch class is the bass of the change that comes next."""
        following = None if self.change is None else self.plan.next_change(self.change)
        return following is not None and self.listening.exact(following[0], pitch_class)

    def _loose(self) -> bool:
        """Whether time says little now: after a hold, a breath, a wait, in a ritard."""
        if self.change is None:
            return False
        following = self.plan.next_change(self.change)
        return self.state == states.HOLDING or (following is not None and self.reading.ritard[following[0]])

    def _awaited(self) -> int | None:
        """The change for which the band stands still or keeps its chord going round."""
        if self.change is None or not (self.state == states.HOLDING or self.loop is not None):
            return None
        following = self.plan.next_change(self.change)
        return following[0] if following else None

    # -- the start ------------------------------------------------------------------------------------------------

    def first_foot(self, pitch_class: int, at: float) -> Verdict:
        """What a foot before the start means."""
        if self.listening.hypotheses:
            return self.listening.foot(pitch_class, at)
        first = self.first_cue()
        return self.listening.begin(pitch_class, at, first, lambda change: self.pulse_from(change, at))

    def first_cue(self) -> int:
        """The first change that has a bass, from the bar at which to start."""
        with_bass = (change.index for change in self.route.changes[self.first :] if change.bass is not None)
        return next(with_bass, self.first)

    def _start(self, verdict: Verdict, pitch_class: int, at: float) -> list[Action]:
        """The first foot, or a later one while the start was in doubt."""
        best = verdict.best
        believed = verdict.agreed >= BELIEVE_JUMP and verdict.sure >= BELIEVE
        if verdict.kind == NO_CUE or not verdict.exact or not believed:
            name = self.route.changes[self.first_cue()].chord.shown
            return [Told(at=self.now, text=f"waiting for the first chord, {name}")]
        self.bar = self.route.changes[best.change].bar
        return self._enter(verdict, at)

    def begin_by_hand(self, at: float) -> list[Action]:
        """Start at the first bar now: a switch, or a foot where the place is counted."""
        return self.begin_at(self.first, at)

    def begin_at(self, change: int, at: float, *, sure: float = 1.0, attack: bool = True) -> list[Action]:
        """Start at a change, which began at a time, whatever the feet have said."""
        pulse = self.pulse_from(change, at)
        self.latest_foot = None
        self.listening.moved(change, pulse.count, pulse)
        self.bar = self.route.changes[change].bar
        return self.enter(change, self.now, pulse=pulse, count=pulse.count, sure=sure, cued=True, attack=attack)

    def _foot_in_count(self, pitch_class: int, at: float) -> list[Action]:
        """During the count-in the first foot may come a little before the first beat."""
        change = self.first
        early = self.time_of(self.passed) - at
        if early > NEAR * self.beat_seconds() or not self.listening.exact(change, pitch_class):
            return []
        count = float(self.passed) - self.offset
        pulse = self.pulse.corrected(count, at)
        self.listening.moved(change, count, pulse)
        return self.enter(change, self.now, pulse=pulse, count=count, sure=1.0, cued=True)

    # -- following ------------------------------------------------------------------------------------------------

    def _follow(self, verdict: Verdict, pitch_class: int, at: float) -> list[Action]:
        """Act on what a foot meant."""
        verdict = self._chosen(verdict, pitch_class)
        best = verdict.best
        heard = self._note_name(pitch_class, best.change)
        ahead = self.hops_to(best.change)
        if best.change == self.change or (verdict.kind == NO_CUE and ahead):
            return self._stay(verdict, heard, at)
        if not self._believes(verdict, ahead):
            sign = "doubt" if verdict.agreed >= LOST else "lost"
            return [Told(at=self.now, text=f"{heard}: in doubt, staying with the pulse", sign=sign)]
        if ahead == 1 and self._pending(best, at):
            return [Told(at=self.now, text=f"{heard}: early, waiting for the beat")]
        text = self._describe(best.change, heard, ahead, exact=verdict.exact)
        if not ahead:
            self.plan.lift()
        return [*self._enter(verdict, at), Told(at=self.now, text=text)]

    def _believes(self, verdict: Verdict, ahead: int) -> bool:
        """Whether to go where a foot says. A jump into the middle of a section needs a second cue that agrees, or more belief,
        as from the tune."""
        section = self.route.bars[self.route.changes[verdict.best.change].bar].starts_section
        if verdict.kind == JUMP and not section:
            return verdict.agreed >= GONE
        if 0 < ahead <= NO_JUMP and not self.final:
            return verdict.agreed >= BELIEVE
        return verdict.agreed >= BELIEVE_JUMP or (verdict.agreed >= BELIEVE and self._gone() >= GONE)

    def _enter(self, verdict: Verdict, at: float) -> list[Action]:
        """Go where a foot says. Delivered too late, it moves the harmony and has no attack."""
        best, attack = verdict.best, self.now - at <= TOO_LATE
        pulse = leading.with_the_foot(self, best.pulse, best.count + self.listening.shifts[best.change], at)
        if pulse is not best.pulse:
            self.listening.retimed(pulse)
        return self.enter(
            best.change, self.now, pulse=pulse, count=best.count, sure=verdict.sure, cued=True, attack=attack
        )

    def _chosen(self, verdict: Verdict, pitch_class: int) -> Verdict:
        """Of places with the same chord, which cannot be told apart yet, the one that needs no jump; and one in the ending
        last, because a jump into the ending needs a foot that only the ending explains. Of the times that a place comes
        round, this one."""
        best = verdict.best
        if self._straight_on(best.change):
            return verdict
        this_time = self.this_time(best.change)
        if this_time != best.change:
            return replace(verdict, best=replace(best, change=this_time))
        if verdict.sure >= BELIEVE_JUMP:
            return verdict
        alike = [
            other
            for other in self.listening.hypotheses
            if self.listening.alike(other.change, best.change)
            and self.listening.place(other.change) >= ALIKE * verdict.sure
        ]
        rank = {
            other: (not self._straight_on(other.change), self._ends(other.change), -other.weight) for other in alike
        }
        return self.listening.verdict_for(min(alike, key=rank.__getitem__), pitch_class)

    def _straight_on(self, change: int) -> bool:
        """Whether a change is where the band is, or comes next, a foot or two having been missed."""
        return change in self.near()

    def _gone(self) -> float:
        """Belief that the player is neither here nor on the way on from here."""
        near = (item for item in self.listening.hypotheses if item.change == self.change or self.hops_to(item.change))
        return 1.0 - sum(item.weight for item in near)

    def _ends(self, change: int) -> bool:
        return self.reading.in_ending(self.route.bars[self.route.changes[change].bar])

    def _stay(self, verdict: Verdict, heard: str, at: float) -> list[Action]:
        """The harmony stays; a late foot for a change that was carried through still moves the pulse."""
        best = verdict.best
        if verdict.kind == NO_CUE or self.change is None:
            return [Told(at=self.now, text=f"{heard}: no cue")]
        self.missed = 0
        told = Told(at=self.now, text=f"{heard}: late for {self.here.chord.shown}")
        if self.loop is None and self.waiting is None and self.state != states.HOLDING:
            offset = float(self.here.position) - best.count
            later = best.pulse.time_of(best.count) - self.time_of(self.here.position)
            if later > RESTART * self.beat_seconds():  # the chord begins only now
                return [*self._enter(verdict, at), told]
            if not self.pulse.followed and not self.pulse.steady:
                self.correct(best.pulse, offset)
            self.sure = verdict.sure
        return [told]

    def _pending(self, best: Hypothesis, at: float) -> bool:
        """Whether a foot came so early that it may be a passing note: it must still be down on the beat."""
        if not best.out_of_time or self.waiting is not None or self.loop is not None or not self.moving:
            return False
        boundary = self.boundary()
        due = self.time_of(boundary)
        return at < due - grace(self.pulse.spread(float(boundary) - self.offset), self.beat_seconds())

    def _note_name(self, pitch_class: int, change: int) -> str:
        """What the foot played, spelled as in the chord where it is its bass."""
        bass = self.route.changes[change].chord.bass
        if bass is not None and bass.pitch_class == pitch_class:
            return bass.shown
        return simplest(pitch_class, sharps=self.route.bars[self.bar].key.sharps).shown

    def _describe(self, change: int, heard: str, ahead: int, *, exact: bool) -> str:
        here = self.route.changes[change]
        bar = self.route.bars[here.bar]
        where = f"{here.chord.shown}, {bar.section} bar {bar.number}"
        if not ahead:
            return f"{heard}: you are at {where}"
        if not exact:
            return f"{heard}: taken for {where}"
        return f"{heard}: {where}" + (f" ({ahead - 1} missed)" if ahead > 1 else "")

    # -- the shoe ---------------------------------------------------------------------------------------------------

    def _shoe_moved(self, value: int) -> list[Action]:
        """The swell shoe is somewhere else: another fullness, where it is given to that."""
        if self.settings.shoe != "fullness":
            return []
        before, self.shoe = self.shoe, fullness_at(value, self.shoe)
        if self.shoe == before:
            return []
        self.fullness = self.shoe
        return [Told(at=self.now, text=f"swell shoe: fullness {self.shoe}", kind="note")]

    # -- the switch -----------------------------------------------------------------------------------------------

    def _switch(self, unit: str, at: float) -> list[Action]:
        """A press of the cue switch moves one change, bar or section on, whatever the time."""
        if self.state == states.READY:
            return self.begin_by_hand(at)
        if self.state in (states.TACET, states.FINE) or self.change is None:
            return []
        if self.final:
            return self.finish(self.now)
        if self._goes_round_for(at):
            return self._leave_underscore()
        target, distance = self._next_of(unit)
        if target is None:
            return self.finish(self.now)
        count = float(self.route.changes[self.change].position) - self.offset + distance
        pulse = self.pulse
        if self.loop is None and abs(at - pulse.time_of(count)) < NEAR * self.beat_seconds():
            pulse = pulse.corrected(count, at)
        else:
            count = pulse.count_at(at)
            pulse = pulse.restarted(count, at)
        self.listening.moved(target, count, pulse)
        return self.enter(target, self.now, pulse=pulse, count=count, sure=1.0, cued=True)

    def _goes_round_for(self, at: float) -> bool:
        """Whether a press finds the band in an underscore, which goes by the clock, and is not for what comes after it."""
        if not self.route.bars[self.bar].underscore or self.waiting or self.loop or self.state == states.HOLDING:
            return False
        following = self.plan.next_change(self.here.index)
        last = following is not None and self.bar_of(following[0]).step != self.route.bars[self.bar].step
        return not last or at - self.time_of(self.here.position) < NEAR * self.beat_seconds()

    def _leave_underscore(self) -> list[Action]:
        """In an underscore the switch asks what the nod ``on`` asks."""
        if not self.vamping:
            return []
        self.plan.lift()
        return [*self.flow(self.now), Told(at=self.now, text="underscore: on at its end")]

    def _next_of(self, unit: str) -> tuple[int | None, float]:
        """The change that a press leads to, and the distance to it in quarter notes."""
        if unit == "section" and self.vamping:
            self.plan.lift()
        change, distance = self.here.index, 0.0
        for _ in self.route.changes:
            following = self.plan.next_change(change)
            if following is None:
                return None, distance
            before, change, distance = change, following[0], distance + following[1]
            bar = self.route.bars[self.route.changes[change].bar]
            over_barline = change <= before or bar.index != self.route.changes[before].bar
            if unit == "change" or (over_barline and (unit == "bar" or bar.starts_section)):
                return change, distance
        return None, distance

    # -- the time line --------------------------------------------------------------------------------------------

    def time_line(self) -> TimeLine:
        """How positions and seconds go together just now. A question: asking changes nothing."""
        return TimeLine(
            ticks=self.state in TICKING,
            rolls=self.moving,
            time=self.pulse.time,
            position=self.pulse.count + self.offset,
            period=self.pulse.period,
        )

    # -- ahead ----------------------------------------------------------------------------------------------------

    def clicks_until(self, time: float) -> tuple[Click, ...]:
        """The clicks that will fall until a time if nothing is heard. A question: asking changes nothing."""
        return clicking.coming(self, time)

    def next_section(self) -> Ahead | None:
        """The section that begins within the next bars, if one does. A question: asking changes nothing."""
        return clicking.next_section(self)

    # -- where a foot fell ---------------------------------------------------------------------------------------------

    def off_the_beat(self, at: float) -> float | None:
        """How many seconds after (negative: before) the nearest counted beat, or the nearest change, a moment is; None while
        nothing moves. A question: asking changes nothing."""
        if not self.moving or self.change is None:
            return None
        bar = self.route.bars[self.bar]
        following = self.plan.next_change(self.change)
        marks = [*(float(place) for place in self.route.beats(bar)), float(bar.end)]
        marks.append(float(self.here.position + self.reading.shifts[self.change]))
        if following is not None:
            shift = float(self.reading.shifts[following[0]])
            marks.append(float(self.here.position) + following[1] + shift)
        return min((at - self.pulse.time_of(mark - self.offset) for mark in marks), key=abs)

    # -- the view -------------------------------------------------------------------------------------------------

    def view(self, now: float | None = None) -> View:
        """The band at a moment, now by default."""
        at = self.now if now is None else max(now, self.now)
        following = None if self.change is None else self.plan.next_change(self.change)
        bar = self.route.bars[self.bar]
        beat, next_in, position = 0.0, None, self.passed
        unit = float(bar.meter.counted_beat)
        if self.moving:
            place = self.position_at(at)
            position = Fraction(round(place * GRID), GRID)
            beat = float(bar.beat_at(position))
            if following is not None and self.loop is None:
                next_in = max(0.0, (float(self.here.position) + following[1] - place) / unit)
        left, section = section_ahead(self.plan, self.bar)
        return View(
            at=at,
            state=self.state,
            change=self.change,
            next_change=following[0] if following else None,
            next_in=next_in,
            bar=self.bar,
            beat=beat,
            position=position,
            bpm=self.pulse.bpm(unit),
            home_bpm=60.0 / (self.home_period(bar) * unit),
            sure=self.sure,
            lift=self.listening.lift,
            fullness=self.fullness,
            out=self.silent_figure(),
            asked=asking.in_words(self),
            underscore=None if self.underscore is None else at - self.underscore.since,
            sounding=self.sounding.keys,
            time_lead=self.time_lead,
            bars_left=left if self.change is not None else 0,
            next_section=section,
            counting=self._beats_to_count(at, unit),
            muted=self.muted,
        )

    def _beats_to_count(self, at: float, beat: float) -> int:
        """Counted beats of the count-in that are still to come, the one that has begun counted."""
        if self.state != states.COUNT_IN:
            return 0
        return max(0, math.ceil((float(self.passed) - self.position_at(at)) / beat - 1e-6))
