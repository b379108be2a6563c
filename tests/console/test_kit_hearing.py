"""Pads and a MIDI clock, by the console profile. Keys by General MIDI percussion, system messages by MIDI 1.0."""

from __future__ import annotations

import pytest

from liveassist.band.events import ClockSays, KeyDown, KeyUp, Nodded
from liveassist.console.hearing import Interpreter
from liveassist.console.instrument import PLAIN, ClockPorts
from liveassist.console.profile import ProfileError, read_profile, write_profile

KIT = """
[divisions.pedal]
port = "Organ"
channel = 4

[divisions.drums]
port = "Pads"
channel = 10
compass = [20, 90]

[parts.figure]
port = "Organ"
channel = 2

[[switches]]
what = "sticks"
port = "Pads"
channel = 10
note = 80

[kit]
kick = [22]
snare = [25, 26]

[clock]
sends = "Module"
hears = "Sequencer"
"""


@pytest.fixture
def hearing() -> Interpreter:
    return Interpreter(read_profile(KIT))


@pytest.mark.parametrize(
    ("message", "heard"),
    [
        pytest.param((0x99, 22, 90), KeyDown(at=1.0, heard=1.0, division="drums", key=36, strength=90), id="kick"),
        pytest.param((0x99, 26, 20), KeyDown(at=1.0, heard=1.0, division="drums", key=38, strength=20), id="snare"),
        pytest.param((0x99, 42, 64), KeyDown(at=1.0, heard=1.0, division="drums", key=42), id="as-in-general-midi"),
        pytest.param((0x99, 22, 0), KeyUp(at=1.0, heard=1.0, division="drums", key=36), id="off-by-velocity-0"),
        pytest.param((0x89, 22, 64), KeyUp(at=1.0, heard=1.0, division="drums", key=36), id="off"),
        pytest.param((0x99, 80, 64), Nodded(at=1.0, heard=1.0, nod="sticks"), id="a-pad-as-a-switch"),
    ],
)
def test_pads_are_heard_as_the_drums_that_they_are(hearing, message, heard):
    assert hearing.events(1.0, 1.0, "Pads", bytes(message)) == [heard]


@pytest.mark.parametrize(
    ("port", "message"),
    [
        pytest.param("Organ", (0x99, 22, 90), id="another-port"),
        pytest.param("Pads", (0x98, 22, 90), id="another-channel"),
        pytest.param("Pads", (0x99, 10, 90), id="outside-the-compass"),
    ],
)
def test_what_is_no_pad_is_no_drum(hearing, port, message):
    assert hearing.events(1.0, 1.0, port, bytes(message)) == []


@pytest.mark.parametrize(
    ("byte", "what"), [(0xF8, "tick"), (0xFA, "start"), (0xFB, "continue"), (0xFC, "stop")], ids=str
)
def test_the_clock_is_heard_on_its_own_port_only(hearing, byte, what):
    assert hearing.events(1.0, 1.0, "Sequencer", bytes((byte,))) == [ClockSays(at=1.0, heard=1.0, what=what)]
    assert hearing.events(1.0, 1.0, "Organ", bytes((byte,))) == []
    assert Interpreter(PLAIN).events(1.0, 1.0, "", bytes((byte,))) == []


@pytest.mark.parametrize("byte", [0xF0, 0xF6, 0xFE, 0xFF])
def test_other_system_messages_are_no_music(hearing, byte):
    assert hearing.events(1.0, 1.0, "Sequencer", bytes((byte,))) == []


def test_kit_and_clock_are_written_and_read_back():
    profile = read_profile(KIT)
    assert profile.kit == {"kick": (22,), "snare": (25, 26)}
    assert profile.clock == ClockPorts(sends="Module", hears="Sequencer")
    assert read_profile(write_profile(profile)) == profile
    assert "Sequencer" in profile.input_ports
    assert "Module" not in profile.output_ports


@pytest.mark.parametrize(
    ("change", "said"),
    [
        pytest.param(('sends = "Module"', 'sends = "Organ"'), "a clock is never sent to an organ", id="organ"),
        pytest.param(("snare = [25, 26]", "snare = [22]"), "key 22 is both kick and snare", id="twice"),
        pytest.param(
            ("snare = [25, 26]", "gong = [25]"), "I know kick, snare, hat, ride, crash, tom, sticks", id="gong"
        ),
        pytest.param(("kick = [22]", "kick = 22"), "a list of the keys that the pad sends", id="no-list"),
        pytest.param(('hears = "Sequencer"', "hear = 3"), "I know sends, hears", id="name"),
    ],
)
def test_what_must_not_be_is_refused_in_words(change, said):
    with pytest.raises(ProfileError, match=said):
        read_profile(KIT.replace(*change))


def test_a_clock_is_not_sent_where_the_organ_has_no_port_of_its_own():
    """A figure for "the only port there" may be the very port of the clock."""
    with pytest.raises(ProfileError, match="never sent to an organ"):
        read_profile('[parts.figure]\nchannel = 2\n\n[clock]\nsends = "Module"\n')
