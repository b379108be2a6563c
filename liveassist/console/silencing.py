"""What the guardian lets go of, and when: the account of the keys that are down, and the plan of note-offs after a death; and
whether a MIDI clock has to be stopped.

Conventions. Ports count from 0 in the order of the guardian's spec, channels 1-16, keys are MIDI's numbers; times are seconds.

Sounding notes come first and again and again; then every key of every channel ever used, because a note-off can die in a
buffer of the process that sent it. Sweeps are paced for a DIN line, and those of different ports go side by side.
"""

from __future__ import annotations

from collections.abc import Sequence

REPEATS = (0.0, 0.005, 0.01, 0.015, 0.02, 0.03, 0.04, 0.06, 0.08, 0.12, 0.2)
"""When the sounding notes are let go, seconds: offs sent within some 10 ms of a death, or later, can be lost."""
LATELY = 1.0
"""A key let go this long ago, in seconds, counts as sounding: its note-off may have died with the band."""
PACE = 0.001
"""Seconds between two messages of a sweep: what a DIN line carries."""
SWEEPS = (0.03, 0.2)
"""When a sweep of all keys may begin, seconds; the second begins after the end of the first."""
CLOCK_STOP = b"\xfc"
"""What follows a MIDI clock stands still (MIDI 1.0)."""
Key = tuple[int, int, int]
"""Port (from 0), channel (1-16) and key."""


class Account:
    """Which keys are down, as the band tells it, and which it ever used."""

    def __init__(self, channels: Sequence[Sequence[int]]) -> None:
        self.channels = [set(of_port) for of_port in channels]
        """For each port, the channels ever used."""
        self.down: set[Key] = set()
        self.let_go: dict[Key, float] = {}
        """When a key was last let go, seconds, the latest last."""
        self._rolls = False
        self._halted = float("-inf")

    def hear(self, line: str, now: float) -> None:
        """Take a line of the band's."""
        word, *numbers = line.split()
        if word in ("rolls", "halts"):
            self._rolls = word == "rolls"
            self._halted = now
        if word not in ("on", "off"):
            return
        port, channel, key = (int(number) for number in numbers)
        self.channels[port].add(channel)
        if word == "on":
            self.down.add((port, channel, key))
        else:
            self.down.discard((port, channel, key))
            self.let_go.pop((port, channel, key), None)
            self.let_go[port, channel, key] = now

    def sounding(self, now: float) -> list[Key]:
        """What may sound: keys that are down, and those let go lately."""
        lately = [key for key, at in self.let_go.items() if now - at <= LATELY]
        return sorted(self.down.union(lately))

    def rolls(self, now: float) -> bool:
        """Whether what follows the clock may be playing: it was not stopped, or so lately that the stop may have died."""
        return self._rolls or now - self._halted <= LATELY

    def everything(self, port: int) -> list[Key]:
        """All keys of the channels ever used on a port; first those down, then those ever let go, the latest first."""
        used = [key for key in (*sorted(self.down), *reversed(self.let_go)) if key[0] == port]
        rest = [(port, channel, key) for channel in sorted(self.channels[port]) for key in range(128)]
        return list(dict.fromkeys([*used, *rest]))


def silencing(account: Account, now: float) -> list[tuple[float, Key]]:
    """What to let go of and when, in seconds from ``now``: the sounding notes again and again, and paced sweeps between."""
    plan = [(moment, key) for moment in REPEATS for key in account.sounding(now)]
    for port in range(len(account.channels)):
        begin = 0.0
        for earliest in SWEEPS:
            begin = max(begin, earliest)
            for key in account.everything(port):
                plan.append((begin, key))
                begin += PACE
    return sorted(plan, key=lambda step: step[0])
