"""What may go wrong, over and over: what is left on, how soon music is back, and whether memory grows.

Run from the top folder; each part can be asked for alone::

    python tests/benchmarks/faults.py [--part deaths cables server random service] [--trials 5] [--events 1000000]
    python tests/benchmarks/faults.py --part real --minutes 30

``deaths``, ``cables`` and ``server`` are played over real JACK ports, to an organ that heeds notes only and keeps its own
account; ``random`` sends events of any kind through the core; ``service`` is two hours of playing in one band on a clock that
jumps, and ``real`` plays in real time, both with the memory of the process watched. Beside the seconds stands what a bare start
of the interpreter takes in the same run. Goals on an otherwise idle machine: nothing left on; music back, and another band
ready, within 2 s; less than 5 MB of growth.
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
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import Any

import pytest

TOP = Path(__file__).parents[2]
sys.path.insert(0, str(TOP))

from charts.notation import read_chart, read_chart_file  # noqa: E402
from charts.roadmap import unfold  # noqa: E402
from liveassist.band.events import Nodded  # noqa: E402
from liveassist.band.song import performance  # noqa: E402
from liveassist.console.hearing import Interpreter  # noqa: E402
from liveassist.console.launcher import again  # noqa: E402
from liveassist.console.outlets import Outlets  # noqa: E402
from liveassist.console.picture import Painter  # noqa: E402
from liveassist.console.profile import PLAIN  # noqa: E402
from liveassist.console.runner import Runner  # noqa: E402
from liveassist.console.takes import Header, TakeWriter, read_take  # noqa: E402
from liveassist.console.timeline import Arrival, SimulatedTimeline  # noqa: E402
from liveassist.link import Request  # noqa: E402
from liveassist.settings import Settings, layered  # noqa: E402
from tests.band.rehearsing import QUAY as SONG  # noqa: E402
from tests.band.wild import Account, wild  # noqa: E402
from tests.console import conftest as room  # noqa: E402
from tests.console.hall import DOWN, QUAY, STATES, UP, Hall, open_hall  # noqa: E402

BAR, BARS = 1.5, 7
"""Seconds of a bar of the hall's song, and how many there are."""


@contextmanager
def hall(folder: Path) -> Iterator[Hall]:
    """A hall with a console and an organ of its own."""
    console, organ = room.FakeConsole("console"), room.FakeOrgan("organ")
    try:
        with (
            tempfile.TemporaryDirectory(dir=folder) as inner,
            open_hall(console, organ, room.wait_until, Path(inner)) as made,
        ):
            yield made
    finally:
        console.close()
        organ.close()


def trial(folder: Path, play: Callable[[Hall], float]) -> tuple[int, float]:
    """One trial in a hall of its own: the keys left on when its band has ended, and the seconds it took (infinity: in vain)."""
    took, here = float("inf"), None
    try:
        with hall(folder) as here:
            took = play(here)
    except pytest.fail.Exception:
        pass  # something was waited for in vain: the figures tell
    return len(here.organ.sounding) if here is not None else 0, took


def row(name: str, trials: list[tuple[int, float]], what: str) -> None:
    seconds = [took for _, took in trials]
    left_on = sum(left for left, _ in trials)
    print(f"{name:26s} left on: {left_on}   {what} {median(seconds):5.2f} s, at most {max(seconds):5.2f} s", flush=True)


def bare_start() -> float:
    begun = time.monotonic()
    subprocess.run([sys.executable, "-c", "pass"], check=True)
    return time.monotonic() - begun


# -- on real ports --------------------------------------------------------------------------------------------------


