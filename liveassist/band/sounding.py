"""The sounding notes: the one list of notes now on. Nothing sounds that is not in it, and every start has exactly one end.

Ends are kept as counts, so a corrected pulse moves them; an end of None is a held note that waits to be released. A key must
come up before it can speak again: a start on a key that still sounds, or that came up a moment ago, ends it first and waits
for the gap.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from liveassist.arranging.arrangement import ANSWER, CLICK, FIGURE
from liveassist.band.events import NoteOff, NoteOn

GAP = 0.030
"""Shortest time between the end of a key and its next start, in seconds (20-60 ms: common practice, no source)."""
SAME_MANUAL = {ANSWER: FIGURE, FIGURE: ANSWER}
"""Parts that may share a manual: a key that one of them holds cannot speak for the other."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Start:
    """A note about to start."""

    part: str
    pitch: int
    position: Fraction
    change: int
    ends: float | None
    """Count of its end; None: held until released."""


@dataclass(slots=True)
class Sounding:
    """A note now on."""

    start: Start
    ends: float | None


class SoundingNotes:
    """What sounds now, and the starts that wait for their key to come up."""

    def __init__(self) -> None:
        self._now: dict[tuple[str, int], Sounding] = {}
        self._came_up: dict[tuple[str, int], float] = {}
        self._waiting: list[tuple[float, Start]] = []

    def __len__(self) -> int:
        return len(self._now)

    @property
    def keys(self) -> tuple[tuple[str, int], ...]:
        """(part, pitch) of every note now on, sorted."""
        return tuple(sorted(self._now))

    @property
    def parts(self) -> list[str]:
        """The parts of which a note is on, sorted."""
        return sorted({part for part, _ in self._now})

    # -- starting -------------------------------------------------------------------------------------------------

    def start(self, notes: list[Start], at: float) -> list[NoteOn | NoteOff]:
        """Start notes at a time; those whose key sounds or has just come up wait for the gap."""
        actions: list[NoteOn | NoteOff] = []
        for note in notes:
            key = (note.part, note.pitch)
            same = [(part, note.pitch) for part in (note.part, SAME_MANUAL.get(note.part)) if part]
            actions += [self._end(other, at) for other in same if other in self._now]
            free = max(self._came_up.get(other, float("-inf")) for other in same) + GAP
            if free > at + 1e-9:
                self._waiting = [item for item in self._waiting if (item[1].part, item[1].pitch) != key]
                self._waiting.append((free, note))
                self._waiting.sort(key=lambda item: item[0])
            else:
                actions.append(self._begin(note, at))
        actions.sort(key=lambda action: isinstance(action, NoteOn))
        return actions

    def _begin(self, note: Start, at: float) -> NoteOn:
        self._now[note.part, note.pitch] = Sounding(note, note.ends)
        return NoteOn(at=at, part=note.part, pitch=note.pitch, position=note.position)

    def next_start(self) -> float | None:
        """When the first waiting note starts."""
        return self._waiting[0][0] if self._waiting else None

    def start_waiting(self, at: float) -> list[NoteOn | NoteOff]:
        """Start what has waited long enough."""
        ready = [note for free, note in self._waiting if free <= at + 1e-9]
        self._waiting = [item for item in self._waiting if item[0] > at + 1e-9]
        return self.start(ready, at)

    # -- ending ---------------------------------------------------------------------------------------------------

    def _end(self, key: tuple[str, int], at: float) -> NoteOff:
        sounding = self._now.pop(key)
        self._came_up[key] = at
        return NoteOff(at=at, part=key[0], pitch=key[1], position=sounding.start.position)

    def next_end(self, part: str | None = None) -> float | None:
        """The count at which the next note (of a part) ends; None where all that sounds is held."""
        ends = [
            sounding.ends for key, sounding in self._now.items() if sounding.ends is not None and part in (None, key[0])
        ]
        return min(ends, default=None)

    def end_due(self, count: float, at: float, part: str | None = None) -> list[NoteOff]:
        """End every note (of a part) whose end has come."""
        due = sorted(
            key
            for key, sounding in self._now.items()
            if sounding.ends is not None and sounding.ends <= count + 1e-9 and part in (None, key[0])
        )
        return [self._end(key, at) for key in due]

    def end_all(self, at: float, *, part: str | None = None, spare: int | None = None) -> list[NoteOff]:
        """End everything, or everything of a part, and forget what waits to start. What belongs to the change ``spare``, struck
        before its place by a push, is let be."""

        def ends(note: Start) -> bool:
            return (part is None or note.part == part) and (spare is None or note.change != spare)

        self._waiting = [item for item in self._waiting if not ends(item[1])]
        return [self._end(key, at) for key in self.keys if ends(self._now[key].start)]

    def end_music(self, at: float, *, spare: int | None = None, sings_on: str = "") -> list[NoteOff]:
        """End everything but the click, which keeps time for the player. ``spare`` as in ``end_all``; of the part ``sings_on``
        only what is held without an end."""
        music = sorted({part for part, _ in self._now} | {note.part for _, note in self._waiting})
        ends = [
            end for part in music if part not in (CLICK, sings_on) for end in self.end_all(at, part=part, spare=spare)
        ]
        held = [key for key in self.keys if key[0] == sings_on and self._now[key].ends is None]
        return [*ends, *(self._end(key, at) for key in held)]

    def shift(self, counts: float) -> None:
        """Every end stands at so much another count."""
        for sounding in self._now.values():
            if sounding.ends is not None:
                sounding.ends += counts
        self._waiting = [
            (free, note if note.ends is None else replace(note, ends=note.ends + counts))
            for free, note in self._waiting
        ]

    def hold(self) -> None:
        """What sounds now, or waits for its key to come up, is held until it is ended. A click never is."""
        for (part, _), sounding in self._now.items():
            if part != CLICK:
                sounding.ends = None
        self._waiting = [
            (free, note if note.part == CLICK else replace(note, ends=None)) for free, note in self._waiting
        ]

    def busy(self, part: str) -> bool:
        """Whether a part sounds, or is about to."""
        return any(key[0] == part for key in self._now) or any(note.part == part for _, note in self._waiting)

    @property
    def held(self) -> bool:
        """Whether anything is held without an end."""
        return any(sounding.ends is None for sounding in self._now.values())
