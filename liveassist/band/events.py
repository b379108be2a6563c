"""What the band hears and what it does: the only words that go in and out of the pure core.

Every event carries ``at``, when it happened, and ``heard``, when the core received it; every action carries the time at
which it should sound or became true. All times are seconds from one monotonic clock, zero at the start of the take.
Keys are MIDI key numbers, the key and not the sounding pitch.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

MELODY_MANUAL, FIGURE_MANUAL, PEDAL, DRUMS = "melody", "figure", "pedal", "drums"
DIVISIONS = (MELODY_MANUAL, FIGURE_MANUAL, PEDAL, DRUMS)
"""Where a player's note may come from, by what it is to the band."""
TOGETHER = 0.020
"""A key and the twin that a coupler brings with it are heard within this time of each other, in seconds: ten fingers and ten
twins on a DIN line, 1 ms each (31,250 bit/s, MIDI 1.0)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Event:
    """Something that happened outside."""

    at: float
    """When it happened, in seconds."""
    heard: float
    """When the core received it, in seconds; never before ``at``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class KeyDown(Event):
    """The player pressed a key or a pedal."""

    division: str
    """A member of ``DIVISIONS``."""
    key: int


@dataclass(frozen=True, kw_only=True, slots=True)
class KeyUp(Event):
    """The player let go of a key or a pedal."""

    division: str
    key: int


@dataclass(frozen=True, kw_only=True, slots=True)
class SwitchPressed(Event):
    """The foot switch, or whatever the player has set as the cue to move on."""

    unit: str = "change"
    """How far one press moves: "change", "bar" or "section"."""


@dataclass(frozen=True, kw_only=True, slots=True)
class ShoeMoved(Event):
    """The swell shoe moved, and the player has given it to the band."""

    value: int
    """Where it is, 0 closed to 127 open."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Nodded(Event):
    """A live request."""

    nod: str
    """A member of ``liveassist.band.nods.NODS``."""
    argument: int | None = None
    """A number where the nod takes one: bars of a vamp or tag (2 or 4), step of the roadmap for ``to``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TempoAsked(Event):
    """Another tempo is wanted for the next start, as when a passage is practised up to tempo."""

    bpm: float
    """Counted beats a minute."""


@dataclass(frozen=True, kw_only=True, slots=True)
class DivisionLost(Event):
    """The port of a division went away."""

    division: str


@dataclass(frozen=True, kw_only=True, slots=True)
class DivisionBack(Event):
    """The port of a division came back."""

    division: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Slept(Event):
    """The computer slept, or the band was kept from playing for so long that it is the same: from ``at`` until it was
    ``heard``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Action:
    """Something the band does or tells."""

    at: float
    """When it should sound, or when it became true, in seconds."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NoteOn(Action):
    """Press a key of a part's division."""

    part: str
    pitch: int
    position: Fraction
    """Where in the route it is written, quarter notes."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NoteOff(Action):
    """Release a key of a part's division."""

    part: str
    pitch: int
    position: Fraction
    """Position of the note that ends."""


@dataclass(frozen=True, kw_only=True, slots=True)
class PlaceIs(Action):
    """The harmony moved to another change, or was corrected."""

    change: int
    """Index of the change in the route."""
    position: Fraction
    """Where in the route, quarter notes."""
    bpm: float
    """Counted beats a minute."""
    sure: float
    """How sure the band is, 0 to 1."""


@dataclass(frozen=True, kw_only=True, slots=True)
class BeatIs(Action):
    """A counted beat fell, ``at`` being the pulse's own time for it."""

    position: Fraction


@dataclass(frozen=True, kw_only=True, slots=True)
class StateIs(Action):
    """The band changed its state."""

    state: str
    """A member of ``liveassist.band.states.STATES``."""


@dataclass(frozen=True, kw_only=True, slots=True)
class NodTaken(Action):
    """A nod was understood."""

    nod: str


@dataclass(frozen=True, kw_only=True, slots=True)
class Told(Action):
    """A line for the player: what the band heard and made of it, or a caution."""

    text: str
    """A short sentence in a musician's words."""
    kind: str = "heard"
    """"heard" for what was made of a cue, "note" for news, "caution" for something to act upon."""
    sign: str = ""
    """The sign for it in the player's ear, where there is one: a name from ``liveassist.ears.clips.SIGNS``."""
