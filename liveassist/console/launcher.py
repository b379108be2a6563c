"""The launcher: what ``liveassist play`` runs. It starts the guardian, the guardian starts the band, and the desk is shown in
front.

Everything that sounds lives behind the guardian, so whatever happens to this process or its terminal, the music goes on to its
fine and no note stays on. How the desk ends says what the player wants: the music ends when the player leaves; a band that
had stopped is started again at its last place, silent until the nod ``in``; a desk that fell over is offered again while the
band plays on.
"""

from __future__ import annotations

import os
import shlex
import signal
import subprocess
import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field, fields, replace
from pathlib import Path
from typing import Any, NoReturn

from charts.chart import Chart
from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from charts.writing import write_chart
from liveassist.console.at_work import refuse_a_second_band
from liveassist.console.ensemble import Address, Ensemble
from liveassist.console.going_on import LeftOff, left_off
from liveassist.console.instrument import Profile
from liveassist.console.ports import midi_binding
from liveassist.console.profile import write_profile
from liveassist.console.settling import by_laptop, ports_played, scripted, settled
from liveassist.console.spec import LAST_PLACE, BandSpec, Item, Piece, item_up
from liveassist.console.take_names import next_name, take_path, takes_of
from liveassist.console.takes import read_take
from liveassist.errors import PlayerError
from liveassist.link import TOKEN_VARIABLE, new_token
from liveassist.players.begun import Begun
from liveassist.settings import Layered, Settings
from liveassist.terminal import hung_up

DESK = [sys.executable, "-m", "liveassist.desk"]
DESK_LEFT, DESK_RESTART, DESK_REFUSED = 0, 10, 11
"""How the desk's process ends when it means something: the ``EXIT_`` numbers of ``liveassist.desk``."""
AFTER_A_DESK = "\x1b[?1049l\x1b[?25h\x1b[?1000l\x1b[?1003l\x1b[?1006l\x1b[?2004l\x1b[<u\x1b[0m"
"""What a killed desk owes the terminal: main screen, cursor, no mouse, no bracketed paste, plain keys and colours
(xterm's control sequences)."""
NO_TERMINAL = "There is no terminal here to show the desk on: the band plays without it."
NO_TERMINAL_FOR_A_DEMO = (
    "There is no terminal here to show the desk on. liveassist demo --headless tells the demo as text, at once."
)
STANDARD_OUTPUT = 1
WELL, WRONG = 0, 1
LISTEN = 0.5
"""Seconds between two looks at the guardian's news."""
DYING = 2.0
"""How long a band that the desk has lost may take to end, in seconds."""
WHY = {"died": "died", "hung": "did not answer any more and was ended"}


@dataclass(frozen=True, kw_only=True, slots=True)
class Session:
    """One song to be played."""

    chart: Chart
    profile: Profile
    layered: Layered
    take: str | None = None
    """Where the take is written; None: the takes folder; empty: nowhere."""
    sound: str | None = None
    """Name of a sound device."""
    feels: Mapping[str, str] = field(default_factory=dict)
    """Texts of the player's own feels, by the names of their files."""
    notices: tuple[str, ...] = ()
    """What the player should know from the start."""
    script: tuple[tuple[float, bytes], ...] = ()
    """What an imagined player plays on the plain console, seconds and MIDI bytes. Then no port is heard, and none needed."""
    begun: Begun | None = None
    """Where the script goes, for a player who goes along with nods; None: it is played as it stands."""
    nods: tuple[str, ...] = ()
    """Nods to begin with."""
    chart_path: str = ""
    """The chart as the player named it, for the closing line; empty: none is said."""
    rehearsed: bool = False
    """A coach listens; without a desk the music is over with the fine."""
    ladder: str = ""
    """The tempo ladder of a rehearsal, as ``60:80:4``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Programmed(Item):
    """An item as the launcher has it."""

    chart: Chart | None = None
    """The chart of the day; None while the band is tacet."""
    layered: Layered | None = None


@dataclass(frozen=True, kw_only=True, slots=True)
class ServiceSession:
    """A whole service to be played."""

    title: str
    items: tuple[Programmed, ...]
    profile: Profile
    layered: Layered
    """What holds for all of it."""
    sound: str | None = None
    text: str = ""
    """Of the service's file."""
    name: str = ""
    """Of that file."""


