"""The one device that is meant: opened when it is there, silent while it is away, and opened again when it is back.

What was opened once is opened again under the same full name only: another device whose name is like it is not the one that
was meant. Each opening begins with a stream of its own, so clicks come back softly (``earpiece``) and nothing is late that
was scheduled before; keys that should be down are pressed. A device that goes away again at once is left alone for longer and
longer.

Lines come from one thread, ``look`` is called by another.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from threading import Lock
from typing import Protocol

from liveassist.ears.stream import Line, Stream
from liveassist.ears.tone import Samples
from liveassist.errors import PlayerError

STEADY = 10.0
"""A device that played for less than so many seconds is not trusted."""
LONGEST = 30.0
"""For at most so many seconds it is left alone then."""


class Playing(Protocol):
    """A device that plays a stream."""

    @property
    def name(self) -> str: ...

    def gone(self) -> bool: ...

    def close(self) -> None: ...


class Device:
    """What is to sound, and the device through which it does while that is there."""

    def __init__(
        self,
        wanted: str,
        make: Callable[[], Stream],
        opens: Callable[[str, Stream, bool], Playing],
        say: Callable[[str], None],
        *,
        again: float = 1.0,
    ) -> None:
        """
        Args:
            wanted: its name, or as much of it as only one has.
            make: a stream that nothing sounds in yet.
            opens: opens the device of a name for a stream; if told so, of this full name only. Raises PlayerError.
            say: hears ``playing NAME``, ``silent: why``, ``latency MS``, ``late NUMBER``.
            again: seconds after which a device that went away is looked for.
        """
        self._wanted, self._make, self._opens, self._say, self._again = wanted, make, opens, say, again
        self._lock = Lock()
        self._player: Playing | None = None
        self._stream = make()
        self._name = ""
        """Its full name, once it was open."""
        self._down: set[tuple[str, int]] = set()
        self._offsets: dict[int, Line] = {}
        self._clips: dict[str, Samples] = {}
        self._told = ""
        self._opened = self._not_before = float("-inf")
        self._pause = again
        self._latency = 0.0
        self._late = self._late_before = 0

    @property
    def latency(self) -> float:
        """Seconds from a line that was not foretold to its sound; 0 while it is away."""
        return self._stream.latency if self._player is not None else 0.0

    def put(self, line: Line) -> None:
        """Take a line."""
        with self._lock:
            match line.word:
                case "on" if not line.scheduled:
                    self._down.add((line.part, line.key))
                case "off":
                    self._down.discard((line.part, line.key))
                case "silence":
                    self._down.clear()
                case "offset":
                    self._offsets[line.key] = line
            if self._player is not None:
                self._stream.put(line)

    def load(self, clips: Mapping[str, Samples]) -> None:
        """Know more clips by name."""
        with self._lock:
            self._clips.update(clips)
            self._stream.load(clips)

    def look(self, now: float) -> None:
        """See to the device at ``now``, seconds."""
        if self._player is None:
            if now >= self._not_before:
                self._open(now)
        elif self._player.gone():
            self._lose(now)
        else:
            self._tell()

    def close(self) -> None:
        """The end."""
        if self._player is not None:
            self._player.close()

    def _open(self, now: float) -> None:
        stream = self._make()
        try:
            player = self._opens(self._name or self._wanted, stream, bool(self._name))
        except PlayerError as error:
            self._not_before = now + self._again
            self._silent(str(error))
            return
        with self._lock:
            self._late_before, self._late = self._late_before + self._stream.late, 0
            stream.load(self._clips)
            for line in (*self._offsets.values(), *(Line(now, "on", part, key) for part, key in sorted(self._down))):
                stream.put(line)
            self._stream, self._player, self._name = stream, player, player.name
        self._opened, self._told = now, ""
        self._say(f"playing {player.name}")

    def _lose(self, now: float) -> None:
        assert self._player is not None
        with self._lock:
            player, self._player = self._player, None
        player.close()
        self._pause = self._again if now - self._opened >= STEADY else min(2 * self._pause, LONGEST)
        self._not_before = now + self._pause
        self._silent(f'the sound device "{player.name}" went away')

    def _silent(self, why: str) -> None:
        """Once for each time that it is away: what it lacks while it is, the player knows."""
        if not self._told:
            self._told = why
            self._say(f"silent: {why}")

    def _tell(self) -> None:
        stream = self._stream
        if stream.latency != self._latency:
            self._latency = stream.latency
            self._say(f"latency {self._latency * 1000:.0f}")
        if stream.late != self._late:
            self._late = stream.late
            self._say(f"late {self._late_before + self._late}")
