"""Takes: written as they happen, read back, and made from a Standard MIDI File. The format is in ``take_lines``.

The writer never makes the music wait and never stops it: lines are handed to a thread that writes them at once and brings them
to the disk itself within a second, so that a crash loses no more than that. When the disk is full that is told once, the
latest lines are kept, and written when there is room again.

A MIDI file's notes are heard as if played live on the console of the profile, by any port: ``heard`` is ``at`` (later by
a moment for a key that may be a coupler's twin), counted from the start of the file by its tempo map (Standard MIDI Files 1.0;
120 a minute where it states none). The file's end lets go of nothing.
"""

from __future__ import annotations

import json
import os
import threading
import time
from collections import deque
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from liveassist.band.events import Action, Event
from liveassist.console.hearing import Interpreter
from liveassist.console.instrument import Profile, by_any_port
from liveassist.console.take_lines import (
    VERSION,
    Header,
    Take,
    as_json,
    as_line,
    from_json,
    header_as_json,
    made_of,
)
from liveassist.errors import PlayerError

__all__ = [
    "Header",
    "Take",
    "TakeWriter",
    "open_take",
    "read_take",
    "take_from_bytes",
    "take_from_midi",
]

KEPT = 20000
"""Lines kept while the disk takes none: some ten minutes of music."""
AGAIN = 5.0
"""Seconds until a disk that took nothing is tried again."""
SAFE = 0.5
"""How often what was written is brought to the disk itself, in seconds."""
MICROSECONDS = 500_000
"""Of a quarter note, where a MIDI file states no tempo."""


# -- reading --------------------------------------------------------------------------------------------------------


def read_take(path: str | Path) -> Take:
    """A take from its file. Raises PlayerError, as ``take_from_bytes`` does, and where the file cannot be read."""
    try:
        content = Path(path).read_bytes()
    except OSError as error:
        raise PlayerError(f"{path}: cannot be read: {error.strerror}") from None
    return take_from_bytes(content, path)


def take_from_bytes(content: bytes, path: str | Path) -> Take:
    """A take from what its file holds; ``path`` names it in messages.

    A last line that was cut off is told in ``remarks`` and left out: that is what a crash leaves behind.

    Raises:
        PlayerError: when it is no take, is of another version, or is damaged: with the line.
    """
    *lines, rest = content.split(b"\n")
    if not lines:
        raise PlayerError(f"{path}: this is no take: a take begins with a line that says what was played")
    header = _header(lines[0], path)
    remarks: list[str] = []
    heard: list[Event] = []
    done: list[Action] = []
    for number, line in enumerate(lines[1:], 2):
        if not line.strip():
            continue
        try:
            thing = from_json(json.loads(line))
        except (ValueError, RecursionError) as error:  # JSON's and UTF-8's own errors are of the first kind
            raise PlayerError(f"{path}, line {number}: the take is damaged: {error}") from None
        if isinstance(thing, Event):
            heard.append(thing)
        elif thing is not None:
            done.append(thing)
    if rest.strip():
        remarks.append(f"line {len(lines) + 1}, the last, was cut off and is left out: the take ended with a crash")
    return Take(header=header, events=tuple(heard), actions=tuple(done), remarks=tuple(remarks))


def _header(line: bytes, path: str | Path) -> Header:
    try:
        stated = json.loads(line)
        version = stated["take"]
    except (ValueError, TypeError, KeyError, RecursionError):
        raise PlayerError(
            f'{path}, line 1: this is no take: its first line should be the header, {{"take": {VERSION}, ...}}'
        ) from None
    if version != VERSION:
        raise PlayerError(f"{path}, line 1: the take has format version {version}; I can read version {VERSION}")
    try:
        made: Header = made_of(Header, {**stated, "version": version})
    except ValueError as error:
        raise PlayerError(f"{path}, line 1: the take is damaged: {error}") from None
    return made


# -- from a MIDI file -----------------------------------------------------------------------------------------------


def open_take(path: str | Path, profile: Profile, *, shoe: str = "") -> Take:
    """A take of either kind, told apart by how the file begins; ``shoe`` is what the swell shoe is for in a MIDI file, empty as
    the profile says. Raises PlayerError."""
    try:
        with Path(path).open("rb") as file:
            begins = file.read(4)
    except OSError as error:
        raise PlayerError(f"{path}: cannot be read: {error.strerror}") from None
    return take_from_midi(path, profile, shoe=shoe) if begins == b"MThd" else read_take(path)


