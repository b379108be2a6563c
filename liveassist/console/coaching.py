"""The coach: listens to a rehearsal pass by pass, says how each went, and climbs the tempo ladder.

A pass ends with the fine. It is reviewed in a thread of its own, because the band may not wait for figures; what comes of it is
asked of the band like anything else, as events that the take keeps, so a replay plays the same.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Sequence
from contextlib import suppress
from queue import Empty, SimpleQueue

from charts.route import Route
from liveassist.band.events import Action, BeatIs, Event, Nodded, StateIs, TempoAsked, Told
from liveassist.band.states import COUNT_IN, FINE, TACET
from liveassist.rehearsal.ladder import Ladder, Rung, Verdict, climbed, verdict
from liveassist.rehearsal.review import review

Work = Callable[[], None]


def in_a_thread(work: Work) -> None:
    """Do some work beside the music."""
    threading.Thread(target=work, name="coach", daemon=True).start()


class Coach:
    """Listens, and advises once a pass is over. With a ladder it counts in again by itself, until the top is reached."""

    def __init__(
        self, route: Route, ladder: Ladder | None = None, *, work: Callable[[Work], None] = in_a_thread
    ) -> None:
        self._route, self._ladder, self._work = route, ladder, work
        self._events: list[Event] = []
        self._actions: list[Action] = []
        self._state = ""
        self._verdicts: SimpleQueue[Verdict | None] = SimpleQueue()
        self._passes: list[bool] = []
        self._next: Rung | None = None
        """The tempo at which to count in once the band is tacet again."""
        self._judging = self._ended = False

    @property
    def over(self) -> bool:
        """The latest pass has ended, and nothing is left to say or to count in."""
        return self._ended and not self._judging and self._next is None

    # -- what the runner tells ----------------------------------------------------------------------------------------

    def heard(self, event: Event) -> None:
        self._events.append(event)

    def played(self, actions: Sequence[Action]) -> None:
        for action in actions:
            if isinstance(action, BeatIs):
                self._actions.append(action)
            elif isinstance(action, StateIs):
                self._state = action.state
                self._ended = action.state in (FINE, TACET)
                if action.state == COUNT_IN:
                    self._forget()
                elif action.state == FINE:
                    self._judge()

    def advice(self, now: float) -> Sequence[Event | Told]:
        found: list[Event | Told] = []
        with suppress(Empty):
            found.append(Told(at=now, text=self._on(self._verdicts.get_nowait()), kind="note"))
        if self._next is not None and self._state == TACET:
            rung, self._next = self._next, None
            found.append(TempoAsked(at=now, heard=now, bpm=rung.bpm))
            found.append(Nodded(at=now, heard=now, nod="count"))
        return found

    # -- what it thinks -----------------------------------------------------------------------------------------------

    def _judge(self) -> None:
        events, actions = tuple(self._events), tuple(self._actions)
        self._forget()
        if actions:
            self._judging = True
            self._work(lambda: self._review(events, actions))

    def _review(self, events: Sequence[Event], actions: Sequence[Action]) -> None:
        """Review a pass. Should that fail, nobody waits for it for ever."""
        found = None
        try:
            found = verdict(review(self._route, events, actions))
        finally:
            self._verdicts.put(found)

    def _forget(self) -> None:
        """What was heard so far belongs to no pass any more."""
        self._events, self._actions = [], []

    def _on(self, found: Verdict | None) -> str:
        """What to say of a pass, and what to do next."""
        self._judging = False
        if found is None:
            return "no pedal note of the chart in this pass; k counts in again"
        judged = f"{found.words}: {'a good pass' if found.good else 'not yet'}"
        if self._ladder is None:
            return judged
        self._passes.append(found.good)
        before, rung = climbed(self._ladder, self._passes[:-1]), climbed(self._ladder, self._passes)
        if rung.done:
            return f"{judged}; twice at {rung.bpm:g}: the top of the ladder"
        self._next = rung
        moved = "up to" if rung.bpm > before.bpm else "down to" if rung.bpm < before.bpm else "once more at"
        return f"{judged}; {moved} {rung.bpm:g}"
