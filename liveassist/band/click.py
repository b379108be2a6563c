"""The click: one short note for each counted beat.

Key numbers are the General MIDI percussion map's, channel 10: 76 High Wood Block for the first beat of a bar, 77 Low Wood
Block for the others (General MIDI System Level 1).
"""

from __future__ import annotations

ACCENT, BEAT = 76, 77
LENGTH = 0.1
"""Sounding length in quarter notes: short, so that it carries little energy."""


def click_pitch(beat: float) -> int:
    """The key for a beat of the bar, counted from 1."""
    return ACCENT if beat == 1 else BEAT