def deaths(folder: Path, trials: int) -> None:
    """A band that is killed or stopped in every state, and the next one."""
    print(f"(a bare start of the interpreter: {median(bare_start() for _ in range(5)):.3f} s)")
    route = unfold(read_chart(QUAY))
    for state in STATES:
        for how in (signal.SIGKILL, signal.SIGSTOP):

            def play(here: Hall, state: str = state, how: signal.Signals = how) -> float:
                here.bring_to(state)
                os.kill(here.pid(), how)
                at = time.monotonic()
                here.ended()
                if here.organ.sounding:
                    pytest.fail("the guardian left a note on")
                read_take(here.spec.take)
                here.begin(again(here.spec, route))
                return time.monotonic() - at

            row(f"{state}, {how.name}", [trial(folder, play) for _ in range(trials)], "next band ready after")


def cables(folder: Path, trials: int) -> None:
    """The organ's cable pulled and put back."""
    for state in ("playing", "count-in", "holding"):

        def play(here: Hall, state: str = state) -> float:
            here.bring_to(state)
            here.organ.close()
            here.until(lambda: here.told('"organ" has gone'))
            before, at = here.attacks(), time.monotonic()
            here.organ.again()
            here.until(lambda: here.attacks() > before)
            return time.monotonic() - at

        row(f"organ's cable, {state}", [trial(folder, play) for _ in range(trials)], "sounds again after")


def server(folder: Path, trials: int, jack: Any) -> None:
    """The JACK server killed."""

    def play(here: Hall) -> float:
        here.bring_to("playing")
        jack.kill()
        here.console.bury()
        here.organ.bury()
        here.until(lambda: here.told("the JACK server has stopped"))
        jack.begin()
        before, at = here.attacks(), time.monotonic()
        here.organ.again()
        here.console.again()
        here.until(lambda: here.attacks() > before)
        return time.monotonic() - at

    row("JACK server killed", [trial(folder, play) for _ in range(trials)], "sounds again after")


# -- without ports --------------------------------------------------------------------------------------------------


