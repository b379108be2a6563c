"""The tune in the left hand's way.

The hand plays below the tune, or around it at a cost, and never on the tune's own key while it sounds; where the manuals are
coupled it plays strictly below it. So the tune *takes* keys: its own, or, coupled, its own and all above. While voicings are
chosen, a key costs for the share of the change in which it is taken (by its square for third and seventh, which may be
missing for a moment but not for all of it), and a little for lying above the tune's lowest note there. What is still in the
way when an attack comes is not struck: third and seventh go to another octave where there is room, other tones are left out;
and a key that the tune comes to while it is down is let go before that.

The costs are our own choice. Places are ticks (see ``figure``).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Generator, Iterator, Sequence
from itertools import accumulate
from math import ceil

from charts.melody import MelodyNote, joined, readable_melody
from charts.route import Route
from liveassist.arranging.figure import Attack, Ticks
from liveassist.arranging.low_intervals import pedal_sound, too_low
from liveassist.arranging.slicing import A_FEW
from liveassist.arranging.tones import OUTER_HIGHEST, OUTER_LOWEST, UNIT, Hand, Recipe
from liveassist.arranging.touch import Stroke
from liveassist.arranging.voicing import InTheWay, Pitches

TAKEN, TAKEN_GUIDE = 6 * UNIT, 60 * UNIT
"""Cost of a key that the tune takes for the whole of the change; third and seventh."""
ABOVE = UNIT
"""Cost of a voice above the tune."""
SHORTEST = 4
"""A key is not struck that the tune would take within this share of a quarter note."""


def tune_of(route: Route) -> tuple[MelodyNote, ...]:
    """The written tune, tied notes joined, as far as it can be read; what cannot be is for the proof to tell."""
    return joined(readable_melody(route))


Held = tuple[int, int, int]
"""A note of the tune: start and end in ticks, key."""


def held_in_slices(notes: Sequence[MelodyNote], ticks: Ticks, lift: int) -> Generator[None, None, list[Held]]:
    """The notes of a tune in ticks, lifted, in order."""
    found: list[Held] = []
    for note in notes:
        if not len(found) % A_FEW:
            yield
        found.append((ticks.of(note.position), ceil(note.end * ticks.per_quarter), note.pitch + lift))
    return sorted(found)


class Tune:
    """Which keys the tune takes, and when."""

    def __init__(self, held: Sequence[Held], ticks: Ticks, *, coupled: bool) -> None:
        """``held``: in order."""
        self._notes = held
        self._ends = list(accumulate((end for _, end, _ in self._notes), max))
        self._coupled = coupled
        self._shortest = ticks.per_quarter // SHORTEST

    def _between(self, start: int, stop: int) -> Iterator[Held]:
        """The notes that sound between two moments."""
        for index in range(bisect_right(self._ends, start), len(self._notes)):
            note = self._notes[index]
            if note[0] >= stop:
                return
            if note[1] > start:
                yield note

    def _takes(self, key: int, other: int) -> bool:
        """Whether the tune on a key takes another one."""
        return key <= other if self._coupled else key == other

    def in_the_way(self, start: int, stop: int) -> InTheWay | None:
        """What the keys cost between two moments; None where no tune sounds."""
        notes = list(self._between(start, stop))
        if not notes:
            return None
        lowest = min(key for _, _, key in notes)
        guides, others = [], []
        for other in range(OUTER_LOWEST, OUTER_HIGHEST + 1):
            taken = sum(min(end, stop) - max(begin, start) for begin, end, key in notes if self._takes(key, other))
            above = ABOVE if other > lowest else 0
            guides.append(above + TAKEN_GUIDE * taken * taken // (stop - start) ** 2)
            others.append(above + TAKEN * taken // (stop - start))
        return InTheWay(tuple(guides), tuple(others))

    def taken_from(self, key: int, start: int, stop: int) -> int | None:
        """The first moment from ``start`` on, and before ``stop``, at which the tune takes a key."""
        return next(
            (max(begin, start) for begin, _, tune in self._between(start, stop) if self._takes(tune, key)), None
        )

    def free(self, attack: Attack, keys: Pitches) -> Pitches:
        """Those of some keys that an attack can strike: the tune neither has them nor is about to."""
        soon = self._soon(attack)
        return tuple(key for key in keys if self.taken_from(key, attack.start, soon) is None)

    def _soon(self, attack: Attack) -> int:
        return min(attack.stop, attack.start + self._shortest)

    def cleared(self, attack: Attack, pitches: Pitches, chord: Pitches, recipe: Recipe, hand: Hand) -> Pitches:
        """The keys that an attack takes, without those that the tune has.

        Args:
            attack: when, and for how long.
            pitches: the keys it would take.
            chord: all the keys of its voicing.
            recipe, hand: what they are made of, and where they may lie.
        """
        kept = self.free(attack, pitches)
        if kept == pitches:
            return pitches
        if attack.voice:  # a broken chord goes on with the nearest voice
            return tuple(sorted(self.free(attack, chord), key=lambda key: abs(key - pitches[0]))[:1])
        for key in pitches:
            missing = recipe.essential if key not in kept else ()
            if key % 12 in missing and all((key - other) % 12 for other in kept):
                kept += self._elsewhere(key, kept, attack, recipe, hand)[:1]
        return tuple(sorted(kept))

    def _elsewhere(self, key: int, others: Pitches, attack: Attack, recipe: Recipe, hand: Hand) -> Pitches:
        """Where a tone can go from a key that the tune has."""
        below = () if recipe.pedal is None else pedal_sound(recipe.pedal)

        def fits(other: int) -> bool:
            keys = sorted([*others, other])
            reached = hand.lowest <= other <= hand.highest and keys[-1] - keys[0] <= hand.span
            return reached and other not in others and not too_low(keys, below)

        return self.free(attack, tuple(filter(fits, (key - 12, key + 12))))

    def let_go(self, strokes: Sequence[Stroke], gaps: Sequence[int]) -> Generator[None, None, None]:
        """Release each key before the tune comes to it; in slices."""
        for number, stroke in enumerate(strokes if self._notes else ()):
            if not number % A_FEW:
                yield
            start = stroke.attack.start
            for index, key in enumerate(stroke.pitches):
                taken = self.taken_from(key, start, stroke.ends[index])
                if taken is not None:
                    stroke.ends[index] = taken - min(gaps[stroke.attack.bar], (taken - start) // 2)
