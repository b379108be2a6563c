"""The tempo ladder: a passage practised up to tempo, a step up when two passes running were good, a step down after one that
was not (common practice, no source).

A pass is good by the figures of its review when nineteen in twenty of the pedal notes were right, nine in ten of those within
50 ms of the player's own middle, and their SD below 35 ms: with the trios that listeners do not hear as uneven (30 to 50 ms:
Rasch 1979) towards the better end. A pass without a note played is no pass: the ladder waits.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass

from liveassist.rehearsal.matching import HELD, RIGHT, WRONG
from liveassist.rehearsal.review import Review
from liveassist.rehearsal.timing import GOOD_SD

RIGHT_SHARE, NEAR_SHARE = 0.95, 0.9
RUNNING = 2
"""Good passes one after the other for a step up."""
SLOWEST, FASTEST = 20.0, 400.0


@dataclass(frozen=True, kw_only=True, slots=True)
class Ladder:
    """From one tempo to another in steps, in counted beats a minute."""

    first: float
    last: float
    step: float


@dataclass(frozen=True, kw_only=True, slots=True)
class Rung:
    """Where somebody stands on the ladder."""

    bpm: float
    good: int = 0
    """Good passes running at this tempo."""
    done: bool = False
    """Two good passes at the top: nothing is left to climb."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Verdict:
    """On one pass."""

    good: bool
    words: str
    """What there was of it."""


def ladder_from(text: str) -> Ladder:
    """``60:80:4``: from 60 to 80 in steps of 4. Raises ValueError saying what would be accepted."""
    match = re.fullmatch(r"(\d+(?:\.\d+)?):(\d+(?:\.\d+)?):(\d+(?:\.\d+)?)", text.strip())
    wanted = f'a ladder is from:to:step in counted beats a minute, as 60:80:4, not "{text}"'
    if match is None:
        raise ValueError(wanted)
    first, last, step = (float(number) for number in match.groups())
    if not SLOWEST <= first <= last <= FASTEST or step < 1.0:
        raise ValueError(f"{wanted}; it goes up, from {SLOWEST:g} to {FASTEST:g} at most, in steps of 1 or more")
    return Ladder(first=first, last=last, step=step)


def climbed(ladder: Ladder, passes: Sequence[bool]) -> Rung:
    """Where a row of passes, each good or not, has led to."""
    rung = Rung(bpm=ladder.first)
    for good in passes:
        rung = _after(ladder, rung, good=good)
    return rung


def _after(ladder: Ladder, rung: Rung, *, good: bool) -> Rung:
    if rung.done:
        return rung
    if not good:
        return Rung(bpm=max(ladder.first, rung.bpm - ladder.step))
    if rung.good + 1 < RUNNING:
        return Rung(bpm=rung.bpm, good=rung.good + 1)
    if rung.bpm >= ladder.last:
        return Rung(bpm=rung.bpm, good=RUNNING, done=True)
    return Rung(bpm=min(ladder.last, rung.bpm + ladder.step))


def verdict(review: Review) -> Verdict | None:
    """Whether a pass was good, and what there was of it; None where nobody played."""
    whole, right = review.whole, len(review.of_kind(RIGHT, HELD))
    if not right and not review.of_kind(WRONG):
        return None
    words = f"{right} of {review.asked} right"
    if whole is None:
        return Verdict(good=False, words=words)
    good = right >= RIGHT_SHARE * review.asked and whole.sd < GOOD_SD and whole.near >= NEAR_SHARE
    return Verdict(good=good, words=f"{words}, {round(1000 * whole.sd)} ms around your middle")
