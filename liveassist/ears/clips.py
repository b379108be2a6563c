"""Clips: short sounds made before they are needed. Words that are spoken, read from WAV files, and signs, which are a few soft
sines.

The signs are the player's alone, because the eyes are on the hymnal: quiet, short, and each with a contour of its own (a
drawing of ours): *armed* rises, *waiting* is one tone repeated, *doubt* wavers down a half step and back, *lost* falls,
*takeover* falls an octave at once, *call* is two rising tones where no word can be spoken.
"""

from __future__ import annotations

import wave
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from liveassist.ears.tone import RATE, Samples, ramp
from liveassist.ears.voice import LONGEST, NOTHING, WIDTHS
from liveassist.errors import PlayerError

SIGN_LEVEL, WORD_LEVEL = -34.0, -28.0
"""dBFS (root mean square) of a sign and of a spoken word, where the click is at its usual level."""
SIGN_NOTE = 0.07
"""Seconds of each tone of a sign."""
SIGNS: dict[str, tuple[float, ...]] = {
    "armed": (660.0, 880.0, 990.0),
    "waiting": (740.0, 0.0, 740.0),
    "doubt": (622.0, 587.0, 622.0),
    "lost": (622.0, 466.0, 349.0),
    "takeover": (880.0, 440.0),
    "call": (523.0, 784.0),
}
"""Hertz of each tone; 0 is a rest."""
SOFT_ENDS = 0.008
"""Seconds of the ramps at both ends of every tone and of every word."""


def sign(name: str, rate: int = RATE) -> Samples:
    """The sound of a sign."""
    return np.concatenate([_tone(hertz, rate) for hertz in SIGNS[name]])


def _tone(hertz: float, rate: int) -> Samples:
    steps = np.arange(round(SIGN_NOTE * rate))
    wave_ = np.sqrt(2.0) * 10.0 ** (SIGN_LEVEL / 20.0) * np.sin(2.0 * np.pi * hertz * steps / rate)
    return _soft(wave_, rate)


def _soft(samples: Samples, rate: int) -> Samples:
    """The same with a ramp at both ends."""
    length = min(round(SOFT_ENDS * rate), len(samples) // 2)
    steps = np.arange(len(samples))
    return np.asarray(samples * ramp(steps / max(length, 1)) * ramp((len(samples) - 1 - steps) / max(length, 1)))


def read_word(path: str | Path, rate: int = RATE) -> Samples:
    """A word from a WAV file: one channel, at our rate, at ``WORD_LEVEL``, without the silence at its ends.

    Raises:
        PlayerError: a file that is not there, or no WAV file of whole numbers (8, 16, 24 or 32 bits).
    """
    try:
        with wave.open(str(path), "rb") as file:
            width, channels, its_rate = file.getsampwidth(), file.getnchannels(), file.getframerate()
            data = file.readframes(min(file.getnframes(), round(LONGEST * its_rate)))
    except (OSError, EOFError, wave.Error) as error:
        raise PlayerError(f"{path}: I cannot read it as a WAV file ({error or 'it ends too early'})") from None
    if width not in WIDTHS:
        raise PlayerError(f"{path}: its samples have {8 * width} bits; I can read 8, 16, 24 or 32")
    whole = len(data) - len(data) % (width * channels)
    mono = _numbers(data[:whole], width).reshape(-1, channels).mean(axis=1)
    loudest = float(np.max(np.abs(mono), initial=0.0))
    if loudest == 0.0:
        raise PlayerError(f"{path}: there is nothing to hear in it")
    heard = np.flatnonzero(np.abs(mono) > NOTHING * loudest)
    mono = mono[heard[0] : heard[-1] + 1]
    steps = np.arange(max(2, round(len(mono) * rate / its_rate))) * its_rate / rate
    mono = np.interp(steps, np.arange(len(mono)), mono)
    level = 10.0 ** (WORD_LEVEL / 20.0)
    return _soft(mono * level / max(float(np.sqrt(np.mean(mono**2))), 1e-9), rate)


def _numbers(data: bytes, width: int) -> NDArray[np.float64]:
    """PCM to floats: unsigned in one byte, signed little-endian in more (the WAV format's own rule)."""
    if width == 1:
        return np.frombuffer(data, np.uint8).astype(float) - 128.0
    if width == 3:
        padded = np.zeros((len(data) // 3, 4), np.uint8)
        padded[:, 1:] = np.frombuffer(data, np.uint8).reshape(-1, 3)
        return padded.reshape(-1).view("<i4").astype(float)
    return np.frombuffer(data, {2: "<i2", 4: "<i4"}[width]).astype(float)
