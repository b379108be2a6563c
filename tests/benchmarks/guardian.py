"""How soon the guardian silences the organ, and whether it ever does so without need.

Run from the top folder::

    python tests/benchmarks/guardian.py [--trials 20] [--minutes 10]

Prints, over real JACK ports and an organ that heeds notes only: the time from the death of the band (SIGKILL) and from its
stop (SIGSTOP) to the end of the last note, median and at most, with the number of notes left on; then the number of false
alarms in so many minutes with all cores loaded. Goals on an otherwise idle machine: killed, median below 60 ms and never above
300; stopped, heartbeat limit plus 100 ms; nothing left on; no false alarm.
"""

from __future__ import annotations

import argparse
import importlib.util
import os
import signal
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from statistics import median
from types import ModuleType

CONSOLE = Path(__file__).parents[1] / "console"


def loaded(name: str) -> ModuleType:
    """A module of the console's tests."""
    spec = importlib.util.spec_from_file_location(f"console_{name}", CONSOLE / f"{name}.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module


def trials(rehearsal: ModuleType, room: ModuleType, how: signal.Signals, count: int) -> str:
    """Kill or stop a band so many times."""
    organ, guardian = room.FakeOrgan("quay"), rehearsal.Guarded("quay")
    took, left_on = [], 0
    try:
        for trial in range(count):
            band = guardian.again() if trial else guardian.begin()
            room.wait_until(lambda: rehearsal.sounds(organ))
            at = time.monotonic()
            os.kill(band, how)
            guardian.hear("ended")
            left_on += len(organ.sounding)
            took.append((organ.silent_since - at) * 1000.0)
    finally:
        guardian.end()
        organ.close()
    return f"median {median(took):6.1f} ms, at most {max(took):6.1f} ms, {left_on} notes left on ({count} trials)"


def false_alarms(rehearsal: ModuleType, minutes: float) -> int:
    """Load all cores and one more, and count the bands that are taken for hung."""
    guardian = rehearsal.Guarded()
    alarms = 0
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range((os.cpu_count() or 1) + 1)]
    try:
        guardian.begin(keys=[], then="roll")
        end = time.monotonic() + minutes * 60.0
        while (left := end - time.monotonic()) > 0.0:
            try:
                guardian.hear("ended", within=left)
            except AssertionError:
                break
            alarms += 1
            guardian.again(keys=[], then="roll")
    finally:
        for process in busy:
            process.kill()
            process.wait()
        guardian.end()
    return alarms


def main() -> None:
    reading = argparse.ArgumentParser(description="Times of the guardian")
    reading.add_argument("--trials", type=int, default=20)
    reading.add_argument("--minutes", type=float, default=10.0, help="of loaded cores, for false alarms")
    options = reading.parse_args()
    room, rehearsal = loaded("conftest"), loaded("test_guardian")
    with tempfile.TemporaryDirectory() as folder, room.running_jack(Path(folder) / "jackd.log", rehearsal.JACK):
        for how in (signal.SIGKILL, signal.SIGSTOP) if options.trials else ():
            print(f"{how.name}: {trials(rehearsal, room, how, options.trials)}", flush=True)
        limit = rehearsal.KEEPS_QUIET * 1000.0
        print(f"(heartbeat limit {limit:.0f} ms)", flush=True)
        print(
            f"false alarms in {options.minutes:g} minutes with all cores loaded: {false_alarms(rehearsal, options.minutes)}"
        )


if __name__ == "__main__":
    main()
