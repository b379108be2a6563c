"""How far the hand moves, beside two simpler hands, beside the best there is, and beside Bach.

* *root position*: block chords from the root up.
* *greedy nearest*: of all voicings the one with the least motion from the one before, with no thought of what follows.
* *the best there is*: on short cases every chain of voicings, laid out key by key and priced by the rules as ``voicing`` tells
  them, written down here once more.
* *Bach*: alto and tenor of those chorales of the corpus whose analysis fits the score, from one analysed chord to the next.
"""

from __future__ import annotations

import statistics
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise, product

from arranging_critic import LIMITS, leaps
from arranging_songs import Progression
from following_songs import CHORALES, chorale

from liveassist.arranging.tones import Recipe, recipe, voicings
from liveassist.arranging.voicing import Pitches, Stop, led

MIDDLE = 60.5
WAYS = ("whole route", "greedy nearest", "root position")


def stops_of(song: Progression, voices: int) -> list[Stop]:
    """A song's chords for so many voices, with no tune in the way."""
    found = []
    for change in song.route.changes:
        bar = song.route.bars[change.bar]
        leading = (bar.key.tonic.pitch_class + song.lift - 1) % 12
        made_of = recipe(change.chord, lift=song.lift, pedal_plays=not bar.manuals_only, leading=leading)
        if made_of is not None:
            afresh = bar.starts_section and change.index == bar.changes[0]
            found.append(Stop(made_of, voices, afresh=afresh))
    return found


# -- simpler hands ----------------------------------------------------------------------------------------------------


def greedy(stops: Sequence[Stop]) -> list[Pitches]:
    chain: list[Pitches] = []
    for stop in stops:
        choice = [voicing.pitches for voicing in voicings(*stop.choice)]
        if chain:
            chain.append(min(choice, key=lambda pitches: sum(leaps([chain[-1], pitches]))))
        else:
            chain.append(min(choice, key=lambda pitches: abs(statistics.mean(pitches) - MIDDLE)))
    return chain


def root_position(song: Progression, voices: int) -> list[Pitches]:
    """Block chords from the root up, the root in the octave of middle C."""
    chain = []
    for change in song.route.changes:
        if change.root is None:
            continue
        root = 55 + (change.root + song.lift - 55) % 12
        chain.append(tuple(sorted(root + tone.semitones for tone in change.chord.tones[:voices])))
    return chain


@dataclass(frozen=True)
class Row:
    """One way of playing the whole set."""

    way: str
    motion: float
    """Semitones a voice at a change, on average."""
    far: float
    """Share of the voices that go further than a fourth."""
    parallels: float
    """Voices in parallel fifths or octaves with the pedal, a hundred changes."""
    off_middle: float
    """Semitones of the chord's middle away from the hand's, on average."""


def rows(songs: Sequence[Progression], voices: int) -> list[Row]:
    """The table: each way over all the songs."""
    chains: dict[str, list[tuple[list[Stop], Sequence[Pitches]]]] = {way: [] for way in WAYS}
    for song in songs:
        stops = stops_of(song, voices)
        chains["whole route"].append((stops, led(stops)))
        chains["greedy nearest"].append((stops, greedy(stops)))
        chains["root position"].append((stops, root_position(song, voices)))
    return [_row(way, played) for way, played in chains.items()]


def _row(way: str, played: Sequence[tuple[list[Stop], Sequence[Pitches]]]) -> Row:
    moves = [move for _, chain in played for move in leaps(chain)]
    changes = sum(len(chain) - 1 for _, chain in played)
    parallel = sum(
        _parallels(one, other, before.recipe.pedal, after.recipe.pedal)
        for stops, chain in played
        for (before, after), (one, other) in zip(pairwise(stops), pairwise(chain), strict=True)
    )
    away = [abs(statistics.mean(pitches) - MIDDLE) for _, chain in played for pitches in chain]
    far = sum(move > 5 for move in moves) / len(moves)
    return Row(way, statistics.mean(moves), far, 100 * parallel / changes, statistics.mean(away))


# -- the best there is ------------------------------------------------------------------------------------------------