class _Ended(BaseException):
    """TERM was received."""


def run(session: Session, *, desk: bool = True) -> int:
    """Play a song until the player leaves.

    Args:
        session: the song.
        desk: show the desk, where there is a terminal; else play until Ctrl-C.
    Returns:
        the exit code: 0 when the player ended it, 1 when the band ended by itself because something was wrong.
    Raises:
        PlayerError: when it cannot be played as it stands.
    """
    on_screen = _on_screen(desk)
    profile, ports = _console(session)
    refuse_a_second_band(ports)
    session = replace(session, profile=profile)
    take = take_path(session.chart.title) if session.take is None else session.take
    if desk and not on_screen:
        print(NO_TERMINAL_FOR_A_DEMO if session.script else NO_TERMINAL, flush=True)

    def spec(letter: str) -> BandSpec:
        made = replace(band_spec(session, take, letter, new_token()), ports=ports)
        return replace(made, ends=bool(session.script) and not on_screen, alone=session.rehearsed and not on_screen)

    route = unfold(session.chart)
    with _closing_lines([(session.chart_path, take)]):
        return _play(profile, spec, lambda last: again(last, route), on_screen=on_screen)


def run_service(session: ServiceSession, *, desk: bool = True) -> int:
    """Play a service until the player leaves. As ``run``."""
    on_screen = _on_screen(desk)
    profile, ports = _connected(session.profile, session.layered.settings, session.sound)
    refuse_a_second_band(ports)
    session = replace(session, profile=profile)
    if desk and not on_screen:
        print(NO_TERMINAL, flush=True)

    def spec(letter: str) -> BandSpec:
        return replace(service_spec(session, letter, new_token()), ports=ports)

    with _closing_lines([(item.path, item.take) for item in session.items]):
        return _play(profile, spec, service_again, on_screen=on_screen)


def _on_screen(desk: bool) -> bool:
    return desk and sys.stdin.isatty() and sys.stdout.isatty()


def _play(
    profile: Profile,
    make: Callable[[str], BandSpec],
    going_on: Callable[[BandSpec], BandSpec],
    *,
    on_screen: bool,
) -> int:
    """Play until the player leaves.

    Args:
        profile: the console as it is now.
        make: the spec, with its letter.
        going_on: the spec for another band that goes on where one has stopped.
        on_screen: show the desk.
    """
    with _term_ends(), Ensemble(profile) as ensemble:
        spec = make(ensemble.letter)
        try:
            address = ensemble.start(spec)
            if on_screen:
                return _with_desk(ensemble, spec, going_on, address)
            return _without_desk(ensemble, spec)
        except (KeyboardInterrupt, _Ended):
            return WELL
        except EOFError:  # the terminal has gone: the music goes on to its fine
            ensemble.let_go()
            return WELL
        except OSError:  # likewise, where something was to be said
            if not hung_up(STANDARD_OUTPUT):
                raise
            ensemble.let_go()
            return WELL


def _console(session: Session) -> tuple[Profile, tuple[str, ...]]:
    """The console as it is now, and the full names of the ports that will be played."""
    if session.script:
        profile = scripted(session.profile, bass=session.layered.settings.bass)
        return profile, ports_played(profile, midi_binding()) if any(profile.output_ports) else ()
    return _connected(session.profile, session.layered.settings, session.sound)


def _connected(profile: Profile, settings: Settings, sound: str | None) -> tuple[Profile, tuple[str, ...]]:
    """A console with what is plugged in now, and the full names of the ports that will be played."""
    if sound:
        profile = by_laptop(profile, settings)
        if not profile.input_ports and not profile.output_ports:
            return profile, ()
    binding = midi_binding()
    profile = settled(profile, settings, binding)
    return profile, ports_played(profile, binding)


