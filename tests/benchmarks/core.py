"""What the pure core costs: one cue, an hour of playing, and the start of the command line.

    python tests/benchmarks/core.py

Every figure is printed next to a baseline of the same run: the machine's own time for a fixed piece of plain Python work, or
a bare start of the interpreter.
"""

from __future__ import annotations

import random
import statistics
import subprocess
import sys
import time
from pathlib import Path

from charts.notation import read_chart_file
from charts.roadmap import unfold
from charts.route import Route
from liveassist.band.events import Event, KeyDown, KeyUp
from liveassist.band.song import performance
from liveassist.settings import Settings

ROOT = Path(__file__).parent.parent.parent
QUAY = next((ROOT / "demo_charts").glob("*quay*.chart"))
HOUR = 3600.0


def baseline() -> float:
    """Seconds for a fixed piece of plain Python work."""
    started = time.perf_counter()
    total = 0
    for number in range(100_000):
        total += number * number % 7
    assert total
    return time.perf_counter() - started


def feet(route: Route, start: float, dice: random.Random) -> tuple[list[Event], float]:
    """One time through the song, in time but for 30 ms of scatter."""
    events: list[Event] = []
    at = start
    for change in route.changes:
        length = float(change.length) * 60.0 / route.bars[change.bar].quarter_bpm
        if change.bass is not None:
            down = at + dice.gauss(0, 0.03)
            events.append(KeyDown(at=down, heard=down, division="pedal", key=36 + change.bass))
            up = down + 0.7 * length
            events.append(KeyUp(at=up, heard=up, division="pedal", key=36 + change.bass))
        at += length
    return sorted(events, key=lambda event: event.at), at


def main() -> None:
    route = unfold(read_chart_file(QUAY))
    dice = random.Random(1)
    work = statistics.median(baseline() for _ in range(9))
    print(f"baseline, 100,000 steps of plain Python: {work * 1000:.1f} ms")

    costs: list[float] = []
    played, spent = 0.0, 0.0
    while played < HOUR:
        band = performance(route, Settings())
        band.due(0.0)
        events, end = feet(route, 1.0, dice)
        for event in events:
            started = time.perf_counter()
            while (due := band.next_due()) is not None and due <= event.heard:
                band.due(due)
            before = time.perf_counter()
            band.receive(event)
            now = time.perf_counter()
            spent += now - started
            if isinstance(event, KeyDown):
                costs.append(now - before)
        started = time.perf_counter()
        band.due(end + 5)
        spent += time.perf_counter() - started
        played += end
    costs.sort()
    print(
        f"one cue: median {statistics.median(costs) * 1000:.3f} ms, p99 {costs[int(len(costs) * 0.99)] * 1000:.3f} ms "
        f"({len(costs)} cues, median {statistics.median(costs) / work:.3f} of the baseline)"
    )
    print(f"an hour of playing: {spent:.1f} s ({spent / work:.0f} times the baseline)")

    bare = [start("-c", "pass") for _ in range(7)]
    helped = [start("-m", "liveassist", "--help") for _ in range(7)]
    print(
        f"--help: {statistics.median(helped) * 1000:.0f} ms, "
        f"{statistics.median(helped) / statistics.median(bare):.1f} bare starts of the interpreter"
    )


def start(*arguments: str) -> float:
    started = time.perf_counter()
    subprocess.run([sys.executable, *arguments], stdout=subprocess.DEVNULL, check=True, cwd=ROOT)
    return time.perf_counter() - started


if __name__ == "__main__":
    main()
