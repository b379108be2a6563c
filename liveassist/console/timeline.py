"""The timeline: where the band's time comes from, and what arrives on it.

Times are seconds from the start of the take. A real timeline hears MIDI callbacks and the desk through one queue: they stamp,
queue and return, and the band's one thread waits on it. A simulated timeline has a script and a clock that jumps, so an hour
is over in a second, and is the same every time.

How the real one waits was measured: a timed ``get`` is some 0.2 ms late, a short spin after it 0.01 ms, so for the notes it
wakes a millisecond early and spins; for everything else it does not.
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable, Iterable
from dataclasses import dataclass
from queue import Empty, SimpleQueue
from typing import Protocol

from liveassist.link import Request

SPIN = 0.001
"""How long before a sharp moment, in seconds, the real timeline wakes and spins."""


@dataclass(frozen=True, slots=True)
class Arrival:
    """Something that came from outside."""

    at: float
    """When, in seconds from the start of the take."""
    port: str
    """Name of the MIDI port, or what it came from."""
    what: bytes | Request
    """A MIDI message, or what a desk asks."""


class Timeline(Protocol):
    """A clock, and the outside world."""

    @property
    def over(self) -> bool:
        """Nothing will ever arrive any more."""

    def now(self) -> float:
        """Seconds from the start of the take."""

    def wait(self, until: float | None, *, sharp: bool = False) -> list[Arrival]:
        """Wait until something arrives, or a moment has come; what arrived, in order. ``sharp``: as near as can be."""


class SimulatedTimeline:
    """A script, and a clock that jumps to whatever comes next."""

    def __init__(self, script: Iterable[Arrival]) -> None:
        self._script = deque(sorted(script, key=lambda arrival: arrival.at))
        self._now = 0.0

    def add(self, arrivals: Iterable[Arrival]) -> None:
        """More of the script, for a player who listens."""
        self._script = deque(sorted((*self._script, *arrivals), key=lambda arrival: arrival.at))

    def instead(self, port: str, after: float, arrivals: Iterable[Arrival]) -> None:
        """What the script has of a port from a moment on is another."""
        self._script = _replaced(self._script, port, after, arrivals)

    @property
    def over(self) -> bool:
        return not self._script

    def now(self) -> float:
        return self._now

    def wait(self, until: float | None, *, sharp: bool = False) -> list[Arrival]:
        if self._script and (until is None or self._script[0].at <= until):
            arrival = self._script.popleft()
            self._now = max(self._now, arrival.at)
            return [arrival]
        self._now = max(self._now, until or 0.0)
        return []


class RealTimeline:
    """The monotonic clock and a queue. With a script, that is heard too, in real time: the demo's imagined player."""

    def __init__(
        self, script: Iterable[Arrival] = (), clock: Callable[[], float] = time.monotonic, *, ends: bool = False
    ) -> None:
        """``ends``: it is over with the script; else it never is."""
        self._clock, self._ends = clock, ends
        self._origin = clock()
        self._queue: SimpleQueue[Arrival] = SimpleQueue()
        self._script = deque(sorted(script, key=lambda arrival: arrival.at))

    def instead(self, port: str, after: float, arrivals: Iterable[Arrival]) -> None:
        """What the script has of a port from a moment on is another."""
        self._script = _replaced(self._script, port, after, arrivals)

    @property
    def over(self) -> bool:
        return self._ends and not self._script

    def now(self) -> float:
        return self._clock() - self._origin

    def on_the_clock(self, at: float) -> float:
        """A time of the take in seconds of the monotonic clock, which all processes of a machine share."""
        return at + self._origin

    def begin(self) -> None:
        """Second 0 is now."""
        self._origin = self._clock()

    def midi(self, port: str) -> Callable[[float, bytes], None]:
        """A callback for a port: stamps (its time is the clock's), queues, returns."""

        def heard(at: float, message: bytes) -> None:
            self._queue.put(Arrival(at - self._origin, port, message))

        return heard

    def asked(self, request: Request) -> None:
        """Hear what a desk asks. May be called from any thread, and from a signal handler."""
        self._queue.put(Arrival(self.now(), "desk", request))

    def wait(self, until: float | None, *, sharp: bool = False) -> list[Arrival]:
        if self._script:
            coming = self._script[0].at
            until, sharp = (coming, True) if until is None or coming < until else (until, sharp)
        arrived = self._queued(until, sharp)
        now = self.now()
        while self._script and self._script[0].at <= now:
            arrived.append(self._script.popleft())
        return arrived

    def _queued(self, until: float | None, sharp: bool) -> list[Arrival]:
        """What is in the queue once something is, or a moment has come."""
        try:
            if until is None:
                arrived = [self._queue.get()]
            else:
                left = until - self.now() - (SPIN if sharp else 0.0)
                arrived = [self._queue.get(timeout=left) if left > 0.0 else self._queue.get_nowait()]
        except Empty:
            arrived = self._spin(until) if sharp and until is not None else []
        while not self._queue.empty():
            arrived.append(self._queue.get_nowait())
        return arrived

    def _spin(self, until: float) -> list[Arrival]:
        """Until something arrives or the moment has come, giving way to the callbacks' threads all the time."""
        while self._queue.empty():
            if self.now() >= until:
                return []
            time.sleep(0)
        return [self._queue.get_nowait()]


def _replaced(script: Iterable[Arrival], port: str, after: float, arrivals: Iterable[Arrival]) -> deque[Arrival]:
    """A script in which one player plays something else from a moment on."""
    kept = (arrival for arrival in script if arrival.port != port or arrival.at < after)
    return deque(sorted((*kept, *arrivals), key=lambda arrival: arrival.at))
