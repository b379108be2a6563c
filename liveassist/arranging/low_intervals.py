"""Low interval limits: how low an interval may lie before it turns to mud.

Key numbers are MIDI note numbers, middle C is 60. The table gives the lowest allowed LOWER note for each interval, in
semitones, after the one in the glossary of sweetwater.com ("low interval limit"), converted from names in which middle C is
C3. Its tritone is taken as B2 (47): the printed value lies below the fifth's and must be a slip. Other texts differ by one
to three semitones; the limits are levels of risk, not absolutes. Octaves and anything wider have none.
"""

from __future__ import annotations

import itertools
from collections.abc import Sequence

LOWEST = {1: 52, 2: 51, 3: 48, 4: 47, 5: 45, 6: 47, 7: 37, 8: 41, 9: 41, 10: 41, 11: 41}
"""Semitones to the lowest allowed lower note."""
LOWEST_PEDAL_KEY = 36


def pedal_sound(pitch_class: int) -> tuple[int, int]:
    """What a pedal in its lowest octave sounds with 16' and 8' drawn, as key numbers. An octave up its 16' sounds what the 8'
    sounds here."""
    key = LOWEST_PEDAL_KEY + pitch_class
    return key - 12, key


def too_low(pitches: Sequence[int], below: Sequence[int] = ()) -> int:
    """How many intervals lie too low: between neighbours of ``pitches`` (ascending), and from each note of ``below`` to
    each of them, for any may sound alone."""
    pairs = [*itertools.pairwise(pitches), *itertools.product(below, pitches)]
    return sum(low < LOWEST.get(high - low, 0) for low, high in pairs)
