"""The sound process: lines of text in, an organ tone and a click out, through a device chosen by name.

    python -m liveassist.ears.sound --device NAME [--ear SIDE,LEVEL,OFFSET]... [--buffer MS] [--drawn NAME]

It reads one line at a time from its standard input: what ``stream`` knows, ``load NAME FILE`` for a word to be spoken, and
``quit``; the end of input is ``quit`` too, so nothing sounds when the parent dies. What it has to say it writes to its standard
output, a line each: ``playing NAME``, ``latency MS`` (from a line to its sound), ``silent: why``, ``late NUMBER``.

Where sound goes: only ever to the device that was named. The system's default device is never used, and when the named
one is missing or goes away the process falls silent, says so, and stays silent until that one is back: a click must not end up
in the nave (``device``). A device of another sample rate is no matter: its driver or miniaudio converts.
"""

from __future__ import annotations

import argparse
import os
import signal
import sys
import threading
import time
from collections.abc import Generator, Sequence
from typing import IO, Any, Protocol

import numpy as np
from numpy.typing import NDArray

from liveassist.ears.clips import read_word
from liveassist.ears.destination import Destination, read_destination
from liveassist.ears.device import Device
from liveassist.ears.earpiece import Earpiece
from liveassist.ears.stream import PERIODS, Line, Stream, read_line
from liveassist.ears.tone import DRAWN, RATE, Organ
from liveassist.errors import PlayerError

BLOCK_MS = 60
"""Asked of the device where nobody waits for the sound; only a hint."""
QUICK_MS = 20
"""The same where somebody does."""
CHANNELS = 2
SOUND = "LIVEASSIST_SOUND"
"""Environment variable: "null" for devices that take sound and make none, for tests."""
WATCH_SECONDS = 1.0
"""How often to look whether the device is still there."""


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

    def __init__(
        self,
        wanted: str,
        stream: Source,
        backends: Sequence[Any] | None = None,
        *,
        block_ms: float = BLOCK_MS,
        exact: bool = False,
    ) -> None:
        """``exact``: of this full name only. Raises PlayerError where the device cannot be found or opened."""
        miniaudio = _miniaudio()
        devices = _playbacks(backends)
        names = [str(device["name"]) for device in devices]
        self.name = find_device(wanted, [name for name in names if name == wanted] if exact else names)
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
                buffersize_msec=max(1, round(block_ms)),
                callback_periods=PERIODS,
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


def run(
    lines: IO[str],
    says: IO[str],
    device: str,
    backends: Sequence[Any] | None = None,
    *,
    ears: Sequence[Destination] = (),
    drawn: str = "",
    block_ms: float = QUICK_MS,
) -> None:
    """Play what the lines ask until they end."""

    def say(text: str) -> None:
        print(text, file=says, flush=True)

    def make() -> Stream:
        return Stream(Organ(drawn=drawn), time.monotonic(), [Earpiece(destination) for destination in ears])

    def opens(name: str, stream: Stream, exact: bool) -> Player:
        return Player(name, stream, backends, block_ms=block_ms, exact=exact)

    ended = threading.Event()
    played = Device(device, make, opens, say, again=WATCH_SECONDS)

    def watch() -> None:
        while not ended.wait(WATCH_SECONDS):
            played.look(time.monotonic())

    watcher = threading.Thread(target=watch, daemon=True)
    if device:
        played.look(time.monotonic())
        watcher.start()
    else:
        say("silent: no sound device chosen")
    for text in lines:
        if text.strip() == "quit":
            break
        if not text.strip():
            continue
        try:
            if text.startswith("load "):
                _, name, path = text.strip().split(" ", 2)
                played.load({name: read_word(path)})
                continue
            line = read_line(text, time.monotonic())
        except (ValueError, PlayerError) as error:
            say(f"not understood: {error}")
        else:
            played.put(line)
    ended.set()
    if device:
        watcher.join(WATCH_SECONDS)
        played.put(Line(time.monotonic(), "silence"))
        if played.latency:
            time.sleep(played.latency + 2 * QUICK_MS / 1000)  # the last tones die away instead of breaking off
        played.close()


def main(argv: Sequence[str] | None = None) -> int:
    parser = argparse.ArgumentParser(prog="python -m liveassist.ears.sound", description=__doc__.splitlines()[0])
    parser.add_argument("--device", default="", metavar="NAME", help="the sound device; without one, silence")
    parser.add_argument("--ear", action="append", default=[], metavar="SIDE,LEVEL,OFFSET", help="an earpiece")
    parser.add_argument("--buffer", type=float, default=QUICK_MS, metavar="MS", help="a block of the device")
    parser.add_argument("--drawn", default="", choices=["", *DRAWN], help="stops of the organ tone")
    parser.add_argument("--devices", action="store_true", help="list the sound devices and leave")
    parser.add_argument("--null", action="store_true", help="devices that take sound and make none, for tests")
    options = parser.parse_args(argv)
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # the end of input ends this process, not the terminal's keys
    try:
        silent = options.null or os.environ.get(SOUND) == "null"
        backends = [_miniaudio().Backend.NULL] if silent else None
        if options.devices:
            print("\n".join(list_devices(backends)))
        else:
            run(
                sys.stdin,
                sys.stdout,
                options.device,
                backends,
                ears=[read_destination(text) for text in options.ear],
                drawn=options.drawn,
                block_ms=options.buffer,
            )
    except (PlayerError, ValueError) as error:
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
