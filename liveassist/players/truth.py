"""What an imagined player plays, and the truth about it.

Seconds count from the start of the script; positions are quarter notes of the route; bars and changes are indices into
the route. After an unplanned repeat or skip the truth goes on in the pass of the section where the player landed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import mido

from charts.route import Route
from liveassist.band.events import DRUMS, FIGURE_MANUAL, MELODY_MANUAL, PEDAL, Event, KeyDown, KeyUp, SwitchPressed

_DIVISIONS = {1: MELODY_MANUAL, 2: FIGURE_MANUAL, 4: PEDAL, 10: DRUMS}
"""Channels of the plain console."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Moment:
    """Where the player was at one time."""

    at: float
    bar: int
    change: int
    position: Fraction


@dataclass(frozen=True, kw_only=True)
class Truth:
    """What was really played."""

    route: Route
    beats: tuple[Moment, ...]
    """Every counted beat, at the player's own time for it."""
    changes: tuple[Moment, ...]
    """Every change as it really began: with the foot that played it in time, else with the beat. Landing in the middle
    of a chord is a moment too, with the position of the landing."""
    bars: tuple[tuple[float, int], ...]
    """When each bar began by the player's own time, and which it was."""
    end: float
    """When the last written beat is over, its hold included."""
    pauses: tuple[tuple[float, float], ...] = ()
    """From when to when the player waits: holds beyond their written length, breaths, waits, stops."""


@dataclass(frozen=True, kw_only=True)
class Script:
    """One performance."""

    messages: tuple[tuple[float, bytes], ...]
    """(seconds, MIDI bytes) in order of time, note ends before note starts."""
    truth: Truth


def events(messages: Sequence[tuple[float, bytes]]) -> list[Event]:
    """The messages as the band's own events, heard the moment they happen: a plain console without ports."""
    found: list[Event] = []
    for at, (status, first, second) in messages:
        kind, division = status & 0xF0, _DIVISIONS.get((status & 0x0F) + 1)
        if kind == 0xB0 and first == 64 and second >= 64:
            found.append(SwitchPressed(at=at, heard=at))
        elif kind == 0x90 and second and division:
            struck = {"strength": second} if division == DRUMS else {}
            found.append(KeyDown(at=at, heard=at, division=division, key=first, **struck))
        elif kind in (0x80, 0x90) and division:
            found.append(KeyUp(at=at, heard=at, division=division, key=first))
    return found


TICKS_PER_SECOND = 10_000
"""Resolution of the files written: a tenth of a millisecond."""


def write_midi(script: Script, path: str | Path) -> None:
    """The script as a Standard MIDI File of one track, a beat of which is half a second whatever the music does."""
    track = mido.MidiTrack([mido.MetaMessage("set_tempo", tempo=500_000, time=0)])
    now = 0
    for at, data in script.messages:
        ticks = round(at * TICKS_PER_SECOND)
        track.append(mido.Message.from_bytes(data, time=ticks - now))
        now = ticks
    track.append(mido.MetaMessage("end_of_track", time=max(round(script.truth.end * TICKS_PER_SECOND) - now, 0)))
    midi = mido.MidiFile(type=0, ticks_per_beat=TICKS_PER_SECOND // 2)
    midi.tracks.append(track)
    midi.save(str(path))
