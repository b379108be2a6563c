"""The imagined organist's hands: the chart's tune, or one made up from chord tones, and block chords below it.

A note of a tune is (count, end, key): counts are quarter notes played since the start, keys are MIDI key numbers.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Sequence
from fractions import Fraction

from charts.melody import joined, readable_melody
from charts.route import Route
from liveassist.players.timing import PlayedBar, PlayedChange

Stroke = tuple[Fraction, Fraction, int]
"""A note as (count, end, key)."""
TUNE = range(60, 77)
"""Middle C to e'': a congregation's range and a little more (common practice, no source)."""

LEFT = range(48, 60)
"""The octave below middle C: where the left hand finds a chord on the tune's manual (common practice, no source)."""
SHORTEST_GRACED = Fraction(1, 2)
"""A note this long or longer may be followed by one more, in quarter notes."""
FINGERS = 4
"""Keys of a block chord, at most."""


def invented(changes: Sequence[PlayedChange], dice: random.Random) -> list[Stroke]:
    """A simple tune from chord tones, as (count, end, key): a note on most counted beats, mostly to a near one."""
    notes: list[Stroke] = []
    key = 67
    for played in changes:
        tones = played.change.chord.pitch_classes
        beats = [played.count + played.beat * k for k in range(int(-(-(played.end - played.count) // played.beat)))]
        starts = [count for count in beats if count == played.count or dice.random() < 0.7]
        for count, end in zip(starts, [*starts[1:], played.end], strict=True):
            near = sorted((k for k in TUNE if k % 12 in tones), key=lambda k: (abs(k - key), k))[:4]
            if near:  # under N.C. the tune rests
                key = dice.choice(near)
                notes.append((count, end, key))
    return notes


def given(tune: Sequence[tuple[Fraction, Fraction, int]], order: Sequence[PlayedBar]) -> list[Stroke]:
    """The written melody in the order of playing, as (count, end, key)."""
    return [
        (played.count + position - played.bar.position, played.count + position - played.bar.position + length, key)
        for played in order
        for position, length, key in tune
        if played.bar.position <= position < played.bar.end
    ]


def sung(
    route: Route, order: Sequence[PlayedBar], changes: Sequence[PlayedChange], dice: random.Random
) -> list[Stroke]:
    """The chart's tune, and one made up in the sections for which it has none."""
    notes = joined(readable_melody(route))
    sections = {route.bars[note.bar].section for note in notes}
    written = given([(note.position, note.length, note.pitch) for note in notes], order)
    return sorted(written + invented([played for played in changes if played.bar.section not in sections], dice))


def fingered(
    notes: Sequence[Stroke], dice: random.Random, *, slips: float, graces: float, left_out: float
) -> list[Stroke]:
    """The tune as the fingers find it: here a neighbouring key, there a note more on the way to the next, or a note less.

    The rates are chances for each note, 0 to 1.
    """
    played: list[Stroke] = []
    for index, (count, end, key) in enumerate(notes):
        chances = {name: dice.random() for name in ("slip", "grace", "left out")}
        beside = dice.choice((-2, -1, 1, 2))
        if chances["left out"] < left_out:
            continue
        key = key + beside if chances["slip"] < slips else key
        following = notes[index + 1] if index + 1 < len(notes) else None
        if following is None or chances["grace"] >= graces or end - count < SHORTEST_GRACED:
            played.append((count, end, key))
            continue
        middle = count + (end - count) / 2
        way = 1 if following[2] >= key else -1
        played += [(count, middle, key), (middle, end, key + 2 * way)]
    return played


def block_chords(changes: Sequence[PlayedChange], taken: Collection[int] = ()) -> list[Stroke]:
    """The left hand's chords, as (count, end, key): struck at each change and again on each counted beat. ``taken``: keys that
    the tune needs on the same manual."""
    notes: list[Stroke] = []
    for played in changes:
        tones = played.change.chord.pitch_classes
        keys = [key for key in LEFT if key % 12 in tones and key not in taken][:FINGERS]
        beats = [played.count + played.beat * k for k in range(int(-(-(played.end - played.count) // played.beat)))]
        for count, end in zip(beats, [*beats[1:], played.end], strict=True):
            notes += [(count, end, key) for key in keys]
    return notes


def nearest(pitch_class: int, key: int, compass: range) -> int:
    """The key of a pitch class that lies nearest to another key; the lower of two equally near."""
    return min((k for k in compass if k % 12 == pitch_class % 12), key=lambda k: (abs(k - key), k))
