"""What comes from a drum kit and from a MIDI clock, by the console profile.

A pad's key becomes the General MIDI key of what the profile says it is (its [kit]), so that the band knows one kit only; and
how hard it was struck goes along. Keys that the profile does not name are taken for General MIDI's. A clock is heard on the
port that the profile names and on no other: many instruments tick all the time.
"""

from __future__ import annotations

from liveassist.band.events import DRUMS, ClockSays, Event, KeyDown, KeyUp
from liveassist.band.kit import KEYS
from liveassist.console.instrument import Profile

NOTE_OFF, NOTE_ON = 0x80, 0x90
CLOCK_SAYS = {0xF8: "tick", 0xFA: "start", 0xFB: "continue", 0xFC: "stop"}
"""System real-time messages (MIDI 1.0)."""


class KitHearing:
    """Hears the drums division and the clock of a profile."""

    def __init__(self, profile: Profile) -> None:
        self._division = profile.divisions.get(DRUMS)
        self._clock = profile.clock.hears if profile.clock is not None else ""
        self._pads = {pad: KEYS[name][0] for name, pads in profile.kit.items() for pad in pads}

    def clock(self, at: float, heard: float, port: str, message: bytes) -> list[Event]:
        """What a system message says, if it is the clock's."""
        what = CLOCK_SAYS.get(message[0])
        if what is None or not self._clock or self._clock != port:
            return []
        return [ClockSays(at=at, heard=heard, what=what)]

    def struck(self, at: float, heard: float, port: str, message: bytes) -> list[Event] | None:
        """What a note on or off means if it is the kit's; None where it is not."""
        division, kind, key = self._division, message[0] & 0xF0, message[1]
        if kind not in (NOTE_ON, NOTE_OFF) or division is None or division.channel != (message[0] & 0x0F) + 1:
            return None
        if division.port not in ("", port) or not division.compass[0] <= key <= division.compass[1]:
            return None
        if division.cue_keys and division.cue_keys[0] <= key <= division.cue_keys[1]:
            return None
        key = self._pads.get(key, key)
        if kind == NOTE_ON and message[2]:
            return [KeyDown(at=at, heard=heard, division=DRUMS, key=key, strength=message[2])]
        return [KeyUp(at=at, heard=heard, division=DRUMS, key=key)]
