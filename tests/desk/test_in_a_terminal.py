"""The desk as its own process in a real terminal, over the real link."""

from __future__ import annotations

import os
import shlex
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from liveassist.desk import EXIT_LEFT, EXIT_RESTART, EXIT_USAGE
from liveassist.link import TOKEN_VARIABLE, LinkServer, Picture, Request, new_token

needs_tmux = pytest.mark.skipif(shutil.which("tmux") is None, reason="tmux is not installed")

BAND = """
import sys, time
from liveassist.link import LinkServer, Picture
band = LinkServer(sys.argv[1])
print(band.address[1], flush=True)
at = 0
while True:
    at += 1
    band.publish(Picture(at=at, state="playing", chord="G/B", section="Chorus"))
    time.sleep(0.05)
"""


class Terminal:
    """A terminal of 80 columns and 24 rows."""

    def __init__(self) -> None:
        self._tmux = ["tmux", "-L", f"desk-{os.getpid()}-{time.monotonic_ns()}", "-f", os.devnull]

    def run(self, port: int, token: str) -> None:
        """Start the desk; its exit code is printed when it ends."""
        desk = shlex.join([sys.executable, "-m", "liveassist.desk", "127.0.0.1", str(port)])
        script = f"{desk}; echo code $?; sleep 600"
        variable = f"{TOKEN_VARIABLE}={token}"
        self._say("new-session", "-d", "-x", "80", "-y", "24", "-e", variable, "-e", "COLORTERM=truecolor", script)

    def _say(self, *words: str) -> str:
        return subprocess.run([*self._tmux, *words], check=True, capture_output=True, text=True, timeout=10).stdout

    def press(self, *keys: str) -> None:
        self._say("send-keys", *keys)

    def text(self) -> str:
        return self._say("capture-pane", "-p")

    def until(self, question: Callable[[], object], seconds: float = 30.0) -> object:
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            if answer := question():
                return answer
            time.sleep(0.02)
        raise AssertionError(f"not seen within {seconds} s:\n{self.text()}")

    def shows(self, words: str) -> None:
        self.until(lambda: words in self.text())

    def desk_pid(self) -> int:
        """The desk is the child of the pane's shell."""
        shell = self._say("list-panes", "-F", "#{pane_pid}").strip()
        return int(Path(f"/proc/{shell}/task/{shell}/children").read_text().split()[0])

    def close(self) -> None:
        subprocess.run([*self._tmux, "kill-server"], check=False, capture_output=True, timeout=10)


@pytest.fixture
def terminal() -> Iterator[Terminal]:
    made = Terminal()
    yield made
    made.close()


@needs_tmux
def test_a_desk_in_a_real_terminal(terminal: Terminal, mid_song: Picture) -> None:
    token = new_token()
    with LinkServer(token) as band:
        band.publish(mid_song)
        terminal.run(band.address[1], token)
        terminal.shows("Chorus, 2nd time, bar 3 of 8")
        assert "►  5 Chorus  twice" in terminal.text()

        terminal.press("a")
        assert terminal.until(band.requests) == [Request(ask="nod", name="again")]
        for key in ("Space", "NPage", "PPage", "Right"):  # as tmux names the keys of a page-turner
            terminal.press(key)
            assert terminal.until(band.requests) == [Request(ask="cue")]
        terminal.press("]")
        assert terminal.until(band.requests) == [Request(ask="nod", name="up")]

        band.publish(replace(mid_song, chord="B♭(add9)", section="[/]", state="vamping"))
        terminal.shows("[/], 2nd time")
        terminal.shows("↻ vamping")

        for key in ("C-c", "C-q"):
            terminal.press(key)
            terminal.shows("The band is playing. Leave?")
            terminal.press("n")
            terminal.until(lambda: "Leave?" not in terminal.text())
        assert band.requests() == []

        terminal.press("q")
        terminal.shows("Leave?")
        terminal.press("y")
        terminal.shows(f"code {EXIT_LEFT}")
        assert terminal.until(band.requests) == [Request(ask="leave")]


@needs_tmux
def test_a_killed_band_is_told_and_may_be_started_again(terminal: Terminal) -> None:
    token = new_token()
    with subprocess.Popen([sys.executable, "-c", BAND, token], stdout=subprocess.PIPE, text=True) as band:
        assert band.stdout is not None
        terminal.run(int(band.stdout.readline()), token)
        terminal.shows("► playing")
        os.kill(band.pid, signal.SIGKILL)
        terminal.shows("The band has stopped; the organ has been silenced.")
        terminal.press("r")
        terminal.shows(f"code {EXIT_RESTART}")


@needs_tmux
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads the processor time from /proc")
def test_the_desk_leaves_the_processor_to_the_music(terminal: Terminal, mid_song: Picture) -> None:
    token = new_token()
    with LinkServer(token) as band:
        band.publish(mid_song)
        begin = time.monotonic()
        terminal.run(band.address[1], token)
        terminal.shows("Chorus")
        print(f"\nfirst picture after {time.monotonic() - begin:.2f} s")
        stat = Path(f"/proc/{terminal.desk_pid()}/stat")

        def busy() -> float:
            user, system = stat.read_text().rsplit(")", 1)[1].split()[11:13]
            return (int(user) + int(system)) / os.sysconf("SC_CLK_TCK")

        chords = ("G/B", "A7sus4", "F♯m7♭5", "B♭(add9)")
        spent, began = busy(), time.monotonic()
        for number in range(48):  # twelve pictures a second, and a beat or a chord in most of them
            beat = number // 3
            chord, next_chord = chords[beat % 4], chords[(beat + 1) % 4]
            band.publish(replace(mid_song, at=number / 12, beat=beat % 4 + 1, chord=chord, next_chord=next_chord))
            time.sleep(max(0.0, began + number / 12 - time.monotonic()))
        share = (busy() - spent) / (time.monotonic() - began)
    print(f"the desk takes {share:.1%} of a core at twelve pictures and four chords a second")
    assert share < 0.15


def run_desk(*arguments: str, token: str = "") -> subprocess.CompletedProcess[str]:
    environment = {name: value for name, value in os.environ.items() if name != TOKEN_VARIABLE}
    if token:
        environment[TOKEN_VARIABLE] = token
    command = [sys.executable, "-m", "liveassist.desk", *arguments]
    return subprocess.run(command, env=environment, capture_output=True, text=True, check=False, timeout=20)


@pytest.mark.parametrize(
    ("arguments", "token"),
    [((), "x"), (("127.0.0.1",), "x"), (("127.0.0.1", "five"), "x"), (("127.0.0.1", "4000"), "")],
    ids=["nothing", "no port", "no number", "no token"],
)
def test_a_desk_started_wrongly_says_how(arguments: tuple[str, ...], token: str) -> None:
    ended = run_desk(*arguments, token=token)
    assert ended.returncode == EXIT_USAGE
    assert "HOST PORT" in ended.stderr
    assert TOKEN_VARIABLE in ended.stderr
