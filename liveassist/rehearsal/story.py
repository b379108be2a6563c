"""The story of a take: what was due and when, and what the feet did.

What was due follows the beats that the band told: a counted beat fell at this time, at this position of the route. Repeats,
vamps, jumps and holds are in them, as they were played. Between two beats time runs evenly.

The beats of a click are a grid that knows nothing of the feet, so errors against it are the player's own. Where the feet
themselves have led, the beats follow them; then the reference is drawn anew through the feet: a straight line fitted to the
right notes around each one (local linear regression with tricube weights; Cleveland 1979, from memory), so that what is judged
is evenness, and the tempo is a curve.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import zip_longest

from charts.route import Route
from liveassist.band.conductor import shift
from liveassist.band.events import PEDAL, Action, BeatIs, Event, KeyDown, KeyUp, NodTaken
from liveassist.rehearsal.matching import RIGHT, Foot, Pair, Written

TWINS = 0.060
"""Two feet within this time are one, the lower one leading, in seconds."""
AROUND = 8
"""Right notes on either side through which the line is drawn where the feet lead."""
STOOD = 1.75
"""A beat that lasts so many times the one before it was held."""


@dataclass(frozen=True, slots=True)
class Beat:
    """A counted beat."""

    at: float
    position: Fraction
    """Quarter notes from the start of the route."""


def beats_told(actions: Iterable[Action]) -> tuple[Beat, ...]:
    """The counted beats of a take, in order of time."""
    beats = (Beat(action.at, action.position) for action in actions if isinstance(action, BeatIs))
    return tuple(sorted(beats, key=lambda beat: beat.at))


def lifts_of(actions: Iterable[Action]) -> tuple[tuple[float, int], ...]:
    """Key changes by nods: (when the nod was taken, semitones), in order."""
    steps = {"up": 1, "down": -1}
    return tuple((one.at, steps[one.nod]) for one in actions if isinstance(one, NodTaken) and one.nod in steps)


@dataclass(frozen=True, slots=True)
class Falling:
    """A position of the route as the beats went through it."""

    index: int
    """Which of the positions."""
    at: float
    told: float
    """When the beat before it was told."""
    lasts: float
    """Seconds in a counted beat there."""
    length: Fraction
    """Of a counted beat, in quarter notes."""


def falling(route: Route, beats: Sequence[Beat], positions: Sequence[Fraction]) -> Iterator[Falling]:
    """When each of some positions, which come in order, was reached: as often as the beats came by."""
    lasts = 0.0
    for beat, following in zip_longest(beats, beats[1:]):
        length = route.bar_at(beat.position).meter.counted_beat
        stretch = length
        if following is not None and beat.position < following.position < beat.position + length:
            stretch = following.position - beat.position  # the beat of a pickup, or one cut short
        if following is not None:
            gone = (following.at - beat.at) * float(length / stretch)
            lasts = gone if lasts == 0.0 or gone <= STOOD * lasts else lasts
        if lasts == 0.0:
            continue
        for index in range(bisect_left(positions, beat.position), len(positions)):
            into = positions[index] - beat.position
            if into >= stretch:
                break
            yield Falling(index, beat.at + lasts * float(into / length), beat.at, lasts, length)


def lifted_by(route: Route, beats: Sequence[Beat], lifts: Sequence[tuple[float, int]]) -> Callable[[float], int]:
    """How many semitones up what is played at a beat is: a key change by a nod holds from the next bar line on."""
    bar_lines = [beat.at for beat in beats if beat.position == route.bar_at(beat.position).position]
    lifted = [(_next_of(bar_lines, at), semitones) for at, semitones in lifts]
    return lambda told: sum(semitones for at, semitones in lifted if at <= told)


def due(route: Route, beats: Sequence[Beat], lifts: Sequence[tuple[float, int]] = ()) -> tuple[Written, ...]:
    """The pedal notes that were due, in order: the bass of every change that the beats went through. Sections for manuals only
    and N.C. ask for none; a pushed chord is due where it is played."""
    up = lifted_by(route, beats, lifts)
    found: list[Written] = []
    for one in falling(route, beats, [change.position for change in route.changes]):
        change = route.changes[one.index]
        if change.bass is not None and not route.bars[change.bar].manuals_only:
            at = one.at + one.lasts * float(shift(route, change) / one.length)
            found.append(Written(change.index, at, (change.bass + up(one.told)) % 12, one.lasts))
    return tuple(found)


def _next_of(times: Sequence[float], at: float) -> float:
    """The first of some times, in order, that is after another."""
    index = bisect_right(times, at)
    return times[index] if index < len(times) else float("inf")


def feet_of(events: Iterable[Event]) -> tuple[Foot, ...]:
    """The pedal notes of a take, in order; two at once are the lower one."""
    feet: list[Foot] = []
    down: dict[int, int] = {}
    for event in events:
        if isinstance(event, KeyDown) and event.division == PEDAL:
            if feet and event.at - feet[-1].at < TWINS:
                if event.key >= feet[-1].key:
                    continue
                feet.pop()
            down[event.key] = len(feet)
            feet.append(Foot(event.at, float("inf"), event.key))
        elif isinstance(event, KeyUp) and event.division == PEDAL and event.key in down:
            index = down.pop(event.key)
            if index < len(feet) and feet[index].key == event.key:
                feet[index] = replace(feet[index], until=event.at)
    return tuple(feet)


def evened(pairs: Sequence[Pair]) -> tuple[Pair, ...]:
    """The same pairs with the written notes due where the feet themselves say, evenly among their neighbours."""
    right = [pair for pair in pairs if pair.kind == RIGHT]
    due_at = [pair.written.at for pair in right if pair.written is not None]
    errors = [pair.error for pair in right]
    moved = []
    for pair in pairs:
        written = pair.written
        if written is not None and right:
            written = replace(written, at=written.at + _smooth(due_at, errors, written.at))
        moved.append(replace(pair, written=written))
    return tuple(moved)


def _smooth(times: Sequence[float], values: Sequence[float], at: float) -> float:
    """The value at a time of the line through its neighbours."""
    middle = bisect_left(times, at)
    near = range(max(0, middle - AROUND), min(len(times), middle + AROUND + 1))
    reach = max(abs(times[index] - at) for index in near) * 1.001 + 1e-9
    weights = [(1 - (abs(times[index] - at) / reach) ** 3) ** 3 for index in near]
    total = sum(weights)
    mean_t = sum(w * times[i] for w, i in zip(weights, near, strict=True)) / total
    mean_v = sum(w * values[i] for w, i in zip(weights, near, strict=True)) / total
    spread = sum(w * (times[i] - mean_t) ** 2 for w, i in zip(weights, near, strict=True))
    if spread < 1e-12:
        return mean_v
    slope = sum(w * (times[i] - mean_t) * (values[i] - mean_v) for w, i in zip(weights, near, strict=True)) / spread
    return mean_v + slope * (at - mean_t)
