"""The review of a take: what was played against what was written, note by note, by bar, by section, by beat.

Pure: route, events and actions in, figures out. The words are in ``telling``, the pictures in ``report``.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Hashable, Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from statistics import fmean
from typing import TypeVar

from charts.route import Route, RouteBar, RouteChange
from liveassist.band.events import Action, Event, NodTaken
from liveassist.rehearsal.hands import Hand, Sung, left_hand, sung
from liveassist.rehearsal.matching import HELD, MISSED, RIGHT, WRONG, Foot, Pair, Written, matched
from liveassist.rehearsal.service import Service, service
from liveassist.rehearsal.silence import Return, returns
from liveassist.rehearsal.story import Beat, beats_told, due, evened, feet_of, lifts_of
from liveassist.rehearsal.timing import CLOSE, Timing, judged, timing

CLICK, FEET = "click", "feet"
"""What errors are measured against: the click, or the feet's own even run."""

AGAIN, TONE, STEP, STRAY = "the root again", "of the chord", "on the way", "stray"
"""What a note that nobody asked for is: the bass struck again, another note of the chord, a step or a half step before the
next bass, none of these."""
ON_THE_WAY = (1, 2)
WORST = 5
LAST, FIRST = 4.0, 1.0
"""Feet so many seconds after the last beat of a pass, or before its first, are of something else."""
FAR = 0.4
"""A right note so many counted beats off the player's own run is told by itself, and is not in the figures."""
FAULT = 0.100
"""A wrong or a missed note weighs like being so many seconds out, when the worst bars are looked for."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Remark:
    """One note to tell of, with its place."""

    kind: str
    """RIGHT, WRONG, MISSED, EXTRA or HELD."""
    at: float
    """Seconds from the start of the take: when it was due, or played where nothing was due."""
    change: int
    """Index of the change; of the one sounding for an extra note."""
    bar: int
    """Index of the bar in the route."""
    beat: float
    """Counted beat in the bar, from 1; of the change, or where an extra note fell."""
    error: float | None
    """Seconds late (negative: early), against the reference; None where nothing was due or nothing came."""
    judged: float | None
    """The same without the player's lead and drift; for right notes that were not ``FAR`` out of time."""
    written: int | None
    """Pitch class that was due; None for an extra note."""
    played: int | None
    """Key number."""
    what: str = ""
    """For an extra note: AGAIN, TONE, STEP or STRAY."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Review:
    """A take reviewed."""

    route: Route
    reference: str
    """CLICK or FEET."""
    remarks: tuple[Remark, ...]
    whole: Timing | None
    sections: tuple[tuple[str, Timing], ...]
    """By name, in the order of first playing."""
    beats: tuple[tuple[float, Timing], ...]
    """By the beat in the bar."""
    worst: tuple[RouteBar, ...]
    """Written bars, the worst first; at most five, and none in which all is well."""
    tempo: tuple[tuple[float, float], ...]
    """(seconds, counted beats a minute) at each right note after the first: the tempo that the feet kept."""
    nods: tuple[tuple[float, str], ...]
    returns: tuple[Return, ...] = ()
    """Each time that the click came back, where it fell out."""
    left: Hand | None = None
    """The player's own left hand, where there was one."""
    tune: Sung | None = None
    """The tune, where one is written and was played."""
    service: Service | None = None
    """Of a take that the feet led."""

    def of_kind(self, *kinds: str) -> tuple[Remark, ...]:
        return tuple(remark for remark in self.remarks if remark.kind in kinds)

    @property
    def far(self) -> tuple[Remark, ...]:
        """Right notes that came far too early or late."""
        return tuple(remark for remark in self.of_kind(RIGHT) if remark.judged is None)

    @property
    def faults(self) -> int:
        """Notes wrong or missed."""
        return len(self.of_kind(WRONG, MISSED))

    @property
    def asked(self) -> int:
        """Notes that the chart asked for."""
        return len(self.of_kind(RIGHT, WRONG, MISSED, HELD))


def review(
    route: Route,
    events: Iterable[Event],
    actions: Iterable[Action],
    *,
    reference: str = CLICK,
    figure: Sequence[Fraction] = (),
) -> Review:
    """Review a take.

    Args:
        route: what was to be played.
        events: what was heard.
        actions: what the band did, the beats that it told above all.
        reference: CLICK where the beats were a click's, FEET where they followed the feet.
        figure: where in the route the figure strikes, for a left hand to be laid against.
    """
    events, actions = tuple(events), tuple(actions)
    beats = beats_told(actions)
    lifts = lifts_of(actions)
    written = due(route, beats, lifts)
    feet = _in_the_song(feet_of(events), beats)
    pairs = matched(written, feet)
    if reference == FEET:
        pairs = evened(pairs)
    steady = [pair for pair in pairs if pair.kind == RIGHT and abs(pair.out) <= FAR]
    right = [(pair.written, pair.error) for pair in steady if pair.written is not None]
    times, errors = [due.at for due, _ in right], [error for _, error in right]
    fair = dict(zip(map(id, steady), judged(times, errors), strict=True))
    telling = _Telling(route, beats, times, errors)
    remarks = tuple(telling.remark(pair, fair.get(id(pair))) for pair in pairs)
    rows = [
        _Row(remark, due.at, remark.judged, due.beat)
        for remark, (due, _) in zip((one for one in remarks if one.judged is not None), right, strict=True)
        if remark.judged is not None
    ]
    return Review(
        route=route,
        reference=reference,
        remarks=remarks,
        whole=timing(times, errors, [due.beat for due, _ in right]),
        sections=_grouped(rows, lambda row: route.bars[row.remark.bar].section),
        beats=tuple(sorted(_grouped(rows, lambda row: row.remark.beat))),
        worst=_worst(route, remarks),
        tempo=_tempo(route, right),
        nods=tuple((action.at, action.nod) for action in actions if isinstance(action, NodTaken)),
        returns=returns(route, beats, actions, list(zip(times, errors, strict=True))) if reference == CLICK else (),
        left=left_hand(route, beats, lifts, events, figure),
        tune=sung(route, beats, lifts, events),
        service=service(route, actions) if reference == FEET else None,
    )


