"""Variety without accident: small changes in bars that come round again, so that no four bars in a row are played twice alike.

*Alike* means: in two runs of four bars of the route, wherever each begins, every attack falls at the same place of its bar and
takes the same keys. Two runs may be alike only where nothing in their bars can be varied: bars that are silent or held, that
slow down, or whose feel asks for no variety; and, at fullness 1, where a bar of one or two attacks in two voices has been
played in every way there is.

What may vary, the least noticed first:

* which inner voice goes with the others on a light attack, or which voice of a broken chord sounds;
* which off-beat rests, as long as the bar keeps two attacks;
* which voice is left out of an attack that is not light;
* which voice that the chord can spare is left out of a strong attack or a chord's first;
* where all that is used up: which attacks are a fifth shorter. Only then are runs of four bars told apart by their lengths.

What a chord may not lack (its third, its seventh) stays in its first attack, and that attack stays. Most bars are played as
their feel has them; one in four has a variation of its own accord, and the others where the four bars would be alike.

The dice are ``random.Random`` with the seed of the performance, and only its ``random()`` is used, which Python promises to
keep as it is: the same seed gives the same bars for good.
"""

from __future__ import annotations

import random
from bisect import bisect_left
from collections.abc import Generator, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, islice, takewhile

from liveassist.arranging.feel import LEAST_ATTACKS, LIGHT, STRONG
from liveassist.arranging.figure import Attack

RUN = 4
"""Bars in a row."""
OFTEN = 0.25
"""How many bars vary of their own accord."""
AT_ONCE = 3
"""Most variations in one bar."""
TRIED = 400
"""Ways to play a bar that are looked at before one is taken that was heard already."""
TRIED_AT_ONCE = 8
"""Of them, in one slice."""

Pitches = tuple[int, ...]
Sound = tuple[tuple[int, Pitches, bool], ...]
"""A bar as it is heard: for each attack its place in the bar in ticks, its keys, and whether it is shorter than usual."""
Run = tuple[Sound, ...]


@dataclass(frozen=True, slots=True)
class Struck:
    """An attack with its keys."""

    attack: Attack
    pitches: Pitches
    hand: Pitches
    """Every key that the hand has for the chord there, ascending."""
    essential: Pitches
    """Those of them that its first attack may not lack."""
    fixed: bool = False
    """Played as it stands, whatever comes."""


@dataclass(frozen=True, slots=True)
class Edit:
    """One attack of a bar played otherwise."""

    at: int
    """Which attack of the bar, from 0."""
    rank: int
    """How soon it is noticed: a member of the five below."""
    struck: Struck | None
    """What is played; None where it rests."""


ANOTHER_VOICE, REST, LEFT_OUT, THINNER, SHORTER_NOTE = range(5)


def varied_in_slices(
    struck: Sequence[Struck], bars: Sequence[tuple[int, int]], *, seed: int
) -> Generator[None, None, list[Struck]]:
    """The attacks of a route with their variations, giving way after each bar or sooner.

    Args:
        struck: in order of their places.
        bars: where each bar begins and ends, in ticks.
        seed: of the dice.
    """
    dice = random.Random(seed)
    starts = [each.attack.start for each in struck]
    plain = [list(struck[bisect_left(starts, start) : bisect_left(starts, end)]) for start, end in bars]
    edits: list[list[Edit]] = []
    for bar in plain:
        yield
        edits.append(_edits(bar, dice))
    memory = _Memory()
    found: list[Struck] = []
    for number, (bar, (start, _)) in enumerate(zip(plain, bars, strict=True)):
        # The bars that follow and cannot be varied: with this one they must not make up a run that was heard.
        bound = list(takewhile(lambda other: not edits[other], range(number + 1, min(number + RUN, len(bars)))))
        coming = [sound(plain[other], bars[other][0]) for other in bound]
        ways = _ways(bar, edits[number], dice.random() < OFTEN) if edits[number] else ()
        played = bar
        for tried, way in enumerate(ways):
            if not tried % TRIED_AT_ONCE:
                yield
            if way is not None and memory.fresh(sound(way, start), coming):
                played = way
                break
        edits[number].clear()  # forgotten bar by bar: all of them at once would be a long slice
        memory.hear(sound(played, start))
        found += played
        yield
    return found


