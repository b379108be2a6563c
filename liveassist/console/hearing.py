"""Hearing: what the player's MIDI messages mean to the band, by the console profile.

Conventions. A message is one whole MIDI message as bytes; channels are 1-16. Note-on with velocity 0 is a note-off (MIDI 1.0),
and some organs send only that. Everything that is neither a key nor a switch of the profile is no music and is passed over:
program changes, SysEx, active sensing, and the swell shoe unless the settings give it to the band. Drums and a MIDI clock are
heard by ``kit_hearing``.

A switch has a running state, so that only a press counts, whatever its contacts do: a control is pressed at 64 or more (of a
switch that rests closed: below 64), a latching switch is pressed whenever it changes over. Presses within ``BOUNCE`` of each
other are one.

One key may come by two feeds (USB and DIN, say): it goes down with the first and comes up with the last. What we sent and
comes back is no music: see ``echoes``.

Couplers bring one press on two divisions, or in two octaves: a *twin*, heard within ``TOGETHER`` of its press. One press is
one, on the division on which it was pressed. Where the profile has learned the couplers it says which that is, and either may
come first: a key that may be a twin waits ``TOGETHER`` for its press. Where it has not, nothing waits: a key heard just after
the same key of the pedal, or on the figure's manual just after the melody's, is taken for a twin (``USUAL``). What comes in the
other order the band takes back by itself.

Couplers may mirror each other: one manual on another and back, an octave up and an octave down. Then two keys may each have
brought the other, and the first heard is the one that was pressed, unless a third tells better: of three octaves the middle
one brought both, in whatever order they came.
"""

from __future__ import annotations

from dataclasses import replace

from liveassist.band.events import (
    FIGURE_MANUAL,
    MELODY_MANUAL,
    PEDAL,
    TOGETHER,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    ShoeMoved,
    SwitchPressed,
)
from liveassist.console.echoes import ECHO, LoopGuard
from liveassist.console.instrument import CUE, Coupler, Profile, Switch
from liveassist.console.kit_hearing import KitHearing

__all__ = ["BOUNCE", "ECHO", "FEEDS", "USUAL", "Interpreter"]

USUAL = (
    Coupler(pressed=PEDAL, brings=MELODY_MANUAL),
    Coupler(pressed=PEDAL, brings=FIGURE_MANUAL),
    Coupler(pressed=MELODY_MANUAL, brings=FIGURE_MANUAL),
)
"""The couplers of a console of which nothing is known."""
BOUNCE = 0.06
"""Two presses of one switch within this time, in seconds, are one (contact bounce)."""
FEEDS = 0.06
"""The same key by another port within this time, in seconds, is the same press by another feed."""
PRESSED = 64
"""A control at this value or above is on (MIDI 1.0: 0-63 off, 64-127 on)."""
NOTE_OFF, NOTE_ON, CONTROL, PROGRAM, SYSTEM = 0x80, 0x90, 0xB0, 0xC0, 0xF0
LENGTHS = {NOTE_OFF: 3, NOTE_ON: 3, CONTROL: 3, PROGRAM: 2}
"""Bytes of the messages that mean something to us (MIDI 1.0)."""


OFF = "off"
"""The setting ``shoe`` where the swell shoe is none of the band's business."""


class _Contact:
    """The running state of a switch."""

    def __init__(self, switch: Switch) -> None:
        self.switch = switch
        self._level = switch.rest == "closed"
        self._latest = float("-inf")

    def pressed(self, level: bool, at: float) -> bool:
        """The contact is now on (or off): whether that is a press."""
        before, self._level = self._level, level
        if level == before and self.switch.by != "program":
            return False
        pressing = self.switch.latching or self.switch.by == "program" or level != (self.switch.rest == "closed")
        if not pressing or at - self._latest < BOUNCE:
            return False
        self._latest = at
        return True


