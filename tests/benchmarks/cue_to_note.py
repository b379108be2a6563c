"""From the cue to the first note of the figure, how late scheduled notes are, and what band and desk cost.

Run from the top folder::

    python tests/benchmarks/cue_to_note.py [--cues 60]

Everything goes through real JACK ports, with the desk running in a terminal of its own. In the same run, and interleaved
with the cues, a plain loopback of the binding (callback, queue, send) is played, and a bare loop that waits and sends; the
band's figures are given as ratios to theirs. Goals: cue to note no worse than 1.5 times the loopback plus one hop of a port;
lateness of scheduled notes at the 99th percentile no worse than 1.5 times the bare loop's; band and desk together below a
quarter of a core; the desk's first picture within 1.5 s.
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
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from types import ModuleType
from typing import Any

from charts.notation import read_chart
from liveassist.band.events import NoteOn
from liveassist.console.ensemble import Ensemble
from liveassist.console.launcher import Session, band_spec
from liveassist.console.profile import read_profile
from liveassist.console.takes import read_take
from liveassist.link import TOKEN_VARIABLE
from liveassist.settings import layered

CONFTEST = Path(__file__).parents[1] / "console" / "conftest.py"
BAR = 1.0
"""Seconds in a bar of the chart below: 4/4 at 240."""
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

LOOPBACK = """
import queue, rtmidi, sys
heard = queue.SimpleQueue()
source, target = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, "loop-in"), rtmidi.MidiOut(rtmidi.API_UNIX_JACK, "loop-out")
source.set_callback(lambda event, _: heard.put(event[0]))
source.open_port(next(i for i, name in enumerate(source.get_ports()) if "spare-keys" in name))
target.open_port(next(i for i, name in enumerate(target.get_ports()) if "spare-pipes" in name))
print("ready", flush=True)
while True:
    target.send_message(heard.get())
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


class Desk:
    """The desk in a terminal of its own; what it draws is read and forgotten."""

    def __init__(self, address: tuple[str, int], token: str) -> None:
        ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
        self.begun, self.shown = time.monotonic(), 0.0
        command = [sys.executable, "-m", "liveassist.desk", address[0], str(address[1])]
        env = {**os.environ, TOKEN_VARIABLE: token, "TERM": "xterm-256color"}
        self.process = subprocess.Popen(command, stdin=theirs, stdout=theirs, stderr=theirs, env=env)
        os.close(theirs)
        threading.Thread(target=self._read, args=(ours,), daemon=True).start()

    def _read(self, ours: int) -> None:
        drawn = b""
        while True:
            try:
                drawn += os.read(ours, 65536)
            except OSError:
                return
            if not self.shown and b"bpm" in drawn:
                self.shown = time.monotonic() - self.begun
            drawn = drawn[-1000:]


def cpu_seconds(pid: int) -> float:
    """Processor time that a process has used."""
    numbers = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return (int(numbers[11]) + int(numbers[12])) / os.sysconf("SC_CLK_TCK")


