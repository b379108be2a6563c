"""From the cue to the first note of the figure, how late scheduled notes are, and what all the processes cost.

Run from the top folder::

    python tests/benchmarks/cue_to_note.py [--cues 50]

Everything goes through real JACK ports. The song is played twice: by the band alone (with its guardian), and with all of it:
the desk and the drummer's sheet in terminals of their own, and a sound process that plays the figure and clicks in the ears
through a device that takes sound and makes none. In the same run, and interleaved with the cues, a plain loopback of the
binding (callback, queue, send) is played, and beside them runs a bare loop that waits and sends; the band's figures are given
as ratios to theirs. Goals: cue to note no worse than 1.5 times the loopback plus one hop of a port; lateness of scheduled notes
at the 99th percentile no worse than 1.5 times the bare loop's; band and desk together below a quarter of a core; the desk's
first picture within 1.5 s.

It takes some two and a half minutes. A client of JACK that is killed makes a synchronous server stand still for as long as
another client waits to be let in, so all that is started here is asked to leave, and closes its ports.
"""

from __future__ import annotations

import argparse
import fcntl
import importlib.util
import os
import pty
import statistics
import struct
import subprocess
import sys
import tempfile
import termios
import threading
import time
from collections.abc import Iterator, Mapping, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any

from charts.notation import read_chart
from liveassist.arranging.arrangement import FIGURE
from liveassist.band.events import NoteOn
from liveassist.console.ensemble import Ensemble
from liveassist.console.launcher import Session, band_spec
from liveassist.console.profile import read_profile
from liveassist.console.takes import read_take
from liveassist.ears.sound import SOUND
from liveassist.link import TOKEN_VARIABLE
from liveassist.settings import layered

CONFTEST = Path(__file__).parents[1] / "console" / "conftest.py"
BAR = 1.0
"""Seconds in a bar of the chart below: 4/4 at 240."""
STEP = 0.05
"""Seconds between two notes of the bare loop."""
CHART = "title = Bench\nkey = D\ntempo = quarter 240\nfeel = straight eighths\n\n== Verse ==\n"
CONSOLE = """
[divisions.pedal]
port = "console"
channel = 4
[divisions.melody]
port = "console"
channel = 1
[parts.figure]
port = "organ"
channel = 2
"""
DOWN, UP, ROOTS = 0x93, 0x83, (38, 43)
PERIOD = 128 / 48000
"""One hop from port to port, in seconds."""
NULL_DEVICE = "null"
"""As much of its name as the silent device has alone."""
SETTLED, COMES_UP = 2.0, 20.0
"""Seconds until everybody has settled who has come up, and in which they must have."""
KEPT = 200_000
"""Bytes of what a screen has drawn: some pictures."""
LEAVES = 5.0
"""Seconds in which somebody who is asked to leave is gone."""

LOOPBACK = """
import queue, rtmidi, sys, threading
heard = queue.SimpleQueue()
source, target = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, "loop-in"), rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "loop-out")
source.set_callback(lambda event, _: heard.put(event[0]))
source.open_port(next(i for i, name in enumerate(source.get_ports()) if "spare-keys" in name))
target.open_port(next(i for i, name in enumerate(target.get_ports()) if "spare-pipes" in name))
threading.Thread(target=lambda: (sys.stdin.read(), heard.put(None)), daemon=True).start()
print("ready", flush=True)
while (message := heard.get()) is not None:
    target.send_message(message)
for port in (source, target):
    port.close_port()
    port.delete()
"""
LOOP = """
import rtmidi, sys, time
target = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "bare-out")
target.open_port(next(i for i, name in enumerate(target.get_ports()) if "bare-pipes" in name))
count, step = int(sys.argv[1]), float(sys.argv[2])
begin = time.monotonic() + 0.5
for number in range(count):
    due = begin + number * step
    time.sleep(max(0.0, due - time.monotonic() - 0.001))
    while time.monotonic() < due:
        time.sleep(0)
    target.send_message((0x91, 60, 64))
print(begin, flush=True)
sys.stdin.read()
target.close_port()
target.delete()
"""


def room() -> ModuleType:
    """The fake console and organ of the console's tests."""
    spec = importlib.util.spec_from_file_location("console_conftest", CONFTEST)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


