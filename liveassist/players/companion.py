"""An imagined organist who goes along with the nods, like somebody who has given them: where the band was asked to go, the feet
go too.

Until the first nod the performance is the one that was written out beforehand, mishaps and all. From then on it is
written a few bars at a time, by the band's own plan, and written anew from the next bar line wherever that plan leads
elsewhere. A ``hold`` stands until ``on``; after ``tacet`` and ``cut`` nothing is played until ``ready`` or ``count``.

Seconds count from the start of the take; a bar is its index in the route.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Sequence
from dataclasses import replace

from charts.route import Route
from liveassist.band.events import DRUMS, Action, NodTaken
from liveassist.band.leading import CLICK
from liveassist.band.performance import Performance
from liveassist.band.states import COUNT_IN, FINE, HOLDING, READY, TACET
from liveassist.players.begun import Begun
from liveassist.players.drummer import Drummer, with_drums
from liveassist.players.organist import (
    HUMAN_PACE,
    NOD_CONTROL,
    PEDAL_CHANNEL,
    PEDALBOARD,
    SWITCH_CONTROL,
    Organist,
    script,
)
from liveassist.players.timing import Pace
from liveassist.settings import Settings

AHEAD = 6
"""Bars that are written at a time."""
EARLY = 0.06
"""A foot is at most so far ahead of its bar line, in seconds: so near before it the next bar has begun."""
BREATH = 1.5
"""Seconds from ``ready`` to the first foot, and from a nod that ends a hold to the next."""
LIFTED = 0.012
"""Keys come up so long before the next go down, in seconds."""
STRUCK = 0.25
"""The press for a change that the band has entered already would come within this time, in seconds."""
OWN = 0.05
"""A nod ``on`` so near to one of the organist's own, in seconds, is that one."""
STOPPING = frozenset({"tacet", "cut"})
STARTING = frozenset({"ready", "count"})
BEFORE = frozenset({"up", "down", "tap"})
"""Nods that change what is about to begin."""
LEADING_ON = frozenset({"again", "tag", "close", "to"})
"""Nods after which somebody who holds a chord plays on."""
MOVING = STOPPING | STARTING | BEFORE | LEADING_ON | {"on", "vamp", "hold"}
"""Nods that ask something of the player, too."""
MANUAL = range(36, 97)
PRESS = bytes((0xAF + PEDAL_CHANNEL, SWITCH_CONTROL))
"""How every message of the foot switch begins."""
COMPASSES = {0: MANUAL, 3: PEDALBOARD}
"""By the channel's number in a MIDI message: the tune's manual and the pedal."""
UNWRITTEN = -1
"""What stands for the bar behind the last that is written, where the song goes on."""
Messages = list[tuple[float, bytes]]


def habits(settings: Settings) -> Organist:
    """An organist who fits the lead: where a click has the time the beats are the click's, and where it has the place, too,
    nothing is waited for; else a person's."""
    steady = Pace(tempo=settings.tempo)
    if settings.place_lead == "bars":
        return Organist(pace=steady, hold_beats=0.0, breath_beats=0.0, wait_seconds=0.0, nods=True)
    switch = settings.switch_unit if settings.place_lead == "switch" else ""
    if settings.time_lead == CLICK:
        return Organist(pace=steady, breath_beats=1.0, switch=switch, nods=True)
    return Organist(pace=replace(HUMAN_PACE, tempo=settings.tempo), switch=switch, nods=True)


def drummer(route: Route, settings: Settings) -> Drummer | None:
    """Whoever has the pulse where the drums have it, None elsewhere."""
    if settings.time_lead != DRUMS or settings.place_lead != "feet":
        return None
    meter = route.chart.meter
    groove = "plain" if meter.compound else "waltz" if meter.beats == 3 else "rock"
    return Drummer(count_in=0, fill_every=4, groove=groove)


