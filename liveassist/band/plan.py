"""The plan: which bar follows which, once nods have changed the written order.

Without nods the route is played straight on. A nod lays a detour: at the end of one bar the music goes to another bar than
the next. A detour is taken once (again, tag, close, to) or every time (vamp) until the nod ``on`` lifts it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from charts.route import Route

AHEAD = 6
"""How many changes ahead a cue is looked for."""
UNDERSCORE = "underscore"
"""Why a step of the roadmap goes round that the chart marks so: no nod has asked for it."""
LOOP = "loop"
"""Why the music goes elsewhere at the end of a section that is practised: no nod has asked for it, and it is no vamp."""


@dataclass(frozen=True, slots=True)
class Detour:
    """At the end of a bar, where to go instead of on."""

    to: int | None
    """Index of the bar to go to; None: the music ends."""
    why: str
    """The nod that laid it, ``UNDERSCORE`` or ``LOOP``."""
    stays: bool = False
    """True for a vamp: taken every time until lifted."""


class Plan:
    """The route with detours. Questions change nothing; ``lay``, ``lift`` and ``taken`` say what they change."""

    def __init__(self, route: Route) -> None:
        self.route = route
        self._detours: dict[int, Detour] = {}
        self._positions = [float(change.position) for change in route.changes]
        self._first_changes = self._find_first_changes()

    def _find_first_changes(self) -> list[int]:
        """For each bar the first change at or after its start."""
        found, change = [], 0
        for bar in self.route.bars:
            while change < len(self.route.changes) and self.route.changes[change].position < bar.position:
                change += 1
            found.append(change)
        return found

    def lay(self, bar: int, detour: Detour) -> None:
        """From now on the end of ``bar`` leads to ``detour.to``."""
        self._detours[bar] = detour

    def lift(self) -> bool:
        """Forget every detour; True where there was one."""
        had = bool(self._detours)
        self._detours.clear()
        return had

    def taken(self, bar: int) -> Detour | None:
        """The end of ``bar`` was passed: a detour that does not stay is used up. Returns the detour that was there."""
        detour = self._detours.get(bar)
        if detour is not None and not detour.stays:
            del self._detours[bar]
        return detour

    def detour(self, bar: int) -> Detour | None:
        """The detour at the end of a bar, if there is one."""
        return self._detours.get(bar)

    def vamp(self, bar: int) -> Detour | None:
        """The vamp that a bar goes round in, if it is in one."""
        for end, detour in self._detours.items():
            if detour.stays and detour.why != LOOP and detour.to is not None and detour.to <= bar <= end:
                return detour
        return None

    @property
    def asked(self) -> tuple[Detour, ...]:
        """The detours that lie ahead, in order of their bars."""
        return tuple(self._detours[bar] for bar in sorted(self._detours))

    def after(self, bar: int) -> int | None:
        """The bar that follows a bar, None after the last."""
        detour = self._detours.get(bar)
        if detour is not None:
            return detour.to
        return bar + 1 if bar + 1 < len(self.route.bars) else None

    def first_change(self, bar: int) -> int | None:
        """The first change at or after the start of a bar, None where none is left."""
        change = self._first_changes[bar]
        return change if change < len(self.route.changes) else None

    def next_change(self, change: int) -> tuple[int, float] | None:
        """The change that follows a change and the distance to it in quarter notes; None after the last."""
        changes, bars = self.route.changes, self.route.bars
        if not self._detours:
            if change + 1 >= len(changes):
                return None
            return change + 1, self._positions[change + 1] - self._positions[change]
        bar = changes[change].bar
        if change + 1 < len(changes) and changes[change + 1].bar == bar:
            return change + 1, self._positions[change + 1] - self._positions[change]
        distance = float(bars[bar].end) - self._positions[change]
        for _ in range(len(bars)):
            following = self.after(bar)
            if following is None:
                return None
            bar = following
            if bars[bar].changes:
                first = bars[bar].changes[0]
                return first, distance + self._positions[first] - float(bars[bar].position)
            distance += float(bars[bar].length)
        return None

    def ahead(self, change: int) -> Iterator[tuple[int, float]]:
        """The next few changes, each with its distance in quarter notes."""
        distance = 0.0
        for _ in range(AHEAD):
            following = self.next_change(change)
            if following is None:
                return
            change, distance = following[0], distance + following[1]
            yield change, distance
