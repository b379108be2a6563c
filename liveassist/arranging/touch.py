"""Touch: how long each note is held, and the gap before a key is struck again.

An organ key must come up before it can speak again, and the room goes on sounding: the level falls by 6 dB in a tenth of the
reverberation time (60 dB in the whole of it, by definition). So before a repeated key there is a gap of that length, at least
50 ms for the action and never more than half of what lies between the two attacks. Attacks nearer than the same tenth run
together and are thinned, but never below the counted beat: a room that blurs the beat needs another tempo, not a bar without
a pulse. And no action is asked for more than so many attacks a second, eight unless the console's settings say otherwise.

Sounding shares of the written value belong to each feel's touch; a strong note is a tenth longer than its touch, and the note
before a strong one a little shorter (shares of our own choice). Lengths here are whole ticks (see ``figure``).
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil

from liveassist.arranging.feel import STRONG, TOUCHES
from liveassist.arranging.figure import FINEST, Attack
from liveassist.arranging.slicing import A_FEW, at_once

ROOM_SHARE = 0.1
"""Of the reverberation time: where the level has fallen by 6 dB."""
LEAST_GAP = 0.050
"""Seconds that any action gets between two strokes of a key."""
WIDEST_GAP = 0.400
"""Seconds after which a longer gap separates no better; a room of 4 s."""
FASTEST = 8.0
"""Attacks a second."""
WHOLE = 1000
SHORTER = 800
"""Of an attack's length, in thousandths, where it is shorter for variety."""
STRONGER = 1100
"""A strong note's length, in thousandths of its touch."""
BEFORE_STRONG = 850
"""The length of the note before a strong one, likewise."""


def gap_seconds(room: float) -> float:
    """The silence before a repeated key, in a room of so many seconds of reverberation."""
    return min(max(LEAST_GAP, room * ROOM_SHARE), WIDEST_GAP)


def least_spacing_seconds(room: float, action: float = FASTEST) -> float:
    """How near attacks may come to each other: as the room bears it, and the action, in attacks a second."""
    return max(1 / action, min(room * ROOM_SHARE, WIDEST_GAP))


def least_spacing(room: float, action: float, quarter_bpm: float, beat: Fraction) -> Fraction:
    """The same in quarter notes at a tempo: the room has its way down to the counted beat, the action always."""
    by_room = min(in_quarters(least_spacing_seconds(room, action), quarter_bpm), beat)
    return max(by_room, in_quarters(1 / action, quarter_bpm))


def in_quarters(seconds: float, quarter_bpm: float) -> Fraction:
    """Seconds as quarter notes at a tempo, to the next finer step of ``FINEST`` up: a gap is never rounded away."""
    return Fraction(ceil(seconds * quarter_bpm / 60 * FINEST - 1e-9), FINEST)


@dataclass(slots=True)
class Stroke:
    """One attack with the keys it takes, and for each key where it comes up."""

    attack: Attack
    pitches: tuple[int, ...]
    ends: list[int]


def touched_in_slices(
    attacks: Sequence[Attack], pitches: Sequence[tuple[int, ...]], gaps: Sequence[int]
) -> Generator[None, None, list[Stroke]]:
    """The attacks with the length of every note. ``gaps``: for each bar of the route, the gap before a repeated key."""
    strokes: list[Stroke] = []
    for number, attack in enumerate(attacks):
        if not number % A_FEW:
            yield
        share = TOUCHES[attack.touch]
        if attack.weight == STRONG:
            share = min(share * STRONGER // WHOLE, WHOLE)
        elif number + 1 < len(attacks) and attacks[number + 1].weight == STRONG:
            share = share * BEFORE_STRONG // WHOLE
        end = attack.start + max(1, (attack.stop - attack.start) * share // WHOLE)
        strokes.append(Stroke(attack, pitches[number], [end] * len(pitches[number])))
    yield from _make_room(strokes, gaps)
    for number, stroke in enumerate(strokes):
        if not number % A_FEW:
            yield
        if stroke.attack.shorter:
            start = stroke.attack.start
            stroke.ends = [start + max(1, (end - start) * SHORTER // WHOLE) for end in stroke.ends]
    return strokes


touched = at_once(touched_in_slices)
"""The attacks with the length of every note."""


def _make_room(strokes: Sequence[Stroke], gaps: Sequence[int]) -> Generator[None, None, None]:
    """Shorten each note before its key is struck again."""
    down: dict[int, tuple[Stroke, int]] = {}
    for number, stroke in enumerate(strokes):
        if not number % A_FEW:
            yield
        start = stroke.attack.start
        for index, pitch in enumerate(stroke.pitches):
            if pitch in down:
                before, at = down[pitch]
                gap = max(gaps[before.attack.bar], gaps[stroke.attack.bar])
                half = (start - before.attack.start + 1) // 2
                before.ends[at] = min(before.ends[at], start - min(half, gap))
            down[pitch] = (stroke, index)
