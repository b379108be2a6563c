"""Ports that stay open by name: a watch, polled some times a second, tells which ports went away and came back.

A port that has gone raises nothing, claims to be open, and stays silent after it is plugged in again. So the list of names is
compared with what is wanted; a port that vanished is closed and opened again by name when it comes back. Where the binding
tells of cables itself that is acted upon at once, so that a cable out and in between two looks is not missed either. What
asks for a port holds an ``Outlet`` (or hears through its callback) all the time, and need not know. A port that was slow or
failed is left alone for a while and then opened again in the same way. Where the whole MIDI system does not answer while its
ports are still listed, they stay open and are told to stand still; when it answers again the far end is made good as after a
cable.

Times are seconds from the monotonic clock, handed in.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass

from liveassist.console.ports import Binding, Callback, Input, Output, PortUnknown, find_port
from liveassist.errors import PlayerError

EVERY = 0.25
"""Seconds between two looks at the list: no hand is quicker with a cable, and a look costs less than a millisecond."""
PAUSE = 3.0
"""Seconds for which a port that was slow or failed is left alone."""
AGAIN = 1.0
"""Seconds until a port that could not be opened is tried again."""
NOTE_OFF, NOTE_ON = 0x80, 0x90
RELEASE = 64
"""Release velocity where none was sensed (MIDI 1.0, from memory)."""


@dataclass(frozen=True, kw_only=True, slots=True)
class News:
    """A port went away, came back, or cannot be had."""

    wanted: str
    """The name as it was asked for."""
    is_input: bool
    well: bool
    text: str
    """For the player."""


class Outlet:
    """An output that is always there. What is sent while its port is away is lost, but when the port comes back, the keys at
    the far end become what they should be: first every key is let go that may have been left down, also those let go so
    shortly before the port was missed that it may not have heard; then what should be down is pressed.
    """

    def __init__(self) -> None:
        self._output: Output | None = None
        self._wanted: dict[tuple[int, int], bytes] = {}
        """Channel and key of what should be down, and what pressed it."""
        self._doubtful: set[tuple[int, int]] = set()
        """What may be down at the far end."""
        self._lately: tuple[set[tuple[int, int]], set[tuple[int, int]]] = set(), set()
        """What was let go since the last look, and since the one before."""
        self._at_first: set[tuple[int, int]] = set()
        """What was let go as the port opened. A cable may take a moment to be laid, and lose it: once more at the next look."""

    @property
    def well(self) -> bool:
        """Whether the port is there and takes what is sent."""
        return self._output is not None and self._output.well

    def send(self, message: bytes) -> bool:
        """Send one message; whether it was taken."""
        taken = self._output is not None and self._output.send(message)
        if len(message) == 3 and message[0] & 0xE0 == NOTE_OFF:
            key = (message[0] & 0x0F, message[1])
            if message[0] & 0xF0 == NOTE_ON and message[2]:
                self._wanted[key] = message
                if taken:
                    self._doubtful.add(key)
            else:
                self._wanted.pop(key, None)
                (self._doubtful.discard if taken else self._doubtful.add)(key)
                self._lately[0].add(key)
        return taken

    def looked_at(self) -> None:
        """The port is there still."""
        for key in sorted(self._at_first - self._wanted.keys()):
            self._let_go(key)
        self._at_first = set()
        self._lately = set(), self._lately[0]

    def attach(self, output: Output) -> None:
        """The port is open."""
        self._output = output
        self.make_good()

    def make_good(self) -> None:
        """What is sent is taken again: let go at the far end of what may be down there, and press what should be."""
        pressed = list(self._wanted.values())
        self._at_first = self._doubtful.union(*self._lately)
        for key in sorted(self._at_first):
            self._let_go(key)
        for message in pressed:
            self.send(message)

    def _let_go(self, key: tuple[int, int]) -> None:
        self.send(bytes((NOTE_OFF | key[0], key[1], RELEASE)))

    def detach(self, *, vanished: bool) -> None:
        """Leave the port."""
        if self._output is not None:
            self._output.close(vanished=vanished)
        self._output = None


class _Wanted:
    """One port that shall be open."""

    def __init__(self, name: str, callback: Callback | None) -> None:
        self.name, self.callback = name, callback
        self.outlet = Outlet()
        self.input: Input | None = None
        self.opened = ""
        """The name under which it is open, or empty."""
        self.told = ""
        """What was told last while it is away."""
        self.not_before = 0.0
        """When it may be tried again."""
        self.stands = False
        """Open, and nothing goes through: the whole MIDI system does not answer."""

    @property
    def raw_names(self) -> tuple[str, str]:
        """The names under which the binding may tell that it went: a twin's number is ours."""
        return self.opened, re.sub(r"^\d+:", "", self.opened)

    def open(self, binding: Binding, found: str) -> None:
        if self.callback is not None:
            self.input = binding.open_input(found, self.callback)
        else:
            self.outlet.attach(binding.open_output(found))
        self.opened = found

    def close(self, *, vanished: bool) -> None:
        if self.input is not None:
            self.input.close(vanished=vanished)
        self.input = None
        self.outlet.detach(vanished=vanished)
        self.opened, self.stands = "", False


