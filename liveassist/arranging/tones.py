"""Which tones of a chord the left hand plays, and which it leaves to the pedal.

Guide tones come first: the third, or the suspension in its place, and the seventh, or the sixth in its place. Then altered
fifths, then what the symbol adds, altered and highest first. The plain fifth is dropped first. The root belongs to the pedal in
sevenths and richer chords; plain triads may keep it, and every chord has it where the pedal is silent. A power chord (no
third, no suspension) is root and fifth. A natural eleventh over a major third is left out, unless it is the one thing
that the symbol adds. Where a symbol alters a tone both ways, the higher fifth comes before its ninths and the lower one
after them. Root and fifth may be doubled; the leading tone, sevenths and altered tones never; a third or a suspension at a
cost, and not where the pedal has it or where it is the major third of a richer chord. (Third and seventh sound in the hand
even where a slash gives them to the feet: nobody knows whether the feet will play.)

Where the keys lie: in the core of the hand's range and within its span; where the tune is in the way, and only there, at a
cost in the outer range. No interval may lie too low (``low_intervals``), the pedal's counted among them. A semitone or a
minor ninth between voices costs a little. Five voices need four tones: a triad has but four keys in a ninth.

All of this is common practice, no source, but for the ranges, which are our own choice. Pitch classes are numbers from 0 (C)
to 11.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, product

from charts.chord import Chord, Tone
from liveassist.arranging.low_intervals import pedal_sound, too_low

LOWEST_KEY, HIGHEST_KEY = 52, 69
"""E below middle C to the A above it."""
OUTER_LOWEST, OUTER_HIGHEST = 50, 72
"""The outer range: D below middle C to the C above it."""
WIDEST = 14
"""Semitones from lowest to highest voice, a ninth: a person must be able to take over."""
NARROWEST = 11
"""The narrowest hand that any chord can be laid into."""
MOST_VOICES = 5

UNIT = 240
"""One semitone of motion, the unit of all costs: whole numbers that divide by 2, 3 and 4 voices."""
CENTRE = 121
"""Twice the key number around which voicings lie best, 60.5."""
AWAY = 3 * UNIT // 20
"""Cost of half a semitone away from that centre, in half semitones: 0.3 a semitone."""
RUB = 2 * UNIT
"""Two voices a semitone or a minor ninth apart."""
OUTSIDE = 3 * UNIT
"""Each semitone of a voice outside the core of the range."""
MISSING = 4 * UNIT
"""Each voice fewer than asked for, where the tune is in the way."""
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
class Hand:
    """Where the keys may lie."""

    lowest: int = LOWEST_KEY
    highest: int = HIGHEST_KEY
    span: int = WIDEST
    """Semitones from the lowest to the highest voice."""

    @property
    def outer(self) -> Hand:
        """The same hand where the tune is in its way."""
        return Hand(OUTER_LOWEST, OUTER_HIGHEST, self.span)


HAND = Hand()


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
    must = _once([*first, *classes(altered_fifths[-1:]), *classes(added), *classes(altered_fifths)])
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
def voicings(recipe: Recipe, voices: int, hand: Hand = HAND, fewer: bool = False) -> tuple[Voicing, ...]:
    """Every voicing of a recipe with so many voices, in order of its pitches; with fewer where the chord does not give them
    within the range and the span. Never empty where the span is ``NARROWEST`` or more. ``fewer``: those with fewer voices
    as well, down to what no voicing may lack."""
    most = _of_size(recipe, min(max(voices, recipe.least), MOST_VOICES), hand)
    sizes = range(recipe.least, len(most[0].pitches)) if fewer else ()
    dearer = {
        Voicing(each.pitches, each.cost + MISSING * (len(most[0].pitches) - size))
        for size in sizes
        for each in _of_size(recipe, size, hand)
    }
    return tuple(sorted({*most, *dearer}, key=lambda voicing: voicing.pitches))


def _of_size(recipe: Recipe, wanted: int, hand: Hand) -> tuple[Voicing, ...]:
    """The voicings of one size, or of the next smaller one that there are any of."""
    below = pedal_sound(recipe.pedal) if recipe.pedal is not None else ()
    for size in range(wanted, 0, -1):
        found: dict[tuple[int, ...], int] = {}
        for classes, extra in _choices(recipe, size):
            for pitches in _placed(classes, hand):
                if not too_low(pitches, below):
                    cost = extra + _resting_cost(pitches)
                    found[pitches] = min(cost, found.get(pitches, cost))
        if found:
            return tuple(Voicing(pitches, found[pitches]) for pitches in sorted(found))
    raise ValueError(f"a hand from {hand.lowest} to {hand.highest} with a span of {hand.span} cannot take this chord")


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
def _placed(classes: tuple[int, ...], hand: Hand) -> tuple[tuple[int, ...], ...]:
    """Every way to lay pitch classes into range and span, each key once."""
    keys = [range(hand.lowest + (each - hand.lowest) % 12, hand.highest + 1, 12) for each in classes]
    laid = {tuple(sorted(pitches)) for pitches in product(*keys)}
    return tuple(
        sorted(
            pitches for pitches in laid if len(set(pitches)) == len(classes) and pitches[-1] - pitches[0] <= hand.span
        )
    )


def _resting_cost(pitches: tuple[int, ...]) -> int:
    """What a voicing costs whatever comes before it."""
    voices = len(pitches)
    away = AWAY * abs(2 * sum(pitches) - CENTRE * voices) // voices
    rubs = sum(high - low in (1, 13) for low, high in combinations(pitches, 2))
    outside = sum(max(0, LOWEST_KEY - pitch, pitch - HIGHEST_KEY) for pitch in pitches)
    return away + RUB * rubs + OUTSIDE * outside


def thinned(pitches: tuple[int, ...], recipe: Recipe, voices: int) -> tuple[int, ...]:
    """A voicing with fewer voices, for light attacks: what no voicing may lack stays, then the lowest of the others, so that a
    full attack also stands out by reaching higher."""
    kept = [next(pitch for pitch in pitches if pitch % 12 == each) for each in recipe.essential]
    others = [pitch for pitch in pitches if pitch not in kept]
    return tuple(sorted([*kept, *others[: max(0, voices - len(kept))]]))
