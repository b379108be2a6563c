"""How well the band followed: an imagined player's truth against the band's actions. Pure functions.

Times are seconds from the same zero. An asynchrony is band minus player: positive means the band was late. The measures
follow published practice; the source stands at each.

Two changes are *the same written change* if they stand at the same place of the same section, whichever time it comes
round; an unplanned repeat may rightly be told as either pass.
"""

from __future__ import annotations

import math
import statistics
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

from charts.route import Route
from liveassist.arranging.arrangement import FIGURE
from liveassist.band.events import Action, BeatIs, NoteOff, NoteOn, PlaceIs
from liveassist.players.truth import Truth

F_WINDOW = 0.07
"""Half-width in seconds within which a beat counts as hit (the usual beat F-measure)."""
CEMGIL_SIGMA = 0.04
"""Width in seconds of the bell in Cemgil's beat score."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Asynchrony:
    """Beats of the band against beats of the player."""

    matched: int
    missed: int
    """Beats of the player without one of the band's."""
    extra: int
    """Beats of the band without one of the player's."""
    mean: float
    """Signed mean in seconds; positive: the band is late. 0 where nothing matched."""
    sd: float
    """Standard deviation in seconds (of the sample itself, not estimated beyond it)."""
    median: float
    """Median of the absolute asynchrony in seconds."""
    f_measure: float
    """Share of hits within 70 ms, of both sides' beats."""
    cemgil: float
    """Mean closeness, 1 for perfect, each beat weighed by a bell of 40 ms."""


def place_share(truth: Truth, actions: Iterable[Action], *, after: float = 0.25, exactly: bool = False) -> float:
    """Share of the player's changes that the band names rightly so long after they began; see ``asked_at``.

    Args:
        truth: what was played.
        actions: what the band did; only ``PlaceIs`` is read.
        after: seconds of grace.
        exactly: the very change of the route, not merely the same written one.
    """
    if not truth.changes:
        return 1.0
    told = places_told(actions)
    right = 0
    for moment, at in zip(truth.changes, asked_at(truth, after), strict=True):
        change = told_at(told, at)
        if change is not None:
            same = change == moment.change
            right += same or (not exactly and written(truth.route, change) == written(truth.route, moment.change))
    return right / len(truth.changes)


def asked_at(truth: Truth, after: float = 0.25) -> list[float]:
    """For each change played when the place is asked for: so many seconds after it began. A change that is over sooner is
    asked about in its middle."""
    ends = [moment.at for moment in truth.changes[1:]] + [math.inf]
    return [
        moment.at + after if moment.at + after < end else (moment.at + end) / 2
        for moment, end in zip(truth.changes, ends, strict=True)
    ]


def chord_coverage(truth: Truth, actions: Iterable[Action], *, leave_out: float = 0.1) -> float:
    """Share of the playing time in which the band has the right harmony: the same root, bass and tones.

    Args:
        truth: what was played.
        actions: what the band did; only ``PlaceIs`` is read.
        leave_out: seconds before and after each change that do not count.
    """
    told = places_told(actions)
    moments = truth.changes
    right = whole = 0.0
    for index, moment in enumerate(moments):
        last = index + 1 == len(moments)
        start = moment.at + leave_out
        end = truth.end if last else moments[index + 1].at - leave_out
        if end <= start:
            continue
        whole += end - start
        edges = [start, *(at for at, _ in told if start < at < end), end]
        for begin, until in pairwise(edges):
            change = told_at(told, begin)
            if change is not None and harmony(truth.route, change) == harmony(truth.route, moment.change):
                right += until - begin
    return right / whole if whole else 1.0


def sounding_share(truth: Truth, actions: Iterable[Action], *, leave_out: float = 0.1, part: str = FIGURE) -> float:
    """Share of the time a part sounds in which each of its notes belongs to the chord that the player is on.

    Weighed by notes: two keys down for a second are two seconds. A note that never ends sounds to the end of the truth.
    """
    right = whole = 0.0
    moments = truth.changes
    ends = [moment.at for moment in moments[1:]] + [truth.end]
    for pitch, on, off in _sounded(actions, part, truth.end):
        for index, (moment, end) in enumerate(zip(moments, ends, strict=True)):
            begin = max(on, moment.at + leave_out)
            until = min(off, end - (leave_out if index + 1 < len(moments) else 0.0))
            if begin < until:
                whole += until - begin
                if pitch % 12 in truth.route.changes[moment.change].chord.pitch_classes:
                    right += until - begin
    return right / whole if whole else 1.0


