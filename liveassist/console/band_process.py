"""The band as a process: ``python -m liveassist.console.band_process``, a child of the guardian.

It reads its spec as the first line of standard input, makes everything ready (route, arrangement, ports, take, link), writes
the address of its link into the spec's *letter*, and plays. Its standard output is the pipe to the guardian (see
``heartbeat``). TERM, or the line "end", ends it properly: notes off, take closed, bye; the end of standard input lets it go on
to the fine.

The letter is one JSON object: ``{"host": ..., "port": ...}``, or ``{"wrong": "..."}`` with what the player can mend.
"""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import threading
import time
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from dataclasses import asdict, replace
from datetime import date, datetime
from functools import partial
from pathlib import Path
from queue import SimpleQueue
from typing import Any

from charts.errors import ChartError
from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from charts.whole import write_whole
from liveassist.arranging.arrangement import CLICK
from liveassist.arranging.feels import feels_from
from liveassist.band.events import Action, Event, Nodded, TempoAsked
from liveassist.band.performance import Performance
from liveassist.band.song import arrangements
from liveassist.console.at_work import AtWork, put_up
from liveassist.console.bench import Line, save
from liveassist.console.bench_at_desk import BenchAtDesk
from liveassist.console.clock_out import ClockOut
from liveassist.console.coaching import Coach
from liveassist.console.edits import Edit, Edits
from liveassist.console.guardian import lines_from
from liveassist.console.hearing import Interpreter
from liveassist.console.heartbeat import BEAT, Heartbeat
from liveassist.console.instrument import DRUMMER, SCRIPT, Profile, cautions
from liveassist.console.laptop import looks
from liveassist.console.outlets import Outlets
from liveassist.console.picture import Painter
from liveassist.console.ports import midi_binding
from liveassist.console.profile import read_profile
from liveassist.console.programme import ItemPainter, LateTake, Programme, Rest, Song
from liveassist.console.runner import Runner
from liveassist.console.spec import LAST_PLACE, BandSpec, Piece, read_spec, tell_item
from liveassist.console.take_names import takes_folder
from liveassist.console.takes import Header, TakeWriter
from liveassist.console.timeline import Arrival, RealTimeline
from liveassist.console.watching import Outlet, Watch
from liveassist.ears.dose import ListeningTime
from liveassist.ears.in_ears import InEars
from liveassist.ears.opening import in_ears, open_sounds, sound_cautions
from liveassist.errors import PlayerError
from liveassist.link import LinkServer, new_token
from liveassist.players.companion import Companion
from liveassist.rehearsal.ladder import ladder_from
from liveassist.settings import Layered, Settings

LIFTS = (1, -1, 2, -2, 3, -3, 4, -4, 5, -5, 6, -6)
"""Keys made ready besides the written one, in half steps from it, the likeliest first: in slices, before and while playing."""
SWITCH_INTERVAL = 0.0005
"""Seconds after which another thread of this process (link, take) gives way to the one that plays."""
BAD_INPUT = 2
Lines = SimpleQueue[str]
"""Lines of standard input, "" at its end."""


def write_letter(path: str, content: Mapping[str, Any]) -> None:
    """Write the letter, whole or not at all."""
    write_whole(Path(path), json.dumps(content))


