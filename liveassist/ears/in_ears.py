"""What goes into the ears while the band plays: the click told ahead, signs, spoken calls.

It asks the band what will be clicked within the next moments (a pure question) and tells the sound process with the time on
the schedule, so that neither this process nor the pipe between matters to the click's place. Signs come from what the band
does, calls from where its plan leads. The clock of the band is turned into the computer's by a function handed in.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Protocol

from liveassist.band import states
from liveassist.band.click import BETWEEN, ON_BAR, ON_BEAT, Click
from liveassist.band.clicking import Ahead
from liveassist.band.events import Action, NodTaken, PlaceIs, StateIs, Told
from liveassist.ears.calls import begins, call
from liveassist.ears.output import SoundOutput
from liveassist.ears.voice import Word

KEYS = {ON_BAR: 76, ON_BEAT: 77, BETWEEN: 37}
"""The sound process's keys of the clicks: General MIDI's wood blocks and side stick, whatever is sent as MIDI notes."""
REACH = 0.15
"""Seconds that a click is told before the device needs it: the band looks around every some hundredths of a second."""
ANOTHER = 0.05
"""A click within this of the latest one told, in seconds, is the same."""
SAME_SIGN = 2.0
"""The same sign comes no sooner again, in seconds."""
ARMED, WAITING, CALL = "armed", "waiting", "call"


class Band(Protocol):
    """What is asked of a performance."""

    def clicks_until(self, time: float) -> tuple[Click, ...]: ...

    def next_section(self) -> Ahead | None: ...


class Words:
    """What can be said: by its text the file, and how many seconds it takes. It may become more while the band plays."""

    def __init__(self, coming: SimpleQueue[Word] | None = None) -> None:
        """``coming``: words that are still being made; None: there are none."""
        self.known: dict[str, tuple[Path, float]] = {}
        self._coming: SimpleQueue[Word] = SimpleQueue() if coming is None else coming

    def news(self) -> list[str]:
        """Takes in the words that have come, and gives their texts."""
        came = []
        with suppress(Empty):
            while True:
                text, path, length = self._coming.get_nowait()
                self.known[text] = path, length
                came.append(text)
        return came

    def name_of(self, text: str) -> str:
        """The name of a clip in the sound process."""
        return f"word{list(self.known).index(text)}"

    def lengths(self, section: str, beats: int, sign: float) -> list[float]:
        """Seconds of a section's name, or of the sign for it, and of the numbers; what cannot be said never fits."""
        name = self.known[section][1] if section in self.known else sign
        unsaid = float("inf")
        return [name, *(self.known.get(str(number), (None, unsaid))[1] for number in range(1, beats + 1))]


SIGN_SECONDS = 0.3
"""At most so long a sign is."""


def signs_of(actions: Sequence[Action]) -> list[str]:
    """The signs that a player hears for what the band did at once: names from ``clips.SIGNS``."""
    found = [action.sign for action in actions if isinstance(action, Told) and action.sign]
    became = {action.state for action in actions if isinstance(action, StateIs)}
    expected = any(isinstance(action, PlaceIs | NodTaken) for action in actions)  # the page says so, or the player
    if states.READY in became:
        found.append(ARMED)
    if states.HOLDING in became and not expected:
        found.append(WAITING)
    return list(dict.fromkeys(found))


class InEars:
    """The ears of the player, and of the drummer."""

    def __init__(
        self,
        player: SoundOutput | None,
        drummer: SoundOutput | None,
        clock: Callable[[float], float],
        *,
        signals: bool = False,
        words: Words | None = None,
        early: float = 0.0,
    ) -> None:
        """
        Args:
            player, drummer: their sound processes; the same one where both hear one device.
            clock: from seconds of the band's clock to the computer's monotonic one.
            signals: give signs.
            words: call the sections, with what can be said by then; None: do not call.
            early: seconds by which somebody hears the click before its beat.
        """
        self._outputs = tuple(dict.fromkeys(output for output in (player, drummer) if output is not None))
        self._player, self._clock = player, clock
        self._signals, self._words, self._early = signals, words, early
        self._told = float("-inf")
        self._signed: dict[str, float] = {}
        self._called: tuple[str, float] | None = None

    def played(self, actions: Sequence[Action], now: float) -> None:
        """Hear what the band did."""
        for action in actions:
            if isinstance(action, NodTaken) and action.nod == "mute":
                self._forget("still")
            elif isinstance(action, StateIs) and action.state in (states.HOLDING, states.FINE, states.TACET):
                self._forget(f"@{self._clock(now):.6f} forget")
        if self._signals:
            for sign in signs_of(actions):
                self._sign(sign, now)

    def armed(self, now: float) -> None:
        """The band is ready from the start."""
        if self._signals:
            self._sign(ARMED, now)

    def ahead(self, band: Band, now: float) -> None:
        """Tell what comes next."""
        needs = self._early + max((output.latency for output in self._outputs), default=0.0)
        reach = needs + REACH
        for click in band.clicks_until(now + reach):
            if click.at > max(self._told + ANOTHER, now + needs):  # nearer, it could only be late
                self._told = click.at
                self._say(f"@{self._clock(click.at):.6f} on click {KEYS[click.role]}")
        if self._words is not None and self._player is not None:
            for text in self._words.news():
                self._player.say(f"load {self._words.name_of(text)} {self._words.known[text][0]}")
            self._call(self._words, self._player, band.next_section(), now, needs)

    def _call(self, words: Words, player: SoundOutput, section: Ahead | None, now: float, needs: float) -> None:
        if section is None or now < begins(section.at, section.beat, section.beats) - needs - REACH:
            return
        this = (section.name, round(section.count, 3))
        if this == self._called:
            return
        self._called = this
        lengths = words.lengths(section.name, section.beats, SIGN_SECONDS)
        for said in call(section.at, section.beat, section.beats, lengths, now + needs):
            text = str(said.word) if said.word else section.name
            name = words.name_of(text) if text in words.known else CALL
            player.say(f"@{self._clock(said.at):.6f} clip {name}")

    def _sign(self, sign: str, now: float) -> None:
        if self._player is not None and now - self._signed.get(sign, float("-inf")) >= SAME_SIGN:
            self._signed[sign] = now
            self._player.say(f"clip {sign}")

    def _forget(self, how: str) -> None:
        self._told = float("-inf")
        self._say(how)

    def _say(self, line: str) -> None:
        for output in self._outputs:
            output.say(line)
