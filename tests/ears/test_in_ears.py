"""The click in the ears: on its sample, on its side, at its level, and never suddenly loud."""

from __future__ import annotations

import struct
import wave
from collections.abc import Callable, Iterable
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liveassist.ears.clips import SIGN_LEVEL, SIGNS, WORD_LEVEL, read_word, sign
from liveassist.ears.destination import HIGHEST, Destination, read_destination
from liveassist.ears.device_clock import DRIFT, DeviceClock
from liveassist.ears.earpiece import FADE, Earpiece
from liveassist.ears.stream import PERIODS, Line, Stream, read_line
from liveassist.ears.tone import CEILING, CLICK_LEVEL, Organ, Samples, tick
from liveassist.ears.voice import seconds
from liveassist.errors import PlayerError

RATE, FRAMES = 48_000, 960
BLOCK = FRAMES / RATE
START = 100.0


def device(
    stream: Stream,
    lines: Iterable[tuple[float, Line]],
    seconds: float,
    late: Callable[[int], float] = lambda number: 0.0,
    drift: float = 0.0,
) -> Samples:
    """What a device would play: filled at once, then asking whenever a block has been played, a little late now and then.
    Lines are told at the times that stand with them."""
    told = sorted(lines, key=lambda item: item[0])
    pieces = []
    for number in range(round(seconds / BLOCK)):
        now = START + max(0, number - PERIODS + 1) * BLOCK * (1.0 + drift) + late(number)
        while told and told[0][0] <= now:
            stream.put(told.pop(0)[1])
        pieces.append(stream.block(FRAMES, now))
    return np.concatenate(pieces)


def begins(sound: Samples) -> list[int]:
    """The samples at which clicks begin (a click's own first sample is silent: a sine from zero)."""
    loud = np.flatnonzero(np.abs(sound) > 1e-9)
    return [int(loud[0]) - 1, *(int(at) - 1 for before, at in pairwise(loud) if at - before > 500)]


def click_at(at: float) -> Line:
    return Line(at, "on", "click", 76, scheduled=True)


def in_ears(*destinations: Destination) -> Stream:
    return Stream(Organ(RATE), START, [Earpiece(where) for where in destinations or (Destination(),)])


@settings(max_examples=25, deadline=None)
@given(
    st.lists(st.floats(0.12, 1.1), min_size=2, max_size=12),
    st.lists(st.floats(0.0, 0.018), max_size=15),
)
def test_every_click_is_on_the_sample_of_its_schedule(gaps, lates):
    """Blocks asked for up to 18 ms late, but one in 16 in time; clicks told 150 ms ahead: the sample is the time's."""
    lates = [0.0, *lates]
    times = list(START + 0.4 + np.cumsum(gaps))
    told = [(at - 0.15, click_at(at)) for at in times]
    sound = device(
        in_ears(), told, times[-1] - START + 0.2, late=lambda number: lates[number % len(lates)] * (number > 2)
    )
    # A device that is filled at once plays sample n at START + n / RATE.
    assert begins(sound[:, 0]) == [round((at - START) * RATE) for at in times]


def test_a_device_that_runs_away_is_followed_in_steps_nobody_hears():
    """A part in 10,000 slow over two minutes, 12 ms in all: no interval is off by more than a millisecond and a sample."""
    times = [START + 0.5 + 0.5 * number for number in range(235)]
    sound = device(in_ears(), [(at - 0.15, click_at(at)) for at in times], 118.5, drift=1e-4)
    apart = np.diff(begins(sound[:, 0])) / RATE
    assert len(apart) == 234
    assert np.max(np.abs(apart - 0.5)) < DRIFT + 2 / RATE
    played = np.array(begins(sound[:, 0])) / RATE * (1 + 1e-4)
    assert np.max(np.abs(played - (np.array(times) - START))) < 2.5 * DRIFT + 1e-4


def test_two_destinations_have_their_side_level_and_offset():
    stream = in_ears(Destination("left", -24.0, 0.0), Destination("right", -36.0, 30.0))
    sound = device(stream, [(START + 0.3 + k * 0.5, click_at(START + 0.5 + k * 0.5)) for k in range(6)], 3.5)
    left, right = begins(sound[:, 0]), begins(sound[:, 1])
    assert left == [24000 * k for k in range(1, 7)]
    assert [there - here for here, there in zip(left, right, strict=True)] == [1440] * 6
    last = slice(left[-1], left[-1] + 5000)
    ratio = np.max(np.abs(sound[last, 0])) / np.max(np.abs(sound[last, 1]))
    assert 20 * np.log10(ratio) == pytest.approx(12.0, abs=0.01)


def test_a_click_earlier_than_the_beat():
    sound = device(in_ears(Destination(offset=-40.0)), [(START + 0.2, click_at(START + 0.5))], 1.0)
    assert begins(sound[:, 0]) == [round(0.46 * RATE)]


def test_what_is_told_too_late_is_left_out_not_played_late():
    stream = in_ears()
    sound = device(stream, [(START + 0.5, click_at(START + 0.45)), (START + 0.5, click_at(START + 0.8))], 1.2)
    assert begins(sound[:, 0]) == [round(0.8 * RATE)]
    assert stream.late == 1