def make_ready(spec: BandSpec, lines: Lines, heart: Heartbeat, leaving: ExitStack) -> Callable[[], int]:
    """Everything that a song needs.

    Args:
        spec: the song and the console.
        lines: what comes on standard input after the spec.
        heart: the pipe to the guardian.
        leaving: takes what has to be closed in the end.
    Returns:
        what plays it, and the runner's exit code from that.
    Raises:
        PlayerError, ChartError: what the player can mend.
    """
    settings = Settings(**spec.settings)
    profile = read_profile(spec.profile, "console profile")
    programme = None
    if spec.pieces:
        edits = Edits(spec.pieces, spec.service, spec.service_name) if spec.service else None
        programme = _programme(spec, profile, edits.news if edits else tuple)
        if edits is not None:
            leaving.callback(edits.end)
            edits.begin()
    song = _song(spec, profile) if programme is None else programme.song
    title = song.title if programme is None else spec.title

    played = [(at, bytes.fromhex(message)) for at, message in spec.script]
    timeline = RealTimeline(_arrivals(played), ends=spec.ends)
    companion = None
    if spec.begun is not None and isinstance(song.band, Performance):
        companion = Companion(song.band, settings, played, spec.begun, nods=spec.nods)

    def watched(actions: Iterable[Action]) -> None:
        """An imagined player sees what the band does."""
        if companion is not None and (other := companion.went(actions, timeline.now())) is not None:
            timeline.instead(SCRIPT, other[0], _arrivals(other[1]))

    watch = _watch(profile, timeline, heart)
    interpreter = Interpreter(profile, switch_unit=settings.switch_unit, shoe=settings.shoe)
    sounds = open_sounds(settings, spec.sound, demo=bool(spec.script))
    for output in sounds.outputs:
        leaving.callback(output.close)
    sound = sounds.organ
    listening = ListeningTime()
    if sounds.player is not None and settings.ear_level:
        leaving.callback(_count_listening, listening, settings.ear_level, time.monotonic())

    def listen(route: Route) -> InEars | None:
        """What is heard in the ears of a song."""
        return in_ears(sounds, settings, route, timeline.on_the_clock) if sounds.player or sounds.drummer else None

    senders = {} if watch is None else {name: watch.play(name) for name in profile.output_ports if name}
    clock = _clock(profile, watch, senders, heart)
    outlets = Outlets(
        profile,
        senders,
        guard=heart,
        sent=interpreter.sent,
        sound=sound,
        held=interpreter.holds,
        offsets={CLICK: settings.click_offset, DRUMMER: settings.drummer_offset},
    )
    if programme is not None:
        leaving.callback(programme.close)
    elif song.take is not None:
        leaving.callback(song.take.close)
    look = new_token()
    link = LinkServer(spec.token, timeline.asked, look_token=look)
    leaving.callback(link.close)
    host, port = link.address
    leaving.callback(put_up(AtWork(title=title, ports=spec.ports, host=host, port=port, look=look)))
    if watch is not None:
        leaving.callback(watch.close)
    runner = Runner(
        song.band,
        timeline,
        profile,
        interpreter,
        outlets,
        take=song.take,
        painter=song.painter,
        publish=link.publish,
        heart=heart,
        every=BEAT,
        watch=watch,
        watched=watched,
        remarks=(lambda now: ()) if companion is None else companion.said,
        overheard=sound.send if sound is not None and spec.script else None,
        clock=clock,
        bench=BenchAtDesk(profile, outlets, laptop=looks, keep=partial(_keep, spec.take, profile.name)),
        chores=song.chores,
        switch_unit=settings.switch_unit,
        programme=programme,
        ears=None if song.route is None else listen(song.route),
        listen=listen,
        troubles=sounds.troubles,
        coach=_coach(spec, song.route) if spec.rehearsed and song.route is not None else None,
        alone=spec.alone,
    )
    signal.signal(signal.SIGTERM, lambda number, frame: runner.leave())
    leaving.callback(signal.signal, signal.SIGTERM, signal.SIG_IGN)  # which lets go of the runner and its ports
    threading.Thread(target=_obey, args=(runner, lines), daemon=True).start()

    def play() -> int:
        host, port = link.address
        write_letter(spec.letter, {"host": host, "port": port})
        timeline.begin()
        remarks = cautions(profile, bass=settings.bass and sound is None, laptop=sound is not None)
        told = (*remarks, *sound_cautions(settings, sounds, listening), *song.notices, *spec.notices)
        return runner.run(first_asked(spec), notices=told)

    return play


def first_asked(spec: BandSpec) -> list[Event]:
    """What is asked of the band before anything is played."""
    tempo: list[Event] = [TempoAsked(at=0.0, heard=0.0, bpm=spec.tempo)] if spec.tempo else []
    return [*tempo, *(Nodded(at=0.0, heard=0.0, nod=nod) for nod in spec.nods)]


def _arrivals(messages: Iterable[tuple[float, bytes]]) -> Iterator[Arrival]:
    """The messages of an imagined player."""
    return (Arrival(at, SCRIPT, message) for at, message in messages)


def _clock(profile: Profile, watch: Watch | None, senders: Mapping[str, Outlet], heart: Heartbeat) -> ClockOut | None:
    """The clock for the port that the profile names, if it names one."""
    port = profile.clock.sends if profile.clock is not None else ""
    if not port or watch is None:
        return None
    return ClockOut(senders[port] if port in senders else watch.play(port), heart)


def _watch(profile: Profile, timeline: RealTimeline, heart: Heartbeat) -> Watch | None:
    """A watch over the profile's ports, hearing its inputs; None where it names none."""
    heard = [name for name in profile.input_ports if name not in ("", SCRIPT)]
    sends = profile.clock.sends if profile.clock is not None else ""
    if not any((*heard, *profile.output_ports, sends)):
        return None
    watch = Watch(midi_binding(), between=heart.still_here)
    for name in heard:
        watch.hear(name, timeline.midi(name))
    return watch


def _count_listening(listening: ListeningTime, level: float, begun: float) -> None:
    """Add what has been listened to the week."""
    listening.add(date.today(), level, time.monotonic() - begun)


