"""Charts, performances and feet for the rehearsals of the band."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from liveassist.band.events import (
    Action,
    BeatIs,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    NoteOn,
    PlaceIs,
    StateIs,
    SwitchPressed,
)
from liveassist.band.performance import Performance

QUAY = """
title = Quay
key = D
tempo = quarter 120
feel = quarters

== Roadmap ==
Verse
Chorus
Verse
Chorus
Ending

== Verse ==
| D | Bm | G A | D |

== Chorus ==
| G | A | Em | A |

== Ending ==
| G | A | D |]
"""
"""120 a minute: a beat is half a second, a bar two seconds."""

DOORS = """
title = Doors
key = C
tempo = quarter 120
feel = quarters

== Roadmap ==
Verse
Chorus
Bridge
Chorus
Ending

== Verse ==
| C | Am | F | C |

== Chorus ==
| C | Bb | Dm | E |

== Bridge ==
| Eb | Ab | Eb | Bb |

== Ending ==
| F | C |]
"""
"""A bar is two seconds; the chorus begins with the chord that sounds, as the verse does; the bridge has chords of its own."""


def route_of(text: str) -> Route:
    return unfold(read_chart(text))


def pedal(at: float, key: int, *, heard: float | None = None) -> KeyDown:
    return KeyDown(at=at, heard=at if heard is None else heard, division="pedal", key=key)


def lift(at: float, key: int, *, division: str = "pedal") -> KeyUp:
    return KeyUp(at=at, heard=at, division=division, key=key)


def tune(at: float, key: int = 74) -> KeyDown:
    return KeyDown(at=at, heard=at, division="melody", key=key)


def nod(at: float, name: str, argument: int | None = None) -> Nodded:
    return Nodded(at=at, heard=at, nod=name, argument=argument)


def press(at: float, unit: str = "change") -> SwitchPressed:
    return SwitchPressed(at=at, heard=at, unit=unit)


@dataclass
class Rehearsal:
    """A performance and everything that it did."""

    route: Route
    band: Performance
    done: list[Action] = field(default_factory=list)

    def hear(self, *events: Event) -> list[Action]:
        """Events in order; what the band did because of them."""
        new: list[Action] = []
        for event in events:
            new += self.band.receive(event)
        self.done += new
        return new

    def until(self, now: float) -> list[Action]:
        new = self.band.due(now)
        self.done += new
        return new

    def walk(self, first: int, last: int, start: float, *, spb: float = 0.5, late: Sequence[float] = ()) -> float:
        """Play the written bass of changes ``first`` to ``last`` in time, each let go a little before the next. Returns
        when the change after the last is due."""
        at = start
        for number, index in enumerate(range(first, last + 1)):
            change = self.route.changes[index]
            off = late[number % len(late)] if late else 0.0
            key = 36 + (change.bass or 0)
            length = float(change.length) * spb
            self.hear(pedal(at + off, key), lift(at + off + 0.8 * length, key))
            at += length
        return at

    def places(self) -> list[tuple[float, int]]:
        return [(round(action.at, 3), action.change) for action in self.done if isinstance(action, PlaceIs)]

    def states(self) -> list[str]:
        return [action.state for action in self.done if isinstance(action, StateIs)]

    def starts(self, since: float = 0.0, until: float = 1e9) -> list[NoteOn]:
        return [
            action
            for action in self.done
            if isinstance(action, NoteOn) and action.part != "click" and since <= action.at < until
        ]

    def beats(self) -> list[tuple[float, str]]:
        return [(round(action.at, 3), str(action.position)) for action in self.done if isinstance(action, BeatIs)]


def sounding_after(actions: Iterable[Action]) -> set[tuple[str, int]]:
    """Replays starts and ends; a start on a sounding key, or an end without a start, is an error."""
    on: set[tuple[str, int]] = set()
    for action in actions:
        key = (getattr(action, "part", ""), getattr(action, "pitch", -1))
        if isinstance(action, NoteOn):
            assert key not in on, f"{key} started twice"
            on.add(key)
        elif type(action).__name__ == "NoteOff":
            assert key in on, f"{key} ended without a start"
            on.remove(key)
    return on
