"""Making it singable: where the tune of a chart lies in each key, for a congregation.

Range of a congregation: A3 to D5 for most, D5 being the usual ceiling, C4 to C5 comfortable (published advice on congregational
keys; the figures are those of church music handbooks and blogs, which differ by a tone). A note counts for as long as it lasts.
Pedal: a bass is played in the lowest octave, C (36) to B (47), where the player's pedalboard has it; black pedals are counted.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from charts.chart import Chart
from charts.key import Key
from charts.melody import MelodyNote, joined, melody
from charts.roadmap import unfold
from charts.route import Route
from charts.transposing import interval

LOWEST, HIGHEST = 57, 74
"""A3 and D5, MIDI key numbers: what most can sing."""
COMFORTABLE = (60, 72)
"""C4 to C5."""
LOWEST_PEDAL = 36
_BLACK = frozenset({1, 3, 6, 8, 10})


@dataclass(frozen=True, kw_only=True, slots=True)
class Place:
    """One key for the chart, and what it means."""

    key: Key
    up: int
    """Semitones up (down: negative) from the key written."""
    lowest: MelodyNote | None
    """The tune's lowest note in this key; None where the chart has no tune."""
    highest: MelodyNote | None
    too_high: Fraction
    """Quarter notes above ``HIGHEST``, in one playing of the route."""
    too_low: Fraction
    comfortable: float
    """Share of the tune's time within ``COMFORTABLE``, 0 to 1."""
    pedals: tuple[int, ...]
    """The pedals that the basses take, in the lowest octave; sorted."""

    @property
    def accidentals(self) -> int:
        return abs(self.key.fifths)

    @property
    def black_pedals(self) -> int:
        return sum(pedal % 12 in _BLACK for pedal in self.pedals)


def places(chart: Chart) -> tuple[Place, ...]:
    """Every key, from a tritone down to five semitones up. Raises ChartError where the chart cannot be unfolded."""
    route = unfold(chart)
    tune = joined(melody(route))
    return tuple(_place(chart, route, tune, up) for up in range(-6, 6))


def best(found: Sequence[Place]) -> Place:
    """The key in which the least of the tune is out of range; then the nearest the middle, with few accidentals, unmoved."""
    return min(
        found,
        key=lambda place: (
            place.too_high * 2 + place.too_low,
            -round(place.comfortable, 1),
            place.accidentals,
            abs(place.up),
        ),
    )


def _place(chart: Chart, route: Route, tune: Sequence[MelodyNote], up: int) -> Place:
    key = chart.key.lifted(up)
    by = interval(chart.key, key, up)
    moved = [_moved(note, by.steps, up) for note in tune]
    whole = sum((note.length for note in moved), Fraction(0))
    easy = sum((note.length for note in moved if COMFORTABLE[0] <= note.pitch <= COMFORTABLE[1]), Fraction(0))
    basses = {(change.bass + up) % 12 for change in route.changes if change.bass is not None}
    return Place(
        key=key,
        up=up,
        lowest=min(moved, key=lambda note: note.pitch, default=None),
        highest=max(moved, key=lambda note: note.pitch, default=None),
        too_high=sum((note.length for note in moved if note.pitch > HIGHEST), Fraction(0)),
        too_low=sum((note.length for note in moved if note.pitch < LOWEST), Fraction(0)),
        comfortable=float(easy / whole) if whole else 0.0,
        pedals=tuple(sorted(LOWEST_PEDAL + bass for bass in basses)),
    )


def _moved(note: MelodyNote, steps: int, up: int) -> MelodyNote:
    return replace(note, pitch=note.pitch + up, spelling=note.spelling.transposed(steps, up))
