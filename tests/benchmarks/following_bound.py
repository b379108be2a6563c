"""What could be known from the feet as they come: a bound for jumps found at once.

An observer hears the same feet as the band, no later, but knows more than any band can: when every beat of the player's
falls, so that only the place is in doubt; how often this player misses, slips and passes, in this very performance; how
often, from where and whereto unplanned jumps go (``following_conditions``). What it believes is a plain sum over all places
and all jumps with nothing left out: the forward pass of a hidden Markov model over half beats (those of the song's first
meter; feet and changes count at the nearest). A little after each half beat it names the written place that it believes
most; ``sure`` makes it stay on its way until another is believed so much.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from following_conditions import leaps

from charts.route import Route
from liveassist.band.conductor import Reading
from liveassist.band.events import Action, PlaceIs
from liveassist.players.scoring import written
from liveassist.players.truth import Truth

SETTLES = 0.1
"""Seconds after a half beat by which all its feet are in: three standard deviations of their scatter."""
SLIPS = {-2: 2.0, -1: 4.0, 1: 4.0, 2: 2.0, -5: 0.5, -4: 0.5, -3: 0.5, 3: 0.5, 4: 0.5, 5: 0.5}
"""Where a wrong foot lands, in semitones, and how often: as the imagined organist's do."""
BESIDE = {-2: 4.0, -1: 1.0, 1: 1.0, 2: 4.0}
"""The same for a passing note, from the bass that it leads to."""
LEAST = 1.0
"""Habits are counted as if each had been met once more."""


@dataclass(frozen=True, slots=True)
class Places:
    """A route in half beats. Arrays have one entry for each of them."""

    sounding: np.ndarray
    """The change that sounds."""
    bass: np.ndarray
    """The bass that a foot plays there, as a change begins; -1 where none does."""
    leading: np.ndarray
    """The bass that a passing note there would lead to; -1 where none can."""
    jumps: tuple[tuple[int, int, float], ...]
    """(half beat at which one may be gone, half beat landed on, how likely)."""

    @classmethod
    def of(cls, route: Route, jumps: int) -> Places:
        half = float(route.chart.meter.counted_beat) / 2
        shifts = Reading(route, "feet", "change").shifts
        length = round(float(route.length) / half) + 1
        begins = [round(float(change.position + shifts[change.index]) / half) for change in route.changes]
        sounding, bass, leading = (np.full(length, value) for value in (0, -1, -1))
        for change, at in zip(route.changes, begins, strict=True):
            sounding[at:] = change.index
            if change.bass is not None and not route.bars[change.bar].manuals_only:
                bass[at] = change.bass
                if at and bass[at - 1] < 0:
                    leading[at - 1] = change.bass
        at = [round(float(bar.position) / half) for bar in route.bars] + [length - 1]
        ways = tuple((at[after + 1], at[to], jumps * share) for after, to, share in leaps(route) if jumps)
        return cls(sounding, bass, leading, ways)


def causal(truth: Truth, heard: Sequence[tuple[float, int]], jumps: int, sure: float = 0.0) -> list[Action]:
    """The places that the observer names.

    Args:
        truth: what was played: its beats and the player's habits are known, its places are not.
        heard: the feet, as (seconds, pitch class).
        jumps: unplanned jumps a song.
        sure: belief from which it leaves its way.
    """
    route = truth.route
    places = Places.of(route, jumps)
    times, played = _half_beats(truth)
    feet: list[list[int]] = [[] for _ in times]
    for at, pitch_class in heard:
        feet[int(np.argmin(np.abs(times - at)))].append(pitch_class)
    silent, likely = _habits(places, feet, played)
    names = [written(route, change) for change in places.sounding]
    numbers = {name: number for number, name in enumerate(dict.fromkeys(names))}
    named = np.array([numbers[name] for name in names])
    belief = np.zeros(len(names))
    here = played[0]
    belief[here] = 1.0
    actions: list[Action] = []
    told = -1
    for number, (at, pressed) in enumerate(zip(times, feet, strict=True)):
        if number:
            belief = np.concatenate(([0.0], belief[:-2], [belief[-2] + belief[-1]]))
            moved = [(start, end, belief[start] * share) for start, end, share in places.jumps]
            for start, end, share in moved:
                belief[start] -= share
                belief[end] += share
            here = min(here + 1, len(names) - 1)
        belief = belief * (likely[:, pressed[0]] if pressed else silent)
        belief /= belief.sum()
        shares = np.bincount(named, belief)
        best = int(np.argmax(shares))
        if shares[best] >= sure:
            here = int(np.argmax(np.where(named == best, belief, -1.0)))
        change = int(places.sounding[here])
        if change != told:
            told, position = change, route.changes[change].position
            actions.append(
                PlaceIs(at=at + SETTLES, change=change, position=position, bpm=0.0, sure=shares[named[here]])
            )
    return actions


