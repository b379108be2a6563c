"""After a service: what a live take tells besides the feet. How the tempo went, where it was held, what was nodded, and where
the band was in the wrong place, or stood there without a foot.

All of it is read off what the band did. A place is told as the band believed it then. A jump that no nod and no detour of the
chart explains is one where the player led elsewhere, or where the band had been wrong: from here the two cannot be told
apart, so both are said.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import median

from charts.route import Route, RouteBar
from liveassist.band.events import Action, NodTaken, PlaceIs, StateIs, Told
from liveassist.band.states import FINE, HOLDING, TACET, VAMPING

NOTICED = 0.03
"""A section whose tempo is off the song's by less is not told: over several beats a change of tempo is heard from some 3 per
cent on (Drake and Botte 1993)."""
LEADING = frozenset({"again", "tag", "close", "to"})
"""Nods that lead elsewhere, once."""
NAMED = 3
"""So many places are named, and the rest counted."""


@dataclass(frozen=True, slots=True)
class Stood:
    """The band stood, or kept its chord going round."""

    at: float
    bar: int
    seconds: float


@dataclass(frozen=True, slots=True)
class Moved:
    """The place went elsewhere, and no nod had asked for it."""

    at: float
    before: int
    """Bar of the route."""
    after: int


@dataclass(frozen=True, slots=True)
class Service:
    """What a live take tells besides the feet."""

    tempi: tuple[tuple[str, int, float], ...]
    """(section, time round, counted beats a minute) in the order of playing."""
    holds: tuple[Stood, ...]
    vamps: tuple[Stood, ...]
    """On missing cues: those that were asked for are no fault."""
    moved: tuple[Moved, ...]
    doubts: int
    nods: tuple[tuple[float, str, int], ...]
    """(when, which, bar of the route)."""


def service(route: Route, actions: Iterable[Action]) -> Service:
    """Read a take's actions."""
    tempi: list[tuple[RouteBar, list[float]]] = []
    holds: list[Stood] = []
    vamps: list[Stood] = []
    moved: list[Moved] = []
    nods: list[tuple[float, str, int]] = []
    change: int | None = None
    began: tuple[str, float, int] | None = None
    led = asked_vamp = False
    doubts = 0
    for action in sorted(actions, key=lambda one: one.at):
        bar = 0 if change is None else route.changes[change].bar
        match action:
            case PlaceIs():
                here = route.bars[route.changes[action.change].bar]
                elsewhere = change is not None and action.change not in (change, change + 1)
                if elsewhere and not (led or asked_vamp or route.bars[bar].underscore):
                    moved.append(Moved(action.at, bar, here.index))
                if not tempi or tempi[-1][0].step != here.step or here.index < bar:
                    tempi.append((here, []))
                tempi[-1][1].append(action.bpm)
                change, led = action.change, led and not elsewhere
            case StateIs():
                if began is not None:
                    stood = Stood(began[1], began[2], action.at - began[1])
                    (holds if began[0] == HOLDING else vamps).append(stood)
                    began = None
                vamping = action.state == VAMPING and not asked_vamp and not route.bars[bar].underscore
                if action.state == HOLDING or vamping:
                    began = action.state, action.at, bar
                if action.state in (FINE, TACET):
                    change, asked_vamp = None, False
            case NodTaken():
                nods.append((action.at, action.nod, bar))
                led = led or action.nod in LEADING
                asked_vamp = action.nod == "vamp" or (asked_vamp and action.nod not in (*LEADING, "on"))
            case Told(sign="doubt" | "lost"):
                doubts += 1
    told = tuple((bar.section, bar.pass_, median(bpm)) for bar, bpm in tempi)
    return Service(told, tuple(holds), tuple(vamps), tuple(moved), doubts, tuple(nods))


# -- in words ---------------------------------------------------------------------------------------------------------


def words(found: Service, route: Route) -> Iterator[str]:
    """A few sentences."""
    yield from _tempo(found.tempi)
    if found.holds:
        stood = (f"{_where(route.bars[one.bar])} {one.seconds:.1f} s" for one in found.holds)
        yield f"Held: {_listed(stood)}."
    if found.vamps:
        stood = (f"{_where(route.bars[one.bar])} {one.seconds:.1f} s" for one in found.vamps)
        yield f"The band kept its chord and waited for a foot: {_listed(stood)}."
    if found.moved:
        places = (
            f"{_clock(one.at)} from {_where(route.bars[one.before])} to {_where(route.bars[one.after])}"
            for one in found.moved
        )
        yield f"The place moved without a nod (you led elsewhere, or the band had been wrong): {_listed(places)}."
    if found.doubts:
        yield f"In doubt about a foot, and staying with the pulse: {found.doubts} time{'s' if found.doubts > 1 else ''}."
    if found.nods:
        yield f"Nods: {_listed(f'{nod} at {_clock(at)}' for at, nod, _ in found.nods)}."


def _tempo(tempi: Sequence[tuple[str, int, float]]) -> Iterator[str]:
    if not tempi:
        return
    middle = median(bpm for _, _, bpm in tempi)
    first, last = tempi[0][2], tempi[-1][2]
    if max(abs(bpm / middle - 1.0) for _, _, bpm in tempi) < NOTICED:
        yield f"Tempo: {middle:.0f} throughout."
        return
    off = [(name, time, bpm) for name, time, bpm in tempi if abs(bpm / middle - 1.0) >= NOTICED]
    named = _listed(f"{name}{f' ({time})' if time > 1 else ''} {bpm:.0f}" for name, time, bpm in off)
    yield f"Tempo: {middle:.0f} as a rule, {first:.0f} at the beginning and {last:.0f} at the end. Otherwise: {named}."


def _listed(items: Iterable[str]) -> str:
    every = list(items)
    more = len(every) - NAMED
    return ", ".join(every[:NAMED]) + (f" and {more} more" if more > 0 else "")


def _where(bar: RouteBar) -> str:
    return f"{bar.section} bar {bar.number}" if bar.number else f"the pickup to {bar.section}"


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"