def asynchrony(truth: Truth, actions: Iterable[Action]) -> Asynchrony:
    """The band's beats against the player's own times for them.

    Each beat of the player takes the nearest beat of the band within half the interval on that side, one to one,
    nearest pairs first. F-measure: 2PR/(P+R) with hits within 70 ms (Dixon 2007, from memory). Cemgil: the sum over the
    player's beats of exp(-d^2/2s^2), d to the nearest of the band's, divided by the mean number of beats (Cemgil et al.
    2001, from memory).
    """
    player = [moment.at for moment in truth.beats]
    band = sorted(action.at for action in actions if isinstance(action, BeatIs))
    errors = [error for _, error in beat_errors(player, band)]
    beats = len(player) + len(band)
    closeness = sum(math.exp(-(min(abs(b - p) for b in band) ** 2) / (2 * CEMGIL_SIGMA**2)) for p in player if band)
    return Asynchrony(
        matched=len(errors),
        missed=len(player) - len(errors),
        extra=len(band) - len(errors),
        mean=statistics.fmean(errors) if errors else 0.0,
        sd=statistics.pstdev(errors) if errors else 0.0,
        median=statistics.median(map(abs, errors)) if errors else 0.0,
        f_measure=2 * sum(abs(error) <= F_WINDOW for error in errors) / beats if beats else 1.0,
        cemgil=2 * closeness / beats if beats else 1.0,
    )


def beat_errors(player: Sequence[float], band: Sequence[float]) -> list[tuple[int, float]]:
    """For each of the player's beats that the band told: its index, and how late the band was, in seconds."""
    return [(i, band[j] - player[i]) for i, j in _pairs(player, band)]


def places_told(actions: Iterable[Action]) -> list[tuple[float, int]]:
    """What place the band told, in order of time; of two at one time the later told stands."""
    return sorted(((a.at, a.change) for a in actions if isinstance(a, PlaceIs)), key=lambda told: told[0])


def told_at(told: Sequence[tuple[float, int]], at: float) -> int | None:
    """The change last told at or before a time; None before the first."""
    index = bisect_right(told, at, key=lambda place: place[0])
    return told[index - 1][1] if index else None


def written(route: Route, index: int) -> tuple[str, int, Fraction]:
    """Where a change stands in the chart: section, bar and place in the bar."""
    change = route.changes[index]
    return (*route.bars[change.bar].id, change.offset)


def harmony(route: Route, index: int) -> tuple[int | None, int | None, tuple[int, ...]]:
    change = route.changes[index]
    return change.root, change.bass, change.chord.pitch_classes


def _sounded(actions: Iterable[Action], part: str, end: float) -> list[tuple[int, float, float]]:
    """The notes of a part as (pitch, on, off)."""
    notes: list[tuple[int, float, float]] = []
    down: dict[int, float] = {}
    for action in sorted((a for a in actions if isinstance(a, NoteOn | NoteOff)), key=lambda a: a.at):
        if action.part == part:
            if action.pitch in down:
                notes.append((action.pitch, down.pop(action.pitch), action.at))
            if isinstance(action, NoteOn):
                down[action.pitch] = action.at
    return notes + [(pitch, on, end) for pitch, on in down.items()]


def _pairs(player: Sequence[float], band: Sequence[float]) -> list[tuple[int, int]]:
    """Nearest beats of both sides, one to one, as indices in order of the player's beats."""
    halves = [(after - before) / 2 for before, after in pairwise(player)] or [math.inf]
    near: list[tuple[float, int, int]] = []
    for i, at in enumerate(player):
        earliest, latest = at - halves[max(i - 1, 0)], at + halves[min(i, len(halves) - 1)]
        near += [(abs(b - at), i, j) for j, b in enumerate(band) if earliest <= b <= latest]
    taken_i: set[int] = set()
    taken_j: set[int] = set()
    pairs = []
    for _, i, j in sorted(near):
        if i not in taken_i and j not in taken_j:
            taken_i.add(i)
            taken_j.add(j)
            pairs.append((i, j))
    return sorted(pairs)
