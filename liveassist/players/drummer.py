"""An imagined drummer: a groove on the same beats as the organist's, each limb a little off in its own way, with fills, and
with whatever goes wrong at a kit.

Keys are General MIDI percussion, channel 10 (see ``grooves``); the count-in is on the side stick unless another key is asked
for. The dice are dealt in the order of the beats; the same seed gives the same strokes.

Where the timing comes from: to a metronome the hat hand of professional drummers is about 2 ms off, snare hand and bass foot
are about 10 ms early (Fujii et al. 2011); in jazz trios the hat is 2 to 26 ms ahead of the common pulse. The noise of each
stroke, 8 ms, is a choice of ours: a little less than a musician's tapping (10-20 ms at 500 ms; Repp 2005, from memory). Grace
notes come 20 to 45 ms early, a pad bounces within 30 ms (common practice, no source).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import zip_longest

from charts.route import RouteBar
from liveassist.players.grooves import (
    COMPOUND_FILLS,
    CRASH,
    FILLS,
    GROOVES,
    HAT,
    KICK,
    LONG_FILLS,
    MORE_GROOVES,
    OPEN_HAT,
    PLAIN_COMPOUND,
    RIDE,
    SIDE_STICK,
    SNARE,
    Beat,
    Groove,
)
from liveassist.players.truth import Moment, Script

__all__ = ["DRUM_CHANNEL", "HAT", "KICK", "SIDE_STICK", "SNARE", "Drummer", "with_drums"]

DRUM_CHANNEL = 10
STROKE_SECONDS = 0.05
"""How long a drum pad holds its note: common practice, no source."""
STRENGTH = 64
GHOST_STRENGTHS = (18, 36)
GRACE, BOUNCE = (0.020, 0.045), (0.008, 0.030)
"""Seconds from the grace note of a flam to its stroke, and from a stroke to what the pad adds by itself."""
CYMBALS = frozenset({HAT, OPEN_HAT, RIDE, CRASH, SIDE_STICK})
ALL = {**GROOVES, **MORE_GROOVES}


@dataclass(frozen=True, kw_only=True, slots=True)
class Drummer:
    """One drummer's habits. Rates are chances between 0 and 1."""

    motor_noise: float = 0.008
    """SD of a stroke, in seconds."""
    foot_lead: float = 0.010
    """Seconds by which kick, snare and toms are early; negative: late, laid back."""
    hat_lead: float = 0.002
    """Seconds by which hat and ride are early."""
    backbeat_late: float = 0.0
    """Seconds by which the snare is later than kick and toms."""
    count_in: int = 1
    """Bars of clicks before the first count."""
    count_key: int = SIDE_STICK
    groove: str = "plain"
    """A name from ``grooves.GROOVES`` or ``MORE_GROOVES``."""
    own: Groove = ()
    """A groove that has no name, in its place."""
    swing: float = 2 / 3
    """Where a swung second half falls in the beat."""
    eighths: float = 1 / 2
    """Where the second eighth of a straight beat falls: later, where it is played with a lilt."""
    sixteenths: float = 1 / 2
    """Where, between two eighths, the sixteenth falls."""
    fill_every: int = 0
    """A fill before every so many bars, and a crash after it; 0: none."""
    long_fills: float = 0.0
    """Chance that a fill takes a whole bar of four."""
    ghosts: float = 0.0
    """Chance of a ghost note on the snare on a free quarter of a beat."""
    flams: float = 0.0
    """Chance that a snare or tom is struck as a flam."""
    bounces: float = 0.0
    """Chance that a pad sends a stroke twice."""
    missed: float = 0.0
    """Chance that a stroke is not heard."""
    dropped: float = 0.0
    """Chance that a whole beat is left out."""
    strays: float = 0.0
    """Chance, for each beat, of a stroke anywhere in it."""
    rests: tuple[int, ...] = ()
    """Route bars in which nothing is struck."""


Struck = tuple[float, int, int]
"""Seconds, key, strength."""


def with_drums(script: Script, drummer: Drummer | None = None, rng: random.Random | None = None) -> Script:
    """The same performance with a drummer who plays the organist's beats. No strokes where the organist counts no beats.

    Raises:
        ValueError: the script starts too early for the count-in, or there is no such groove.
    """
    drummer, rng = drummer or Drummer(), rng or random.Random(1)
    if drummer.groove not in ALL:
        raise ValueError(f'"{drummer.groove}" is not a groove; I can play {", ".join(ALL)}')
    struck = [
        _struck(at, drummer.count_key, STRENGTH, drummer, rng, lead=drummer.hat_lead)
        for at in _count_in(script, drummer)
    ]
    struck += _play(script, drummer, rng)
    drums = [
        message
        for at, key, strength in struck
        for message in (
            (round(max(at, 0.0), 6), bytes((0x8F + DRUM_CHANNEL, key, strength))),
            (round(max(at, 0.0) + STROKE_SECONDS, 6), bytes((0x7F + DRUM_CHANNEL, key, 0))),
        )
    ]
    return Script(messages=tuple(sorted([*script.messages, *drums])), truth=script.truth)