def _in_the_song(feet: Sequence[Foot], beats: Sequence[Beat]) -> list[Foot]:
    """The feet that belong to the song: not what is tried after it, or between one pass and the next."""
    if not beats:
        return list(feet)
    starts = [beat.at for beat in beats]
    found = []
    for foot in feet:
        index = bisect_right(starts, foot.at)
        ended = index == len(beats) or (index > 0 and beats[index].position <= beats[index - 1].position)
        after = index > 0 and foot.at >= starts[index - 1] + LAST
        before = index < len(beats) and starts[index] - foot.at < FIRST
        if before or not (after and ended):
            found.append(foot)
    return found


class _Telling:
    """Says of each pair where in the song it was."""

    def __init__(self, route: Route, beats: Sequence[Beat], times: Sequence[float], errors: Sequence[float]) -> None:
        self._route, self._beats = route, beats
        self._starts = [beat.at for beat in beats]
        self._times, self._errors = times, errors

    def remark(self, pair: Pair, fair: float | None) -> Remark:
        route, written, foot = self._route, pair.written, pair.foot
        if written is not None:
            change = route.changes[written.change]
            bar, position, at = route.bars[change.bar], change.position, written.at
        else:
            assert foot is not None
            position, at = self._position(foot.at), foot.at
            bar, change = route.bar_at(position), route.change_at(position)
        return Remark(
            kind=pair.kind,
            at=at,
            change=change.index,
            bar=bar.index,
            beat=float(bar.beat_at(position)),
            error=pair.error if written is not None and foot is not None else None,
            judged=fair,
            written=None if written is None else written.bass,
            played=None if foot is None else foot.key,
            what="" if written is not None or foot is None else self._what(foot.key, change),
        )

    def _position(self, at: float) -> Fraction:
        """Where in the route something was played that nothing was written for, to a sixteenth of a quarter note: by the
        click, less what the player was off it just before."""
        if not self._beats:
            return Fraction(0)
        before = bisect_right(self._times, at) - 1
        at -= self._errors[before] if before >= 0 else 0.0
        index = max(0, bisect_right(self._starts, at) - 1)
        beat = self._beats[index]
        length = self._route.bar_at(beat.position).meter.counted_beat
        following = self._starts[index + 1] if index + 1 < len(self._starts) else None
        lasts = following - beat.at if following else (beat.at - self._starts[index - 1] if index else 1.0)
        share = min(0.99, max(0.0, (at - beat.at) / lasts)) if lasts > 0 else 0.0
        return beat.position + Fraction(int(share * float(length) * 16), 16)

    def _what(self, key: int, change: RouteChange) -> str:
        coming = next((other.bass for other in self._route.changes[change.index + 1 :] if other.bass is not None), None)
        if key % 12 == change.bass:
            return AGAIN
        if key % 12 in change.chord.pitch_classes:
            return TONE
        if coming is not None and min((key - coming) % 12, (coming - key) % 12) in ON_THE_WAY:
            return STEP
        return STRAY


_Name = TypeVar("_Name", bound=Hashable)


@dataclass(frozen=True, slots=True)
class _Row:
    """A right note in figures."""

    remark: Remark
    at: float
    error: float
    beat: float


def _grouped(rows: Sequence[_Row], name: Callable[[_Row], _Name]) -> tuple[tuple[_Name, Timing], ...]:
    """The figures of each group of right notes, in the order in which the groups come. Lead and drift are the whole take's, so
    a group's mean is how much later it is than the player's usual."""
    groups: dict[_Name, list[_Row]] = {}
    for row in rows:
        groups.setdefault(name(row), []).append(row)
    found = []
    for key, group in groups.items():
        figures = timing([row.at for row in group], [row.error for row in group], [row.beat for row in group])
        if figures is not None:
            found.append((key, figures))
    return tuple(found)


def _worst(route: Route, remarks: Sequence[Remark]) -> tuple[RouteBar, ...]:
    """The written bars that went worst, over all times round: by how far notes were out on the average, a wrong or missed note
    weighing ``FAULT``."""
    out: dict[tuple[str, int], list[float]] = {}
    for remark in remarks:
        if remark.kind in (WRONG, MISSED):
            out.setdefault(route.bars[remark.bar].id, []).append(FAULT)
        elif remark.kind == RIGHT and remark.judged is not None:
            out.setdefault(route.bars[remark.bar].id, []).append(abs(remark.judged))
    first = {bar.id: bar for bar in reversed(route.bars)}
    ranked = sorted(out, key=lambda bar: (-fmean(out[bar]), first[bar].index))
    return tuple(first[bar] for bar in ranked if fmean(out[bar]) > CLOSE)[:WORST]


def _tempo(route: Route, right: Sequence[tuple[Written, float]]) -> tuple[tuple[float, float], ...]:
    """The tempo that the feet kept between one right note and the next, where they follow one another in the song."""
    found = []
    for (one, late), (other, later) in pairwise(right):
        beats = (other.at - one.at) / one.beat
        played = (other.at + later) - (one.at + late)
        if other.change > one.change and played > 0.1:
            found.append((other.at + later, 60.0 * beats / played))
    return tuple(found)
