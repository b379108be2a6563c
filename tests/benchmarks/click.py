"""How even the click is: at a MIDI port next to a bare loop, and as sound from its samples.

Run from the top folder::

    python tests/benchmarks/click.py [--clicks 400]

At the port: a band with lead pulse, in its own process under the guardian as in a performance, clicks eighths through a real
JACK port; a bare loop that waits and sends does the same at the same time. Printed is the 99th percentile of the errors of the
intervals; goal: no worse than 1.5 times the bare loop's.

As sound: a schedule of uneven clicks is told ahead to the stream, once with a device that asks in time with its samples but up
to 15 ms late, where the error is counted in samples (goal: none), and once through miniaudio's null backend in real time. That
backend's clock is a sleeping loop that runs slow; how slow is printed, and the errors are against a clock of that speed.
"""

from __future__ import annotations

import argparse
import random
import statistics
import tempfile
import time
from itertools import pairwise
from pathlib import Path
from types import ModuleType

import numpy as np
from cue_to_note import LOOP, child, room, wait_for

from charts.notation import read_chart
from liveassist.console.ensemble import Ensemble
from liveassist.console.launcher import Session, band_spec
from liveassist.console.profile import read_profile
from liveassist.ears.destination import Destination
from liveassist.ears.earpiece import Earpiece
from liveassist.ears.sound import Player, list_devices
from liveassist.ears.stream import Line, Stream
from liveassist.ears.tone import RATE, Organ, Samples
from liveassist.settings import layered

STEP = 0.125
"""Seconds between two clicks at the port: eighths at 240."""
CONSOLE = """
[divisions.pedal]
port = "console"
channel = 4
[parts.figure]
port = "organ"
channel = 2
[parts.click]
port = "in-ears"
channel = 10
"""


def p99(values: list[float]) -> float:
    return sorted(values)[int(len(values) * 0.99)]


def errors(times: list[float], step: float) -> list[float]:
    """By how much each interval is off."""
    return [abs(after - before - step) for before, after in pairwise(times)]


def at_the_port(hall: ModuleType, clicks: int, folder: Path) -> None:
    console, organ, in_ears = hall.FakeConsole("console"), hall.FakeOrgan("organ"), hall.FakeOrgan("in-ears")
    plain = hall.FakeOrgan("bare-pipes")
    bars = " ".join("| D" for _ in range(clicks // 8 + 1))
    chart = read_chart(
        f"title = Bench\nkey = D\ntempo = quarter 240\nfeel = straight eighths\n\n== Verse ==\n{bars} |]"
    )
    profile = read_profile(CONSOLE)
    settings = {"lead": "pulse", "click": True, "subdivision": "eighths"}
    song = Session(chart=chart, profile=profile, layered=layered(("here", settings)), nods=("count",))
    with Ensemble(profile) as ensemble:
        ensemble.start(band_spec(song, str(folder / "take.jsonl"), ensemble.letter, "token"))
        with child(LOOP, str(clicks), str(STEP)) as loop:
            assert loop.stdout is not None
            loop.stdout.readline()
            time.sleep(0.5)
    times = [at for at, message in in_ears.heard if message[0] & 0xF0 == 0x90][8:]
    bare = [at for at, message in plain.heard if message[0] & 0xF0 == 0x90]
    for thing in (console, organ, in_ears, plain):
        thing.close()
    for name, found in (("at the port", errors(times, STEP)), ("bare loop", errors(bare, STEP))):
        half, most = statistics.median(found) * 1000, p99(found) * 1000
        print(f"{name}: error of intervals median {half:.2f} ms, p99 {most:.2f} ms ({len(found) + 1} clicks)")
    ours, theirs = p99(errors(times, STEP)), p99(errors(bare, STEP))
    print(f"p99 {ours / theirs:.2f} times the bare loop's; goal: 1.5")


class Tape:
    """A stream, and what it played."""

    def __init__(self, stream: Stream) -> None:
        self.stream = stream
        self.pieces: list[Samples] = []

    def block(self, frames: int, now: float) -> Samples:
        self.pieces.append(self.stream.block(frames, now))
        return self.pieces[-1]

    def stalled(self, now: float) -> bool:
        return self.stream.stalled(now)

    def begins(self) -> np.ndarray:
        """The samples at which clicks begin."""
        loud = np.flatnonzero(np.abs(np.concatenate(self.pieces)[:, 0]) > 1e-9)
        return np.array([loud[0], *(after for before, after in pairwise(loud) if after - before > 500)]) - 1


def schedule(start: float, seconds: float, dice: random.Random) -> list[float]:
    times = [start]
    while times[-1] < start + seconds:
        times.append(times[-1] + dice.uniform(0.1, 0.6))
    return times


def by_samples(seconds: float = 60.0) -> None:
    dice = random.Random(1)
    times = schedule(0.5, seconds, dice)
    tape = Tape(Stream(Organ(RATE), 0.0, [Earpiece(Destination())]))
    waiting = list(times)
    for number in range(round((times[-1] + 0.5) / 0.02)):
        now = max(0, number - 2) * 0.02 + (0.0 if number % 8 == 0 else dice.uniform(0.0, 0.015))
        while waiting and waiting[0] - 0.15 <= now:
            tape.stream.put(Line(waiting.pop(0), "on", "click", 76, scheduled=True))
        tape.block(960, now)
    off = np.abs(tape.begins() - np.round(np.array(times) * RATE))
    print(f"as sound, a device that asks late: {len(off)} clicks, at most {int(off.max())} samples off; goal: 0")


def by_null_backend(seconds: float = 20.0) -> None:
    import miniaudio

    backends = [miniaudio.Backend.NULL]
    tape = Tape(Stream(Organ(RATE), time.monotonic(), [Earpiece(Destination())]))
    player = Player(list_devices(backends)[0], tape, backends, block_ms=20)
    times = schedule(time.monotonic() + 1.0, seconds, random.Random(2))
    for at in times:
        wait_for(at - 0.2)
        tape.stream.put(Line(at, "on", "click", 76, scheduled=True))
    wait_for(times[-1] + 0.5)
    player.close()
    begins = tape.begins()
    seen = np.array(times[: len(begins)]) - times[0]
    speed, start = np.polyfit(seen, begins, 1)
    off = np.abs(begins - (start + speed * seen)) / RATE * 1000.0
    print(
        f"as sound, null backend: {len(begins)} of {len(times)} clicks, its clock {100 * (1 - speed / RATE):.2f} % slow;"
        f" off by {np.median(off):.2f} ms (median), {off.max():.2f} ms (at most)"
    )


def main() -> None:
    reading = argparse.ArgumentParser(description="How even the click is")
    reading.add_argument("--clicks", type=int, default=400)
    options = reading.parse_args()
    by_samples()
    by_null_backend()
    hall = room()
    with tempfile.TemporaryDirectory() as folder, hall.running_jack(Path(folder) / "jackd.log", hall.TIED):
        at_the_port(hall, options.clicks, Path(folder))


if __name__ == "__main__":
    main()