@contextmanager
def child(*command: str) -> Iterator[subprocess.Popen[str]]:
    process = subprocess.Popen(
        [sys.executable, "-c", *command], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    try:
        yield process
    finally:
        process.kill()
        process.wait()


def wait_for(at: float) -> None:
    time.sleep(max(0.0, at - time.monotonic()))


def first_after(heard: Sequence[tuple[float, bytes]], at: float) -> float:
    """Seconds until the first note that began after a moment."""
    return next(when for when, message in heard if when > at and message[0] & 0xF0 == 0x90) - at


def play(hall: ModuleType, cues: int, folder: Path) -> None:
    console, organ = hall.FakeConsole("console"), hall.FakeOrgan("organ")
    plain_console, plain_organ = hall.FakeConsole("spare-keys"), hall.FakeOrgan("spare-pipes")
    bars = " ".join(f"| {'D' if number % 2 == 0 else 'G'}" for number in range(cues + 1))
    profile = read_profile(CONSOLE)
    song = Session(
        chart=read_chart(CHART + bars + " |]"), profile=profile, layered=layered(("here", {"patience": "0"}))
    )
    sent: list[float] = []
    plain: list[float] = []
    with Ensemble(profile) as ensemble, child(LOOPBACK) as loopback:
        assert loopback.stdout is not None
        loopback.stdout.readline()
        spec = band_spec(song, str(folder / "take.jsonl"), ensemble.letter, "token")
        desk = Desk(ensemble.start(spec), "token")
        told: dict[str, Any] = {}
        while told.get("kind") != "band":
            told = ensemble.news(5.0) or {}
        band = int(told["pid"])
        wait_for(time.monotonic() + 2.0)
        before = cpu_seconds(band), cpu_seconds(desk.process.pid), time.monotonic()
        begun = time.monotonic()
        for cue in range(cues):
            wait_for(begun + cue * BAR)
            if cue:
                console.play(UP, ROOTS[(cue - 1) % 2], 64)
            sent.append(time.monotonic())
            console.play(DOWN, ROOTS[cue % 2], 64)
            wait_for(begun + (cue + 0.45) * BAR)  # between two eighths
            plain.append(time.monotonic())
            plain_console.play(DOWN, 60, 64)
        wait_for(begun + cues * BAR)
        spent = cpu_seconds(band) - before[0], cpu_seconds(desk.process.pid) - before[1], time.monotonic() - before[2]
        desk.process.terminate()
        desk.process.wait()
    tell_cues([first_after(organ.heard, at) for at in sent], [first_after(plain_organ.heard, at) for at in plain])
    notes = [action.at for action in read_take(spec.take).actions if isinstance(action, NoteOn)]
    arrived = [at for at, message in organ.heard if message[0] & 0xF0 == 0x90]
    tell_lateness(notes, arrived, bare(hall, len(set(notes))))
    print(
        f"band {spent[0] / spent[2]:.1%} of a core, desk {spent[1] / spent[2]:.1%}; first picture after {desk.shown:.2f} s"
    )
    for thing in (console, organ, plain_console, plain_organ):
        thing.close()


def tell_cues(band: Sequence[float], loopback: Sequence[float]) -> None:
    ours, theirs = statistics.median(band), statistics.median(loopback)
    print(f"cue to first note: median {ours * 1000:.2f} ms, at most {max(band) * 1000:.2f} ms ({len(band)} cues)")
    print(f"plain loopback:    median {theirs * 1000:.2f} ms, at most {max(loopback) * 1000:.2f} ms")
    allowed = 1.5 * theirs + PERIOD
    print(f"ratio {ours / theirs:.2f}; goal: {ours * 1000:.2f} of {allowed * 1000:.2f} ms allowed")


def lateness(due: Sequence[float], arrived: Sequence[float]) -> list[float]:
    """Seconds by which each note was later than the quickest, sorted."""
    late = [at - when for at, when in zip(arrived, due, strict=True)]
    return sorted(value - min(late) for value in late)


def bare(hall: ModuleType, count: int) -> list[float]:
    """The lateness of a loop that does nothing but wait and send."""
    organ = hall.FakeOrgan("bare-pipes")
    with child(LOOP, str(count), "0.05") as loop:
        assert loop.stdout is not None
        begin = float(loop.stdout.readline())
        time.sleep(0.2)
    found = lateness([begin + 0.05 * number for number in range(count)], [at for at, _ in organ.heard])
    organ.close()
    return found


def tell_lateness(due: Sequence[float], arrived: Sequence[float], loop: Sequence[float]) -> None:
    band = lateness(due, arrived)
    ours, theirs = (values[int(len(values) * 0.99)] for values in (band, loop))
    print(f"lateness of notes: p99 {ours * 1000:.2f} ms, at most {band[-1] * 1000:.2f} ms ({len(band)} notes)")
    print(f"bare loop:         p99 {theirs * 1000:.2f} ms, at most {loop[-1] * 1000:.2f} ms; ratio {ours / theirs:.2f}")


def main() -> None:
    reading = argparse.ArgumentParser(description="From the cue to the note")
    reading.add_argument("--cues", type=int, default=60)
    options = reading.parse_args()
    hall = room()
    with tempfile.TemporaryDirectory() as folder, hall.running_jack(Path(folder) / "jackd.log", hall.TIED):
        play(hall, options.cues, Path(folder))


if __name__ == "__main__":
    main()
