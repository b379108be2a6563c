"""The player's instrument as data: divisions, parts, switches, swell shoe, settings; and what does not go together.

Conventions. Channels are 1-16; keys and numbers of controls and programs are MIDI's, 0-127, and a key is the key pressed, not
the sounding pitch. A *division* is where the player's notes come from, a *part* is what the band plays and where it goes. A
port is given by name, or by a part of a name that only one port has; an empty name means any port, and the only port there
is for what the band plays.

Compasses of the plain console are 61 notes for a manual (36-96) and 32 for the pedal (36-67; 30 are 36-65).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from itertools import combinations
from typing import Any

from liveassist.arranging.arrangement import ANSWER, BASS, CLICK, FIGURE
from liveassist.band.events import DRUMS, FIGURE_MANUAL, MELODY_MANUAL, PEDAL
from liveassist.band.nods import NODS

CUE = "cue"
"""What a switch asks that moves the place on."""
ASKS = (CUE, *NODS)
SCRIPT = "script"
"""The port from which an imagined player is heard; never looked for."""
UNITS = ("change", "bar", "section")
DRUMMER = "drummer"
"""The click once more, for the drummer."""
OUTPUT_PARTS = (FIGURE, ANSWER, BASS, CLICK, DRUMMER)
WAYS = ("control", "note", "program")
"""How a switch speaks; in the file the name of the way holds the number: ``control = 64``."""
SILENCERS = (120, 123)
"""Controllers that a sweep may send where the player has enabled them: all sound off, all notes off (MIDI 1.0)."""
LONGEST_DELAY = 500.0
PAGE_KEYS = ("pageup", "pagedown", "left", "right", "space")
"""Keys that page-turner pedals send and the desk hears, as Textual names them."""
FARTHEST_SHIFT = 24
"""The most half steps by which a coupler may shift: two octaves, for a 16' or a 2' with another on top."""
KEYED = (MELODY_MANUAL, FIGURE_MANUAL, PEDAL)
"""The divisions that couplers join."""
ANY_KEY = (0, 127)
MANUAL_COMPASS, PEDAL_COMPASS = (36, 96), (36, 67)
COMPASSES = {MELODY_MANUAL: MANUAL_COMPASS, FIGURE_MANUAL: MANUAL_COMPASS, PEDAL: PEDAL_COMPASS, DRUMS: ANY_KEY}


@dataclass(frozen=True, kw_only=True, slots=True)
class Division:
    """Where notes of the player come from."""

    port: str = ""
    channel: int
    compass: tuple[int, int]
    """Lowest and highest key; other keys of the channel are no music."""
    cue_keys: tuple[int, int] | None = None
    """A range of keys that are pressed for a cue and are no music: unused pedals, say."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Part:
    """Where a part of the band goes."""

    port: str = ""
    channel: int
    delay: float = 0.0
    """Milliseconds by which all its notes are sent later."""
    silencers: tuple[int, ...] = ()
    """Members of ``SILENCERS`` that a sweep may send besides note-offs. None unless enabled."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Switch:
    """A foot switch, thumb piston, toe stud or unused key that asks for a cue or a nod."""

    what: str
    """A member of ``ASKS``."""
    by: str
    """"control", "note" or "program"."""
    number: int
    port: str = ""
    channel: int
    rest: str = "open"
    """"open": it sends 64 or more when pressed (a note: on). "closed": when let go."""
    latching: bool = False
    """It changes over at each press, and every change is one."""
    argument: int | None = None
    """The number that goes with the nod, where it takes one."""
    unit: str = ""
    """How far a cue moves; empty: as the setting ``switch_unit`` says."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Coupler:
    """A key pressed on one division is heard on another too, or in another octave of the same."""

    pressed: str
    """The division on which the key goes down: a member of ``KEYED``."""
    brings: str
    """The division on which its twin is heard."""
    shift: int = 0
    """Half steps from the key to its twin: 12 for an octave coupler, -12 for a sub-octave."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Shoe:
    """The swell shoe."""

    port: str = ""
    channel: int
    control: int = 11


@dataclass(frozen=True, kw_only=True, slots=True)
class Profile:
    """The player's instrument."""

    name: str = ""
    divisions: Mapping[str, Division] = field(default_factory=dict)
    """By the names of ``liveassist.band.events.DIVISIONS``."""
    parts: Mapping[str, Part] = field(default_factory=dict)
    """By the names of ``OUTPUT_PARTS``."""
    switches: tuple[Switch, ...] = ()
    couplers: tuple[Coupler, ...] = ()
    """As they were learned, with the couplers on that the player uses."""
    page_turner: Mapping[str, str] = field(default_factory=dict)
    """What a page-turner's key asks at the desk: ``PAGE_KEYS`` to ``ASKS``; the cue where nothing is said."""
    shoe: Shoe | None = None
    velocity: int = 64
    """Of every note sent: an organ has none, and consoles that have some must hear the same always."""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """A layer of ``liveassist.settings``."""

    @property
    def pedal_compass(self) -> tuple[int, int]:
        """Lowest and highest pedal."""
        return self.divisions[PEDAL].compass if PEDAL in self.divisions else PEDAL_COMPASS

    def outlet(self, part: str) -> Part | None:
        """Where a part goes; an answer without a place of its own goes where the figure goes."""
        return self.parts.get(part) or (self.parts.get(FIGURE) if part == ANSWER else None)

    @property
    def input_ports(self) -> tuple[str, ...]:
        """Names of the ports to hear, each once."""
        switches = [switch.port for switch in self.switches]
        shoes = [self.shoe.port] if self.shoe else []
        return tuple(dict.fromkeys([*(division.port for division in self.divisions.values()), *switches, *shoes]))

    @property
    def output_ports(self) -> tuple[str, ...]:
        """Names of the ports to play, each once."""
        return tuple(dict.fromkeys(part.port for part in self.parts.values()))


