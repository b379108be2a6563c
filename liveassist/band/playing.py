"""Playing: how the band moves through the route and what sounds on the way.

The pulse maps count to seconds and ``offset`` maps count to position, so a jump, a vamp or a late foot after a stop changes
one number. Nothing is scheduled ahead: the next moment (a note's end, a change or barline, a beat, an attack) is always
worked out from the pulse as it is now, so a corrected tempo re-times everything at once.

A moment is a time, a rank for moments at the same time, and what to do: note ends, then changes, then beats, then starts.
"""

from __future__ import annotations

import math
import random
from bisect import bisect_left
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property

from charts.chart import A_TEMPO, HOLD
from charts.route import Route, RouteBar, RouteChange
from liveassist.arranging.arrangement import CLICK, FIGURE, Arrangement
from liveassist.band import states
from liveassist.band.click import LENGTH, click_pitch
from liveassist.band.conductor import BE_SILENT, GO_ON, GRACE, PASS, STOP, VAMP, Known, Reading, grace, when_missing
from liveassist.band.events import MELODY_MANUAL, PEDAL, Action, BeatIs, PlaceIs, StateIs, Told
from liveassist.band.listening import Listening
from liveassist.band.plan import Plan
from liveassist.band.player import PlayerKeys
from liveassist.band.pulse import Pulse
from liveassist.band.sounding import SoundingNotes, Start
from liveassist.settings import Settings

TOO_LATE = 0.080
"""A note that a corrected pulse moves further than this into the past, or whose cue was delivered so late, is dropped, in
seconds. An end never is."""
SILENT_BEATS = 2
"""A vamp stops attacking when no key of the player's has been down for so many beats."""
CLOSING, AFTER_FINE = 2.0, 2.0
"""From the release of the last chord to fine, and from fine back to tacet, in seconds: a foot that shows within the first that
the song goes on is followed."""
HELD_GAP = 0.25
"""A chord held by a rule and not by the arrangement ends so many quarter notes before the next."""
GRID = 960
"""Positions worked out from time are rounded to this share of a quarter note."""

_SOUNDED = frozenset({states.PLAYING, states.VAMPING, states.HOLDING, states.ENDING})

END, CHANGE, BEAT, START = range(4)
Moment = tuple[float, int, Callable[[float], list[Action]]]


@dataclass(slots=True)
class Waiting:
    """The attack of a change waits for its cue."""

    change: int
    bar: int
    expires: float | None
    """When the grace runs out; None: it waits until the cue comes."""
    beat_told: bool


@dataclass(frozen=True, slots=True)
class Loop:
    """The chord goes round because its cue is missing."""

    start: Fraction
    end: Fraction
    since: float
    """Count at which it began."""


