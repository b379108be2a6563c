"""An organ tone and a click, computed: for those with nothing plugged in.

Conventions: samples are floats, 1.0 is full scale; levels in dBFS are of the root mean square, a full-scale sine having
-3. Keys are MIDI key numbers, tuned in equal temperament to A4 = key 69 = 440 Hz (ISO 16). A stop is a sum of sine
waves: pairs of (multiple of the key's frequency, amplitude); 0.5 is the sixteen-foot octave below. Registrations are
drawings of our own; what they stand on is common practice: a flute is nearly a sine, a principal has a full row of
falling harmonics, a pedal speaks at 16' and 8'.

A held note is one wave that goes on for as long as it is held: no loop, no seam. Every tone begins and ends with a
raised-cosine ramp, so neither makes a click. What many tones add up to is bent smoothly below a ceiling that no sample
passes. Four keys of figure, one of melody and one of pedal together are about -20 dBFS.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Samples = NDArray[np.float64]

RATE = 48_000
"""Samples a second."""
A4 = 440.0


@dataclass(frozen=True, slots=True)
class Registration:
    """How one part sounds."""

    partials: tuple[tuple[float, float], ...]
    """(multiple of the key's frequency, amplitude)."""
    attack: float
    """Seconds to full speech."""
    release: float
    """Seconds to silence."""
    level: float
    """dBFS of one held note."""


FLUTES = Registration(((1, 1.0), (2, 0.45), (3, 0.06), (4, 0.10), (6, 0.03)), 0.015, 0.020, -30.0)
PRINCIPAL = Registration(
    ((1, 1.0), (2, 0.60), (3, 0.42), (4, 0.26), (5, 0.16), (6, 0.10), (8, 0.05)), 0.012, 0.020, -27.0
)
SIXTEEN_AND_EIGHT = Registration(
    ((0.5, 0.8), (1, 1.0), (1.5, 0.18), (2, 0.40), (3, 0.12), (4, 0.06)), 0.020, 0.025, -26.0
)
STRINGS = Registration(
    ((1, 0.7), (2, 0.8), (3, 0.7), (4, 0.55), (5, 0.42), (6, 0.3), (7, 0.2), (8, 0.14)), 0.045, 0.040, -30.0
)
PLENUM = Registration(
    ((1, 1.0), (2, 0.85), (3, 0.45), (4, 0.55), (6, 0.30), (8, 0.28), (12, 0.10), (16, 0.06)), 0.012, 0.020, -28.0
)
FULL_PEDAL = Registration(
    ((0.5, 1.0), (1, 1.0), (1.5, 0.3), (2, 0.6), (3, 0.35), (4, 0.25), (6, 0.10)), 0.020, 0.025, -25.0
)
DRAWN: dict[str, dict[str, Registration]] = {
    "flutes": {"figure": FLUTES, "answer": FLUTES, "melody": PRINCIPAL, "bass": SIXTEEN_AND_EIGHT},
    "principals": {"figure": PRINCIPAL, "answer": PRINCIPAL, "melody": PRINCIPAL, "bass": SIXTEEN_AND_EIGHT},
    "strings": {"figure": STRINGS, "answer": STRINGS, "melody": FLUTES, "bass": SIXTEEN_AND_EIGHT},
    "full": {"figure": PLENUM, "answer": PRINCIPAL, "melody": PRINCIPAL, "bass": FULL_PEDAL},
}
"""What is drawn for each part, by the name of the whole."""
REGISTRATIONS = DRAWN["flutes"]
"""What is drawn where nothing is asked for."""

CLICK = "click"
CLICK_SECONDS = 0.015
"""Short: little energy, so little to hurt; a dry tick."""
CLICK_LEVEL = -24.0
"""dBFS of the tick's loudest millisecond or so, as if it were a held note."""
CLICK_FREQUENCIES = {76: 1500.0, 77: 1000.0, 37: 2000.0}
"""By General MIDI percussion key: high wood block (bar), low wood block (beat), side stick (subdivision)."""
PARTS = (*REGISTRATIONS, CLICK)

KNEE, CEILING = 0.25, 0.5
"""Below the knee (-12 dB of full scale) nothing is bent; no sample passes the ceiling (-6 dB)."""


def frequency(key: int) -> float:
    """Hertz of a key in equal temperament: 440 for key 69 (ISO 16), twice that an octave above."""
    return float(A4 * 2.0 ** ((key - 69) / 12.0))


def limited(samples: NDArray[np.floating[Any]]) -> Samples:
    """Samples bent smoothly below the ceiling. It has no memory, so it cannot pump as a gain that comes and goes."""
    size = np.abs(samples)
    room = CEILING - KNEE
    bent = KNEE + room * np.tanh((size - KNEE) / room)
    return np.asarray(np.where(size <= KNEE, samples, np.sign(samples) * bent))


def partials(registration: Registration, key: int, rate: int) -> tuple[Samples, Samples]:
    """The sines of a key: for each the share of its circle that it turns in one sample, and its amplitude."""
    heard = [(m, a) for m, a in registration.partials if frequency(key) * m < 0.45 * rate]
    multiples, amplitudes = np.array(heard or [(1.0, 0.0)]).T
    power = float(np.sum(amplitudes**2) / 2.0)
    scale = 10.0 ** (registration.level / 20.0) / np.sqrt(power) if power else 0.0
    return frequency(key) * multiples / rate, amplitudes * scale


def ramp_lengths(registration: Registration, rate: int) -> tuple[int, int]:
    """Samples to full speech, and from the key's release to silence."""
    return max(round(registration.attack * rate), 1), max(round(registration.release * rate), 1)


def tick(key: int, rate: int) -> Samples:
    """A whole click: a sine that dies away under a raised-cosine end, begun from zero."""
    length = round(CLICK_SECONDS * rate)
    time = np.arange(length) / rate
    shape = np.exp(-time / (CLICK_SECONDS / 3.0)) * ramp(np.arange(length, 0, -1) / (length / 3.0))
    pitch = CLICK_FREQUENCIES.get(key, 1000.0)
    return np.asarray(np.sqrt(2.0) * 10.0 ** (CLICK_LEVEL / 20.0) * shape * np.sin(2.0 * np.pi * pitch * time))


class Tone:
    """One held key of one part."""

    def __init__(self, registration: Registration, key: int, rate: int) -> None:
        self._turns, self._amplitudes = partials(registration, key, rate)
        self._phase = np.zeros(len(self._turns))  # sines from zero: nothing to hear at the very first sample
        self._attack, self._release = ramp_lengths(registration, rate)
        self._age = 0
        self._left: int | None = None
        self.over = False

    def release(self) -> None:
        """Let the key go; the tone is over when the ramp is."""
        if self._left is None:
            self._left = self._release

    def next(self, frames: int) -> Samples:
        """The next so many samples. Moves on."""
        steps = np.arange(frames)
        turns = self._phase[:, None] + self._turns[:, None] * steps
        wave = self._amplitudes @ np.sin(2.0 * np.pi * turns)
        wave *= ramp((self._age + steps) / self._attack)
        if self._left is not None:
            wave *= ramp((self._left - steps) / self._release)
            self._left -= frames
            self.over = self._left <= 0
        self._phase = (self._phase + self._turns * frames) % 1.0
        self._age += frames
        return np.asarray(wave)


class Tick:
    """One click."""

    def __init__(self, key: int, rate: int) -> None:
        self._wave = tick(key, rate)
        self._at = 0
        self.over = False

    def next(self, frames: int) -> Samples:
        """The next so many samples. Moves on."""
        out = np.zeros(frames)
        piece = self._wave[self._at : self._at + frames]
        out[: len(piece)] = piece
        self._at += frames
        self.over = self._at >= len(self._wave)
        return out


class Organ:
    """Every key now down, and the sound of them all."""

    def __init__(self, rate: int = RATE, drawn: str = "") -> None:
        """``drawn``: a name from ``DRAWN``."""
        self.rate = rate
        self._drawn = DRAWN[drawn] if drawn else REGISTRATIONS
        self._held: dict[tuple[str, int], Tone] = {}
        self._sounding: list[Tone | Tick] = []

    @property
    def silent(self) -> bool:
        """Whether nothing sounds, not even the end of a note."""
        return not self._sounding

    def press(self, part: str, key: int) -> None:
        """Press a key of a part; pressed again while down, it speaks anew. Raises ValueError for an unknown part."""
        if part == CLICK:
            self._sounding.append(Tick(key, self.rate))
            return
        if part not in REGISTRATIONS:
            raise ValueError(f'"{part}" is not a part I can sound; I know {", ".join(PARTS)}')
        self.release(part, key)
        tone = self._held[part, key] = Tone(self._drawn[part], key, self.rate)
        self._sounding.append(tone)

    def release(self, part: str, key: int) -> None:
        """Let a key go; nothing happens where it is not down."""
        tone = self._held.pop((part, key), None)
        if tone is not None:
            tone.release()

    def release_all(self) -> None:
        """Let every key go."""
        for part, key in list(self._held):
            self.release(part, key)

    def next(self, frames: int) -> Samples:
        """The next so many samples of everything, limited. Moves on."""
        mix = np.zeros(frames)
        for tone in self._sounding:
            mix += tone.next(frames)
        self._sounding = [tone for tone in self._sounding if not tone.over]
        return limited(mix)


@dataclass(frozen=True, kw_only=True, slots=True)
class Played:
    """One note to render."""

    part: str
    key: int
    on: float
    """Seconds from the start."""
    off: float


def render(notes: Sequence[Played], seconds: float, rate: int = RATE) -> Samples:
    """So many seconds of sound with these notes in it, each begun and ended on its own sample."""
    organ = Organ(rate)
    whole = round(seconds * rate)
    real = [note for note in notes if note.off > note.on]
    turns = [(round(note.off * rate), 0, note) for note in real] + [(round(note.on * rate), 1, note) for note in real]
    pieces, now = [], 0
    for at, start, note in sorted(turns, key=lambda turn: turn[:2]):
        until = min(max(at, now), whole)
        pieces.append(organ.next(until - now))
        now = until
        if start:
            organ.press(note.part, note.key)
        else:
            organ.release(note.part, note.key)
    pieces.append(organ.next(whole - now))
    return np.concatenate(pieces)


def ramp(x: NDArray[np.float64]) -> Samples:
    """A raised cosine from 0 at 0 to 1 at 1, flat outside."""
    return np.asarray((1.0 - np.cos(np.pi * np.clip(x, 0.0, 1.0))) / 2.0)
