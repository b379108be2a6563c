"""The stream: lines in from one thread, samples out to another.

Two kinds of lines. What a player has just pressed cannot be foretold: it sounds a block of the device after it came, and such
lines keep their distances to the sample; a delay that never changes is one that a player can live with. What stands on a
schedule (``@T``: seconds of the monotonic clock) is told ahead, and leaves the device at its time: the samples that wait in the
device's blocks are allowed for. What is told too late for that is not played late but left out.

    on PART KEY, off PART KEY      a key of the organ
    on click KEY                   a click; ``@T on click KEY``: in the ears, on time
    clip NAME, @T clip NAME        a sign or a word, in the player's ears
    @T forget                      what is scheduled for later than T is forgotten
    still                          all that is scheduled is forgotten, the ears are silent, and the click comes back softly
    silence                        the same, and every key is let go
    offset NUMBER MS               an earpiece (0 the player's, 1 the drummer's) hears so much later
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from queue import Empty, SimpleQueue

import numpy as np

from liveassist.ears.clips import SIGNS, sign
from liveassist.ears.device_clock import DeviceClock
from liveassist.ears.earpiece import Earpiece
from liveassist.ears.tone import CLICK, PARTS, Organ, Samples, limited, tick

PERIODS = 3
"""Blocks of samples that a device holds."""
STALLED = 1.0
"""A device that has asked for nothing for so long, in seconds, has stopped."""
NEVER = float("-inf")
LATE = 0.010
"""Something scheduled that would come later than this, in seconds, is left out."""


@dataclass(frozen=True, slots=True)
class Line:
    """One thing to do."""

    at: float
    """When it came, or its time on the schedule, in seconds of the monotonic clock."""
    word: str
    """"on", "off", "clip", "forget", "still", "silence" or "offset"."""
    part: str = ""
    """A part, or the name of a clip."""
    key: int = 0
    """A key, or the number of an earpiece."""
    scheduled: bool = False
    value: float = 0.0
    """Milliseconds of an offset."""


def read_line(text: str, at: float) -> Line:
    """``"on figure 60"`` to a line. Raises ValueError saying what would fit."""
    words = text.split()
    scheduled = bool(words) and words[0].startswith("@")
    try:
        if scheduled:
            at = float(words.pop(0)[1:])
        match words:
            case [("silence" | "still") as word] if not scheduled:
                return Line(at, word)
            case ["forget"] if scheduled:
                return Line(at, "forget", scheduled=True)
            case ["clip", name]:
                return Line(at, "clip", name, scheduled=scheduled)
            case ["offset", ("0" | "1") as number, milliseconds] if not scheduled:
                return Line(at, "offset", key=int(number), value=float(milliseconds))
            case [("on" | "off") as word, part, key] if part in PARTS and key.isdigit() and int(key) < 128:
                if not scheduled or (word, part) == ("on", CLICK):
                    return Line(at, word, part, int(key), scheduled)
    except ValueError:
        pass
    parts = ", ".join(PARTS)
    raise ValueError(
        f'"{text.strip()}": I can read on PART KEY, off PART KEY, silence and quit; parts are {parts}, keys 0-127;'
        " and @SECONDS on click KEY, clip NAME, load NAME FILE, forget, still, offset NUMBER MS"
    )


class Stream:
    """What a device plays: the organ in both ears, and in each earpiece what is told for it."""

    def __init__(self, organ: Organ, began: float, ears: Sequence[Earpiece] = ()) -> None:
        self._organ, self._ears = organ, tuple(ears)
        self._clock = DeviceClock(organ.rate)
        self._lines: SimpleQueue[Line] = SimpleQueue()
        self._waiting: list[tuple[int, int, float, Callable[[], None]]] = []
        """Sample, order of coming, its time where it is for the ears (else ``NEVER``), what to do."""
        self._count = 0
        self._latest = began
        self._ticks: dict[int, Samples] = {}
        self.clips: dict[str, Samples] = {name: sign(name, organ.rate) for name in SIGNS}
        self.late = 0
        """What was told too late, and left out."""

    @property
    def buffered(self) -> float:
        """Seconds of samples that wait in the device when it asks for more."""
        return (PERIODS - 1) * self._clock.block

    @property
    def latency(self) -> float:
        """Seconds from a line that was not foretold to its sound, as far as this end of the device knows."""
        return self._clock.block + self.buffered

    def put(self, line: Line) -> None:
        """Take a line."""
        self._lines.put(line)

    def load(self, clips: Mapping[str, Samples]) -> None:
        """Know more clips by name."""
        self.clips = {**self.clips, **clips}

    def block(self, frames: int, now: float) -> Samples:
        """The next so many samples, a column an ear.

        Args:
            frames: how many samples the device wants.
            now: when it asks, in seconds of the clock that stamped the lines.
        """
        start = self._clock.position
        self._latest = now
        self._clock.asked(frames, now)
        for line in self._came():
            self._place(line, start)
        pieces: list[Samples] = []
        done = 0
        while self._waiting and self._waiting[0][0] < start + frames:
            sample, _, _, act = heapq.heappop(self._waiting)
            until = min(max(sample - start, done), frames)
            pieces.append(self._next(until - done))
            done = until
            act()
        pieces.append(self._next(frames - done))
        return np.concatenate(pieces)

    def stalled(self, now: float) -> bool:
        """Whether the device has stopped asking for samples."""
        return now - self._latest > STALLED

    def _next(self, frames: int) -> Samples:
        mix = np.repeat(self._organ.next(frames)[:, None], 2, axis=1)
        return limited(sum((ear.next(frames) for ear in self._ears), mix)) if self._ears else mix

    def _came(self) -> list[Line]:
        came: list[Line] = []
        try:
            while True:
                came.append(self._lines.get_nowait())
        except Empty:
            return came

    def _place(self, line: Line, start: int) -> None:
        """Where a line belongs among the samples, ``start`` being the first that can still be made."""
        if line.word in ("silence", "still", "forget"):  # at once
            since = line.at if line.word == "forget" else NEVER
            self._waiting = [item for item in self._waiting if item[2] == NEVER or item[2] <= since]
            heapq.heapify(self._waiting)
            for ear in self._ears if line.word != "forget" else ():
                ear.hush()
        if line.word == "offset":
            if line.key < len(self._ears):
                self._ears[line.key].offset = line.value / 1000.0
        elif self._ears and (line.word == "clip" or (line.scheduled and line.part == CLICK)):
            self._place_in_ears(line, start)
        elif line.word in ("on", "off", "silence") and not line.scheduled:
            self._wait(max(self._clock.sample_at(line.at + self._clock.block), start), partial(self._do, line))

    def _place_in_ears(self, line: Line, start: int) -> None:
        ears = self._ears if line.word == "on" else self._ears[:1]
        for ear in ears:
            sample = start
            if line.scheduled:
                sample = self._clock.sample_at(line.at + ear.offset - self.buffered)
                if sample < start - LATE * self._clock.rate:
                    self.late += 1
                    continue
            if line.word == "on":
                act = partial(ear.click, self._tick(line.key))
            elif line.part in self.clips:
                act = partial(ear.clip, self.clips[line.part])
            else:
                continue
            self._wait(max(sample, start), act, line.at)

    def _tick(self, key: int) -> Samples:
        if key not in self._ticks:
            self._ticks[key] = tick(key, self._organ.rate)
        return self._ticks[key]

    def _wait(self, sample: int, act: Callable[[], None], at: float = NEVER) -> None:
        self._count += 1
        heapq.heappush(self._waiting, (sample, self._count, at, act))

    def _do(self, line: Line) -> None:
        if line.word == "on":
            self._organ.press(line.part, line.key)
        elif line.word == "off":
            self._organ.release(line.part, line.key)
        else:
            self._organ.release_all()
