"""The written tune: what the chart says about a note of the player's right hand before it is heard.

Where a chart has its tune, a note tells the place far better than a chord does. A note is *as written* where the tune has its
pitch class near its time; for all others (slips, graces, lower notes of the hand) only the chord speaks. What the hand does is
learned while the place is beyond doubt: how many of its notes are as written, in which octave the tune is played, and whether
this player plays the written tune at all.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from math import exp, log
from typing import NamedTuple

from charts.melody import MelodyNote
from charts.route import Route

AS_WRITTEN, FEWEST, MOST = 0.7, 0.2, 0.9
"""Share of a hand's notes that are as written: at first, and its bounds. A hand that adds three notes to each has a quarter."""
MEMORY = 30.0
"""That share is learned over so many notes."""
OCTAVES = {-1: 1.0, 0: 8.0, 1: 1.0}
"""In which octave from the written one the tune is played, as if heard so often before; others are as likely as ``RARELY``."""
OCTAVES_FADE, RARELY = 0.95, 0.05
HALF = 0.5
"""How likely a note that is not as written lies in the octave in which it lies: the hand covers two."""
SINGS, SURELY = 1.0, 3.0
"""Log-odds that the player plays the written tune: at first, and at most either way."""
EACH_NOTE = 0.5
"""What a note says of that counts so much: neighbouring notes say the same again."""
SAME_PLACE = 1e-6


class Note(NamedTuple):
    """A note of the tune that a key may mean. Places are quarter notes from the start of the route."""

    start: float
    end: float
    octave: int
    """Octaves from the written key to the one heard."""


class WrittenTune:
    """The tune of one route, and what is known of the hand that plays it."""

    def __init__(self, route: Route, notes: Sequence[MelodyNote]) -> None:
        """``notes``: in the order of playing, tied ones joined; none where the chart has no tune."""
        self._starts = [float(note.position) for note in notes]
        self._ends = [float(note.end) for note in notes]
        self._keys = [note.pitch for note in notes]
        self._bars = [float(bar.position) for bar in route.bars]
        self._sung = [False] * len(route.bars)
        for note in notes:
            last = bisect_left(self._bars, float(note.end), lo=note.bar + 1)
            self._sung[note.bar : last] = [True] * (last - note.bar)
        self._share, self._sings, self._octaves = AS_WRITTEN, SINGS, dict(OCTAVES)

    def covers(self, place: float) -> bool:
        """Whether the bar at a place has a note of the tune, begun there or held over."""
        return self._sung[max(0, bisect_right(self._bars, place) - 1)]

    # -- where it is written -------------------------------------------------------------------------------------------

    def nearest(self, place: float, key: int, within: float) -> Note | None:
        """The note of a key's pitch class that begins nearest to a place; None where none is so near."""
        first, last = bisect_left(self._starts, place - within), bisect_right(self._starts, place + within)
        near = (index for index in range(first, last) if self._is(index, key))
        index = min(near, key=lambda index: abs(self._starts[index] - place), default=None)
        return None if index is None else self._note(index, key)

    def around(self, place: float, key: int, within: float) -> list[Note]:
        """The notes of a key's pitch class that begin last before a place and first from it on."""
        first, last = bisect_left(self._starts, place - within), bisect_right(self._starts, place + within)
        here = bisect_left(self._starts, place)
        ways: tuple[Iterable[int], Iterable[int]] = (reversed(range(first, here)), range(here, last))
        found = (next((index for index in way if self._is(index, key)), None) for way in ways)
        return [self._note(index, key) for index in found if index is not None]

    def first_two(self, start: float, end: float) -> list[tuple[float, int]]:
        """The first two notes that begin from one place to before another, as (place, key)."""
        index = bisect_left(self._starts, start - SAME_PLACE)
        notes = zip(self._starts[index : index + 2], self._keys[index : index + 2], strict=True)
        return [note for note in notes if note[0] < end - SAME_PLACE]

    def _is(self, index: int, key: int) -> bool:
        return (self._keys[index] - key) % 12 == 0

    def _note(self, index: int, key: int) -> Note:
        return Note(self._starts[index], self._ends[index], (key - self._keys[index]) // 12)

    # -- how likely it is ----------------------------------------------------------------------------------------------

    def likely(self, note: Note | None, by_chord: float) -> float:
        """How likely a note is, 1 being the average.

        Args:
            note: where it is written; None where it is not.
            by_chord: how likely it is by its chord alone.
        """
        sings = 1.0 / (1.0 + exp(-self._sings))
        return sings * self._if_sung(note, by_chord) + (1.0 - sings) * by_chord

    def _if_sung(self, note: Note | None, by_chord: float) -> float:
        """The same of a player who plays the written tune."""
        if note is None:
            return (1.0 - self._share) * by_chord
        octave = self._octaves.get(note.octave, 0.0) / sum(self._octaves.values())
        return 12.0 * self._share * max(octave, RARELY) / HALF

    def learn(self, note: Note | None, by_chord: float) -> None:
        """A note was heard where the place is beyond doubt. For the arguments see ``likely``."""
        self._sings += EACH_NOTE * log(self._if_sung(note, by_chord) / by_chord)
        self._sings = min(max(self._sings, -SURELY), SURELY)
        self._share += ((note is not None) - self._share) / MEMORY
        self._share = min(max(self._share, FEWEST), MOST)
        if note is not None:
            self._octaves = {octave: OCTAVES_FADE * often for octave, often in self._octaves.items()}
            self._octaves[note.octave] = self._octaves.get(note.octave, 0.0) + 1.0
