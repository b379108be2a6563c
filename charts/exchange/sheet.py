"""The sheet: what a page from elsewhere says, before it is a chart. Readers of other formats make it, writers of them take it.

Conventions: bars stand in the order written, one for each written bar, numbered from 1 (a pickup counts); offsets and lengths
are quarter notes from the start of the bar, exact. Nothing is unfolded. What could not be understood, or was understood only in
part, is a ``Remark`` with its bar: nothing is left out in silence.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from charts.chart import Tempo
from charts.chord import Chord
from charts.key import Key
from charts.marks import in_order
from charts.meter import Meter
from charts.pitch import Spelling
from charts.tune import TuneNote

GOES_ON = "\u00ad"
"""Between two syllables of a bar's words, and at their end where the last word goes on in the next bar."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Remark:
    """Something to tell about the import."""

    message: str
    bar: int = 0
    """The sheet's bar, from 1; 0 where the whole sheet is meant."""
    lost: bool = True
    """True: something on the page is not in the chart, or not as written. False: worth knowing."""

    def __str__(self) -> str:
        return f"bar {self.bar}: {self.message}" if self.bar else self.message


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetChord:
    """One chord symbol."""

    offset: Fraction
    chord: Chord
    marks: tuple[str, ...] = ()
    """Members of ``charts.chart.CHANGE_MARKS``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class SheetBar:
    """One written bar."""

    length: Fraction
    meter: Meter
    """The meter that holds here; the bar may be shorter or longer."""
    chords: tuple[SheetChord, ...] = ()
    notes: tuple[TuneNote, ...] = ()
    """The tune, one voice."""
    voices: tuple[TuneNote, ...] = ()
    """Every note of the page, the tune's too: what a hymn's chords are found from."""
    words: tuple[str, ...] = ()
    """By verse; a bar without words in a verse has an empty text."""
    marks: tuple[str, ...] = ()
    """Members of ``charts.chart.BAR_MARKS``."""
    opens_repeat: bool = False
    closes_repeat: int = 0
    """How often the repeat that ends here is played in all; 0 where none ends."""
    endings: tuple[int, ...] = ()
    """Where an ending bracket begins: the times for which it holds."""
    in_endings: tuple[int, ...] = ()
    """The times of the bracket that the bar lies under."""
    barline: str = "|"
    """``|``, ``||`` or ``|]`` after it."""
    key: Key | None = None
    """A key that begins here."""
    tempo: Tempo | None = None
    """A tempo that begins here."""
    heading: str = ""
    """A section begins here: its name."""
    new_line: bool = False
    """A line of bars begins here on the page."""
    phrase_end: bool = False
    """A phrase ends with this bar: a hold, a double bar, a breath."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Sheet:
    """One song as another page has it."""

    title: str
    key: Key | None = None
    """None where the page states none."""
    meter: Meter = field(default_factory=lambda: Meter(4, 4))
    tempo: Tempo | None = None
    notes: str = ""
    """Authors, source: a line to tell."""
    bars: tuple[SheetBar, ...]
    remarks: tuple[Remark, ...] = ()
    roadmap: tuple[str, ...] = ()
    """Names of headings in the order of playing, where the page states an order; else as written."""


def tune_note(offset: Fraction, length: Fraction, spelling: Spelling, pitch: int, *, ties: bool = False) -> TuneNote:
    """A note, in order of what one says of it."""
    return TuneNote(offset=offset, length=length, spelling=spelling, pitch=pitch, ties=ties)


def fitting_meter(length: Fraction, meter: Meter) -> Meter | None:
    """The meter of a bar so long: the one that holds where it fits, else one that counts in its unit or a smaller one."""
    if length == meter.bar_length:
        return meter
    for unit in (meter.unit, 4, 8, 16, 32):
        beats = length * unit / 4
        if beats.denominator == 1 and 1 <= beats <= 99 and unit >= meter.unit:
            return Meter(int(beats), unit, by_unit=meter.by_unit and unit == meter.unit)
    return None


def attacks(bars: Sequence[SheetBar], before: SheetBar | None) -> list[list[bool]]:
    """For each bar, for each of its notes, whether it begins to sound: not where a tie leads to it. ``before``: the bar
    before the first.
    """
    last = before.notes[-1] if before is not None and before.notes else None
    found = []
    for bar in bars:
        here = []
        for note in bar.notes:
            here.append(last is None or not last.ties or last.pitch != note.pitch)
            last = note
        found.append(here)
    return found


def with_marks(chords: Sequence[SheetChord], marks: Sequence[tuple[Fraction, str]]) -> list[SheetChord]:
    """Marks given to the chord that sounds at their place."""
    found = list(chords)
    for at, mark in marks:
        before = [index for index, chord in enumerate(found) if chord.offset <= at]
        if found:
            index = before[-1] if before else 0
            found[index] = replace(found[index], marks=in_order((*found[index].marks, mark)))
    return found
