"""A feel: one named way of playing the figure, and how its cell is laid into a bar.

A cell is written on a grid: ``x`` an attack, ``-`` the attack before is held, ``.`` a rest; a cell shorter than the bar is
played again until the bar is full. Above it stands a weight for each sign: an organ has no velocity, so a strong attack is
one with more voices and a longer note. Offsets and values are quarter notes from the start of a full bar, exact.

Besides its cells a feel has rules: what the last bar of a section gets (``ending``) and what is left in a ritard (``ritard``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from fractions import Fraction
from types import MappingProxyType

from charts.meter import Meter
from liveassist.arranging.swing import swing_at

ATTACK, HOLD, REST = "x", "-", "."
STRONG, PLAIN, LIGHT = ">", "-", "."
CHORD = "*"
"""In a broken chord: here the whole chord sounds."""
ANY, BEAT, CHANGE = "any", "beat", "change"
GRIDS = {
    "sixteenth": Fraction(1, 4),
    "eighth": Fraction(1, 2),
    "quarter": Fraction(1),
    "half": Fraction(2),
    "dotted quarter": Fraction(3, 2),
    BEAT: None,
    CHANGE: None,
}
"""What one sign of a cell lasts, in quarter notes; None where meter or change decide."""
TOUCHES = {"held": 1000, "legato": 970, "detached": 750, "short": 500, "very short": 300}
"""Sounding share of the written value, in thousandths (reference figures of our own choice; 1000 fills it)."""
BY_TEMPO = "by tempo"
"""Swing as players swing at that tempo (``swing``)."""
QUARTERS = "quarters"
"""The feel that fits wherever no other does; in a ritard: a chord on each counted beat."""
HELD = "held"
"""The feel with one attack for each change; in a ritard likewise."""
GO_ON, LIFT = "go on", "lift"
"""At a section's end: as any other bar; or its last chord comes up half a beat early."""
ENDINGS, RITARDS = (GO_ON, LIFT), (QUARTERS, HELD, GO_ON)
"""What the rules may say in a word; or they are cells."""
VOICES = (2, 5)
"""Fewest and most voices of a row."""
LEAST_ATTACKS = 2
"""A bar's, from fullness 2 up, except where the feel is held."""


@dataclass(frozen=True, slots=True)
class CellAttack:
    """One attack of a cell in a full bar."""

    offset: Fraction
    """Quarter notes from the start of the bar."""
    value: Fraction
    """Written value in quarter notes."""
    weight: str
    """STRONG, PLAIN or LIGHT."""
    voice: int
    """The voice of a broken chord that sounds, from 1 at the bottom; 0 for the chord."""


@dataclass(frozen=True, slots=True)
class Row:
    """A feel at one fullness."""

    cell: str
    voices: int
    light: int
    """Voices on light attacks."""


@dataclass(frozen=True, kw_only=True)
class Feel:
    """A named way of playing the figure."""

    name: str
    about: str
    meters: tuple[str, ...]
    """Names of the meters it fits, or ``any``."""
    default: tuple[str, ...]
    """Names of the meters whose charts get it when they name none."""
    grid: str
    """A name from ``GRIDS``."""
    swing: Fraction | None
    """Long to short in each pair of the grid: 1 for even notes, 2 for 2:1; None by tempo."""
    touch: str
    """A name from ``TOUCHES``."""
    weight: str
    broken: str
    """For each sign of the cell a voice or ``*``; empty where chords are not broken."""
    rows: Mapping[int, Row]
    """For each fullness."""
    ending: str = GO_ON
    """A member of ``ENDINGS``, or the cell with which a section's last bar ends, from fullness 2 up."""
    ritard: str = QUARTERS
    """A member of ``RITARDS``, or the cell that is left."""
    variety: bool = True
    """Small variations where bars come round again."""

    @property
    def held(self) -> bool:
        """One attack for each change."""
        return self.grid == CHANGE

    def fits(self, meter: Meter) -> bool:
        return ANY in self.meters or meter.name in self.meters

    def step(self, meter: Meter) -> Fraction:
        """What one sign of the cell lasts in a meter, in quarter notes. Not for held feels."""
        return GRIDS[self.grid] or meter.counted_beat

    def ratio(self, meter: Meter, quarter_bpm: float) -> Fraction:
        """Long to short at a tempo in quarter notes a minute, 0 where it is not known."""
        return swing_at(quarter_bpm / float(2 * self.step(meter))) if self.swing is None else self.swing

    def signs(self, meter: Meter, fullness: int, *, last: bool = False) -> str:
        """The signs of a full bar; ``last``: of a section's last bar. A single sign for held feels."""
        if self.held:
            return ATTACK
        cell = self.rows[fullness].cell
        times = int(meter.bar_length / self.step(meter) / len(cell))
        closes = last and fullness > 1 and self.ending not in ENDINGS
        return cell * (times - 1) + (self.ending if closes else cell)

    def attacks(
        self, meter: Meter, fullness: int, *, quarter_bpm: float = 0.0, last: bool = False
    ) -> tuple[CellAttack, ...]:
        """The attacks of a full bar, in order; none for a held feel, whose attacks are the changes themselves."""
        if self.held:
            return ()
        step, signs = self.step(meter), self.signs(meter, fullness, last=last)
        ratio = self.ratio(meter, quarter_bpm)
        found = []
        for index, sign in enumerate(signs):
            if sign != ATTACK:
                continue
            until = index + 1
            while until < len(signs) and signs[until] == HOLD:
                until += 1
            offset, place = _place(index, step, ratio), index % len(self.weight)
            # Where the cell is a single beat it knows no bar: the bar's first beat is its strong one.
            strong = self.grid == BEAT and index == 0
            voice = self.broken[place] if self.broken else CHORD
            found.append(
                CellAttack(
                    offset,
                    _place(until, step, ratio) - offset,
                    STRONG if strong else self.weight[place],
                    0 if voice == CHORD else int(voice),
                )
            )
        return tuple(found)

    def slowed(self) -> Feel:
        """With the cell that is left of it in a ritard, where the rule is one."""
        if self.ritard in RITARDS:
            return self
        rows = {level: replace(row, cell=self.ritard) for level, row in self.rows.items()}
        return replace(self, name=f"{self.name} in a ritard", rows=MappingProxyType(rows), ending=GO_ON)


def _place(index: int, step: Fraction, ratio: Fraction) -> Fraction:
    """Where a sign of the cell falls: the second of a swung pair comes late."""
    pair, second = divmod(index, 2)
    return step * 2 * pair + second * step * 2 * ratio / (ratio + 1)
