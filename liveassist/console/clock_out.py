"""The MIDI clock that is sent: 24 ticks a quarter note, start, stop, continue and song position, for drum modules and
sequencers.

The band's pulse is corrected as it plays; a clock must not lurch. So a tick follows the one before by a quarter note's 24th,
give or take a tenth of that: a correction of 20 ms at 120 beats a minute is worked off within half a beat. What is further
off than a quarter of a quarter note is no correction but a jump: then, as at a repeat, a skip or a vamp, the clock stops,
says the new song position and goes on with the next sixteenth, which is what positions count (MIDI 1.0: one is six ticks, 14
bits).

It ticks from the count-in on, so that a module has the tempo before the song begins; it starts with the first beat, stops at
a hold while the ticks go on, and continues with the cue. Positions are those of the route as it is unfolded. All times are
the band's; a clock is asked like the band when it wants to be woken.

While the port is away nothing is counted as said: when it is back, what follows is stopped wherever it stood, told the
position and sent on. The guardian hears of every start and stop, so that it can say stop if the band cannot.
"""

from __future__ import annotations

from math import ceil
from typing import Protocol

from liveassist.band.view import TimeLine
from liveassist.console.silencing import CLOCK_STOP

TICK, START, CONTINUE, STOP, SONG_POSITION = b"\xf8", b"\xfa", b"\xfb", CLOCK_STOP, 0xF2
TICKS, SIXTEENTH = 24, 6
"""Ticks in a quarter note, and in a sixteenth."""
GIVE = 0.10
"""A tick's length may differ from the pulse's by so much of it."""
JUMP = 6
"""Further off than so many ticks is a jump."""
BEHIND = 3.0
"""A sixteenth that is past by so many ticks is still the one to go on with; what is late is worked off."""
LATE = 4
"""A clock that could not send for so many ticks does not catch up."""
FARTHEST = 0x3FFF
"""The last song position that can be said: a sixteenth of bar 1024 in four-four."""
SAME = 1e-6


class Sender(Protocol):
    """Something that takes MIDI messages."""

    def send(self, message: bytes) -> bool: ...


class Guard(Protocol):
    """What hears whether the clock goes: the band's end of the guardian's pipe."""

    def clock_rolls(self) -> None: ...

    def clock_halts(self) -> None: ...


class ClockOut:
    """Sends the clock to one port."""

    def __init__(self, sender: Sender, guard: Guard | None = None) -> None:
        self._sender, self._guard = sender, guard
        self._next: float | None = None
        """When the next tick falls; None while there is no tempo."""
        self._number = 0
        """The next tick, counted from the beginning of the route."""
        self._rolling = False
        self._begins: int | None = None
        """The tick with which to go on after a jump or a hold."""
        self._lost = False
        """The latest message was not taken: the port is away."""

    def next_due(self) -> float | None:
        """When to come back."""
        return self._next

    def due(self, now: float, line: TimeLine) -> None:
        """Send what has come due."""
        if self._lost and self._send(STOP):  # the port is back
            self._halt()
        if not line.ticks:
            self.stop()
            return
        if self._next is None or now - self._next > LATE * line.period / TICKS:
            self._join(now, line)
        assert self._next is not None
        if self._rolling and not line.rolls:
            self._halt()
        elif line.rolls and (self._rolling or self._begins is not None) and self._is_elsewhere(line):
            self._halt()
            self._locate(now, line)
        elif line.rolls and not self._rolling and self._begins is None:
            self._locate(now, line)
        while self._next is not None and self._next <= now + SAME:
            self._tick(line)

    def stop(self) -> None:
        """The end."""
        self._halt()
        self._next = None

    def _join(self, now: float, line: TimeLine) -> None:
        """The next tick is the next that the pulse has."""
        self._number = ceil(line.position_at(now) * TICKS - SAME * TICKS)
        self._next = max(now, line.time_of(self._number / TICKS))
        self._halt()

    def _halt(self) -> None:
        if self._rolling:
            self._send(STOP)
            if self._guard is not None:
                self._guard.clock_halts()
        self._rolling, self._begins = False, None

    def _is_elsewhere(self, line: TimeLine) -> bool:
        """Whether the song has jumped away from where the ticks are."""
        assert self._next is not None
        return abs(line.position_at(self._next) * TICKS - self._number) > JUMP

    def _locate(self, now: float, line: TimeLine) -> None:
        """Say where the song goes on: with the next sixteenth, or with this one."""
        assert self._next is not None
        here = line.position_at(now) * TICKS
        begins = max(0, ceil((here - BEHIND) / SIXTEENTH)) * SIXTEENTH
        self._number = begins - max(0, round((line.time_of(begins / TICKS) - self._next) / line.period * TICKS))
        self._begins = begins
        if begins:
            position = min(FARTHEST, begins // SIXTEENTH)
            self._send(bytes((SONG_POSITION, position & 0x7F, position >> 7)))
        if self._number == begins:
            self._next = min(self._next, max(now, line.time_of(begins / TICKS)))

    def _tick(self, line: TimeLine) -> None:
        assert self._next is not None
        if self._begins is not None and self._number >= self._begins:
            if self._guard is not None:
                self._guard.clock_rolls()
            self._send(CONTINUE if self._begins else START)
            self._rolling, self._begins = True, None
        self._send(TICK)
        self._number += 1
        length = line.period / TICKS
        wanted = line.time_of(self._number / TICKS) - self._next
        if not (self._rolling or self._begins is not None):  # which tick it is matters to nobody, when it falls does
            wanted = (wanted / length + 0.5) % 1.0 * length + 0.5 * length
        self._next += min(max(wanted, (1 - GIVE) * length), (1 + GIVE) * length)

    def _send(self, message: bytes) -> bool:
        """Whether it was taken."""
        self._lost = not self._sender.send(message)
        return not self._lost