def _half_beats(truth: Truth) -> tuple[np.ndarray, list[int]]:
    """When each half beat falls, and which half beat of the route is played there."""
    route = truth.route
    half = float(route.chart.meter.counted_beat) / 2
    counts = [0.0]
    for before, here in pairwise(truth.beats):
        straight = float(here.position - before.position)
        end, start = route.bars[before.bar].end, route.bars[here.bar].position
        on = here.bar in (before.bar, before.bar + 1) and straight > 0
        counts.append(counts[-1] + (straight if on else float(end - before.position + here.position - start)))
    slots = np.arange(round((counts[-1]) / half) + 2) * half
    beats = [beat.at for beat in truth.beats]
    times = np.interp(slots, counts, beats)
    times[-1] = beats[-1] + (times[-2] - times[-3])
    within = np.searchsorted(counts, slots + 1e-6) - 1
    played = [
        round((float(truth.beats[beat].position) + slot - counts[beat]) / half)
        for beat, slot in zip(within, slots, strict=True)
    ]
    return times, played


def _habits(places: Places, feet: Sequence[Sequence[int]], played: Sequence[int]) -> tuple[np.ndarray, np.ndarray]:
    """For each half beat of the route how likely no foot falls there, and how likely one of each pitch class: shares as
    counted in this performance."""
    cues = missed = wrong = rests = strays = ways = passing = 0
    for slot, pressed in zip(played, feet, strict=True):
        if slot >= len(places.bass):
            continue
        if places.bass[slot] >= 0:
            cues += 1
            missed += not pressed
            wrong += bool(pressed) and pressed[0] != places.bass[slot]
        elif places.leading[slot] >= 0:
            ways += 1
            passing += bool(pressed)
        else:
            rests += 1
            strays += bool(pressed)
    without, slips = (missed + LEAST) / (cues + 2 * LEAST), (wrong + LEAST) / (cues - missed + 2 * LEAST)
    passes, other = (passing + LEAST) / (ways + 2 * LEAST), (strays + LEAST) / (rests + 2 * LEAST)
    silent = np.where(places.bass >= 0, without, np.where(places.leading >= 0, 1 - passes, 1 - other))
    likely = np.full((len(silent), 12), other / 12)
    for slot, (bass, leading) in enumerate(zip(places.bass, places.leading, strict=True)):
        if bass >= 0:
            likely[slot] = (1 - without) * _spread(bass, slips, SLIPS)
            likely[slot, bass] += (1 - without) * (1 - slips)
        elif leading >= 0:
            likely[slot] = passes * _spread(leading, 1.0, BESIDE)
    return silent, likely


def _spread(pitch_class: int, share: float, steps: dict[int, float]) -> np.ndarray:
    """A share, nine tenths of it dealt over steps from a pitch class and the rest over all."""
    dealt = np.full(12, 0.1 * share / 12)
    for step, often in steps.items():
        dealt[(pitch_class + step) % 12] += 0.9 * share * often / sum(steps.values())
    return dealt
