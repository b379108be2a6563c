"""What the player's hands and feet are doing: keys down on each division, and when each was last heard."""

from __future__ import annotations

from liveassist.band.events import DIVISIONS, MELODY_MANUAL, PEDAL


class PlayerKeys:
    """Keys now down, by division, with the time they went down."""

    def __init__(self) -> None:
        self.down: dict[str, dict[int, float]] = {division: {} for division in DIVISIONS}
        self.latest: dict[str, float] = {}
        """When each division was last struck."""
        self.silent_since: float | None = None
        """When the last key of all came up; None while one is down or none was ever played."""
        self.lost: set[str] = set()
        """Divisions whose port is away."""
        self.unheard_since: float | None = None
        """When the first foot was due that did not come, if none has come since."""
        self.muted = False
        """Whether it was told that the pedal is silent."""

    def press(self, division: str, key: int, at: float) -> None:
        self.down[division][key] = at
        self.latest[division] = at
        self.silent_since = None

    def let_go(self, division: str, key: int, at: float) -> None:
        if self.down[division].pop(key, None) is not None and self.silent:
            self.silent_since = at

    def lose(self, division: str, at: float) -> None:
        """A port went away: its keys can no longer be known to be down."""
        self.lost.add(division)
        self.down[division].clear()
        if self.silent and self.silent_since is None and self.latest:
            self.silent_since = at

    @property
    def silent(self) -> bool:
        """No key of the pedal or of the melody manual is down."""
        return not self.down[PEDAL] and not self.down[MELODY_MANUAL]

    def melody_moved_since(self, at: float) -> bool:
        return self.latest.get(MELODY_MANUAL, float("-inf")) > at

    def pedal_since(self, at: float) -> tuple[int, ...]:
        """Pedal keys down that were pressed after a time, lowest first."""
        return tuple(sorted(key for key, pressed in self.down[PEDAL].items() if pressed > at))
