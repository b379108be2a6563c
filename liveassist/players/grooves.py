"""Grooves and fills for the imagined drummer, written by us after common practice.

A groove is a cycle of counted beats, counted from the bar line: for each the strokes in it, as (place in the beat, key,
strength). Keys are General MIDI percussion: 36 kick, 38 snare, 42 closed hat, 44 its pedal, 46 open hat, 51 ride, 49 crash, 45
and 48 toms, 37 side stick. Strengths are MIDI velocities; below 40 is a ghost note.
"""

from __future__ import annotations

import random
from collections.abc import Mapping

KICK, SNARE, SIDE_STICK, HAT, OPEN_HAT, RIDE, CRASH, LOW_TOM, HIGH_TOM = 36, 38, 37, 42, 46, 51, 49, 45, 48
FOOT_HAT = 44

Stroke = tuple[float, int, int]
Beat = tuple[Stroke, ...]
Groove = tuple[Beat, ...]


def _each(key: int, parts: int, strength: int = 70, after: int = 55) -> Beat:
    """A stroke on each part of a beat, the first a little stronger."""
    return tuple((part / parts, key, after if part else strength) for part in range(parts))


_EIGHTHS, _SIXTEENTHS, _QUARTERS = _each(HAT, 2), _each(HAT, 4), _each(HAT, 1)
_SWUNG: Beat = ((0.0, RIDE, 70), (2 / 3, RIDE, 50))
_K, _S, _X = (0.0, KICK, 90), (0.0, SNARE, 95), (0.0, SIDE_STICK, 70)

