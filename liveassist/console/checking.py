"""``liveassist console check``: the bench check over this machine's ports, in a plain terminal.

Enter passes a line over, ``n`` says no, ``y`` says yes, Ctrl-C ends it; whatever ends it, every key that it pressed is let go.
(There is no guardian here: a computer that dies within the few seconds of the chord leaves it to the console's off switch.)
"""

from __future__ import annotations

import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from queue import Empty, SimpleQueue
from typing import NoReturn

from liveassist.console.at_work import refuse_a_second_band
from liveassist.console.bench import LOOK, WELL, WRONG, BenchCheck, Line, Note, in_order, save
from liveassist.console.hearing import Interpreter
from liveassist.console.instrument import Profile
from liveassist.console.laptop import Look, looks
from liveassist.console.outlets import Outlets
from liveassist.console.ports import Binding, midi_binding
from liveassist.console.settling import named, ports_played
from liveassist.console.take_names import takes_folder
from liveassist.console.typing_in import PATIENCE, StandardInput, Typed
from liveassist.console.watching import Watch
from liveassist.wrapping import say

ANSWERED_BY_KEY = " (Enter passes over; n and Enter: it is not heard)."
ANSWERED_BY_WORD = " (y or n and Enter, or Enter alone)"
ANSWERS: dict[str, bool | None] = {"y": True, "yes": True, "n": False, "no": False, "": None}
"""What may be typed. Enter alone passes over."""
WELL_DONE, NOT_WELL, STOPPED = 0, 1, 130


def check(
    profile: Profile,
    binding: Binding,
    say: Callable[[str], None],
    typed: Typed,
    clock: Callable[[], float] = time.monotonic,
    laptop: Sequence[Look] = (),
) -> list[Line]:
    """Go through all steps; every line is said as it is found.

    Args:
        profile: the console, with a name for every port.
        binding: the MIDI system.
        say: tells the player a line.
        typed: what the player types.
        clock: seconds, the clock by which the binding stamps.
        laptop: what was read of the laptop.
    """
    arrived: SimpleQueue[tuple[float, str, bytes]] = SimpleQueue()
    watch = Watch(binding)
    for name in profile.input_ports:
        watch.hear(name, _listener(name, arrived))
    senders = {name: watch.play(name) for name in profile.output_ports}
    ears, bench = Interpreter(profile), BenchCheck(profile)
    outlets = Outlets(profile, senders, sent=ears.sent, held=ears.holds)
    found: list[Line] = []

    def tell(lines: Sequence[Line]) -> None:
        for line in lines:
            found.append(line)
            say(str(line))

    def play(notes: Sequence[Note]) -> None:
        for note in notes:
            outlets.play(note, clock())
        outlets.due(clock())

    asked, told = None, 0
    try:
        while (step := bench.step) is not None:
            if news := _ports(watch, clock()):
                tell(news)
                asked = None  # it would stand too far above
            if step is not asked:
                asked = step
                say(step.asks + (ANSWERED_BY_KEY if step.heard else ANSWERED_BY_WORD))
            play(bench.due(clock()))
            line = typed(_patience(bench, outlets, clock()))
            if line is not None and _word(line) not in ANSWERS:
                say(f'  "{_word(line)}" tells me nothing: I know y, n and Enter')
            notes, remark = _answered(bench, line, clock()), bench.remark
            notes += _heard(bench, ears, arrived, clock())
            play(notes)
            if bench.remark not in ("", remark):
                say(f"  {bench.remark}")
            tell(bench.lines[told:])
            told = len(bench.lines)
        tell([Line(look.name, WELL if look.well else LOOK, look.text) for look in laptop])
    finally:
        play(bench.stop(clock()))
        outlets.release_all(clock())
        watch.close()
    return found


def _listener(port: str, arrived: SimpleQueue[tuple[float, str, bytes]]) -> Callable[[float, bytes], None]:
    return lambda at, message: arrived.put((at, port, message))


def _patience(bench: BenchCheck, outlets: Outlets, now: float) -> float:
    """How long to wait for a line: until the next note at most."""
    due = [moment - now for moment in (bench.next_due(), outlets.next_due()) if moment is not None]
    return max(0.001, min([PATIENCE, *due]))


def _answered(bench: BenchCheck, line: str | None, now: float) -> list[Note]:
    if line is None or _word(line) not in ANSWERS:
        return []
    return bench.answer(ANSWERS[_word(line)], now)


def _word(line: str) -> str:
    return line.strip().casefold()


def _heard(
    bench: BenchCheck, ears: Interpreter, arrived: SimpleQueue[tuple[float, str, bytes]], now: float
) -> list[Note]:
    notes: list[Note] = []
    while True:
        try:
            at, port, message = arrived.get_nowait()
        except Empty:
            break
        for event in ears.events(at, max(at, now), port, message):
            notes += bench.hear(event)
    for event in ears.due(now):
        notes += bench.hear(event)
    return notes


def _ports(watch: Watch, now: float) -> list[Line]:
    """A line for each port: open, or why not."""
    return [
        Line(f"port, {'heard' if news.is_input else 'played'}", WELL if news.well else WRONG, news.text)
        for news in watch.look(now)
    ]


# -- the command ------------------------------------------------------------------------------------------------------


def check_console(profile: Profile) -> int:
    """What ``liveassist console check`` does. Returns 0 where nothing was found wrong, 1 where something was."""
    binding = midi_binding()
    profile = named(profile, binding)
    refuse_a_second_band(ports_played(profile, binding))
    try:
        with _term_stops():
            found = check(profile, binding, say, StandardInput(), laptop=looks())
    except (KeyboardInterrupt, EOFError):
        print("\nStopped; nothing sounds.", file=sys.stderr)
        return STOPPED
    say(save(takes_folder(), found, profile.name, datetime.now().astimezone()))
    return WELL_DONE if in_order(found) else NOT_WELL


@contextmanager
def _term_stops() -> Iterator[None]:
    """While this lasts, TERM (and HUP, where there is one) stop as Ctrl-C does."""

    def stop(number: int, frame: object) -> NoReturn:
        raise KeyboardInterrupt

    names = [name for name in ("SIGTERM", "SIGHUP") if hasattr(signal, name)]
    before = {name: signal.signal(getattr(signal, name), stop) for name in names}
    try:
        yield
    finally:
        for name, handler in before.items():
            signal.signal(getattr(signal, name), handler)