def _coach(spec: BandSpec, route: Route) -> Coach:
    """Who listens to the rehearsal of a song."""
    return Coach(route, ladder_from(spec.ladder) if spec.ladder else None)


def _song(spec: BandSpec, profile: Profile) -> Song:
    """The song of a spec, ready to be played."""
    piece = Piece(
        title="",
        chart=spec.chart,
        chart_name=spec.chart_name,
        settings=spec.settings,
        origin=spec.origin,
        feels=spec.feels,
    )
    song = _ready(piece, profile)
    if not spec.take:
        return song
    try:
        return replace(song, take=_take(piece, spec.profile, song.title, spec.take))
    except PlayerError as error:
        if spec.take_needed:
            raise
        return replace(song, notices=(f"no take is written: {error}",))


def _programme(spec: BandSpec, profile: Profile, edits: Callable[[], Sequence[Edit]] = tuple) -> Programme:
    """The items of a service, the first of them up."""
    load = partial(_item, profile, spec.profile)
    return Programme(
        spec.pieces, load, spec.up, load(_from_here(spec), spec.up), edits, partial(tell_item, spec.letter)
    )


def _from_here(spec: BandSpec) -> tuple[Piece, ...]:
    """The items with what holds for the first this once."""
    piece = spec.pieces[spec.up]
    origin = {**piece.origin, **dict.fromkeys(spec.here, LAST_PLACE)}
    first = replace(piece, settings={**piece.settings, **spec.here}, origin=origin)
    return (*spec.pieces[: spec.up], first, *spec.pieces[spec.up + 1 :])


def _item(profile: Profile, profile_text: str, pieces: Sequence[Piece], number: int) -> Song:
    """An item of a service, ready to be played, or to be waited through."""
    piece = pieces[number]
    if not piece.chart:
        painter = ItemPainter(pieces, number, profile.page_turner)
        return Song(title=piece.title, band=Rest(piece.title), painter=painter)
    song = _ready(piece, profile)
    make = partial(_take, piece, profile_text, piece.title)
    return replace(
        song,
        painter=ItemPainter(pieces, number, profile.page_turner, song.painter),
        take=LateTake(piece.take, make) if piece.take else None,
        notices=piece.notices,
    )


def _ready(piece: Piece, profile: Profile) -> Song:
    """A song at its beginning, without a take."""
    layered = Layered(Settings(**piece.settings), piece.origin)
    settings = layered.settings
    route = unfold(read_chart(piece.chart, piece.chart_name))
    arrange_at = arrangements(route, settings, feels_from(piece.feels))
    performance = Performance(route, arrange_at, settings, random.Random(settings.seed))
    return Song(
        title=route.chart.title,
        band=performance,
        route=route,
        painter=Painter(route, layered, profile.page_turner),
        chores=arrange_at.slices(LIFTS, wanted=lambda: performance.lift_to_come),
    )


def _take(piece: Piece, profile: str, title: str, path: str) -> TakeWriter:
    """The take of a song, begun. Raises PlayerError where it cannot be."""
    from importlib.metadata import version

    header = Header(
        program=version("liveassist"),
        started=datetime.now().astimezone().isoformat(timespec="seconds"),
        title=title,
        chart=piece.chart,
        chart_name=piece.chart_name,
        profile=profile,
        settings=asdict(Settings(**piece.settings)),
        feels=piece.feels,
        seed=Settings(**piece.settings).seed,
    )
    return TakeWriter(path, header)


def _keep(take: str, console: str, lines: Sequence[Line]) -> str:
    """Keep what a bench check found beside the take, or where takes are kept."""
    return save(Path(take).parent if take else takes_folder(), lines, console, datetime.now().astimezone())


def _obey(runner: Runner, lines: Lines) -> None:
    """What comes on standard input after the spec."""
    while line := lines.get():
        if line.strip() == "end":
            runner.leave()
    runner.orphan()


def main() -> int:
    """Read the spec, make ready, play."""
    heart = Heartbeat.over_stdout()
    sys.setswitchinterval(SWITCH_INTERVAL)
    lines: Lines = SimpleQueue()
    threading.Thread(target=lines_from, args=(partial(os.read, 0), lines.put), daemon=True).start()
    spec = read_spec(lines.get())
    with ExitStack() as leaving:
        try:
            play = make_ready(spec, lines, heart, leaving)
        except (PlayerError, ChartError) as error:
            write_letter(spec.letter, {"wrong": str(error)})
            heart.beat(time.monotonic())
            heart.bye()
            return BAD_INPUT
        code = play()
        heart.bye()
    return code


if __name__ == "__main__":
    sys.exit(main())