class Screen:
    """A program in a terminal of its own; what it draws is read, and only the latest is kept."""

    def __init__(self, *command: str, **env: str) -> None:
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
        self.begun, self._drawn = time.monotonic(), b""
        self.process = subprocess.Popen(
            [sys.executable, "-m", *command],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            env={**os.environ, "TERM": "xterm-256color", **env},
        )
        os.close(theirs)
        threading.Thread(target=self._read, args=(ours,), daemon=True).start()

    def _read(self, ours: int) -> None:
        while True:
            try:
                piece = os.read(ours, 65536)
            except OSError:
                return
            self._drawn = (self._drawn + piece)[-KEPT:]

    def draws(self, what: bytes) -> float:
        """Wait until it has drawn something: how many seconds after it began."""
        while what not in self._drawn:
            if time.monotonic() - self.begun > COMES_UP:
                raise SystemExit(
                    f"waited {COMES_UP:g} s in vain for {what.decode()!r} on a screen: is the machine busy?"
                )
            time.sleep(0.005)
        return time.monotonic() - self.begun

    def end(self) -> None:
        self.process.terminate()
        try:
            self.process.wait(LEAVES)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()


def cpu_seconds(pid: int) -> float:
    """Processor time that a process has used."""
    numbers = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(numbers[11]) + int(numbers[12])) / os.sysconf("SC_CLK_TCK")


def children(pid: int) -> list[int]:
    """The processes that a process has started."""
    return [int(number) for task in Path(f"/proc/{pid}/task").iterdir() for number in _words(task / "children")]


def _words(path: Path) -> list[str]:
    try:
        return path.read_text().split()
    except OSError:
        return []


