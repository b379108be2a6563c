"""The bench check: one minute before the service, everything once. Pedal, tune, every switch, the figure's manual, the click.

``BenchCheck`` is a state machine without ports, clock or screen: events go in, answers go in, notes come out; what was found
is a list of lines, one for each thing. ``checking`` drives it, over ports in a terminal.

Conventions. A step waits for an event of the player's, or sounds something and asks whether it is heard. Each can be passed
over, and each can be answered "no": then its line is wrong. A step that waits is answered by its event alone; anything else
that is heard meanwhile is told, since a pedal that comes as the tune is worth knowing. What sounds ends with the answer.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path

from charts.whole import write_whole
from liveassist.arranging.arrangement import ANSWER, BASS, CLICK, FIGURE
from liveassist.band.click import ACCENT, BEAT
from liveassist.band.events import (
    FIGURE_MANUAL,
    MELODY_MANUAL,
    PEDAL,
    Event,
    KeyDown,
    Nodded,
    NoteOff,
    NoteOn,
    SwitchPressed,
)
from liveassist.console.coupling import SPOKEN
from liveassist.console.instrument import CUE, Profile, Switch

WELL, WRONG, PASSED, LOOK = "well", "wrong", "passed over", "look at"
"""What a line says: it was found in order, it was not, nobody looked, the player is to look."""
CHORD = (55, 60, 64)
"""G, C and E about the middle of the figure's manual."""
SOUNDED = {
    FIGURE: (CHORD, "A chord sounds: do you hear it on the second manual, and nowhere else?"),
    ANSWER: ((67,), "One key sounds for the answer: do you hear it where the answer belongs, and nowhere else?"),
    BASS: ((43,), "One key sounds for the bass: do you hear it where the bass belongs, and nowhere else?"),
}
"""What is sounded for each part that the console has, and what is asked."""
CHORD_LENGTH = 8.0
"""It ends by itself after so many seconds, should nobody answer."""
TICKS, TICK, TICK_LENGTH = 8, 0.6, 0.05
"""So many clicks, this far apart and this long, in seconds."""
VERSION = 1

Note = NoteOn | NoteOff


@dataclass(frozen=True, slots=True)
class Line:
    """What was found of one thing."""

    name: str
    verdict: str
    """WELL, WRONG, PASSED or LOOK."""
    text: str

    def __str__(self) -> str:
        return f"{self.verdict:<11} {self.name}: {self.text}"


@dataclass(frozen=True, slots=True)
class Step:
    """One thing to be checked."""

    name: str
    asks: str
    """What the player is to do, or is asked."""
    heard: Callable[[Event], str] | None = None
    """For a step that waits: what to say of an event that answers it; empty for one that does not. None: yes or no."""
    sounds: Callable[[float], list[Note]] | None = None
    """The notes of a step that sounds, from a moment on."""


def steps_of(profile: Profile) -> tuple[Step, ...]:
    """The steps for a console, in order."""
    steps = [
        Step(name, asks, _key_heard(division))
        for division, name, asks in (
            (PEDAL, "pedal", "Play any pedal"),
            (MELODY_MANUAL, "tune", "Play any key on the manual for the tune"),
            (FIGURE_MANUAL, "own hand", "Play any key on the second manual: by that your hand takes over"),
        )
        if division in profile.divisions
    ]
    for switch in profile.switches:
        asks = "moves the place on" if switch.what == CUE else f"asks for '{switch.what}'"
        steps.append(Step(f"switch '{switch.what}'", f"Press the switch that {asks}", _switch_heard(switch)))
    sounded = [(part, keys, asks) for part, (keys, asks) in SOUNDED.items() if part in profile.parts]
    steps += [Step(part, asks, None, _sounds(part, keys)) for part, keys, asks in sounded]
    if sounded:
        steps.append(Step("silence", "All has been let go: is everything silent?"))
    if CLICK in profile.parts:
        steps.append(Step("click", "The click goes: do you hear it in the ears, and not in the church?", None, _clicks))
    return tuple(steps)


