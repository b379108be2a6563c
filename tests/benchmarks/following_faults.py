"""Where the band lost its player, in words: the song, the time, what was played, what was heard and what was believed.

Each fault can be played again: the same song and condition give the same performance (``following.played``).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from charts.pitch import simplest
from charts.route import Route
from liveassist.band.events import Action, Event, KeyDown, StateIs, Told
from liveassist.players.places import asked_at, false_jumps, landings, rightly_placed
from liveassist.players.scoring import places_told, told_at
from liveassist.players.truth import Script, events

BEFORE, AFTER = 4.0, 3.0
"""Seconds of the story told before and after a fault begins."""


@dataclass(frozen=True, kw_only=True)
class Fault:
    """Changes played one after the other for which the band was somewhere else."""

    at: float
    changes: int
    what: str
    story: tuple[str, ...]


def faults(performance: Script, actions: Sequence[Action]) -> list[Fault]:
    """The worst first. Where the player jumps, a fault begins only when the second cue has not put the band right."""
    truth = performance.truth
    right = list(rightly_placed(truth, actions))
    for landed in landings(truth):
        right[landed : landed + 2] = [True] * len(right[landed : landed + 2])
    found, index = [], 0
    told = places_told(actions)
    asked = asked_at(truth)
    while index < len(right):
        if right[index]:
            index += 1
            continue
        end = next((later for later in range(index, len(right)) if right[later]), len(right))
        there = told_at(told, asked[index])
        played = _place(truth.route, truth.changes[index].change)
        believed = "nowhere" if there is None else _place(truth.route, there)
        what = f"played {played}; the band was at {believed}"
        story = tuple(_story(performance, actions, truth.changes[index].at))
        found.append(Fault(at=truth.changes[index].at, changes=end - index, what=what, story=story))
        index = end
    for at, change in false_jumps(truth, actions):
        what = f"a jump that was not played, to {_place(truth.route, change)}"
        found.append(Fault(at=at, changes=0, what=what, story=tuple(_story(performance, actions, at))))
    return sorted(found, key=lambda fault: (-fault.changes, fault.at))


def _place(route: Route, index: int) -> str:
    change = route.changes[index]
    bar = route.bars[change.bar]
    beat = float(bar.beat_at(change.position))
    return f"{change.chord.symbol} ({bar.section} {bar.pass_}, bar {bar.number}, beat {beat:g}, change {index})"


def _story(performance: Script, actions: Sequence[Action], at: float) -> Iterator[str]:
    """What happened about a time, line by line."""
    truth = performance.truth
    sharps = truth.route.bars[0].key.sharps
    lines: list[tuple[float, int, str]] = []
    for moment in truth.changes:
        lines.append((moment.at, 0, f"played {_place(truth.route, moment.change)}"))
    for event in events(performance.messages):
        lines += _heard(event, sharps)
    for action in actions:
        if isinstance(action, Told | StateIs):
            text = action.text if isinstance(action, Told) else f"-- {action.state}"
            lines.append((action.at, 2, f"    band: {text}"))
    for moment, change in places_told(actions):
        lines.append((moment, 3, f"    band at {_place(truth.route, change)}"))
    for moment, _, text in sorted(lines):
        if at - BEFORE <= moment <= at + AFTER:
            yield f"{moment:8.3f}  {text}"


def _heard(event: Event, sharps: bool) -> list[tuple[float, int, str]]:
    if not isinstance(event, KeyDown) or event.division != "pedal":
        return []
    return [(event.at, 1, f"  foot {simplest(event.key % 12, sharps=sharps).name}")]
