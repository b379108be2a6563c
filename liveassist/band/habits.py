"""Habits: whether this player inverts chords, learned while the place is beyond doubt.

``expecting`` says how often a foot plays the root, the fifth or the third instead of the written bass, with anybody. Who does
so will do so again; who never has will hardly begin where another place explains the foot as well. So each share moves from the
usual one towards what has been heard. Slips are no habit: they stay as likely as they are with anybody.

Nothing is learned from a foot before a cue that fits has confirmed where the player was.
"""

from __future__ import annotations

from liveassist.band.expecting import BASS, CUES, OTHER

USUAL = 12.0
"""The usual shares weigh as much as so many feet."""
MEMORY = 60.0
"""So many feet are remembered: the older ones fade."""
CONFIRMED = 0.9
"""A right cue believed so much confirms what was heard before it."""


class Habits:
    """What the feet of one player play for a change, by the kinds of ``CUES``."""

    def __init__(self) -> None:
        self.ratios = dict.fromkeys(CUES, 1.0)
        """For each kind how much likelier it is than usual."""
        self._heard = dict.fromkeys(CUES, 0.0)
        self._waiting: list[str] = []
        """Feet that wait to be confirmed."""

    def cue(self, kind: str, sure: float) -> None:
        """A foot was taken for a cue of a place that is believed so much."""
        self._waiting.append(kind)
        if kind == BASS and sure >= CONFIRMED:
            self._learn()

    def forget(self) -> None:
        """What waits to be confirmed will not be: the player was somewhere else."""
        self._waiting = []

    def _learn(self) -> None:
        for kind in self._waiting:
            self._heard[kind] += 1.0
        fading = min(1.0, MEMORY / sum(self._heard.values()))
        self._heard = {kind: number * fading for kind, number in self._heard.items()}
        whole = USUAL + sum(self._heard.values())
        self.ratios = {
            kind: 1.0 if kind == OTHER else (USUAL + number / CUES[kind]) / whole
            for kind, number in self._heard.items()
        }
        self._waiting = []
