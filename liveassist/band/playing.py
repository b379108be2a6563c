"""Playing: how the band moves through the route.

Nothing is scheduled ahead: the next moment (a note's end, a change or barline, a beat, an attack) is always worked out from the
pulse as it is now, so a corrected tempo re-times all that is to come (the figure in steps: see ``striking``).

A moment is a time, a rank for moments at the same time, and what to do: note ends, then changes, then beats, then starts.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import partial
from itertools import islice

from charts.chart import A_TEMPO, HOLD
from charts.route import RouteBar
from liveassist.arranging.arrangement import ANSWER
from liveassist.band import by_tune, clicking, leading, missing, states
from liveassist.band.bandstand import Underscore, Waiting
from liveassist.band.conductor import GRACE, NO_JUMP, PASS, STOP, grace
from liveassist.band.events import MELODY_MANUAL, PEDAL, Action, PlaceIs, Told
from liveassist.band.plan import UNDERSCORE, Detour
from liveassist.band.pulse import Pulse
from liveassist.band.striking import GRID, Striking

CLOSING, AFTER_FINE = 2.0, 2.0
"""From the release of the last chord to fine, and from fine back to tacet, in seconds: a foot that shows within the first that
the song goes on is followed."""

BEAT_WAITS = 1 / 4
"""The beat at which a cue is due is told with the cue, but waits no longer than this share of the grace; a click never does."""

END, CHANGE, BEAT, START = range(4)
Moment = tuple[float, int, Callable[[float], list[Action]]]


class Playing(Striking):
    """The moves. ``Performance`` adds the ears."""

    # -- moments --------------------------------------------------------------------------------------------------

    def moments(self) -> Iterator[Moment]:
        """Everything that will happen next if nothing is heard."""
        waiting_start = self.sounding.next_start()
        if waiting_start is not None:
            yield waiting_start, START, self._start_waiting
        if self.fine_at is not None:
            yield self.fine_at + AFTER_FINE, CHANGE, self._rest
        if self.closing is not None:
            yield self.closing + CLOSING, CHANGE, self.finish
        if self.state in (states.TACET, states.READY):
            return
        for time, act in self.next_ends():
            yield time, END, act
        if self.underscore is not None:
            yield self.underscore.next_told, CHANGE, self._underscore_minute
        if self.state == states.COUNT_IN:
            if self.count_in:
                yield self.pulse.time_of(self.count_in[0][0]), START, self._count
            waits = 0.0 if self.counted is None else leading.DOWNBEAT_WAITS
            yield self.time_of(self.passed) + waits, CHANGE, self.counted_in
        muted = missing.muted_from(self)
        if muted is not None and self.state in states.BEGUN:
            yield muted, CHANGE, partial(missing.tell_muted, self)
        if self.beat_next is not None and self.beat_next <= self.passed and self.state in states.BEGUN:
            yield self.time_of(self.beat_next), BEAT, self._beat  # the beat of a chord that stands
        for time, act in leading.silences(self):
            yield time, CHANGE, act
        for time, click in clicking.moments(self):
            yield time, START, click
        if not self.moving:
            return
        if self.waiting is not None:
            if self.waiting.beat is not None:
                yield self.waiting.beat, BEAT, self._beat_awaited
            if self.waiting.expires is not None:
                yield self.waiting.expires, CHANGE, partial(missing.grace_over, self)
            return
        boundary = self.boundary()
        answer = self.answering.next_due()
        if answer is not None:
            yield self.pulse.time_of(answer), START, self._answer
        yield self._arrival(boundary), CHANGE, self.arrive
        if self.beat_next is not None and self.passed < self.beat_next < boundary:
            yield self.time_of(self.beat_next), BEAT, self._beat
        silent = missing.silent_from(self)
        if silent is not None:
            yield silent, CHANGE, partial(missing.fall_silent, self)
        if self.comes_in is not None and self.comes_in < boundary:
            yield self.figure_time(self.comes_in), START, self._come_in
        attack = self._next_attack()
        if attack is not None and attack < boundary:
            yield self.figure_time(attack), START, self._attack

    def _arrival(self, boundary: Fraction) -> float:
        """When the next change or barline is reached: with the figure, or by the pulse where a cue is due."""
        lag = self.lag(float(boundary) - self.offset)
        return self.time_of(boundary) + (lag if lag and self._goes_by_clock() else 0.0)

    def _goes_by_clock(self) -> bool:
        """Whether nothing is waited for at the next change or barline."""
        bar, change = self.ahead()
        if self.loop is not None or bar is None or change is None:
            return True
        meets = self.meets(change, self._leaving(bar))
        return meets == PASS or (meets == GRACE and self.already_down(change))

    def _leaving(self, bar: int) -> RouteBar | None:
        """The bar that ends where another begins, if one does."""
        return self.route.bars[self.bar] if bar != self.bar or self.plan.detour(self.bar) else None

    # -- moving ---------------------------------------------------------------------------------------------------

    def enter(
        self,
        change: int,
        at: float,
        *,
        pulse: Pulse,
        count: float,
        sure: float,
        cued: bool,
        attack: bool = True,
    ) -> list[Action]:
        """The harmony moves to a change, which stands at a count: by a cue (``cued``) or by the clock. Without ``attack`` its
        first attack is left out."""
        here = self.route.changes[change]
        before = self.route.bars[self.bar]
        on_the_beat = leading.on_the_beat(self, change, count)
        if on_the_beat != count:
            self.listening.stands_at(change, on_the_beat - count)
            count = on_the_beat
        if self.state == states.HOLDING:
            self.led_since = at
        self.counted = None
        actions = self._overtaken(change, at)
        straight_on = self.change is not None and change == self.change + 1 and self.plan.detour(self.bar) is None
        if not straight_on and self.change is not None:
            self.answering.forget()
        if here.bar != self.bar or (self.plan.detour(self.bar) is not None and here.position <= self.passed):
            self.plan.taken(self.bar)
            self.lift_key()
            self.bars_played += self.change is not None
        bar = self.route.bars[here.bar]
        moved = change != self.change or not cued
        self._lean(change, count)
        self.offset, self.sure = float(here.position) - count, sure
        self.pulse = self._in_tempo(change, before, bar, clicking.on_the_click(self, pulse, count), at)
        if self.pulse is not pulse:
            self.struck = None
            self.listening.retimed(self.pulse, change)
        self.bar, self.change, self.passed = here.bar, change, here.position
        self.listening.bar = here.bar
        self.waiting, self.loop, self.gap, self.nodded_on = None, None, None, False
        self.final, self.closing = False, None
        if cued:
            self.missed = 0
        beat = bar.meter.counted_beat
        self.beat_next = self.beat_from(here.position)
        pushed = self.pushed == change
        actions += self.sounding.end_music(at, spare=change if pushed else None, sings_on=ANSWER if straight_on else "")
        actions += [*self._underscored(before, at), *self.flow(at)]
        if moved:
            bpm = self.pulse.bpm(float(beat))
            actions.append(PlaceIs(at=at, change=change, position=here.position, bpm=bpm, sure=sure))
        self.cursor, self.pushed = here.position, None
        first = here.position + self.reading.shifts[change]
        self.comes_in = None
        if not attack:
            self.skip_to(at)
            if self.without_attack(self.cursor):
                self.comes_in = self.beat_next
        elif not pushed and (cued or first <= here.position):
            actions += self._strike(first, at)
            self.cursor = max(self.cursor, first) + Fraction(1, GRID)
        return actions + self._stand_still(change, at, cued=cued)

    def _overtaken(self, change: int, at: float) -> list[Action]:
        """A beat that an early foot for the next change, off the beat, overtakes: told at once."""
        beat = self.beat_next
        if not self.moving or self.loop is not None or beat is None or self.ahead()[1] != change:
            return []
        overtaken = self.passed < beat < self.boundary()
        return self._tell_beat(beat, self.route.bars[self.bar], at) if overtaken else []

    def _lean(self, change: int, count: float) -> None:
        """The figure's next attack follows on the latest where one of the next changes is entered; not after a hold or a
        jump."""
        here = None if self.state == states.HOLDING else self.change
        for there, distance in () if here is None else self.plan.ahead(here):
            if there == change:
                self.recount(count - (float(self.here.position) - self.offset + distance))
                return
        self.struck = None

    def near(self) -> list[int]:
        """Where the band is, and the changes that come next."""
        if self.change is None:
            return []
        return [self.change, *(change for change, _ in islice(self.plan.ahead(self.change), NO_JUMP))]

    def this_time(self, change: int) -> int:
        """Where a place of the chart is among those near, if it is there, whichever time it comes round; else as it is."""
        listening = self.listening
        return next(
            (near for near in self.near() if listening.same_place(near, change) and listening.alike(near, change)),
            change,
        )

    def hops_to(self, change: int) -> int:
        """How many changes ahead a change is, 0 where it is not among the next few."""
        ahead = () if self.change is None else self.plan.ahead(self.change)
        return next((hops for hops, (there, _) in enumerate(ahead, 1) if there == change), 0)

    def _stand_still(self, change: int, at: float, *, cued: bool) -> list[Action]:
        """A marked hold, or the last chord: what sounds is held."""
        if self.settings.place_lead == "bars":
            return []
        if change == len(self.route.changes) - 1 and self.plan.detour(self.bar) is None:
            if cued or self.keys.down[PEDAL] or self.settings.place_lead == "switch":
                self.final = True
                self.sounding.hold()
            return []
        if HOLD in self.route.changes[change].marks:
            self.sounding.hold()
            return self.become(states.HOLDING, at)
        return []

    def _in_tempo(self, change: int, before: RouteBar, bar: RouteBar, pulse: Pulse, at: float) -> Pulse:
        """The pulse at a change: as written for its bar, and as it was before a ritard that ends here."""
        period = pulse.period
        pulse = self._as_written(before, bar, pulse, at)
        if self.reading.ritard[change]:
            self.before_ritard = self.before_ritard or period
        elif self.before_ritard is not None:
            if A_TEMPO in self.route.changes[change].marks:
                pulse = pulse.at_tempo(self.before_ritard, at)
            self.before_ritard = None
        return pulse

    def _as_written(self, before: RouteBar, bar: RouteBar, pulse: Pulse, at: float) -> Pulse:
        """The pulse in the tempo and the beats that are written for a bar."""
        if bar.quarter_bpm != before.quarter_bpm:
            pulse = pulse.at_tempo(self.home_period(bar), at)
            self.before_ritard = None
        return pulse.in_beats(float(bar.meter.counted_beat))

    def arrive(self, at: float) -> list[Action]:
        """The pulse reaches the next change or barline."""
        boundary = self.boundary()
        if self.loop is not None and boundary == self.loop.end:
            return missing.go_round(self, at)
        bar, change = self.ahead()
        if bar is None:
            return self.finish(at)
        if change is None:
            return self._cross(bar, at)
        meets = self.meets(change, self._leaving(bar))
        if meets == GRACE:
            if self.already_down(change):
                return self._early_cue(change, at)
            if by_tune.is_cue(self, change):
                return by_tune.opens_now(self)
            spread = self.pulse.spread(float(boundary) - self.offset)
            beats = 1.0 if self.reading.ritard[change] else 0.0
            late = max(0.0, float(self.reading.shifts[change])) * self.pulse.period
            wait = max(beats * self.beat_seconds(), grace(spread, self.beat_seconds()))
            position = self.route.changes[change].position
            falls = position in self.route.beats(self.bar_of(change)) and not self.is_told(position, at)
            told = (
                at
                if late or self.settings.click or self.pulse.steady or self.pulse.followed
                else at + BEAT_WAITS * wait
            )
            self.waiting = Waiting(change, at + late + wait, told if falls else None)
            return []
        if meets == STOP:
            self.waiting, self.gap = Waiting(change, None, None), clicking.gap_here(self)
            return self.become(states.HOLDING, at)
        return self.by_clock(change, at)

    def _beat_awaited(self, at: float) -> list[Action]:
        """The beat of a change is told before its cue has come."""
        assert self.waiting is not None
        self.waiting.beat = None
        return self._tell_beat(self.route.changes[self.waiting.change].position, self.bar_of(self.waiting.change), at)

    def by_clock(self, change: int, at: float, *, attack: bool = True) -> list[Action]:
        """The harmony moves without a cue."""
        count = float(self.boundary()) - self.offset
        self.listening.passed(change)
        return self.enter(change, at, pulse=self.pulse, count=count, sure=self.sure, cued=False, attack=attack)

    def meets(self, change: int, leaving: RouteBar | None) -> str:
        """How the band meets a change, nods counted."""
        if self.vamping or self.nodded_on:
            return PASS
        how = self.reading.meets(self.here.index, change, leaving)
        if how == STOP and self.cued_by_tune(change) and MELODY_MANUAL not in self.keys.latest:
            return PASS  # nothing could be heard that it waits for
        if how == PASS and self.settings.place_lead == "feet" and self.door_to_ending(change):
            bass = self.route.changes[change].bass
            same = bass == self.here.bass and self.keys.down[PEDAL]
            return PASS if same or bass is None else GRACE
        return how

    def cued_by_tune(self, change: int) -> bool:
        """Whether the tune has to cue a change after a hold or a breath, as no foot can."""
        return self.settings.place_lead == "feet" and self.reading.without_pedal(change)

    def may_enter(self, change: int) -> bool:
        """Whether the way to a change is open without a foot: into the ending only after the nod ``close``, or by the tune."""
        return not self.door_to_ending(change) or self.may_end or by_tune.opened(self, change)

    def door_to_ending(self, change: int) -> bool:
        """Whether a change is the door to the ending, or the last chord with nothing asked after it."""
        return self.reading.opens_ending(change) and self.plan.detour(self.route.changes[change].bar) is None

    def already_down(self, change: int) -> bool:
        """A foot that came early stayed down: the pedal of this change, pressed since the last change. Only where the feet
        have the place: in other leads they are free."""
        if self.settings.place_lead != "feet":
            return False
        since = self.time_of(self.passed) + 0.06
        return any(self.listening.exact(change, key % 12) for key in self.keys.pedal_since(since))

    def _early_cue(self, change: int, at: float) -> list[Action]:
        """The foot of this change came early and is still down: the change happens on the beat."""
        count = float(self.boundary()) - self.offset
        self.listening.still_down(change, at, count)
        return self.enter(change, at, pulse=self.pulse, count=count, sure=self.sure, cued=True)

    def _cross(self, bar: int, at: float) -> list[Action]:
        """A barline under a chord that goes on."""
        before, landing = self.route.bars[self.bar], self.route.bars[bar]
        detour = self.plan.taken(self.bar)
        self.offset += float(landing.position - before.end)
        self.lift_key()
        self.bars_played += 1
        pulse = self._as_written(before, landing, self.pulse, at)
        if pulse is not self.pulse:
            self.pulse, self.struck = pulse, None
            self.listening.retimed(pulse)
        self.bar, self.passed = bar, landing.position
        self.listening.bar = bar
        self.cursor = landing.position
        self.beat_next = self.beat_from(landing.position)
        told = self._underscored(before, at)
        if detour is None:
            return [*told, *self.flow(at)]
        self.answering.forget()
        silenced = self.sounding.end_all(at, part=ANSWER)
        self.change = self.route.change_at(landing.position).index
        self.place_known(self.change)
        bpm = self.pulse.bpm(float(landing.meter.counted_beat))
        return [
            *silenced,
            *told,
            *self.flow(at),
            PlaceIs(at=at, change=self.change, position=landing.position, bpm=bpm, sure=self.sure),
        ]

    # -- the underscore -------------------------------------------------------------------------------------------

    def _underscored(self, before: RouteBar, at: float) -> list[Action]:
        """Into a step that goes round until ``on``, or out of it: the vamp is laid, and how long it went on is told."""
        bar = self.route.bars[self.bar]
        if bar.underscore and self.settings.straight_on:
            return []
        if bar.underscore and (self.underscore is None or before.step != bar.step):
            first, last = self.step_bars()
            self.plan.lay(last, Detour(first, UNDERSCORE, stays=True))
            self.underscore = Underscore(at)
            return [Told(at=at, text="underscore: round and round until 'on'", kind="note")]
        if self.underscore is None or bar.underscore:
            return []
        lasted, self.underscore = at - self.underscore.since, None
        return [Told(at=at, text=f"underscore over, {lasted // 60:.0f}:{lasted % 60:02.0f}", kind="note")]

    def _underscore_minute(self, at: float) -> list[Action]:
        """Another minute is over."""
        assert self.underscore is not None
        self.underscore = replace(self.underscore, minutes=self.underscore.minutes + 1)
        minutes = self.underscore.minutes
        return [Told(at=at, text=f"underscore: {minutes} minute{'' if minutes == 1 else 's'}", kind="note")]

    # -- count-in and end -----------------------------------------------------------------------------------------

    def counted_in(self, at: float) -> list[Action]:
        """The count-in is over: the first bar."""
        self.place_known(self.first)
        count = float(self.passed) - self.offset
        return self.enter(self.first, at, pulse=self.pulse, count=count, sure=self.sure, cued=False)

    def finish(self, at: float) -> list[Action]:
        """Fine: everything ends."""
        self.waiting, self.loop, self.gap, self.final, self.closing = None, None, None, False, None
        self.fine_at = at
        self.plan.lift()
        self.answering.forget()
        self.underscore = None
        self.home_key()
        return [*self.sounding.end_all(at), *self.become(states.FINE, at)]

    def _rest(self, at: float) -> list[Action]:
        """After the fine, back to tacet."""
        self.to_the_start()
        return self.become(states.TACET, at)
