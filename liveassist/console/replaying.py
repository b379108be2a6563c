"""Replaying: what the band does with the events of a take, and how that is told to programs and to people.

Times are seconds from the start of the take, told to six decimals; positions are exact, as text.

After the last event the band plays on by itself, and how long is a rule: until nothing more would happen, but no longer than
``TAIL`` seconds; where the place is counted (lead ``pulse``) the length of the whole song is added, because there the band goes
to the end by itself. When that time is over it is ended, as at the end of a real performance: every note that still sounds is
let go. So a take cut short tells the same story up to the cut.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from fractions import Fraction
from typing import Any

from charts.route import Route
from liveassist.band.events import Action, BeatIs, Event, NodTaken, NoteOff, NoteOn, PlaceIs, StateIs, Told
from liveassist.band.performance import Performance
from liveassist.console.takes import open_take

__all__ = ["action_as_json", "in_words", "open_take", "replayed", "story", "told"]

TAIL = 30.0
"""How long the band may play on after the last event, in seconds."""
BARS = "bars"


def replayed(performance: Performance, events: Iterable[Event]) -> Iterator[Action]:
    """Everything the band does with these events, in the order in which it does it."""
    ringing: dict[tuple[str, int], Fraction] = {}

    def watched(actions: Iterable[Action]) -> Iterator[Action]:
        for action in actions:
            if isinstance(action, NoteOn):
                ringing[action.part, action.pitch] = action.position
            elif isinstance(action, NoteOff):
                ringing.pop((action.part, action.pitch), None)
            yield action

    now = 0.0
    for event in events:
        now = max(now, event.heard)
        yield from watched(performance.receive(event))
    last = now + TAIL
    if performance.settings.place_lead == BARS:
        last += sum(performance.home_period(bar) * float(bar.length) for bar in performance.route.bars)
    while (due := performance.next_due()) is not None and due <= last:
        yield from watched(performance.due(due))
    for (part, pitch), position in sorted(ringing.items()):
        yield NoteOff(at=last, part=part, pitch=pitch, position=position)


# -- for programs ---------------------------------------------------------------------------------------------------


def _place(action: PlaceIs, route: Route) -> dict[str, Any]:
    bar = route.bar_at(action.position)
    return {
        "section": bar.section,
        "pass": bar.pass_,
        "bar": bar.number,
        "beat": float(bar.beat_at(action.position)),
        "position": str(action.position),
        "change": action.change,
        "chord": route.changes[action.change].chord.symbol,
        "bpm": round(action.bpm, 3),
        "sure": round(action.sure, 4),
    }


def _note(action: NoteOn | NoteOff, _: Route) -> dict[str, Any]:
    on = isinstance(action, NoteOn)
    return {"part": action.part, "pitch": action.pitch, "on": on, "position": str(action.position)}


_TELLINGS: dict[type[Action], tuple[str, Callable[[Any, Route], dict[str, Any]]]] = {
    PlaceIs: ("place", _place),
    BeatIs: ("beat", lambda action, _: {"position": str(action.position)}),
    NoteOn: ("note", _note),
    NoteOff: ("note", _note),
    StateIs: ("state", lambda action, _: {"state": action.state}),
    NodTaken: ("nod", lambda action, _: {"nod": action.nod}),
}
"""For each action its kind and what is told of it. Actions that are not here are for people."""


def action_as_json(action: Action, route: Route) -> dict[str, Any] | None:
    """An action as the JSON object of its line, or None where programs are told nothing."""
    if type(action) not in _TELLINGS:
        return None
    kind, told = _TELLINGS[type(action)]
    return {"kind": kind, "at": round(action.at, 6), **told(action, route)}


def story(actions: Iterable[Action], route: Route) -> Iterator[dict[str, Any]]:
    """The lines of ``liveassist replay --json``, in order of ``at``; in the order of doing where that is the same."""
    for action in sorted(actions, key=lambda action: action.at):
        line = action_as_json(action, route)
        if line is not None:
            yield line


# -- for people -----------------------------------------------------------------------------------------------------


def in_words(actions: Iterable[Action], route: Route) -> Iterator[str]:
    """The same story to read: a line for each change, state and nod, and what the band made of what it heard."""
    for action in sorted(actions, key=lambda action: action.at):
        text = told(action, route)
        if text:
            minutes, seconds = divmod(action.at, 60)
            yield f"{int(minutes):>3}:{seconds:06.3f}  {text}"


def told(action: Action, route: Route) -> str:
    """An action in words, empty where it is not for people."""
    match action:
        case PlaceIs():
            bar = route.bar_at(action.position)
            where = f"{bar.section}{f' (time {bar.pass_})' if bar.pass_ > 1 else ''}, bar {bar.number}"
            beat = float(bar.beat_at(action.position))
            chord = route.changes[action.change].chord.shown
            return f"{chord:<8} {where}, beat {beat:g}, {action.bpm:.0f} bpm, sure {action.sure:.0%}"
        case StateIs():
            return f"-- {action.state}"
        case NodTaken():
            return f"nod: {action.nod}"
        case Told():
            return f"   {action.text}"
        case _:
            return ""
