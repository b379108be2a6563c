"""A steady pattern to set the in-ear click by, beside the organ.

Bars of four beats go into the ears of player and drummer as the settings say; with a console the figure's division plays a
short chord on every beat, at the same time and without any offset, as the band would. A number typed in is the player's offset
from then on, ``d`` and a number the drummer's: when organ and click are one at the bench, and at the drums, the lines to keep
are printed. The caution about hearing comes first.
"""

from __future__ import annotations

import argparse
import sys
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from queue import Empty, SimpleQueue

from liveassist.arranging.arrangement import FIGURE
from liveassist.band.click import ON_BAR, ON_BEAT
from liveassist.commands.layering import layers, read_profile_file, sound_device, stated, user_layer
from liveassist.console.outlets import Sender
from liveassist.console.watching import NOTE_OFF, NOTE_ON, RELEASE
from liveassist.ears.caution import CAUTION, SOURCES
from liveassist.ears.in_ears import KEYS
from liveassist.ears.opening import open_sounds
from liveassist.ears.output import SoundOutput
from liveassist.errors import PlayerError
from liveassist.settings import Settings, check

TEMPO, BEATS, BARS = 90.0, 4, 8
CHORD = (60, 64, 67)
SOUNDING = 0.3
"""Share of a beat that the organ's chord sounds."""
TOLD_AHEAD, LOOK = 0.4, 0.01
"""Seconds."""


@dataclass(frozen=True, slots=True)
class Do:
    """One thing of the pattern."""

    at: float
    """When it is to be done, in seconds of the clock."""
    falls: float
    """When it is to be heard."""
    what: str
    """"bar", "beat", "press" or "release"."""


def pattern(begin: float, tempo: float = TEMPO, bars: int | None = None) -> Iterator[Do]:
    """What to do, in order of doing: clicks told ahead, and the organ at its time. Without ``bars`` it never ends."""
    beat, number = 60.0 / tempo, 0
    waiting: list[Do] = []
    while bars is None or number < bars * BEATS or waiting:
        if bars is None or number < bars * BEATS:
            falls = begin + number * beat
            waiting += [
                Do(falls - TOLD_AHEAD, falls, ON_BEAT if number % BEATS else ON_BAR),
                Do(falls, falls, "press"),
                Do(falls + SOUNDING * beat, falls, "release"),
            ]
        number += 1
        waiting.sort(key=lambda do: do.at)
        until = begin + number * beat - TOLD_AHEAD
        yield from (do for do in waiting if do.at < until)
        waiting = [do for do in waiting if do.at >= until]


class Organ:
    """The figure's division, or none."""

    def __init__(self, sender: Sender | None, channel: int, velocity: int) -> None:
        self._sender, self._channel, self._velocity = sender, channel, velocity

    def play(self, kind: int) -> None:
        """Press or release the chord."""
        if self._sender is not None:
            for key in CHORD:
                value = self._velocity if kind == NOTE_ON else RELEASE
                self._sender.send(bytes((kind | self._channel - 1, key, value)))


def new_offset(text: str, settings: Settings) -> tuple[int, Settings]:
    """A line typed in: whose offset it moves (0 the player's, 1 the drummer's), and the settings with it.

    Raises:
        ValueError: what would be accepted.
    """
    words = text.split()
    drummer = words[:1] == ["d"]
    name = "drummer_offset" if drummer else "click_offset"
    try:
        number = float(words[1 if drummer else 0])
    except (ValueError, IndexError):
        raise ValueError(f'"{text.strip()}": a number of milliseconds, d and a number, or Enter to end') from None
    return int(drummer), replace(settings, **{name: check(name, number, "what you typed")})


def play_pattern(options: argparse.Namespace) -> int:
    """Play the pattern until it is over or ended."""
    profile = read_profile_file(options.console)
    settings = layers(
        ("your settings file", user_layer()),
        ("console profile", profile.settings),
        ("the command line", stated(options)),
    ).settings
    if not settings.ears and not settings.drummer_ears:
        raise PlayerError(f"in whose ears? --ears NAME; sound devices here: {_devices()}")
    for ears in filter(None, (settings.ears, settings.drummer_ears)):
        sound_device(ears)  # a pattern that nobody hears sets nothing
    print(f"{CAUTION}\n\n{SOURCES}\n", flush=True)
    sounds = open_sounds(settings, "")
    close: list[Callable[[], None]] = [output.close for output in sounds.outputs]
    typed: SimpleQueue[str] = SimpleQueue()
    endless = sys.stdin.isatty()
    if endless:
        threading.Thread(target=_read, args=(typed,), daemon=True).start()
    organ = Organ(None, 1, profile.velocity)
    try:
        if options.console and FIGURE in profile.parts:
            organ = _organ(profile.parts[FIGURE].port, profile.parts[FIGURE].channel, profile.velocity, close)
        print(
            "A number is your offset in milliseconds, d and a number the drummer's; Enter ends." if endless else "",
            end="",
        )
        bars = None if endless else options.bars
        settings = _play(sounds.player, sounds.drummer, organ, settings, typed, bars)
    except KeyboardInterrupt:
        pass
    finally:
        organ.play(NOTE_OFF)
        for end in close:
            end()
    print(f"\nclick_offset = {settings.click_offset:g}\ndrummer_offset = {settings.drummer_offset:g}")
    return 0


def _read(typed: SimpleQueue[str]) -> None:
    for line in sys.stdin:
        typed.put(line)
    typed.put("")


def _devices() -> str:
    from liveassist.ears.sound import list_devices

    try:
        return ", ".join(list_devices()) or "none"
    except PlayerError as error:
        return f"none ({error})"


def _organ(wanted: str, channel: int, velocity: int, close: list[Callable[[], None]]) -> Organ:
    from liveassist.console.ports import find_port, midi_binding

    binding = midi_binding()
    port = binding.open_output(find_port(wanted, binding.outputs()))
    close.append(port.close)
    return Organ(port, channel, velocity)


def _play(
    player: SoundOutput | None,
    drummer: SoundOutput | None,
    organ: Organ,
    settings: Settings,
    typed: SimpleQueue[str],
    bars: int | None,
) -> Settings:
    """Play the pattern until it is over or a line without anything is typed. Returns the settings as they are then."""
    outputs = tuple(dict.fromkeys(output for output in (player, drummer) if output is not None))
    for do in pattern(time.monotonic() + 1.0, bars=bars):
        while (left := do.at - time.monotonic()) > 0:
            time.sleep(min(left, LOOK))
            for output in outputs:
                for text in output.troubles():
                    print(text, flush=True)
            try:
                line = typed.get_nowait()
            except Empty:
                continue
            if not line.strip():
                return settings
            try:
                whose, settings = new_offset(line, settings)
            except ValueError as error:
                print(error, flush=True)
                continue
            _move(player, drummer, whose, settings)
        if do.what in KEYS:
            for output in outputs:
                output.say(f"@{do.falls:.6f} on click {KEYS[do.what]}")
        else:
            organ.play(NOTE_ON if do.what == "press" else NOTE_OFF)
    return settings


def _move(player: SoundOutput | None, drummer: SoundOutput | None, whose: int, settings: Settings) -> None:
    """Tell the sound process an offset. The drummer's earpiece is the second of a process that is the player's too."""
    output = drummer if whose else player
    if output is not None:
        number = 1 if whose and output is player else 0
        output.say(f"offset {number} {settings.drummer_offset if whose else settings.click_offset:g}")
