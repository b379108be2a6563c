"""A MIDI clock as a lead: 24 ticks a quarter note, with a jitter that is filtered out.

Each tick moves a phase-locked loop by a share of its error, and its period by a smaller one: alpha 0.08 and the critically
damped beta of 0.0017, a time constant of about half a beat. A tick more than a quarter of its length off is a stutter: it is
counted, but its time is not believed. Ticks that were lost are counted by the time that went by; after a gap of more than
four the clock has stopped. Before it is believed, a clock has to run for a quarter note.

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
STUTTERS = 6
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

    @property
    def quarter(self) -> float:
        """Seconds in a quarter note."""
        return self.period * TICKS

    def begin(self) -> None:
        """Nothing is known."""
        self.period, self.ticks, self.stutters, self.arrived = 0.0, 0, 0, float("-inf")

    def silent_from(self) -> float:
        """When it has to be taken for stopped if no tick comes."""
        return self.arrived + GAP * max(self.period, SHORTEST)

    def runs(self, now: float) -> bool:
        """Whether it is believed."""
        return self.ticks >= TICKS and now <= self.silent_from()

    def tick(self, at: float) -> int:
        """A tick. Returns how many went by with it: 1, or more where some were lost; 0 for one too many."""
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
        went = round((at - self.time) / self.period)
        if went < 1:  # ahead of its time by more than half: one that was late is still to come, or it is one too many
            self.stutters += 1
            if at - self.time < -self.period:
                return 0
            went = 1
        self.ticks += went
        error = at - (self.time + went * self.period)
        self.time += went * self.period
        if abs(error) > OFF * self.period:
            self.stutters += 1
            error = max(-OFF, min(OFF, error / self.period)) * self.period / 4
        self.time += ALPHA * error
        self.period = min(max(self.period + BETA * error / went, SHORTEST), LONGEST)
        return went
