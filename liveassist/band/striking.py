"""Striking: what the band sounds on the way, the figure and the click.

The arrangement has the notes; the pulse says when. An attack that a corrected pulse moves too far into the past is left out;
a pushed chord is struck before its change, a held one whose attack was skipped comes in on a beat, and a vamp thins.
"""

from __future__ import annotations

import math
from bisect import bisect_left
from fractions import Fraction

from charts.route import RouteBar
from liveassist.arranging.arrangement import CLICK, FIGURE
from liveassist.band.bandstand import Bandstand
from liveassist.band.click import LENGTH, click_pitch
from liveassist.band.events import Action, BeatIs
from liveassist.band.sounding import Start

TOO_LATE = 0.080
"""A note that a corrected pulse moves further than this into the past, or whose cue was delivered so late, is dropped, in
seconds. An end never is."""
HELD_GAP = 0.25
"""A chord held by a rule and not by the arrangement ends so many quarter notes before the next."""
GRID = 960
"""Positions worked out from time are rounded to this share of a quarter note."""


class Striking(Bandstand):
    """The figure and the click."""

    def _next_attack(self) -> Fraction | None:
        attacks = self.arrangement.attacks[self.level()]
        index = bisect_left(attacks, self.cursor)
        return attacks[index] if index < len(attacks) else None

    def skip_to(self, at: float) -> None:
        """Attacks before a time are left out."""
        self.cursor = max(self.cursor, Fraction(math.ceil(self.position_at(at) * GRID - 1e-6), GRID))

    def _attack(self, at: float) -> list[Action]:
        """The figure's next attack."""
        position = self._next_attack()
        assert position is not None
        self.cursor = position + Fraction(1, GRID)
        if at - self.time_of(position) > TOO_LATE:
            return []
        return self._strike(position, at)

    def _come_in(self, at: float) -> list[Action]:
        """The chord comes in on a beat, held to its end."""
        assert self.comes_in is not None
        position, self.comes_in = self.comes_in, None
        if self.silent_figure():
            return []
        ends = float(self.here.end) - self.offset - HELD_GAP
        return [*self.sounding.start([self._held(pitch, position, ends) for pitch in self._voicing()], at)]

    def _strike(self, position: Fraction, at: float) -> list[Action]:
        """Start the notes written at a position."""
        if self.silent_figure() or self.thinned():
            return []
        starts = []
        for note in self.arrangement.notes_at(self.level(), position):
            if note.change != self.change and not self._pushes(note.change):
                continue
            if note.change != self.change:
                self.pushed = note.change
            count = float(position) - self.offset
            length = float(note.length)
            ends = max(count + length, self.pulse.count_at(at) + length / 2)
            starts.append(Start(part=note.part, pitch=note.pitch, position=position, change=note.change, ends=ends))
        return [*self.sounding.start(starts, at)]

    def _pushes(self, change: int) -> bool:
        """Whether an attack may come before its change: not round a vamp, and not before the cue that it waits for."""
        return self.change is not None and self.loop is None and not self.reading.wants_cue(self.change, change)

    def thinned(self) -> bool:
        """Whether a vamp on a missing cue has thinned to held chords: after a bar."""
        if self.loop is None:
            return False
        gone = float(self.loop.start) - self.offset - self.loop.since
        return gone >= float(self.route.bars[self.bar].meter.bar_length) - 1e-6

    def strike_held(self, at: float) -> list[Action]:
        """The chord of a vamp that has thinned, held through one time round."""
        assert self.loop is not None
        if self.silent_figure():
            return []
        ends = float(self.loop.end) - self.offset - HELD_GAP
        return [*self.sounding.start([self._held(pitch, self.passed, ends) for pitch in self._voicing()], at)]

    def _voicing(self) -> tuple[int, ...]:
        """The chord being played, as held."""
        return self.arrangement.voicings[self.level()][self.here.index]

    def _held(self, pitch: int, position: Fraction, ends: float | None) -> Start:
        return Start(part=FIGURE, pitch=pitch, position=position, change=self.here.index, ends=ends)

    def hold(self, at: float) -> list[Action]:
        """The chord is held until it is let go; where it is between two attacks, it is struck again."""
        actions: list[Action] = []
        if self.change is not None and not self.silent_figure() and not self.sounding.busy(FIGURE):
            starts = [self._held(pitch, self.passed, None) for pitch in self._voicing()]
            actions += self.sounding.start(starts, at)
        self.sounding.hold()
        return actions

    # -- beats and ends ---------------------------------------------------------------------------------------------

    def _beat(self, at: float) -> list[Action]:
        """A counted beat falls."""
        assert self.beat_next is not None
        position = self.beat_next
        self.beat_next = position + self.route.bars[self.bar].meter.counted_beat
        return self._tell_beat(position, self.route.bars[self.bar], at)

    def _tell_beat(self, position: Fraction, bar: RouteBar, at: float) -> list[Action]:
        """A beat is told, and clicked where a click is asked for."""
        actions: list[Action] = [BeatIs(at=at, position=position)]
        if self.settings.click:
            actions += self._click(click_pitch(float(bar.beat_at(position))), at, position)
        return actions

    def _click(self, pitch: int, at: float, position: Fraction) -> list[Action]:
        ends = self.pulse.count_at(at) + LENGTH
        return [*self.sounding.start([Start(part=CLICK, pitch=pitch, position=position, change=-1, ends=ends)], at)]

    def _count(self, at: float) -> list[Action]:
        _, pitch = self.count_in.pop(0)
        return self._click(pitch, at, self.passed) if self.settings.click else []

    def _end_due(self, at: float) -> list[Action]:
        return [*self.sounding.end_due(max(self.sounding.next_end() or 0.0, self.pulse.count_at(at)), at)]

    def _start_waiting(self, at: float) -> list[Action]:
        return [*self.sounding.start_waiting(at)]
