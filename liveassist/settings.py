"""Settings of a performance, in layers, weakest first: built-in, the user's settings file, the console profile, the
chart, the service, the command line. (Nods change things while playing and live in the core.) Every value knows where it
came from.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field, fields
from typing import Any

LEADS = {
    "feet": ("feet", "feet"),
    "switch": ("feet", "switch"),
    "pulse": ("click", "bars"),
    "click": ("click", "feet"),
    "drums": ("drums", "feet"),
}
"""Named pairs: where time comes from, where place comes from."""
TIMES = ("feet", "click", "drums", "clock")
PLACES = ("feet", "switch", "bars")
PATIENCE = ("0", "1", "2", "always")
SIDES = ("left", "right", "both")


@dataclass(frozen=True, kw_only=True, slots=True)
class Settings:
    """Everything the band needs to know besides the chart. Plain values only: a take carries them as JSON."""

    lead: str = "feet"
    """A name from ``LEADS``; sets time and place where those are empty."""
    time: str = ""
    place: str = ""
    patience: str = "1"
    """How many missing changes the band carries on through: a member of ``PATIENCE``."""
    tempo: float = 0.0
    """Counted beats a minute in the bar at which the band begins: a tempo change of the chart keeps its proportion. 0 takes
    the chart's."""
    fullness: int = 2
    feel: str = ""
    """A feel for the whole chart; empty takes the chart's."""
    room: float = 0.0
    """Reverberation time in seconds; 0 takes the chart's, or a church of 1.8 s."""
    span: int = 14
    """Semitones from the lowest to the highest voice of the figure at most: an octave (12) to an eleventh (17)."""
    coupled: bool = False
    """The manuals are coupled: the figure stays below the chart's melody."""
    armed: bool = True
    """Start ready (True) or tacet (False)."""
    count_in: int = -1
    """Bars of count-in for the nod ``count`` and lead pulse: 0, 1, 2, or -1: one above 70 beats a minute, else two."""
    from_bar: int = 0
    """Route bar (counted from 0) at which to start."""
    out: bool = False
    """Start with the figure silent until the nod ``in``."""
    bass: bool = False
    """Play the bass, too: for players without pedals of their own, or with a foot switch only."""
    switch_unit: str = "change"
    """How far one press of the cue switch moves: change, bar or section."""
    shoe: str = "off"
    """What the swell shoe does: nothing ("off"), or the fullness ("fullness"), bare when closed."""
    variety: bool = True
    """Small variations where bars come round again; else equal bars are played alike."""
    action: float = 0.0
    """Attacks a second that the organ's action is asked for at most; 0: eight."""
    click: bool = False
    """Send a click."""
    click_accent: bool = True
    """The first beat of a bar sounds differently; without, one may come back in anywhere."""
    subdivision: str = "auto"
    """Clicks between the beats: "auto", "none", "eighths", "sixteenths" or "triplets"."""
    click_notes: str = "wood blocks"
    """The keys of the click as MIDI notes: a name from ``liveassist.band.click.SETS``."""
    click_on: str = "beats"
    """Where it falls: a member of ``liveassist.band.practising.CLICKED``."""
    drop: str = ""
    """Bars with the click and bars without it, as ``2:2``; empty: it never falls out."""
    practise: str = ""
    """Sections to practise, by name, ``;`` between them; empty: the whole song."""
    loop: bool = False
    """Round and round until the nod ``on``."""
    straight_on: bool = False
    """An underscore is played once and goes on by itself, as in a rehearsal."""
    ears: str = ""
    """The sound device of the player's in-ears, by name; empty: none."""
    ears_side: str = "both"
    """left, right or both."""
    ears_level: float = 0.0
    """dBFS of the click in the player's ears; 0: -24, or -30 in one ear."""
    click_offset: float = 0.0
    """Milliseconds by which the player's click comes later (negative: earlier) than the beat."""
    drummer_ears: str = ""
    """The sound device of the drummer's in-ears; it may be the player's, on the other side. Empty: none."""
    drummer_side: str = "both"
    drummer_level: float = 0.0
    drummer_offset: float = 0.0
    """The same for the drummer."""
    signals: bool = False
    """Short quiet signs in the player's ears: armed, waiting, in doubt, lost, your hand takes over."""
    calls: bool = False
    """The name of the next section and the count are spoken in the player's ears."""
    calls_folder: str = ""
    """A folder with WAV files of the player's own for them."""
    calls_language: str = "en"
    """The language of the speech engine, by the engine's name for it."""
    registration: str = "flutes"
    """The stops of the figure through the laptop's own sound: a name from ``liveassist.ears.tone.DRAWN``."""
    sound_buffer: float = 0.0
    """Milliseconds of sound made ahead, a block; 0: 20. Less is quicker, more never crackles."""
    ear_level: float = 0.0
    """The level at the player's ear as measured there, in dB(A); 0: nobody has, and no listening time is counted."""
    seed: int = 1
    """For the seeded generator."""

    @property
    def time_lead(self) -> str:
        return self.time or LEADS[self.lead][0]

    @property
    def place_lead(self) -> str:
        return self.place or LEADS[self.lead][1]


@dataclass(frozen=True, slots=True)
class Layered:
    """Settings and, for each name, the layer it came from."""

    settings: Settings
    origin: Mapping[str, str] = field(default_factory=dict)


