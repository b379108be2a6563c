"""Echoes: what we sent and comes back, told apart from the player's own keys.

Consoles send on what they receive, some of them, and what we sent must never come back as a cue. Nor may a key of the player's
be taken for an echo: his hand on the figure's manual has to silence the figure. Three rules, for each key of each channel:

* An echo is expected for each press that we sent, once, and for a release of ours only where its press came back: a console
  that did not echo the one does not echo the other. (A sweep releases keys that we never pressed: their echoes stand alone.)
* It is expected within ``ECHO``. Once a channel has been heard to echo, within twice the longest time it took of late.
* A channel by which ``ENOUGH`` presses have not come back does not echo: from then on only what comes back ``AT_ONCE`` is one,
  as when a coupler or a piston has just switched the echo on.

Times are seconds, handed in; channels are 1-16.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, field

ECHO = 0.25
"""How long after we sent it, in seconds, a message may come back as an echo, as long as the console's habit is not known."""
AT_ONCE = 0.03
"""The least that is allowed for, in seconds: a DIN line there and back, a burst of keys before this one."""
ENOUGH = 8
"""After so many presses that did not come back, the console does not echo."""


@dataclass(slots=True)
class _Key:
    """What we sent to a key."""

    presses: deque[float] = field(default_factory=lambda: deque(maxlen=16))
    """When, of those that have not come back."""
    releases: deque[tuple[float, bool]] = field(default_factory=lambda: deque(maxlen=16))
    """The same, and whether each ended a press of ours."""
    down: int = 0
    """Presses without a release so far."""
    returned: int = 0
    """Presses that came back, and whose releases have not."""


class LoopGuard:
    """What we sent a moment ago, so that its echo is known."""

    def __init__(self) -> None:
        self._keys: dict[tuple[int, int], _Key] = {}
        self._took: dict[int, deque[float]] = {}
        """For each channel how long its latest echoes took."""
        self._unreturned: Counter[int] = Counter()
        """For each channel how many presses were sent since the latest echo."""

    def sent(self, at: float, channel: int, key: int, on: bool) -> None:
        """We are about to press or release a key of a channel."""
        ours = self._keys.setdefault((channel, key), _Key())
        if on:
            ours.presses.append(at)
            ours.down += 1
            self._unreturned[channel] += 1
            return
        ours.releases.append((at, ours.down > 0))
        ours.down = max(0, ours.down - 1)

    def echo(self, at: float, channel: int, key: int, on: bool) -> bool:
        """Whether a message that arrived is one of ours that came back; if so, it will not be one again."""
        ours = self._keys.get((channel, key))
        if ours is None:
            return False
        oldest = at - self._window(channel)
        return self._press_returned(ours, at, oldest, channel) if on else self._release_returned(ours, at, oldest)

    def _window(self, channel: int) -> float:
        if self._unreturned[channel] > ENOUGH:
            return AT_ONCE
        took = self._took.get(channel)
        return min(ECHO, max(AT_ONCE, 2.0 * max(took))) if took else ECHO

    def _press_returned(self, ours: _Key, at: float, oldest: float, channel: int) -> bool:
        while ours.presses and ours.presses[0] < oldest:
            ours.presses.popleft()
        if not ours.presses or at < ours.presses[0]:  # it came before we sent ours: it is the player's
            return False
        self._took.setdefault(channel, deque(maxlen=ENOUGH)).append(at - ours.presses.popleft())
        self._unreturned[channel] = 0
        ours.returned += 1
        return True

    def _release_returned(self, ours: _Key, at: float, oldest: float) -> bool:
        while ours.releases and ours.releases[0][0] < oldest:
            ours.releases.popleft()
        if not ours.releases or at < ours.releases[0][0]:
            return False
        ended_ours = ours.releases[0][1]
        if ended_ours and not ours.returned:
            return False
        ours.releases.popleft()
        ours.returned -= ended_ours
        return True
