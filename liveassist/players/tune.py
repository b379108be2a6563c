"""The imagined organist's hands: a tune made up from chord tones, or a written one, and block chords below it.

A note of a tune is (count, end, key): counts are quarter notes played since the start, keys are MIDI key numbers.
"""

from __future__ import annotations

import random
from collections.abc import Collection, Sequence
from fractions import Fraction

from liveassist.players.timing import PlayedBar, PlayedChange

Stroke = tuple[Fraction, Fraction, int]
"""A note as (count, end, key)."""
TUNE = range(60, 77)
"""Middle C to e'': a congregation's range and a little more (common practice, no source)."""

LEFT = range(48, 60)
"""The octave below middle C: where the left hand finds a chord on the tune's manual (common practice, no source)."""
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
