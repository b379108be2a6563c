"""Learning a console by pressing: questions one after the other, answered on the instrument, until there is a profile.

``Learning`` is a state machine without ports, clock or screen: MIDI messages go in with their times, and the question that
stands can be read. ``learn`` drives it over a binding, in plain text.

Conventions. An answer is not taken at once but when its window is over, so that what belongs to one press is judged
together: couplers send one press on two divisions or in two octaves, and such a press says nothing about channels; a switch
tells what it is by what it sends when it is let go. What was learned before is never answered again by the same thing. In the
end the couplers may be put on, and a key of each division be pressed again: see ``coupling``. Where the band plays cannot be
pressed; it is chosen from a list: see ``learning_outputs``.

How a switch is judged, by the levels that it sends when it is pressed and let go (a control is on at 64 or more, MIDI 1.0;
a note when it is on):

========== ======================== ==========================================================
first time once more, where needed  it is
========== ======================== ==========================================================
on, off                             open at rest
off, on                             closed at rest
on         off                      latching: it changes over at each press
off        on                       latching, now off
on         on                       open at rest, and silent when let go
off        off                      closed at rest, and silent when let go
program                             a program change: there is no letting go
========== ======================== ==========================================================
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from queue import Empty, SimpleQueue

from charts.whole import write_whole
from liveassist.arranging.arrangement import FIGURE
from liveassist.band.events import DRUMS, FIGURE_MANUAL, MELODY_MANUAL, PEDAL
from liveassist.band.nods import NODS
from liveassist.console.coupling import SPOKEN, Again, beginning_told, couplers_heard, couplers_told
from liveassist.console.instrument import (
    ANY_KEY,
    CUE,
    MANUAL_COMPASS,
    Coupler,
    Division,
    Part,
    Profile,
    Switch,
    cautions,
    contradictions,
)
from liveassist.console.learning_outputs import organ_port, with_offers
from liveassist.console.ports import Binding, midi_binding
from liveassist.console.profile import write_profile
from liveassist.console.typing_in import PATIENCE, StandardInput, Typed
from liveassist.console.watching import Watch
from liveassist.errors import PlayerError
from liveassist.wrapping import say

KEY_WINDOW = 0.3
"""Seconds in which what is heard belongs to one press of a key."""
SWITCH_WINDOW = 3.0
"""Seconds in which a switch that was pressed is expected to be let go."""
LET_GO = 0.3
"""Seconds for which a switch is still listened to after it was let go."""
SHOE_VALUES = 2
"""A control that sends more values than this within one press is no switch but a shoe."""
PRESSED = 64
NOTE_OFF, NOTE_ON, CONTROL, PROGRAM = 0x80, 0x90, 0xB0, 0xC0
ASKED_NODS = ("again", "on", "vamp", "out", "in", "close", "cut")
"""The nods that are asked for; others can be written into the file."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """What the player is to do now."""

    name: str
    """What it is about: "lowest", "highest", a division, "cue", a nod, or a division of ``COUPLED``."""
    text: str
    optional: bool = False
    """Whether Enter passes it over."""


KICK_PAD, OTHER_PADS = "kick", ("snare", "hat", "crash", "sticks")
"""The pads that are asked for, by the names of ``liveassist.band.kit.KEYS``: no kick, no kit."""
PADS = {f"pad {name}": name for name in (KICK_PAD, *OTHER_PADS)}
COUPLED = {f"coupled {name}": name for name in (PEDAL, MELODY_MANUAL, FIGURE_MANUAL)}
"""Questions about couplers, and the division that each is about."""
QUESTIONS = (
    Question(name="lowest", text="Take all couplers off. Play the lowest pedal"),
    Question(name="highest", text="Play the highest pedal"),
    Question(name=MELODY_MANUAL, text="Play any key on the manual for the tune"),
    Question(name=FIGURE_MANUAL, text="Play any key on the second manual: the band's, for the figure"),
    Question(name=CUE, text="Press the foot switch that moves the place on, and let it go", optional=True),
    *(Question(name=nod, text=f"Press the piston for '{nod}' ({NODS[nod].says})", optional=True) for nod in ASKED_NODS),
    Question(
        name=f"coupled {PEDAL}",
        text="Now put on the couplers that you use, if any. Play the lowest pedal again",
        optional=True,
    ),
    Question(name=f"coupled {MELODY_MANUAL}", text="The same key on the tune's manual again", optional=True),
    Question(name=f"coupled {FIGURE_MANUAL}", text="The same key on the second manual again", optional=True),
    Question(
        name=f"pad {KICK_PAD}", text="If a drummer has pads or triggers: strike the kick drum's, once", optional=True
    ),
    *(Question(name=f"pad {name}", text=f"The {name}'s pad, once", optional=True) for name in OTHER_PADS),
)


@dataclass(frozen=True, slots=True)
class _Heard:
    """One message that can be an answer."""

    at: float
    port: str
    by: str
    """"note", "control" or "program"."""
    channel: int
    number: int
    value: int

    @property
    def source(self) -> tuple[str, str, int, int]:
        return self.by, self.port, self.channel, self.number

    @property
    def on(self) -> bool:
        return self.value >= PRESSED if self.by == "control" else self.value > 0


def _heard(at: float, port: str, message: bytes) -> _Heard | None:
    kind = message[0] & 0xF0 if message else 0
    channel = (message[0] & 0x0F) + 1 if message else 0
    if kind in (NOTE_ON, NOTE_OFF) and len(message) == 3:
        return _Heard(at, port, "note", channel, message[1], message[2] if kind == NOTE_ON else 0)
    if kind == CONTROL and len(message) == 3:
        return _Heard(at, port, "control", channel, message[1], message[2])
    if kind == PROGRAM and len(message) == 2:
        return _Heard(at, port, "program", channel, message[1], 1)
    return None


class Learning:
    """The questions, and what has been learned."""

    def __init__(self, questions: Sequence[Question] = QUESTIONS) -> None:
        self._left = list(questions)
        self._window: list[_Heard] = []
        self._once: list[_Heard] = []
        """The first press of a switch that has to be pressed once more."""
        self._divisions: dict[str, Division] = {}
        self._lowest: _Heard | None = None
        self._keys: dict[str, int] = {}
        """The key of each division that was pressed with the couplers off."""
        self._switches: list[Switch] = []
        self._couplers: list[Coupler] = []
        self._kit: dict[str, tuple[int, ...]] = {}

    @property
    def question(self) -> Question | None:
        """The question that stands, or None when all is learned."""
        return self._left[0] if self._left else None

    def hear(self, at: float, port: str, message: bytes) -> None:
        """Take a message that arrived at ``at``, seconds."""
        heard = _heard(at, port, message)
        if heard is None or self.question is None:
            return
        if self._asks_for_a_key() and not (heard.by == "note" and heard.on):
            return  # keys let go, and whatever else a console says meanwhile
        if heard.by == "note" and not heard.on and self._division(heard) is not None:
            return  # a key that was the answer before is let go
        self._window.append(heard)

    def due(self) -> float | None:
        """When to ``settle``, seconds; None while nothing has been heard."""
        if not self._window:
            return None
        first = self._window[0]
        if self._asks_for_a_key():
            return first.at + KEY_WINDOW
        same = [heard for heard in self._window if heard.source == first.source]
        if first.by == "program" or len({heard.on for heard in same}) > 1 or self._once:
            return same[-1].at + LET_GO
        return first.at + SWITCH_WINDOW

    def settle(self, now: float) -> str:
        """Judge what has been heard, if it is time; what was made of it, for the player, or an empty text."""
        due, question = self.due(), self.question
        if due is None or question is None or now < due:
            return ""
        window, self._window = self._window, []
        try:
            if question.name in COUPLED:
                said = self._coupled(COUPLED[question.name], window)
            elif question.name in PADS:
                said = self._pad(PADS[question.name], window[0])
            elif self._asks_for_a_key():
                said = self._key(question.name, window)
            else:
                said = self._switch(question.name, window)
        except Again as why:
            return str(why)
        if not self._once:
            self._left.pop(0)
        return said

    def skip(self) -> str:
        """Pass the question over, if it may be."""
        if self.question is None:
            return ""
        if not self.question.optional:
            return "This one is needed. Is the instrument on, and its MIDI cable in?"
        passed = self._left.pop(0)
        if PADS.get(passed.name) == KICK_PAD:
            self._left = [question for question in self._left if question.name not in PADS]
        self._window, self._once = [], []
        return "Passed over."

    def profile(self, output: str, name: str = "") -> Profile:
        """What was learned; the figure goes to the port ``output``, on the channel of the second manual."""
        part = Part(port=output, channel=self._divisions[FIGURE_MANUAL].channel)
        return Profile(
            name=name,
            divisions=self._divisions,
            parts={FIGURE: part},
            switches=tuple(self._switches),
            couplers=tuple(self._couplers),
            kit=self._kit,
        )

    @property
    def figure_port(self) -> str:
        """The port by which the second manual is heard."""
        return self._divisions[FIGURE_MANUAL].port

    def _asks_for_a_key(self) -> bool:
        keys = ("lowest", "highest", MELODY_MANUAL, FIGURE_MANUAL, *COUPLED, *PADS)
        return self.question is not None and self.question.name in keys

    def _division(self, heard: _Heard) -> str | None:
        """The division that was learned from the same port and channel."""
        for name, division in self._divisions.items():
            if (division.port, division.channel) == (heard.port, heard.channel):
                return name
        return None

    # -- keys ---------------------------------------------------------------------------------------------------------

    def _key(self, name: str, window: Sequence[_Heard]) -> str:
        first = window[0]
        if len({heard.channel for heard in window}) > 1:
            raise Again("That press came on two divisions at once: take the couplers off, and play it again.")
        if len({heard.number for heard in window}) > 1:
            raise Again("I heard more than one key: play one alone, without octave couplers.")
        if (other := self._division(first)) is not None:
            raise Again(f"That came from the same port and channel as the {SPOKEN[other]}: play another division.")
        if name == "lowest":
            self._lowest, self._keys[PEDAL] = first, first.number
            return f"Lowest pedal: key {first.number} on channel {first.channel}.{beginning_told(first.number)}"
        if name == "highest":
            return self._pedal(first)
        self._keys[name] = first.number
        self._divisions[name] = Division(port=first.port, channel=first.channel, compass=MANUAL_COMPASS)
        return f"The {SPOKEN[name]}: channel {first.channel} of {first.port}."

    def _pedal(self, highest: _Heard) -> str:
        lowest = self._lowest
        assert lowest is not None
        if (highest.port, highest.channel) != (lowest.port, lowest.channel):
            raise Again(f"That was no pedal: the lowest came on channel {lowest.channel}, this on {highest.channel}.")
        if highest.number <= lowest.number:
            raise Again(f"That is not above the lowest pedal, key {lowest.number}: play the highest.")
        compass = (lowest.number, highest.number)
        self._divisions[PEDAL] = Division(port=lowest.port, channel=lowest.channel, compass=compass)
        notes = compass[1] - compass[0] + 1
        return f"The pedal: keys {compass[0]} to {compass[1]}, {notes} notes, on channel {lowest.channel}."

    def _coupled(self, name: str, window: Sequence[_Heard]) -> str:
        heard = ((self._division(item), item.number) for item in window)
        found = couplers_heard(name, self._keys[name], heard)
        self._couplers += found
        return couplers_told(name, found)

    def _pad(self, name: str, first: _Heard) -> str:
        """A pad was struck. What rings along, and what a pad sends besides, comes after it."""
        other = self._division(first)
        if other not in (None, DRUMS):
            raise Again(f"That came from the same port and channel as the {SPOKEN[other]}: strike the pad.")
        kit = self._divisions.get(DRUMS)
        if kit is not None and other is None:
            raise Again(
                f"The kit is channel {kit.channel} of {kit.port}; that was channel {first.channel} of {first.port}."
            )
        if (taken := next((drum for drum, pads in self._kit.items() if first.number in pads), None)) is not None:
            raise Again(f"That is the {taken} already: strike the {name}.")
        self._divisions[DRUMS] = Division(port=first.port, channel=first.channel, compass=ANY_KEY)
        self._kit[name] = (first.number,)
        return f"The {name}: key {first.number} on channel {first.channel} of {first.port}."

    # -- switches -----------------------------------------------------------------------------------------------------

    def _switch(self, name: str, window: Sequence[_Heard]) -> str:
        first = window[0]
        same = [heard for heard in window if heard.source == first.source]
        self._refuse(first, same)
        levels = [heard.on for heard in same]
        if first.by == "program":
            return self._learned(name, first)
        if not self._once:
            if len(set(levels)) > 1:
                return self._learned(name, first, rest="open" if levels[0] else "closed")
            self._once = same
            return "And once more."
        before, self._once = self._once, []
        if first.source != before[0].source:
            raise Again("That was another switch: once more from the beginning.")
        if levels[0] != before[0].on and len(levels) == 1:
            return self._learned(name, first, latching=True)
        return self._learned(name, first, rest="open" if before[0].on else "closed")

    def _refuse(self, first: _Heard, same: Sequence[_Heard]) -> None:
        if first.by == "control" and len({heard.value for heard in same}) > SHOE_VALUES:
            raise Again("That moves like a swell shoe: leave it still, and press a switch.")
        if first.by == "note" and (name := self._division(first)) is not None:
            raise Again(f"That was a key of the {SPOKEN[name]}: press a switch or a piston.")
        for switch in self._switches:
            if (switch.by, switch.port, switch.channel, switch.number) == first.source:
                raise Again(f"That one is '{switch.what}' already: press another.")

    def _learned(self, what: str, heard: _Heard, *, rest: str = "open", latching: bool = False) -> str:
        switch = Switch(
            what=what,
            by=heard.by,
            number=heard.number,
            port=heard.port,
            channel=heard.channel,
            rest=rest,
            latching=latching,
        )
        self._switches.append(switch)
        manner = "latching" if latching else f"{rest} at rest"
        kind = heard.by if heard.by == "program" else f"{heard.by}, {manner}"
        return f"'{what}': number {heard.number} on channel {heard.channel} ({kind})."


# -- over real ports ------------------------------------------------------------------------------------------------


def learn(
    binding: Binding, say: Callable[[str], None], typed: Typed, clock: Callable[[], float] = time.monotonic
) -> Profile:
    """Ask all questions over the ports of a binding; what was learned. A port that goes meanwhile is told, and heard again
    when it is back.

    Raises PlayerError where there is nothing to hear or to play.
    """
    inputs, outputs = binding.inputs(), binding.outputs()
    if not inputs or not outputs:
        missing = "heard" if not inputs else "played"
        raise PlayerError(f"there is no MIDI port that can be {missing}: is the instrument plugged in and switched on?")
    arrived: SimpleQueue[tuple[float, str, bytes]] = SimpleQueue()
    learning = Learning()

    def listener(port: str) -> Callable[[float, bytes], None]:
        return lambda at, message: arrived.put((at, port, message))

    watch = Watch(binding)
    for name in inputs:
        watch.hear(name, listener(name))
    for news in watch.look(clock()):
        if not news.well:
            say(f"I cannot listen there: {news.text}")
    try:
        while (question := learning.question) is not None:
            say(question.text + (" (or Enter to pass it over)." if question.optional else "."))
            _answered(learning, say, typed, arrived, watch, clock)
    finally:
        watch.close()
    output = organ_port(learning.figure_port, outputs, say, typed)
    return with_offers(learning.profile(output), outputs, say, typed)


def _answered(
    learning: Learning,
    say: Callable[[str], None],
    typed: Typed,
    arrived: SimpleQueue[tuple[float, str, bytes]],
    watch: Watch,
    clock: Callable[[], float],
) -> None:
    """Listen until the question has been answered or passed over, or has to be asked again: also after a port went or came
    back."""
    while True:
        line = typed(PATIENCE)
        if told := watch.look(clock()):
            for news in told:
                say(news.text)
            if line is None:
                return
        while True:
            try:
                learning.hear(*arrived.get_nowait())
            except Empty:
                break
        said = learning.skip() if line is not None else learning.settle(clock())
        if said:
            say(said)
            return


def learn_console(path: Path) -> int:
    """What ``liveassist console`` does: learn over this machine's ports, and write the profile. Writes over no file."""
    if path.exists():
        raise PlayerError(f"{path} is there already: give another name, or move it away first")
    if not path.parent.is_dir():
        raise PlayerError(f"{path}: there is no folder {path.parent}")
    binding = midi_binding()
    try:
        profile = replace(learn(binding, say, StandardInput()), name=path.stem)
    except (KeyboardInterrupt, EOFError):
        print("\nStopped; nothing was written.", file=sys.stderr)
        return 130
    for problem in (*contradictions(profile), *cautions(profile)):
        say(f"look at: {problem}")
    try:
        write_whole(path, write_profile(profile))
    except OSError as error:
        print(write_profile(profile))
        raise PlayerError(f"{path}: cannot be written: {error.strerror}; what was learned stands above") from None
    say(f"Written to {path}. Try it: liveassist play CHART --console {path}")
    return 0
