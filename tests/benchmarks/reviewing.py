"""How well planted errors are found again, and how long reviewing and the history take.

    python tests/benchmarks/reviewing.py [--takes 1000] [--kills 200]

Times are told next to a plain loop in the same run: machines are noisy.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path
from statistics import stdev

sys.path.insert(0, str(Path(__file__).parents[1] / "rehearsal"))

from planting import planted
from test_history import REVIEW, WRITER

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.rehearsal.history import History
from liveassist.rehearsal.matching import EXTRA, MISSED, WRONG
from liveassist.rehearsal.report import report
from liveassist.rehearsal.review import review
from liveassist.rehearsal.timing import levelled

DEMO = Path(__file__).parents[2] / "demo_charts"


def timed(work: Callable[[], object]) -> float:
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def plain_loop() -> None:
    sum(range(1_000_000))


def finding(takes: int) -> None:
    """Planted errors in takes of the demo songs."""
    routes = [unfold(read_chart_file(path)) for path in sorted(DEMO.glob("*.chart"))]
    for rate in (0.0, 0.05, 0.10, 0.15):
        dice = random.Random(7)
        whole = made_up = 0
        apart = [0.0, 0.0, 0.0]
        for seed in range(takes):
            route = routes[seed % len(routes)]
            take = planted(
                route,
                seed,
                bpm=dice.uniform(56, 132),
                rate=rate,
                lead=dice.uniform(-0.06, 0.02),
                scatter=dice.uniform(0.010, 0.040),
                drift=dice.uniform(-0.01, 0.01),
            )
            found = review(route, take.events, take.actions)
            told = Counter((one.kind, one.bar) for one in found.of_kind(MISSED, WRONG, EXTRA))
            whole += not Counter(take.faults) - told
            made_up += bool(told - Counter(take.faults))
            times, errors = zip(*take.clean, strict=True)
            mean, drift, flat = levelled(times, errors)
            assert found.whole is not None
            off = (found.whole.mean - mean, found.whole.sd - stdev(flat), found.whole.drift - drift)
            apart = [max(most, abs(one)) for most, one in zip(apart, off, strict=True)]
        print(
            f"{rate:4.0%} of the notes wrong: all planted found in {whole / takes:.1%} of {takes} takes, something made "
            f"up in {made_up / takes:.1%}; mean off by at most {1000 * apart[0]:.2f} ms, SD {1000 * apart[1]:.2f} ms, drift "
            f"{100 * apart[2]:.3f} %"
        )


def speed() -> None:
    """A five-minute take."""
    route = unfold(read_chart_file(max(DEMO.glob("*.chart"), key=lambda path: len(unfold(read_chart_file(path)).bars))))
    take = planted(route, 1, bpm=72, rate=0.1, lead=-0.02, scatter=0.03, drift=0.0)
    minutes = take.actions[-1].at / 60
    took = min(timed(lambda: review(route, take.events, take.actions)) for _ in range(5)) * 5 / minutes
    loop = min(timed(plain_loop) for _ in range(5))
    print(f"a five-minute take: {1000 * took:.0f} ms ({took / loop:.1f} times a plain loop of a million additions)")
    found = review(route, take.events, take.actions)
    print(f"its report, the plotting library loaded for it: {timed(lambda: report(found)):.2f} s", end="; ")
    print(f"the next one {timed(lambda: report(found)):.2f} s")


def opening(folder: Path) -> None:
    """A history of ten thousand takes."""
    path = folder / "many.sqlite3"
    with History(path) as kept:
        kept._db.execute("PRAGMA synchronous = OFF")
        for number in range(10_000):
            kept.add(title=f"Song {number % 40}", lead="pulse", chart="c", take=b"%d" % number, review=REVIEW)

    def opened() -> None:
        with History(path) as again:
            assert len(again.entries(latest=50)) == 50

    print(
        f"a history of 10,000 takes opened and its latest 50 listed: {1000 * min(timed(opened) for _ in range(5)):.1f} ms"
    )


def kills(folder: Path, times: int) -> None:
    """SIGKILL at random moments of writing."""
    path, dice = folder / "killed.sqlite3", random.Random(1)
    finished = lost = 0
    for trial in range(times):
        program = subprocess.Popen(
            [sys.executable, "-c", WRITER, str(path), f"trial {trial}"],
            stdout=subprocess.PIPE,
            text=True,
            env=os.environ,
        )
        assert program.stdout is not None
        program.stdout.readline()
        time.sleep(dice.uniform(0.0, 0.05))
        program.send_signal(signal.SIGKILL)
        finished += len(program.communicate()[0].splitlines())
        with History(path) as kept:
            lost += len(kept.entries()) < finished
    print(f"killed {times} times while writing: opened every time, {finished} finished takes, lost ones {lost} times")


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--takes", type=int, default=1000)
    parser.add_argument("--kills", type=int, default=200)
    options = parser.parse_args()
    finding(options.takes)
    speed()
    with tempfile.TemporaryDirectory() as folder:
        opening(Path(folder))
        kills(Path(folder), options.kills)


if __name__ == "__main__":
    main()
