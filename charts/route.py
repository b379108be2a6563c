"""The route: the roadmap unfolded. Bars and changes in the order of playing, with beats counted from 0.

Positions are quarter notes from the start of the route, exact. ``pass_`` counts from 1 each time the section comes round in
the route; ``time`` counts from 1 within an inner repeat; ``number`` is the written bar (a pickup is 0). Every written chord
of the route is a change, counted from 0; ``%`` copies its model bar's changes, each counted; ``/`` is no change.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, field
from fractions import Fraction
from math import ceil

from charts.answer import Answer
from charts.chart import Chart
from charts.chord import Chord
from charts.key import Key
from charts.meter import Meter


@dataclass(frozen=True, kw_only=True, slots=True)
class RouteChange:
    """One change in the order of playing."""

    index: int
    position: Fraction
    length: Fraction
    """Until the next change, or the end of the route."""
    chord: Chord
    """As it sounds here: transposed where the roadmap says so."""
    bar: int
    """Index into ``Route.bars``."""
    offset: Fraction
    """Quarter notes from the start of its bar."""
    marks: tuple[str, ...] = ()

    @property
    def root(self) -> int | None:
        return None if self.chord.root is None else self.chord.root.pitch_class

    @property
    def bass(self) -> int | None:
        return None if self.chord.bass is None else self.chord.bass.pitch_class

    @property
    def end(self) -> Fraction:
        return self.position + self.length


@dataclass(frozen=True, kw_only=True, slots=True)
class RouteBar:
    """One bar in the order of playing."""

    index: int
    section: str
    step: int
    """Which step of the roadmap (or which section, without a roadmap) this bar belongs to, from 0, counting ``twice`` and
    ``x3`` as so many steps: every bar of one time through a section has the same number. Where a D.S. or D.C. leads
    back, another time through begins, with a number of its own."""
    pass_: int
    time: int
    number: int
    position: Fraction
    length: Fraction
    meter: Meter
    key: Key
    quarter_bpm: float
    """Tempo written for this bar, in quarter notes a minute."""
    feel: str | None
    answer: Answer | None = None
    """The second voice that answers the tune in this bar; None, or of kind none, where there is none."""
    fullness: int = 0
    """Steps fuller or thinner than the default."""
    manuals_only: bool = False
    out: bool = False
    up: int = 0
    """Semitones by which the roadmap lifts this bar (negative: lowers it)."""
    underscore: bool = False
    """Its step goes round until the nod ``on``, held and bare; the feet may rest."""
    wait: bool = False
    """True on the last bar of a step marked ``wait``: stop after it until the foot comes."""
    rit: bool = False
    """True on the last bars of a step marked ``rit.`` (its last two bars)."""
    marks: tuple[str, ...] = ()
    words: tuple[str, ...] = ()
    changes: tuple[int, ...] = ()
    """Indices of the changes written in this bar; empty where the chord before goes on."""
    starts_section: bool = False
    """True on the first bar of a step."""
    ends_section: bool = False
    """True on the last bar of a step."""
    line: int = 0
    """The written bar's line in the file."""

    @property
    def end(self) -> Fraction:
        return self.position + self.length

    @property
    def id(self) -> tuple[str, int]:
        """The written bar: section and number."""
        return self.section, self.number

    def beat_at(self, position: Fraction) -> Fraction:
        """The beat within the bar, from 1, in counted beats. A pickup bar counts as the end of a full bar."""
        missing = self.meter.bar_length - self.length if self.number == 0 else Fraction(0)
        return (position - self.position + missing) / self.meter.counted_beat + 1


@dataclass(frozen=True, kw_only=True, slots=True)
class Route:
    """A chart unfolded."""

    chart: Chart
    bars: tuple[RouteBar, ...]
    changes: tuple[RouteChange, ...]
    _bar_positions: tuple[Fraction, ...] = field(default=(), compare=False, repr=False)
    _change_positions: tuple[Fraction, ...] = field(default=(), compare=False, repr=False)

    def __post_init__(self) -> None:
        object.__setattr__(self, "_bar_positions", tuple(bar.position for bar in self.bars))
        object.__setattr__(self, "_change_positions", tuple(change.position for change in self.changes))

    @property
    def length(self) -> Fraction:
        return self.bars[-1].end if self.bars else Fraction(0)

    def bar_at(self, position: Fraction) -> RouteBar:
        """The bar sounding at a position; the first before the start, the last after the end."""
        return self.bars[max(0, bisect_right(self._bar_positions, position) - 1)]

    def change_at(self, position: Fraction) -> RouteChange:
        """The change sounding at a position; the first before the start, the last after the end."""
        return self.changes[max(0, bisect_right(self._change_positions, position) - 1)]

    def beats(self, bar: RouteBar) -> tuple[Fraction, ...]:
        """Positions of the counted beats of a bar. A pickup's beats are counted back from its end."""
        unit = bar.meter.counted_beat
        first = bar.position if bar.number else bar.end - unit * (bar.length // unit)
        return tuple(first + unit * k for k in range(ceil((bar.end - first) / unit)))
