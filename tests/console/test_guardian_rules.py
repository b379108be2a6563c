"""What the guardian keeps account of, what it lets go of and when, and what it takes for a hang. No processes, no ports."""

from __future__ import annotations

import itertools
import os

import pytest

from liveassist.console.guardian import STARVED, STEP, Quiet, lines_from
from liveassist.console.heartbeat import BEAT, Heartbeat
from liveassist.console.silencing import PACE, REPEATS, Account, silencing


def account(*lines: str, at: float = 0.0) -> Account:
    made = Account([(2,), ()])
    for line in lines:
        made.hear(line, at)
    return made


def test_the_account_follows_presses_and_releases() -> None:
    told = account("on 0 2 60", "on 0 2 64", "beat", "off 0 2 60")
    assert told.down == {(0, 2, 64)}
    assert told.sounding(0.5) == [(0, 2, 60), (0, 2, 64)]
    assert told.sounding(5.0) == [(0, 2, 64)]


def test_a_channel_that_the_spec_did_not_name_is_swept_once_used() -> None:
    told = account("on 1 5 60", "off 1 5 60")
    assert len(told.everything(0)) == 128
    assert {channel for _, channel, _ in told.everything(1)} == {5}


def test_the_sweep_begins_with_the_keys_let_go_last() -> None:
    told = account("on 0 2 60", "off 0 2 60", "on 0 2 72", "off 0 2 72")
    swept = told.everything(0)
    assert swept[:3] == [(0, 2, 72), (0, 2, 60), (0, 2, 0)]
    assert sorted(key for _, _, key in swept) == list(range(128))


@pytest.mark.parametrize(
    ("lines", "now", "rolls"),
    [
        pytest.param((), 0.0, False, id="never-started"),
        pytest.param(("rolls",), 60.0, True, id="running"),
        pytest.param(("rolls", "halts"), 0.5, True, id="stopped-just-now-the-stop-may-have-died"),
        pytest.param(("rolls", "halts"), 5.0, False, id="stopped-before"),
        pytest.param(("rolls", "halts", "rolls"), 60.0, True, id="running-again"),
    ],
)
def test_whether_a_clock_has_to_be_stopped(lines: tuple[str, ...], now: float, rolls: bool) -> None:
    assert account(*lines).rolls(now) is rolls


@pytest.mark.parametrize("line", ["on 7 2 60", "on 0 2", "on 0 2 sixty"])
def test_nonsense_is_refused(line: str) -> None:
    with pytest.raises((ValueError, IndexError)):
        account(line)


def test_sounding_notes_are_let_go_at_once_and_five_times() -> None:
    plan = silencing(account("on 0 2 60"), 0.0)
    assert plan[0] == (0.0, (0, 2, 60))
    assert {moment for moment, key in plan if key == (0, 2, 60)} >= set(REPEATS)


def test_every_key_is_swept_twice_and_the_second_time_late_enough() -> None:
    plan = silencing(account("on 0 2 60", "on 1 9 40"), 0.0)
    for port, channel in ((0, 2), (1, 9)):
        for key in range(128):
            moments = [moment for moment, swept in plan if swept == (port, channel, key)]
            assert len(moments) >= 2
            assert max(moments) >= REPEATS[-1]


def test_a_sweep_is_paced_for_a_slow_line() -> None:
    plan = [moment for moment, key in silencing(account("off 0 2 60", at=-100.0), 0.0) if key[0] == 0]
    assert min(late - early for early, late in itertools.pairwise(plan)) >= PACE * 0.999


def looks(quiet: Quiet, until: float, *, step: float = STEP, begin: float = 0.0) -> bool:
    """Look in equal steps, hearing nothing; whether it became too long."""
    count = round((until - begin) / step)
    return any(quiet.too_long(begin + step * (index + 1), 0.25, heard=False) for index in range(count))


def test_a_band_that_says_nothing_for_longer_than_the_limit_hangs() -> None:
    assert not looks(Quiet(0.0), 0.24)
    assert looks(Quiet(0.0), 0.28)


def test_a_word_from_the_band_begins_the_silence_anew() -> None:
    quiet = Quiet(0.0)
    assert not looks(quiet, 0.24)
    assert not quiet.too_long(0.26, 0.25, heard=True)
    assert not looks(quiet, 0.48, begin=0.26)


def test_a_night_in_a_closed_laptop_is_no_hang() -> None:
    quiet = Quiet(0.0)
    assert not quiet.too_long(8 * 3600.0, 0.25, heard=False)
    assert not looks(quiet, 8 * 3600.0 + 0.2, begin=8 * 3600.0)


def test_a_guardian_that_hardly_runs_itself_counts_its_own_steps_only() -> None:
    assert not looks(Quiet(0.0), 1.0, step=0.1)


def test_a_band_that_waits_for_its_turn_is_no_hang_for_a_second() -> None:
    quiet = Quiet(0.0)
    steps = [quiet.too_long(STEP * (index + 1), 0.25, heard=False, starved=lambda: True) for index in range(100)]
    assert steps.index(True) == pytest.approx(STARVED / STEP, abs=1)


def test_only_silence_asks_whether_the_band_waits_for_its_turn() -> None:
    quiet, asked = Quiet(0.0), []

    def starved() -> bool:
        asked.append(now)
        return False

    for number in range(1, 7):
        now = STEP * number
        quiet.too_long(now, 0.25, heard=number < 5, starved=starved)
    assert asked == [STEP * 5, STEP * 6]


def heard_from(fd: int) -> list[str]:
    lines: list[str] = []
    lines_from(lambda size: os.read(fd, size), lines.append)
    os.close(fd)
    return lines


def test_what_the_band_says_arrives_line_by_line() -> None:
    reading, writing = os.pipe()
    heart = Heartbeat(writing)
    heart.beat(10.0)
    heart.beat(10.0 + BEAT / 2)
    heart.note_on(0, 2, 60)
    heart.note_off(0, 2, 60)
    heart.rest()
    heart.bye()
    assert heard_from(reading) == ["beat", "on 0 2 60", "off 0 2 60", "rest", "bye", ""]


def test_a_full_pipe_loses_beats_but_no_key_and_never_waits() -> None:
    reading, writing = os.pipe()
    heart = Heartbeat(writing)
    said = []
    for turn in range(10_000):  # more than a pipe holds
        heart.note_on(0, 2, turn % 128)
        heart.note_off(0, 2, turn % 128)
        heart.beat(float(turn))
        said += [f"on 0 2 {turn % 128}", f"off 0 2 {turn % 128}"]
    heard: list[str] = []
    os.set_blocking(reading, False)
    turn = 10_000
    while len([line for line in heard if line != "beat"]) < len(said):
        piece = b""
        while True:
            try:
                piece += os.read(reading, 65536)
            except BlockingIOError:
                break
        heard += piece.decode().split("\n")[:-1]
        turn += 1
        heart.beat(float(turn))
    assert [line for line in heard if line != "beat"] == said
    os.close(reading)
    heart.bye()


def test_a_guardian_that_has_gone_does_not_disturb_the_band() -> None:
    reading, writing = os.pipe()
    heart = Heartbeat(writing)
    os.close(reading)
    heart.note_on(0, 2, 60)
    assert heart.broken
    heart.note_off(0, 2, 60)
    heart.beat(1.0)
    heart.bye()


def test_a_heart_that_said_bye_is_still() -> None:
    reading, writing = os.pipe()
    heart = Heartbeat(writing)
    heart.bye()
    heart.beat(1.0)
    heart.note_on(0, 2, 60)
    assert heard_from(reading) == ["bye", ""]
