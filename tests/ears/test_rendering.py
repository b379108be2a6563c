"""A song rendered ahead: in tune, where the notes are, silent where none is, without clicks, the same every time."""

from __future__ import annotations

import hashlib
import wave

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liveassist.ears import tone
from liveassist.ears.rendering import BLOCK, FULL_CHORD, SLICES, _slice, forget, length_of, render, write_wav
from liveassist.ears.tone import CEILING, PARTS, Played
from liveassist.errors import PlayerError
from tests.ears.waveforms import RATE, Sound, dbfs, onsets, steepest, strongest

SERVICE_CHORD = [
    *(Played(part="figure", key=key, on=0.1, off=1.9) for key in (57, 60, 64, 67)),
    Played(part="melody", key=76, on=0.1, off=1.9),
    Played(part="bass", key=45, on=0.1, off=1.9),
]
EARS = ["left", "right"]


def sound_of(notes: list[Played], **options: float) -> Sound:
    return np.concatenate(list(render(notes, **options)))


def one(part: str, key: int, on: float = 0.1, off: float = 1.1) -> Played:
    return Played(part=part, key=key, on=on, off=off)


def test_a_above_middle_c_is_440_hertz():
    # ISO 16.
    heard = sound_of([one("melody", 69)])[RATE // 5 : RATE, 0]
    assert strongest(heard, 400.0, 480.0) == pytest.approx(440.0, abs=0.05)


@pytest.mark.parametrize("part", ["figure", "melody", "bass"])
@pytest.mark.parametrize("key", [36, 48, 60, 61, 76])
def test_each_part_is_in_tune_in_both_ears(part, key):
    hertz = 440.0 * 2 ** ((key - 69) / 12)  # equal temperament to ISO 16
    heard = sound_of([one(part, key, 0.1, 2.1)])[RATE // 5 : 2 * RATE]
    for ear in heard.T:
        cents = 1200 * np.log2(strongest(ear, hertz * 0.95, hertz * 1.05) / hertz)
        assert abs(cents) < 1.0


@settings(max_examples=15, deadline=None)
@given(
    st.lists(
        st.builds(
            lambda key, on, length: one("bass", key, on, on + length),
            st.integers(36, 67),
            st.floats(0.0, 1.2),
            st.floats(0.01, 1.0),
        ),
        min_size=1,
        max_size=6,
        unique_by=lambda note: note.key,
    )
)
def test_it_sounds_as_the_live_tone_does(notes):
    live = tone.render(notes, 2.0)
    ahead = sound_of(notes, seconds=2.0)
    assert np.max(np.abs(ahead[:, 0] - live)) < 1e-5  # the bass stands in the middle: all of it in each ear
    assert np.array_equal(ahead[:, 0], ahead[:, 1])


def test_a_key_struck_again_while_down_speaks_anew():
    twice = [one("bass", 40, 0.1, 0.9), one("bass", 40, 0.5, 0.9)]
    assert np.max(np.abs(sound_of(twice, seconds=1.0)[:, 0] - tone.render(twice, 1.0))) < 1e-5


def test_notes_begin_where_they_are_written():
    written = [0.1, 0.35, 0.75, 1.5]
    heard = sound_of([one("figure", 60, at, at + 0.15) for at in written])
    for ear in heard.T:
        assert onsets(ear) == pytest.approx(written, abs=0.001)


def test_silence_is_silent():
    heard = sound_of([one("figure", 60, 0.5, 1.0), one("bass", 40, 2.0, 2.5)], seconds=3.0)
    assert len(heard) == 3 * RATE
    assert not np.any(heard[: RATE // 2])
    assert not np.any(heard[round(1.03 * RATE) : 2 * RATE])
    assert not np.any(heard[round(2.53 * RATE) :])
    assert np.any(heard[round(0.51 * RATE) : RATE])


@pytest.mark.parametrize("part", ["figure", "melody", "bass"])
@pytest.mark.parametrize("off", [0.11, 0.35, 0.353, 0.6])
def test_no_click_where_a_note_begins_ends_or_crosses_a_block(part, off):
    notes = [one(part, 57, 0.1, off), one(part, 57, off + 0.001, 0.8)]
    for ear in sound_of(notes).T:
        assert np.max(np.abs(np.diff(ear))) < 1.2 * 2 * steepest(part, 57)  # louder in the nearer ear; releases overlap
        spectrum = np.abs(np.fft.rfft(ear)) ** 2
        high = np.fft.rfftfreq(len(ear), 1 / RATE) > 6000
        assert 10 * np.log10(np.sum(spectrum[high]) / np.sum(spectrum)) < -70


def test_a_held_note_has_no_seam():
    heard = sound_of([one("melody", 60, 0.1, 3.1)])[RATE // 5 : 3 * RATE, 0]
    assert np.max(np.abs(np.diff(heard))) < 1.2 * steepest("melody", 60)


@pytest.mark.parametrize("level", [-40.0, FULL_CHORD, -16.0])
def test_a_full_chord_has_the_level_asked_for(level):
    heard = sound_of(SERVICE_CHORD, level=level)[RATE // 2 : RATE]
    both = 10 * np.log10(np.mean([10 ** (dbfs(ear) / 10) for ear in heard.T]))
    assert both == pytest.approx(level, abs=1.5)


def test_every_key_at_once_at_the_loudest_stays_below_the_ceiling():
    everything = [one(part, key, 0.0, 0.3) for part in PARTS for key in range(36, 97)]
    heard = sound_of(everything, level=-16.0)
    assert 0.4 < np.max(np.abs(heard)) <= CEILING


def test_the_figure_is_left_the_tune_right_and_the_pedal_in_the_middle():
    powers = {part: [dbfs(ear) for ear in sound_of([one(part, 60)]).T] for part in ("figure", "melody", "bass")}
    assert powers["figure"][0] > powers["figure"][1] + 2
    assert powers["melody"][1] > powers["melody"][0] + 2
    assert powers["bass"][0] == powers["bass"][1]


def test_a_click_sounds_whole_however_short_its_note():
    ticks = sound_of([one("click", 76, 0.1, 0.101)])
    assert np.max(np.abs(ticks)) > 0.02
    assert not np.any(ticks[round((0.1 + tone.CLICK_SECONDS) * RATE) :])


def test_blocks_are_of_one_size_whatever_the_song():
    sizes = [len(block) for block in render(SERVICE_CHORD)]
    assert set(sizes[:-1]) == {BLOCK}
    assert sum(sizes) == round(length_of(SERVICE_CHORD) * RATE)


def test_a_long_song_keeps_no_more_of_its_waves_than_a_short_one():
    for _ in render([one("figure", key, at, at + 1.0) for at in range(0, 300, 10) for key in range(50, 60)]):
        pass
    assert _slice.cache_info().currsize <= SLICES


def test_no_notes_are_a_moment_of_silence():
    assert not np.any(sound_of([]))
    assert not np.any(sound_of([one("figure", 60, 1.0, 1.0)]))


@pytest.mark.parametrize(
    ("notes", "options", "says"),
    [
        ([one("zink", 60)], {}, '"zink" is not a part'),
        (SERVICE_CHORD, {"level": 0.0}, "from -60 to -16"),
        (SERVICE_CHORD, {"room": 40.0}, "from 0 to 15"),
    ],
    ids=["part", "level", "room"],
)
def test_what_cannot_sound_is_told_before_anything_does(notes, options, says):
    with pytest.raises(ValueError, match=says):
        render(notes, **options)


# -- files ----------------------------------------------------------------------------------------------------------


def test_a_file_is_plain_pcm_of_the_right_length(tmp_path):
    told = []
    written = write_wav(tmp_path / "song.wav", render(SERVICE_CHORD, seconds=2.5), told=told.append)
    with wave.open(str(tmp_path / "song.wav")) as file:  # the standard library's reader
        assert (file.getnchannels(), file.getsampwidth(), file.getframerate()) == (2, 2, RATE)
        assert file.getnframes() == 2.5 * RATE
        heard = np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2) / 32768
    assert written.seconds == 2.5
    assert written.peak == pytest.approx(20 * np.log10(np.max(np.abs(heard))), abs=0.01)
    assert written.loudest == pytest.approx(max(dbfs(ear) for ear in heard[RATE // 2 : RATE].T), abs=0.5)
    assert told == sorted(told)
    assert told[-1] == 2.5


def test_the_same_notes_give_the_same_file_byte_for_byte(tmp_path):
    digests = set()
    for name in ("one.wav", "two.wav"):
        write_wav(tmp_path / name, render(SERVICE_CHORD, room=0.5))
        digests.add(hashlib.sha256((tmp_path / name).read_bytes()).hexdigest())
        forget()
    assert len(digests) == 1


def test_silence_has_no_level(tmp_path):
    written = write_wav(tmp_path / "rest.wav", render([], seconds=0.5))
    assert written.peak == written.loudest == -float("inf")


def test_what_breaks_off_leaves_the_file_that_was_there(tmp_path):
    def broken():
        yield from render(SERVICE_CHORD, seconds=0.5)
        raise KeyboardInterrupt

    (tmp_path / "song.wav").write_bytes(b"last week's")
    with pytest.raises(KeyboardInterrupt):
        write_wav(tmp_path / "song.wav", broken())
    assert [path.name for path in tmp_path.iterdir()] == ["song.wav"]
    assert (tmp_path / "song.wav").read_bytes() == b"last week's"


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("song.mp3", r'give it a name such as "song\.wav"'),
        ("nowhere/song.wav", "cannot be written: No such file"),
        ("folder.wav", "is a folder"),
    ],
)
def test_a_file_that_cannot_be_written_is_told_and_leaves_nothing(tmp_path, name, says):
    (tmp_path / "folder.wav").mkdir()
    with pytest.raises(PlayerError, match=says):
        write_wav(tmp_path / name, render(SERVICE_CHORD))
    assert [path.name for path in tmp_path.iterdir()] == ["folder.wav"]
