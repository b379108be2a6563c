"""The bass: the detached root line, for players without a pedalboard of their own or with a foot switch only.

The written bass of each change, in the octave that lies nearest to the note before (the lower where two are as near), within
the pedal keys 36 to 55: the bottom of every pedalboard. One attack for each change, at its place or where it is pushed or
late, and one on the first beat of each bar in which a longer change goes on. The touch is detached, with the gap of the
room before a repeated key; at a marked hold the note is held. N.C., ``tacet``, ``out`` and manuals only are silence.

A change marked ``walk`` walks to the bass of the next: a note on each counted beat, straight towards it by chord tones and
those notes of the scale that do not rub against one, and on the last beat a step of the scale from where it goes, by the side
from which it comes; a change of a single beat takes that step on its last division (common practice, no source). With nothing
to walk to it stays.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from charts.chart import BREAK, BREATH, HOLD, LATE, TACET, WALK
from charts.key import MAJOR_SCALE
from charts.route import Route, RouteBar, RouteChange
from liveassist.arranging.arrangement import BASS, FULLNESS, Note
from liveassist.arranging.feel import TOUCHES
from liveassist.arranging.figure import BREAK_SHARE, BREATH_SHARE, division
from liveassist.arranging.slicing import A_FEW
from liveassist.arranging.touch import WHOLE

LOWEST, HIGHEST = 36, 55
"""Keys: from the bottom C of the pedals to the G an octave and a fifth above."""
MINOR_SCALE = (0, 2, 3, 5, 7, 8, 10, 11)
"""Semitones above a minor tonic: the natural scale and the leading tone."""

Places = Callable[[RouteChange], Fraction]


def bass_in_slices(
    route: Route, *, lift: int, takes_over: Places, gap: Callable[[RouteBar], Fraction]
) -> Generator[None, None, tuple[Note, ...]]:
    """The bass of a whole route, giving way after a few changes.

    Args:
        lift: semitones by which everything is transposed; the compass stays.
        takes_over: where a change takes over in quarter notes, early where it is pushed.
        gap: quarter notes before a repeated key, in a bar.
    """
    keys = bass_keys(route, lift)
    notes: list[Note] = []
    for change in route.changes:
        if not change.index % A_FEW:
            yield
        following = route.changes[change.index + 1] if change.index + 1 < len(route.changes) else None
        stop = takes_over(following) if following is not None else route.length
        target = keys[following.index] if following is not None else None
        for position, end, key in _of_change(route, change, takes_over(change), stop, keys[change.index], target, lift):
            share = WHOLE if HOLD in change.marks else TOUCHES["detached"]
            notes.append(
                Note(
                    part=BASS,
                    pitch=key,
                    position=position,
                    length=(end - position) * Fraction(share, WHOLE),
                    change=change.index,
                    fullness=FULLNESS[0],
                )
            )
    return (yield from apart(notes, lambda note: gap(route.bar_at(note.position))))


def bass_keys(route: Route, lift: int) -> tuple[int | None, ...]:
    """For each change the key of its bass; None where the bass is silent."""
    found: list[int | None] = []
    before: int | None = None
    for change in route.changes:
        bar = route.bars[change.bar]
        if change.bass is None or TACET in change.marks or _rests(bar):
            found.append(None)
            continue
        before = _nearest([(change.bass + lift) % 12], LOWEST if before is None else before)
        found.append(before)
    return tuple(found)


def _rests(bar: RouteBar) -> bool:
    """Whether the bass rests in a bar: where the band is out, and where the feet would rest."""
    return bar.out or bar.manuals_only


def apart(notes: Sequence[Note], gap: Callable[[Note], Fraction]) -> Generator[None, None, tuple[Note, ...]]:
    """A line of notes in which each is over before the next begins, and a repeated key comes up the gap before: never more
    than half of what lies between the two."""
    found: list[Note] = []
    for note, following in pairwise([*notes, None]):
        assert note is not None
        if not len(found) % A_FEW:
            yield
        length = note.length
        if following is not None:
            between = following.position - note.position
            same = following.pitch == note.pitch
            length = min(length, between - min(between / 2, gap(following)) if same else between)
        found.append(replace(note, length=length))
    return tuple(found)


def _nearest(classes: Iterable[int], key: float) -> int:
    """The key of one of these pitch classes that lies nearest to another; the lower of two as near."""
    wanted = set(classes)
    return min((k for k in range(LOWEST, HIGHEST + 1) if k % 12 in wanted), key=lambda k: (abs(k - key), k))


def _of_change(
    route: Route, change: RouteChange, start: Fraction, stop: Fraction, key: int | None, target: int | None, lift: int
) -> Iterator[tuple[Fraction, Fraction, int]]:
    """The attacks of a change: position, where its value ends, key."""
    if key is None:
        return
    bar = route.bars[change.bar]
    beat = bar.meter.counted_beat
    if LATE in change.marks and start + division(bar.meter) < stop:
        start += division(bar.meter)
    stop = next((other.position for other in _bars_behind(route, change.bar, stop) if _rests(other)), stop)
    if BREATH in change.marks:
        stop -= min(beat * BREATH_SHARE, (stop - start) / 2)
    if BREAK in change.marks:
        yield start, min(stop, start + beat * BREAK_SHARE), key
        return
    if HOLD in change.marks:
        yield start, stop, key
        return
    places = [(start, key)]
    if WALK in change.marks and target is not None:
        places += _walk(route, change, start, stop, key, target, lift)
    else:
        places += [(other.position, key) for other in _bars_behind(route, change.bar, stop)]
    for (position, each), (end, _) in pairwise([*places, (stop, key)]):
        yield position, end, each


def _bars_behind(route: Route, bar: int, stop: Fraction) -> Iterator[RouteBar]:
    """The bars behind a bar that begin before a place."""
    for index in range(bar + 1, len(route.bars)):
        if route.bars[index].position >= stop:
            return
        yield route.bars[index]


def _walk(
    route: Route, change: RouteChange, start: Fraction, stop: Fraction, key: int, target: int, lift: int
) -> list[tuple[Fraction, int]]:
    """The notes after the first on the way to the next bass."""
    bar = route.bars[change.bar]
    beat = bar.meter.counted_beat
    beats = [change.position + beat * k for k in range(1, int(change.length / beat))]
    places = [place for place in beats if start < place < stop]
    if not places:
        last_division = change.end - division(bar.meter)
        places = [last_division] if start < last_division < stop else []
    approach = _approach(key, target, bar, lift)
    tones = {(tone + lift) % 12 for tone in change.chord.pitch_classes}
    near = {tone + way for tone in tones for way in (-1, 1)}
    usable = tones | {tone for tone in _scale(bar, lift) if not {tone, tone - 12, tone + 12} & near}
    line, before = [], key
    for number, place in enumerate(places, 1):
        rest = len(places) - number
        taken = {before % 12, *([approach % 12] if rest == 1 else [])}
        along = float(key + (approach - key) * Fraction(number, len(places)))
        before = _nearest(usable - taken or usable, along) if rest else approach
        line.append((place, before))
    return line


def _scale(bar: RouteBar, lift: int) -> set[int]:
    """The pitch classes of a bar's key, with both sevenths in minor."""
    tonic = bar.key.tonic.pitch_class + lift
    return {(tonic + step) % 12 for step in (MINOR_SCALE if bar.key.minor else MAJOR_SCALE)}


def _approach(before: int, target: int, bar: RouteBar, lift: int) -> int:
    """The last step before a bass, from the side from which the line comes, and never the bass it comes from."""
    scale = _scale(bar, lift)
    side = -1 if before <= target else 1
    steps = [target + way * size for way in (side, -side) for size in (1, 2) if (target + way * size) % 12 in scale]
    for key in [*steps, *(target + way * size for size in (1, 2) for way in (side, -side))]:
        if LOWEST <= key <= HIGHEST and key != before:
            return key
    raise AssertionError("every key of the compass has two others within two semitones")