PLAIN = Profile(
    name="plain console",
    divisions={
        MELODY_MANUAL: Division(channel=1, compass=MANUAL_COMPASS),
        FIGURE_MANUAL: Division(channel=2, compass=MANUAL_COMPASS),
        PEDAL: Division(channel=4, compass=PEDAL_COMPASS),
        DRUMS: Division(channel=10, compass=ANY_KEY),
    },
    parts={FIGURE: Part(channel=2)},
    switches=(Switch(what=CUE, by="control", number=64, channel=4),),
    shoe=Shoe(channel=1, control=11),
)
"""What holds without a console profile."""
PLAIN_BASS = Part(channel=5)
"""Where the plain console's bass goes when one is asked for: not to the pedal, from which the feet are heard."""


def with_bass_part(profile: Profile) -> Profile:
    """The console for a band that plays the bass: the plain one gets a channel for it, any other says so itself."""
    if profile != PLAIN:
        return profile
    return replace(profile, parts={**profile.parts, BASS: PLAIN_BASS})


def by_any_port(profile: Profile) -> Profile:
    """The same console with every port its own: for messages of which nobody knows by which port they came."""
    return replace(
        profile,
        divisions={name: replace(division, port="") for name, division in profile.divisions.items()},
        switches=tuple(replace(switch, port="") for switch in profile.switches),
        shoe=replace(profile.shoe, port="") if profile.shoe else None,
    )


# -- what does not go together --------------------------------------------------------------------------------------


def _may_be_one(one: str, other: str) -> bool:
    """Whether two port names may mean the same port."""
    return not one or not other or one.casefold() == other.casefold()


def _meet(one: tuple[int, int], other: tuple[int, int]) -> bool:
    return one[0] <= other[1] and other[0] <= one[1]


def contradictions(profile: Profile) -> list[str]:
    """What must not be, in words: each would sound where it must not, or could not be told apart."""
    found = []
    for (one, first), (other, second) in combinations(profile.divisions.items(), 2):
        same = first.channel == second.channel and _may_be_one(first.port, second.port)
        if same and _meet(first.compass, second.compass):
            found.append(
                f"divisions.{one} and divisions.{other} both come from channel {first.channel} of the same port: give them "
                "different channels, or a compass each that does not meet the other's"
            )
    for name, part in profile.parts.items():
        for other, division in profile.divisions.items():
            if part.channel != division.channel or not _may_be_one(part.port, division.port):
                continue
            if other == MELODY_MANUAL:
                found.append(
                    f"parts.{name} goes to channel {part.channel}, the melody manual: the band never sounds there. "
                    "Give it the channel of another manual"
                )
            elif name == BASS and other == PEDAL:
                found.append(
                    f"parts.bass goes to channel {part.channel}, the pedal from which your feet are heard: a console "
                    "that echoes would make its own notes your cues. Give it another channel or port"
                )
            elif name in (CLICK, DRUMMER) and other != DRUMS:
                found.append(
                    f"parts.{name} goes to channel {part.channel}, the {other}: a click must not end up in the nave. "
                    "Give it the port or channel of the in-ears"
                )
    for click in (CLICK, DRUMMER):
        mine = profile.parts.get(click)
        for name, part in profile.parts.items():
            twice = click == DRUMMER and name == CLICK  # told of the other
            if mine and not twice and part is not mine and (part.port, part.channel) == (mine.port, mine.channel):
                found.append(
                    f"parts.{click} and parts.{name} both go to channel {mine.channel}: the click needs its own"
                )
    for this, that in combinations(profile.switches, 2):
        same = (this.by, this.number, this.channel) == (that.by, that.number, that.channel)
        if same and _may_be_one(this.port, that.port):
            found.append(
                f"two switches, {this.what} and {that.what}, are both {this.by} {this.number} on channel {this.channel}"
            )
    for number, switch in enumerate(profile.switches, 1):
        if switch.argument is not None and (switch.what == CUE or not NODS[switch.what].takes):
            found.append(f'switches, number {number}: "{switch.what}" takes no argument')
        if switch.unit and switch.what != CUE:
            found.append(f"switches, number {number}: a unit goes with a cue, not with {switch.what}")
    for number, coupler in enumerate(profile.couplers, 1):
        if (coupler.pressed, coupler.shift) == (coupler.brings, 0):
            found.append(
                f"couplers, number {number}: {coupler.pressed} brings itself; say by how many half steps, 12 say"
            )
    return found


def cautions(profile: Profile, *, bass: bool = False, laptop: bool = False) -> tuple[str, ...]:
    """What may be meant and is worth a look. ``bass``: the band is to play it; ``laptop``: the music sounds there, too."""
    found = []
    melody = profile.divisions.get(MELODY_MANUAL)
    for name, part in profile.parts.items():
        if melody is not None and name not in (CLICK, DRUMMER) and part.channel == melody.channel:
            found.append(
                f'parts.{name} goes to channel {part.channel} of "{part.port}", and the melody manual is channel '
                f'{melody.channel} of "{melody.port}": if these are the same manual, give it another channel'
            )
    if any(coupler.brings == PEDAL for coupler in profile.couplers):
        found.append(
            "a coupler brings pedals with a manual's keys: each foot then waits a moment to see whether it is one; without "
            "that coupler the band is quicker"
        )
    if FIGURE not in profile.parts and not laptop:
        found.append("there is no [parts.figure]: the figure sounds nowhere")
    if bass and BASS not in profile.parts:
        found.append("there is no [parts.bass]: the bass sounds nowhere")
    return tuple(found)
