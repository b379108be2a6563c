"""The answer: an echo or a canon of the tune on the second manual, instead of the figure, from the chart's melody.

Where the answer gives way (rules of our own, on common practice in two-part writing; no source):

* An echo speaks only where the tune stands still: between two attacks of the tune at least ``STILL`` counted beats apart, or
  before its first and after its last. It ends where the tune goes on; a note of which less than half would be left is left out.
* A canon is literal: every note of the tune, in its rhythm.
* A note foreign to the chord and a semitone from one of its tones, on a strong beat or as long as a counted beat, moves to
  that tone, to the lower where there are two. Strong are the first beat of a bar and the middle of four or more even ones.
* A note that would rub so against the next chord ends where the chord changes.
* The answer ends with the stretch of bars that have it, and before the last chord of the song, which is the figure's. It is
  silent where the band is out, and at ``tacet``.

The figure rests in every bar with an answer. Where such a section has no tune written, the band answers what the right hand has
just played (``liveassist.band.answering``).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Callable, Collection, Generator, Sequence
from fractions import Fraction

from charts.answer import ECHO, NONE
from charts.chart import TACET
from charts.melody import MelodyNote
from charts.route import Route, RouteBar
from liveassist.arranging.arrangement import ANSWER, FULLNESS, Note
from liveassist.arranging.bass import apart
from liveassist.arranging.feel import TOUCHES
from liveassist.arranging.touch import WHOLE

STILL = 2
"""Counted beats from one attack of the tune to the next for which it is said to stand still."""
MANUAL = (36, 96)
"""Lowest and highest key of a manual of 61 notes."""


def answered(bar: RouteBar) -> bool:
    """Whether the second manual has an answer in a bar instead of the figure."""
    return bar.answer is not None and bar.answer.kind != NONE


def answer_in_slices(
    route: Route, tune: Sequence[MelodyNote], *, lift: int, gap: Callable[[RouteBar], Fraction]
) -> Generator[None, None, tuple[Note, ...]]:
    """The answer through a whole route, giving way after each note of the tune.

    Args:
        tune: the melody, tied notes made one.
        lift: semitones by which everything is transposed.
        gap: quarter notes before a repeated key, in a bar.
    """
    attacks = [note.position for note in tune]
    found: list[Note | None] = []
    for note in tune:
        yield
        found.append(_answer_to(route, note, attacks, lift))
    # Over a repeat or a jump two notes may come to one place: the later in the order of playing stands.
    notes = {note.position: note for note in found if note is not None}
    line = [notes[position] for position in sorted(notes)]
    return (yield from apart(line, lambda note: gap(route.bar_at(note.position))))


def _answer_to(route: Route, note: MelodyNote, attacks: Sequence[Fraction], lift: int) -> Note | None:
    """What answers one note of the tune, if anything does."""
    source = route.bars[note.bar]
    if source.answer is None or not answered(source):
        return None
    position, end = _span(route, note, source)
    if position >= end:
        return None
    if source.answer.kind == ECHO:
        end = min(end, _echo_ends(route, position, end, attacks))
        if (end - position) * 2 < note.length:
            return None
    change, bar = route.change_at(position), route.bar_at(position)
    if TACET in change.marks or bar.out:
        return None
    sounding = _classes(route, change.index, lift)
    pitch = on_the_manual(note.pitch + lift + 12 * source.answer.octaves)
    if heavy(bar, position, end - position):
        pitch = on_the_manual(given_way(pitch, sounding))
    following = change.index + 1
    while following < len(route.changes) and route.changes[following].position < end:
        if rubs(pitch, _classes(route, following, lift)):
            end = route.changes[following].position
        following += 1
    return Note(
        part=ANSWER,
        pitch=pitch,
        position=position,
        length=(end - position) * Fraction(TOUCHES["legato"], WHOLE),
        change=change.index,
        fullness=FULLNESS[0],
    )


def _span(route: Route, note: MelodyNote, source: RouteBar) -> tuple[Fraction, Fraction]:
    """Where the answer to a note begins and ends; an end that is not later: nowhere."""
    assert source.answer is not None
    position = note.position + source.answer.distance(source.meter)
    end = min(position + note.length, route.changes[-1].position)
    bar = source
    while bar.end < end and bar.index + 1 < len(route.bars):
        bar = route.bars[bar.index + 1]
        if bar.answer != source.answer or bar.out:
            return position, min(end, bar.position)
    return position, end


def _echo_ends(route: Route, position: Fraction, end: Fraction, attacks: Sequence[Fraction]) -> Fraction:
    """Where an echo that begins at a place must end: at once where the tune is moving."""
    beat = route.bar_at(position).meter.counted_beat
    before = bisect_right(attacks, position) - 1
    after = bisect_left(attacks, position) if before < 0 else before + 1
    ends = attacks[after] if after < len(attacks) else None
    if ends is None or before < 0:
        return end if ends is None else min(end, ends)
    return min(end, ends) if ends - attacks[before] >= STILL * beat else position


def _classes(route: Route, change: int, lift: int) -> frozenset[int]:
    return frozenset((each + lift) % 12 for each in route.changes[change].chord.pitch_classes)


# -- giving way -----------------------------------------------------------------------------------------------------


def heavy(bar: RouteBar, position: Fraction, length: Fraction) -> bool:
    """Whether a note is heard against the chord: on a strong beat, or as long as a counted beat."""
    beat, beats = bar.beat_at(position) - 1, bar.meter.counted_beats
    return length >= bar.meter.counted_beat or beat == 0 or (beats >= 4 and beat * 2 == beats)


def rubs(pitch: int, sounding: Collection[int]) -> bool:
    """Whether a key is foreign to the pitch classes that sound and a semitone from one of them."""
    return pitch % 12 not in sounding and bool({(pitch - 1) % 12, (pitch + 1) % 12} & set(sounding))


def given_way(pitch: int, sounding: Collection[int]) -> int:
    """The key, or the tone of the chord that it rubs against."""
    if not rubs(pitch, sounding):
        return pitch
    return pitch - 1 if (pitch - 1) % 12 in sounding else pitch + 1


def on_the_manual(pitch: int) -> int:
    """The key, as many octaves up or down as it takes to be on the manual."""
    low, high = MANUAL
    return pitch + 12 * max(0, -((pitch - low) // 12)) - 12 * max(0, (pitch - high + 11) // 12)
