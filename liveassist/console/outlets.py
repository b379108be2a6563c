"""Outlets: from the band's notes to MIDI bytes on the ports of the console.

Only note-on and note-off are ever sent, at one constant velocity: on real consoles every other message moves stops, shoes or
combinations. (The one exception is a sweep, for the controllers that the player has enabled for a part.) A list of the keys
now down, with the parts that hold each, makes sure that every start has one end, and that two parts on one manual do not cut
each other off.

The player's own keys come first. Organs as a rule join key and MIDI, so that a key sounds as long as either holds it, but some
cut a held key at our note-off. So a key that the player holds on the manual where we are about to press it is not pressed (nor
released), and where he presses one that we have down, our release waits until he lets it go. Only stopping everything, and a
sweep, release it at once.

The guardian hears of a press before it is sent and of a release after, so that it never knows too little. Times are seconds
of the band's clock, handed in.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Protocol

from liveassist.arranging.arrangement import ANSWER, BASS, CLICK, FIGURE
from liveassist.band.events import NoteOff, NoteOn
from liveassist.console.instrument import DRUMMER, Profile
from liveassist.console.watching import NOTE_OFF, NOTE_ON, RELEASE

TOO_LATE = 0.08
"""A start that would be sent later than this after its time, in seconds, is not sent: the computer was busy, and a chord in
the wrong place is worse than none. Ends always are."""
PACE = 0.001
"""Seconds between two messages of a sweep: what a DIN line carries."""
CONTROL, ALL_NOTES_OFF = 0xB0, 123
SOUND_CHANNELS = {FIGURE: 2, ANSWER: 3, BASS: 4}
"""The channels by which the sound process knows the parts. The click is none of them: as sound it goes into ears alone (see
``liveassist.ears.in_ears``)."""
CLICKED = (CLICK, DRUMMER)
"""Where a click goes as MIDI notes."""

Key = tuple[int, int, int]
"""Port (by its place in the profile's ``output_ports``), channel 1-16, key."""
Sent = Callable[[float, str, int, int, bool], None]
"""Told of every press and release before it is sent: time, port, channel, key, on."""

Held = Callable[[str, int, int], bool]
"""Whether the player holds a key: port, channel, key."""


class Sender(Protocol):
    """Something that takes MIDI messages."""

    def send(self, message: bytes) -> bool: ...


class Guard(Protocol):
    """What hears of every key: the band's end of the guardian's pipe."""

    def note_on(self, port: int, channel: int, key: int) -> None: ...

    def note_off(self, port: int, channel: int, key: int) -> None: ...


@dataclass(frozen=True, slots=True)
class _Later:
    """A message that waits: a press or release of a part's key, or bytes of a sweep."""

    part: str
    key: Key
    message: bytes


class Outlets:
    """Plays the band's notes."""

    def __init__(
        self,
        profile: Profile,
        senders: Mapping[str, Sender],
        *,
        guard: Guard | None = None,
        sent: Sent | None = None,
        sound: Sender | None = None,
        offsets: Mapping[str, float] = MappingProxyType({}),
        held: Held | None = None,
    ) -> None:
        """
        Args:
            profile: where each part goes.
            senders: by the port names of the profile; parts of other ports are not sent.
            guard: hears of every key.
            sent: the loop guard.
            sound: hears every part of the music too, as on the plain console.
            offsets: milliseconds by which a part is sent later, besides its own delay.
            held: tells of the player's own keys.
        """
        self._held = held
        self._profile, self._guard, self._sent, self._sound = profile, guard, sent, sound
        self._offsets = offsets
        self._ports = profile.output_ports
        self._senders = [senders.get(name) for name in self._ports]
        self._down: dict[Key, set[str]] = {}
        """The keys that are down and the parts that hold each; none where only the player does."""
        self._later: list[tuple[float, int, _Later]] = []
        self._count = 0
        self.dropped = 0
        """Starts that came too late to be sent."""

    @property
    def sounding(self) -> list[Key]:
        """The keys that are down."""
        return sorted(self._down)

    def play(self, action: NoteOn | NoteOff, now: float) -> None:
        """Press or release a part's key, now or when its division's delay is over."""
        for name in CLICKED if action.part == CLICK else (action.part,):
            self._play(name, action, now)

    def _play(self, name: str, action: NoteOn | NoteOff, now: float) -> None:
        part = self._profile.outlet(name)
        if part is None:
            if self._sound is not None:
                self._sounded(name, action.pitch, isinstance(action, NoteOn))
            return
        key = (self._ports.index(part.port), part.channel, action.pitch)
        on = isinstance(action, NoteOn)
        if on and now - action.at > TOO_LATE:
            self.dropped += 1
            return
        if delay := max(0.0, part.delay + self._offsets.get(name, 0.0)) / 1000.0:
            kind, velocity = (NOTE_ON, self._profile.velocity) if on else (NOTE_OFF, RELEASE)
            self._wait(action.at + delay, _Later(name, key, _message(kind, key, velocity)))
            self.due(now)
        elif on:
            self._press(name, key, now)
        else:
            self._release(name, key, now)

    def next_due(self) -> float | None:
        """When the next waiting message is to be sent."""
        return self._later[0][0] if self._later else None

    def due(self, now: float) -> None:
        """Send what has waited long enough, and let go of the keys that the player has let go."""
        for key in [key for key, parts in self._down.items() if not parts and not self._players(key)]:
            self._let_go(key, now)
        while self._later and self._later[0][0] <= now:
            item = heapq.heappop(self._later)[2]
            if not item.part:
                self._send(item.key, item.message, now)
            elif item.message[0] & 0xF0 == NOTE_ON:
                self._press(item.part, item.key, now)
            else:
                self._release(item.part, item.key, now)

    def release_all(self, now: float) -> None:
        """Release exactly the keys that are down, and forget what waits."""
        self._later.clear()
        for key, parts in sorted(self._down.items()):
            for part in sorted(parts):
                self._sounded(part, key[2], False)
            self._let_go(key, now)
        if self._sound is not None:
            self._sound.send(bytes((CONTROL, ALL_NOTES_OFF, 0)))

    def sweep(self, now: float) -> None:
        """Release every key of every channel that we play, whether we know it to be down or not, at the pace of a line."""
        self.release_all(now)
        at = now
        for part in dict.fromkeys(
            (self._ports.index(part.port), part.channel) for part in self._profile.parts.values()
        ):
            for number in range(128):
                self._wait(at, _Later("", (*part, number), _message(NOTE_OFF, (*part, number), RELEASE)))
                at += PACE
        for stated in self._profile.parts.values():
            for number in stated.silencers:
                key = (self._ports.index(stated.port), stated.channel, number)
                self._wait(at, _Later("", key, _message(CONTROL, key, 0)))
                at += PACE

    def _wait(self, at: float, item: _Later) -> None:
        self._count += 1
        heapq.heappush(self._later, (at, self._count, item))

    def _players(self, key: Key) -> bool:
        """Whether the player holds a key."""
        return self._held is not None and self._held(self._ports[key[0]], key[1], key[2])

    def _press(self, part: str, key: Key, now: float) -> None:
        if not self._down.get(key):
            if self._players(key):
                return
            if key in self._down:  # he has just let it go
                self._let_go(key, now)
            if self._guard is not None and self._senders[key[0]] is not None:
                self._guard.note_on(*key)
            self._send(key, _message(NOTE_ON, key, self._profile.velocity), now)
        self._down.setdefault(key, set()).add(part)
        self._sounded(part, key[2], True)

    def _release(self, part: str, key: Key, now: float) -> None:
        parts = self._down.get(key)
        if parts is None or part not in parts:  # its start was not sent
            return
        parts.discard(part)
        if not parts and not self._players(key):
            self._let_go(key, now)
        self._sounded(part, key[2], False)

    def _let_go(self, key: Key, now: float) -> None:
        """A key comes up."""
        del self._down[key]
        self._send(key, _message(NOTE_OFF, key, RELEASE), now)
        if self._guard is not None and self._senders[key[0]] is not None:
            self._guard.note_off(*key)

    def _send(self, key: Key, message: bytes, now: float) -> None:
        kind = message[0] & 0xF0
        if self._sent is not None and kind != CONTROL:
            self._sent(now, self._ports[key[0]], key[1], key[2], kind == NOTE_ON)
        sender = self._senders[key[0]]
        if sender is not None:
            sender.send(message)

    def _sounded(self, part: str, pitch: int, on: bool) -> None:
        if self._sound is not None and part in SOUND_CHANNELS:
            kind, velocity = (NOTE_ON, self._profile.velocity) if on else (NOTE_OFF, RELEASE)
            self._sound.send(bytes((kind | SOUND_CHANNELS[part] - 1, pitch, velocity)))


def _message(kind: int, key: Key, value: int) -> bytes:
    """A channel message for a key's channel, its number and a value."""
    return bytes((kind | key[1] - 1, key[2], value))