def peaks(sound: Samples) -> list[float]:
    return [float(20 * np.log10(np.max(np.abs(sound[at : at + 900])))) for at in begins(sound)]


@pytest.mark.parametrize("side", ["left", "both"])
def test_the_first_clicks_grow_by_six_decibels_and_no_more(side):
    lines = [(START + 0.2 + k * 0.3, click_at(START + 0.4 + k * 0.3)) for k in range(8)]
    loud = peaks(device(in_ears(Destination(side)), lines, 3.0)[:, 0])
    assert np.diff(loud) == pytest.approx([6.0, 6.0, 6.0, 0.0, 0.0, 0.0, 0.0], abs=0.01)
    full = 20 * np.log10(np.max(np.abs(tick(76, RATE))))
    assert loud[-1] == pytest.approx(full - (6.0 if side == "left" else 0.0), abs=0.01)


def test_after_a_silence_asked_for_the_click_comes_back_softly():
    lines = [(START + 0.2 + k * 0.3, click_at(START + 0.4 + k * 0.3)) for k in range(10)]
    still = (START + 1.75, read_line("still", START + 1.75))
    sound = device(in_ears(), [*lines, still], 3.5)[:, 0]
    at = begins(sound)
    assert at == [round((0.4 + 0.3 * k) * RATE) for k in range(10) if k not in (5,)], (
        "the one already told is forgotten"
    )
    loud = peaks(sound)
    assert loud[5] == pytest.approx(loud[4] - 18.0, abs=0.01)


def test_a_hold_forgets_what_was_to_come_and_nothing_before():
    """The click of the beat itself is still on its way to a drummer who hears it later."""
    stream = in_ears(Destination("left"), Destination("right", offset=80.0))
    lines = [(START + 0.3, click_at(START + 0.5)), (START + 0.35, click_at(START + 0.62))]
    hold = (START + 0.5, read_line(f"@{START + 0.5:.6f} forget", START + 0.5))
    sound = device(stream, [*lines, hold], 1.0)
    assert begins(sound[:, 0]) == [24000]
    assert begins(sound[:, 1]) == [24000 + 3840]


def test_a_word_that_is_hushed_dies_away_without_a_click():
    ear = Earpiece(Destination())
    ear.clip(np.full(5000, 0.8))
    before = ear.next(1000)[-1, 0]
    ear.hush()
    after = ear.next(1000)[:, 0]
    assert after[0] == pytest.approx(before, abs=1e-6)
    assert np.max(np.abs(np.diff(after))) < 0.002
    assert not np.any(after[FADE:])


def test_signs_and_clicks_together_never_grow_by_more_than_6_db():
    ear, loud = Earpiece(Destination()), []
    for number in range(6):
        (ear.clip if number % 2 else ear.click)(np.full(100, 0.1))
        loud.append(float(ear.next(100)[0, 0]))
    growth = [later / earlier for earlier, later in pairwise(loud)]
    assert growth == pytest.approx([10 ** (6 / 20)] * 3 + [1.0] * 2)


def test_no_level_that_can_be_asked_for_passes_the_ceiling():
    stream = in_ears(Destination("both", 0.0), Destination("both", -1.0), Destination("both", HIGHEST))
    lines = [(START, Line(START, "on", "figure", key)) for key in range(36, 97)]
    lines += [(START + 0.1 + k * 0.1, click_at(START + 0.3 + k * 0.1)) for k in range(8)]
    assert np.max(np.abs(device(stream, lines, 1.5))) <= CEILING


def test_pressed_keys_come_a_block_later_and_the_device_holds_two_more():
    stream = in_ears()
    sound = device(stream, [(START + 0.5, Line(START + 0.5, "on", "figure", 69))], 1.0)
    assert int(np.flatnonzero(sound[:, 0])[0]) == pytest.approx((0.5 + PERIODS * BLOCK) * RATE, abs=2)
    assert stream.latency == pytest.approx(PERIODS * BLOCK)


def test_signs_are_for_the_player_alone():
    stream = in_ears(Destination("left"), Destination("right"))
    sound = device(stream, [(START + 0.1, Line(START + 0.1, "clip", "armed"))], 1.0)
    assert np.any(sound[:, 0])
    assert not np.any(sound[:, 1])


def test_an_offset_is_moved_while_it_sounds():
    stream = in_ears()
    told = [(START + 0.2, click_at(START + 0.5)), (START + 0.6, read_line("offset 0 25", START + 0.6))]
    told += [(START + 0.7, click_at(START + 1.0))]
    assert begins(device(stream, told, 1.5)[:, 0]) == [24000, 48000 + 1200]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("@12.5 on click 77", Line(12.5, "on", "click", 77, scheduled=True)),
        ("@12.5 clip w3", Line(12.5, "clip", "w3", scheduled=True)),
        ("clip doubt", Line(1.0, "clip", "doubt")),
        ("still", Line(1.0, "still")),
        ("@3 forget", Line(3.0, "forget", scheduled=True)),
        ("offset 1 -20.5", Line(1.0, "offset", key=1, value=-20.5)),
    ],
)
def test_lines_for_the_ears(text, line):
    assert read_line(text, 1.0) == line


