"""The score: what stands in each bar of the route, staff by staff, before it is known which bars are printed.

Three staves: the tune where the chart has one, the left hand as arranged (the figure, and the answer where the levels have
one), and in the pedal the bass of each change. Places are quarter notes from the start of the bar. The left hand is printed
with its written values: touch is left to the player and to staccato dots. A swung feel is printed in even notes with the word
above, as players read it; its second notes stand in the middle of their pair.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from math import ceil

from charts.chord import Chord
from charts.melody import MelodyNote, melody
from charts.route import Route, RouteBar
from liveassist.arranging.arrangement import ANSWER, FIGURE, Arrangement, Note
from liveassist.arranging.feel import TOUCHES, Feel
from liveassist.arranging.feels import Feels, feel_for
from liveassist.arranging.figure import level_of
from liveassist.arranging.telling import DEFAULT_FULLNESS
from liveassist.arranging.touch import STRONGER, WHOLE
from liveassist.page.rhythm import Stroke
from liveassist.page.spelling import Written, page_key, spell, write_pitch

SHORT = TOUCHES["short"]
LONGEST_SHORT = SHORT * STRONGER // WHOLE
"""In feels of so short a touch, notes that sound no more than this of their written value get a staccato dot; in
thousandths."""
EIGHTH = Fraction(1, 2)
LOWEST_PEDAL, HIGHEST_PEDAL = 36, 51
"""The pedal is printed from bottom C to the E flat above the next."""


@dataclass(frozen=True, slots=True)
class ChordAt:
    """A chord symbol and its marks."""

    offset: Fraction
    chord: Chord
    marks: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Content:
    """All that sounds in one bar, and what is written above it."""

    melody: tuple[Stroke, ...]
    left: tuple[Stroke, ...]
    answer: tuple[Stroke, ...]
    pedal: tuple[Stroke, ...]
    changes: tuple[ChordAt, ...]


@dataclass(frozen=True, kw_only=True)
class Score:
    """A route with what stands in each of its bars."""

    route: Route
    contents: tuple[Content, ...]
    """One for each bar of the route."""
    feels: tuple[Feel, ...]
    """The feel of each bar."""
    fullness: tuple[int, ...]
    """The suggested fullness of each bar."""
    faster: float = 1.0
    """How much faster it goes than the chart says."""
    by_feel: bool = True
    """Whether the left hand plays the feel, and is told its name."""


def score(
    arrangement: Arrangement,
    *,
    fullness: int = DEFAULT_FULLNESS,
    feel: str = "",
    tempo: float = 0.0,
    by_feel: bool = True,
    known: Feels | None = None,
) -> Score:
    """The score of an arrangement.

    ``feel`` and ``tempo`` are those that it was arranged with instead of the chart's, if any; ``by_feel``: whether the left
    hand plays the feel; ``known``: all feels, where the player has some of their own.

    Raises ChartError where the chart's tune cannot be read.
    """
    route = arrangement.route
    feels = tuple(feel_for(feel or bar.feel or route.chart.feel, bar.meter, known) for bar in route.bars)
    left, answer = (
        _laid((note for note in arrangement.levels[fullness] if note.part == part), route, feels)
        for part in (FIGURE, ANSWER)
    )
    tune, pedal = _tune(melody(route), route), _pedal(route)
    return Score(
        route=route,
        contents=tuple(
            Content(
                melody=tuple(tune.get(bar.index, ())),
                left=tuple(left.get(bar.index, ())),
                answer=tuple(answer.get(bar.index, ())),
                pedal=tuple(pedal.get(bar.index, ())),
                changes=_chords(route, bar),
            )
            for bar in route.bars
        ),
        feels=feels,
        fullness=tuple(level_of(bar, fullness) for bar in route.bars),
        faster=faster(route, tempo),
        by_feel=by_feel,
    )


def faster(route: Route, tempo: float) -> float:
    """How much faster than the chart a tempo in counted beats a minute is; 0 is the chart's own."""
    if not tempo:
        return 1.0
    first = route.bars[0]
    return tempo * float(first.meter.counted_beat) / first.quarter_bpm


Strokes = dict[int, list[Stroke]]
"""For each bar of the route that has any."""


def _chords(route: Route, bar: RouteBar) -> tuple[ChordAt, ...]:
    return tuple(
        ChordAt(change.offset, change.chord, change.marks) for change in (route.changes[index] for index in bar.changes)
    )


def _laid(notes: Iterable[Note], route: Route, feels: Sequence[Feel]) -> Strokes:
    """Notes by bar: those that begin together are one stroke, which is cut at every barline that it crosses."""
    together: dict[Fraction, list[Note]] = {}
    for note in notes:
        together.setdefault(note.position, []).append(note)
    laid: Strokes = {}
    for position, group in together.items():
        bar, chord = route.bar_at(position), route.changes[group[0].change].chord
        names = tuple(write_pitch(note.pitch, spell(note.pitch % 12, page_key(bar.key), chord)) for note in group)
        value = max(note.written or note.length for note in group)
        touch = TOUCHES[feels[bar.index].touch]
        short = touch <= SHORT and max(note.length for note in group) * WHOLE <= LONGEST_SHORT * value
        for index, stroke in _cut(position, position + value, names, route, short=short):
            laid.setdefault(index, []).append(stroke)
    return {index: _apart(_even(strokes, feels[index]), route.bars[index].length) for index, strokes in laid.items()}


