"""The click: which key sounds for which beat, and how a beat is divided.

Sets of keys, by name, on MIDI channel 10. 37, 42, 56, 75, 76 and 77 are General MIDI level 1 percussion keys (side stick,
closed hi-hat, cowbell, claves, high and low wood block); 31, 33 and 34 (sticks, metronome click, metronome bell) came with
General MIDI 2. A trap: older modules have their own sounds on 33 and 34, and some makers' maps have click and bell on 21 and
22, so "metronome" and "sticks" are for an instrument that says GM2; the others hold wherever GM does.

When a beat is divided: not from 110 beats a minute on, in two from 60, in four below; compound beats and a shuffle in three
(working values for this tool; common practice, no source). A click faster than ``FASTEST`` is a buzz.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from charts.meter import Meter

ACCENT, BEAT = 76, 77
"""Keys of the wood blocks, which any instrument with General MIDI has."""
ON_BAR, ON_BEAT, BETWEEN = "bar", "beat", "division"
"""What a click is for: the first beat of a bar, another beat, between two beats."""
SETS: dict[str, dict[str, int]] = {
    "wood blocks": {ON_BAR: ACCENT, ON_BEAT: BEAT, BETWEEN: 37},
    "claves": {ON_BAR: 75, ON_BEAT: 37, BETWEEN: 42},
    "cowbell": {ON_BAR: 56, ON_BEAT: 37, BETWEEN: 42},
    "metronome": {ON_BAR: 34, ON_BEAT: 33, BETWEEN: 37},
    "sticks": {ON_BAR: 76, ON_BEAT: 31, BETWEEN: 37},
}
GM2_SETS = ("metronome", "sticks")
"""Sets that need General MIDI 2."""
LENGTH = 0.1
"""Sounding length in quarter notes: short, so that it carries little energy."""
UNDIVIDED, IN_FOUR = 110.0, 60.0
"""From how many counted beats a minute on a beat is not divided, and below how many it is divided in four."""
FASTEST = 0.1
"""Shortest time between two clicks, in seconds."""


@dataclass(frozen=True, slots=True)
class Click:
    """One click to come."""

    at: float
    """When it falls, in seconds."""
    role: str
    """ON_BAR, ON_BEAT or BETWEEN."""


def role_of(beat: Fraction, *, accent: bool = True) -> str:
    """What a click is for, by its beat of the bar counted from 1."""
    if beat.denominator != 1:
        return BETWEEN
    return ON_BAR if beat == 1 and accent else ON_BEAT


def click_pitch(beat: float) -> int:
    """The key of the wood blocks for a beat of the bar, counted from 1."""
    return SETS["wood blocks"][role_of(Fraction(beat))]


def divisions(chosen: str, meter: Meter, bpm: float, *, swung: bool = False) -> int:
    """Into how many clicks a counted beat is divided; 1: not at all.

    Args:
        chosen: the setting ``subdivision``.
        meter: of the bar.
        bpm: counted beats a minute.
        swung: the feel is a shuffle, and automatic division is in three.
    """
    if chosen == "auto":
        if bpm >= UNDIVIDED:
            return 1
        parts = 3 if meter.compound or swung else 4 if bpm < IN_FOUR else 2
    elif chosen == "none":
        return 1
    elif chosen == "triplets":
        parts = 3
    else:
        exact = meter.counted_beat * {"eighths": 2, "sixteenths": 4}[chosen]
        parts = int(exact) if exact.denominator == 1 else 1
    return max(1, parts) if 60.0 / bpm / max(1, parts) >= FASTEST else 1
