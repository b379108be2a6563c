"""Who is hung and who only waits for a turn, from what Linux tells of processes: proc(5): /proc/PID/stat (its third field is the
state) and /proc/PID/schedstat (its first is the time that was given)."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from liveassist.console.starving import Turns

SPINS = "print(flush=True)\nwhile True: pass"


def told(proc: Path, state: str, given: int) -> None:
    (proc / "17").mkdir(exist_ok=True)
    (proc / "17" / "stat").write_text(f"17 (an odd) name) {state} 1 17 17 0 -1\n")
    (proc / "17" / "schedstat").write_text(f"{given} 5 9\n")


@pytest.mark.parametrize(
    ("state", "given", "missed"),
    [("R", 1000, True), ("R", 1001, False), ("S", 1000, False), ("T", 1000, False), ("D", 1000, False)],
)
def test_ready_and_given_nothing_is_a_missed_turn(tmp_path: Path, state: str, given: int, missed: bool) -> None:
    turns = Turns(17, tmp_path)
    told(tmp_path, "R", 1000)
    assert not turns.missed()
    told(tmp_path, state, given)
    assert turns.missed() is missed


def test_where_the_system_tells_nothing_nobody_is_starved(tmp_path: Path) -> None:
    turns = Turns(17, tmp_path)
    assert not turns.missed()
    assert not turns.missed()


@pytest.fixture
def spinning() -> Iterator[int]:
    process = subprocess.Popen([sys.executable, "-c", SPINS], stdout=subprocess.PIPE)
    assert process.stdout is not None
    process.stdout.readline()
    yield process.pid
    process.kill()
    process.wait()
    process.stdout.close()


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux tells")
def test_a_stopped_process_misses_no_turn(spinning: int) -> None:
    turns = Turns(spinning)
    os.kill(spinning, signal.SIGSTOP)
    os.waitpid(spinning, os.WUNTRACED)
    assert not any(turns.missed() for _ in range(10))
