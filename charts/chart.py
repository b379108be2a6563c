"""The chart: one song as written. Header, roadmap, sections, bars, changes, words, optional melody.

Conventions: positions and lengths are quarter notes, exact (``Fraction``); a change's ``offset`` counts from the start of
its bar; bars of a section are numbered from 1 and a pickup is bar 0. Nothing here is unfolded: repeats and endings stand as
written, and ``charts.roadmap`` unfolds them into the route.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from fractions import Fraction

from charts.answer import Answer
from charts.chord import Chord
from charts.key import Key
from charts.meter import Meter

HOLD, BREATH, RIT, A_TEMPO, TACET, BREAK, PUSH, LATE, WALK, PEDAL_POINT = (
    "hold",
    "breath",
    "rit.",
    "a tempo",
    "tacet",
    "break",
    "push",
    "late",
    "walk",
    "ped. pt.",
)
TAG, TAG_END, VAMP, VAMP_END = "tag", "end tag", "vamp", "end vamp"
SEGNO, CODA, TO_CODA, DS, DC, FINE = "segno", "coda", "to coda", "D.S.", "D.C.", "fine"
DS_AL_CODA, DS_AL_FINE, DC_AL_CODA, DC_AL_FINE = (
    "D.S. al coda",
    "D.S. al fine",
    "D.C. al coda",
    "D.C. al fine",
)

CHANGE_MARKS = (HOLD, BREATH, RIT, A_TEMPO, TACET, BREAK, PUSH, LATE, WALK, PEDAL_POINT)
"""Marks that stand after a chord and belong to it."""
BAR_MARKS = (
    TAG,
    TAG_END,
    VAMP,
    VAMP_END,
    SEGNO,
    CODA,
    TO_CODA,
    DS,
    DC,
    FINE,
    DS_AL_CODA,
    DS_AL_FINE,
    DC_AL_CODA,
    DC_AL_FINE,
)
"""Marks that belong to the bar they stand in: the signs of the roadmap, and where a vamp or a tag begins and ends."""

Places = Mapping[str, tuple[int, int]]
"""Line and column of the values stated, by name ("key", "feel" ...): for messages."""


@dataclass(frozen=True, slots=True)
class Tempo:
    """A note value and a number a minute: ``Tempo(Fraction(3, 2), 56.0)`` is dotted quarter 56."""

    value: Fraction
    """The note value, in quarter notes."""
    per_minute: float

    @property
    def quarter_bpm(self) -> float:
        return self.per_minute * float(self.value)


@dataclass(frozen=True, kw_only=True, slots=True)
class Change:
    """One chord at one place in a bar. A chord written again is another change."""

    offset: Fraction
    """Quarter notes from the start of the bar."""
    chord: Chord
    marks: tuple[str, ...] = ()
    """Members of ``CHANGE_MARKS``, in that order."""
    line: int = 0
    column: int = 0
    """Where the chord's name begins, or the ``%`` that copies it."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Bar:
    """One written bar. No changes: the chord before the barline goes on."""

    number: int
    """From 1 within the section; 0 is a pickup."""
    length: Fraction
    meter: Meter
    changes: tuple[Change, ...]
    marks: tuple[str, ...] = ()
    """Members of ``BAR_MARKS``, in that order."""
    opens_repeat: bool = False
    closes_repeat: int = 0
    """How often the repeat that ends here is played in all; 0 where none ends."""
    endings: tuple[int, ...] = ()
    """The times for which this bar is played, where an ending bracket begins: (1,), (2,), (1, 2); empty elsewhere."""
    in_endings: tuple[int, ...] = ()
    """The times of the ending bracket that this bar lies under; empty outside brackets."""
    copies: bool = False
    """Written as ``%``."""
    barline: str = "|"
    """The barline after it: ``|``, ``||`` or ``|]``."""
    words: tuple[str, ...] = ()
    """Lines of words below this bar's line of bars; on the first bar of that line only."""
    melody: str = ""
    """ABC tune body below this bar's line of bars, its lines as written; on the first bar of that line only."""
    melody_line: int = 0
    """The file's line where that melody stands, from 1."""
    line: int = 0
    column: int = 0
    """Where the first symbol after its barline begins."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Section:
    """A named stretch of bars, with its own key, meter, tempo, feel and answer where it states them."""

    name: str
    bars: tuple[Bar, ...]
    key: Key | None = None
    meter: Meter | None = None
    tempo: Tempo | None = None
    feel: str | None = None
    answer: Answer | None = None
    line: int = 0
    places: Places = field(default_factory=dict, compare=False, repr=False)


@dataclass(frozen=True, kw_only=True, slots=True)
class Step:
    """One line of the roadmap: a section, and what differs this time."""

    section: str
    times: int = 1
    fullness: int = 0
    """Steps fuller (positive) or thinner (negative) than the chart's default."""
    up: int = 0
    """Semitones up (or down, negative) from the written key, this step only."""
    manuals_only: bool = False
    wait: bool = False
    """Wait at the end of the section for the foot."""
    out: bool = False
    """The figure is silent."""
    rit: bool = False
    underscore: bool = False
    """It goes round under a prayer or an offertory, softly held, until the nod ``on``."""
    feel: str | None = None
    line: int = 0
    places: Places = field(default_factory=dict, compare=False, repr=False)


@dataclass(frozen=True, kw_only=True, slots=True)
class Chart:
    """One song as written."""

    title: str
    key: Key
    meter: Meter
    tempo: Tempo
    feel: str | None = None
    answer: Answer | None = None
    """A second voice on the second manual instead of the figure."""
    pickup: Fraction = Fraction(0)
    """Length of the pickup bar in quarter notes, 0 where there is none."""
    lead: str | None = None
    patience: str | None = None
    """"0", "1", "2" or "always"."""
    room: float | None = None
    """Reverberation time of the room in seconds, where stated."""
    degrees: str | None = None
    """"relative major" where scale degrees of a minor key count from its relative major."""
    notes: str = ""
    roadmap: tuple[Step, ...] = ()
    """Empty: the sections are played in the order written."""
    sections: tuple[Section, ...]
    source: str = ""
    """Name of the file it was read from, for messages."""
    text: str = field(default="", compare=False, repr=False)
    """The text as read, byte for byte: a take carries it."""
    places: Places = field(default_factory=dict, compare=False, repr=False)

    def section(self, name: str) -> Section:
        """The section of that name, capitals and spaces aside. Raises KeyError."""
        for section in self.sections:
            if same_name(section.name, name):
                return section
        raise KeyError(name)


def same_name(one: str, other: str) -> bool:
    """Whether two section names are the same but for capitals and spaces."""
    return " ".join(one.casefold().split()) == " ".join(other.casefold().split())
