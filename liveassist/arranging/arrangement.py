"""An arrangement is data: notes by route position and change, made for the whole route, read by the band and the page.

Positions and lengths are quarter notes, exact. Lengths are sounding lengths: touch and the gap before a repeated key are
already in them at the chart's tempo. There is no velocity: an organ has none.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Generator, Mapping
from dataclasses import dataclass, field, replace
from fractions import Fraction
from heapq import merge

from charts.answer import NONE
from charts.route import Route
from liveassist.arranging.slicing import A_FEW, at_once

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
    written: Fraction = Fraction(0)
    """Written value in quarter notes, as a page shows it, without touch; 0 where it is the sounding length."""


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
    held_bass: Mapping[int, int] = field(default_factory=dict)
    """For each change, where a bass is played, its key: what stands under a chord that is held."""
    attacks: Mapping[int, tuple[Fraction, ...]] = field(default_factory=dict, compare=False, repr=False)
    """For each fullness the distinct positions at which a note begins, ascending. Filled in from ``levels`` where
    they are not handed in."""

    def __post_init__(self) -> None:
        if not self.attacks:
            found = {level: tuple(sorted({note.position for note in notes})) for level, notes in self.levels.items()}
            object.__setattr__(self, "attacks", found)

    def next_attack(self, fullness: int, position: Fraction) -> Fraction | None:
        """The first position at or after this one at which a note begins, None where none is left."""
        places = self.attacks[fullness]
        index = bisect_left(places, float(position), key=float)  # fractions are slow to compare
        return places[index] if index < len(places) else None

    def next_of(self, part: str, fullness: int, position: Fraction) -> Fraction | None:
        """The first position at or after this one at which a note of one part begins, None where none is left."""
        notes = self.levels[fullness]
        first = bisect_left(notes, position, key=lambda note: note.position)
        return next((note.position for note in notes[first:] if note.part == part), None)

    def held(self, fullness: int, change: int) -> tuple[tuple[str, int], ...]:
        """(part, key) of everything that sounds where a chord stands still."""
        figure = tuple((FIGURE, pitch) for pitch in self.voicings[fullness][change])
        return (*figure, (BASS, self.held_bass[change])) if change in self.held_bass else figure

    def notes_at(self, fullness: int, position: Fraction) -> tuple[Note, ...]:
        """The notes that begin at a position."""
        notes = self.levels[fullness]
        first = bisect_left(notes, position, key=lambda note: note.position)
        last = bisect_right(notes, position, lo=first, key=lambda note: note.position)
        return notes[first:last]


def played_in_slices(arrangement: Arrangement, *, bass: bool) -> Generator[None, None, Arrangement]:
    """What a band plays of an arrangement: in the levels the answer stands in the figure's place where the route has one (but
    for the last chord of all, which is the figure's), and the bass beside it where it is asked for. There a voicing held is
    the figure's only where the figure plays."""
    answered = [bar.answer is not None and bar.answer.kind != NONE for bar in arrangement.route.bars]
    bass_notes = arrangement.lines.get(BASS, ()) if bass else ()
    if not (any(answered) or bass_notes):
        return arrangement
    last = len(arrangement.route.changes) - 1
    resting = {change.index for change in arrangement.route.changes[:last] if answered[change.bar]}
    lines = (arrangement.lines.get(ANSWER, ()), bass_notes)
    levels: dict[int, tuple[Note, ...]] = {}
    attacks: dict[int, tuple[Fraction, ...]] = {}
    for fullness, notes in arrangement.levels.items():
        found: list[Note] = []
        places: list[Fraction] = []
        figure = [note for note in notes if note.change not in resting]
        for note in merge(figure, *lines, key=lambda note: (note.position, note.pitch)):
            if not len(found) % A_FEW:
                yield
            found.append(note if note.part == FIGURE else replace(note, fullness=fullness))
            if not places or places[-1] != note.position:
                places.append(note.position)
        levels[fullness], attacks[fullness] = tuple(found), tuple(places)
    voicings = {
        fullness: tuple(() if change in resting else pitches for change, pitches in enumerate(each))
        for fullness, each in arrangement.voicings.items()
    }
    first: dict[int, int] = {}
    for note in bass_notes:
        first.setdefault(note.change, note.pitch)
    return replace(arrangement, levels=levels, attacks=attacks, voicings=voicings, held_bass=first)


played = at_once(played_in_slices)
"""What a band plays of an arrangement."""
