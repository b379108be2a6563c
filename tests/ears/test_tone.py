"""The organ tone: in tune, soft at both ends, and never louder than it may be."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liveassist.ears.tone import (
    CEILING,
    CLICK_SECONDS,
    KNEE,
    PARTS,
    REGISTRATIONS,
    Organ,
    Played,
    Samples,
    frequency,
    limited,
    render,
)
from tests.ears.waveforms import RATE, dbfs, steepest, strongest

SERVICE_CHORD = [
    *(Played(part="figure", key=key, on=0.1, off=1.9) for key in (57, 60, 64, 67)),
    Played(part="melody", key=76, on=0.1, off=1.9),
    Played(part="bass", key=45, on=0.1, off=1.9),
]


def held(part: str, key: int, seconds: float = 2.0) -> Samples:
    return render([Played(part=part, key=key, on=0.0, off=seconds + 1.0)], seconds)


@pytest.mark.parametrize(
    ("key", "hertz"),
    # Equal temperament, A4 = 440 Hz (ISO 16); the values stand in any table of it.
    [(36, 65.406), (45, 110.0), (48, 130.813), (57, 220.0), (60, 261.626), (69, 440.0), (76, 659.255), (96, 2093.005)],
)
def test_each_key_sounds_in_equal_temperament(key, hertz):
    assert frequency(key) == pytest.approx(hertz, abs=0.001)
    for part in ("figure", "melody", "bass"):
        heard = strongest(held(part, key, 1.0)[RATE // 10 :], hertz * 0.9, hertz * 1.1)
        assert 1200 * abs(np.log2(heard / hertz)) < 1.0, f"{part} is more than a cent out of tune"


def test_the_pedal_speaks_an_octave_below_too():
    # 8' sounds as written, 16' an octave lower; low C at 16' is 32.7 Hz (common practice).
    sound = held("bass", 36)[RATE // 10 :]
    assert strongest(sound, 20.0, 45.0) == pytest.approx(32.70, abs=0.1)


def test_a_service_chord_is_about_twenty_decibels_below_full_scale():
    assert dbfs(render(SERVICE_CHORD, 2.0)[RATE // 2 : RATE]) == pytest.approx(-20.0, abs=1.5)


def test_every_key_of_the_organ_at_once_stays_below_the_ceiling():
    sound = render([Played(part=part, key=key, on=0.0, off=9.0) for part in PARTS for key in range(36, 97)], 0.3)
    assert np.max(np.abs(sound)) <= CEILING
    assert np.max(np.abs(sound)) > KNEE  # the case is loud enough to mean something


@given(st.lists(st.floats(-50, 50), min_size=1, max_size=40))
def test_the_limiter_keeps_the_ceiling_the_order_and_everything_below_the_knee(values):
    samples = np.sort(np.array(values))
    bent = limited(samples)
    assert np.all(np.abs(bent) <= CEILING)
    assert np.all(np.diff(bent) >= 0)
    quiet = np.abs(samples) <= KNEE
    assert np.array_equal(bent[quiet], samples[quiet])


@pytest.mark.parametrize("part", REGISTRATIONS)
@pytest.mark.parametrize("off", [0.2, 0.203, 0.205])
def test_no_click_where_a_note_begins_ends_or_is_struck_again(part, off):
    notes = [Played(part=part, key=57, on=0.1, off=off), Played(part=part, key=57, on=off, off=0.4)]
    sound = render(notes, 0.6)
    assert np.max(np.abs(np.diff(sound))) < 1.5 * steepest(part, 57)  # two tones overlap for one release
    # A click is energy far above the tone's own partials (the highest here is 8 x 220 Hz).
    spectrum = np.abs(np.fft.rfft(sound)) ** 2
    high = np.fft.rfftfreq(len(sound), 1 / RATE) > 6000
    assert 10 * np.log10(np.sum(spectrum[high]) / np.sum(spectrum)) < -70


def test_silence_before_the_first_key_and_after_the_last_release():
    sound = render(SERVICE_CHORD, 2.5)
    assert not np.any(sound[: RATE // 10])
    assert not np.any(sound[2 * RATE :])
    assert np.any(sound[RATE // 10 : 2 * RATE])


@settings(max_examples=20, deadline=None)
@given(st.lists(st.integers(1, 3000), min_size=1, max_size=8))
def test_a_tone_is_the_same_in_blocks_of_any_size(sizes):
    whole, organ = Organ(), Organ()
    for one in (whole, organ):
        one.press("melody", 69)
        one.press("click", 76)
    pieces = np.concatenate([organ.next(size) for size in sizes])
    assert np.allclose(pieces, whole.next(sum(sizes)), atol=1e-9)


def test_a_click_is_short_soft_edged_and_gone():
    sound = render([Played(part="click", key=76, on=0.1, off=0.2)], 0.5)
    start = RATE // 10
    assert not np.any(sound[start + round(CLICK_SECONDS * RATE) :])
    assert abs(sound[start]) == 0.0
    assert 0.02 < np.max(np.abs(sound)) < KNEE


def test_an_organ_is_silent_after_the_last_release():
    organ = Organ()
    organ.press("figure", 60)
    organ.press("bass", 36)
    organ.next(4800)
    organ.release("bass", 36)
    organ.release("bass", 36)
    organ.next(4800)
    assert not organ.silent
    organ.release_all()
    organ.next(4800)
    assert organ.silent


def test_an_unknown_part_is_told_what_there_is():
    with pytest.raises(ValueError, match="figure, answer, melody, bass, click"):
        Organ().press("zink", 60)
