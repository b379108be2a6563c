"""The sound of a room: it falls by 60 dB in the time asked for, and says the same every time."""

from __future__ import annotations

import numpy as np
import pytest

from liveassist.ears.rendering import render
from liveassist.ears.room import SHARE, clap, in_room
from liveassist.ears.tone import Played
from tests.ears.waveforms import RATE, dbfs

SIZE = 1000
SMALL = 0.05


def octave(sound, centre):
    """What lies within an octave around a frequency."""
    size = 2 * len(sound)  # room for what the filter spreads
    spectrum = np.fft.rfft(sound, size)
    hertz = np.fft.rfftfreq(size, 1 / RATE)
    spectrum[(hertz < centre / np.sqrt(2)) | (hertz > centre * np.sqrt(2))] = 0
    return np.fft.irfft(spectrum, size)[: len(sound)]


def reverberation_time(sound):
    """Three times the time from -5 to -25 dB of what is still to come (T20 of ISO 3382; Schroeder 1965)."""
    left = np.cumsum(sound[::-1] ** 2)[::-1]
    level = 10 * np.log10(left / left[0] + 1e-12)
    return 3 * (np.argmax(level < -25) - np.argmax(level < -5)) / RATE


@pytest.mark.parametrize("room", [1.0, 1.8, 4.0])
@pytest.mark.parametrize("centre", [250, 500, 1000])
def test_the_middle_octaves_fall_by_sixty_decibels_in_the_time_asked_for(room, centre):
    for ear in clap(room, RATE).T:
        assert reverberation_time(octave(ear, centre)) == pytest.approx(room, rel=0.12)


def test_the_treble_dies_sooner():
    left = clap(2.0, RATE)[:, 0]
    assert reverberation_time(octave(left, 8000)) < 0.7 * reverberation_time(octave(left, 500))


def test_each_ear_hears_the_room_from_another_side_and_as_loud():
    left, right = clap(1.8, RATE).T
    assert abs(np.corrcoef(left, right)[0, 1]) < 0.1
    assert np.sum(left**2) == pytest.approx(SHARE)
    assert np.sum(right**2) == pytest.approx(SHARE)


def test_block_by_block_is_the_same_as_all_at_once():
    # Against numpy's own convolution, which is slow: a small room, whose tail reaches beyond two blocks all the same.
    assert len(clap(SMALL, RATE)) > 2 * SIZE
    dice = np.random.default_rng(3)
    dry = dice.standard_normal((SIZE * 5 + 123, 2)).astype(np.float32)
    blocks = [dry[at : at + SIZE] for at in range(0, len(dry), SIZE)]
    wet = np.concatenate(list(in_room(blocks, SMALL, size=SIZE, rate=RATE)))
    for ear in (0, 1):
        whole = np.convolve(dry[:, ear], clap(SMALL, RATE)[:, ear])[: len(dry)] + dry[:, ear]
        assert np.allclose(wet[:, ear], whole / np.sqrt(1 + SHARE), atol=1e-4)


def test_a_chord_in_a_room_has_its_level_and_a_tail():
    chord = [Played(part="figure", key=key, on=0.1, off=2.0) for key in (55, 59, 62, 67)]
    dry = np.concatenate(list(render(chord, seconds=5.0)))
    wet = np.concatenate(list(render(chord, seconds=5.0, room=2.0)))
    assert dbfs(wet[RATE : 2 * RATE]) == pytest.approx(dbfs(dry[RATE : 2 * RATE]), abs=2.0)
    at_once, later = wet[round(2.05 * RATE) : round(2.15 * RATE)], wet[round(3.05 * RATE) : round(3.15 * RATE)]
    assert dbfs(at_once) - dbfs(later) == pytest.approx(30.0, abs=6.0)  # half of two seconds, half of 60 dB
    assert np.max(np.abs(np.diff(wet, axis=0))) < 2 * np.max(np.abs(np.diff(dry, axis=0)))  # no click
