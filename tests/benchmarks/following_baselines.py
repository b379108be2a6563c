"""What following is compared with: a greedy matcher that hears one note at a time, the band's own pulse told the place of every
cue, and an alignment that sees the whole performance at once.

All answer in the band's own words (``PlaceIs``, ``BeatIs``), so they are scored by the same measures. They send no notes.
Another baseline, a fixed pulse started by the first foot, is the band's own lead ``pulse``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import numpy as np

from charts.route import Route
from liveassist.band.events import Action, BeatIs, KeyDown, PlaceIs
from liveassist.band.pulse import Pulse

Foot = tuple[float, int]
"""Seconds and pitch class."""


def feet(events: Sequence[object]) -> list[Foot]:
    return [(event.at, event.key % 12) for event in events if isinstance(event, KeyDown) and event.division == "pedal"]


def beat_positions(route: Route) -> list[Fraction]:
    return [position for bar in route.bars for position in route.beats(bar) if position >= bar.position]


# -- greedy -----------------------------------------------------------------------------------------------------------


def greedy(route: Route, heard: Sequence[Foot]) -> list[Action]:
    """Waits for the next expected bass, or the one after that, and takes the first foot that fits; the tempo is half the
    old one and half the interval just played. Between cues the pulse runs on, as far as the next change."""
    changes = [change for change in route.changes if change.bass is not None]
    positions = beat_positions(route)
    period = 60.0 / route.bars[0].quarter_bpm
    actions: list[Action] = []
    at_index, anchor, told = -1, 0.0, 0

    def beats_until(time: float) -> None:
        nonlocal told
        here = changes[at_index].position
        limit = changes[at_index + 1].position if at_index + 1 < len(changes) else route.length
        while told < len(positions) and positions[told] < limit:
            falls = anchor + float(positions[told] - here) * period
            if falls >= time:
                return
            actions.append(BeatIs(at=falls, position=positions[told]))
            told += 1

    for at, pitch_class in heard:
        expected = [index for index in (at_index + 1, at_index + 2) if index < len(changes)]
        hit = next((index for index in expected if changes[index].bass == pitch_class), None)
        if hit is None:
            continue
        if at_index >= 0:
            beats_until(at)
            length = float(changes[hit].position - changes[at_index].position)
            period = 0.5 * period + 0.5 * min(max((at - anchor) / length, 0.6 * period), 1.6 * period)
        at_index, anchor = hit, at
        told = next((i for i, position in enumerate(positions) if position >= changes[hit].position), len(positions))
        change = changes[hit]
        beat = float(route.bars[change.bar].meter.counted_beat)
        actions.append(PlaceIs(at=at, change=change.index, position=change.position, bpm=60 / period / beat, sure=1.0))
    if at_index >= 0:
        beats_until(float("inf"))
    return sorted(actions, key=lambda action: action.at)


# -- the place known ------------------------------------------------------------------------------------------------


def knowing(route: Route, cues: Sequence[tuple[int, float]]) -> list[Action]:
    """The band's pulse where every cue's change is known (no listening): what its beats could reach at best.

    Args:
        route: played straight through.
        cues: for each cue the index of its change and its time.
    """
    first, begun = cues[0]
    bar = route.bars[route.changes[first].bar]
    pulse = Pulse.begin(
        float(route.changes[first].position), begun, 60.0 / bar.quarter_bpm, float(bar.meter.counted_beat)
    )
    cued = {change for change, _ in cues}
    coming = sorted(
        [(position, -1) for position in beat_positions(route) if position >= route.changes[first].position]
        + [(change.position, change.index) for change in route.changes[first:] if change.index not in cued]
    )
    actions: list[Action] = []

    def place(change: int, at: float) -> None:
        here = route.changes[change]
        bpm = pulse.bpm(float(route.bars[here.bar].meter.counted_beat))
        actions.append(PlaceIs(at=at, change=change, position=here.position, bpm=bpm, sure=1.0))

    told, now = 0, begun
    for cue, at in (*cues, (None, math.inf)):
        while told < len(coming) and max(pulse.time_of(float(coming[told][0])), now) < at:
            position, change = coming[told]
            falls = max(pulse.time_of(float(position)), now)
            if change < 0:
                actions.append(BeatIs(at=falls, position=position))
            else:
                place(change, falls)
            told += 1
        if cue is not None:
            pulse = pulse if cue == first else pulse.corrected(float(route.changes[cue].position), at)
            place(cue, at)
            now = at
    return actions


# -- the whole performance at once ------------------------------------------------------------------------------------

BACK_FEET, BACK_CHANGES = 8, 5
"""How many feet may be no cue, and how many changes may go without one, between two cues."""
STRAY, MISSED, JUMP, AT_START = -4.0, -3.0, -16.0, 4.0
"""Log scores: a foot that is no cue; a change without foot; a jump; what of that is given back at a section's start."""
FLOOR = -7.0
"""Log score of an interval that no tempo explains: a hold, a stop."""
RIGHT, WRONG = -0.1, -5.5
"""Log scores of a cue with the written bass, and with any other."""
SCATTER = 0.03
WIDE, NARROW = 0.15, 0.06
"""How far an interval may differ from the tempo, as a share: at first, and when the tempo is known from the first pass."""
KERNEL = 3.0
"""Width in quarter notes over which the beats are smoothed."""
TEMPO_OVER = 4.0
"""The tempo told is taken over so many quarter notes on either side."""


@dataclass(frozen=True, slots=True)
class Match:
    """A foot taken for the cue of a change."""

    at: float
    change: int
    jumped: bool


