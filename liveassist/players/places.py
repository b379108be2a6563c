"""Where the band thought the player was: jumps found, jumps made up, and whether its belief means something.

The rule for places that cannot be told apart. After an unplanned repeat or skip the player is somewhere that may look like
somewhere else: a chorus taken again while another chorus follows anyway. A place told is *right* if it is the same written
change (section, bar, place in the bar; whichever time it comes round), or if one jump to the place told explains what was
played as well as the player's own jump does: every chord has had the same harmony and the same length there, back to the
landing, or back to where going straight on would first have sounded otherwise. Nobody could know better, and the organ sounds
the same. Without a jump before it only the written change is right.

A *false jump* is a move of the harmony that is not to the next few changes, and not to where the player is.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise

from liveassist.band.events import Action, PlaceIs
from liveassist.players.scoring import asked_at, harmony, places_told, told_at, written
from liveassist.players.truth import Truth

__all__ = ["asked_at", "beliefs", "false_jumps", "is_right", "jumps_found", "landings", "rightly_placed"]

AFTER = 0.25
"""Seconds within which a place told and a place played are of one moment."""
STEPS = 2
"""Moves of the harmony by so many changes are no jump: a missed root or two are passed over."""


@dataclass(frozen=True, slots=True)
class Found:
    """One unplanned repeat or skip."""

    at: float
    """When the player landed."""
    cues: int | None
    """How many cues it took, from the first that could tell; None: never found."""


def landings(truth: Truth) -> tuple[int, ...]:
    """Indices of the played changes at which the player landed by a jump."""
    route = truth.route
    return tuple(
        index
        for index, (before, here) in enumerate(pairwise(truth.changes), 1)
        if here.change != before.change + 1 or here.position != route.changes[here.change].position
    )


def is_right(truth: Truth, index: int, told: int | None, since: int | None) -> bool:
    """Whether a change told is the right place for the played change of this index; ``since``: the played change from which the
    two have to sound alike."""
    if told is None:
        return False
    route, here = truth.route, truth.changes[index].change
    if written(route, told) == written(route, here):
        return True
    if since is None:
        return False
    back = index - since
    if told < back:
        return False
    for step in range(back + 1):
        one, other = route.changes[told - step], route.changes[truth.changes[index - step].change]
        if harmony(route, one.index) != harmony(route, other.index):
            return False
        if 0 < step < back and one.length != other.length:
            return False
    return True


def rightly_placed(truth: Truth, actions: Iterable[Action], *, after: float = AFTER) -> tuple[bool, ...]:
    """For each change played whether the place told so long after it is right."""
    told = places_told(actions)
    since = _alike_since(truth)
    return tuple(
        is_right(truth, index, told_at(told, at), since[index]) for index, at in enumerate(asked_at(truth, after))
    )


def jumps_found(truth: Truth, right: Sequence[bool], cued: Sequence[bool]) -> tuple[Found, ...]:
    """How many cues it took to find each jump of the player's.

    Cues count from the first change whose bass differs from what would have followed without the jump. The place must
    then be right at two changes running. Jumps after which nothing differs are left out.

    Args:
        truth: what was played.
        right: for each change whether the place was told rightly.
        cued: for each change whether a foot played it.
    """
    starts = landings(truth)
    found = []
    for landed, end in pairwise((*starts, len(truth.changes))):
        first = _first_difference(truth, landed, end)
        if first is None:
            continue
        cues, needed = 0, None
        for index in range(first, end):
            cues += cued[index]
            if right[index] and (index + 1 == end or right[index + 1]):
                needed = max(cues, 1)
                break
        found.append(Found(truth.changes[landed].at, needed))
    return tuple(found)


def false_jumps(truth: Truth, actions: Iterable[Action]) -> tuple[tuple[float, int], ...]:
    """Jumps of the band's that the player did not make, as (seconds, change told)."""
    told = places_told(actions)
    since = _alike_since(truth)
    starts = [moment.at for moment in truth.changes]
    found = []
    for (_, one), (at, other) in pairwise(told):
        near = [index for index in _around(starts, at) if _agrees(truth, index, other, since[index])]
        if not 0 <= other - one <= STEPS and not near:
            found.append((at, other))
    return tuple(found)


def beliefs(truth: Truth, actions: Iterable[Action]) -> tuple[tuple[float, bool], ...]:
    """For each place told how sure the band was, and whether it was right: the change that the player was on within a
    quarter of a second."""
    since = _alike_since(truth)
    starts = [moment.at for moment in truth.changes]
    return tuple(
        (action.sure, any(is_right(truth, index, action.change, since[index]) for index in _around(starts, action.at)))
        for action in actions
        if isinstance(action, PlaceIs)
    )


def _agrees(truth: Truth, index: int, told: int, since: int | None) -> bool:
    """As ``is_right``; but where the player has not jumped, only the very change will do."""
    return truth.changes[index].change == told if since is None else is_right(truth, index, told, since)


def _around(starts: Sequence[float], at: float) -> list[int]:
    """The changes played within a quarter of a second of a time."""
    ends = [*starts[1:], float("inf")]
    return [
        index for index, (start, end) in enumerate(zip(starts, ends, strict=True)) if start - AFTER <= at < end + AFTER
    ]


def _alike_since(truth: Truth) -> list[int | None]:
    """For each change played the one from which a place told has to sound like the player's: the latest landing, or the
    change at which going straight on is no longer like it; None before any jump."""
    starts = landings(truth)
    since: list[int | None] = [None] * len(truth.changes)
    for landed, end in pairwise((*starts, len(truth.changes))):
        apart = _first_difference(truth, landed, end)
        for index in range(landed, end):
            since[index] = landed if apart is None or index < apart else apart
    return since


def _first_difference(truth: Truth, landed: int, end: int) -> int | None:
    """The first change after a landing that tells the feet's place apart from what would have followed."""
    changes = truth.route.changes
    straight_on = truth.changes[landed - 1].change + 1
    for index in range(landed, end):
        expected = straight_on + index - landed
        if expected >= len(changes) or changes[expected].bass != changes[truth.changes[index].change].bass:
            return index
        if changes[expected].length != changes[truth.changes[index].change].length:
            return index + 1 if index + 1 < end else None
    return None
