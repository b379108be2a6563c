"""An arrangement is data: notes by route position and change, made for the whole route, read by the band and the page.

Positions and lengths are quarter notes, exact. Lengths are sounding lengths: touch and the gap before a repeated key are
already in them at the chart's tempo. There is no velocity: an organ has none.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from charts.route import Route

FIGURE, ANSWER, BASS, MELODY, CLICK = "figure", "answer", "bass", "melody", "click"
PARTS = (FIGURE, ANSWER, BASS, MELODY, CLICK)
FULLNESS = (1, 2, 3, 4)
"""From bare to full."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Note:
    """One key pressed for a while."""

    part: str
    """A member of ``PARTS``."""
    pitch: int
    """MIDI key number."""
    position: Fraction
    """Quarter notes from the start of the route."""
    length: Fraction
    """Sounding length in quarter notes."""
    change: int
    """Index of the change that it belongs to."""
    fullness: int
    """The fullness for which it was arranged, 1 to 4."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Arrangement:
    """The left hand for a whole route, at every fullness."""

    route: Route
    lift: int
    """Semitones by which it is transposed against the route, 0 as written."""
    levels: Mapping[int, tuple[Note, ...]]
    """For each fullness the notes in order of (position, pitch)."""
    voicings: Mapping[int, tuple[tuple[int, ...], ...]]
    """For each fullness and each change the chord as held: ascending key numbers, empty for N.C."""
    lines: Mapping[str, tuple[Note, ...]] = field(default_factory=dict)
    """Parts that do not depend on fullness (``ANSWER``, ``BASS``, ``MELODY``): in order of (position, pitch)."""
    attacks: Mapping[int, tuple[Fraction, ...]] = field(default_factory=dict, compare=False, repr=False)
    """For each fullness the distinct positions at which a note begins, ascending. Filled in from ``levels``."""
    _floats: Mapping[int, tuple[float, ...]] = field(default_factory=dict, compare=False, repr=False)
    """The same for searching: fractions are slow to compare."""

    def __post_init__(self) -> None:
        found = {level: tuple(sorted({note.position for note in notes})) for level, notes in self.levels.items()}
        object.__setattr__(self, "attacks", found)
        object.__setattr__(self, "_floats", {level: tuple(map(float, places)) for level, places in found.items()})

    def next_attack(self, fullness: int, position: Fraction) -> Fraction | None:
        """The first position at or after this one at which a note begins, None where none is left."""
        index = bisect_left(self._floats[fullness], float(position))
        return self.attacks[fullness][index] if index < len(self.attacks[fullness]) else None

    def notes_at(self, fullness: int, position: Fraction) -> tuple[Note, ...]:
        """The notes that begin at a position."""
        notes = self.levels[fullness]
        first = bisect_left(notes, position, key=lambda note: note.position)
        last = bisect_right(notes, position, lo=first, key=lambda note: note.position)
        return notes[first:last]