class Watch:
    """Keeps the wanted ports of a binding open. Use from one thread."""

    def __init__(self, binding: Binding, *, between: Callable[[], object] = lambda: None) -> None:
        """``between`` is called before each opening, which may take a while."""
        self._binding, self._between = binding, between
        self._wanted: list[_Wanted] = []
        self._next = 0.0

    def hear(self, name: str, callback: Callback) -> None:
        """Hear the port of this name, from the next ``look`` on and whenever it is there."""
        self._wanted.append(_Wanted(name, callback))
        self._next = 0.0

    def play(self, name: str) -> Outlet:
        """Play to the port of this name, from the next ``look`` on and whenever it is there."""
        self._wanted.append(_Wanted(name, None))
        self._next = 0.0
        return self._wanted[-1].outlet

    def look(self, now: float) -> list[News]:
        """Open and close what has to be; what is new. Does nothing before its time (``EVERY``) unless the binding tells of a
        change, so call it often."""
        left = self._binding.stirred()
        if left is None and now < self._next:
            return []
        self._next = now + EVERY
        inputs, outputs = self._binding.inputs(), self._binding.outputs()
        return [
            news
            for port in self._wanted
            for news in self._looked_after(port, outputs if port.callback is None else inputs, left or frozenset(), now)
        ]

    def away(self) -> list[str]:
        """The wanted names that are not open now."""
        return [port.name for port in self._wanted if not port.opened]

    def close(self) -> None:
        """Close all ports."""
        for port in self._wanted:
            port.close(vanished=False)

    def _looked_after(self, port: _Wanted, names: Sequence[str], left: frozenset[str], now: float) -> list[News]:
        news, trouble = [], self._binding.trouble()
        if port.opened and (port.opened not in names or not left.isdisjoint(port.raw_names)):
            port.close(vanished=True)
            why = trouble or "is it unplugged or switched off?"
            news.append(self._away(port, f'"{port.name}" has gone: {why}'))
        elif port.opened and trouble:
            if port.stands:
                return []
            port.stands = True
            return [self._away(port, f'{trouble}: "{port.name}" stands still')]
        elif port.stands:
            port.stands = False
            port.outlet.make_good()
            return [self._there(port, "goes on")]
        elif port.opened and port.callback is None and not port.outlet.well:
            port.close(vanished=True)
            port.not_before = now + PAUSE
            news.append(self._away(port, f'"{port.name}" does not answer; it is tried again in {PAUSE:g} seconds'))
        if port.opened:
            port.outlet.looked_at()
        if port.opened or trouble or now < port.not_before:
            return news
        self._between()
        try:
            port.open(self._binding, find_port(port.name, names))
        except PortUnknown as error:
            if not port.told:
                news.append(self._away(port, str(error)))
        except PlayerError as error:
            port.not_before = now + AGAIN
            if str(error) != port.told:
                news.append(self._away(port, str(error)))
        else:
            news.append(self._there(port, "is back" if port.told else "is open"))
        return news

    def _there(self, port: _Wanted, said: str) -> News:
        port.told = ""
        return News(wanted=port.name, is_input=port.callback is not None, well=True, text=f'"{port.name}" {said}')

    def _away(self, port: _Wanted, text: str) -> News:
        port.told = text
        return News(wanted=port.name, is_input=port.callback is not None, well=False, text=text)
