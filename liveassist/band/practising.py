"""Practising: some sections alone, once or in a loop, and a click that leaves beats or bars to the player.

Sections are played in the order in which they are named, each where it first comes in the song; the plan gets a detour at the
end of each. The nod ``on`` lifts them, and the song goes on from there.

The click may be on every beat, on the backbeats (two and four; in three two and three, in two the second: common practice, no
source), or on bar starts only; and it may fall out for some bars and come back. Bars are counted as they are played, from 0,
so a loop's silent bars are not the same ones each time round. A count-in is always clicked whole.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from charts.chart import same_name
from charts.route import Route, RouteChange
from liveassist.band.plan import LOOP, Detour, Plan
from liveassist.settings import Settings

BEATS, BACKBEAT, BARS = "beats", "backbeat", "bars"
CLICKED = (BEATS, BACKBEAT, BARS)
"""Where the click may fall."""
BETWEEN = ";"
"""Stands between the names of sections in a setting."""


def sections_named(names: str) -> tuple[str, ...]:
    """The names in a setting."""
    return tuple(name.strip() for name in names.split(BETWEEN) if name.strip())


def spans(route: Route, names: str) -> tuple[tuple[int, int], ...]:
    """First and last bar of each named section; of the whole route where none is named. Names that are not there are left
    out: the command that takes them tells."""
    found = []
    for name in sections_named(names):
        first = next((bar.index for bar in route.bars if bar.starts_section and same_name(bar.section, name)), None)
        if first is not None:
            found.append((first, next(bar.index for bar in route.bars[first:] if bar.ends_section)))
    return tuple(found) or ((0, len(route.bars) - 1),)


def first_change(route: Route, settings: Settings) -> RouteChange:
    """The chord with which a performance begins: the first at or after the bar at which to start, or of the first section that
    is practised; the last of all where none is left."""
    wanted = spans(route, settings.practise)[0][0] if settings.practise else settings.from_bar
    return next((change for change in route.changes if change.bar >= wanted), route.changes[-1])


def lay(plan: Plan, route: Route, names: str, *, loop: bool) -> None:
    """Lay the way through the sections that are practised."""
    if not names and not loop:
        return
    parts = spans(route, names)
    for (_, last), (following, _) in pairwise(parts):
        plan.lay(last, Detour(following, LOOP, stays=True))
    plan.lay(parts[-1][1], Detour(parts[0][0] if loop else None, LOOP, stays=True))


def bars_dropped(drop: str) -> tuple[int, int]:
    """``2:2`` as (bars with the click, bars without); (1, 0) where nothing is said."""
    on, _, off = drop.partition(":")
    return (int(on), int(off)) if drop else (1, 0)


def clicked(where: str, drop: str, beat: Fraction, *, beats: int, number: int) -> bool:
    """Whether a beat has its click.

    Args:
        where: a member of ``CLICKED``.
        drop: bars with and without the click, as ``2:2``; empty: it never falls out.
        beat: of the bar, from 1.
        beats: counted beats in the bar.
        number: of the bar as played, from 0.
    """
    on, off = bars_dropped(drop)
    if number % (on + off) >= on:
        return False
    if where == BARS:
        return beat == 1
    if where == BACKBEAT:
        return beat.denominator == 1 and (beat > 1 if beats == 3 else int(beat) % 2 == 0)
    return True
