"""A MIDI clock as a lead: 24 ticks a quarter note, with a jitter that is filtered out.

Each tick moves a phase-locked loop by a share of its error, and its period by a smaller one: alpha 0.08 and the critically
damped beta of 0.0017, a time constant of about half a beat. A tick more than a quarter of its length off is a stutter: it is
counted, but its time is not believed; six of them one after the other are, and then tell how many ticks were lost. After a
gap of more than four the clock has stopped. Before it is believed, a clock has to run for a quarter note.

Times are seconds. A tick says nothing of which beat it is: the place, and so the phase, is as it was when the clock began to
be followed, or begins with the message "start".
"""

from __future__ import annotations

TICKS = 24
"""In a quarter note (MIDI 1.0)."""
ALPHA, BETA = 0.08, 0.0017
OFF = 0.25
"""A tick further off than this share of its length is a stutter."""
GAP = 4.0
"""A clock that is silent for longer than so many ticks has stopped."""
BELIEVED = 6
"""So many ticks out of time, one after the other, are believed."""
STUTTERS = 4
"""So many stutters within a quarter note are told."""
SHORTEST, LONGEST = 60.0 / 400 / TICKS, 60.0 / 20 / TICKS
"""Seconds in a tick, from 400 to 20 quarter notes a minute."""


class Clock:
    """The clock that is heard."""

    def __init__(self) -> None:
        self.period = 0.0
        """Seconds in a tick; 0 while nothing is known."""
        self.time = 0.0
        """When the latest tick should have been."""
        self.ticks = 0
        """Since it began to run, lost ones counted."""
        self.arrived = float("-inf")
        self.stutters = 0
        """Ticks out of time in this quarter note."""
        self._first = 0.0
        self._off: list[float] = []
        """Errors of the latest ticks, one after the other out of time."""

    @property
    def quarter(self) -> float:
        """Seconds in a quarter note."""
        return self.period * TICKS

    def begin(self) -> None:
        """Nothing is known."""
        self.period, self.ticks, self.stutters, self.arrived = 0.0, 0, 0, float("-inf")
        self._off.clear()

    def silent_from(self) -> float:
        """When it has to be taken for stopped if no tick comes."""
        return self.arrived + GAP * max(self.period, SHORTEST)

    def runs(self, now: float) -> bool:
        """Whether it is believed."""
        return self.ticks >= TICKS and now <= self.silent_from()

    def tick(self, at: float) -> int:
        """A tick. Returns how many went by with it: 1, but for those that are seen to have been lost or to be too many."""
        since = at - self.arrived
        if self.ticks and self.period and since > GAP * self.period:
            self.begin()
        if self.ticks % TICKS == 0:
            self.stutters = 0
        if self.ticks == 0:
            self.ticks, self.time, self.arrived, self._first = 1, at, at, at
            return 1
        if self.ticks < TICKS:
            self.ticks += 1
            self.arrived = at
            self.period = min(max((at - self._first) / (self.ticks - 1), SHORTEST), LONGEST)
            self.time = at
            return 1
        self.arrived = max(self.arrived, at)
        went, error = 1, at - (self.time + self.period)
        if abs(error) > OFF * self.period:
            self.stutters += 1
            self._off.append(error)
        else:
            self._off.clear()
        if len(self._off) == BELIEVED:  # not late, but others were lost (or too many)
            went += round(sum(self._off) / BELIEVED / self.period)
            error = at - (self.time + went * self.period)
            self._off.clear()
        self.ticks += went
        self.time += went * self.period
        if not self._off:
            self.time += ALPHA * error
            self.period = min(max(self.period + BETA * error, SHORTEST), LONGEST)
        return went