class Playing:
    """The band's own state and moves. ``Performance`` adds the ears."""

    def __init__(
        self, route: Route, arrange_at: Callable[[int], Arrangement], settings: Settings, rng: random.Random
    ) -> None:
        self.route, self.arrange_at, self.settings, self.rng = route, arrange_at, settings, rng
        self.plan = Plan(route)
        self.reading = Reading(route, settings.place_lead, settings.switch_unit)
        self.listening = Listening(route, self.plan, self.reading.shifts)
        self.sounding = SoundingNotes()
        self.keys = PlayerKeys()
        self.arrangement = arrange_at(0)
        self.state = states.READY if settings.armed else states.TACET
        self.now = 0.0
        self.sure = 1.0
        self.fullness = settings.fullness
        self.out = settings.out
        self.comes_in: Fraction | None = None
        """Where a chord comes in that has no attack left: a held one whose first was skipped."""
        self.pushed: int | None = None
        """The change that was struck ahead of its place."""
        self.nodded_on = False
        """The nod ``on`` has asked for the next change: it needs no cue."""
        self.may_end = False
        """The nod ``close`` allows the ending to be entered by the clock."""
        self.taps: list[float] = []
        self.missed = 0
        self.final = False
        self.closing: float | None = None
        """When the last chord was released."""
        self.fine_at: float | None = None
        self.home = 0.0
        """Seconds per quarter note at the home tempo of the first bar; set by ``tap`` or the settings."""
        self.waiting: Waiting | None = None
        self.loop: Loop | None = None
        self.count_in: list[tuple[float, int]] = []
        """Counts and keys of the clicks still to come."""
        self.pulse: Pulse | None = None
        self.offset = 0.0
        self.bar = self.first_bar()
        self.change: int | None = None
        self.passed = self.cursor = route.bars[self.bar].position
        self.beat_next: Fraction | None = None
        self.before_ritard: float | None = None
        if settings.tempo:
            self.home = 60.0 / settings.tempo / float(route.bars[self.bar].meter.counted_beat)

    # -- questions ------------------------------------------------------------------------------------------------

    @cached_property
    def first(self) -> int:
        """The change at which the song begins: the first chord written at or after the bar asked for, or the last of all."""
        bar = min(max(0, self.settings.from_bar), len(self.route.bars) - 1)
        change = self.plan.first_change(bar)
        return len(self.route.changes) - 1 if change is None else change

    def first_bar(self) -> int:
        return self.route.changes[self.first].bar

    def home_period(self, bar: RouteBar) -> float:
        """Seconds per quarter note at the written tempo of a bar, as set or tapped for the start."""
        written = 60.0 / bar.quarter_bpm
        if not self.home:
            return written
        return self.home * written / (60.0 / self.route.bars[self.first_bar()].quarter_bpm)

    @property
    def here(self) -> RouteChange:
        """The change that is being played. To be asked only once the song has begun."""
        assert self.change is not None
        return self.route.changes[self.change]

    def time_of(self, position: Fraction) -> float:
        """When a position falls by the pulse and the place as they are now."""
        assert self.pulse is not None
        return self.pulse.time_of(float(position) - self.offset)

    def position_at(self, time: float) -> float:
        assert self.pulse is not None
        return self.pulse.count_at(time) + self.offset

    def beat_seconds(self) -> float:
        assert self.pulse is not None
        return self.pulse.period * self.pulse.beat

    @property
    def moving(self) -> bool:
        """Whether the pulse carries the place on."""
        return self.state in (states.PLAYING, states.VAMPING, states.ENDING) and not self.final

    def boundary(self) -> Fraction:
        """The next change or barline."""
        bar = self.route.bars[self.bar]
        for index in bar.changes:
            position = self.route.changes[index].position
            if position > self.passed:
                return position
        return bar.end

    def ahead(self) -> tuple[int | None, int | None]:
        """The bar that comes at the next boundary, and the change that stands there (None: the chord goes on)."""
        boundary = self.boundary()
        bar: int | None = self.bar
        if boundary == self.route.bars[self.bar].end:
            bar = self.plan.after(self.bar)
            if bar is None:
                return None, None
            boundary = self.route.bars[bar].position
        assert bar is not None
        for index in self.route.bars[bar].changes:
            if self.route.changes[index].position == boundary:
                return bar, index
        return bar, None

    @property
    def vamping(self) -> bool:
        """Whether the bar being played is one of a vamp that was asked for."""
        return self.plan.vamp(self.bar) is not None

    def level(self) -> int:
        thinned = 1 if self.loop is None and self.vamping else 0
        return min(4, max(1, self.fullness - thinned))

    def silent_figure(self) -> bool:
        return self.out or self.route.bars[self.bar].out

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
        if self.pulse is None:
            return
        end = self.sounding.next_end()
        if end is not None:
            yield self.pulse.time_of(end), END, self._end_due
        if self.state == states.COUNT_IN:
            if self.count_in:
                yield self.pulse.time_of(self.count_in[0][0]), START, self._count
            yield self.time_of(self.passed), CHANGE, self._counted_in
        if self.beat_next is not None and self.beat_next <= self.passed and self.state in _SOUNDED:
            yield self.time_of(self.beat_next), BEAT, self._beat  # the beat of a chord that stands
        if not self.moving:
            return
        if self.waiting is not None:
            if self.waiting.expires is not None:
                yield self.waiting.expires, CHANGE, self._grace_over
            return
        boundary = self.boundary()
        yield self.time_of(boundary), CHANGE, self._arrive
        if self.beat_next is not None and self.passed < self.beat_next < boundary:
            yield self.time_of(self.beat_next), BEAT, self._beat
        if self.loop is not None and self.keys.silent_since is not None and self.settings.place_lead == "feet":
            silent = max(self.keys.silent_since, self.pulse.time_of(self.loop.since))
            yield silent + SILENT_BEATS * self.beat_seconds(), CHANGE, self._fall_silent
        if self.comes_in is not None and self.comes_in < boundary:
            yield self.time_of(self.comes_in), START, self._come_in
        attack = self._next_attack()
        if attack is not None and attack < boundary:
            yield self.time_of(attack), START, self._attack

    def _next_attack(self) -> Fraction | None:
        attacks = self.arrangement.attacks[self.level()]
        index = bisect_left(attacks, self.cursor)
        return attacks[index] if index < len(attacks) else None

    def _end_due(self, at: float) -> list[Action]:
        assert self.pulse is not None
        return [*self.sounding.end_due(max(self.sounding.next_end() or 0.0, self.pulse.count_at(at)), at)]

    def _start_waiting(self, at: float) -> list[Action]:
        return [*self.sounding.start_waiting(at)]

    def _beat(self, at: float) -> list[Action]:
        """A counted beat falls."""
        assert self.beat_next is not None
        position = self.beat_next
        self.beat_next = position + self.route.bars[self.bar].meter.counted_beat
        return self._tell_beat(position, self.route.bars[self.bar], at)

    def _tell_beat(self, position: Fraction, bar: RouteBar, at: float) -> list[Action]:
        """A beat is told, and clicked where a click is asked for."""
        actions: list[Action] = [BeatIs(at=at, position=position)]
        if self.settings.click:
            actions += self._click(click_pitch(float(bar.beat_at(position))), at, position)
        return actions

    def _click(self, pitch: int, at: float, position: Fraction) -> list[Action]:
        assert self.pulse is not None
        ends = self.pulse.count_at(at) + LENGTH
        return [*self.sounding.start([Start(part=CLICK, pitch=pitch, position=position, change=-1, ends=ends)], at)]

    def _attack(self, at: float) -> list[Action]:
        """The figure's next attack."""
        position = self._next_attack()
        assert position is not None
        self.cursor = position + Fraction(1, GRID)
        if at - self.time_of(position) > TOO_LATE:
            return []
        return self._strike(position, at)

    def _come_in(self, at: float) -> list[Action]:
        """The chord comes in on a beat, held to its end."""
        assert self.comes_in is not None
        position, self.comes_in = self.comes_in, None
        if self.silent_figure():
            return []
        ends = float(self.here.end) - self.offset - HELD_GAP
        return [*self.sounding.start([self._held(pitch, position, ends) for pitch in self._voicing()], at)]

    def _strike(self, position: Fraction, at: float) -> list[Action]:
        """Start the notes written at a position."""
        assert self.pulse is not None
        if self.silent_figure():
            return []
        if self.loop is not None and self._thinned():
            return []
        starts = []
        for note in self.arrangement.notes_at(self.level(), position):
            if note.change != self.change and not self._pushes(note.change):
                continue
            if note.change != self.change:
                self.pushed = note.change
            count = float(position) - self.offset
            length = float(note.length)
            ends = max(count + length, self.pulse.count_at(at) + length / 2)
            starts.append(Start(part=note.part, pitch=note.pitch, position=position, change=note.change, ends=ends))
        return [*self.sounding.start(starts, at)]

    def _pushes(self, change: int) -> bool:
        """Whether an attack may come before its change: not round a vamp, and not before the cue that it waits for."""
        return self.change is not None and self.loop is None and not self.reading.wants_cue(self.change, change)

    def _thinned(self) -> bool:
        """A vamp thins to held chords after a bar."""
        assert self.loop is not None
        gone = float(self.loop.start) - self.offset - self.loop.since
        return gone >= float(self.route.bars[self.bar].meter.bar_length) - 1e-6

    def _strike_held(self, at: float) -> list[Action]:
        """The chord of a vamp that has thinned, held through one time round."""
        assert self.loop is not None
        ends = float(self.loop.end) - self.offset - HELD_GAP
        return [*self.sounding.start([self._held(pitch, self.passed, ends) for pitch in self._voicing()], at)]

    def _voicing(self) -> tuple[int, ...]:
        """The chord being played, as held."""
        return self.arrangement.voicings[self.level()][self.here.index]

    def _held(self, pitch: int, position: Fraction, ends: float | None) -> Start:
        return Start(part=FIGURE, pitch=pitch, position=position, change=self.here.index, ends=ends)

    def hold(self, at: float) -> list[Action]:
        """The chord is held until it is let go; where it is between two attacks, it is struck again."""
        actions: list[Action] = []
        if self.change is not None and not self.silent_figure() and not self.sounding.busy(FIGURE):
            starts = [self._held(pitch, self.passed, None) for pitch in self._voicing()]
            actions += self.sounding.start(starts, at)
        self.sounding.hold()
        return actions

    # -- moving ---------------------------------------------------------------------------------------------------

    def become(self, state: str, at: float) -> list[Action]:
        """Change the state, by a legal move only."""
        if state == self.state:
            return []
        assert state in states.MOVES[self.state], f"no move from {self.state} to {state}"
        self.state = state
        return [StateIs(at=at, state=state)]

    def flow(self, at: float) -> list[Action]:
        """On with what the place says: a vamp that was asked for, the ending, or just playing."""
        if self.vamping:
            return self.become(states.VAMPING, at)
        in_ending = self.change is not None and self.reading.in_ending(
            self.route.bars[self.route.changes[self.change].bar]
        )
        return self.become(states.ENDING if in_ending else states.PLAYING, at)

    def begin(self, change: int, at: float, pulse: Pulse, sure: float, *, cued: bool) -> list[Action]:
        """Start at a change."""
        self.bar = self.route.changes[change].bar
        self.offset = float(self.route.changes[change].position) - pulse.count
        return self.enter(change, at, pulse=pulse, offset=self.offset, sure=sure, cued=cued)

    def enter(
        self,
        change: int,
        at: float,
        *,
        pulse: Pulse,
        offset: float,
        sure: float,
        cued: bool,
        attack: bool = True,
    ) -> list[Action]:
        """The harmony moves to a change: by a cue (``cued``) or by the clock."""
        here = self.route.changes[change]
        before = self.route.bars[self.bar]
        beat_told = self.waiting is not None and self.waiting.beat_told and self.waiting.change == change
        if here.bar != self.bar or (self.plan.detour(self.bar) is not None and here.position <= self.passed):
            self.plan.taken(self.bar)
            self.lift_key()
        bar = self.route.bars[here.bar]
        moved = change != self.change or not cued
        self.offset, self.sure = offset, sure
        self.pulse = self._in_tempo(change, before, bar, pulse, at)
        if self.pulse is not pulse:
            self.listening.retimed(self.pulse, change)
        self.bar, self.change, self.passed = here.bar, change, here.position
        self.listening.bar = here.bar
        self.waiting, self.loop, self.nodded_on = None, None, False
        self.final, self.closing = False, None
        if cued:
            self.missed = 0
        beat = bar.meter.counted_beat
        beats = [position for position in self.route.beats(bar) if position >= here.position]
        if beat_told and beats and beats[0] == here.position:
            beats = beats[1:]
        self.beat_next = beats[0] if beats else bar.end + beat
        pushed = self.pushed == change
        actions: list[Action] = [*self.sounding.end_all(at, part=FIGURE, spare=change if pushed else None)]
        actions += self.flow(at)
        if moved:
            bpm = self.pulse.bpm(float(beat))
            actions.append(PlaceIs(at=at, change=change, position=here.position, bpm=bpm, sure=sure))
        self.cursor, self.pushed = here.position, None
        first = here.position + self.reading.shifts[change]
        self.comes_in = None
        if not attack:
            self.skip_to(at)
            following = self._next_attack()
            if following is None or following >= here.end:
                self.comes_in = self.beat_next
        elif not pushed and (cued or first <= here.position):
            actions += self._strike(first, at)
            self.cursor = max(self.cursor, first) + Fraction(1, GRID)
        return actions + self._stand_still(change, at, cued=cued)

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

    def lift_key(self) -> None:
        """The key changes as asked: at a bar line, or before the start."""
        if self.listening.lift_asked:
            self.listening.lift += self.listening.lift_asked
            self.listening.lift_asked = 0
            self.arrangement = self.arrange_at(self.listening.lift)

    def home_key(self) -> None:
        """Back to the key as written."""
        self.listening.lift, self.listening.lift_asked = 0, 0
        self.arrangement = self.arrange_at(0)

    def skip_to(self, at: float) -> None:
        """Attacks before a time are left out."""
        self.cursor = max(self.cursor, Fraction(math.ceil(self.position_at(at) * GRID - 1e-6), GRID))

    def _arrive(self, at: float) -> list[Action]:
        """The pulse reaches the next change or barline."""
        assert self.pulse is not None and self.change is not None
        boundary = self.boundary()
        if self.loop is not None and boundary == self.loop.end:
            return self._go_round(at)
        bar, change = self.ahead()
        if bar is None:
            return self.finish(at)
        leaving = self.route.bars[self.bar] if bar != self.bar or self.plan.detour(self.bar) else None
        if change is None:
            return self._cross(bar, at)
        meets = self.meets(change, leaving)
        if meets == GRACE:
            early = self._already_down(change)
            if early:
                return early_cue(self, change, boundary, at)
            spread = self.pulse.spread(float(boundary) - self.offset)
            beats = 1.0 if self.reading.ritard[change] else 0.0
            late = max(0.0, float(self.reading.shifts[change])) * self.pulse.period
            wait = late + max(beats * self.beat_seconds(), grace(spread, self.beat_seconds()))
            self.waiting = Waiting(change, bar, at + wait, beat_told=True)
            here = self.route.changes[change]
            return self._tell_beat(here.position, self.route.bars[here.bar], at) if self._on_beat(change) else []
        if meets == STOP:
            self.waiting = Waiting(change, bar, None, beat_told=False)
            return self.become(states.HOLDING, at)
        return self.by_clock(change, at)

    def by_clock(self, change: int, at: float, *, attack: bool = True) -> list[Action]:
        """The harmony moves without a cue."""
        assert self.pulse is not None
        boundary = self.boundary()
        offset = self.offset + float(self.route.changes[change].position - boundary)
        assert self.change is not None
        self.listening.passed(change)
        return self.enter(change, at, pulse=self.pulse, offset=offset, sure=self.sure, cued=False, attack=attack)

    def meets(self, change: int, leaving: RouteBar | None) -> str:
        """How the band meets a change, nods counted."""
        assert self.change is not None
        if self.vamping or self.nodded_on:
            return PASS
        how = self.reading.meets(self.change, change, leaving)
        if how == PASS and self.settings.place_lead == "feet" and self._door_to_ending(change):
            here = self.route.changes[change]
            same = here.bass == self.route.changes[self.change].bass and self.keys.down[PEDAL]
            return PASS if same or here.bass is None else GRACE
        return how

    def _door_to_ending(self, change: int) -> bool:
        """Whether a change is the door to the ending, or the last chord with nothing asked after it."""
        return self.reading.opens_ending(change) and self.plan.detour(self.route.changes[change].bar) is None

    def _nodded(self) -> bool:
        """Whether a nod has asked for what comes next: then it needs no cue."""
        at_barline = self.boundary() == self.route.bars[self.bar].end
        return self.nodded_on or self.vamping or (at_barline and self.plan.detour(self.bar) is not None)

    def _on_beat(self, change: int) -> bool:
        here = self.route.changes[change]
        return here.position in self.route.beats(self.route.bars[here.bar])

    def _already_down(self, change: int) -> bool:
        """A foot that came early stayed down: the pedal of this change, pressed since the last change."""
        assert self.change is not None
        since = self.time_of(self.passed) + 0.06
        return any(self.listening.exact(change, key % 12) for key in self.keys.pedal_since(since))

    def _cross(self, bar: int, at: float) -> list[Action]:
        """A barline under a chord that goes on."""
        landing = self.route.bars[bar]
        assert self.pulse is not None
        before = self.route.bars[self.bar]
        detour = self.plan.taken(self.bar)
        self.offset += float(landing.position - before.end)
        self.lift_key()
        pulse = self._as_written(before, landing, self.pulse, at)
        if pulse is not self.pulse:
            self.pulse = pulse
            self.listening.retimed(pulse)
        self.bar, self.passed = bar, landing.position
        self.listening.bar = bar
        self.cursor = landing.position
        beats = self.route.beats(landing)
        self.beat_next = beats[0] if beats else landing.end
        if detour is None:
            return self.flow(at)
        self.change = self.route.change_at(landing.position).index
        self.place_known(self.change)
        bpm = self.pulse.bpm(float(landing.meter.counted_beat))
        return [
            *self.flow(at),
            PlaceIs(at=at, change=self.change, position=landing.position, bpm=bpm, sure=self.sure),
        ]

    def place_known(self, change: int) -> None:
        """What is believed of the place starts afresh from where the band is: the clock or a nod has moved it."""
        assert self.pulse is not None
        self.listening.moved(change, float(self.route.changes[change].position) - self.offset, self.pulse)

    # -- a missing cue --------------------------------------------------------------------------------------------

    def _grace_over(self, at: float) -> list[Action]:
        """The grace ran out and no cue came."""
        assert self.waiting is not None and self.change is not None
        change = self.waiting.change
        if self.ahead()[1] != change:  # a nod has come in between
            self.waiting = None
            return self._arrive(at)
        feet = self.settings.place_lead == "feet"  # a switch that does not come is a wish to stay
        arrived = self.time_of(self.boundary())
        verdict = when_missing(
            Known(
                melody_known=feet and MELODY_MANUAL in self.keys.latest,
                melody_moving=self.keys.melody_moved_since(arrived - 0.25 * self.beat_seconds()),
                pedal_down=bool(self.keys.down[PEDAL]),
                pedal_lost=feet and PEDAL in self.keys.lost,
                patience=self.settings.patience if feet else "0",
                missed=self.missed,
                nodded=self._nodded(),
                ending=self._door_to_ending(change) and not self.may_end,
                ritard=feet and self.reading.ritard[change],
            )
        )
        name = self.route.changes[change].chord.shown
        if verdict == GO_ON:
            self.missed += 1
            self.sure *= 0.7
            actions = self.by_clock(change, at, attack=False)
            return [*actions, Told(at=at, text=f"no foot for {name}: going on")]
        if verdict == VAMP:
            return [*self._start_loop(at), Told(at=at, text=f"waiting for {name}: vamping")]
        self.waiting.expires = None
        actions = [*self.sounding.end_all(at, part=FIGURE)] if verdict == BE_SILENT else []
        return [*actions, *self.become(states.HOLDING, at), Told(at=at, text=f"waiting for {name}")]

    def _start_loop(self, at: float) -> list[Action]:
        """Keep the chord: its last bar, or the whole beats that there are of it, goes round."""
        assert self.change is not None
        end, beat = self.boundary(), self.route.bars[self.bar].meter.counted_beat
        since = max(self.route.changes[self.change].position, self.route.bars[self.bar].position)
        self.waiting = None
        self.loop = Loop(end - beat * max(1, (end - since) // beat), end, float(end) - self.offset)
        self._turn_back()
        if self.beat_next == self.loop.start:  # told when the missing change was due
            self.beat_next += beat
        self.skip_to(at)
        return self.become(states.VAMPING, at)

    def _turn_back(self) -> None:
        """Back to the start of the loop: the count grows on, the place does not."""
        assert self.loop is not None
        self.offset -= float(self.loop.end - self.loop.start)
        self.comes_in = None
        self.cursor = self.loop.start
        self.passed = max(self.loop.start, self.here.position)
        beats = self.route.beats(self.route.bars[self.bar])
        self.beat_next = next(position for position in (*beats, self.loop.end) if position >= self.loop.start)

    def _go_round(self, at: float) -> list[Action]:
        """The loop comes round again."""
        self._turn_back()
        return self._strike_held(at) if self._thinned() and not self.silent_figure() else []

    def _fall_silent(self, at: float) -> list[Action]:
        """Every division has been silent: the player has stopped."""
        self.loop = None
        actions: list[Action] = [*self.sounding.end_all(at, part=FIGURE)]
        return [*actions, *self.become(states.HOLDING, at), Told(at=at, text="nothing heard: waiting")]

    # -- count-in and end -----------------------------------------------------------------------------------------

    def _count(self, at: float) -> list[Action]:
        _, pitch = self.count_in.pop(0)
        return self._click(pitch, at, self.passed) if self.settings.click else []

    def _counted_in(self, at: float) -> list[Action]:
        """The count-in is over: the first bar."""
        assert self.pulse is not None
        self.place_known(self.first)
        return self.enter(self.first, at, pulse=self.pulse, offset=self.offset, sure=self.sure, cued=False)

    def finish(self, at: float) -> list[Action]:
        """Fine: everything ends."""
        self.waiting, self.loop, self.final, self.closing = None, None, False, None
        self.fine_at = at
        self.plan.lift()
        self.home_key()
        return [*self.sounding.end_all(at), *self.become(states.FINE, at)]

    def _rest(self, at: float) -> list[Action]:
        """After the fine, back to tacet."""
        self.to_the_start()
        return self.become(states.TACET, at)

    def to_the_start(self) -> None:
        """Back to the first bar, with nothing moving and nothing believed."""
        self.pulse, self.change = None, None
        self.bar = self.listening.bar = self.first_bar()
        self.passed = self.cursor = self.route.changes[self.first].position
        self.beat_next, self.before_ritard = None, None
        self.waiting, self.loop, self.comes_in, self.final = None, None, None, False
        self.closing, self.fine_at = None, None
        self.nodded_on, self.may_end = False, False
        self.missed = 0
        self.count_in.clear()
        self.plan.lift()
        self.listening.hypotheses = ()


def early_cue(playing: Playing, change: int, boundary: Fraction, at: float) -> list[Action]:
    """The foot of this change came early and is still down: the change happens on the beat."""
    assert playing.pulse is not None
    count = float(boundary) - playing.offset
    playing.listening.still_down(change, at, count)
    offset = float(playing.route.changes[change].position) - count
    return playing.enter(change, at, pulse=playing.pulse, offset=offset, sure=playing.sure, cued=True)
