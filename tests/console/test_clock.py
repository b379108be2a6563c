"""The clock of the wall may be set while the band plays: nothing that sounds hangs on it."""

from __future__ import annotations

import ast
import itertools
import threading
import time
from pathlib import Path

import pytest

import liveassist
from liveassist.console.timeline import RealTimeline

HOUSE = Path(liveassist.__file__).parent
NAMES_FILES = {"band_process.py", "checking.py", "opening.py", "take_names.py"}
"""Where the day and hour are asked for: the name and header of a take or a bench check, the week of listening."""
WALL = {"time", "localtime", "gmtime", "time_ns", "now", "utcnow", "today"}


def asked_of_the_wall(source: str) -> list[str]:
    """Calls that ask for the time of day."""
    return [
        ast.unparse(node.func)
        for node in ast.walk(ast.parse(source))
        if isinstance(node, ast.Call)
        and isinstance(node.func, ast.Attribute)
        and isinstance(node.func.value, ast.Name)
        and node.func.value.id in ("time", "datetime", "date")
        and node.func.attr in WALL
    ]


@pytest.mark.parametrize("room", ["arranging", "band", "console", "link", "ears", "desk"])
def test_nobody_who_plays_asks_the_clock_of_the_wall(room: str) -> None:
    asking = {path.name for path in (HOUSE / room).rglob("*.py") if asked_of_the_wall(path.read_text(encoding="utf-8"))}
    assert asking <= NAMES_FILES


def test_the_check_finds_what_it_looks_for() -> None:
    assert asked_of_the_wall("import time\nat = time.time()") == ["time.time"]


def test_a_wall_clock_that_is_stepped_moves_no_note(monkeypatch: pytest.MonkeyPatch) -> None:
    steps = itertools.cycle([-3600.0, 0.0, 86400.0])
    real = time.time
    monkeypatch.setattr(time, "time", lambda: real() + next(steps))
    timeline = RealTimeline()
    foot = threading.Timer(0.05, lambda: timeline.midi("console")(time.monotonic(), b"\x93\x26\x40"))
    foot.start()
    before = time.perf_counter()
    heard = timeline.wait(5.0)
    assert time.perf_counter() - before < 2.0
    assert heard[0].at == pytest.approx(timeline.now(), abs=0.5)
    for moment in (0.2, 0.25, 0.3):
        timeline.wait(moment, sharp=True)
        assert moment - 1e-3 <= timeline.now() < moment + 1.0
