"""How voicings follow each other: the cheapest way through the whole route, by dynamic programming.

The cost of a step from one voicing to the next, in semitones: the sum of all motion, 1.5 times the widest motion of a voice,
4 for each voice that moves in parallel fifths or octaves with the pedal, less 1 for each key that stays. Voices never
cross. Between voicings of different size the motion is the smallest with voices splitting or meeting: each voice of either
goes to some voice of the other, in order. Where a section begins the hand starts afresh and a step costs half. A voicing's own
cost (``tones``) is 0.3 for each semitone of its middle away from 60.5, and what rubs; the tune adds its own (``tune``).
Costs are whole numbers in shares of ``UNIT``, so equal costs are equal, and ties go to the lower voicing: the same route
always gives the same hand.
"""

from __future__ import annotations

import itertools
from collections.abc import Generator, Sequence
from functools import lru_cache
from typing import NamedTuple

from liveassist.arranging.slicing import at_once
from liveassist.arranging.tones import HAND, OUTER_LOWEST, UNIT, Hand, Recipe, voicings

PARALLEL = 4 * UNIT
WIDEST_MOVE = 3 * UNIT // 2
AFRESH = 2
"""By this a step into a new section is divided."""
_PERFECT = (0, 7)

Pitches = tuple[int, ...]


class InTheWay(NamedTuple):
    """What each key of the outer range costs because of the tune, from the lowest up."""

    guides: tuple[int, ...]
    """For tones that no voicing may lack."""
    others: tuple[int, ...]


Choice = tuple[Recipe, int, Hand, bool]
"""The arguments of ``voicings``."""


class Stop(NamedTuple):
    """A chord on the way, and how it is to be taken."""

    recipe: Recipe
    voices: int
    hand: Hand = HAND
    afresh: bool = False
    """A section begins with it."""
    tune: InTheWay | None = None
    """None where no tune is in the way."""

    @property
    def choice(self) -> Choice:
        """What its voicings depend on, the tune's costs aside."""
        return self.recipe, self.voices, self.hand, self.tune is not None


@lru_cache(maxsize=65536)
def motion(before: Pitches, after: Pitches) -> tuple[int, int]:
    """Semitones that all voices move together, and the widest move of one voice among the ways with that sum."""
    if len(before) == len(after):
        moves = [abs(one - other) for one, other in zip(before, after, strict=True)]
        return sum(moves), max(moves)
    best: dict[tuple[int, int], tuple[int, int]] = {}
    for i, low in enumerate(before):
        for j, high in enumerate(after):
            move = abs(low - high)
            earlier = [best[at] for at in ((i - 1, j - 1), (i - 1, j), (i, j - 1)) if at in best]
            total, widest = min(earlier, default=(0, 0))
            best[i, j] = total + move, max(widest, move)
    return best[len(before) - 1, len(after) - 1]


def parallels(before: Pitches, after: Pitches, pedal_before: int | None, pedal_after: int | None) -> int:
    """How many voices, counted from the top, move in parallel fifths or octaves with the pedal."""
    if pedal_before is None or pedal_after is None or pedal_before == pedal_after:
        return 0
    pairs = zip(reversed(before), reversed(after), strict=False)
    return sum(
        (one - pedal_before) % 12 in _PERFECT and (one - pedal_before) % 12 == (other - pedal_after) % 12
        for one, other in pairs
    )


def step_cost(before: Pitches, after: Pitches, pedal_before: int | None, pedal_after: int | None) -> int:
    """What the step from one voicing to the next costs."""
    total, widest = motion(before, after)
    staying = len(set(before) & set(after))
    parallel = parallels(before, after, pedal_before, pedal_after)
    return UNIT * (total - staying) + WIDEST_MOVE * widest + PARALLEL * parallel


@lru_cache(maxsize=16384)
def _steps(before: Choice, after: Choice) -> tuple[tuple[tuple[int, ...], ...], tuple[int, ...]]:
    """For each voicing of ``after`` the cost of the step from each voicing of ``before``; and what each costs by itself."""
    own = voicings(*after)
    steps = tuple(
        tuple(step_cost(one.pitches, other.pitches, before[0].pedal, after[0].pedal) for one in voicings(*before))
        for other in own
    )
    return steps, tuple(voicing.cost for voicing in own)


def own_cost(stop: Stop, pitches: Pitches, resting: int) -> int:
    """What a voicing costs at a stop, the tune counted."""
    if stop.tune is None:
        return resting
    guides = stop.recipe.essential
    return resting + sum(
        (stop.tune.guides if pitch % 12 in guides else stop.tune.others)[pitch - OUTER_LOWEST] for pitch in pitches
    )


def led_in_slices(stops: Sequence[Stop]) -> Generator[None, None, tuple[Pitches, ...]]:
    """The cheapest chain of voicings through all stops, giving way after each stop."""
    if not stops:
        return ()
    costs = [own_cost(stops[0], each.pitches, each.cost) for each in voicings(*stops[0].choice)]
    came: list[list[int]] = []
    for before, after in itertools.pairwise(stops):
        yield
        rows, resting = _steps(before.choice, after.choice)
        share = AFRESH if after.afresh else 1
        reached, origins = [], []
        for steps, rests, voicing in zip(rows, resting, voicings(*after.choice), strict=True):
            totals = [cost + step // share for cost, step in zip(costs, steps, strict=True)]
            cheapest = min(totals)
            reached.append(cheapest + own_cost(after, voicing.pitches, rests))
            origins.append(totals.index(cheapest))
        costs = reached
        came.append(origins)
    yield
    index = costs.index(min(costs))
    chosen = [index]
    for origins in reversed(came):
        index = origins[index]
        chosen.append(index)
    return tuple(voicings(*stop.choice)[at].pitches for stop, at in zip(stops, reversed(chosen), strict=True))


led = at_once(led_in_slices)
"""The cheapest chain of voicings through all stops."""


def chain_cost(stops: Sequence[Stop], chain: Sequence[Pitches]) -> int:
    """What a chain of voicings costs: what ``led`` makes as small as it can be."""
    own = [
        next(own_cost(stop, pitches, each.cost) for each in voicings(*stop.choice) if each.pitches == pitches)
        for stop, pitches in zip(stops, chain, strict=True)
    ]
    steps = [
        step_cost(one, other, before.recipe.pedal, after.recipe.pedal) // (AFRESH if after.afresh else 1)
        for one, other, before, after in zip(chain, chain[1:], stops, stops[1:], strict=False)
    ]
    return sum(own) + sum(steps)
