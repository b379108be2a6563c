"""Rhythm: from places and lengths to notes and rests that a player reads at sight.

Places and lengths are quarter notes from the start of the bar, exact. What no single note says is tied. A note begins on a
beat or stays inside it, except for the plain syncopations that everybody reads; rests are stricter than notes, and nothing
but a half note or a longer one hides the middle of a bar in four (common practice, no source). A beat with thirds in it
is a triplet from end to end. Beams join what belongs to one beat, eighths over half a bar in four.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from itertools import pairwise

from charts.exchange.elements import TYPES
from charts.meter import Meter
from liveassist.page.spelling import Written

_VALUES = {value: (name, 0) for value, name in TYPES.items()} | {
    value * Fraction(3, 2): (name, 1) for value, name in TYPES.items()
}
FINEST, FINEST_IN_TRIPLETS = Fraction(1, 16), Fraction(1, 12)
"""Sixty-fourth notes, and thirty-second notes of a triplet: what lies between is written on the nearest of them."""
TRIPLET = Fraction(3, 2)


@dataclass(frozen=True, slots=True)
class Stroke:
    """Keys that go down together, as far as they are in one bar."""

    start: Fraction
    end: Fraction
    notes: tuple[Written, ...]
    tie_in: bool = False
    """They are down already when the bar begins."""
    tie_out: bool = False
    """They stay down over the barline."""
    short: bool = False
    """Written with a staccato dot."""


@dataclass(frozen=True, slots=True)
class Symbol:
    """One note, chord or rest on the page."""

    start: Fraction
    length: Fraction
    """As it counts in the bar."""
    type: str
    """From ``TYPES``; empty for the rest that fills a whole bar."""
    dots: int = 0
    notes: tuple[Written, ...] = ()
    """Empty for a rest."""
    tie_in: bool = False
    tie_out: bool = False
    short: bool = False
    triplet: str = ""
    """``start``, ``inside`` or ``stop`` of a triplet; empty outside."""
    beams: tuple[str, ...] = ()
    """For each beam from the outside in: begin, continue, end, forward hook or backward hook."""


@lru_cache(maxsize=2048)
def written_bar(strokes: tuple[Stroke, ...], length: Fraction, meter: Meter, missing: Fraction) -> tuple[Symbol, ...]:
    """The symbols of one bar on one staff. Remembered, because songs repeat themselves.

    Args:
        strokes: in order, none overlapping another.
        length: of the bar.
        meter: of the bar.
        missing: what a pickup lacks at its beginning.
    """
    if not strokes and length == meter.bar_length:
        return (Symbol(Fraction(0), length, ""),)
    lattice = _Lattice(meter, missing)
    triplets = {
        lattice.beat_before(place)
        for stroke in strokes
        for place in (stroke.start, stroke.end)
        if lattice.in_triplet(place)
    }
    spans = list(_with_rests(_on_grid(strokes, length, lattice, triplets), length))
    symbols = [symbol for span in spans for symbol in _written(span, lattice, triplets)]
    return tuple(_beamed(_tupled(symbols, lattice, triplets), lattice))


class _Lattice:
    """Where the beats of a bar fall, counted from its own start."""

    def __init__(self, meter: Meter, missing: Fraction) -> None:
        self.missing = missing
        self.compound = meter.unit >= 8 and meter.beats % 3 == 0
        self.beat = Fraction(12, meter.unit) if self.compound else Fraction(4, max(meter.unit, 4))
        self.triplets = not self.compound
        self.middle = meter.bar_length / 2 if meter.bar_length in (4, 8) and not self.compound else None
        self.bar = meter.bar_length

    def beat_before(self, place: Fraction) -> Fraction:
        """The beat at or before a place."""
        return (place + self.missing) // self.beat * self.beat - self.missing

    def beat_after(self, place: Fraction) -> Fraction:
        return self.beat_before(place) + self.beat

    def in_triplet(self, place: Fraction) -> bool:
        """Whether a place is nearer to a step of a triplet than to a plain one."""
        return self.triplets and _off(place + self.missing, FINEST_IN_TRIPLETS) < _off(place + self.missing, FINEST)

    def on_beat(self, place: Fraction) -> bool:
        return (place + self.missing) % self.beat == 0

    def readable(self, start: Fraction, end: Fraction, *, rest: bool) -> bool:
        """Whether one note or rest may fill this place."""
        length, first, last = end - start, start + self.missing, end + self.missing
        if length not in _VALUES:
            return False
        if end <= self.beat_after(start):
            plain = _VALUES[length][1] == 0
            return not rest or self.compound or (plain and first % length == 0)
        if self.compound:
            beats = length / self.beat
            return self.on_beat(start) and beats.denominator == 1 and (beats in (1, 2) or first % length == 0)
        if rest:
            return _VALUES[length][1] == 0 and first % length == 0
        if self.middle is not None and first < self.middle < last:
            return first == 0 or (self.on_beat(start) and length >= 2)
        return self.on_beat(start) or (length == self.beat and first % (self.beat / 2) == 0)

    def group(self, place: Fraction) -> tuple[int, int]:
        """The beam that a place belongs to, as a wide group and a narrow one inside it."""
        at = place + self.missing
        wide = self.beat
        if self.middle is not None:
            wide = self.middle if self.bar == 4 else self.beat
        elif not self.compound and self.bar == 3:
            wide = self.bar
        return int(at // wide), int(at // self.beat)


def _on_grid(
    strokes: Sequence[Stroke], length: Fraction, lattice: _Lattice, triplets: set[Fraction]
) -> Iterator[Stroke]:
    """The strokes at places that can be written, in order, none of them without length."""

    def nearest(place: Fraction) -> Fraction:
        step = FINEST_IN_TRIPLETS if lattice.beat_before(place) in triplets else FINEST
        return round((place + lattice.missing) / step) * step - lattice.missing

    place = Fraction(0)
    for stroke in strokes:
        start = max(place, nearest(stroke.start))
        place = min(length, max(nearest(stroke.end), start + FINEST))
        if start < place:
            yield replace(stroke, start=start, end=place)


def _with_rests(strokes: Iterable[Stroke], length: Fraction) -> Iterator[Stroke]:
    """The strokes with the silence between them."""
    place = Fraction(0)
    for stroke in strokes:
        if stroke.start > place:
            yield Stroke(place, stroke.start, ())
        yield stroke
        place = stroke.end
    if place < length:
        yield Stroke(place, length, ())


def _written(span: Stroke, lattice: _Lattice, triplets: set[Fraction]) -> Iterator[Symbol]:
    """One stroke or silence as symbols, tied where it takes several."""
    cuts = [span.start, *_cuts(span, lattice, triplets), span.end]
    rest = not span.notes
    for number, (start, end) in enumerate(pairwise(cuts)):
        inside = lattice.beat_before(start) in triplets
        kind, dots = _VALUES[(end - start) * (TRIPLET if inside else 1)]
        yield Symbol(
            start,
            end - start,
            kind,
            dots,
            span.notes,
            tie_in=not rest and (number > 0 or span.tie_in),
            tie_out=not rest and (end < span.end or span.tie_out),
            short=span.short and number == 0,
        )


def _cuts(span: Stroke, lattice: _Lattice, triplets: set[Fraction]) -> Iterator[Fraction]:
    """Where a stroke or silence is cut so that each piece can be read."""
    start = span.start
    while start < span.end:
        end = _reach(start, span.end, lattice, triplets, rest=not span.notes)
        if end < span.end:
            yield end
        start = end


def _reach(start: Fraction, end: Fraction, lattice: _Lattice, triplets: set[Fraction], *, rest: bool) -> Fraction:
    """How far the first symbol of what fills a place may go."""
    if lattice.beat_before(start) in triplets:
        end = min(end, lattice.beat_after(start))
        while (end - start) * TRIPLET not in _VALUES:
            end -= Fraction(1, 6) if (end - start) > Fraction(1, 6) else (end - start) / 2
        return end
    beats = sorted(beat for beat in triplets if start < beat < end)
    end = beats[0] if beats else end
    ends = [end]
    place = lattice.beat_after(start)
    while place < end:
        ends.append(place)
        place += lattice.beat
    inside = min(end, lattice.beat_after(start))
    ends += [start + value for value in _VALUES if start + value < inside]
    return next(each for each in sorted(ends, reverse=True) if lattice.readable(start, each, rest=rest))


def _tupled(symbols: Sequence[Symbol], lattice: _Lattice, triplets: set[Fraction]) -> list[Symbol]:
    """Where each triplet begins and ends."""
    found = []
    for symbol in symbols:
        beat = lattice.beat_before(symbol.start)
        if beat in triplets and symbol.type:
            last = symbol.start + symbol.length == beat + lattice.beat
            symbol = replace(symbol, triplet="start" if symbol.start == beat else "stop" if last else "inside")
        found.append(symbol)
    return found


def _off(place: Fraction, step: Fraction) -> Fraction:
    """How far a place is from the nearest step."""
    return abs(round(place / step) * step - place)


# -- beams ----------------------------------------------------------------------------------------------------------

_FLAGS = {"eighth": 1, "16th": 2, "32nd": 3, "64th": 4}


def _beamed(symbols: Sequence[Symbol], lattice: _Lattice) -> Iterator[Symbol]:
    """The symbols with their beams."""
    run: list[Symbol] = []
    for symbol in symbols:
        flags = _FLAGS.get(symbol.type, 0) if symbol.notes else 0
        if run and (not flags or not _together(run, symbol, lattice)):
            yield from _joined(run)
            run = []
        if flags:
            run.append(symbol)
        else:
            yield symbol
    yield from _joined(run)


def _together(run: Sequence[Symbol], symbol: Symbol, lattice: _Lattice) -> bool:
    """Whether a note goes under the beam before it: the same beat, or plain eighths in a wider group."""
    (wide, beat), (own_wide, own_beat) = lattice.group(run[-1].start), lattice.group(symbol.start)
    if beat == own_beat:
        return True
    plain = all(each.type == "eighth" and not each.dots and not each.triplet for each in (*run, symbol))
    return plain and wide == own_wide


def _joined(run: Sequence[Symbol]) -> Iterator[Symbol]:
    """The beams of notes that stand together; a single one keeps its flag."""
    if len(run) < 2:
        yield from run
        return
    flags = [_FLAGS[symbol.type] for symbol in run]
    for at, symbol in enumerate(run):
        beams = []
        for level in range(1, flags[at] + 1):
            before = at > 0 and flags[at - 1] >= level
            after = at + 1 < len(run) and flags[at + 1] >= level
            lone = "backward hook" if at > 0 else "forward hook"
            beams.append("continue" if before and after else "end" if before else "begin" if after else lone)
        yield replace(symbol, beams=tuple(beams))
