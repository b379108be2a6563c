"""What tests of sound ask of a waveform."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from liveassist.ears.tone import REGISTRATIONS, frequency

RATE = 48_000
Sound = NDArray[np.floating]


def strongest(sound: Sound, low: float, high: float, rate: int = RATE) -> float:
    """The strongest frequency within a range, to a hundredth of a hertz or so (parabola through the peak of the FFT)."""
    window = np.hanning(len(sound))
    spectrum = np.log(np.abs(np.fft.rfft(sound * window, 8 * len(sound))) + 1e-12)
    step = rate / (8 * len(sound))
    first, last = round(low / step), round(high / step)
    peak = first + int(np.argmax(spectrum[first:last]))
    before, at, after = spectrum[peak - 1 : peak + 2]
    return float((peak + 0.5 * (before - after) / (before - 2 * at + after)) * step)


def dbfs(sound: Sound) -> float:
    """The root mean square in decibels, a full-scale square being 0."""
    return float(20 * np.log10(np.sqrt(np.mean(np.square(sound, dtype=np.float64)))))


def steepest(part: str, key: int) -> float:
    """The largest step between samples that the held tone can have: each partial's amplitude times its angle a sample."""
    registration = REGISTRATIONS[part]
    partials = np.array(registration.partials)
    scale = 10 ** (registration.level / 20) / np.sqrt(np.sum(partials[:, 1] ** 2) / 2)
    return float(scale * np.sum(partials[:, 1] * 2 * np.pi * partials[:, 0] * frequency(key) / RATE))


def onsets(sound: Sound, rate: int = RATE) -> list[float]:
    """Where sound begins after ten milliseconds of silence or more, in seconds."""
    sounding = np.flatnonzero(np.abs(sound) > 1e-6)
    first = np.diff(sounding, prepend=-rate) > rate // 100
    return [float(at) / rate for at in sounding[first]]