@pytest.mark.parametrize(
    "text", ["@x on click 76", "@1 on figure 60", "@1 still", "forget", "offset 2 5", "offset 0 much", "@1"]
)
def test_lines_for_the_ears_that_mean_nothing(text):
    with pytest.raises(ValueError, match="@SECONDS on click KEY"):
        read_line(text, 1.0)


@pytest.mark.parametrize(
    ("destination", "loudness"),
    [
        (Destination("both"), -24.0),
        (Destination("left"), -30.0),
        (Destination("right", -20.0), -20.0),
        (Destination("both", 12.0), -12.0),
        (Destination("both", -90.0), -60.0),
    ],
)
def test_one_ear_is_lower_and_every_level_has_bounds(destination, loudness):
    assert destination.loudness == loudness
    assert read_destination(destination.option()) == destination


@pytest.mark.parametrize("text", ["middle,-24,0", "left", "left,-24", "left,loud,0"])
def test_a_destination_that_is_none_says_what_would_fit(text):
    with pytest.raises(ValueError, match="SIDE,LEVEL,OFFSET"):
        read_destination(text)


def test_the_device_clock_is_the_earliest_asking():
    clock = DeviceClock(RATE)
    for number, late in enumerate([0.0, 0.004, 0.001, 0.011]):
        clock.asked(FRAMES, START + number * BLOCK + late)
    assert clock.sample_at(START + 1.0) == RATE
    assert clock.position == 4 * FRAMES


# -- clips ------------------------------------------------------------------------------------------------------------


def level(sound: Samples) -> float:
    return float(20 * np.log10(np.sqrt(np.mean(sound**2))))


@pytest.mark.parametrize("name", SIGNS)
def test_signs_are_short_quiet_and_soft_ended(name):
    sound = sign(name)
    assert len(sound) / RATE < 0.35
    assert level(sound) < SIGN_LEVEL + 0.1 < CLICK_LEVEL
    assert abs(sound[0]) < 1e-6
    assert abs(sound[-1]) < 1e-3


def test_no_two_signs_are_alike():
    assert len(set(SIGNS.values())) == len(SIGNS)


def wav(path, samples: bytes, *, width: int = 2, channels: int = 1, rate: int = 22_050) -> None:
    with wave.open(str(path), "wb") as file:
        file.setsampwidth(width)
        file.setnchannels(channels)
        file.setframerate(rate)
        file.writeframes(samples)


@pytest.mark.parametrize(
    ("width", "rate", "channels"), [(1, 8000, 1), (2, 22050, 1), (2, 44100, 2), (3, 48000, 1), (4, 96000, 2)]
)
def test_words_of_every_width_and_rate(tmp_path, width, rate, channels):
    """A second of 440 Hz between two half seconds of silence."""
    time = np.arange(rate) / rate
    tone = np.concatenate([np.zeros(rate // 2), 0.5 * np.sin(2 * np.pi * 440 * time), np.zeros(rate // 2)])
    packed = bytearray()
    for value in tone:
        whole = round(value * (2 ** (8 * width - 1) - 1))
        one = (
            struct.pack("<B", whole + 128) if width == 1 else (whole & (2 ** (8 * width) - 1)).to_bytes(width, "little")
        )
        packed += one * channels
    wav(tmp_path / "w.wav", bytes(packed), width=width, channels=channels, rate=rate)
    word = read_word(tmp_path / "w.wav")
    assert len(word) / RATE == pytest.approx(1.0, abs=0.01), "the silence at both ends is cut off"
    assert level(word) == pytest.approx(WORD_LEVEL, abs=0.3)
    signs = np.sign(word[np.abs(word) > 1e-6])
    crossings = np.sum(np.diff(signs) != 0)
    assert crossings == pytest.approx(880, abs=4)


@pytest.mark.parametrize("content", [b"", b"no sound at all", b"RIFF\x10\x00\x00\x00WAVE"])
def test_a_file_that_is_no_word_is_told(tmp_path, content):
    (tmp_path / "w.wav").write_bytes(content)
    with pytest.raises(PlayerError, match="WAV file"):
        read_word(tmp_path / "w.wav")


def test_a_silent_file_is_told(tmp_path):
    wav(tmp_path / "w.wav", bytes(2000))
    with pytest.raises(PlayerError, match="nothing to hear"):
        read_word(tmp_path / "w.wav")


def test_samples_too_wide_are_told_and_are_no_word(tmp_path):
    """Sixty-four bits, which the format allows and ``wave`` opens."""
    path, data = tmp_path / "w.wav", bytes(range(256)) * 100
    form = struct.pack("<HHIIHH", 1, 1, 48000, 8 * 48000, 8, 64)
    chunks = b"WAVEfmt " + struct.pack("<I", len(form)) + form + b"data" + struct.pack("<I", len(data)) + data
    path.write_bytes(b"RIFF" + struct.pack("<I", len(chunks)) + chunks)
    with pytest.raises(PlayerError, match="64 bits"):
        read_word(path)
    assert seconds(path) is None