_CHOICES: dict[str, tuple[Any, ...]] = {
    "lead": tuple(LEADS),
    "time": ("", *TIMES),
    "place": ("", *PLACES),
    "patience": PATIENCE,
    "fullness": (1, 2, 3, 4),
    "span": tuple(range(12, 18)),
    "count_in": (-1, 0, 1, 2),
    "switch_unit": ("change", "bar", "section"),
    "subdivision": ("auto", "none", "eighths", "sixteenths", "triplets"),
    "click_on": ("beats", "backbeat", "bars"),
    "click_notes": ("wood blocks", "claves", "cowbell", "metronome", "sticks"),
    "ears_side": SIDES,
    "drummer_side": SIDES,
    "shoe": ("off", "fullness"),
    "registration": ("flutes", "principals", "strings", "full"),
}
_LEVELS, _OFFSETS = (-60.0, -12.0), (-150.0, 300.0)
_RANGES: dict[str, tuple[float, float]] = {
    "tempo": (20.0, 400.0),
    "room": (0.1, 15.0),
    "action": (2.0, 20.0),
    "ears_level": _LEVELS,
    "drummer_level": _LEVELS,
    "click_offset": _OFFSETS,
    "drummer_offset": _OFFSETS,
    "sound_buffer": (5.0, 200.0),
    "ear_level": (40.0, 120.0),
}
"""Of numbers; in a file 0 is allowed too, and states nothing."""
_UNITS = {
    "tempo": "counted beats a minute",
    "room": "seconds of reverberation",
    "action": "attacks a second",
    "ears_level": "dBFS",
    "drummer_level": "dBFS",
    "click_offset": "milliseconds",
    "drummer_offset": "milliseconds",
    "sound_buffer": "milliseconds",
    "ear_level": "dB(A) at the ear, as measured",
}


_PATTERNS = {"drop": (r"([1-9]\d?:[1-9]\d?)?", "bars with the click and bars without, as 2:2")}
"""Of text that has a form."""


def check(name: str, value: Any, where: str) -> Any:
    """The value in its right type, or ValueError saying where it stands and what would be accepted."""
    kinds: dict[str, type] = {item.name: type(item.default) for item in fields(Settings)}
    if name not in kinds:
        raise ValueError(f'{where}: "{name}" is not a setting; I know {", ".join(kinds)}')
    kind: Any = kinds[name]
    if kind is str and isinstance(value, int) and not isinstance(value, bool):
        value = str(value)
    if kind is float and isinstance(value, int) and not isinstance(value, bool):
        value = float(value)
    if not isinstance(value, kind) or (kind is int and isinstance(value, bool)):
        said = f'"{value}"' if isinstance(value, str) else repr(value)
        raise ValueError(f"{where}: {name} takes {_accepted(name, kind)}, not {said}")
    if name in _CHOICES and value not in _CHOICES[name]:
        said = f'"{value}"' if kind is str else str(value)
        raise ValueError(f"{where}: {name} takes {_accepted(name, kind)}, not {said}")
    if name in _PATTERNS and not re.fullmatch(_PATTERNS[name][0], value):
        raise ValueError(f'{where}: {name} takes {_accepted(name, kind)}, not "{value}"')
    low, high = _RANGES.get(name, (0.0, 0.0))
    if name in _RANGES and value != 0.0 and not low <= float(value) <= high:
        raise ValueError(f"{where}: {name} takes {_accepted(name, kind)}, not {value:g}")
    return value


def _accepted(name: str, kind: type) -> str:
    """What a setting takes, in words."""
    if name in _CHOICES:
        return f"one of {', '.join(str(choice) for choice in _CHOICES[name] if choice != '')}"
    if name in _PATTERNS:
        return _PATTERNS[name][1]
    if name in _RANGES:
        low, high = _RANGES[name]
        return f"a number from {low:g} to {high:g} ({_UNITS[name]})"
    return {str: "text", int: "a whole number", float: "a number", bool: "true or false"}[kind]


def read(name: str, text: str, where: str) -> Any:
    """A value from words, as a command line has them, in its right type. Raises ValueError as ``check`` does."""
    kind: Any = {item.name: type(item.default) for item in fields(Settings)}[name]
    value: Any = text
    if kind in (int, float):
        try:
            value = kind(text)
        except ValueError:
            value = text
    if value == 0.0 and name in _RANGES and not _RANGES[name][0] <= 0.0 <= _RANGES[name][1]:  # a number was wanted
        raise ValueError(f"{where}: {name} takes {_accepted(name, kind)}, not {text}")
    return check(name, value, where)


def layered(*layers: tuple[str, Mapping[str, Any]]) -> Layered:
    """Settings from layers, weakest first; each is a name for messages and the values it states. Raises ValueError."""
    values: dict[str, Any] = {}
    origin = {item.name: "built-in" for item in fields(Settings)}
    for where, stated in layers:
        for name, value in stated.items():
            values[name] = check(name, value, where)
            origin[name] = where
            if name == "lead":  # a named pair stated later overrides a single time or place stated before
                for single in ("time", "place"):
                    if single not in stated:
                        values.pop(single, None)
    return Layered(Settings(**values), origin)
