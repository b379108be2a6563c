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
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from liveassist.console.jack_server import bury
from liveassist.console.ports import LAST_OFF

PERIOD = 128
RATE = 48000
TIED = ("-S",)
"""Synchronous mode."""
NAMES = ("JACK_DEFAULT_SERVER", "JACK_NO_START_SERVER", "LIVEASSIST_MIDI")


def wait_until(true: Callable[[], object], *, within: float = 30.0) -> None:
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
def jack(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    """A JACK server that runs during a module; this process and its children use it."""
    if shutil.which("jackd") is None:
        if os.environ.get("LIVEASSIST_REQUIRE_JACK") == "1":
            pytest.fail("jackd is not installed, and LIVEASSIST_REQUIRE_JACK=1 says that it must be")
        pytest.skip("jackd is not installed (Debian: apt-get install jackd2): no real MIDI ports to test with")
    log = tmp_path_factory.mktemp("jack") / "jackd.log"
    with running_jack(log, getattr(request.module, "JACK", TIED)) as server:
        yield server


class Server:
    """A JACK server with some options."""

    def __init__(self, log: Path, options: Sequence[str]) -> None:
        self.name = f"liveassist-test-{os.getpid()}"
        self._log, self._options = log, options
        self._process: subprocess.Popen[bytes] | None = None

    def begin(self) -> None:
        """Start it, and wait until it answers."""
        command = ["jackd", *self._options, "-n", self.name, "--no-realtime"]
        with self._log.open("w") as out:
            self._process = subprocess.Popen(
                [*command, "-d", "dummy", "-r", str(RATE), "-p", str(PERIOD)],
                stdin=subprocess.DEVNULL,
                stdout=out,
                stderr=out,
            )
        wait_until(self._answers, within=30.0)

    def kill(self) -> None:
        """It dies at once. Only one of the same name takes its place in the system's list of servers: let one follow."""
        assert self._process is not None
        self._process.kill()
        self._process.wait(10)

    def hang(self) -> None:
        """It does nothing any more, until it goes on."""
        assert self._process is not None
        self._process.send_signal(signal.SIGSTOP)

    def go_on(self) -> None:
        """It serves again."""
        assert self._process is not None
        self._process.send_signal(signal.SIGCONT)

    def end(self) -> None:
        """It ends."""
        assert self._process is not None
        self._process.terminate()
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self.kill()

    def _answers(self) -> bool:
        """Asked by another process: one that is to outlive the server should have few clients of it."""
        assert self._process is not None
        if self._process.poll() is not None:
            pytest.fail(f"jackd ended with {self._process.returncode}:\n{self._log.read_text()}")
        asked = "from liveassist.console.ports import midi_binding; midi_binding('jack')"
        return subprocess.run([sys.executable, "-c", asked], capture_output=True).returncode == 0


@contextmanager
def running_jack(log: Path, options: Sequence[str]) -> Iterator[Server]:
    """A JACK server, used by this process and its children."""
    before = {name: os.environ.get(name) for name in NAMES}
    server = Server(log, options)
    os.environ.update(zip(NAMES, (server.name, "1", "jack"), strict=True))
    try:
        server.begin()
        yield server
    finally:
        server.end()
        for variable, value in before.items():
            if value is None:
                os.environ.pop(variable, None)
            else:
                os.environ[variable] = value


QUEUE = 65_536
"""Messages that an organ keeps until they are looked at."""
LOOKS = 0.001
"""Seconds between two looks."""


class Far:
    """A virtual port at the far end of a cable, which can be pulled and put back."""

    def __init__(self, name: str, port: str = "keys") -> None:
        self.name = f"{name}:{port}"
        self._client, self._keys = name, port
        self._port: Any = None
        self.again()

    @property
    def closed(self) -> bool:
        return self._port is None

    def again(self) -> None:
        """Put the cable back."""
        self._port = self._made(self._client)
        self._port.open_virtual_port(self._keys)

    def close(self) -> None:
        """Pull the cable."""
        if self._port is not None:
            self._port.close_port()
            self._port.delete()
        self._port = None

    def bury(self) -> None:
        """The server has died: what was there is never touched again."""
        bury(self._port)
        self._port = None

    def _made(self, client: str) -> Any:
        raise NotImplementedError


class FakeOrgan(Far):
    """A virtual port that plays: keeps its own set of sounding keys, and heeds notes only, not controller 123. As a real
    one, it plays on while its cable is out."""

    def __init__(self, name: str, port: str = "keys") -> None:
        self.sounding: set[tuple[int, int]] = set()
        """Channel (1-16) and key."""
        self.heard: list[tuple[float, bytes]] = []
        self.silent_since = time.monotonic()
        super().__init__(name, port)

    def _made(self, client: str) -> Any:
        import rtmidi

        port = rtmidi.MidiIn(rtmidi.API_UNIX_JACK, client, queue_size_limit=QUEUE)
        self._pulled = threading.Event()
        self._ear = threading.Thread(target=self._listen, args=(port, self._pulled), daemon=True)
        self._ear.start()
        return port

    def _listen(self, port: Any, pulled: threading.Event) -> None:
        """Takes what has come from the port's own queue. A callback would run in JACK's thread, where it may still be running
        when its port is closed under it, and memory goes bad."""
        while not pulled.wait(LOOKS):
            while (found := port.get_message()) is not None:
                self._take(bytes(found[0]))

    def _take(self, message: bytes) -> None:
        at = time.monotonic()
        self.heard.append((at, message))
        status, channel = message[0] & 0xF0, (message[0] & 0x0F) + 1
        if status == 0x90 and message[2] > 0:
            self.sounding.add((channel, message[1]))
        elif status in (0x80, 0x90):
            before = len(self.sounding)
            self.sounding.discard((channel, message[1]))
            if before and not self.sounding:
                self.silent_since = at

    def _deaf(self) -> None:
        if self._port is not None:
            self._pulled.set()
            self._ear.join()

    def close(self) -> None:
        self._deaf()
        super().close()

    def bury(self) -> None:
        self._deaf()
        super().bury()


class FakeConsole(Far):
    """A virtual port that is played by the test."""

    _played = float("-inf")
    """When it was played last."""

    def _made(self, client: str) -> Any:
        import rtmidi

        return rtmidi.MidiOut(rtmidi.API_UNIX_JACK, client)

    def play(self, *message: int) -> None:
        self._port.send_message(message)
        self._played = time.monotonic()

    def close(self) -> None:
        """Not while a message is on its way: JACK's thread may be sending it as its port is closed under it, and memory goes
        bad."""
        time.sleep(max(0.0, self._played + LAST_OFF - time.monotonic()))
        super().close()


@pytest.fixture
def fake_organ(jack: Server) -> Iterator[Callable[..., FakeOrgan]]:
    """Makes organs, called by name; they are taken away at the end of the test."""
    made: list[FakeOrgan] = []

    def make(name: str, port: str = "keys") -> FakeOrgan:
        made.append(FakeOrgan(name, port))
        return made[-1]

    yield make
    for organ in made:
        organ.close()


@pytest.fixture
def fake_console(jack: Server) -> Iterator[Callable[..., FakeConsole]]:
    """Makes consoles, called by name; they are taken away at the end of the test."""
    made: list[FakeConsole] = []

    def make(name: str, port: str = "keys") -> FakeConsole:
        made.append(FakeConsole(name, port))
        return made[-1]

    yield make
    for console in made:
        console.close()
