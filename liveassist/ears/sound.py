"""The sound process: lines of text in, an organ tone and a click out, through a device chosen by name.

    python -m liveassist.ears.sound --device NAME

It reads one line at a time from its standard input: ``on PART KEY``, ``off PART KEY``, ``silence``, ``quit``; the end of input
is ``quit`` too, so nothing sounds when the parent dies. What it has to say it writes to its standard output, a line each:
``playing NAME`` or ``silent: why``.

Where sound goes: only ever to the device that was named. The system's default device is never used, and when the named
one is missing or goes away the process falls silent, says so, and stays silent: a click must not end up in the nave.

Lateness: every line sounds one block of the device later than it came, and lines keep their distances to the sample. So the
delay is constant, and a delay that never changes is one that a player can live with.
"""

from __future__ import annotations

import argparse
import signal
import sys
import threading
import time
from collections.abc import Generator, Iterable, Sequence
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from typing import IO, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from liveassist.ears.tone import PARTS, RATE, Organ, Samples
from liveassist.errors import PlayerError

BLOCK_MS = 60
"""Asked of the device; only a hint."""
CHANNELS = 2
WATCH_SECONDS = 1.0
"""How often to look whether the device is still there, and how long it may stall."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to do."""

    at: float
    """When it came, in seconds of the monotonic clock."""
    word: str
    """"on", "off" or "silence"."""
    part: str = ""
    key: int = 0


def read_line(text: str, at: float) -> Line:
    """``"on figure 60"`` to a line. Raises ValueError saying what would fit."""
    match text.split():
        case ["silence"]:
            return Line(at, "silence")
        case [("on" | "off") as word, part, key] if part in PARTS and key.isdigit() and int(key) < 128:
            return Line(at, word, part, int(key))
    parts = ", ".join(PARTS)
    raise ValueError(
        f'"{text.strip()}": I can read on PART KEY, off PART KEY, silence and quit; parts are {parts}, keys 0-127'
    )


class Stream:
    """Lines in from one thread, samples out to another."""

    def __init__(self, organ: Organ, began: float) -> None:
        self._organ = organ
        self._lines: SimpleQueue[Line] = SimpleQueue()
        self._since = began

    def put(self, line: Line) -> None:
        """Take a line, to sound in the next block."""
        self._lines.put(line)

    def block(self, frames: int, now: float) -> Samples:
        """The next so many samples. Each line that came since the last block stands as far into this one as it came
        into the time between them.

        Args:
            frames: how many samples the device wants.
            now: when it asks, in seconds of the clock that stamped the lines.
        """
        since, self._since = self._since, now
        pieces: list[Samples] = []
        done = 0
        for line in self._waiting():
            until = min(max(round((line.at - since) * self._organ.rate), done), frames)
            pieces.append(self._organ.next(until - done))
            done = until
            self._do(line)
        pieces.append(self._organ.next(frames - done))
        return np.concatenate(pieces)

    def stalled(self, now: float) -> bool:
        """Whether the device has stopped asking for samples."""
        return now - self._since > WATCH_SECONDS

    def _waiting(self) -> Iterable[Line]:
        while True:
            try:
                yield self._lines.get_nowait()
            except Empty:
                return

    def _do(self, line: Line) -> None:
        if line.word == "on":
            self._organ.press(line.part, line.key)
        elif line.word == "off":
            self._organ.release(line.part, line.key)
        else:
            self._organ.release_all()


class Source(Protocol):
    """What a device can play."""

    def block(self, frames: int, now: float) -> NDArray[np.floating[Any]]:
        """The next so many samples, for both ears or, with two columns, for left and right."""

    def stalled(self, now: float) -> bool:
        """Whether the device has stopped asking for samples."""


def feed(source: Source) -> Generator[bytes, int, None]:
    """What the device draws from: so many frames asked, as many sent."""
    frames = yield b""
    while True:
        samples = source.block(frames, time.monotonic()).astype(np.float32)
        frames = yield (samples if samples.ndim > 1 else np.repeat(samples, CHANNELS)).tobytes()


def list_devices(backends: Sequence[Any] | None = None) -> list[str]:
    """Names of the sound devices of this machine. Raises PlayerError where there is no sound system at all."""
    return [str(device["name"]) for device in _playbacks(backends)]