def _cut(
    start: Fraction, end: Fraction, names: tuple[Written, ...], route: Route, *, short: bool = False
) -> Iterable[tuple[int, Stroke]]:
    """What sounds from a place to another, bar by bar."""
    bar = route.bar_at(start)
    begun = start
    while start < end:
        until = min(end, bar.end)
        yield (
            bar.index,
            Stroke(
                start - bar.position,
                until - bar.position,
                names,
                tie_in=start > begun,
                tie_out=until < end,
                short=short and start == begun,
            ),
        )
        if until == end or bar.index + 1 == len(route.bars):
            return
        start, bar = until, route.bars[bar.index + 1]


def _apart(strokes: list[Stroke], length: Fraction) -> list[Stroke]:
    """One stroke after another: each ends where the next begins at the latest, and on an eighth where nothing follows at once:
    a breath or a short rest is the player's, not the copyist's."""
    found = []
    for number, stroke in enumerate(strokes):
        following = strokes[number + 1].start if number + 1 < len(strokes) else None
        end = stroke.end if stroke.end == following else ceil(stroke.end / EIGHTH) * EIGHTH
        end = min(end, length if following is None else following)
        found.append(replace(stroke, end=end, tie_out=stroke.tie_out and end == stroke.end))
    return found


# -- swing ----------------------------------------------------------------------------------------------------------


SWUNG = {"sixteenth": Fraction(1, 4), "eighth": Fraction(1, 2), "quarter": Fraction(1)}
"""The grids that swing, and what one sign lasts in them, in quarter notes."""


def swung(feel: Feel) -> bool:
    """Whether a feel is printed in even notes that are played unevenly."""
    return feel.swing != 1 and feel.grid in SWUNG


def _even(strokes: list[Stroke], feel: Feel) -> list[Stroke]:
    """A swung bar in even notes, where that keeps every attack apart from the others."""
    if not swung(feel):
        return strokes
    step = SWUNG[feel.grid]
    even = [
        Stroke(_middle(s.start, step), _middle(s.end, step), s.notes, s.tie_in, s.tie_out, s.short) for s in strokes
    ]
    places = [stroke.start for stroke in even]
    kept = len(set(places)) == len(places) and all(stroke.start < stroke.end for stroke in even)
    return even if kept else strokes


def _middle(place: Fraction, step: Fraction) -> Fraction:
    """A place inside a swung pair is in its middle when it is written even."""
    pair, inside = divmod(place, 2 * step)
    return pair * 2 * step + (step if inside else 0)


# -- tune and pedal -------------------------------------------------------------------------------------------------


def _tune(notes: Sequence[MelodyNote], route: Route) -> Strokes:
    """The chart's tune by bar."""
    laid: Strokes = {}
    for (index, position), group in groupby(notes, key=lambda note: (note.bar, note.position)):
        sounding = list(group)
        offset = position - route.bars[index].position
        laid.setdefault(index, []).append(
            Stroke(
                offset,
                offset + max(note.length for note in sounding),
                tuple(Written(note.spelling, note.octave) for note in sounding),
                tie_in=all(note.tied for note in sounding),
                tie_out=all(note.ties for note in sounding),
            )
        )
    return laid


def pedal_keys(route: Route) -> dict[int, int]:
    """For each change that the feet play, its key: the nearest to the one before, the lower where two are as near. Wherever
    bars come round again it begins in the lowest octave, so that what is repeated stays the same."""
    keys: dict[int, int] = {}
    before: int | None = None
    last = route.bars[0] if route.bars else None
    for bar in route.bars:
        if last is not None and (bar.step != last.step or bar.number <= last.number):
            before = None
        last = bar
        for index in bar.changes:
            bass = route.changes[index].bass
            if bass is None:
                continue
            near = LOWEST_PEDAL + (bass - LOWEST_PEDAL) % 12
            higher = near + 12
            if before is not None and higher <= HIGHEST_PEDAL and abs(higher - before) < abs(near - before):
                near = higher
            keys[index] = before = near
    return keys


def _pedal(route: Route) -> Strokes:
    """The bass of each change for as long as it lasts; nothing where the feet are silent."""
    laid: Strokes = {}
    for index, pitch in pedal_keys(route).items():
        change = route.changes[index]
        name = spell(pitch % 12, page_key(route.bars[change.bar].key), change.chord)
        for bar, stroke in _cut(change.position, change.end, (write_pitch(pitch, name),), route):
            if not route.bars[bar].manuals_only:
                laid.setdefault(bar, []).append(stroke)
    return laid
