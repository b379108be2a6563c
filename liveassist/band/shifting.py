"""Shifting: whether the feet play the song as written, but in another key.

A player may start in another key than the chart's, a transposer may be on. Then every foot is off by the same number of half
steps, and the band must not guess: it offers the key, and the nod ``yes`` takes it.

Conventions. The *line* is the written bass of the song, equal neighbours taken as one, because a root may be struck again or
held; the *run* is what the feet played last, in the same way, as pitch classes with key changes by nod taken away. A shift
is counted in half steps up, -5 to 6, the smaller way round.

========== ============================ ===================================================================
when       offered from                 where the run must fit the line, shifted
========== ============================ ===================================================================
waiting    ``START_ROOTS`` roots on     at the opening of the song
playing    ``PLAYING_ROOTS`` roots      about where the band believes it is, at one shift only
========== ============================ ===================================================================

Never where the run fits the line as written, anywhere: then the player is there. While playing, passing notes and fifths are
many, so more is asked: ``DISTINCT`` different roots.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from charts.route import Route

START_ROOTS, PLAYING_ROOTS = 2, 4
DISTINCT = 3
BEHIND, AHEAD = 1, 2
"""While playing, the run ends so many roots before the band's place at the most, or after it."""
TRITONE, OCTAVE = 6, 12


def shift_between(written: Sequence[int], played: Sequence[int]) -> int | None:
    """The shift that brings one run of pitch classes on another of the same length; None where there is none."""
    shifts = {(there - here) % OCTAVE for here, there in zip(written, played, strict=True)}
    if len(shifts) != 1:
        return None
    (shift,) = shifts
    return shift if shift <= TRITONE else shift - OCTAVE


class Shifting:
    """The latest feet against the written line."""

    def __init__(self, route: Route) -> None:
        self._line: list[int] = []
        self._at: list[int] = []
        """For each change of the route, where in the line it stands: the latest root written by then."""
        for change in route.changes:
            if change.bass is not None and [change.bass] != self._line[-1:]:
                self._line.append(change.bass)
            self._at.append(max(0, len(self._line) - 1))
        self.run: list[tuple[int, float]] = []
        """The latest feet: pitch class, and when."""

    def begin(self) -> None:
        """Nothing has been played yet."""
        self.run.clear()

    def foot(self, pitch_class: int, at: float) -> None:
        """A foot was heard."""
        if not self.run or self.run[-1][0] != pitch_class:
            self.run.append((pitch_class, at))
            del self.run[:-PLAYING_ROOTS]

    def at_the_start(self, first: int) -> int | None:
        """The shift to offer while the band waits for the change ``first``; None where there is none."""
        start = self._at[first]
        for roots in range(len(self.run), START_ROOTS - 1, -1):
            played, written = self._latest(roots), self._line[start : start + roots]
            shift = shift_between(written, played) if len(written) == roots else None
            if shift and not self._as_written(played):
                return shift
        return None

    def while_playing(self, change: int) -> int | None:
        """The same while the band is at a change."""
        played = self._latest(PLAYING_ROOTS)
        if not self._tells(played) or self._as_written(played):
            return None
        here = self._at[change]
        shifts = {shift_between(written, played) for written in self._ending_at(range(here - BEHIND, here + AHEAD + 1))}
        shifts.discard(None)
        return shifts.pop() if len(shifts) == 1 else None

    def as_written(self) -> bool:
        """Whether the latest feet play the song as written, beyond doubt."""
        played = self._latest(PLAYING_ROOTS)
        return self._tells(played) and self._as_written(played)

    def _tells(self, played: Sequence[int]) -> bool:
        """Whether a run is long enough, and various enough, to tell something while playing."""
        return len(played) == PLAYING_ROOTS and len(set(played)) >= DISTINCT

    def _latest(self, roots: int) -> list[int]:
        return [pitch_class for pitch_class, _ in self.run[-roots:]]

    def _ending_at(self, ends: Iterable[int]) -> Iterable[list[int]]:
        """The runs of the line, as long as is asked for while playing, that end at some of its roots."""
        for end in ends:
            if PLAYING_ROOTS - 1 <= end < len(self._line):
                yield self._line[end - PLAYING_ROOTS + 1 : end + 1]

    def _as_written(self, played: Sequence[int]) -> bool:
        """Whether the line has this run somewhere."""
        starts = range(len(self._line) - len(played) + 1)
        return any(self._line[start : start + len(played)] == played for start in starts)