@contextmanager
def child(*command: str) -> Iterator[subprocess.Popen[str]]:
    """A program; it leaves when its standard input ends."""
    process = subprocess.Popen(
        [sys.executable, "-c", *command], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    try:
        yield process
    finally:
        assert process.stdin is not None
        process.stdin.close()
        try:
            process.wait(LEAVES)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait()


def wait_for(at: float) -> None:
    time.sleep(max(0.0, at - time.monotonic()))


def first_after(heard: Sequence[tuple[float, bytes]], at: float) -> float:
    """Seconds until the first note that began after a moment; infinite where none did."""
    return next((when for when, message in heard if when > at and message[0] & 0xF0 == 0x90), float("inf")) - at


@dataclass
class Row:
    """What one playing of the song told."""

    name: str
    cues: list[float] = field(default_factory=list)
    """Seconds from each cue to the first note."""
    plain: list[float] = field(default_factory=list)
    """The same through the plain loopback."""
    late: list[float] = field(default_factory=list)
    """Seconds by which each note was later than the quickest, sorted."""
    bare: list[float] = field(default_factory=list)
    """The same of the bare loop."""
    costs: Mapping[str, float] = field(default_factory=dict)
    """Shares of a core."""
    pictures: Mapping[str, float] = field(default_factory=dict)
    """Seconds from the start of a screen to its first picture."""


def play(hall: ModuleType, name: str, cues: int, folder: Path, *, company: bool) -> Row:
    """Play the song once, alone or in ``company``."""
    with ExitStack() as leaving:

        def far(made: Any, called: str) -> Any:
            thing = made(called)
            leaving.callback(thing.close)
            return thing

        console, organ = far(hall.FakeConsole, "console"), far(hall.FakeOrgan, "organ")
        plain_console, plain_organ = far(hall.FakeConsole, "spare-keys"), far(hall.FakeOrgan, "spare-pipes")
        bare_organ = far(hall.FakeOrgan, "bare-pipes")
        bars = " ".join(f"| {'D' if number % 2 == 0 else 'G'}" for number in range(cues + 1))
        profile = read_profile(CONSOLE)
        settings: dict[str, Any] = {"patience": "0"}
        if company:
            settings |= {"ears": NULL_DEVICE, "click": True, "subdivision": "eighths", "signals": True}
        song = Session(
            chart=read_chart(CHART + bars + " |]"),
            profile=profile,
            layered=layered(("here", settings)),
            sound=NULL_DEVICE if company else None,
        )
        ensemble = leaving.enter_context(Ensemble(profile))
        loopback = leaving.enter_context(child(LOOPBACK))
        assert loopback.stdout is not None
        loopback.stdout.readline()
        spec = band_spec(song, str(folder / f"{name}.jsonl"), ensemble.letter, "token")
        screens: dict[str, Screen] = {}
        pictures: dict[str, float] = {}

        def screen(who: str, *command: str, **env: str) -> Screen:
            screens[who] = Screen(*command, **env)
            leaving.callback(screens[who].end)
            return screens[who]

        if company:  # one after the other: a start takes a core for a second
            screen("sheet", "liveassist", "drummer").draws(b"Waiting")
        host, port = ensemble.start(spec)
        told: dict[str, Any] = {}
        while told.get("kind") != "band":
            told = ensemble.news(5.0) or {}
        band = int(told["pid"])
        if company:
            screens["sheet"].draws(b"Bench")
            pictures["desk"] = screen("desk", "liveassist.desk", host, str(port), **{TOKEN_VARIABLE: "token"}).draws(
                b"bpm"
            )
        pids = {"band": band, **{who: each.process.pid for who, each in screens.items()}}
        pids.update(zip(["sound"], children(band), strict=False))
        if company and "sound" not in pids:
            raise SystemExit(f"{name}: the band has started no sound process")
        wait_for(time.monotonic() + SETTLED)
        still_plays(ensemble, name)
        loop = leaving.enter_context(child(LOOP, str(round(cues * BAR / STEP)), str(STEP)))
        before, begun = {who: cpu_seconds(pid) for who, pid in pids.items()}, time.monotonic()
        sent: list[float] = []
        plain: list[float] = []
        for cue in range(cues):
            wait_for(begun + cue * BAR)
            if cue:
                console.play(UP, ROOTS[(cue - 1) % 2], 64)
            sent.append(time.monotonic())
            console.play(DOWN, ROOTS[cue % 2], 64)
            wait_for(begun + (cue + 0.45) * BAR)  # between two eighths
            plain.append(time.monotonic())
            plain_console.play(DOWN, 60, 64)
            still_plays(ensemble, name)
        wait_for(begun + cues * BAR)
        costs = {who: (cpu_seconds(pid) - before[who]) / (time.monotonic() - begun) for who, pid in pids.items()}
        assert loop.stdout is not None
        begin = float(loop.stdout.readline())
        time.sleep(0.2)
        row = Row(name, costs=costs, pictures=pictures)
        row.cues = [first_after(organ.heard, at) for at in sent]
        row.plain = [first_after(plain_organ.heard, at) for at in plain]
        row.bare = lateness(
            [begin + STEP * number for number in range(len(bare_organ.heard))], starts(bare_organ.heard)
        )
        ensemble.end()
        notes = [one.at for one in read_take(spec.take).actions if isinstance(one, NoteOn) and one.part == FIGURE]
        row.late = lateness(notes, starts(organ.heard))
    return row


def still_plays(ensemble: Ensemble, name: str) -> None:
    if ensemble.has_ended(within=0.001):
        raise SystemExit(f"{name}: the band has ended; is the machine so busy that it was taken for hung?")


def starts(heard: Sequence[tuple[float, bytes]]) -> list[float]:
    """When notes began."""
    return [at for at, message in heard if message[0] & 0xF0 == 0x90]


def lateness(due: Sequence[float], arrived: Sequence[float]) -> list[float]:
    """Seconds by which each note was later than the quickest, sorted."""
    if len(due) != len(arrived):
        raise SystemExit(
            f"{len(due)} notes were sent, and {len(arrived)} arrived: nothing can be said of their lateness"
        )
    late = [at - when for at, when in zip(arrived, due, strict=True)]
    return sorted(value - min(late) for value in late)


def p99(values: Sequence[float]) -> float:
    return values[int(len(values) * 0.99)]


def tell(row: Row) -> None:
    band, plain = statistics.median(row.cues), statistics.median(row.plain)
    late, bare = p99(row.late), p99(row.bare)
    print(
        f"{row.name}\n"
        f"  cue to first note  median {band * 1000:.2f} ms, at most {max(row.cues) * 1000:.2f} ms ({len(row.cues)} cues)\n"
        f"  plain loopback     median {plain * 1000:.2f} ms, at most {max(row.plain) * 1000:.2f} ms\n"
        f"  ratio {band / plain:.2f}; goal: {band * 1000:.2f} of {(1.5 * plain + PERIOD) * 1000:.2f} ms allowed\n"
        f"  lateness of notes  p99 {late * 1000:.2f} ms, at most {row.late[-1] * 1000:.2f} ms ({len(row.late)} notes)\n"
        f"  bare loop          p99 {bare * 1000:.2f} ms, at most {row.bare[-1] * 1000:.2f} ms ({len(row.bare)} notes)\n"
        f"  ratio {late / bare:.2f}; goal: 1.50\n"
        f"  shares of a core   {', '.join(f'{who} {share:.1%}' for who, share in row.costs.items())}"
    )
    if row.pictures:
        print(f"  first pictures     {', '.join(f'{who} {shown:.2f} s' for who, shown in row.pictures.items())}")


def main() -> None:
    reading = argparse.ArgumentParser(description="From the cue to the note")
    reading.add_argument("--cues", type=int, default=50)
    options = reading.parse_args()
    hall = room()
    with tempfile.TemporaryDirectory() as name, hall.running_jack(Path(name) / "jackd.log", hall.TIED):
        folder = Path(name)
        os.environ["XDG_RUNTIME_DIR"] = name  # so that the sheet finds this band and no other
        os.environ[SOUND] = "null"
        for row, company in (("alone", False), ("with desk, sheet and sound", True)):
            tell(play(hall, row, options.cues, folder, company=company))


if __name__ == "__main__":
    main()
