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
"""

from __future__ import annotations

from math import ceil
from typing import Protocol

from liveassist.band.view import TimeLine

TICK, START, CONTINUE, STOP, SONG_POSITION = b"\xf8", b"\xfa", b"\xfb", b"\xfc", 0xF2
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


class ClockOut:
    """Sends the clock to one port."""

    def __init__(self, sender: Sender) -> None:
        self._sender = sender
        self._next: float | None = None
        """When the next tick falls; None while there is no tempo."""
        self._number = 0
        """The next tick, counted from the beginning of the route."""
        self._rolling = False
        self._begins: int | None = None
        """The tick with which to go on after a jump or a hold."""

    def next_due(self) -> float | None:
        """When to come back."""
        return self._next

    def due(self, now: float, line: TimeLine) -> None:
        """Send what has come due."""
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
            self._sender.send(STOP)
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
            self._sender.send(bytes((SONG_POSITION, position & 0x7F, position >> 7)))
        if self._number == begins:
            self._next = min(self._next, max(now, line.time_of(begins / TICKS)))

    def _tick(self, line: TimeLine) -> None:
        assert self._next is not None
        if self._begins is not None and self._number >= self._begins:
            self._sender.send(CONTINUE if self._begins else START)
            self._rolling, self._begins = True, None
        self._sender.send(TICK)
        self._number += 1
        length = line.period / TICKS
        wanted = line.time_of(self._number / TICKS) - self._next
        if not (self._rolling or self._begins is not None):  # which tick it is matters to nobody, when it falls does
            wanted = (wanted / length + 0.5) % 1.0 * length + 0.5 * length
        self._next += min(max(wanted, (1 - GIVE) * length), (1 + GIVE) * length)
