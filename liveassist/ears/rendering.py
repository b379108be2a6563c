"""Sound made ahead of time: a whole song of timed notes as blocks of samples, and as a WAV file.

Conventions: a block is an array of (frames, 2), left and right, as floats of which 1.0 is full scale. It is the tone of
``liveassist.ears.tone``, partial by partial, but made faster than it is heard: every key of a part begins at the same phase,
so the wave of a key is worked out once, in slices, and each note is a stretch of it between two ramps. Only so many slices
are kept, so a long song needs no more memory than a short one. There are no dice: equal notes give equal bytes.

Each part has a place between the ears, so that the figure is told from the tune. The level is that of a full chord: four keys
of figure, one of tune and one of pedal. Whatever the level, no sample passes the ceiling of ``liveassist.ears.tone``.
"""

from __future__ import annotations

import wave
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from math import log10
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from charts.whole import whole_file
from liveassist.ears.room import LONGEST, in_room
from liveassist.ears.tone import (
    CLICK,
    KNEE,
    RATE,
    REGISTRATIONS,
    Played,
    limited,
    partials,
    ramp,
    ramp_lengths,
    tick,
)
from liveassist.errors import PlayerError

Block = NDArray[np.float32]
Wave = NDArray[np.float32]

BLOCK = 12_000
"""Frames of a block, and of a slice of a key's wave: a quarter of a second."""
SLICES = 1024
"""Slices kept: some 50 MB at most."""
FULL_CHORD = -20.0
"""dBFS of a full chord, both ears alike, where nothing else is asked for."""
LEVELS = (-60.0, -16.0)
"""The softest and the loudest that may be asked for; louder chords would be bent by the ceiling most of the time."""
TAIL = 0.25
"""Seconds of silence after the last note."""
PLACES = {"figure": -0.25, "answer": -0.25, "melody": 0.25, "bass": 0.0, CLICK: 0.0}
"""Where each part stands: -1 is the left ear, 0 the middle, 1 the right."""
FULL_SCALE = 32_767
"""Of a sample of 16 bits."""


@dataclass(frozen=True, slots=True)
class _Note:
    """A note in samples."""

    part: str
    key: int
    start: int
    stop: int
    """Where the key is let go."""
    end: int
    """Where it is silent."""


def length_of(notes: Sequence[Played], room: float = 0.0) -> float:
    """Seconds that a rendering of these notes takes, until the room and a moment of silence after it."""
    return max((note.off for note in notes), default=0.0) + room + TAIL


def render(
    notes: Sequence[Played],
    *,
    seconds: float | None = None,
    level: float = FULL_CHORD,
    room: float = 0.0,
    rate: int = RATE,
) -> Iterator[Block]:
    """The sound of notes, block by block.

    Args:
        notes: in any order. A key that is struck again while down speaks anew; a note that ends before it begins is none.
        seconds: length of the whole, where what still sounds breaks off; without, a little more than the last note needs.
        level: dBFS of a full chord, within ``LEVELS``.
        room: seconds of reverberation that are heard; 0 is the organ alone.
        rate: samples a second.

    Yields:
        blocks of ``BLOCK`` frames; the last may be shorter.

    Raises:
        ValueError: a part that has no sound, or a level out of range.
    """
    low, high = LEVELS
    if not low <= level <= high:
        raise ValueError(f"a level of {level:g} dBFS is out of range; I can play from {low:g} to {high:g}")
    unknown = sorted({note.part for note in notes} - set(PLACES))
    if unknown:
        raise ValueError(f'"{unknown[0]}" is not a part I can sound; I know {", ".join(PLACES)}')
    if not 0.0 <= room <= LONGEST:
        raise ValueError(f"a room of {room:g} s is out of range; I can sound from 0 to {LONGEST:g}")
    whole = round((length_of(notes, room) if seconds is None else seconds) * rate)
    blocks = _blocks(_in_samples(notes, rate), whole, np.float32(10.0 ** ((level - FULL_CHORD) / 20.0)), rate)
    return _below_the_ceiling(in_room(blocks, room, size=BLOCK, rate=rate) if room else blocks)


def _below_the_ceiling(blocks: Iterable[Block]) -> Iterator[Block]:
    for block in blocks:
        yield block if np.max(np.abs(block)) <= KNEE else limited(block).astype(np.float32)


def _in_samples(notes: Sequence[Played], rate: int) -> list[_Note]:
    """Notes in order of their starts, each key let go before it is struck again."""
    struck: dict[tuple[str, int], int] = {}
    found = []
    for note in sorted(notes, key=lambda note: (note.on, note.part, note.key), reverse=True):
        start, stop = round(note.on * rate), round(note.off * rate)
        stop = min(stop, struck.get((note.part, note.key), stop))
        if stop <= start:
            continue
        struck[note.part, note.key] = start
        end = start + len(_tick(note.key, rate)) if note.part == CLICK else stop + _lengths(note.part, rate)[1]
        found.append(_Note(note.part, note.key, start, stop, end))
    return found[::-1]


def _blocks(notes: Sequence[_Note], whole: int, gain: np.float32, rate: int) -> Iterator[Block]:
    sounding: list[_Note] = []
    coming = 0
    for begin in range(0, whole, BLOCK):
        end = min(begin + BLOCK, whole)
        while coming < len(notes) and notes[coming].start < end:
            sounding.append(notes[coming])
            coming += 1
        sounding = [note for note in sounding if note.end > begin]
        parts: dict[str, Wave] = {}
        for note in sounding:
            mix = parts.get(note.part)
            if mix is None:
                mix = parts[note.part] = np.zeros(end - begin, np.float32)
            _add(note, mix, begin, rate)
        block = np.zeros((end - begin, 2), np.float32)
        for part, mix in parts.items():
            block += mix[:, None] * _ears(part)
        yield block * gain


