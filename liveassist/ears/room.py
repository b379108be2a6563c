"""The sound of a room: what a tone leaves behind when the key is up.

A room is a reverberation time: the seconds in which its sound falls by 60 dB (ISO 3382), meant for the middle octaves. Late
reverberation is much like noise that dies away (Moorer 1979, from memory), so what the room makes of a clap is noise,
another for each ear, with a short rise instead of first echoes; above ``BRIGHT`` it dies twice as fast, as air and people
take the treble first. The noise comes from a fixed seed: equal rooms give equal bytes. How loud the room is beside the organ,
and where the treble begins, are choices of ours.

Blocks are convolved with that clap piece by piece: it is cut into pieces as long as a block, and what each piece makes of the
blocks before is added up among spectra (uniformly partitioned convolution, Stockham 1966 and after, from memory).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable, Iterator

import numpy as np
from numpy.typing import NDArray

from liveassist.ears.tone import ramp

SHARE = 0.5
"""Power of the room beside that of the organ itself, for a tone long held."""
BRIGHT = 2500.0
"""Hertz."""
DELAY, RISE = 0.015, 0.010
"""Seconds before the room answers, and until it does in full."""
LONGEST = 15.0
"""Seconds of reverberation at most."""
SEED = 1


def clap(room: float, rate: int) -> NDArray[np.float64]:
    """What a room makes of one sample of full scale: (frames, 2), of power ``SHARE`` in each ear.

    Args:
        room: reverberation time in seconds, above 0.
        rate: samples a second.
    """
    frames = max(round(room * rate), 2)
    noise = np.random.default_rng(SEED).standard_normal((frames, 2))
    spectrum = np.fft.rfft(noise, axis=0)
    bright = np.clip((np.fft.rfftfreq(frames, 1.0 / rate) / BRIGHT - 0.5), 0.0, 1.0)[:, None]
    time = np.arange(frames)[:, None] / rate
    fall = 10.0 ** (-3.0 * time / room)  # 60 dB of level are three powers of ten of amplitude
    dark = np.fft.irfft(spectrum * (1.0 - bright), frames, axis=0)
    light = np.fft.irfft(spectrum * bright, frames, axis=0)
    heard = (dark * fall + light * fall**2) * ramp(time / RISE) * ramp((room - time) / RISE)
    delayed = np.concatenate((np.zeros((round(DELAY * rate), 2)), heard))
    return np.asarray(delayed * np.sqrt(SHARE / np.sum(delayed**2, axis=0)))


def in_room(
    blocks: Iterable[NDArray[np.float32]], room: float, *, size: int, rate: int
) -> Iterator[NDArray[np.float32]]:
    """The same blocks as they sound in a room, at the same level.

    Args:
        blocks: (frames, 2) each, ``size`` frames long but for the last.
        room: reverberation time in seconds.
        size: frames of a block.
        rate: samples a second.
    """
    whole = clap(room, rate)
    pieces = [np.fft.rfft(whole[at : at + size], 2 * size, axis=0) for at in range(0, len(whole), size)]
    before: deque[NDArray[np.complex128]] = deque(maxlen=len(pieces))
    over = np.zeros((size, 2))
    level = 1.0 / np.sqrt(1.0 + SHARE)
    for block in blocks:
        before.appendleft(np.fft.rfft(block, 2 * size, axis=0))
        total = sum(spectrum * piece for spectrum, piece in zip(before, pieces, strict=False))
        left = np.fft.irfft(total, 2 * size, axis=0)
        heard = (left[: len(block)] + over[: len(block)] + block) * level
        over = left[size:]
        yield heard.astype(np.float32)