class Interpreter:
    """Turns messages into events. It keeps the state of keys, switches and the shoe: use one for one console."""

    def __init__(self, profile: Profile, *, switch_unit: str = "", shoe: str = "") -> None:
        """
        Args:
            profile: the player's console.
            switch_unit: how far a cue moves where its switch does not say; empty: as the profile's settings say.
            shoe: what the swell shoe is for; empty: as the profile's settings say.
        """
        self._profile = profile
        self._unit = switch_unit or str(profile.settings.get("switch_unit", "change"))
        self._shoe = profile.shoe if (shoe or str(profile.settings.get("shoe", OFF))) != OFF else None
        self._shoe_at: int | None = None
        """Where the shoe was last."""
        self._contacts = [_Contact(switch) for switch in profile.switches]
        self._cued = float("-inf")
        """When a key that serves as a cue was last pressed."""
        self._down: dict[tuple[str, int], dict[str, float]] = {}
        """For each key that is down, the ports by which we know it and when."""
        self._struck: dict[tuple[str, int], float] = {}
        """When each key last went down."""
        self._couplers = profile.couplers or USUAL
        self._patient = frozenset(coupler.brings for coupler in profile.couplers)
        """The divisions whose keys wait, because they may be twins."""
        self._waiting: list[KeyDown] = []
        self._rather: dict[tuple[str, int], list[tuple[str, int]]] = {}
        """For each key that waits: the keys that were taken for its twins, and may as well have brought it."""
        self._guard = LoopGuard()
        self._kit = KitHearing(profile)

    def sent(self, at: float, port: str, channel: int, key: int, on: bool) -> None:
        """We are about to press or release a key. The echo may come by any port, so ``port`` plays no role; and couplers may
        bring it on other divisions too."""
        self._guard.sent(at, channel, key, on)
        for coupler in self._profile.couplers:
            pressed, brings = (self._profile.divisions.get(name) for name in (coupler.pressed, coupler.brings))
            if pressed is not None and brings is not None and pressed.channel == channel:
                self._guard.sent(at, brings.channel, key + coupler.shift, on)

    def holds(self, port: str, channel: int, key: int) -> bool:
        """Whether the player holds a key there. Where no division has that port (the organ may hear by another than the
        console speaks by), the channel decides."""
        there = [(name, item) for name, item in self._profile.divisions.items() if item.channel == channel]
        by_port = [name for name, item in there if item.port == port]
        return any(self._down.get((name, key)) for name in by_port or [name for name, _ in there])

    def events(self, at: float, heard: float, port: str, message: bytes) -> list[Event]:
        """What a message means: no event, or one, or several.

        Args:
            at: when it arrived, in seconds.
            heard: when the band takes it, in seconds.
            port: the port's name as the profile has it; any text where the profile has none.
            message: one MIDI message, with its status byte.
        """
        new = self._meaning(at, heard, port, message)
        return [*self.due(heard), *new] if self._waiting else new

    def next_due(self) -> float | None:
        """When the next key has waited long enough for its press, if one waits."""
        return min((event.at + TOGETHER for event in self._waiting), default=None)

    def due(self, now: float) -> list[Event]:
        """The keys that have waited long enough: they were pressed where they were heard."""
        ready = [event for event in self._waiting if event.at + TOGETHER <= now]
        self._waiting = [event for event in self._waiting if event not in ready]
        self._tidy()
        return [replace(event, heard=now) for event in ready]

    def _meaning(self, at: float, heard: float, port: str, message: bytes) -> list[Event]:
        kind = message[0] & 0xF0 if message else 0
        if kind == SYSTEM:
            return self._kit.clock(at, heard, port, message)
        if kind not in LENGTHS or len(message) != LENGTHS[kind] or any(data > 0x7F for data in message[1:]):
            return []
        channel = (message[0] & 0x0F) + 1
        if kind == CONTROL and self._is_shoe(channel, message[1], port):
            return self._shoe_moved(message[2], at, heard)
        if kind == CONTROL:
            return self._switched("control", channel, message[1], message[2] >= PRESSED, at, heard, port)
        if kind == PROGRAM:
            return self._switched("program", channel, message[1], True, at, heard, port)
        key, on = message[1], kind == NOTE_ON and message[2] > 0
        if self._guard.echo(at, channel, key, on):
            return []
        if any(self._means(contact.switch, "note", channel, key, port) for contact in self._contacts):
            return self._switched("note", channel, key, on, at, heard, port)
        if (struck := self._kit.struck(at, heard, port, message)) is not None:
            return struck
        return self._played(channel, key, on, at, heard, port)

    def lost(self, port: str) -> None:
        """A port went away: its keys can no longer be known to be down."""
        for feeds in self._down.values():
            feeds.pop(port, None)
        self._waiting = [event for event in self._waiting if self._down[event.division, event.key]]
        self._tidy()

    def shoe_stands(self, now: float) -> list[Event]:
        """Where the swell shoe is, for a band that has not heard it move; nothing where that is not known."""
        return [] if self._shoe_at is None else [ShoeMoved(at=now, heard=now, value=self._shoe_at)]

    def _means(self, switch: Switch, by: str, channel: int, number: int, port: str) -> bool:
        return (switch.by, switch.channel, switch.number) == (by, channel, number) and switch.port in ("", port)

    def _is_shoe(self, channel: int, control: int, port: str) -> bool:
        shoe = self._shoe
        return shoe is not None and (shoe.channel, shoe.control) == (channel, control) and shoe.port in ("", port)

    def _shoe_moved(self, value: int, at: float, heard: float) -> list[Event]:
        """Consoles tell where a shoe is over and over: only what is new is heard."""
        if value == self._shoe_at:
            return []
        self._shoe_at = value
        return [ShoeMoved(at=at, heard=heard, value=value)]

    def _switched(
        self, by: str, channel: int, number: int, level: bool, at: float, heard: float, port: str
    ) -> list[Event]:
        return [
            self._asked(contact.switch, at, heard)
            for contact in self._contacts
            if self._means(contact.switch, by, channel, number, port) and contact.pressed(level, at)
        ]

    def _asked(self, switch: Switch, at: float, heard: float) -> Event:
        if switch.what == CUE:
            return SwitchPressed(at=at, heard=heard, unit=switch.unit or self._unit)
        return Nodded(at=at, heard=heard, nod=switch.what, argument=switch.argument)

    def _played(self, channel: int, key: int, on: bool, at: float, heard: float, port: str) -> list[Event]:
        for name, division in self._profile.divisions.items():
            if division.channel != channel or division.port not in ("", port):
                continue
            if division.cue_keys and division.cue_keys[0] <= key <= division.cue_keys[1]:
                return self._cue(on, at, heard)
            if division.compass[0] <= key <= division.compass[1]:
                return self._key(name, key, on, at, heard, port)
        return []

    def _cue(self, on: bool, at: float, heard: float) -> list[Event]:
        if not on or at - self._cued < BOUNCE:
            return []
        self._cued = at
        return [SwitchPressed(at=at, heard=heard, unit=self._unit)]

    def _key(self, division: str, key: int, on: bool, at: float, heard: float, port: str) -> list[Event]:
        if on and self._is_twin(division, key, at):
            brought = self._brought(division, key)
            if len(brought) == 1:
                self._rather.setdefault((brought[0].division, brought[0].key), []).append((division, key))
            if len(brought) <= 1:
                return []
        feeds = self._down.setdefault((division, key), {})
        if not on:
            if feeds.pop(port, None) is None or feeds:
                return []
            return [*self._waited(division, key, heard), KeyUp(at=at, heard=heard, division=division, key=key)]
        if any(at - pressed < FEEDS for other, pressed in feeds.items() if other != port):
            feeds[port] = at
            return []
        if self._pressed_rather(division, key, port):
            return []
        feeds.clear()
        feeds[port] = at
        self._forget_twins(division, key, at)
        self._struck[division, key] = at
        event = KeyDown(at=at, heard=heard, division=division, key=key)
        if division not in self._patient:
            return [event]
        self._waiting.append(event)
        return []

    def _is_twin(self, division: str, key: int, at: float) -> bool:
        """Whether a coupler has brought this key with one that was pressed a moment ago."""
        return any(
            coupler.brings == division
            and at - self._struck.get((coupler.pressed, key - coupler.shift), float("-inf")) <= TOGETHER
            for coupler in self._couplers
        )

    def _brings(self, pressed: tuple[str, int], brought: tuple[str, int]) -> bool:
        """Whether a learned coupler brings one key with another."""
        return any(
            (coupler.pressed, coupler.brings, coupler.shift) == (pressed[0], brought[0], brought[1] - pressed[1])
            for coupler in self._profile.couplers
        )

    def _brought(self, division: str, key: int) -> list[KeyDown]:
        """The keys that wait and that this one would bring."""
        return [event for event in self._waiting if self._brings((division, key), (event.division, event.key))]

    def _pressed_rather(self, division: str, key: int, port: str) -> bool:
        """Whether this key is explained by one that was taken for a twin of a key that waits: then that one was pressed, and
        takes its place."""
        for place, event in enumerate(self._waiting):
            for other in self._rather.get((event.division, event.key), ()):
                if self._brings(other, (division, key)):
                    for known in (self._down, self._struck):
                        known.pop((event.division, event.key), None)
                    self._down[other], self._struck[other] = {port: event.at}, event.at
                    self._waiting[place] = replace(event, division=other[0], key=other[1])
                    return True
        return False

    def _forget_twins(self, division: str, key: int, at: float) -> None:
        """A key went down: those that wait and that a coupler brings with it were not pressed."""
        for coupler in self._profile.couplers:
            if coupler.pressed != division:
                continue
            for event in self._waited(coupler.brings, key + coupler.shift, at, since=at - TOGETHER):
                self._down.pop((event.division, event.key), None)
                self._struck.pop((event.division, event.key), None)

    def _waited(self, division: str, key: int, heard: float, *, since: float = float("-inf")) -> list[KeyDown]:
        """A key that waits no longer."""
        found = [e for e in self._waiting if (e.division, e.key) == (division, key) and e.at >= since]
        self._waiting = [event for event in self._waiting if event not in found]
        self._tidy()
        return [replace(event, heard=heard) for event in found]

    def _tidy(self) -> None:
        waiting = {(event.division, event.key) for event in self._waiting}
        self._rather = {key: others for key, others in self._rather.items() if key in waiting}