def _add(note: _Note, mix: Wave, begin: int, rate: int) -> None:
    """Add what sounds of a note from sample ``begin`` on."""
    first, last = max(note.start, begin), min(note.end, begin + len(mix))
    while first < last:
        age = first - note.start
        index, within = divmod(age, BLOCK)
        until = min(last, first + BLOCK - within)
        if note.part == CLICK:
            piece = _tick(note.key, rate)[age : age + until - first]
        else:
            piece = _slice(note.part, note.key, index, rate)[within : within + until - first]
            attack, release = _lengths(note.part, rate)
            if age < attack:
                piece = piece * ramp(np.arange(age, age + len(piece)) / attack).astype(np.float32)
            if until > note.stop:
                left = note.stop + release - np.arange(first, until)
                piece = piece * ramp(left / release).astype(np.float32)
        mix[first - begin : until - begin] += piece
        first = until


@lru_cache(maxsize=SLICES)
def _slice(part: str, key: int, index: int, rate: int) -> Wave:
    """A stretch of a key's wave, ``BLOCK`` samples from ``BLOCK`` times ``index`` on, without its ramps.

    The partials are multiples of one sine, so their sum is worked out from it and its cosine alone (Clenshaw's recurrence:
    sin (k+1)x = 2 cos x sin kx - sin (k-1)x).
    """
    turns, amplitudes = partials(REGISTRATIONS[part], key, rate)
    lowest = float(turns[0])
    root = lowest if np.allclose(turns / lowest, np.round(turns / lowest)) else lowest / 2
    weights = np.zeros(round(float(turns.max()) / root) + 1)
    for turn, amplitude in zip(turns, amplitudes, strict=True):
        weights[round(float(turn) / root)] += amplitude
    steps = np.arange(index * BLOCK, (index + 1) * BLOCK, dtype=np.float64)
    angle = 2.0 * np.pi * ((steps * root) % 1.0)
    twice = 2.0 * np.cos(angle)
    later = np.zeros(BLOCK)
    latest = np.zeros(BLOCK)
    for weight in weights[:0:-1]:
        later, latest = latest, weight + twice * latest - later
    return (latest * np.sin(angle)).astype(np.float32)


def forget() -> None:
    """Let go of every wave that is kept."""
    _slice.cache_clear()


@lru_cache(maxsize=8)
def _tick(key: int, rate: int) -> Wave:
    return tick(key, rate).astype(np.float32)


@lru_cache(maxsize=16)
def _lengths(part: str, rate: int) -> tuple[int, int]:
    return ramp_lengths(REGISTRATIONS[part], rate)


@lru_cache(maxsize=16)
def _ears(part: str) -> Wave:
    """What each ear gets of a part: equal power wherever it stands, and all of it in both from the middle."""
    angle = (PLACES[part] + 1.0) * np.pi / 4.0
    return np.array([np.sqrt(2.0) * np.cos(angle), np.sqrt(2.0) * np.sin(angle)], np.float32)


# -- files ----------------------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Written:
    """What came of writing a file."""

    seconds: float
    peak: float
    """dBFS of the largest sample; minus infinity where all is silence."""
    loudest: float
    """dBFS of the loudest quarter of a second."""


def write_wav(
    path: str | Path, blocks: Iterable[Block], *, rate: int = RATE, told: Callable[[float], None] | None = None
) -> Written:
    """Write a WAV file: PCM, 16 bits, two channels. A file of that name is replaced, but only when all is written.

    Args:
        path: ends in ``.wav``.
        blocks: as from ``render``.
        rate: their samples a second.
        told: called after each block with the seconds written so far.

    Raises:
        PlayerError: the file cannot be written.
    """
    path = Path(path)
    if path.is_dir():
        raise PlayerError(f"{path} is a folder; name the WAV file to write")
    if path.suffix.casefold() != ".wav":
        raise PlayerError(f'{path}: I write WAV files; give it a name such as "{path.stem or "song"}.wav"')
    try:
        with whole_file(path) as opened, wave.open(opened, "wb") as file:
            file.setnchannels(2)
            file.setsampwidth(2)
            file.setframerate(rate)
            written = _write(file, blocks, rate, told)
    except OSError as error:
        raise PlayerError(f"{path}: cannot be written: {error.strerror}") from None
    return written


def _write(file: wave.Wave_write, blocks: Iterable[Block], rate: int, told: Callable[[float], None] | None) -> Written:
    frames, peak, power = 0, 0.0, 0.0
    for block in blocks:
        file.writeframes(np.round(block * FULL_SCALE).astype("<i2").tobytes())
        frames += len(block)
        peak = max(peak, float(np.max(np.abs(block), initial=0.0)))
        power = max(power, float(np.max(np.mean(np.square(block, dtype=np.float64), axis=0), initial=0.0)))
        if told:
            told(frames / rate)
    return Written(frames / rate, _decibels(peak), _decibels(power) / 2)


def _decibels(amplitude: float) -> float:
    return 20.0 * log10(amplitude) if amplitude > 0 else -float("inf")
