"""Hands: the player's own left hand against the changes, and the tune against what is written.

The left hand is free to invent: what counts is that it meets each change with a tone of the chord, as the band's figure does,
and plays nothing that is not in it. A note struck shortly before a change belongs to the change. Its rhythm is
laid against the simple part as it is printed, one chord a change, or against the figure, whichever has more nearly as many
attacks. The tune is laid against the
written one as the feet are against the roots (``matching``), octaves not counted; of several keys at once the highest is the
tune.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from charts.melody import joined, readable_melody
from charts.route import Route
from liveassist.band.events import FIGURE_MANUAL, MELODY_MANUAL, Event, KeyDown, KeyUp
from liveassist.rehearsal.matching import EXTRA, RIGHT, Foot, Pair, Written, matched
from liveassist.rehearsal.story import Beat, falling, lifted_by
from liveassist.rehearsal.timing import Timing, timing

AHEAD = 0.3
"""So many counted beats before a change a struck note belongs to it already: a push by an eighth of swing is a third."""
HELD_INTO = 0.1
"""A key held so many seconds into a change is a note of it."""
TOGETHER = 0.040
"""Keys struck within this time are one chord: two thirds of what is heard as two for certain (60 ms: Watson 2004 on Hirsh)."""


SIMPLE, FIGURE = "the simple part", "the figure"


@dataclass(frozen=True, slots=True)
class Rhythm:
    """When a left hand struck, whatever it struck."""

    against: str
    """SIMPLE or FIGURE."""
    asked: int
    together: int
    """Attacks that have one of the player's with them."""
    own: int
    """Attacks of the player's alone."""
    timing: Timing | None


@dataclass(frozen=True, slots=True)
class Hand:
    """The left hand of a take."""

    asked: int
    """Changes that were passed."""
    missed: tuple[int, ...]
    """Changes without a tone of their chord, by index in the route, as often as they came."""
    notes: int
    wrong: tuple[tuple[int, int], ...]
    """(change, key) of every note that is not in its chord."""
    rhythm: Rhythm

    @property
    def met(self) -> int:
        return self.asked - len(self.missed)


RECOGNISED = 0.5
"""Where less of the tune than this is right, something else was played, and the tune is not spoken of."""


@dataclass(frozen=True, slots=True)
class Sung:
    """The tune of a take."""

    asked: int
    right: int
    bars: tuple[int, ...]
    """Bar of the route of each wrong or missed note, as often as they came."""
    timing: Timing | None


def left_hand(
    route: Route,
    beats: Sequence[Beat],
    lifts: Sequence[tuple[float, int]],
    events: Sequence[Event],
    figure: Sequence[Fraction] = (),
) -> Hand | None:
    """The left hand, from the figure's manual; None where nothing was played there. ``figure``: where the figure strikes."""
    keys = _pressed(events, FIGURE_MANUAL)
    up, changes = lifted_by(route, beats, lifts), route.changes
    passed = [
        (
            one.index,
            one.at,
            one.lasts,
            frozenset((tone + up(one.told)) % 12 for tone in changes[one.index].chord.pitch_classes),
        )
        for one in falling(route, beats, [change.position for change in changes])
        if changes[one.index].chord.pitch_classes
    ]
    if not keys or not passed:
        return None
    ends = [at for _, at, _, _ in passed[1:]] + [beats[-1].at + (beats[-1].at - beats[-2].at)]
    missed: list[int] = []
    wrong: list[tuple[int, int]] = []
    notes = 0
    for (index, at, lasts, tones), end in zip(passed, ends, strict=True):
        first, last = at - AHEAD * lasts, end - AHEAD * lasts
        struck = [key for key in keys if first <= key.at < last]
        held = [key for key in keys if key.at < first and key.until > at + HELD_INTO]
        notes += len(struck)
        wrong += [(index, key.key) for key in struck if key.key % 12 not in tones]
        if not any(key.key % 12 in tones for key in (*struck, *held)):
            missed.append(index)
    return Hand(len(passed), tuple(missed), notes, tuple(wrong), _rhythm(route, beats, keys, figure))


def _rhythm(route: Route, beats: Sequence[Beat], keys: Sequence[Foot], figure: Sequence[Fraction]) -> Rhythm:
    """The attacks against those of the part that they are more like."""
    struck = [Foot(one.at, one.until, 0) for one in _top(keys)]
    parts = {SIMPLE: [change.position for change in route.changes if change.chord.pitch_classes], FIGURE: figure}
    asked = {
        name: [Written(one.index, one.at, 0, one.lasts) for one in falling(route, beats, places)]
        for name, places in parts.items()
        if places
    }
    against = min(asked, key=lambda name: abs(len(asked[name]) - len(struck)))
    pairs = matched(asked[against], struck)
    right = [pair for pair in pairs if pair.kind == RIGHT]
    return Rhythm(against, len(asked[against]), len(right), sum(pair.kind == EXTRA for pair in pairs), _timing(right))


def sung(
    route: Route, beats: Sequence[Beat], lifts: Sequence[tuple[float, int]], events: Sequence[Event]
) -> Sung | None:
    """The tune, from the melody manual; None where none is written, or something else was played there."""
    written_tune = joined(readable_melody(route))
    played = list(_top(_pressed(events, MELODY_MANUAL)))
    if not written_tune or not played or len(beats) < 2:
        return None
    up = lifted_by(route, beats, lifts)
    written = [
        Written(one.index, one.at, (written_tune[one.index].pitch + up(one.told)) % 12, one.lasts)
        for one in falling(route, beats, [note.position for note in written_tune])
    ]
    pairs = [pair for pair in matched(written, played) if pair.written is not None]
    right = [pair for pair in pairs if pair.kind == RIGHT]
    if len(right) < RECOGNISED * len(written):
        return None
    return Sung(len(written), len(right), tuple(written_tune[change].bar for change in _faults(pairs)), _timing(right))


def _faults(pairs: Iterable[Pair]) -> Iterator[int]:
    for pair in pairs:
        if pair.kind != RIGHT and pair.written is not None:
            yield pair.written.change


def _timing(right: Sequence[Pair]) -> Timing | None:
    due = [pair.written for pair in right if pair.written is not None]
    return timing([one.at for one in due], [pair.error for pair in right], [one.beat for one in due])


def _pressed(events: Iterable[Event], division: str) -> list[Foot]:
    """The notes of a division, in order."""
    found: list[list[float]] = []
    down: dict[int, int] = {}
    for event in events:
        if isinstance(event, KeyDown) and event.division == division:
            down[event.key] = len(found)
            found.append([event.at, float("inf"), event.key])
        elif isinstance(event, KeyUp) and event.division == division and event.key in down:
            found[down.pop(event.key)][1] = event.at
    return sorted((Foot(at, until, int(key)) for at, until, key in found), key=lambda note: note.at)


def _top(keys: Sequence[Foot]) -> Iterator[Foot]:
    """The highest of keys struck together."""
    group: list[Foot] = []
    for key in keys:
        if group and key.at - group[0].at > TOGETHER:
            yield max(group, key=lambda one: one.key)
            group = []
        group.append(key)
    if group:
        yield max(group, key=lambda one: one.key)
