"""The bandstand: where the band is and what it has in hand, and questions about it. Nothing here plays.

The pulse maps count to seconds and ``offset`` maps count to position, so a jump, a vamp or a late foot after a stop changes
one number.
"""

from __future__ import annotations

import random
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from math import inf

from charts.chart import BREATH, HOLD
from charts.route import Route, RouteBar, RouteChange
from liveassist.arranging.arrangement import FULLNESS, Arrangement
from liveassist.arranging.tune import tune_of
from liveassist.band import leading, practising, states
from liveassist.band.answering import Answering
from liveassist.band.clicking import Gap
from liveassist.band.clocked import Clock
from liveassist.band.conductor import Reading
from liveassist.band.counting_in import Counted, CountIn
from liveassist.band.drumming import Drummer
from liveassist.band.events import Action, StateIs
from liveassist.band.listening import Listening
from liveassist.band.plan import Plan
from liveassist.band.player import PlayerKeys
from liveassist.band.pulse import Pulse
from liveassist.band.shifting import Shifting
from liveassist.band.sounding import SoundingNotes
from liveassist.band.tune_listening import Sung
from liveassist.settings import Settings


@dataclass(slots=True)
class Waiting:
    """The attack of a change waits for its cue."""

    change: int
    expires: float | None
    """When the grace runs out; None: it waits until the cue comes."""
    beat: float | None
    """When the beat that falls there is told without the cue; None where none falls, or it has been told."""


@dataclass(frozen=True, slots=True)
class Loop:
    """The chord goes round because its cue is missing."""

    start: Fraction
    end: Fraction
    since: float
    """Count at which it began."""


@dataclass(frozen=True, slots=True)
class Underscore:
    """A step of the roadmap goes round under a prayer or an offertory."""

    since: float
    """When it began, in seconds."""
    minutes: int = 0
    """Whole minutes that have been told."""

    @property
    def next_told(self) -> float:
        """When the next whole minute is over."""
        return self.since + 60.0 * (self.minutes + 1)