def sound(bar: Sequence[Struck], start: int) -> Sound:
    """A bar as it is heard, ``start`` being where it begins."""
    return tuple((each.attack.start - start, each.pitches, each.attack.shorter) for each in bar if each.pitches)


class _Memory:
    """The runs of bars that were heard."""

    def __init__(self) -> None:
        self._latest: Run = ()
        self._heard: set[Run] = set()

    def fresh(self, bar: Sound, coming: Sequence[Sound]) -> bool:
        """Whether no run is heard again when this bar is next, and then those that are coming."""
        new: set[Run] = set()
        latest = self._latest
        for each in (bar, *coming):
            latest = (*latest, each)[-RUN:]
            if len(latest) == RUN and (latest in self._heard or latest in new):
                return False
            new.add(latest)
        return True

    def hear(self, bar: Sound) -> None:
        self._latest = (*self._latest, bar)[-RUN:]
        if len(self._latest) == RUN:
            self._heard.add(self._latest)


def _ways(bar: list[Struck], edits: Sequence[Edit], own_accord: bool) -> Iterator[list[Struck] | None]:
    """Ways to play a bar: as it stands, unless it varies of its own accord, then with more and more variations, and with other
    lengths where that is not enough. None for variations that do not go together."""
    if not own_accord:
        yield bar
    audible = [edit for edit in edits if edit.rank < SHORTER_NOTE]
    for usable in (audible, edits):
        several = (chosen for count in range(1, AT_ONCE + 1) for chosen in combinations(usable, count))
        for chosen in islice(several, TRIED):
            instead = {edit.at: edit.struck for edit in chosen}
            way = [instead.get(at, each) for at, each in enumerate(bar)]
            left = [each for each in way if each is not None]
            enough = len(left) == len(bar) or sum(bool(each.pitches) for each in left) >= LEAST_ATTACKS
            yield left if enough and len(instead) == len(chosen) else None


# -- what may vary --------------------------------------------------------------------------------------------------


def _edits(bar: Sequence[Struck], dice: random.Random) -> list[Edit]:
    """Everything that may be played otherwise in a bar, one attack at a time, the least noticed first."""
    found = []
    for at, each in enumerate(bar):
        if each.fixed or not each.pitches:
            continue
        around = {other.pitches for other in bar[max(0, at - 1) : at + 2]}
        for rank, pitches in _otherwise(each, around):
            found.append((rank, dice.random(), Edit(at, rank, replace(each, pitches=pitches) if pitches else None)))
        shorter = replace(each, attack=replace(each.attack, shorter=True))
        found.append((SHORTER_NOTE, dice.random(), Edit(at, SHORTER_NOTE, shorter)))
    return [edit for _, _, edit in sorted(found, key=lambda row: row[:2])]


def _otherwise(each: Struck, around: set[Pitches]) -> Iterator[tuple[int, Pitches]]:
    """For one attack other keys, none where it rests, and how soon each is noticed."""
    attack, pitches = each.attack, each.pitches
    loose = [key for key in pitches if key not in each.essential]
    if attack.voice:  # of a broken chord: another voice, but not the one before or after once more
        yield from ((ANOTHER_VOICE, (key,)) for key in each.hand if (key,) not in around)
    elif attack.first or attack.weight == STRONG:
        yield from ((THINNER, _without(pitches, key)) for key in loose if len(pitches) > 2)
    elif attack.weight == LIGHT:
        others = [key for key in each.hand if key not in pitches]
        yield from ((ANOTHER_VOICE, tuple(sorted({*_without(pitches, key), new}))) for key in loose for new in others)
        yield REST, ()
        yield from ((LEFT_OUT, _without(pitches, key)) for key in pitches if len(pitches) > 1)
    else:
        yield from ((LEFT_OUT, _without(pitches, key)) for key in (loose if len(pitches) > 2 else ()) or pitches[1:])


def _without(pitches: Pitches, key: int) -> Pitches:
    return tuple(other for other in pitches if other != key)
