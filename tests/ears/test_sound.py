"""The sound process: lines in, sound out of the named device or none."""

from __future__ import annotations

import io
import subprocess
import sys
import time

import numpy as np
import pytest

from liveassist.ears import sound as sound_module
from liveassist.ears.output import SoundOutput, line_for
from liveassist.ears.sound import Line, Player, Stream, feed, find_device, list_devices, read_line, run
from liveassist.ears.tone import Organ
from liveassist.errors import PlayerError

RATE = 48_000


@pytest.fixture
def miniaudio():
    return pytest.importorskip("miniaudio")


@pytest.fixture
def null(miniaudio):
    """A backend that takes sound and makes none."""
    return [miniaudio.Backend.NULL]


@pytest.mark.parametrize(
    ("text", "line"),
    [
        ("on figure 60\n", Line(1.0, "on", "figure", 60)),
        (" off  bass 36 ", Line(1.0, "off", "bass", 36)),
        ("on click 76", Line(1.0, "on", "click", 76)),
        ("silence", Line(1.0, "silence")),
    ],
)
def test_lines_it_reads(text, line):
    assert read_line(text, 1.0) == line


@pytest.mark.parametrize(
    "text", ["on figure", "on zink 60", "on figure 128", "on figure -1", "hush", "on figure sixty"]
)
def test_lines_it_does_not_read_say_what_would_fit(text):
    with pytest.raises(ValueError, match="on PART KEY, off PART KEY, silence and quit"):
        read_line(text, 1.0)


def test_lines_keep_their_distances_within_a_block():
    stream = Stream(Organ(RATE), 10.0)
    stream.block(4800, 10.1)
    stream.put(Line(10.11, "on", "figure", 69))  # 10 ms and 60 ms into the next tenth of a second
    stream.put(Line(10.16, "on", "click", 76))
    heard = stream.block(4800, 10.2)
    alone = Organ(RATE)
    alone.press("figure", 69)
    assert not np.any(heard[:480])
    assert np.allclose(heard[480:2880, 0], alone.next(2400))
    alone.press("click", 76)
    assert np.allclose(heard[2880:, 0], alone.next(1920))


def test_lines_older_than_the_block_sound_at_its_start():
    stream = Stream(Organ(RATE), 10.0)
    stream.put(Line(9.0, "on", "figure", 69))
    stream.put(Line(9.5, "off", "figure", 69))
    stream.block(4800, 10.1)
    assert not np.any(stream.block(480, 10.11))


def test_a_device_that_stops_asking_has_stalled():
    stream = Stream(Organ(RATE), 10.0)
    stream.block(480, 10.5)
    assert not stream.stalled(11.4)
    assert stream.stalled(11.6)


def test_the_device_gets_as_many_frames_as_it_asks_the_same_in_both_ears():
    stream = Stream(Organ(RATE), 0.0)
    stream.put(Line(0.0, "on", "melody", 69))
    source = feed(stream)
    next(source)
    samples = np.frombuffer(source.send(1000), dtype=np.float32).reshape(-1, 2)
    assert samples.shape == (1000, 2)
    assert np.array_equal(samples[:, 0], samples[:, 1])
    assert np.any(samples)


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        ("Desk phones", "Desk phones"),
        ("desk PHONES", "Desk phones"),
        ("Drummer", "Drummer in-ear"),
        ("Nave", "Nave"),
    ],
)
def test_a_device_is_found_by_its_name(wanted, found):
    assert find_device(wanted, ["Nave loudspeakers", "Nave", "Desk phones", "Drummer in-ear"]) == found


@pytest.mark.parametrize(
    ("wanted", "says"),
    [
        ("Vestry", 'no sound device "Vestry"; there are: Nave left, Nave right'),
        ("nave", "could be any of these"),
        (" ", "no sound device"),
    ],
)
def test_a_device_that_is_not_there_or_not_clear_is_an_error(wanted, says):
    with pytest.raises(PlayerError, match=says):
        find_device(wanted, ["Nave left", "Nave right"])


def test_no_device_named_is_silence_and_no_device_is_opened(monkeypatch):
    monkeypatch.setattr(sound_module, "Player", None)  # opening anything would fail loudly
    says = io.StringIO()
    run(io.StringIO("on figure 60\nquit\n"), says, "")
    assert says.getvalue() == "silent: no sound device chosen\n"


def test_a_device_that_is_not_there_is_silence_not_another_device(monkeypatch, miniaudio, null):
    monkeypatch.setattr(miniaudio, "PlaybackDevice", None)
    says = io.StringIO()
    run(io.StringIO("on figure 60\nquit\n"), says, "Drummer in-ear", null)
    assert says.getvalue().startswith('silent: there is no sound device "Drummer in-ear"')


