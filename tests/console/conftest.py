"""A JACK server of our own for the tests, and the things at the other end of its cables: a fake console and a fake organ.

The server has the dummy driver; its name carries the process number, so that several runs on one machine do not meet. It is
ended by its process number. As a rule it runs in synchronous mode, so that no message is lost. A module whose tests kill
clients asks for other options by its ``JACK``: in synchronous mode the server stands still for ten times its client
timeout (half a second unless told) after a client has died, and in the usual mode for that timeout when two clients die at
once (measured with jackd2 1.9.21); single messages may be lost there.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

import pytest

PERIOD = 128
RATE = 48000
TIED = ("-S",)
"""Synchronous mode."""
NAMES = ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER", "LIVEASSIST_MIDI")


def wait_until(true: Callable[[], object], *, within: float = 5.0) -> None:
    """Wait until something is so, looking often. Fails when it is not so in time."""
    end = time.monotonic() + within
    while not true():
        if time.monotonic() > end:
            pytest.fail(f"waited {within:g} s in vain")
        time.sleep(0.001)


@pytest.fixture(scope="session")
def until() -> Callable[..., None]:
    """``wait_until``, for tests."""
    return wait_until


@pytest.fixture(scope="module")
def jack(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Name of a JACK server that runs during a module; this process and its children use it."""
    if shutil.which("jackd") is None:
        if os.environ.get("LIVEASSIST_REQUIRE_JACK") == "1":
            pytest.fail("jackd is not installed, and LIVEASSIST_REQUIRE_JACK=1 says that it must be")
        pytest.skip("jackd is not installed (Debian: apt-get install jackd2): no real MIDI ports to test with")
    log = tmp_path_factory.mktemp("jack") / "jackd.log"
    with running_jack(log, getattr(request.module, "JACK", TIED)) as name:
        yield name


@contextmanager
def running_jack(log: Path, options: Sequence[str]) -> Iterator[str]:
    """A JACK server with some options, used by this process and its children; its name."""
    before = {name: os.environ.get(name) for name in NAMES}
    name = f"liveassist-test-{os.getpid()}"
    os.environ.update(zip(NAMES, (name, "1", "jack"), strict=True))
    command = ["jackd", *options, "-n", name, "--no-realtime", "-d", "dummy", "-r", str(RATE), "-p", str(PERIOD)]
    with log.open("w") as out:
        process = subprocess.Popen(command, stdin=subprocess.DEVNULL, stdout=out, stderr=out)
    try:
        wait_until(lambda: _answers(process, log), within=20.0)
        yield name
    finally:
        process.terminate()
        try:
            process.wait(10)
        except subprocess.TimeoutExpired:
            process.kill()
            process.wait(10)
        for variable, value in before.items():
            if value is None:
                os.environ.pop(variable, None)
            else:
                os.environ[variable] = value


def _answers(process: subprocess.Popen[bytes], log: Path) -> bool:
    from liveassist.console.ports import midi_binding
    from liveassist.errors import PlayerError

    if process.poll() is not None:
        pytest.fail(f"jackd ended with {process.returncode}:\n{log.read_text()}")
    try:
        midi_binding("jack")
    except PlayerError:
        return False
    return True


class FakeOrgan:
    """A virtual port that plays: keeps its own set of sounding keys, and heeds notes only, not controller 123."""

    def __init__(self, name: str, port: str = "keys") -> None:
        import rtmidi

        self.name = f"{name}:{port}"
        self.closed = False
        self.sounding: set[tuple[int, int]] = set()
        """Channel (1-16) and key."""
        self.heard: list[tuple[float, bytes]] = []
        self.silent_since = time.monotonic()
        self._port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, name)
        self._port.open_virtual_port(port)
        self._port.set_callback(self._take)

    def _take(self, event: tuple[list[int], float], _: object) -> None:
        at = time.monotonic()
        message = bytes(event[0])
        self.heard.append((at, message))
        status, channel = message[0] & 0xF0, (message[0] & 0x0F) + 1
        if status == 0x90 and message[2] > 0:
            self.sounding.add((channel, message[1]))
        elif status in (0x80, 0x90):
            before = len(self.sounding)
            self.sounding.discard((channel, message[1]))
            if before and not self.sounding:
                self.silent_since = at

    def close(self) -> None:
        if not self.closed:
            self._port.cancel_callback()
            self._port.close_port()
            self._port.delete()
        self.closed = True


class FakeConsole:
    """A virtual port that is played by the test."""

    def __init__(self, name: str, port: str = "keys") -> None:
        import rtmidi

        self.name = f"{name}:{port}"
        self.closed = False
        self._port = rtmidi.MidiOut(rtmidi.API_UNIX_JACK, name)
        self._port.open_virtual_port(port)

    def play(self, *message: int) -> None:
        self._port.send_message(message)

    def close(self) -> None:
        if not self.closed:
            self._port.close_port()
            self._port.delete()
        self.closed = True


@pytest.fixture
def fake_organ(jack: str) -> Iterator[Callable[..., FakeOrgan]]:
    """Makes organs, called by name; they are taken away at the end of the test."""
    made: list[FakeOrgan] = []

    def make(name: str, port: str = "keys") -> FakeOrgan:
        made.append(FakeOrgan(name, port))
        return made[-1]

    yield make
    for organ in made:
        organ.close()


@pytest.fixture
def fake_console(jack: str) -> Iterator[Callable[..., FakeConsole]]:
    """Makes consoles, called by name; they are taken away at the end of the test."""
    made: list[FakeConsole] = []

    def make(name: str, port: str = "keys") -> FakeConsole:
        made.append(FakeConsole(name, port))
        return made[-1]

    yield make
    for console in made:
        console.close()