class Bandstand:
    """The band's own state. ``Striking``, ``Playing`` and ``Performance`` add the figure, the moves and the ears."""

    def __init__(
        self, route: Route, arrange_at: Callable[[int], Arrangement], settings: Settings, rng: random.Random
    ) -> None:
        self.route, self.arrange_at, self.settings, self.rng = route, arrange_at, settings, rng
        self.plan = Plan(route)
        self.reading = Reading(route, settings.place_lead, settings.switch_unit)
        self.listening = Listening(route, self.plan, self.reading.shifts, tune_of(route))
        self.shifting = Shifting(route)
        self.sounding = SoundingNotes()
        self.keys = PlayerKeys()
        self.answering = Answering()
        self.arrangement = arrange_at(0)
        self.state = states.READY if settings.armed else states.TACET
        self.now = 0.0
        self.fullness = settings.fullness
        self.shoe: int | None = None
        """The fullness that the swell shoe stands for; None where it was not heard yet, or is not for that."""
        self.out = settings.out
        self.muted = False
        """The nod ``mute`` has silenced the click."""
        self.clicked = self.beat_clicked = -inf
        """When the latest click fell, and the latest that was no division."""
        self.taps: list[float] = []
        self.time_lead = settings.time_lead
        """Where time comes from: a nod may change it."""
        self.drummer, self.clock, self.counting = Drummer(), Clock(), CountIn()
        self.led_since = -inf
        """From when on whoever has the pulse could be heard."""
        self.ticked: tuple[float, float] | None = None
        """Count and time of the clock's latest tick, as the pulse had them."""
        self.home = 0.0
        """Seconds per quarter note at the home tempo of the first bar; set by ``tap`` or the settings."""
        self.first = practising.first_change(route, settings).index
        """The change at which the song begins."""
        if settings.tempo:
            self.home = 60.0 / settings.tempo / float(self.bar_of(self.first).meter.counted_beat)
        self.to_the_start()

    def to_the_start(self) -> None:
        """Back to the first bar, with nothing moving, nothing asked and nothing believed."""
        self.plan.lift()
        practising.lay(self.plan, self.route, self.settings.practise, loop=self.settings.loop)
        self.answering.forget()
        self.listening.hypotheses = ()
        # the place
        self.change: int | None = None
        """The change that is being played; None before the start."""
        self.bar = self.listening.bar = self.route.changes[self.first].bar
        self.passed = self.route.changes[self.first].position
        """The latest change or barline."""
        self.pulse = self.pulse_from(self.first, self.now)
        self.offset = 0.0
        self.sure = 1.0
        self.missed = 0
        """Changes carried on through since the last cue."""
        self.before_ritard: float | None = None
        self.bars_played = 0
        """Bars begun since the first."""
        self.woke_on: int | None = None
        """The change on which it woke."""
        self.rejoins = False
        """The beats have begun anew with a foot: the first strokes after it tell whether the drummer has them there too."""
        self.silence_told = False
        """That a drummer is silent has been told."""
        # what comes next
        self.beat_next: Fraction | None = None
        self.beat_told: tuple[float, Fraction | None] = (-inf, None)
        """When the latest beat was told, and of what position; None for one of a chord that goes round."""
        self.cursor = self.passed
        """From where on the figure's attacks are still to come."""
        self.struck: tuple[float, float] | None = None
        """Time and count of the figure's latest attack; None where the next one follows from none."""
        self.comes_in: Fraction | None = None
        """Where a chord comes in that has no attack left: a held one whose first was skipped."""
        self.pushed: int | None = None
        """The change that was struck ahead of its place."""
        self.count_in: list[tuple[float, str]] = []
        """Counts of the clicks still to come, and what each is for."""
        self.counted: Counted | None = None
        """The count by sticks, or by a switch, that began this song, until it is over."""
        self.clock_starts = False
        """The MIDI clock has said "start": the song begins with its next tick."""
        self.gap: Gap | None = None
        """The gap between stanzas in which the band stands while the click goes on."""
        self.waiting: Waiting | None = None
        self.loop: Loop | None = None
        self.underscore: Underscore | None = None
        """The underscore that is being played, left or not; None elsewhere."""
        self.tune_from: float | None = None
        """When the tune went on while the band holds, None before."""
        self.tune_opened = False
        """While the band holds: the latest note was the first that the tune has after it."""
        self.sung: tuple[Sung, float] | None = None
        """Where the latest note of the tune is written, and when it was heard; None where it is not."""
        # what was asked
        self.nodded_on = False
        """The nod ``on``, or one that leads elsewhere, has asked for the next change: it needs no cue."""
        self.may_end = False
        """The nod ``close`` allows the ending to be entered by the clock."""
        self.keys.unheard_since, self.keys.muted = None, False
        self.shifting.begin()
        self.offered: int | None = None
        """The key that the feet seem to play in and that ``yes`` takes, half steps up from the one that the band is in."""
        # the end
        self.final = False
        """The last chord stands."""
        self.closing: float | None = None
        """When the last chord was released."""
        self.fine_at: float | None = None

    def home_key(self) -> None:
        """Back to the key as written."""
        self.listening.lift, self.listening.lift_asked = 0, 0
        self.arrangement = self.arrange_at(0)

    def lift_key(self) -> None:
        """The key changes as asked: at a bar line, or before the start."""
        if self.listening.lift_asked:
            self.listening.lift += self.listening.lift_asked
            self.listening.lift_asked = 0
            self.arrangement = self.arrange_at(self.listening.lift)
            self.shifting.begin()
            self.offered = None

    @property
    def lift_to_come(self) -> int:
        """The lift at the next bar line, in semitones: as it is, or as asked."""
        return self.listening.lift + self.listening.lift_asked

    # -- questions ------------------------------------------------------------------------------------------------

    def bar_of(self, change: int) -> RouteBar:
        return self.route.bars[self.route.changes[change].bar]

    def home_period(self, bar: RouteBar) -> float:
        """Seconds per quarter note at the written tempo of a bar, as set or tapped for the start."""
        written = 60.0 / bar.quarter_bpm
        if not self.home:
            return written
        return self.home * written / (60.0 / self.bar_of(self.first).quarter_bpm)

    def pulse_from(self, change: int, at: float) -> Pulse:
        """The pulse of a start at a change: its written tempo, and the phase of one moment."""
        bar = self.bar_of(change)
        steady, beat = self.time_lead == leading.CLICK, float(bar.meter.counted_beat)
        period = self.home_period(bar)
        return Pulse.begin(0.0, at, period, beat, steady=steady, followed=leading.is_kept(self, period * beat))

    @property
    def here(self) -> RouteChange:
        """The change that is being played. To be asked only once the song has begun."""
        assert self.change is not None
        return self.route.changes[self.change]

    def time_of(self, position: Fraction) -> float:
        """When a position falls by the pulse and the place as they are now."""
        return self.pulse.time_of(float(position) - self.offset)

    def position_at(self, time: float) -> float:
        return self.pulse.count_at(time) + self.offset

    def beat_seconds(self) -> float:
        return self.pulse.period * self.pulse.beat

    @property
    def moving(self) -> bool:
        """Whether the pulse carries the place on."""
        return self.state in (states.PLAYING, states.VAMPING, states.ENDING) and not self.final

    def standing(self) -> bool:
        """Whether the clock stands: at a marked hold, breath or wait, and after a sleep."""
        if self.state != states.HOLDING or self.change is None:
            return False
        if self.change == self.woke_on:
            return True
        return self.route.bars[self.bar].wait or any(mark in self.here.marks for mark in (HOLD, BREATH))

    @property
    def vamping(self) -> bool:
        """Whether the bar being played is one of a vamp that was asked for."""
        return self.plan.vamp(self.bar) is not None

    def nodded(self) -> bool:
        """Whether a nod has asked for what comes next: then it needs no cue."""
        at_barline = self.boundary() == self.route.bars[self.bar].end
        return self.nodded_on or self.vamping or (at_barline and self.plan.detour(self.bar) is not None)

    def step_bars(self) -> tuple[int, int]:
        """First and last bar of the step of the roadmap that is being played."""
        step = self.route.bars[self.bar].step
        mine = [bar.index for bar in self.route.bars if bar.step == step]
        return mine[0], mine[-1]

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
        bar = self.bar
        if boundary == self.route.bars[bar].end:
            following = self.plan.after(bar)
            if following is None:
                return None, None
            bar, boundary = following, self.route.bars[following].position
        for index in self.route.bars[bar].changes:
            if self.route.changes[index].position == boundary:
                return bar, index
        return bar, None

    def level(self) -> int:
        """The fullness at which to play: a vamp that was asked for thins."""
        if self.route.bars[self.bar].underscore:
            return FULLNESS[0]
        thinned = 1 if self.loop is None and self.vamping else 0
        return min(4, max(1, self.fullness - thinned))

    def silent_figure(self) -> bool:
        return self.out or self.route.bars[self.bar].out

    # -- state and belief -------------------------------------------------------------------------------------------

    def become(self, state: str, at: float) -> list[Action]:
        """Change the state, by a legal move only."""
        if state == self.state:
            return []
        assert state in states.MOVES[self.state], f"no move from {self.state} to {state}"
        self.tune_from, self.tune_opened = None, False
        self.state = state
        return [StateIs(at=at, state=state)]

    def flow(self, at: float) -> list[Action]:
        """On with what the place says: a vamp that was asked for, the ending, or just playing."""
        if self.vamping:
            begun = self.become(states.PLAYING, at) if self.state in (states.READY, states.COUNT_IN) else []
            return [*begun, *self.become(states.VAMPING, at)]
        in_ending = self.change is not None and self.reading.in_ending(self.bar_of(self.change))
        return self.become(states.ENDING if in_ending else states.PLAYING, at)

    def place_known(self, change: int) -> None:
        """What is believed of the place starts afresh from where the band is: the clock or a nod has moved it."""
        self.listening.moved(change, float(self.route.changes[change].position) - self.offset, self.pulse)