class Companion:
    """Goes along. ``went`` is to be asked whenever the band has done something."""

    def __init__(
        self,
        band: Performance,
        settings: Settings,
        messages: Iterable[tuple[float, bytes]],
        before: Begun,
        *,
        nods: Sequence[str] = (),
    ) -> None:
        """
        Args:
            band: whose plan it looks at. Nothing of it is changed.
            settings: of the band, for the lead.
            messages: the performance as written out beforehand.
            before: where it goes.
            nods: those with which the band begins, which are in the performance already.
        """
        self._band, self._route = band, band.route
        self._player, self._drummer = habits(settings), drummer(band.route, settings)
        self._clicked = settings.time_lead == CLICK
        self._waits = settings.place_lead != "bars"
        self._messages: Messages = list(messages)
        self._bars = [*before.bars, (before.end, len(band.route.bars))]
        self._mishaps = list(before.mishaps)
        self._dice = random.Random(before.seed)
        self._expected = list(nods)
        self._led = self._standing = False
        self._lift = 0
        self._state = band.state

    def said(self, now: float) -> list[str]:
        """The mishaps that have happened since last asked."""
        found = [text for at, text in self._mishaps if at <= now]
        self._mishaps = self._mishaps[len(found) :]
        return found

    def went(self, actions: Iterable[Action], now: float) -> tuple[float, Messages] | None:
        """What is played instead of what was to come.

        Args:
            actions: what the band has just done.
            now: seconds.
        Returns:
            from when on, and the messages; None where all goes on as written.
        """
        nod = next((found for action in actions if (found := self._nod(action, now))), "")
        before, self._state = self._state, self._band.state
        self._led = self._led or bool(nod)
        if not self._led:
            return None
        if nod in STOPPING:
            return self._stop(now)
        if nod in STARTING or (nod in BEFORE and self._state in (READY, COUNT_IN)):
            return self._start(nod, now)
        if self._state in (TACET, READY, COUNT_IN, FINE):
            return None if nod != "on" else self._stop(now)
        if nod == "hold":
            self._standing = True
            return self._replace(now, [])
        if self._standing or (nod == "on" and before == HOLDING):
            return self._play_on(nod, now)
        return self._follow(nod, now)

    def _nod(self, action: Action, now: float) -> str:
        """The nod that was taken, if it asks anything of the player."""
        if not isinstance(action, NodTaken) or action.nod not in MOVING:
            return ""
        if action.nod in self._expected:
            self._expected.remove(action.nod)
            return ""
        own = action.nod == "on" and any(
            data[1] == NOD_CONTROL and abs(at - now) < OWN for at, data in self._messages if data[0] & 0xF0 == 0xB0
        )
        return "" if own else action.nod

    def _start(self, nod: str, now: float) -> tuple[float, Messages]:
        """From the beginning, with the band's count-in or after a breath."""
        self._standing = False
        if nod == "tap":
            self._take_tempo()
        counted = self._state not in (TACET, READY, FINE)
        first = self._band.time_of(self._band.passed) if counted else now + BREATH
        return self._write(self._band.bar, max(first, now), now)

    # -- what the plan says -------------------------------------------------------------------------------------------

    def _play_on(self, nod: str, now: float) -> tuple[float, Messages] | None:
        """After a hold: with the band where it has gone on, else ahead of it with the next foot."""
        band = self._band
        if band.change is None:
            return None
        if band.state != HOLDING:
            self._standing = False
            return self._write(self._route.changes[band.change].bar, now, now, change=band.change)
        following = band.plan.next_change(band.change)
        if nod not in LEADING_ON or not self._waits or following is None:
            return None
        self._standing = False
        change = following[0]
        return self._write(self._route.changes[change].bar, now + BREATH, now, change=change)

    def _follow(self, nod: str, now: float) -> tuple[float, Messages] | None:
        """On from the next bar line, wherever that leads now."""
        number = max((n for n, (at, _) in enumerate(self._bars) if at <= now + EARLY), default=None)
        if number is None or number + 1 >= len(self._bars):
            return None
        (began, here), (ends, written) = self._bars[number : number + 2]
        if here != self._band.bar:
            if not 0.25 < (now - began) / (ends - began) < 0.75:
                return None  # one of the two is just about to enter
            here = self._band.bar
        tapped = nod == "tap" and self._take_tempo()
        anew = tapped or (
            bool(self._player.switch) and nod in ("vamp", "on")
        )  # it is no use to press where all goes round
        beyond = len(self._route.bars)
        wanted = self._after(here)
        runs_out = number + 3 == len(self._bars) and self._bars[-1][1] == UNWRITTEN
        if wanted == written and not runs_out and not anew and self._lift == self._band.lift_to_come:
            return None
        if wanted == beyond:
            self._bars = [*self._bars[: number + 1], (ends, beyond)]
            return self._replace(max(now, ends - EARLY), [], ends)
        clicked = self._band.time_of(self._route.bars[here].end)
        if tapped or (self._clicked and self._band.moving and abs(clicked - ends) < self._band.beat_seconds() / 2):
            ends = max(clicked, now + LIFTED)
        return self._write(wanted, ends, now, leaving=here)

    def _after(self, bar: int) -> int:
        """The bar that follows by the band's plan; behind the last where none does."""
        following = self._band.plan.after(bar)
        return len(self._route.bars) if following is None else following

    def _take_tempo(self) -> bool:
        """The tempo that was tapped, from now on; False while it is one tap only."""
        if len(self._band.taps) < 2:
            return False
        chart = self._route.chart
        written = chart.tempo.quarter_bpm / float(chart.meter.counted_beat)
        scale = 60.0 / self._band.pulse.period / self._route.bars[self._band.bar].quarter_bpm
        self._player = replace(self._player, pace=replace(self._player.pace, tempo=written * scale))
        return True

    def _ahead(self, bar: int, leaving: int | None) -> tuple[int, tuple[tuple[int, int], ...]]:
        """How many bars are written from a bar on, and the jumps in them: each detour once, but for the one that has just been
        taken; whatever goes round again is written when it comes."""
        plan = self._band.plan
        path, jumps = [bar], []
        passed = {leaving}
        while len(path) < AHEAD:
            detour = None if path[-1] in passed else plan.detour(path[-1])
            if detour is not None:
                passed.add(path[-1])
                if detour.to is None:
                    break
                jumps.append((path[-1], detour.to))
                path.append(detour.to)
            elif path[-1] + 1 < len(self._route.bars):
                path.append(path[-1] + 1)
            else:
                break
        return len(path), tuple(jumps)

    # -- writing ------------------------------------------------------------------------------------------------------

    def _write(
        self, bar: int, start: float, now: float, *, change: int | None = None, leaving: int | None = None
    ) -> tuple[float, Messages]:
        """A few bars from one on, which begins at a moment; or the change in it that is given."""
        bars, jumps = self._ahead(bar, leaving)
        player = replace(self._player, first_bar=bar, bars=bars, jumps=jumps, start=start)
        made = script(self._route, player, self._dice)
        if self._drummer is not None:
            made = with_drums(made, self._drummer, self._dice)
        truth = made.truth
        shift = 0.0
        if change is not None:
            shift = start - next(moment.at for moment in truth.changes if moment.change == change)
        self._lift = self._band.lift_to_come
        written = [(at + shift, index) for at, index in truth.bars]
        entered = start + STRUCK if change is not None and self._band.state != HOLDING else start - EARLY
        messages = [
            (at + shift, _lifted(data, self._lift))
            for at, data in made.messages
            if data[:2] != PRESS or not (at + shift < entered or self._goes_round(at + shift, written))
        ]
        stands = [entry for entry in self._bars if entry[0] <= now + EARLY and entry[0] < written[0][0]][-1:]
        beyond = len(self._route.bars)
        ends = self._after(written[-1][1]) == beyond
        self._bars = [*stands, *written, (truth.end + shift, beyond if ends else UNWRITTEN)]
        after = max(now, start - EARLY)
        coming = [(max(at, after), data) for at, data in messages if at >= start - EARLY]
        if leaving is not None and self._band.plan.vamp(leaving) is not None and self._player.switch:
            coming += [message for message in self._messages if now <= message[0] < after and message[1][:2] != PRESS]
            after = now
        return self._replace(after, coming, start)

    def _goes_round(self, at: float, bars: Sequence[tuple[float, int]]) -> bool:
        """Whether a moment lies in a bar that the band plays round and round by itself."""
        here = [index for begins, index in bars if begins <= at + EARLY]
        return bool(here) and self._band.plan.vamp(here[-1]) is not None

    def _stop(self, now: float) -> tuple[float, Messages]:
        """Nothing more, and the keys come up."""
        self._standing = False
        self._bars = []
        return self._replace(now, [], now + LIFTED)

    def _replace(self, after: float, coming: Messages, lifted: float | None = None) -> tuple[float, Messages]:
        """Other messages from a moment on. What is down by then comes up as it was to, and before ``lifted``; where that is not
        given, it stays down."""
        kept = [message for message in self._messages if message[0] < after]
        ends: Messages = []
        if lifted is not None:
            ends = [(max(after, lifted - LIFTED), bytes((status & 0x0F | 0x80, key, 0))) for status, key in _down(kept)]
        self._mishaps = [mishap for mishap in self._mishaps if mishap[0] < after]
        begins = _down_in(coming)
        new = sorted([*ends, *begins])
        self._messages = [*kept, *new]
        return after, new


