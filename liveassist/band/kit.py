"""The drum kit: which key is which drum, how exactly each marks the beat, and on which a drummer counts in.

Keys are the General MIDI percussion map's (General MIDI System Level 1, keys 35 to 81; the sticks on 31 came with General
MIDI 2). Pads that send other keys are taken for these by the console profile, so the band knows no other kit.

How far strokes scatter around the beat that they mean, in seconds: to a metronome professional drummers' snare hand and bass
foot are some 10 ms early, the hat hand some 2 ms (Fujii et al. 2011); in jazz trios the hat is 2 to 26 ms ahead of the common
pulse. So kick and snare say more than the hat, and all of them together more than any; the figures are this tool's own.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Drum:
    """One instrument of the kit."""

    name: str
    scatter: float
    """SD of its strokes around what they mean, in seconds."""
    marks: bool = False
    """The others are ahead of it or behind: it is where the beat is."""
    keeps: bool = False
    """It keeps time: many strokes running are no roll."""
    counts: bool = False
    """A drummer may count in on it."""
    clicks: bool = False
    """It is hardly ever part of a groove's first beat: alone on it, it goes on counting."""


KICK, SNARE, HAT, RIDE, CRASH, TOM, STICKS, OTHER = (
    Drum("kick", 0.016, marks=True),
    Drum("snare", 0.016, marks=True),
    Drum("hat", 0.020, keeps=True, counts=True),
    Drum("ride", 0.020, keeps=True, counts=True),
    Drum("crash", 0.022),
    Drum("tom", 0.024),
    Drum("sticks", 0.018, marks=True, counts=True, clicks=True),
    Drum("percussion", 0.026, counts=True),
)
DRUMS_BY_NAME = {drum.name: drum for drum in (KICK, SNARE, HAT, RIDE, CRASH, TOM, STICKS)}

KEYS: dict[str, tuple[int, ...]] = {
    # the first key of each is the one that learned pads are taken for
    "kick": (36, 35),
    "snare": (38, 40),
    "hat": (42, 44, 46, 22, 26),
    "ride": (51, 53, 59),
    "crash": (49, 52, 55, 57),
    "tom": (45, 41, 43, 47, 48, 50),
    "sticks": (31, 37, 33, 34, 75, 76, 77),
}
"""22 and 26 are no keys of the map; many pads send them for the edge of the hat, closed and open (common practice, no source).
31 sticks, 37 side stick, 33 and 34 metronome click and bell, 75 claves, 76 and 77 wood blocks: what clicks."""
_BY_KEY = {key: DRUMS_BY_NAME[name] for name, keys in KEYS.items() for key in keys}


def drum(key: int) -> Drum:
    """The drum that a key plays."""
    return _BY_KEY.get(key, OTHER)