def test_the_device_is_opened_by_the_id_of_its_name(monkeypatch, miniaudio, null):
    asked = {}
    real = miniaudio.PlaybackDevice

    def opened(**options):
        asked.update(options)
        return real(**options)

    monkeypatch.setattr(miniaudio, "PlaybackDevice", opened)
    (name,) = list_devices(null)
    player = Player(name, Stream(Organ(), 0.0), null)
    player.close()
    assert asked["device_id"] is not None
    assert asked["sample_rate"] == RATE  # whatever the device's own rate is: its driver or miniaudio converts


def test_a_device_that_does_not_take_our_rate_is_silence_and_told_and_tried_again(monkeypatch, miniaudio, null):
    monkeypatch.setattr(sound_module, "WATCH_SECONDS", 0.01)
    real, refused = miniaudio.PlaybackDevice, []

    def opened(**options):
        if len(refused) < 3:
            refused.append(options["sample_rate"])
            raise miniaudio.MiniaudioError("format not supported")
        return real(**options)

    monkeypatch.setattr(miniaudio, "PlaybackDevice", opened)
    says = io.StringIO()

    def lines():
        while "playing" not in says.getvalue():
            time.sleep(0.001)
            yield "on figure 60\n"
        yield "quit\n"

    run(lines(), says, "null", null)
    silent, playing = says.getvalue().splitlines()[:2]
    assert silent.startswith('silent: the sound device "NULL Playback Device" would not open')
    assert playing == "playing NULL Playback Device"


def test_a_lost_device_is_silence_and_told_until_it_is_back(monkeypatch, null):
    monkeypatch.setattr(sound_module, "WATCH_SECONDS", 0.01)
    out = iter([False, True])
    monkeypatch.setattr(Player, "gone", lambda player: next(out, False))
    says = io.StringIO()

    def lines():
        while says.getvalue().count("playing") < 2:
            time.sleep(0.001)  # the watch is another thread, and wants its turn
            yield "on figure 60\n"
        yield "quit\n"

    run(lines(), says, "null", null)
    assert [text for text in says.getvalue().splitlines() if not text.startswith("latency")] == [
        "playing NULL Playback Device",
        'silent: the sound device "NULL Playback Device" went away',
        "playing NULL Playback Device",
    ]


def test_what_was_open_is_opened_again_under_its_full_name_only(monkeypatch, miniaudio, null):
    with pytest.raises(PlayerError, match='no sound device "null"'):
        Player("null", Stream(Organ(), 0.0), null, exact=True)


def test_a_machine_without_the_sound_package_gives_advice(monkeypatch):
    monkeypatch.setitem(sys.modules, "miniaudio", None)
    with pytest.raises(PlayerError, match="pip install miniaudio"):
        list_devices()


def test_the_process_ends_with_its_input(null):
    done = subprocess.run(
        [sys.executable, "-m", "liveassist.ears.sound", "--null", "--device", "null"],
        input="on figure 60\nhush\n",
        capture_output=True,
        text=True,
        timeout=20,
        check=True,
    )
    first, second = done.stdout.splitlines()
    assert first == "playing NULL Playback Device"
    assert second.startswith('not understood: "hush"')


@pytest.mark.parametrize(
    ("message", "line"),
    [
        # MIDI 1.0: status 9n note on, 8n note off, velocity 0 is a note off; n is the channel less one.
        (b"\x91\x3c\x40", "on figure 60"),
        (b"\x91\x3c\x00", "off figure 60"),
        (b"\x83\x24\x40", "off bass 36"),
        (b"\x99\x4c\x7f", "on click 76"),
        (b"\xb1\x7b\x00", "silence"),
        (b"\xb1\x07\x00", None),
        (b"\x9b\x3c\x40", None),
        (b"\xfe", None),
    ],
)
def test_midi_messages_as_lines(message, line):
    assert line_for(message) == line


def test_an_output_for_the_runner_starts_plays_and_ends(null):
    output = SoundOutput("null", options=("--null",))
    assert output.send(b"\x91\x3c\x40")
    assert output.send(b"\x81\x3c\x00")
    assert output._news.get(timeout=30.0) == "playing NULL Playback Device"
    output.close()
    assert not output.well
    assert all(text.startswith("latency") for text in output.news())
    assert output.news() == []


def test_a_sound_process_that_died_costs_the_runner_nothing():
    output = SoundOutput("null", options=("--no-such-option",))
    output._process.wait(20)
    for _ in range(2000):
        assert not output.send(b"\x91\x3c\x40")
    output.close()
    assert not output.well
    assert any("no-such-option" in line for line in output.news())
