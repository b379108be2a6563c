"""An imagined drummer: kick, snare and hat on the same beats as the organist's, each limb a little off in its own way.

Keys are General MIDI percussion, channel 10: 36 kick, 38 snare, 42 closed hat, 37 side stick for the count-in.

Where the timing comes from: to a metronome the hat hand of professional drummers is about 2 ms off, snare hand and bass
foot are about 10 ms early (Fujii et al. 2011). The noise of each stroke, 8 ms, is a choice of ours: a little less than a
musician's tapping (10-20 ms at 500 ms; Repp 2005, from memory).
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from itertools import zip_longest

from liveassist.players.truth import Script

DRUM_CHANNEL = 10
KICK, SNARE, HAT, SIDE_STICK = 36, 38, 42, 37
STROKE_SECONDS = 0.05
"""How long a drum pad holds its note: common practice, no source."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Drummer:
    """One drummer's habits."""

    motor_noise: float = 0.008
    """SD of a stroke, in seconds."""
    foot_lead: float = 0.010
    """Seconds by which kick and snare are early."""
    hat_lead: float = 0.002
    """Seconds by which the hat is early."""
    count_in: int = 1
    """Bars of side stick before the first count."""


def with_drums(script: Script, drummer: Drummer | None = None, rng: random.Random | None = None) -> Script:
    """The same performance with a drummer who plays the organist's beats: kick on odd counted beats, snare on even ones,
    hat on every beat and its halves (thirds where the meter is compound). No strokes where the organist counts no beats.

    Raises:
        ValueError: the script starts too early for the count-in.
    """
    drummer, rng = drummer or Drummer(), rng or random.Random(1)
    bars, beats = script.truth.route.bars, script.truth.beats
    found: list[tuple[float, int]] = []

    def strike(at: float, lead: float, key: int) -> None:
        found.append((at - lead + rng.gauss(0.0, 1.0) * drummer.motor_noise, key))

    for at in _count_in(script, drummer):
        strike(at, drummer.hat_lead, SIDE_STICK)
    for beat, following in zip_longest(beats, beats[1:]):
        bar = bars[beat.bar]
        strike(beat.at, drummer.foot_lead, KICK if round(bar.beat_at(beat.position)) % 2 else SNARE)
        written = float(bar.meter.counted_beat) * 60.0 / bar.quarter_bpm
        gap = following.at - beat.at if following else written
        parts = 3 if bar.meter.compound else 2
        for part in range(parts):  # across a hold or a stop the hat goes on for one beat in the old tempo
            strike(beat.at + (gap if gap < 2 * written else written) * part / parts, drummer.hat_lead, HAT)
    drums = [
        message
        for at, key in found
        for message in (
            (round(max(at, 0.0), 6), bytes((0x8F + DRUM_CHANNEL, key, 64))),
            (round(max(at, 0.0) + STROKE_SECONDS, 6), bytes((0x7F + DRUM_CHANNEL, key, 0))),
        )
    ]
    return Script(messages=tuple(sorted([*script.messages, *drums])), truth=script.truth)


def _count_in(script: Script, drummer: Drummer) -> list[float]:
    """When the side stick counts in: whole bars, and the beats before a pickup."""
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
