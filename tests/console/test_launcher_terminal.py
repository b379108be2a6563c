"""The launcher in a terminal (a pseudo-terminal of the tests' own): the desk in front, killed hard, and offered again."""

from __future__ import annotations

import os
import signal
import struct
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

if sys.platform == "win32":
    pytest.skip("a pseudo-terminal is a Unix thing", allow_module_level=True)

import fcntl
import pty
import termios

CHART = Path(__file__).parents[2] / "demo_charts" / "lanterns_on_the_quay.chart"
LEFT_THE_OTHER_SCREEN = b"\x1b[?1049l"
"""xterm's control sequences: back to the main screen."""


class Terminal:
    """A terminal with the demo in it."""

    def __init__(self) -> None:
        self._ours, theirs = pty.openpty()
        fcntl.ioctl(theirs, termios.TIOCSWINSZ, struct.pack("HHHH", 30, 100, 0, 0))
        self._theirs = theirs
        self.before = termios.tcgetattr(theirs)
        self.shown = b""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "liveassist", "demo", str(CHART)],
            stdin=theirs,
            stdout=theirs,
            stderr=theirs,
            start_new_session=True,
            env={**os.environ, "TERM": "xterm-256color"},
        )
        threading.Thread(target=self._read, daemon=True).start()

    def _read(self) -> None:
        while True:
            try:
                piece = os.read(self._ours, 65536)
            except OSError:
                return
            self.shown += piece

    def type(self, text: bytes) -> None:
        os.write(self._ours, text)

    @property
    def modes(self) -> list[object]:
        return termios.tcgetattr(self._theirs)

    def desk(self) -> int | None:
        """The desk's process, None where there is none."""
        for folder in Path("/proc").glob("[0-9]*"):
            try:
                after_name = (folder / "stat").read_text().rpartition(")")[2].split()
                words = (folder / "cmdline").read_bytes()
            except OSError:  # it ended while we looked
                continue
            if int(after_name[1]) == self.process.pid and b"liveassist.desk" in words:
                return int(folder.name)
        return None

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
        self.process.wait(20)
        os.close(self._theirs)
        os.close(self._ours)


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    if not Path("/proc/self/stat").exists():
        pytest.skip("the desk's process is found by /proc")
    opened = Terminal()
    yield opened
    opened.close()


def test_a_desk_killed_hard_gives_the_terminal_back_and_is_offered_again(
    terminal: Terminal, until: Callable[..., None]
) -> None:
    until(lambda: b"bpm" in terminal.shown, within=20.0)
    first = terminal.desk()
    assert first is not None
    assert terminal.modes != terminal.before
    os.kill(first, signal.SIGKILL)
    until(lambda: b"the band plays on" in terminal.shown)
    assert terminal.modes == terminal.before
    assert LEFT_THE_OTHER_SCREEN in terminal.shown
    terminal.shown = b""
    terminal.type(b"\n")
    until(lambda: b"bpm" in terminal.shown, within=20.0)
    second = terminal.desk()
    assert second not in (None, first)
    os.kill(second or 0, signal.SIGKILL)
    until(lambda: b"the band plays on" in terminal.shown)
    terminal.type(b"q\n")
    assert terminal.process.wait(20) == 0


def test_term_ends_everything_and_gives_the_terminal_back(terminal: Terminal, until: Callable[..., None]) -> None:
    until(lambda: b"bpm" in terminal.shown, within=20.0)
    terminal.process.terminate()
    assert terminal.process.wait(20) == 0
    assert terminal.desk() is None
    assert terminal.modes == terminal.before