def band_spec(session: Session, take: str, letter: str, token: str) -> BandSpec:
    return BandSpec(
        chart=session.chart.text or write_chart(session.chart),
        chart_name=session.chart.source,
        settings=asdict(session.layered.settings),
        origin=dict(session.layered.origin),
        profile=write_profile(session.profile),
        take=take,
        take_needed=bool(session.take),
        letter=letter,
        token=token,
        script=tuple((at, message.hex()) for at, message in session.script),
        begun=session.begun,
        sound=session.sound or "",
        feels=dict(session.feels),
        notices=session.notices,
        nods=session.nods,
        rehearsed=session.rehearsed,
        ladder=session.ladder,
    )


def service_spec(session: ServiceSession, letter: str, token: str) -> BandSpec:
    return BandSpec(
        chart="",
        title=session.title,
        service=session.text,
        service_name=session.name,
        settings=asdict(session.layered.settings),
        origin=dict(session.layered.origin),
        profile=write_profile(session.profile),
        letter=letter,
        token=token,
        sound=session.sound or "",
        pieces=tuple(map(_piece, session.items)),
    )


def _piece(item: Programmed) -> Piece:
    shared = {each.name: getattr(item, each.name) for each in fields(Item)} | {"feels": dict(item.feels)}
    if item.chart is None or item.layered is None:
        return Piece(**shared)
    return Piece(
        **shared,
        chart=item.chart.text or write_chart(item.chart),
        chart_name=item.chart.source,
        settings=asdict(item.layered.settings),
        origin=dict(item.layered.origin),
    )


# -- going on -------------------------------------------------------------------------------------------------------


def again(spec: BandSpec, route: Route) -> BandSpec:
    """The spec for another band that goes on where the last one stopped, silent until the nod ``in``."""
    if spec.script:  # an imagined player begins again
        return replace(spec, take=next_name(spec.take))
    left = left_off(spec.take, route)
    if spec.ladder:  # which begins with its own tempo
        left = replace(left, home=0.0, tempo=0.0)
    here = _here(left, spec.settings)
    settings, origin = {**spec.settings, **here}, {**spec.origin, **dict.fromkeys(here, LAST_PLACE)}
    take = next_name(spec.take)
    return replace(
        spec, settings=settings, origin=origin, take=take, take_needed=False, nods=left.nods, tempo=left.tempo
    )


def _here(left: LeftOff, settings: Mapping[str, Any]) -> dict[str, Any]:
    """The settings that make a band begin where another left off, silent until the nod ``in``."""
    here: dict[str, Any] = {"out": True, "armed": True}
    if left.bar is not None:
        here["from_bar"] = left.bar
    if left.home not in (0.0, settings.get("tempo")):
        here["tempo"] = left.home
    if left.fullness not in (None, settings.get("fullness")):
        here["fullness"] = left.fullness
    return here


def service_again(spec: BandSpec) -> BandSpec:
    """The spec for another band that goes on with the item that was up: where it stopped, if that is the song played last;
    else as an item that comes up, deaf until it is asked."""
    up = item_up(spec.letter, spec.up)
    takes = [(latest, number) for number, piece in enumerate(spec.pieces) if (latest := _latest(piece.take))]
    take, last = max(takes, key=lambda found: found[0].stat().st_mtime, default=(Path(), None))
    if last != up:
        return replace(spec, up=up, here={}, nods=(), tempo=0.0)
    piece = _as_played(spec.pieces[up], str(take))
    left = left_off(str(take), unfold(read_chart(piece.chart, piece.chart_name)))
    pieces = (*spec.pieces[:up], piece, *spec.pieces[up + 1 :])
    here = _here(left, piece.settings)
    return replace(spec, pieces=pieces, up=up, here=here, nods=left.nods, tempo=left.tempo)


def _as_played(piece: Piece, take: str) -> Piece:
    """An item with the chart that its take keeps: it may have been edited since the service began."""
    try:
        chart = read_take(take).header.chart
    except PlayerError:
        return piece
    return replace(piece, chart=chart or piece.chart)


def _latest(take: str) -> Path | None:
    """The last of the takes written of a song."""
    return next(iter(reversed([*takes_of(take)])), None)


# -- with the desk --------------------------------------------------------------------------------------------------