def any_events(count: int) -> None:
    """Events of any kind through the core."""
    route = unfold(read_chart(SONG))
    for number, lead in enumerate(("feet", "switch", "pulse", "click")):
        band, account = performance(route, Settings(lead=lead, click=True)), Account()
        begun = time.monotonic()
        for event in wild(route, count // 4, random.Random(number)):
            account.hear(band.receive(event))
        account.hear(band.receive(Nodded(at=band.now, heard=band.now, nod="tacet")))
        took = time.monotonic() - begun
        told = f"{count // 4} events, {account.starts} notes, {took:.0f} s"
        print(f"random events, lead {lead:7s}        left on: {len(account.on)}   {told}", flush=True)


def resident(pid: int | str = "self") -> float:
    """Memory of a process in MB."""
    pages = int(Path(f"/proc/{pid}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def services(hours: float) -> None:
    """One band plays for hours on a clock that jumps, with take, pictures and all."""
    chart = read_chart_file(next((TOP / "demo_charts").glob("lanterns*.chart")))
    route = unfold(chart)
    settings = layered(("here", {"patience": "always"}))
    played: list[Arrival] = []
    at = 1.0
    beat = 60.0 / route.bars[0].quarter_bpm
    while at < hours * 3600.0:
        played.append(Arrival(at - 0.5, "", Request(ask="nod", name="ready")))
        for change in route.changes:
            if change.bass is not None:
                when = at + float(change.position) * beat
                key = 36 + change.bass
                played.append(Arrival(when, "", bytes((DOWN, key, 64))))
                played.append(Arrival(when + 0.8 * float(change.length) * beat, "", bytes((UP, key, 64))))
        at += float(route.bars[-1].end) * beat + 12.0
    with tempfile.TemporaryDirectory() as folder:
        take = TakeWriter(Path(folder) / "take.jsonl", Header(chart=chart.text))
        keys: set[int] = set()
        seen: list[float] = []

        class Wire:
            def send(self, message: bytes) -> bool:
                (keys.add if message[0] & 0xF0 == 0x90 else keys.discard)(message[1])
                return True

        timeline = SimulatedTimeline(played)
        ears = Interpreter(PLAIN)
        outlets = Outlets(PLAIN, {PLAIN.output_ports[0]: Wire()}, sent=ears.sent)
        marks = iter([quarter * 900.0 for quarter in range(1, int(hours * 4) + 1)])
        mark = next(marks)

        def watched(_: object) -> None:
            nonlocal mark
            if timeline.now() >= mark:
                mark = next(marks, float("inf"))
                seen.append(resident())

        band = performance(route, settings.settings)
        pictures: list[object] = [None]
        runner = Runner(
            band,
            timeline,
            PLAIN,
            ears,
            outlets,
            take=take,
            painter=Painter(route, settings),
            publish=lambda picture: pictures.__setitem__(0, picture),
            watched=watched,
        )
        begun = time.monotonic()
        runner.run()
        took = time.monotonic() - begun
        take.close()
        lines = sum(1 for _ in take.path.open())
        print(
            f"{hours:g} hours of service             left on: {len(keys)}   {len(played)} messages in, {lines} lines of take, "
            f"{took:.0f} s; memory from the first quarter of an hour to the end: {seen[0]:.1f} -> {seen[-1]:.1f} MB "
            f"({seen[-1] - seen[0]:+.1f}; the script that waits to be played gets shorter)",
            flush=True,
        )


def real(folder: Path, minutes: float) -> None:
    """One band plays in real time."""
    with hall(folder) as here:
        here.begin()
        band = here.pid()
        bass = [change.bass for change in unfold(read_chart(QUAY)).changes]
        end, seen, alarms = time.monotonic() + minutes * 60.0, [], 0
        while time.monotonic() < end:
            here.ask("ready")
            here.show(lambda picture: picture.state in ("ready", "tacet"))
            for pitch in bass:
                here.console.play(DOWN, 36 + (pitch or 0), 64)
                until = time.monotonic() + BAR
                while time.monotonic() < until:
                    here.seen(lambda _: True)
                    time.sleep(0.02)
                here.console.play(UP, 36 + (pitch or 0), 64)
            here.ask("cut")
            here.show(lambda picture: picture.state in ("fine", "tacet"))
            here.pictures.clear()
            seen.append(resident(band))
            alarms += sum(told["kind"] in ("silenced", "ended") for told in iter(here.ensemble.news, None))
        warm = seen[min(3, len(seen) - 1)]
        told = f"{len(seen)} songs, {here.attacks()} keys pressed, {alarms} alarms"
        grown = f"memory of the band {warm:.1f} -> {seen[-1]:.1f} MB ({seen[-1] - warm:+.1f})"
        print(f"{minutes:g} real minutes               left on: {len(here.organ.sounding)}   {told}; {grown}")


def main() -> None:
    reading = argparse.ArgumentParser(description="What may go wrong")
    parts = ("deaths", "cables", "server", "random", "service", "real")
    reading.add_argument("--part", nargs="+", choices=parts, default=list(parts[:-1]))
    reading.add_argument("--trials", type=int, default=5)
    reading.add_argument("--events", type=int, default=1_000_000)
    reading.add_argument("--hours", type=float, default=2.0)
    reading.add_argument("--minutes", type=float, default=30.0)
    options = reading.parse_args()
    on_ports: dict[str, Callable[[Path, Any], None]] = {
        "deaths": lambda folder, _: deaths(folder, options.trials),
        "cables": lambda folder, _: cables(folder, options.trials),
        "server": lambda folder, jack: server(folder, options.trials, jack),
        "real": lambda folder, _: real(folder, options.minutes),
    }
    for part in options.part:
        if part == "random":
            any_events(options.events)
        elif part == "service":
            services(options.hours)
        else:
            with tempfile.TemporaryDirectory() as name:
                folder = Path(name)
                options_of_jack = room.TIED if part == "cables" else ("-t", "5")  # see the module of the fixtures
                with room.running_jack(folder / "jackd.log", options_of_jack) as jack:
                    on_ports[part](folder, jack)


if __name__ == "__main__":
    main()