def _play(script: Script, drummer: Drummer, rng: random.Random) -> Iterator[Struck]:
    """Every stroke from the first beat on."""
    bars, beats = script.truth.route.bars, script.truth.beats
    fill: Groove = ()
    filled = False
    for beat, following in zip_longest(beats, beats[1:]):
        bar = bars[beat.bar]
        number = round(bar.beat_at(beat.position)) - 1
        written = float(bar.meter.counted_beat) * 60.0 / bar.quarter_bpm
        gap = following.at - beat.at if following else written
        if gap >= 2 * written:  # across a hold or a stop the groove goes on for one beat in the old tempo
            gap = written
        left = bar.meter.counted_beats - number
        if left == bar.meter.counted_beats or (not fill and left == 2):
            fill = _fill(bar, left, drummer, rng)
        strokes = fill[-left] if left <= len(fill) else _groove(bar, drummer)[number % len(_groove(bar, drummer))]
        if number == 0:
            strokes = (*strokes, (0.0, CRASH, 90)) if filled else strokes
            filled = False
        filled = filled or left <= len(fill)
        if left == 1:
            fill = ()
        silent = drummer.dropped and rng.random() < drummer.dropped
        if not silent and beat.bar not in drummer.rests:
            yield from _beat(beat, gap, strokes, drummer, rng)


def _groove(bar: RouteBar, drummer: Drummer) -> Groove:
    if drummer.own:
        return drummer.own
    return PLAIN_COMPOUND if drummer.groove == "plain" and bar.meter.compound else ALL[drummer.groove]


def _fill(bar: RouteBar, left: int, drummer: Drummer, rng: random.Random) -> Groove:
    """The fill at the end of a bar of which so many beats are left, or none: a whole bar is filled or its last two beats."""
    if not drummer.fill_every or (bar.index + 1) % drummer.fill_every:
        return ()
    if left == 2:
        return rng.choice(COMPOUND_FILLS if bar.meter.compound else FILLS)
    long = left == 4 and not bar.meter.compound and drummer.long_fills and rng.random() < drummer.long_fills
    return rng.choice(LONG_FILLS) if long else ()


def _beat(beat: Moment, gap: float, strokes: Beat, drummer: Drummer, rng: random.Random) -> Iterator[Struck]:
    """The strokes of one beat, ``gap`` seconds long."""
    for place, key, strength in strokes:
        if drummer.missed and rng.random() < drummer.missed:
            continue
        swung = drummer.swing if abs(place - 2 / 3) < 1e-9 and drummer.groove == "shuffle" else _lilted(place, drummer)
        at, key, strength = _struck(beat.at + gap * swung, key, strength, drummer, rng)
        yield at, key, strength
        if key not in CYMBALS and drummer.flams and rng.random() < drummer.flams:
            yield at - rng.uniform(*GRACE), key, max(1, strength // 3)
        if drummer.bounces and rng.random() < drummer.bounces:
            yield at + rng.uniform(*BOUNCE), key, max(1, strength // 2)
    taken = {round(place * 4) for place, _, _ in strokes}
    for quarter in range(1, 4):
        if drummer.ghosts and quarter not in taken and rng.random() < drummer.ghosts:
            at, key, _ = _struck(beat.at + gap * _lilted(quarter / 4, drummer), SNARE, 0, drummer, rng, noise=1.5)
            yield at, key, rng.randint(*GHOST_STRENGTHS)
    if drummer.strays and rng.random() < drummer.strays:
        yield beat.at + gap * rng.random(), rng.choice((SNARE, KICK, HAT)), rng.randint(30, 90)


def _lilted(place: float, drummer: Drummer) -> float:
    """Where a quarter of a beat really falls; other parts of it, thirds say, fall where they are."""
    half, rest = divmod(place, 0.5)
    if abs(rest - 0.25) > 1e-9 and rest > 1e-9:
        return place
    first, last = ((0.0, drummer.eighths), (drummer.eighths, 1.0))[int(half)]
    return first + (last - first) * drummer.sixteenths if rest else first


def _struck(
    at: float,
    key: int,
    strength: int,
    drummer: Drummer,
    rng: random.Random,
    *,
    lead: float | None = None,
    noise: float = 1.0,
) -> Struck:
    """A stroke as it is really struck."""
    if lead is None:
        lead = drummer.hat_lead if key in CYMBALS else drummer.foot_lead
        lead -= drummer.backbeat_late if key == SNARE else 0.0
    return at - lead + rng.gauss(0.0, 1.0) * drummer.motor_noise * noise, key, strength


def _count_in(script: Script, drummer: Drummer) -> list[float]:
    """When the clicks count in: whole bars, and the beats before a pickup."""
    first = script.truth.beats[0]
    bar = script.truth.route.bars[first.bar]
    beat = float(bar.meter.counted_beat) * 60.0 / bar.quarter_bpm
    clicks = drummer.count_in * bar.meter.counted_beats + (round(bar.beat_at(first.position)) - 1) * bool(
        drummer.count_in
    )
    if clicks * beat > first.at:
        raise ValueError(
            f"a count-in of {clicks} beats takes {clicks * beat:.1f} s; the first beat is at {first.at:.1f} s"
        )
    return [first.at - click * beat for click in range(clicks, 0, -1)]