def _with_desk(ensemble: Ensemble, spec: BandSpec, going_on: Callable[[BandSpec], BandSpec], address: Address) -> int:
    terminal = Terminal()
    while True:
        code = _desk(terminal, address, spec.token)
        for told in _what_happened(ensemble):
            print(told)
        if code in (DESK_LEFT, DESK_REFUSED):
            return WELL
        if code != DESK_RESTART:
            if not _desk_again():
                return WELL
        elif ensemble.has_ended(within=DYING):
            spec = going_on(spec)
            address = ensemble.start(spec)


def _desk(terminal: Terminal, address: Address, token: str) -> int:
    """Show the desk until its process ends. Ctrl-C is a key of the desk's."""
    before = signal.signal(signal.SIGINT, lambda number, frame: None)
    code = None
    try:
        environment = {**os.environ, TOKEN_VARIABLE: token}
        code = subprocess.run([*DESK, address[0], str(address[1])], env=environment, check=False).returncode
        return code
    finally:
        signal.signal(signal.SIGINT, before)
        if code not in (DESK_LEFT, DESK_RESTART, DESK_REFUSED):
            terminal.restore()


def _desk_again() -> bool:
    """Ask what to do about a desk that fell over."""
    print("The desk fell over; the band plays on. Enter opens the desk again, q and Enter ends the music.")
    return input().strip().casefold() not in ("q", "quit")


def _what_happened(ensemble: Ensemble) -> Iterator[str]:
    """The guardian's news that a player wants to read, as far as there are any."""
    while (told := ensemble.news()) is not None:
        text = in_words(told)
        if text:
            yield text
            if told["kind"] == "ended":
                yield from filter(None, [ensemble.story()])


def in_words(told: Mapping[str, Any]) -> str:
    """The guardian's news in words; empty where all is as it should be."""
    match told:
        case {"kind": "port" | "wrong", "text": text} if not told.get("well"):
            return str(text)
        case {"kind": "silenced", "why": "died" | "hung" as why, "notes": notes}:
            return f"the band {WHY[why]} with keys down ({notes}): the organ has been silenced"
        case {"kind": "ended", "why": "died" | "hung" as why}:
            return f"the band {WHY[why]}"
        case {"kind": "ended", "code": code} if code:
            return f"the band ended, because something was wrong inside it (code {code})"
    return ""


class Terminal:
    """The terminal as it was before a desk, to be restored after one that was killed."""

    def __init__(self) -> None:
        self._kept: Any = None
        if sys.platform != "win32" and os.isatty(0):
            import termios

            self._kept = termios.tcgetattr(0)

    def restore(self) -> None:
        """Make the terminal what it was."""
        if self._kept is None:
            return
        import termios

        with suppress(termios.error):  # it has gone: the next word to the player tells
            termios.tcsetattr(0, termios.TCSADRAIN, self._kept)
        sys.stdout.write(AFTER_A_DESK)
        sys.stdout.flush()


# -- without it -----------------------------------------------------------------------------------------------------


def _without_desk(ensemble: Ensemble, spec: BandSpec) -> int:
    """Play until Ctrl-C, or until the band has ended."""
    print(f"The band is ready. Ctrl-C ends it.{f' Take: {spec.take}' if spec.take else ''}", flush=True)
    while ensemble.playing:
        told = ensemble.news(LISTEN)
        text = in_words(told) if told is not None else ""
        if text:
            print(text, flush=True)
        if told is not None and told["kind"] == "ended" and text:
            print(ensemble.story(), flush=True)
            return WRONG
    return WELL


@contextmanager
def _closing_lines(played: Sequence[tuple[str, str]]) -> Iterator[None]:
    """Afterwards say how to look back on each song (the chart's file, and its take): a take is kept in the history only where
    the player reviews it."""
    yield
    with suppress(OSError):  # the terminal may have gone
        for chart, take in played:
            for path in takes_of(take) if chart else ():
                print(f"How it went: liveassist review {shlex.quote(chart)} {shlex.quote(str(path))}", flush=True)


@contextmanager
def _term_ends() -> Iterator[None]:
    """While this lasts, TERM ends the music properly."""

    def ended(number: int, frame: object) -> NoReturn:
        raise _Ended

    before = signal.signal(signal.SIGTERM, ended)
    try:
        yield
    finally:
        signal.signal(signal.SIGTERM, before)
