"""The runner: the band's loop. In from the timeline, through the pure core, out to the ports.

One thread does everything that matters, in this order: wait; hear what arrived (interpreter, then the core); play what is
due; and only then write the take, tell the guardian that all is well, look after the ports, and paint a picture for the desk.
Nothing in the loop waits for a disk, a screen or a network. This is the only place where the band meets a clock.

A bug in the core is caught here, once: what sounds is silenced, the player is told, the take keeps the story, and the process
ends with a code of its own, so that whoever started it can offer to go on.
"""

from __future__ import annotations

import gc
import traceback
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from charts.route import Route
from liveassist.band.events import (
    PEDAL,
    Action,
    DivisionBack,
    DivisionLost,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    NoteOff,
    NoteOn,
    Slept,
    StateIs,
    SwitchPressed,
    Told,
)
from liveassist.band.states import READY, SILENT, TACET
from liveassist.band.view import TimeLine, View
from liveassist.console.bench_at_desk import BEGIN, BenchAtDesk
from liveassist.console.clock_out import ClockOut
from liveassist.console.hearing import Interpreter
from liveassist.console.instrument import SCRIPT, Profile
from liveassist.console.outlets import Outlets
from liveassist.console.picture import HEARD_LINES, Around
from liveassist.console.timeline import Arrival, Timeline
from liveassist.console.watching import News, Watch
from liveassist.link import Heard, Picture, PortHealth, Request

if TYPE_CHECKING:
    from liveassist.console.programme import Programme, Song

ENDED, WENT_WRONG = 0, 70
"""How the band's process ends: when asked to, or because of a bug (70 is the "internal software error" of sysexits.h)."""
PICTURES = 1 / 12
"""Seconds between two pictures for the desk."""
TWICE = 2.0
"""A second "cut" within this time, in seconds, sweeps every key."""
ASLEEP = 1.0
"""After a pause of its own longer than this, in seconds, the computer has slept: shorter ones are caught up with."""
BUSY = 10.0
"""Notes dropped because the computer was busy are told at most this often, in seconds."""
CUT = "cut"
FEET = 12
"""So many of the latest pedal notes are shown around the beat."""
TURNS = ("next", "back")
"""Nods that go from song to song."""
CHORES, CHORES_PLAYING = 0.02, 0.001
"""How long at a time, in seconds, chores may go on while nothing plays and while the band plays; then a slice more at most."""
CHORES_AGAIN, CHORES_BEFORE_A_NOTE = 0.005, 0.005
"""While the band plays: chores are taken up again after this time, and not so near before a note, in seconds."""

DIVISION_ROLES = {"melody": "Melody manual", "figure": "Figure manual", "pedal": "Pedal", "drums": "Drums"}
PART_ROLES = {
    "figure": "To the figure",
    "answer": "To the answer",
    "bass": "To the bass",
    "click": "To the click",
    "drummer": "To the drummer",
}
"""What a port is for, as the desk says it."""


class Band(Protocol):
    """What the runner needs of a performance."""

    def receive(self, event: Event) -> list[Action]: ...

    def due(self, now: float) -> list[Action]: ...

    def next_due(self) -> float | None: ...

    def view(self, now: float | None = None) -> View: ...

    def time_line(self) -> TimeLine: ...

    def off_the_beat(self, at: float) -> float | None: ...


class Take(Protocol):
    """What the runner needs of a take."""

    @property
    def path(self) -> Path: ...

    def event(self, event: Event) -> None: ...

    def action(self, action: Action) -> None: ...

    def wrong(self, text: str) -> None: ...

    def trouble(self) -> str: ...

    def close(self) -> None: ...


class Paints(Protocol):
    """What makes pictures."""

    def picture(self, view: View, around: Around) -> Picture: ...


class Heart(Protocol):
    """What the runner needs of the guardian's pipe."""

    @property
    def broken(self) -> bool: ...

    def beat(self, now: float) -> None: ...

    def rest(self) -> None: ...


class Coach(Protocol):
    """What the runner needs of somebody who listens to a rehearsal."""

    def heard(self, event: Event) -> None: ...

    def played(self, actions: Sequence[Action]) -> None: ...

    @property
    def over(self) -> bool:
        """The rehearsal has ended, and nothing is left to say."""

    def advice(self, now: float) -> Sequence[Event | Told]:
        """What is to be done or told by now; asked all the time."""


