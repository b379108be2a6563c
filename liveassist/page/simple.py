"""A left hand for a person: the same harmony, one chord for each change and bar, at most three voices within an octave.

It is made from the chords as the arrangement holds them. What a triad or a seventh chord lives by stays: a voice goes first
where another has its note already, then the one farthest from the middle of the hand, but never the third (or its
suspension) or the seventh. Where the left hand is silent in the arrangement it is silent here, and an answer stays
as it is.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from types import MappingProxyType

from charts.chart import HOLD, TACET
from charts.route import RouteBar, RouteChange
from liveassist.arranging.arrangement import ANSWER, FIGURE, FULLNESS, Arrangement, Note
from liveassist.arranging.tones import recipe

MOST = 3
WIDEST = 12
"""Semitones."""


def simplified(arrangement: Arrangement) -> Arrangement:
    """The arrangement with a left hand for a person, the same at every fullness but for the voices."""
    levels = {
        level: tuple(
            sorted(
                [
                    *_notes(arrangement, level),
                    *(note for note in arrangement.levels[level] if note.part == ANSWER),
                ],
                key=lambda note: (note.position, note.pitch),
            )
        )
        for level in FULLNESS
    }
    return replace(arrangement, levels=MappingProxyType(levels))


def _notes(arrangement: Arrangement, level: int) -> list[Note]:
    route = arrangement.route
    notes: list[Note] = []
    for change in route.changes:
        pitches = hand(arrangement.voicings[level][change.index], change, arrangement.lift)
        if TACET in change.marks:
            continue
        for bar, start, end in _pieces(arrangement, change):
            if bar.out:
                continue
            notes += [
                Note(
                    part=FIGURE,
                    pitch=pitch,
                    position=start,
                    length=end - start,
                    change=change.index,
                    fullness=level,
                    written=end - start,
                )
                for pitch in pitches
            ]
    return notes


def _pieces(arrangement: Arrangement, change: RouteChange) -> list[tuple[RouteBar, Fraction, Fraction]]:
    """A change bar by bar; one that is held is struck only once."""
    bars = arrangement.route.bars
    if HOLD in change.marks:
        return [(bars[change.bar], change.position, change.end)]
    found = []
    for bar in bars[change.bar :]:
        if bar.position >= change.end:
            break
        found.append((bar, max(bar.position, change.position), min(bar.end, change.end)))
    return found


def hand(pitches: tuple[int, ...], change: RouteChange, lift: int = 0) -> tuple[int, ...]:
    """A chord with no more voices, and no wider, than any hand can take."""
    made_of = recipe(change.chord, lift=lift)
    needed = made_of.essential if made_of else ()
    kept = list(pitches)
    while len(kept) > 1 and (len(kept) > MOST or kept[-1] - kept[0] > WIDEST):
        middle = (kept[0] + kept[-1]) / 2
        classes = [pitch % 12 for pitch in kept]
        outer = kept if kept[-1] - kept[0] <= WIDEST else [kept[0], kept[-1]]
        kept.remove(
            max(
                outer,
                key=lambda pitch: (
                    classes.count(pitch % 12) > 1,
                    pitch % 12 not in needed,
                    abs(pitch - middle),
                    pitch,
                ),
            )
        )
    return tuple(kept)
