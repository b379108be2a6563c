"""Spoken calls: never late, never over the section, and a voice from wherever there is one.

That the name comes first and the count on its beats, in the bar before the section or two bars before where a bar is short, is
trade practice, no source.
"""

from __future__ import annotations

import os
import shutil
import stat
import struct
import wave
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.ears import voice as voice_module
from liveassist.ears.calls import SHORT_BAR, Said, call
from liveassist.ears.clips import read_word
from liveassist.ears.voice import Voice, seconds, words

WORDS = [0.7, 0.3, 0.3, 0.3, 0.3]


@pytest.mark.parametrize(
    ("beat", "beats", "lengths", "said"),
    [
        # section at 10: the last word ends by the beat before it
        (0.6, 4, WORDS, [(7.6, 0), (8.8, 3)]),  # "Chorus" is longer than a beat: "two" has no room
        (0.8, 4, WORDS, [(6.8, 0), (7.6, 2), (8.4, 3)]),
        (0.8, 3, WORDS, [(7.6, 0), (8.4, 2)]),
        (
            0.3,
            4,
            [0.7, 0.2, 0.2, 0.2, 0.2],
            [(7.6, 0), (8.8, 1), (9.1, 2), (9.4, 3)],
        ),  # a bar of 1.2 s: two bars before
        (1.0, 2, WORDS, [(8.0, 0)]),
        (0.5, 4, [1.7, 0.3, 0.3, 0.3, 0.3], [(6.0, 0), (8.0, 1), (8.5, 2), (9.0, 3)]),  # too long for one bar
        (0.5, 4, [4.0, 0.3, 0.3, 0.3, 0.3], []),  # and for two
        (0.8, 4, [0.7], [(6.8, 0)]),  # no voice for numbers
    ],
)
def test_what_is_said_when(beat, beats, lengths, said):
    assert [(round(word.at, 6), word.word) for word in call(10.0, beat, beats, lengths, now=0.0)] == said


def test_asked_too_late_it_stays_silent():
    assert call(10.0, 0.8, 4, WORDS, now=6.81) == ()
    assert call(10.0, 0.8, 4, WORDS, now=6.8)[0] == Said(6.8, 0)


@given(
    st.floats(0.15, 2.0),
    st.integers(1, 12),
    st.lists(st.floats(0.05, 4.0), min_size=1, max_size=13),
    st.floats(0.0, 120.0),
)
def test_no_word_is_late_overlaps_another_or_reaches_the_last_beat(beat, beats, lengths, now):
    said = call(100.0, beat, beats, lengths, now)
    ends = now
    for word in said:
        assert word.at >= ends - 1e-9
        ends = word.at + lengths[word.word]
        assert ends <= 100.0 - beat + 1e-9
    assert [word.word for word in said] == sorted({word.word for word in said})
    if said:
        assert said[0].word == 0
        assert said[0].at >= 100.0 - 2 * beat * beats - 1e-9
        if beat * beats >= SHORT_BAR and lengths[0] <= beat * (beats - 1) and now <= 100.0 - beat * beats:
            assert said[0].at == pytest.approx(100.0 - beat * beats)


# -- the voice --------------------------------------------------------------------------------------------------------


def wav(path: Path, length: float = 0.2, silence: float = 0.3) -> None:
    with wave.open(str(path), "wb") as file:
        file.setsampwidth(2)
        file.setnchannels(1)
        file.setframerate(8000)
        still = bytes(2 * round(8000 * silence))
        tone = b"".join(struct.pack("<h", 9000 if number % 8 < 4 else -9000) for number in range(round(8000 * length)))
        file.writeframes(still + tone + still)


@pytest.fixture
def mute(monkeypatch):
    """A machine without a speech engine."""
    monkeypatch.setattr(voice_module, "ENGINE", "no-such-speech-engine")


@pytest.mark.parametrize(
    ("text", "file"),
    [
        ("Chorus", "chorus.wav"),
        ("Verse 2", "Verse 2.WAV"),
        ("Verse 3", "verse.wav"),
        ("Pre chorus", "pre_chorus.wav"),
        ("3", "3.wav"),
        ("Bridge", None),
    ],
)
def test_the_players_own_files_by_what_they_say(tmp_path, mute, text, file):
    for name in ("chorus.wav", "Verse 2.WAV", "verse.wav", "pre_chorus.wav", "3.wav", "notes.txt"):
        wav(tmp_path / name)
    found = Voice(str(tmp_path), cache=tmp_path / "cache").word(text)
    assert (found.name if found else None) == file


def test_the_length_of_a_word_is_that_which_is_heard(tmp_path):
    wav(tmp_path / "chorus.wav", length=0.5)
    assert seconds(tmp_path / "chorus.wav") == pytest.approx(0.5, abs=0.002)
    assert len(read_word(tmp_path / "chorus.wav")) / 48000 == pytest.approx(0.5, abs=0.002)


def test_a_folder_that_is_not_there_is_no_voice(mute, tmp_path):
    assert list(words(Voice(str(tmp_path / "nowhere"), cache=tmp_path), ["Chorus", "1"])) == []


def engine(folder: Path, script: str) -> None:
    program = folder / "a-speech-engine"
    program.write_text(f"#!/bin/sh\n{script}\n")
    program.chmod(program.stat().st_mode | stat.S_IEXEC)


@pytest.mark.skipif(os.name == "nt", reason="a shell script stands in for the engine")
@pytest.mark.parametrize("script", ["exit 1", 'while [ "$1" != -w ]; do shift; done; echo broken > "$2"; exit 3'])
def test_an_engine_that_fails_leaves_no_word_behind(tmp_path, monkeypatch, script):
    engine(tmp_path, script)
    monkeypatch.setenv("PATH", str(tmp_path), prepend=os.pathsep)
    monkeypatch.setattr(voice_module, "ENGINE", "a-speech-engine")
    assert list(words(Voice(cache=tmp_path / "cache"), ["Chorus"])) == []
    assert list((tmp_path / "cache").iterdir()) == []


@pytest.mark.skipif(shutil.which("espeak-ng") is None, reason="needs the package espeak-ng")
def test_a_word_is_rendered_once(tmp_path, monkeypatch):
    voice = Voice(cache=tmp_path)
    *_, (text, path, length) = words(voice, ["-w Chorus <b>", "2"])
    assert text == "2"
    assert 0.1 < length < 0.6
    assert len(read_word(path)) > 4000
    assert len(list(tmp_path.iterdir())) == 2
    monkeypatch.setattr(voice_module.subprocess, "run", None)  # rendering again would fail loudly
    assert list(words(voice, ["2"])) == [("2", path, length)]