def _layouts(made_of: Recipe, voices: int) -> Iterator[tuple[Pitches, float]]:
    """Every way to lay a chord into the core of the range, and what its doublings cost, by trying all keys."""
    below = () if made_of.pedal is None else (36 + made_of.pedal, 24 + made_of.pedal)
    doubling = dict(made_of.doubled)
    for size in range(max(voices, made_of.least), 0, -1):
        found = []
        for keys in combinations(range(52, 70), size):
            pairs = [*combinations(keys, 2), *product(below, keys)]
            if keys[-1] - keys[0] > 14 or any(low < LIMITS.get(high - low, 0) for low, high in pairs):
                continue
            counted = Counter(key % 12 for key in keys)
            distinct = len(made_of.must) + len(made_of.may)
            needed = made_of.must[:size]
            if not set(counted) <= {*needed, *made_of.may} or any(each not in counted for each in needed):
                continue
            twice = [each for each, times in counted.items() if times > 1]
            if twice and (
                len(counted) < distinct or max(counted.values()) > 2 or any(each not in doubling for each in twice)
            ):
                continue
            found.append((keys, sum(doubling[each] for each in twice) / 240))
        if found:
            yield from found
            return


def _price(pitches: Pitches, doublings: float) -> float:
    """A voicing by itself, in semitones."""
    rubs = sum(high - low in (1, 13) for low, high in combinations(pitches, 2))
    return doublings + 0.3 * abs(statistics.mean(pitches) - MIDDLE) + 2 * rubs


def _step(one: Pitches, other: Pitches, pedals: tuple[int | None, int | None]) -> float:
    """A step between voicings of one size, in semitones."""
    moves = [abs(low - high) for low, high in zip(one, other, strict=True)]
    staying = len(set(one) & set(other))
    return sum(moves) + 1.5 * max(moves) - staying + 4 * _parallels(one, other, *pedals)


def _parallels(one: Pitches, other: Pitches, pedal: int | None, next_pedal: int | None) -> int:
    if pedal is None or next_pedal is None or pedal == next_pedal:
        return 0
    pairs = zip(reversed(one), reversed(other), strict=False)
    return sum((low - pedal) % 12 in (0, 7) and (low - pedal - high + next_pedal) % 12 == 0 for low, high in pairs)


def price(stops: Sequence[Stop], chain: Sequence[tuple[Pitches, float]]) -> float:
    """What a chain costs by the rules as written here."""
    total = sum(_price(*each) for each in chain)
    for (before, after), (one, other) in zip(pairwise(stops), pairwise(chain), strict=True):
        step = _step(one[0], other[0], (before.recipe.pedal, after.recipe.pedal))
        total += step / 2 if after.afresh else step
    return total


def above_the_best(songs: Sequence[Progression], *, length: int = 4, cases: int = 60) -> list[float]:
    """For short cases, how much dearer the hand is than the cheapest of all chains, as a share of it."""
    found: list[float] = []
    for song in songs:
        stops = stops_of(song, 3)[:length]
        choices = [list(_layouts(stop.recipe, stop.voices)) for stop in stops]
        if len(stops) < length or len({len(choice[0][0]) for choice in choices}) > 1:
            continue  # voices that split or meet are another theory's matter
        best = min(price(stops, chain) for chain in product(*choices))
        played = [
            next(each for each in choice if each[0] == keys) for choice, keys in zip(choices, led(stops), strict=True)
        ]
        found.append((price(stops, played) - best) / max(abs(best), 1.0))
        if len(found) == cases:
            break
    return found


# -- Bach -------------------------------------------------------------------------------------------------------------

STEPS = ("0", "1", "2", "3", "4", "5", "more")


def shares(moves: Sequence[int]) -> dict[str, float]:
    """How often a voice stays, goes a semitone, two, ..."""
    counted = Counter(str(move) if move <= 5 else "more" for move in moves)
    return {step: counted[step] / len(moves) for step in STEPS}


def bach() -> list[int]:
    """How far alto and tenor go from one analysed chord to the next."""
    from music21 import corpus
    from music21.corpus.chorales import ChoraleListRKBWV

    moves: list[int] = []
    for number in CHORALES:
        song = chorale(number)
        if song is None:
            continue
        score = corpus.parse(f"bach/bwv{ChoraleListRKBWV().byRiemenschneider[number]['bwv']}")
        for part in list(score.parts)[1:3]:
            notes = [(float(note.offset), note.pitch.midi) for note in part.flatten().notes]
            keys = [
                next((key for start, key in reversed(notes) if start <= float(change.position)), None)
                for change in song.route.changes
            ]
            moves += [abs(one - other) for one, other in pairwise(keys) if one is not None and other is not None]
    return moves
