"""How a take left off: what another band needs to know to go on where one has died.

Read off what was asked of the band and what it did. A tempo that was tapped while the band was silent holds for every start
after it, one that was tapped while it played until the song is left; both are kept as a stretch of the written tempo, so that
they hold in a section with a tempo of its own too. What the feet made of the tempo is not brought back: they will do it again.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from math import isclose

from charts.route import Route, RouteBar
from liveassist.arranging.clock import in_proportion, written_tempo
from liveassist.band.asking import beat_tapped, tap_heard
from liveassist.band.events import Action, Event, Nodded, NodTaken, PlaceIs, ShoeMoved, StateIs, TempoAsked
from liveassist.band.practising import first_change
from liveassist.band.shoe import fullness_at
from liveassist.band.states import BEGUN, FINE, READY, SILENT, TACET
from liveassist.console.takes import Take, read_take
from liveassist.errors import PlayerError
from liveassist.settings import Settings


@dataclass(frozen=True, kw_only=True, slots=True)
class LeftOff:
    """Where and how."""

    bar: int | None = None
    """Index of the bar in the route; None where the take does not tell."""
    nods: tuple[str, ...] = ()
    """Those that bring back the key, and the silence of a muted click."""
    fullness: int | None = None
    """None where the take does not tell."""
    home: float = 0.0
    """The tempo of the settings as it is in that bar, in counted beats a minute; 0: the chart's, or the take does not tell."""
    tempo: float = 0.0
    """The one asked for since, in that bar; 0: none was."""


def left_off(take: str, route: Route) -> LeftOff:
    """How the take in this file left off."""
    try:
        read = read_take(take)
        settings = Settings(**read.header.settings)
    except (PlayerError, TypeError):  # or a take of another version's settings
        return LeftOff()
    places = [action.change for action in read.actions if isinstance(action, PlaceIs)]
    bar = route.changes[places[-1]].bar if places else None
    again = settings if bar is None else replace(settings, from_bar=bar)
    begins = _begins(route, again)
    lift = _lift(read.actions)
    muted = settings.click and sum(_is_nod(action, "mute") for action in read.actions) % 2
    return LeftOff(
        bar=bar,
        nods=("up" if lift > 0 else "down",) * abs(lift) + ("mute",) * muted,
        fullness=_fullness(read, settings),
        home=in_proportion(settings.tempo, _begins(route, settings), begins),
        tempo=_tempo(read, settings, route, begins),
    )


def _is_nod(action: Action, name: str) -> bool:
    return isinstance(action, NodTaken) and action.nod == name


def _lift(actions: Sequence[Action]) -> int:
    """Half steps from the key as written: by nods, since the song was last left."""
    lift, state = 0, ""
    for action in actions:
        if isinstance(action, NodTaken):
            lift += {"up": 1, "down": -1}.get(action.nod, 0)
        elif isinstance(action, StateIs):
            if action.state == FINE or (action.state == TACET and state in BEGUN):
                lift = 0
            state = action.state
    return lift


def _in_order(take: Take) -> list[Event | Action]:
    """What was asked and what was done, as time went by; first what was asked."""
    timed: list[tuple[float, Event | Action]] = [(event.heard, event) for event in take.events]
    timed += [(action.at, action) for action in take.actions]
    return [each for _, each in sorted(timed, key=lambda pair: pair[0])]


def _fullness(take: Take, settings: Settings) -> int:
    fullness, shoe = settings.fullness, None
    for each in _in_order(take):
        match each:
            case NodTaken(nod="fuller"):
                fullness = min(4, fullness + 1)
            case NodTaken(nod="thinner"):
                fullness = max(1, fullness - 1)
            case ShoeMoved(value=value) if settings.shoe == "fullness":
                before, shoe = shoe, fullness_at(value, shoe)
                fullness = fullness if shoe == before else shoe
    return fullness


def _tempo(take: Take, settings: Settings, route: Route, bar: RouteBar) -> float:
    """Counted beats a minute in a bar, 0 where nobody asked for another tempo than the settings give it."""
    first = here = _begins(route, settings)
    start = now = _stretch(settings.tempo, first) if settings.tempo else 1.0
    state, taps = READY, list[float]()
    for each in _in_order(take):
        match each:
            case PlaceIs(change=change):
                here = route.bars[route.changes[change].bar]
            case StateIs():
                state = each.state
                here, now = (first, start) if state in SILENT else (here, now)
            case TempoAsked(bpm=bpm) if state in SILENT:
                start = now = _stretch(bpm, first)
            case Nodded(nod="tap", at=moment):
                taps = tap_heard(taps, moment)
                if (beat := beat_tapped(taps)) is not None:
                    now = _stretch(60.0 / beat, here)
                    start = now if state in SILENT else start
    asked = round(written_tempo(bar) / now, 1)
    expected = in_proportion(settings.tempo, first, bar) or written_tempo(bar)
    return 0.0 if isclose(asked, expected, abs_tol=0.1) else asked


def _begins(route: Route, settings: Settings) -> RouteBar:
    """The bar in which a band with these settings begins."""
    return route.bars[first_change(route, settings).bar]


def _stretch(bpm: float, bar: RouteBar) -> float:
    """How many times as long as written a beat is at that tempo."""
    return written_tempo(bar) / bpm