GROOVES: Mapping[str, Groove] = {
    "plain": ((_K, *_EIGHTHS), (_S, *_EIGHTHS)),
    "rock": ((_K, *_EIGHTHS), (_S, *_EIGHTHS), (_K, (0.5, KICK, 80), *_EIGHTHS), (_S, *_EIGHTHS)),
    "sixteenths": (
        (_K, *_SIXTEENTHS),
        (_S, (0.75, KICK, 75), *_SIXTEENTHS),
        ((0.5, KICK, 85), *_SIXTEENTHS),
        (_S, *_SIXTEENTHS),
    ),
    "half time": ((_K, *_EIGHTHS), (*_EIGHTHS, (0.5, KICK, 70)), (_S, *_EIGHTHS), _EIGHTHS),
    "double time": (
        (_K, (0.5, SNARE, 90), *_EIGHTHS),
        (_K, (0.5, SNARE, 90), *_EIGHTHS),
    ),
    "shuffle": ((_K, *_SWUNG), (_S, *_SWUNG), (_K, (2 / 3, KICK, 70), *_SWUNG), (_S, *_SWUNG)),
    "syncopated": (
        (_K, (0.75, KICK, 80), *_EIGHTHS),
        (_S, (0.25, SNARE, 25), (0.75, SNARE, 28), *_EIGHTHS),
        ((0.25, KICK, 75), (0.5, KICK, 85), (0.25, SNARE, 25), *_EIGHTHS),
        (_S, (0.5, OPEN_HAT, 70), (0.0, HAT, 70)),
    ),
    "ballad": ((_K, *_QUARTERS), (_X, *_QUARTERS), (_K, (0.5, KICK, 60), *_QUARTERS), (_X, *_QUARTERS)),
    "off-beat hats": ((_K, (0.5, OPEN_HAT, 80)), (_K, _S, (0.5, OPEN_HAT, 80))),
    "one drop": (_EIGHTHS, _EIGHTHS, (_K, _X, *_EIGHTHS), ((0.5, HAT, 75), (0.75, SNARE, 30))),
    "three against": (
        (_K, (0.75, KICK, 85), *_EIGHTHS),
        ((0.5, KICK, 85), (0.75, SNARE, 60), *_EIGHTHS),
        (_K, (0.75, KICK, 85), (0.25, SNARE, 60), *_EIGHTHS),
        ((0.5, KICK, 85), _X, *_EIGHTHS),
    ),
    "swung sixteenths": (
        (_K, *_EIGHTHS, (0.29, HAT, 40), (0.79, KICK, 75)),
        (_S, *_EIGHTHS, (0.79, HAT, 40)),
        ((0.29, KICK, 70), *_EIGHTHS, (0.79, HAT, 40)),
        (_S, *_EIGHTHS, (0.29, SNARE, 28), (0.79, KICK, 70)),
    ),
    "fast ride": (((0.0, RIDE, 70), (0.0, 44, 20)), ((0.0, RIDE, 80), (2 / 3, RIDE, 50), (0.0, 44, 60))),
    "sparse": ((_K,), (), (_S,), ()),
    "waltz": ((_K, *_QUARTERS), ((0.0, SNARE, 60), *_QUARTERS), ((0.0, SNARE, 60), *_EIGHTHS)),
    "six-eight": ((_K, *_each(HAT, 3)), (_S, *_each(HAT, 3), (2 / 3, KICK, 65))),
}
"""By name. "plain", the default, is divided in three where the meter is compound."""
_TRIPLETS = _each(HAT, 3)
_F = (0.0, FOOT_HAT, 60)
_FEATHERED = (0.0, KICK, 28)
_SWISH: Beat = ((0.0, SNARE, 34), (2 / 3, SNARE, 26))
MORE_GROOVES: Mapping[str, Groove] = {
    "bossa": (
        (_K, _X, *_EIGHTHS),
        ((0.5, KICK, 70), (0.5, SIDE_STICK, 70), *_EIGHTHS),
        (_K, *_EIGHTHS),
        (_X, (0.5, KICK, 70), *_EIGHTHS),
    ),
    "samba": (
        (_K, (0.75, KICK, 70), (0.5, SNARE, 45), *_SIXTEENTHS),
        (_K, (0.25, SNARE, 60), (0.75, KICK, 70), *_SIXTEENTHS),
    ),
    "second line": (
        (_K, *_each(SNARE, 4, 60, 35)),
        (*_each(SNARE, 4, 50, 40), (0.5, KICK, 80), (0.75, SNARE, 90)),
        (*_each(SNARE, 4, 45, 35), (0.5, SNARE, 95)),
        (_K, *_each(SNARE, 4, 90, 40)),
    ),
    "train": ((_K, *_each(SNARE, 4, 45, 40), (0.5, SNARE, 90)), (_F, *_each(SNARE, 4, 45, 40), (0.5, SNARE, 90))),
    "brushes": ((_FEATHERED, *_SWISH), (_F, (0.0, SNARE, 55), (2 / 3, SNARE, 26))),
    "jazz ride": (
        (_FEATHERED, (0.0, RIDE, 70)),
        (_FEATHERED, _F, *_SWUNG),
        (_FEATHERED, (0.0, RIDE, 70), (2 / 3, SNARE, 42)),
        (_FEATHERED, _F, *_SWUNG),
    ),
    "linear": (
        (_K, (0.25, HAT, 60), (0.5, SNARE, 30), (0.75, HAT, 60)),
        ((0.0, HAT, 70), (0.25, KICK, 80), (0.5, HAT, 60), (0.75, SNARE, 85)),
        ((0.0, HAT, 70), (0.25, SNARE, 30), (0.5, KICK, 85), (0.75, HAT, 55)),
        (_S, (0.25, HAT, 60), (0.5, KICK, 75), (0.75, SNARE, 35)),
    ),
    "displaced": (
        (_K, *_EIGHTHS),
        (_S, (0.5, KICK, 80), *_EIGHTHS),
        (_K, *_EIGHTHS),
        ((0.25, SNARE, 30), (0.5, SNARE, 95), *_EIGHTHS),
    ),
    "half-time shuffle": (
        (_K, (1 / 3, SNARE, 28), (0.0, HAT, 70), (2 / 3, HAT, 55)),
        ((1 / 3, SNARE, 30), (2 / 3, KICK, 75), (0.0, HAT, 65), (2 / 3, HAT, 55)),
        (_S, (0.0, HAT, 70), (1 / 3, SNARE, 25), (2 / 3, HAT, 55)),
        ((1 / 3, SNARE, 30), (0.0, HAT, 65), (2 / 3, HAT, 55)),
    ),
    "toms": (
        (_K, *_each(LOW_TOM, 2)),
        (_S, *_each(LOW_TOM, 4)),
        ((0.5, KICK, 85), *_each(LOW_TOM, 2)),
        (_S, *_each(HIGH_TOM, 4)),
    ),
    "four on the floor": ((_K, *_SIXTEENTHS), (_K, _S, *_SIXTEENTHS)),
    "steppers": ((_K, *_TRIPLETS), (_K, *_TRIPLETS), (_K, _X, *_TRIPLETS), (_K, *_TRIPLETS)),
    "crash ride": (
        (_K, *_each(CRASH, 1, 90)),
        (_S, *_each(CRASH, 1, 90)),
        (_K, (0.5, KICK, 90), *_each(CRASH, 1, 90)),
        (_S,),
    ),
    "hats alone": ((_QUARTERS), _EIGHTHS, _QUARTERS, (*_EIGHTHS, (0.5, OPEN_HAT, 60))),
    "ride and kick": (
        (_K, *_each(RIDE, 2)),
        ((0.75, KICK, 70), *_each(RIDE, 2)),
        ((0.5, KICK, 80), *_each(RIDE, 2)),
        _each(RIDE, 2),
    ),
    "twelve-eight": ((_K, *_TRIPLETS), (_S, *_TRIPLETS), (_K, (2 / 3, KICK, 70), *_TRIPLETS), (_S, *_TRIPLETS)),
    "slow six": ((_K, *_each(RIDE, 3)), ((0.0, SIDE_STICK, 60), (1 / 3, SNARE, 28), *_each(RIDE, 3))),
    "waltz brushes": ((_FEATHERED, *_SWISH), (_F, (0.0, SNARE, 40)), (_F, *_SWISH)),
}
"""More of them, apart because the figures of ``band.drumming`` were chosen without most of them."""