class BenchCheck:
    """The steps, and what was found."""

    def __init__(self, profile: Profile) -> None:
        self._left = list(steps_of(profile))
        self.lines: list[Line] = []
        self.remark = ""
        """What was heard instead of what was asked for, for the player."""
        self._later: list[Note] = []
        """Notes still to come, by time."""
        self._down: dict[tuple[str, int], NoteOn] = {}
        self._asked = False

    @property
    def step(self) -> Step | None:
        """The step that stands; None when all is done."""
        return self._left[0] if self._left else None

    def next_due(self) -> float | None:
        """When the next note is due."""
        return self._later[0].at if self._later else None

    def due(self, now: float) -> list[Note]:
        """The notes whose time has come; those of a step that sounds begin with the first call."""
        step = self.step
        if step is not None and step.sounds is not None and not self._asked:
            self._asked = True
            self._later = sorted(step.sounds(now), key=lambda note: (note.at, isinstance(note, NoteOn)))
        ready = [note for note in self._later if note.at <= now]
        del self._later[: len(ready)]
        for note in ready:
            if isinstance(note, NoteOn):
                self._down[note.part, note.pitch] = note
            else:
                self._down.pop((note.part, note.pitch), None)
        return ready

    def hear(self, event: Event) -> list[Note]:
        """An event of the player's: answers a step that waits for it."""
        step = self.step
        if step is None or step.heard is None:
            return []
        said = step.heard(event)
        if said:
            return self._found(Line(step.name, WELL, said), event.heard)
        if isinstance(event, KeyDown | Nodded):
            self.remark = f"I heard {_in_words(event)}"
        return []

    def answer(self, yes: bool | None, now: float) -> list[Note]:
        """The player's answer to the step that stands; None passes it over."""
        step = self.step
        if step is None or (yes and step.heard is not None):  # heard is heard: a yes does not make it so
            return []
        said = {True: "as it should be", False: "not as it should be", None: "not checked"}[yes]
        if yes is False and step.heard is not None:
            said = "not heard"
        return self._found(Line(step.name, {True: WELL, False: WRONG, None: PASSED}[yes], said), now)

    def stop(self, now: float) -> list[Note]:
        """Let go of everything."""
        self._later.clear()
        ends: list[Note] = [
            NoteOff(at=now, part=note.part, pitch=note.pitch, position=note.position)
            for _, note in sorted(self._down.items())
        ]
        self._down.clear()
        return ends

    def _found(self, line: Line, now: float) -> list[Note]:
        self.lines.append(line)
        self._left.pop(0)
        self._asked, self.remark = False, ""
        return self.stop(now)


def _key_heard(division: str) -> Callable[[Event], str]:
    def heard(event: Event) -> str:
        if isinstance(event, KeyDown) and event.division == division:
            return f"heard, key {event.key}"
        return ""

    return heard


def _switch_heard(switch: Switch) -> Callable[[Event], str]:
    def heard(event: Event) -> str:
        if isinstance(event, KeyDown):
            return ""
        if isinstance(event, Nodded):
            return "heard" if (event.nod, event.argument) == (switch.what, switch.argument) else ""
        return "heard" if switch.what == CUE and isinstance(event, SwitchPressed) else ""

    return heard


def _in_words(event: KeyDown | Nodded) -> str:
    if isinstance(event, Nodded):
        return f"'{event.nod}'"
    return f"key {event.key} of the {SPOKEN.get(event.division, event.division)}"


def _sounds(part: str, keys: Sequence[int]) -> Callable[[float], list[Note]]:
    def notes(now: float) -> list[Note]:
        starts: list[Note] = [NoteOn(at=now, part=part, pitch=key, position=Fraction(0)) for key in keys]
        ends = (NoteOff(at=now + CHORD_LENGTH, part=part, pitch=key, position=Fraction(0)) for key in keys)
        return [*starts, *ends]

    return notes


def _clicks(now: float) -> list[Note]:
    notes: list[Note] = []
    for number in range(TICKS):
        at, pitch = now + number * TICK, ACCENT if number % 4 == 0 else BEAT
        notes.append(NoteOn(at=at, part=CLICK, pitch=pitch, position=Fraction(number)))
        notes.append(NoteOff(at=at + TICK_LENGTH, part=CLICK, pitch=pitch, position=Fraction(number)))
    return notes


# -- kept -------------------------------------------------------------------------------------------------------------


def in_order(lines: Sequence[Line]) -> bool:
    """Whether nothing was found wrong."""
    return not any(line.verdict == WRONG for line in lines)


def save(folder: Path, lines: Sequence[Line], console: str, now: datetime) -> str:
    """Keep what was found beside the day's takes, as one JSON object; where that is, or why not, for the player.

    Args:
        folder: where takes are kept.
        lines: what was found.
        console: the profile's name.
        now: the moment, with its time zone.
    """
    path = folder / f"{now:%Y-%m-%d-%H%M%S}-bench-check.json"
    kept = {
        "bench check": VERSION,
        "at": now.isoformat(timespec="seconds"),
        "console": console,
        "lines": [asdict(line) for line in lines],
    }
    try:
        folder.mkdir(parents=True, exist_ok=True)
        write_whole(path, json.dumps(kept, ensure_ascii=False, indent=1) + "\n")
    except OSError as error:
        return f"not kept: {path}: {error.strerror}"
    return f"kept in {path}"