class Ears(Protocol):
    """What the runner needs of the ears."""

    def played(self, actions: Sequence[Action], now: float) -> None: ...

    def armed(self, now: float) -> None: ...

    def ahead(self, band: Any, now: float) -> None: ...


class Runner:
    """Plays one performance, or one after the other, until it is asked to leave."""

    def __init__(
        self,
        band: Band,
        timeline: Timeline,
        profile: Profile,
        interpreter: Interpreter,
        outlets: Outlets,
        *,
        take: Take | None = None,
        painter: Paints | None = None,
        publish: Callable[[Picture], object] | None = None,
        heart: Heart | None = None,
        every: float | None = None,
        watch: Watch | None = None,
        watched: Callable[[Iterable[Action]], object] | None = None,
        overheard: Callable[[bytes], object] | None = None,
        chores: Iterable[object] = (),
        clock: ClockOut | None = None,
        bench: BenchAtDesk | None = None,
        switch_unit: str = "change",
        ears: Ears | None = None,
        troubles: Callable[[], Iterable[str]] = tuple,
        coach: Coach | None = None,
        alone: bool = False,
        remarks: Callable[[float], Iterable[str]] = lambda now: (),
        programme: Programme | None = None,
        listen: Callable[[Route], Ears | None] = lambda route: None,
    ) -> None:
        """
        Args:
            band: the performance.
            timeline: time, and what arrives.
            profile, interpreter, outlets: the console.
            take: where it is written down.
            painter, publish: what makes pictures and what shows them.
            heart: beats for the guardian.
            every: look around at least this often, in seconds; None with a clock that jumps.
            watch: looks after the ports.
            watched: told of all actions, after they were played.
            overheard: told of every MIDI message, for the sound of an imagined player.
            chores: work in slices that are short enough to be done while playing.
            clock: the MIDI clock that is sent.
            bench: the bench check that a desk may ask for.
            switch_unit: how far the desk's cue moves.
            ears: what the player and the drummer hear besides the music.
            troubles: what has gone wrong with the sound since last asked.
            coach: listens to a rehearsal; then the pedal notes are shown around the beat.
            alone: nobody is there to leave: it is over when the coach has nothing more to say.
            remarks: what is to be told by now of an imagined player.
            programme: what can be played instead, between songs.
            listen: makes the ears of another song.
        """
        self._band, self._timeline, self._profile = band, timeline, profile
        self._interpreter, self._outlets = interpreter, outlets
        self._take, self._painter, self._publish, self._heart = take, painter, publish, heart
        self._every, self._watch, self._watched, self._overheard = every, watch, watched, overheard
        self._chores: Iterator[object] | None = iter(chores)
        self._clock = clock
        self._bench = bench or BenchAtDesk(profile, outlets)
        self._unit = switch_unit
        self._ears, self._troubles = ears, troubles
        self._coach, self._alone, self._remarks = coach, alone, remarks
        self._feet: deque[int] = deque(maxlen=FEET)
        self._programme, self._listen = programme, listen
        self._heard: deque[Heard] = deque(maxlen=HEARD_LINES)
        self._ports = _ports(profile) if watch is not None else {}
        self._away: set[str] = set()
        """Inputs that have gone."""
        self._hearing: Event | None = None
        self._shown: Picture | None = None
        self._paint_at = 0.0
        self._state = ""
        self._orphaned = self._leaving = False
        self._unguarded = False
        self._awake = 0.0
        """When the band last played what was due."""
        self._cut = float("-inf")
        self._dropped, self._told_busy = 0, float("-inf")

    # -- the loop -----------------------------------------------------------------------------------------------------

    def run(self, first: Sequence[Event] = (), *, notices: Sequence[str] = ()) -> int:
        """Play until asked to leave, or until a script is over and nothing more would happen. Returns the exit code.

        Args:
            first: what is asked to begin with.
            notices: what the player should know from the start.
        """
        gc.collect()
        gc.freeze()
        gc.disable()  # in the band its garbage is small, and a collection would be heard
        code = ENDED
        try:
            now = self._awake = self._timeline.now()
            self._look_after_ports(now)
            self._state = self._band.view().state
            for notice in notices:
                self._tell(notice, now, "caution")
            if self._ears is not None and self._state == READY:
                self._ears.armed(now)
            self._hear([replace(asked, at=now, heard=now) for asked in first], now)
            while not self._over():
                self._turn()
            self._outlets.release_all(self._timeline.now())
            if self._clock is not None:
                self._clock.stop()
            self._finish_sweep()
            self._paint(self._timeline.now())
        except Exception:
            self._went_wrong(traceback.format_exc())
            code = WENT_WRONG
        finally:
            gc.enable()
            gc.unfreeze()
        return code

    def leave(self) -> None:
        """End after this turn of the loop."""
        self._leaving = True

    def orphan(self) -> None:
        """Nobody watches any more: end after the fine, or at once where nothing has begun."""
        self._orphaned = True

    def _over(self) -> bool:
        if self._leaving or (self._orphaned and self._state in SILENT):
            return True
        if self._alone and self._coach is not None and self._coach.over and self._state == TACET:
            return True
        return self._timeline.over and self._band.next_due() is None and self._outlets.next_due() is None

    def _turn(self) -> None:
        until, sharp = self._until()
        arrived = self._timeline.wait(until, sharp=sharp)
        self._mind_sleep()
        for arrival in arrived:
            self._arrived(arrival)
        now = self._awake = self._timeline.now()
        self._heard_keys(self._interpreter.due(now), now)
        if said := self._bench.due(now):
            self._tell(said, now)
        self._play(self._band.due(now), now)
        self._outlets.due(now)
        if self._clock is not None:
            self._clock.due(now, self._band.time_line())
        if self._ears is not None:
            self._ears.ahead(self._band, now)
        self._look_around(now)

    def _mind_sleep(self) -> None:
        """Tell the band if the computer slept. A clock that jumps has its own reasons."""
        now = self._timeline.now()
        if self._every is not None and now - self._awake > self._every + ASLEEP:
            self._hear([Slept(at=self._awake, heard=now)], now)

    def _until(self) -> tuple[float | None, bool]:
        """When to wake at the latest, and whether that is for a note."""
        note = self._next_note()
        if self._every is None:
            return note, True
        look = self._timeline.now() + (self._every if self._chores is None else CHORES_AGAIN if self._playing else 0.0)
        return (note, True) if note is not None and note <= look else (look, False)

    def _next_note(self) -> float | None:
        parts = (self._band, self._outlets, self._interpreter, self._bench, self._clock)
        moments = (part.next_due() for part in parts if part is not None)
        return min((moment for moment in moments if moment is not None), default=None)

    @property
    def _playing(self) -> bool:
        return self._state not in SILENT or bool(self._outlets.sounding)

    # -- in -----------------------------------------------------------------------------------------------------------

    def _arrived(self, arrival: Arrival) -> None:
        heard = self._timeline.now()
        at = min(arrival.at, heard)
        if isinstance(arrival.what, Request):
            self._asked(arrival.what, at, heard)
            return
        self._heard_keys(self._interpreter.events(at, heard, arrival.port, arrival.what), heard)
        if self._overheard is not None:
            self._overheard(arrival.what)

    def _heard_keys(self, events: Sequence[Event], now: float) -> None:
        """Keys and switches: the band's, or those of a bench check that is being made. A key that comes up does so for both:
        the band may have heard it go down."""
        if self._bench.running:
            self._bench.hear(events, now)
            events = [event for event in events if isinstance(event, KeyUp)]
        self._hear(events, now)

    def _asked(self, request: Request, at: float, heard: float) -> None:
        """A desk asks something."""
        if request.ask == "leave":
            self.leave()
        elif request.ask == "cue":
            self._heard_keys([SwitchPressed(at=at, heard=heard, unit=self._unit)], heard)
        elif request.ask == "bench":
            if self._state in SILENT or request.name != BEGIN:
                self._bench.asked(request.name, self._ports.values(), heard)
            else:
                self._tell("a bench check is for before and after the song", heard)
        elif request.ask == "nod":
            self._hear([Nodded(at=at, heard=heard, nod=request.name, argument=request.argument)], heard)

    def _hear(self, events: Sequence[Event], now: float) -> None:
        for event in events:
            if isinstance(event, Nodded) and self._bench.running:  # a nod from the desk: the check is over
                self._bench.end(now)
            if isinstance(event, Nodded) and self._goes_on(event.nod, now):
                continue
            self._hearing = event
            if self._coach is not None:
                self._coach.heard(event)
                self._show_foot(event)
            if self._heart is not None and isinstance(event, Nodded) and not self._playing:
                self._heart.rest()  # a nod that needs another key right now may take longer than a beat
            actions = self._band.receive(event)
            self._hearing = None
            self._play(actions, now, event)
            if isinstance(event, Nodded) and event.nod == CUT:
                self._outlets.release_all(now)  # what waits for the player's own key, too
                if event.at - self._cut <= TWICE:
                    self._outlets.sweep(now)
                    self._tell("every key of our divisions is released", now)
                self._cut = event.at

    # -- from song to song --------------------------------------------------------------------------------------------

    def _goes_on(self, nod: str, now: float) -> bool:
        """Whether a nod was for the programme alone. Between songs, while nothing sounds, it may bring up another one."""
        if self._programme is None or self._playing:
            return False
        if self._heart is not None:
            self._heart.rest()
        found = self._programme.nod(nod, now)
        if found is None:
            return False
        if isinstance(found, str):
            self._tell(found, now)
            return True
        self._take_up(found, now)
        return nod in TURNS

    def _take_up_edits(self, now: float) -> None:
        """A chart that was edited comes up while the band is tacet, and never else."""
        if self._programme is None or self._state != TACET or self._playing:
            return
        song, told = self._programme.edited(now)
        if song is not None:
            self._take_up(song, now)
        for text in told:
            self._tell(text, now, "caution")

    def _take_up(self, song: Song, now: float) -> None:
        """Another song, deaf until it is asked, which is told how the console stands. The garbage of the one before goes now,
        while nothing can be heard."""
        if self._heart is not None:
            self._heart.rest()
        self._band, self._painter, self._take = song.band, song.painter, song.take
        self._chores = iter(song.chores)
        self._ears = None if song.route is None else self._listen(song.route)
        self._state = self._band.view().state
        self._heard.clear()
        lost = [DivisionLost(at=now, heard=now, division=name) for port in self._away for name in self._divisions(port)]
        self._hear([*lost, *self._interpreter.shoe_stands(now)], now)
        for notice in song.notices:
            self._tell(notice, now, "caution")
        gc.unfreeze()
        gc.collect()
        gc.freeze()

    # -- out ----------------------------------------------------------------------------------------------------------

    def _play(self, actions: Sequence[Action], now: float, event: Event | None = None) -> None:
        """Send the notes first; the rest can wait."""
        for action in actions:
            if isinstance(action, NoteOn | NoteOff):
                self._outlets.play(action, now)
        if self._ears is not None and actions:
            self._ears.played(actions, now)
        if self._take is not None:
            if event is not None:
                self._take.event(event)
            for action in actions:
                self._take.action(action)
        for action in actions:
            if isinstance(action, StateIs):
                self._state = action.state
            elif isinstance(action, Told):
                self._heard.append(Heard(at=action.at, text=action.text, kind=action.kind))
        if self._coach is not None and actions:
            self._coach.played(actions)
        if self._watched is not None and actions:
            self._watched(actions)

    def _tell(self, text: str, now: float, kind: str = "note") -> None:
        """Tell the player something that the core does not know."""
        self._play([Told(at=now, text=text, kind=kind)], now)

    def _show_foot(self, event: Event) -> None:
        """Where a pedal note fell, before it changes anything."""
        if isinstance(event, KeyDown) and event.division == PEDAL:
            off = self._band.off_the_beat(event.at)
            if off is not None:
                self._feet.append(round(1000 * off))

    # -- around -------------------------------------------------------------------------------------------------------

    def _look_around(self, now: float) -> None:
        """Whatever is no music."""
        if self._heart is not None:
            self._heart.beat(now)
            if self._heart.broken and not self._unguarded:
                self._unguarded = True
                self._tell(
                    "the guardian has gone: the music goes on, but nobody would end it if the band died", now, "caution"
                )
        self._look_after_ports(now)
        self._take_up_edits(now)
        if self._take is not None and (trouble := self._take.trouble()):
            self._tell(trouble, now, "caution")
        if self._coach is not None:
            for advice in self._coach.advice(now):
                if isinstance(advice, Told):
                    self._play([advice], now)
                else:
                    self._hear([advice], now)
        for text in self._remarks(now):
            self._tell(text, now)
        for text in self._troubles():
            self._tell(text, now, "caution")
        if self._outlets.dropped != self._dropped and now - self._told_busy > BUSY:
            missing, self._told_busy = self._outlets.dropped - self._dropped, now
            self._dropped = self._outlets.dropped
            self._tell(f"the computer was busy: too late and left out: {missing}", now, "caution")
        self._do_chores()
        if now >= self._paint_at:
            self._paint_at = now + PICTURES
            self._paint(now)

    def _do_chores(self) -> None:
        """Some slices of the chores, where there is time for them."""
        if self._chores is None:
            return
        begun = self._timeline.now()
        note = self._next_note()
        if self._playing and note is not None and note - begun < CHORES_BEFORE_A_NOTE:
            return
        until = begun + (CHORES_PLAYING if self._playing else CHORES)
        try:
            next(self._chores)
            while begun < self._timeline.now() < until:
                next(self._chores)
        except StopIteration:
            self._chores = None

    def _look_after_ports(self, now: float) -> None:
        if self._watch is None:
            return
        for news in self._watch.look(now):
            self._port(news, now)

    def _port(self, news: News, now: float) -> None:
        """A port went away or came back."""
        health = self._ports[news.wanted, news.is_input]
        text = "open" if news.well else news.text
        self._ports[news.wanted, news.is_input] = replace(health, well=news.well, text=text)
        self._tell(news.text, now, "note" if news.well else "caution")
        if not news.is_input or news.well is not (news.wanted in self._away):
            return
        if news.well:
            self._away.discard(news.wanted)
        else:
            self._away.add(news.wanted)
            self._interpreter.lost(news.wanted)
        event = DivisionBack if news.well else DivisionLost
        self._hear([event(at=now, heard=now, division=name) for name in self._divisions(news.wanted)], now)

    def _divisions(self, port: str) -> list[str]:
        """The divisions that are heard by a port."""
        return [name for name, division in self._profile.divisions.items() if division.port == port]

    def _paint(self, now: float) -> None:
        if self._painter is None or self._publish is None:
            return
        take = str(self._take.path) if self._take is not None else ""
        around = Around(
            heard=tuple(self._heard),
            ports=tuple(self._ports.values()),
            take=take,
            feet=None if self._coach is None else tuple(self._feet),
            bench=self._bench.shown(),
        )
        picture = self._painter.picture(self._band.view(now), around)
        if self._shown is None or replace(picture, at=self._shown.at) != self._shown:
            self._shown = picture
            self._publish(picture)

    # -- the end ------------------------------------------------------------------------------------------------------

    def _finish_sweep(self) -> None:
        while (moment := self._outlets.next_due()) is not None:
            self._timeline.wait(moment, sharp=True)
            self._outlets.due(self._timeline.now())
            if self._heart is not None:
                self._heart.beat(self._timeline.now())

    def _went_wrong(self, story: str) -> None:
        """A bug: silence, tell, keep the take. Nothing here asks the core anything."""
        now = self._timeline.now()
        self._outlets.release_all(now)
        if self._take is not None:
            if self._hearing is not None:
                self._take.event(self._hearing)
            self._take.wrong(story)
        text = "something went wrong inside the band: it stops here, and the take keeps the story"
        self._heard.append(Heard(at=now, text=text, kind="caution"))
        if self._shown is not None and self._publish is not None:
            self._publish(replace(self._shown, at=now, heard=tuple(self._heard), sounding=0))


def _ports(profile: Profile) -> dict[tuple[str, bool], PortHealth]:
    """The ports of a profile by name and direction (True: we hear it), none of them open yet."""
    roles: dict[tuple[str, bool], list[str]] = {}
    for name, division in profile.divisions.items():
        roles.setdefault((division.port, True), []).append(DIVISION_ROLES[name])
    if profile.clock is not None:
        roles.setdefault((profile.clock.hears, True), []).append("Clock in")
        roles.setdefault((profile.clock.sends, False), []).append("Clock out")
    for port in profile.input_ports:
        roles.setdefault((port, True), ["Switches"])
    for name, part in profile.parts.items():
        roles.setdefault((part.port, False), []).append(PART_ROLES[name])
    return {
        key: PortHealth(role=", ".join(names), name=key[0], well=False, text="opening")
        for key, names in roles.items()
        if key[0] not in ("", SCRIPT)
    }
