"""From an arrangement to notes in seconds: what is to be heard, from where to where, part by part.

The clock says when each place falls (``liveassist.arranging.clock``). A note is let go where its length ends, with three
exceptions: what ends at a breath is let go before it; the last note of each part in a hold, if it would have ended within
a counted beat of the hold's end, stays down through it and leaves the same gap after it as without; and a key comes up in
time to be struck again (``LEAST_GAP``, at most half of what lies between the two strokes).
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from math import inf

from charts.chart import same_name
from charts.melody import joined, melody
from charts.route import Route
from liveassist.arranging.arrangement import ANSWER, BASS, CLICK, FIGURE, MELODY, Arrangement, Note, played
from liveassist.arranging.clock import Clock
from liveassist.arranging.touch import LEAST_GAP
from liveassist.band.click import LENGTH, click_pitch
from liveassist.ears.tone import Played
from liveassist.errors import PlayerError

SUNG = Fraction(97, 100)
"""Sounding share of a note of the tune: nearly legato (a share of our own choice)."""
TROD = Fraction(9, 10)
"""Sounding share of a pedal note (likewise)."""
FEET = range(36, 56)
"""Where the bass lies under both feet, C to g (common practice, no source)."""
FIRST_PEDAL = 43
"""The middle of it, near which the bass begins."""
BEFORE = 0.25
"""Seconds of silence before the first note: a device that has just been opened may swallow the start."""


@dataclass(frozen=True, slots=True)
class Excerpt:
    """From one place of a route to another, in quarter notes."""

    start: Fraction
    end: Fraction


def excerpt(route: Route, *, from_bar: int = 1, section: str = "", bars: int = 0) -> Excerpt:
    """What to hear of a route.

    Args:
        from_bar: the first bar in the order of playing, from 1.
        section: begins with that section instead, where it first comes.
        bars: how many bars; 0 is all that there are, of the section where one is named.

    Raises:
        PlayerError: a bar or section that is not there.
    """
    last = whole = len(route.bars)
    if bars < 0:
        raise PlayerError(f"{bars} bars cannot be heard; I need 1 or more")
    if section:
        here = next((bar for bar in route.bars if bar.starts_section and same_name(bar.section, section)), None)
        if here is None:
            there = ", ".join(dict.fromkeys(bar.section for bar in route.bars))
            raise PlayerError(f'there is no section "{section}" in the order of playing; there are: {there}')
        first = here.index
        last = next(bar.index for bar in route.bars[first:] if bar.ends_section) + 1
    elif not 1 <= from_bar <= last:
        raise PlayerError(f"there is no bar {from_bar}; as it is played, {route.chart.title} has bars 1 to {last}")
    else:
        first = from_bar - 1
    if bars:
        last = min(first + bars, whole)
    return Excerpt(route.bars[first].position, route.bars[last - 1].end)


def lines(arrangement: Arrangement, fullness: int) -> dict[str, tuple[Note, ...]]:
    """Every part that there are notes for: figure and answer as the band plays them, bass and melody as the player does."""
    band = played(arrangement, bass=False).levels[fullness]
    found = {part: tuple(note for note in band if note.part == part) for part in (FIGURE, ANSWER)}
    found[BASS] = pedal_line(arrangement.route, arrangement.lift)
    found[MELODY] = tune_line(arrangement.route, arrangement.lift)
    return {part: notes for part, notes in found.items() if notes}


def pedal_line(route: Route, lift: int = 0) -> tuple[Note, ...]:
    """The written basses, each nearest to the one before; the feet rest where only the manuals play, and under N.C."""
    notes = []
    key = FIRST_PEDAL
    for change in route.changes:
        if change.bass is None or route.bars[change.bar].manuals_only:
            continue
        wanted = (change.bass + lift) % 12
        key = min((near for near in FEET if near % 12 == wanted), key=lambda near: (abs(near - key), near))
        notes.append(
            Note(
                part=BASS,
                pitch=key,
                position=change.position,
                length=change.length * TROD,
                change=change.index,
                fullness=1,
            )
        )
    return tuple(notes)


def tune_line(route: Route, lift: int = 0) -> tuple[Note, ...]:
    """The written tune; empty where the chart has none. Raises ChartError where it cannot be read."""
    return tuple(
        Note(
            part=MELODY,
            pitch=note.pitch + lift,
            position=note.position,
            length=note.length * SUNG,
            change=route.change_at(note.position).index,
            fullness=1,
        )
        for note in joined(melody(route))
    )


def click_line(route: Route) -> tuple[Note, ...]:
    """A click on each counted beat."""
    return tuple(
        Note(
            part=CLICK,
            pitch=click_pitch(float(bar.beat_at(position))),
            position=position,
            length=Fraction(str(LENGTH)),
            change=route.change_at(position).index,
            fullness=1,
        )
        for bar in route.bars
        for position in route.beats(bar)
        if position >= bar.position
    )


def in_time(route: Route, notes: Iterable[Note], clock: Clock, heard: Excerpt) -> tuple[Played, ...]:
    """Notes of one part or more in seconds from ``BEFORE`` on, where the excerpt begins.

    What sounds already where the excerpt begins is struck there; what sounds longer than it is let go where it ends.
    """
    origin = clock.at(heard.start) - BEFORE
    by_part: dict[str, list[Note]] = {}
    for note in notes:
        by_part.setdefault(note.part, []).append(note)
    found = []
    for part in by_part.values():
        for note, off in zip(part, _ends(route, part, clock), strict=True):
            if heard.start < note.position + note.length and note.position < heard.end:
                on = clock.at(max(note.position, heard.start)) - origin
                latest = clock.until(heard.end) - origin
                found.append(Played(part=note.part, key=note.pitch, on=on, off=min(off - origin, latest)))
    return tuple(_apart(sorted(found, key=lambda note: (note.on, note.part, note.key))))


def _apart(notes: Sequence[Played]) -> Iterator[Played]:
    """The same notes, each key up before it is struck again."""
    following: dict[tuple[str, int], float] = {}
    shortened = []
    for note in reversed(notes):
        again = following.get((note.part, note.key), inf)
        off = min(note.off, again - min(LEAST_GAP, (again - note.on) / 2)) if again < inf else note.off
        following[note.part, note.key] = note.on
        shortened.append(replace(note, off=off))
    return reversed(shortened)


def _ends(route: Route, notes: Sequence[Note], clock: Clock) -> list[float]:
    """When each note of a part is let go."""
    starts = sorted({note.position for note in notes})
    held = sorted(count for count, pause in clock.pauses.items() if pause.held)
    found = []
    for note in notes:
        end = note.position + note.length
        index = bisect_left(held, end)
        stays = False
        if index < len(held):
            stop = held[index]
            beat = route.bar_at(note.position).meter.counted_beat
            following = bisect_right(starts, note.position)
            stays = end > stop - beat and (following == len(starts) or starts[following] >= stop)
        found.append(clock.at(end) + clock.pauses[stop].seconds if stays and end < stop else clock.until(end))
    return found