def aligned(route: Route, heard: Sequence[Foot]) -> list[Action]:
    """The best explanation of all feet together, by dynamic programming over feet and changes."""
    if not heard or not route.changes:
        return []
    home = np.full(len(heard), 60.0 / route.bars[0].quarter_bpm)
    matches = _best(route, heard, home, WIDE)
    matches = _best(route, heard, _local_periods(route, heard, matches, home), NARROW)
    return _told(route, matches)


def _best(route: Route, heard: Sequence[Foot], periods: np.ndarray, width: float) -> list[Match]:
    positions = np.array([float(change.position) for change in route.changes])
    basses = np.array([-1 if change.bass is None else change.bass for change in route.changes])
    starts = {bar.changes[0] for bar in route.bars if bar.starts_section and bar.changes}
    landing = np.array([AT_START if index in starts else 0.0 for index in range(len(positions))])
    score = np.full((len(heard), len(positions)), -np.inf)
    came_from = np.full((len(heard), len(positions), 2), -1)
    for i, (at, pitch_class) in enumerate(heard):
        pitch = np.where(basses == pitch_class, RIGHT, WRONG)
        best = STRAY * i + MISSED * np.arange(len(positions))
        source = np.full((len(positions), 2), -1)
        for back in range(1, min(i, BACK_FEET) + 1):
            passed = at - heard[i - back][0]
            for hop in range(1, min(BACK_CHANGES, len(positions) - 1) + 1):
                distance = (positions[hop:] - positions[:-hop]) * periods[i]
                spread = np.hypot(SCATTER * 1.4, width * distance)
                timing = np.maximum(-0.5 * ((passed - distance) / spread) ** 2 - np.log(spread), FLOOR)
                found = score[i - back][:-hop] + timing + STRAY * (back - 1) + MISSED * (hop - 1)
                better = found > best[hop:]
                best[hop:] = np.where(better, found, best[hop:])
                source[hop:][better] = np.stack([np.full(found.shape, i - back), np.arange(len(found))], 1)[better]
            leaving = int(np.argmax(score[i - back]))
            found = score[i - back][leaving] + JUMP + landing + STRAY * (back - 1)
            better = found > best
            best = np.where(better, found, best)
            source[better] = (i - back, leaving)
        score[i], came_from[i] = best + pitch, source
    tail = [score[i].max() + STRAY * (len(heard) - 1 - i) for i in range(len(heard))]
    i = int(np.argmax(tail))
    j = int(np.argmax(score[i]))
    matches: list[Match] = []
    while i >= 0:
        before_i, before_j = came_from[i, j]
        jumped = before_i >= 0 and not 1 <= j - before_j <= BACK_CHANGES
        matches.append(Match(heard[i][0], j, bool(jumped)))
        i, j = int(before_i), int(before_j)
    return matches[::-1]


def _local_periods(route: Route, heard: Sequence[Foot], matches: Sequence[Match], home: np.ndarray) -> np.ndarray:
    """Seconds per quarter note around each foot: the median over the cues about it."""
    times, ratios = [], []
    for one, other in pairwise(matches):
        length = float(route.changes[other.change].position - route.changes[one.change].position)
        if length > 0 and not other.jumped:
            times.append(one.at)
            ratios.append((other.at - one.at) / length)
    if not ratios:
        return home
    order = np.searchsorted(times, [at for at, _ in heard])
    return np.array([float(np.median(ratios[max(0, k - 4) : k + 4] or ratios)) for k in order])


def _told(route: Route, matches: Sequence[Match]) -> list[Action]:
    """Places and beats of an alignment."""
    actions: list[Action] = []
    runs: list[list[Match]] = []
    for match in matches:
        if match.jumped or not runs:
            runs.append([])
        runs[-1].append(match)
    all_beats = beat_positions(route)
    for index, run in enumerate(runs):
        counts = np.array([float(route.changes[match.change].position) for match in run])
        times = np.array([match.at for match in run])
        ends = runs[index + 1][0].at if index + 1 < len(runs) else np.inf
        for change in route.changes[run[0].change :]:
            exact = next((match.at for match in run if match.change == change.index), None)
            at = exact if exact is not None else _smoothed(counts, times, float(change.position), route)
            if at >= ends:
                break
            ahead = float(change.position) + TEMPO_OVER
            period = (
                _smoothed(counts, times, ahead, route) - _smoothed(counts, times, ahead - 2 * TEMPO_OVER, route)
            ) / (2 * TEMPO_OVER)
            bpm = 60.0 / max(period, 0.01) / float(route.bars[change.bar].meter.counted_beat)
            actions.append(PlaceIs(at=at, change=change.index, position=change.position, bpm=bpm, sure=1.0))
        for position in all_beats:
            if position >= route.changes[run[0].change].position:
                at = _smoothed(counts, times, float(position), route)
                if at >= ends - 0.1:
                    break
                actions.append(BeatIs(at=at, position=position))
    return sorted(actions, key=lambda action: action.at)


def _smoothed(counts: np.ndarray, times: np.ndarray, count: float, route: Route) -> float:
    """When a count falls: a straight line through the cues about it, those nearer weighing more."""
    if len(counts) == 1:
        return float(times[0] + (count - counts[0]) * 60.0 / route.bars[0].quarter_bpm)
    away = np.abs(counts - count)
    weight = np.exp(
        -0.5 * (away / max(KERNEL, float(np.partition(away, min(2, len(away) - 1))[min(2, len(away) - 1)]))) ** 2
    )
    mean_c, mean_t = np.average(counts, weights=weight), np.average(times, weights=weight)
    slope = np.sum(weight * (counts - mean_c) * (times - mean_t)) / max(np.sum(weight * (counts - mean_c) ** 2), 1e-9)
    return float(mean_t + slope * (count - mean_c))
