"""Couplers and transposers, learned: one key pressed once more with the couplers on, and what came of it.

Conventions. A *twin* is what a coupler brings with a press: the same key of another division, or another octave of it. Half
steps count up. Pedalboards and manuals begin at a C (AGO, RCO and BDO compasses: pedals from C, MIDI 36), so a lowest key that
is none, or a key that comes as another than it came as before, is told and not guessed at: a transposer may be on.
"""

from __future__ import annotations

from collections.abc import Iterable

from charts.pitch import simplest
from liveassist.band.events import FIGURE_MANUAL, MELODY_MANUAL, PEDAL
from liveassist.console.instrument import Coupler

SPOKEN = {PEDAL: "pedal", MELODY_MANUAL: "tune's manual", FIGURE_MANUAL: "second manual"}
"""The divisions as the player is asked for them."""
OCTAVE = 12


class Again(Exception):
    """The answer cannot be taken; says why."""


def couplers_heard(pressed: str, key: int, heard: Iterable[tuple[str | None, int]]) -> tuple[Coupler, ...]:
    """The couplers that one press shows.

    Args:
        pressed: the division on which the key was pressed.
        key: what it sent with the couplers off.
        heard: what came now: the division (None where it is none that we know) and the key of each.
    Raises:
        Again: where that key did not come.
    """
    came = list(dict.fromkeys(heard))
    if (pressed, key) not in came:
        own = sorted(number for division, number in came if division == pressed)
        if not own:
            raise Again(f"That did not come from the {SPOKEN[pressed]}: play the same key as before, or Enter.")
        raise Again(
            f"That came as key {own[0]}, and was {key} before, {_steps(own[0] - key)}: another key, or a transposer is on. "
            "Take it off (the nods 'up' and 'down' move the band) and play the same key, or Enter."
        )
    return tuple(
        Coupler(pressed=pressed, brings=division, shift=number - key)
        for division, number in came
        if division is not None and (division, number) != (pressed, key)
    )


def couplers_told(pressed: str, couplers: Iterable[Coupler]) -> str:
    """Those couplers, for the player."""
    told = [
        f"the {SPOKEN[coupler.brings]} {_steps(coupler.shift) if coupler.shift else 'at the same pitch'}"
        for coupler in couplers
    ]
    name = SPOKEN[pressed]
    if not told:
        return f"The {name}: one press is one key, with the couplers on too."
    return f"The {name} brings {' and '.join(told)}: from now on that is one press."


def beginning_told(lowest: int) -> str:
    """What to look at where the lowest pedal is no C; empty where it is one."""
    off = (lowest + OCTAVE // 2) % OCTAVE - OCTAVE // 2
    if not off:
        return ""
    name = simplest(lowest % OCTAVE, sharps=True).shown
    return (
        f" Pedals begin at C, and this is {name}, {_steps(off)}: is a transposer on? Then take it off and begin again."
    )


def _steps(shift: int) -> str:
    """A shift in words."""
    way = "higher" if shift > 0 else "lower"
    if shift % OCTAVE == 0:
        octaves = abs(shift) // OCTAVE
        return f"an octave {way}" if octaves == 1 else f"{octaves} octaves {way}"
    return f"{abs(shift)} half step{'' if abs(shift) == 1 else 's'} {way}"
