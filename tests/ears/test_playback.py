"""A song through a device: drawn in pieces of any size, stopped without a click, and no other device when one is lost."""

from __future__ import annotations

import io
import threading
import time
from dataclasses import replace

import numpy as np
import pytest

from liveassist.ears import playback
from liveassist.ears.playback import FADE_SECONDS, Recital, play
from liveassist.ears.progress import Progress, minutes, progress_line
from liveassist.ears.rendering import render
from liveassist.ears.sound import Player, feed
from liveassist.ears.tone import Played
from liveassist.errors import PlayerError
from tests.ears.waveforms import RATE, steepest

LONG = [Played(part="figure", key=57, on=0.0, off=3.0)]


@pytest.fixture
def null():
    """A backend that takes sound and makes none."""
    return [pytest.importorskip("miniaudio").Backend.NULL]


@pytest.mark.parametrize("frames", [480, 1000, 30_000])
def test_a_device_may_ask_for_pieces_of_any_size(frames):
    whole = np.concatenate(list(render(LONG, seconds=1.0)))
    recital = Recital(render(LONG, seconds=1.0), 0.0)
    drawn = np.concatenate([recital.block(frames, 0.0) for _ in range(RATE // frames + 1)])
    assert np.array_equal(drawn[:RATE], whole)
    assert not np.any(drawn[RATE:])
    assert recital.over.is_set()
    assert recital.seconds == 1.0


def test_what_is_stopped_fades_out_without_a_click():
    recital = Recital(render(LONG), 0.0)
    before = recital.block(RATE, 0.0)
    recital.stop()
    after = np.concatenate([recital.block(700, 0.0) for _ in range(10)])
    assert recital.over.is_set()
    heard = np.concatenate((before, after))[RATE // 2 :]
    assert np.max(np.abs(np.diff(heard, axis=0))) < 1.5 * steepest("figure", 57)
    assert np.any(after[: round(FADE_SECONDS * RATE / 2)])
    assert not np.any(after[round(FADE_SECONDS * RATE) :])


def test_left_and_right_reach_the_device_as_they_are():
    source = feed(Recital(render(LONG), 0.0))
    next(source)
    sent = np.frombuffer(source.send(4800), np.float32).reshape(-1, 2)
    assert np.array_equal(sent, next(render(LONG))[:4800])


def test_a_short_song_is_played_to_its_end(null):
    told = []
    play(render([Played(part="figure", key=60, on=0.0, off=0.2)], seconds=0.4), "null", told=told.append, backends=null)
    assert told == sorted(told)
    assert told[-1] <= 0.4


def test_ctrl_c_fades_out_and_closes_the_device(monkeypatch, null):
    made: list[Recital] = []
    closed = threading.Event()

    class Watched(Recital):
        def __init__(self, *arguments):
            super().__init__(*arguments)
            made.append(self)

    class Device(Player):
        def close(self):
            assert made[0].over.is_set()  # silent before the device is let go
            super().close()
            closed.set()

    def interrupted(_: float) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(playback, "Recital", Watched)
    monkeypatch.setattr(playback, "Player", Device)
    with pytest.raises(KeyboardInterrupt):
        play(render(LONG), "null", told=interrupted, backends=null)
    assert closed.is_set()


def test_a_device_that_goes_away_is_told_and_nothing_else_plays(monkeypatch, null):
    monkeypatch.setattr(playback, "WATCH_SECONDS", 0.05)
    monkeypatch.setattr(Player, "gone", lambda player: True)
    began = time.monotonic()
    with pytest.raises(PlayerError, match='"NULL Playback Device" went away'):
        play(render([replace(LONG[0], off=60.0)]), "null", backends=null)
    assert time.monotonic() - began < 30.0


def test_a_device_that_is_not_there_is_told_with_those_that_are(null):
    with pytest.raises(PlayerError, match='no sound device "Nave"; there are: NULL Playback Device'):
        play(render(LONG), "Nave", backends=null)


# -- progress -------------------------------------------------------------------------------------------------------


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def test_a_terminal_sees_a_line_grow_and_go():
    out = Terminal()
    with Progress(160.0, out) as progress:
        for second in range(0, 161, 40):
            progress.tell(float(second))
    lines = out.getvalue().split("\r")
    assert lines[3].endswith("1:20 of 2:40")
    assert lines[3].count("━") == lines[3].count("─")
    assert lines[-2].strip() == ""  # wiped
    assert len(lines[-2]) == len(lines[-3])


def test_where_nobody_watches_nothing_is_drawn():
    out = io.StringIO()
    with Progress(10.0, out) as progress:
        progress.tell(5.0)
    assert out.getvalue() == ""


def test_the_same_line_is_not_drawn_again():
    out = Terminal()
    progress = Progress(600.0, out)
    progress.tell(1.0)
    progress.tell(1.1)
    assert out.getvalue().count("\r") == 1


def test_minutes_and_shares():
    assert minutes(125.9) == "2:05"
    assert progress_line(0.0, 0.0).endswith("0:00 of 0:00")
    assert "─" not in progress_line(9.0, 5.0)
