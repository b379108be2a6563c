"""The launcher in a terminal (a pseudo-terminal of the tests' own): the desk in front, killed hard, and offered again."""

from __future__ import annotations

import os
import select
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
        self._there = True
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._reader.start()

    def _read(self) -> None:
        while self._there:
            try:
                if not select.select([self._ours], [], [], 0.05)[0]:
                    continue
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

    def resize(self, rows: int, columns: int) -> None:
        fcntl.ioctl(self._theirs, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def hang_up(self) -> None:
        """Somebody closes the window: the processes in it are told (HUP), and there is no terminal any more."""
        os.close(self._theirs)
        self._theirs = -1
        desk = self.desk()
        for process in (desk, self.process.pid):
            if process is not None:
                os.kill(process, signal.SIGHUP)

    def vanish(self) -> None:
        """The program that was the terminal is gone, and nobody is told."""
        self._there = False
        self._reader.join()
        for end in (self._theirs, self._ours):
            if end >= 0:
                os.close(end)
        self._theirs = self._ours = -1

    def close(self) -> None:
        if self.process.poll() is None:
            self.process.terminate()
        self.process.wait(20)
        self.vanish()


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
    until(lambda: b"bpm" in terminal.shown)
    first = terminal.desk()
    assert first is not None
    assert terminal.modes != terminal.before
    os.kill(first, signal.SIGKILL)
    until(lambda: b"the band plays on" in terminal.shown)
    assert terminal.modes == terminal.before
    assert LEFT_THE_OTHER_SCREEN in terminal.shown
    terminal.shown = b""
    terminal.type(b"\n")
    until(lambda: b"bpm" in terminal.shown)
    second = terminal.desk()
    assert second not in (None, first)
    os.kill(second or 0, signal.SIGKILL)
    until(lambda: b"the band plays on" in terminal.shown)
    terminal.type(b"q\n")
    assert terminal.process.wait(20) == 0


def test_term_ends_everything_and_gives_the_terminal_back(terminal: Terminal, until: Callable[..., None]) -> None:
    until(lambda: b"bpm" in terminal.shown)
    terminal.process.terminate()
    assert terminal.process.wait(20) == 0
    assert terminal.desk() is None
    assert terminal.modes == terminal.before


def band_of(launcher: int) -> int | None:
    """The process of the launcher's band: a child of its guardian."""
    parents: dict[int, int] = {}
    bands = []
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            parents[int(folder.name)] = int((folder / "stat").read_text().rpartition(")")[2].split()[1])
            if b"liveassist.console.band_process" in (folder / "cmdline").read_bytes():
                bands.append(int(folder.name))
        except OSError:  # it ended while we looked
            continue
    return next((band for band in bands if parents.get(parents[band]) == launcher), None)


def test_a_desk_that_is_stopped_and_a_terminal_that_is_resized_come_back(
    terminal: Terminal, until: Callable[..., None]
) -> None:
    until(lambda: b"bpm" in terminal.shown)
    desk = terminal.desk()
    assert desk is not None
    os.kill(desk, signal.SIGSTOP)
    terminal.resize(24, 80)
    assert terminal.process.poll() is None
    terminal.shown = b""
    os.kill(desk, signal.SIGCONT)
    os.kill(desk, signal.SIGWINCH)
    until(lambda: b"bpm" in terminal.shown)
    terminal.resize(50, 140)
    os.kill(desk, signal.SIGWINCH)
    terminal.shown = b""
    until(lambda: b"bpm" in terminal.shown)
    assert terminal.desk() == desk


def runs(process: int | None) -> bool:
    """Whether a process still runs: one that has ended and was not fetched yet has no command line."""
    try:
        return bool(Path(f"/proc/{process}/cmdline").read_bytes())
    except OSError:
        return False


@pytest.mark.parametrize("goes", [Terminal.hang_up, Terminal.vanish], ids=["told", "untold"])
def test_a_terminal_that_is_closed_leaves_the_music_to_itself(
    terminal: Terminal, until: Callable[..., None], goes: Callable[[Terminal], None]
) -> None:
    until(lambda: b"playing" in terminal.shown)
    band, desk = band_of(terminal.process.pid), terminal.desk()
    assert band is not None
    goes(terminal)
    until(lambda: terminal.process.poll() is not None)
    until(lambda: not runs(desk))
    assert runs(band)
    os.kill(band, signal.SIGTERM)
    until(lambda: not runs(band))
