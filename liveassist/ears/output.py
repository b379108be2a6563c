"""The sound process seen from the band: something to send MIDI bytes to, like a port.

``send`` never waits: it puts a line in a queue that a thread of its own writes to the pipe. If the process has died or does
not read any more, what is lost is sound; the process is ended, and with it every tone it held.
"""

from __future__ import annotations

import contextlib
import subprocess
import sys
import threading
from collections.abc import Mapping, Sequence
from queue import Empty, Full, Queue, SimpleQueue

PLAIN_PARTS: Mapping[int, str] = {1: "melody", 2: "figure", 3: "answer", 4: "bass", 10: "click"}
"""Which part sounds for which channel, named 1-16, on the plain console."""
WAITING = 1000
"""Lines that may wait in the queue: more than a second of the busiest music."""
CLOSING_SECONDS = 2.0
USUAL_LATENCY = 0.06
"""Seconds: three blocks of 20 ms."""


class SoundOutput:
    """Send MIDI bytes, hear an organ."""

    def __init__(
        self,
        device: str,
        parts: Mapping[int, str] = PLAIN_PARTS,
        options: Sequence[str] = (),
    ) -> None:
        """Start the sound process.

        Args:
            device: name of the sound device; empty: silence.
            parts: the part for each channel 1-16; notes of other channels are not sounded.
            options: more options for the process.
        """
        self.name = device
        self._parts = parts
        self.latency = USUAL_LATENCY
        """Seconds from a line to its sound, as the process has told, or likely."""
        self._ended = self._away = False
        self._lines: Queue[str | None] = Queue(WAITING)
        self._news: SimpleQueue[str] = SimpleQueue()
        self._process = subprocess.Popen(
            [sys.executable, "-m", "liveassist.ears.sound", "--device", device, *options],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            encoding="utf-8",
            errors="replace",
        )
        self._writer = threading.Thread(target=self._write, daemon=True)
        self._reader = threading.Thread(target=self._read, daemon=True)
        self._writer.start()
        self._reader.start()

    @property
    def well(self) -> bool:
        """Whether the sound process runs, as for a port."""
        return self._process.poll() is None

    def send(self, message: bytes) -> bool:
        """Sound a note message; anything else is ignored, but for the two messages that silence a channel.

        Returns:
            False where there is no sound process any more.
        """
        line = line_for(message, self._parts)
        if line is not None:
            self.say(line)
        return self.well

    def say(self, line: str) -> None:
        """Tell the process a line of its own language (see ``stream``)."""
        try:
            self._lines.put_nowait(line)
        except Full:  # it does not read: a tone that cannot be ended must not go on
            self._process.kill()

    def news(self) -> list[str]:
        """What the process has said since last asked: ``playing NAME``, ``silent: why``. Empties the list."""
        said: list[str] = []
        with contextlib.suppress(Empty):
            while True:
                said.append(self._news.get_nowait())
        return said

    def troubles(self) -> list[str]:
        """What the player should know of what it has said since last asked; the rest is kept in mind."""
        found = []
        for text in self.news():
            word, _, rest = text.partition(" ")
            if word == "latency" and rest.isdigit():
                self.latency = int(rest) / 1000.0
            elif word == "late":
                found.append(f"the computer was busy: clicks left out of {self.name}, {rest} so far")
            elif word == "playing":
                if self._away:
                    found.append(f'sound: the sound device "{rest}" is there now, softly at first')
                self._away = False
            else:
                self._away = self._away or word == "silent:"
                found.append(f"sound: {text.removeprefix('silent: ')}")
        if not self.well and not self._ended:
            self._ended = True
            found.append(f"the sound of {self.name} has ended; the music goes on")
        return found

    def close(self, *, vanished: bool = False) -> None:
        """End the process, and with it every tone. May take as long as the last tones need, two seconds at most.

        Args:
            vanished: do not wait for the last tones.
        """
        if vanished:
            self._process.kill()
        try:
            self._lines.put_nowait(None)
            self._process.wait(CLOSING_SECONDS)
        except (Full, subprocess.TimeoutExpired):
            self._process.kill()
            self._process.wait()
        self._reader.join(CLOSING_SECONDS)

    def _write(self) -> None:
        pipe = self._process.stdin
        assert pipe is not None
        try:
            while (line := self._lines.get()) is not None:
                pipe.write(line + "\n")
                pipe.flush()
        except OSError:  # a broken pipe is one
            self._news.put("silent: the sound process ended")
        with contextlib.suppress(OSError):
            pipe.close()

    def _read(self) -> None:
        assert self._process.stdout is not None
        for line in self._process.stdout:
            self._news.put(line.rstrip())
        self._process.stdout.close()


def line_for(message: bytes, parts: Mapping[int, str] = PLAIN_PARTS) -> str | None:
    """The line that says a MIDI message to the sound process; None where it has nothing to say.

    Note on with velocity 0 is a note off; controls 120 and 123 silence (MIDI 1.0).
    """
    if len(message) != 3:
        return None
    status, first, second = message
    kind, part = status & 0xF0, parts.get((status & 0x0F) + 1)
    if part is None:
        return None
    if kind == 0xB0 and first in (120, 123):
        return "silence"
    if kind == 0x90 and second:
        return f"on {part} {first}"
    return f"off {part} {first}" if kind in (0x80, 0x90) else None
