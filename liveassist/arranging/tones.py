"""Which tones of a chord the left hand plays, and which it leaves to the pedal.

Guide tones come first: the third, or the suspension in its place, and the seventh, or the sixth in its place. Then altered
fifths, then what the symbol adds, altered and highest first. The plain fifth is dropped first. The root belongs to the pedal in
sevenths and richer chords; plain triads may keep it, and every chord has it where the pedal is silent. A power chord (no
third, no suspension) is root and fifth. A natural eleventh over a major third is left out, unless it is the one thing
that the symbol adds. Root and fifth may be doubled; the leading tone, sevenths and altered tones never; a third or a
suspension at a cost, and not where the pedal has it or where it is the major third of a richer chord.

All of this is common practice, no source. Pitch classes are numbers from 0 (C) to 11.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise, product

from charts.chord import Chord, Tone
from liveassist.arranging.low_intervals import pedal_sound, too_low

LOWEST_KEY, HIGHEST_KEY = 52, 69
"""E below middle C to the A above it."""
WIDEST = 12
"""Semitones from lowest to highest voice: a hand could take it over."""
MOST_VOICES = 4

UNIT = 240
"""One semitone of motion, the unit of all costs: whole numbers that divide by 2, 3 and 4 voices."""
CENTRE = 121
"""Twice the key number around which voicings lie best, 60.5."""
AWAY = 3 * UNIT // 20
"""Cost of half a semitone away from that centre, in half semitones: 0.3 a semitone."""
TOO_LOW = 8 * UNIT
SEMITONE = 2 * UNIT
"""Neighbours a semitone apart rub."""
DOUBLED_GUIDE = 3 * UNIT

_NATURAL = {2: 2, 4: 5, 9: 2, 11: 5, 13: 9, 6: 9}
"""Semitones of added tones where they are not altered."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a voicing is made of: pitch classes, most important first."""

    must: tuple[int, ...]
    least: int
    """How many of ``must`` no voicing may lack."""
    may: tuple[int, ...]
    doubled: tuple[tuple[int, int], ...]
    """What may be doubled, and what it costs."""
    pedal: int | None
    """What the feet play; None where they are silent."""

    @property
    def essential(self) -> tuple[int, ...]:
        return self.must[: self.least]


@dataclass(frozen=True, slots=True)
class Voicing:
    """One way to play a chord."""

    pitches: tuple[int, ...]
    """Ascending key numbers."""
    cost: int
    """What it costs by itself, in shares of ``UNIT``."""


def recipe(chord: Chord, *, lift: int = 0, pedal_plays: bool = True, leading: int = -1) -> Recipe | None:
    """The recipe for a chord lifted by so many semitones; None for N.C.

    ``leading`` is the pitch class of the key's leading tone after the lift, which is never doubled.
    """
    if chord.root is None or chord.bass is None:
        return None
    root = (chord.root.pitch_class + lift) % 12
    bass = (chord.bass.pitch_class + lift) % 12
    tones = chord.tones

    def named(*degrees: int) -> list[Tone]:
        return [tone for tone in tones if tone.degree in degrees]

    thirds, sevenths, fifths = named(3), named(7) or named(6), named(5)
    suspensions = [] if thirds else named(4, 2) or (named(11) if sevenths else [])
    altered_fifths = [tone for tone in fifths if tone.semitones != 7]
    guides = [*thirds[:1], *suspensions, *sevenths]
    added = sorted(
        (tone for tone in tones if tone.degree not in (1, 5) and tone not in guides),
        key=lambda tone: (tone.semitones == _NATURAL.get(tone.degree), -tone.degree),
    )
    if sevenths and any(tone.semitones == 4 for tone in thirds):
        added = [tone for tone in added if not (tone.degree in (4, 11) and tone.semitones == 5)]
    rich = bool(sevenths) or bool(added)
    bare = not thirds and not suspensions
    root_sounds = any(tone.degree == 1 for tone in tones)
    root_stays = root_sounds and (not pedal_plays or (bare and not sevenths))

    def classes(found: list[Tone]) -> list[int]:
        return [(root + tone.semitones) % 12 for tone in found]

    plain_fifths = classes([tone for tone in fifths if tone.semitones == 7])
    first = [*classes(guides), *([root] if root_stays else []), *(plain_fifths if bare and not sevenths else [])]
    must = _once([*first, *classes(altered_fifths), *classes(added)])
    may_root = root_sounds and (not sevenths or bass != root)
    may = [each for each in _once([*plain_fifths, *([root] if may_root else [])]) if each not in must]
    doubled = [(each, 0) for each in _once([*([root] if root in (*must, *may) else []), *plain_fifths])]
    if not rich or not (thirds and thirds[0].semitones == 4):
        held_back = [each for each in classes([*thirds[:1], *suspensions]) if each != bass]
        doubled += [(each, DOUBLED_GUIDE) for each in _once(held_back) if each not in dict(doubled)]
    return Recipe(
        must=tuple(must),
        least=min(len(_once(first)), MOST_VOICES),
        may=tuple(may),
        doubled=tuple((each, cost) for each, cost in doubled if each != leading),
        pedal=bass if pedal_plays else None,
    )


