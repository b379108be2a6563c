"""Ticking: what the band does with a MIDI clock that it hears.

"start" while the band is ready begins the song with the next tick. "stop", a clock that falls silent and one that stutters
are told, and the music goes on. The clock's tempo is taken before the song; its beats are those of the song from the start,
or as they fell when the clock was first followed.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from liveassist.band import states
from liveassist.band.clocked import STUTTERS, TICKS
from liveassist.band.events import Action, Told
from liveassist.band.leading import CLOCK, led

if TYPE_CHECKING:
    from liveassist.band.performance import Performance

EXACT = 0.002
"""SD of the filtered clock, in seconds: what a foot's time is weighed against."""


def hear(band: Performance, what: str, at: float) -> list[Action]:
    """A message of the clock."""
    if what == "tick":
        return _tick(band, at)
    if band.time_lead != CLOCK:
        return []
    if what == "stop":
        band.clock_starts = False
        return [Told(at=band.now, text="the MIDI clock says stop: the music goes on", kind="note")]
    if what == "start" and band.state == states.READY:
        band.clock_starts = True
    return []


def _tick(band: Performance, at: float) -> list[Action]:
    clock = band.clock
    before = clock.stutters
    went = clock.tick(at)
    if band.time_lead != CLOCK:
        return []
    actions: list[Action] = []
    if before < STUTTERS <= clock.stutters:
        actions.append(Told(at=band.now, text="the MIDI clock stutters: time goes on evenly", kind="caution"))
    if band.state in states.SILENT:
        _take_tempo(band)
        if band.clock_starts and band.state == states.READY:
            band.clock_starts = False
            actions += band.begin_by_hand(at)
        return actions
    if not clock.runs(at):
        return actions
    pulse = band.pulse
    if not pulse.followed:
        actions.append(Told(at=band.now, text="time from the MIDI clock", kind="note"))
        pulse = pulse.kept(followed=True)
    same = (pulse.count, pulse.time) == band.ticked
    count = pulse.count + went / TICKS if same else pulse.count_at(clock.time)
    pulse = replace(
        pulse, count=count, time=clock.time, period=clock.quarter, var_time=EXACT**2, cov=0.0, var_period=1e-8
    )
    band.ticked = pulse.count, pulse.time
    led(band, pulse)
    return actions


def _take_tempo(band: Performance) -> None:
    """The clock's tempo is the song's."""
    if band.clock.ticks >= TICKS and band.clock.ticks % TICKS == 0:
        here, first = band.route.bars[band.bar], band.bar_of(band.first)
        band.home = band.clock.quarter * here.quarter_bpm / first.quarter_bpm
        band.pulse = band.pulse_from(band.first, band.now)