def made_up(rng: random.Random) -> Groove:
    """A groove in four that nobody has written down: hands and foot where drummers put them more often or less."""
    top = rng.choice((HAT, HAT, RIDE))
    steps = rng.choice((1, 2, 2, 2, 4, 4))
    backbeat, fine = rng.choice(("two and four", "two and four", "three", "wandering")), rng.random() < 0.5
    beats = []
    for number in range(4):
        strokes = [stroke for stroke in _each(top, steps) if rng.random() < 0.95]
        for place, chance in (
            (0.0, 0.9 if number in (0, 2) else 0.15),
            (0.5, 0.35),
            (0.75, 0.25 * fine),
            (0.25, 0.12 * fine),
        ):
            if rng.random() < chance:
                strokes.append((place, KICK, rng.randint(65, 95)))
        if (backbeat, number) in (("two and four", 1), ("two and four", 3), ("three", 2)):
            strokes.append(_S)
        elif backbeat == "wandering" and rng.random() < 0.5:
            strokes.append((rng.choice((0.0, 0.5, 0.75)), SNARE, rng.randint(60, 95)))
        beats.append(tuple(strokes))
    return tuple(beats)


PLAIN_COMPOUND: Groove = ((_K, *_each(HAT, 3)), (_S, *_each(HAT, 3)))

FILLS: tuple[Groove, ...] = (
    (_each(SNARE, 4, 85, 75), (*_each(HIGH_TOM, 2, 85, 80), (0.5, LOW_TOM, 85), (0.75, LOW_TOM, 80))),
    (_each(SNARE, 3, 80, 75), _each(LOW_TOM, 3, 85, 80)),
    (((0.25, SNARE, 75), (0.5, SNARE, 80), (0.75, HIGH_TOM, 80)), ((0.0, LOW_TOM, 85), (0.5, KICK, 80))),
    (_each(SNARE, 6, 70, 60), _each(SNARE, 4, 90, 80)),
    (((0.5, HIGH_TOM, 80),), ((0.5, LOW_TOM, 80), (0.75, LOW_TOM, 85))),
)
"""Of the last counted beats before a bar line. What a fill leaves out, the groove leaves out too."""
LONG_FILLS: tuple[Groove, ...] = (
    (_each(SNARE, 4, 80, 70), _each(HIGH_TOM, 4, 80, 70), _each(LOW_TOM, 4, 80, 70), (_S, (0.5, SNARE, 90))),
    (_each(SNARE, 3, 75, 65), _each(SNARE, 3, 75, 65), _each(HIGH_TOM, 3, 80, 70), _each(LOW_TOM, 3, 90, 85)),
    (((0.75, SNARE, 80),), ((0.5, SNARE, 80),), ((0.25, HIGH_TOM, 80), (0.75, LOW_TOM, 80)), ((0.5, LOW_TOM, 90),)),
    (_each(SNARE, 4, 40, 35), _each(SNARE, 4, 55, 50), _each(SNARE, 4, 75, 70), _each(SNARE, 4, 95, 90)),
    (_each(SNARE, 3, 80, 75), ((1 / 3, LOW_TOM, 85),), _each(HIGH_TOM, 6, 80, 70), ((0.0, LOW_TOM, 90),)),
)
"""Of a whole bar of four, none with a kick."""
COMPOUND_FILLS: tuple[Groove, ...] = (
    (_each(SNARE, 3, 80, 75), _each(LOW_TOM, 6, 80, 70)),
    (((1 / 3, SNARE, 80), (2 / 3, HIGH_TOM, 80)), _each(LOW_TOM, 3, 85, 80)),
)