def _once(classes: list[int]) -> list[int]:
    return list(dict.fromkeys(classes))


@lru_cache(maxsize=4096)
def voicings(recipe: Recipe, voices: int) -> tuple[Voicing, ...]:
    """Every voicing of a recipe with so many voices, in order of its pitches; with fewer where the chord does not give them
    within the range and the span. Never empty: four pitch classes always fit into one octave."""
    wanted = min(max(voices, recipe.least), MOST_VOICES)
    below = pedal_sound(recipe.pedal) if recipe.pedal is not None else ()
    for size in range(wanted, 0, -1):
        found: dict[tuple[int, ...], int] = {}
        for classes, extra in _choices(recipe, size):
            for pitches in _placed(classes):
                cost = extra + _resting_cost(pitches, below)
                found[pitches] = min(cost, found.get(pitches, cost))
        if found:
            return tuple(Voicing(pitches, found[pitches]) for pitches in sorted(found))
    raise AssertionError("a chord has at least one tone")


def _choices(recipe: Recipe, size: int) -> Iterator[tuple[tuple[int, ...], int]]:
    """The pitch classes of voicings of one size, and what each choice costs."""
    must = recipe.must[:size]
    free = size - len(must)
    if free <= len(recipe.may):
        for fill in combinations(recipe.may, free):
            yield (*must, *fill), 0
        return
    own = (*must, *recipe.may)
    usable = [(each, cost) for each, cost in recipe.doubled if each in own]
    for doubles in combinations(usable, size - len(own)):
        yield (*own, *(each for each, _ in doubles)), sum(cost for _, cost in doubles)


@lru_cache(maxsize=4096)
def _placed(classes: tuple[int, ...]) -> tuple[tuple[int, ...], ...]:
    """Every way to lay pitch classes into range and span, each key once."""
    keys = [range(LOWEST_KEY + (each - LOWEST_KEY) % 12, HIGHEST_KEY + 1, 12) for each in classes]
    laid = {tuple(sorted(pitches)) for pitches in product(*keys)}
    return tuple(
        sorted(pitches for pitches in laid if len(set(pitches)) == len(classes) and pitches[-1] - pitches[0] <= WIDEST)
    )


def _resting_cost(pitches: tuple[int, ...], below: tuple[int, ...]) -> int:
    """What a voicing costs whatever comes before it."""
    voices = len(pitches)
    away = AWAY * abs(2 * sum(pitches) - CENTRE * voices) // voices
    rubs = sum(high - low == 1 for low, high in pairwise(pitches))
    return away + SEMITONE * rubs + TOO_LOW * too_low(pitches, below)


def thinned(pitches: tuple[int, ...], recipe: Recipe, voices: int) -> tuple[int, ...]:
    """A voicing with fewer voices, for light attacks: what no voicing may lack stays, then the lowest of the others, so that a
    full attack also stands out by reaching higher."""
    kept = [next(pitch for pitch in pitches if pitch % 12 == each) for each in recipe.essential]
    others = [pitch for pitch in pitches if pitch not in kept]
    return tuple(sorted([*kept, *others[: max(0, voices - len(kept))]]))