def take_from_midi(path: str | Path, profile: Profile, *, shoe: str = "") -> Take:
    """A Standard MIDI File (type 0 or 1) as a take, its messages heard through the profile.

    Raises:
        PlayerError: when the file cannot be read, or is of another type.
    """
    import mido  # here and not above: it takes as long to load as all the rest
    from mido.midifiles.meta import KeySignatureError

    try:
        file = mido.MidiFile(path, clip=True)
    except (OSError, EOFError, ValueError, LookupError, KeySignatureError) as error:
        raise PlayerError(
            f"{path}: this is no Standard MIDI File that I can read ({error or 'it ends too early'})"
        ) from None
    if file.type == 2:
        raise PlayerError(f"{path}: a MIDI file of type 2 holds songs side by side; I can read types 0 and 1")
    interpreter = Interpreter(by_any_port(profile), shoe=shoe)
    heard: list[Event] = []
    for seconds, message in _timed(file):
        while (ready := interpreter.next_due()) is not None and ready < seconds:
            heard += interpreter.due(ready)
        heard += interpreter.events(seconds, seconds, "", bytes(message.bytes()))
    while (ready := interpreter.next_due()) is not None:
        heard += interpreter.due(ready)
    return Take(header=Header(), events=tuple(heard))


def _timed(file: Any) -> Iterator[tuple[float, Any]]:
    """The messages of a MIDI file, but for its meta messages, with their seconds."""
    import mido

    ticks = file.ticks_per_beat
    if ticks < 0:  # the division counts frames: minus frames a second in the high byte, ticks a frame in the low one
        frames = -(ticks >> 8)
        tick, fixed = 1.0 / ((30000 / 1001 if frames == 29 else frames) * (ticks & 0xFF)), True
    else:
        tick, fixed = MICROSECONDS / ticks / 1e6, False
    now = since = 0
    seconds = 0.0
    for message in mido.merge_tracks(file.tracks):
        now += message.time
        if message.is_meta:
            if message.type == "set_tempo" and not fixed:
                seconds, since = seconds + (now - since) * tick, now
                tick = message.tempo / ticks / 1e6
            continue
        yield seconds + (now - since) * tick, message


# -- writing --------------------------------------------------------------------------------------------------------


class TakeWriter:
    """Writes a take as it happens. ``event``, ``action`` and ``wrong`` never wait and never raise."""

    def __init__(self, path: str | Path, header: Header) -> None:
        """Raises PlayerError when the file cannot be made; an older file of that name is never written over."""
        self.path = Path(path)
        try:
            self.path.parent.mkdir(parents=True, exist_ok=True)
            self._file = os.open(self.path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND, 0o644)
        except FileExistsError:
            there = "there is a take of that name already; give another name"
            why = there if self.path.is_file() else "what should be a folder is a file"
            raise PlayerError(f"{path}: {why}") from None
        except OSError as error:
            raise PlayerError(f"{path}: the take cannot be written there: {error.strerror}") from None
        self._lines: SimpleQueue[str | None] = SimpleQueue()
        self._trouble: SimpleQueue[str] = SimpleQueue()
        self._told = False
        self._rest = b""
        """What is left of the line that is being written."""
        self._unsafe = False
        """Whether something was written that may be lost when the machine goes off."""
        self._lines.put(as_line(header_as_json(header)))
        self._thread = threading.Thread(target=self._work, name="take", daemon=True)
        self._thread.start()

    def event(self, event: Event) -> None:
        """Write an event."""
        self._lines.put(as_line(as_json(event)))

    def action(self, action: Action) -> None:
        """Write an action."""
        self._lines.put(as_line(as_json(action)))

    def wrong(self, text: str) -> None:
        """Write what went wrong."""
        self._lines.put(as_line({"wrong": text}))

    def trouble(self) -> str:
        """What the player should know, once; else empty."""
        try:
            return self._trouble.get_nowait()
        except Empty:
            return ""

    def close(self) -> None:
        """Write what is left, and close."""
        self._lines.put(None)
        self._thread.join()
        os.close(self._file)

    # From here on everything runs in the writer's own thread.

    def _work(self) -> None:
        waiting: deque[bytes] = deque(maxlen=KEPT)
        going_on, safe_at = True, time.monotonic()
        while going_on:
            try:
                line = self._lines.get(timeout=AGAIN if waiting else SAFE if self._unsafe else None)
                while line is not None:
                    waiting.append(line.encode("utf-8", "backslashreplace") + b"\n")
                    line = self._lines.get_nowait()
                going_on = False
            except Empty:
                pass
            self._put(waiting)
            if self._unsafe and (not going_on or time.monotonic() - safe_at >= SAFE):
                self._make_safe()
                safe_at = time.monotonic()

    def _make_safe(self) -> None:
        """See to it that what was written outlives the machine."""
        self._unsafe = False
        with suppress(OSError):  # a file that is no file on a disk cannot be made safer
            os.fsync(self._file)

    def _put(self, waiting: deque[bytes]) -> None:
        """Write what waits; what the disk does not take goes on waiting."""
        try:
            while self._rest or waiting:
                self._rest = self._rest or waiting.popleft()
                self._rest = self._rest[os.write(self._file, self._rest) :]
                self._unsafe = True
        except OSError as error:
            if not self._told:
                self._told = True
                self._trouble.put(f"the take cannot be written now ({error.strerror}); the music goes on")