def find_device(wanted: str, names: Sequence[str]) -> str:
    """The one name meant: exact, else capitals aside, else the only one that contains it. Raises PlayerError."""
    for fits in (
        lambda name: name == wanted,
        lambda name: name.casefold() == wanted.casefold(),
        lambda name: bool(wanted.strip()) and wanted.casefold() in name.casefold(),
    ):
        found = [name for name in names if fits(name)]
        if len(found) == 1:
            return found[0]
        if found:
            raise PlayerError(f'"{wanted}" could be any of these sound devices: {", ".join(found)}; name one in full')
    there = ", ".join(names) if names else "none"
    raise PlayerError(f'there is no sound device "{wanted}"; there are: {there}')


class Player:
    """The named device, playing until it is closed or goes away."""

    def __init__(self, wanted: str, stream: Source, backends: Sequence[Any] | None = None) -> None:
        """Raises PlayerError where the device cannot be found or opened."""
        miniaudio = _miniaudio()
        devices = _playbacks(backends)
        self.name = find_device(wanted, [str(device["name"]) for device in devices])
        chosen = next(device for device in devices if device["name"] == self.name)
        self._backends = backends
        self._stream = stream
        source = feed(stream)
        next(source)
        try:
            self._device = miniaudio.PlaybackDevice(
                output_format=miniaudio.SampleFormat.FLOAT32,
                nchannels=CHANNELS,
                sample_rate=RATE,
                buffersize_msec=BLOCK_MS,
                device_id=chosen["id"],
                backends=backends,
                app_name="liveassist",
            )
            self._device.start(source)
        except miniaudio.MiniaudioError as error:
            raise PlayerError(f'the sound device "{self.name}" would not open: {error}') from error

    def gone(self) -> bool:
        """Whether the device went away or stopped taking sound."""
        try:
            return self._stream.stalled(time.monotonic()) or self.name not in list_devices(self._backends)
        except PlayerError:  # the whole sound system went away
            return True

    def close(self) -> None:
        self._device.close()


def run(lines: IO[str], says: IO[str], device: str, backends: Sequence[Any] | None = None) -> None:
    """Play what the lines ask until they end."""

    def say(text: str) -> None:
        print(text, file=says, flush=True)

    stream, ended, lost = Stream(Organ(), time.monotonic()), threading.Event(), threading.Event()
    player: Player | None = None
    if not device:
        say("silent: no sound device chosen")
    else:
        try:
            player = Player(device, stream, backends)
            say(f"playing {player.name}")
        except PlayerError as error:
            say(f"silent: {error}")

    def watch(playing: Player) -> None:
        while not ended.wait(WATCH_SECONDS):
            if playing.gone():
                lost.set()
                playing.close()
                say(f'silent: the sound device "{playing.name}" went away')
                return

    watcher = threading.Thread(target=watch, args=(player,), daemon=True) if player else None
    if watcher:
        watcher.start()
    for text in lines:
        if text.strip() == "quit":
            break
        if not text.strip():
            continue
        try:
            line = read_line(text, time.monotonic())
        except ValueError as error:
            say(f"not understood: {error}")
        else:
            if player and not lost.is_set():
                stream.put(line)
    ended.set()
    if player and watcher:
        watcher.join(WATCH_SECONDS)
        if not lost.is_set():
            stream.put(Line(time.monotonic(), "silence"))
            time.sleep(2 * BLOCK_MS / 1000)  # the last tones die away instead of breaking off
            player.close()


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m liveassist.ears.sound", description=__doc__.splitlines()[0])
    parser.add_argument("--device", default="", metavar="NAME", help="the sound device; without one, silence")
    parser.add_argument("--devices", action="store_true", help="list the sound devices and leave")
    parser.add_argument("--null", action="store_true", help="devices that take sound and make none, for tests")
    options = parser.parse_args(argv)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the end of input ends this process, not the terminal's keys
    try:
        backends = [_miniaudio().Backend.NULL] if options.null else None
        if options.devices:
            print("\n".join(list_devices(backends)))
        else:
            run(sys.stdin, sys.stdout, options.device, backends)
    except PlayerError as error:
        print(error, file=sys.stderr)
        return 1
    return 0


def _miniaudio() -> Any:
    try:
        import miniaudio  # here and not above: there is no build of it for every machine
    except ImportError as error:
        raise PlayerError(
            "sound needs the package miniaudio, which is not installed here; pip install miniaudio,"
            " or play through MIDI without it"
        ) from error
    return miniaudio


def _playbacks(backends: Sequence[Any] | None) -> list[dict[str, Any]]:
    miniaudio = _miniaudio()
    try:
        return list(miniaudio.Devices(backends).get_playbacks())
    except miniaudio.MiniaudioError as error:
        raise PlayerError(f"the sound system of this machine does not answer: {error}") from error


if __name__ == "__main__":
    sys.exit(main())