def _down(messages: Messages) -> list[tuple[int, int]]:
    """What is still down after some messages: status byte and key."""
    down: dict[tuple[int, int], int] = {}
    for _, (status, key, velocity) in messages:
        if status & 0xF0 == 0x90 and velocity:
            down[status & 0x0F, key] = status
        elif status & 0xF0 in (0x80, 0x90):
            down.pop((status & 0x0F, key), None)
    return [(status, key) for (_, key), status in down.items()]


def _down_in(messages: Messages) -> Messages:
    """Messages without the ends of notes that do not begin in them."""
    begun_here: set[tuple[int, int]] = set()
    found: Messages = []
    for at, data in sorted(messages):
        status, key, velocity = data
        note = status & 0x0F, key
        if status & 0xF0 == 0x90 and velocity:
            begun_here.add(note)
        elif status & 0xF0 in (0x80, 0x90) and note not in begun_here:
            continue
        found.append((at, data))
    return found


def _lifted(data: bytes, lift: int) -> bytes:
    """A message in the key that was asked for, within the compass."""
    status, key, velocity = data
    compass = COMPASSES.get(status & 0x0F)
    if not lift or compass is None or status & 0xF0 not in (0x80, 0x90):
        return data
    key += lift
    key += 12 if key < compass.start else -12 if key >= compass.stop else 0
    return bytes((status, key, velocity))
