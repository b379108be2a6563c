"""Ports by name: what is matched, what is asked, and what is told. No MIDI system needed.

The shapes of raw names are those that ALSA, bridges to JACK and Windows give them (from memory).
"""

from __future__ import annotations

import subprocess
import sys

import pytest

from liveassist.console.ports import PortAmbiguous, PortUnknown, find_port, listed, midi_binding, normalised
from liveassist.errors import PlayerError

ORGAN, CONSOLE, THROUGH = "Quayside Hall:Great", "Foot Rail:Pedals", "Midi Through:Midi Through Port-0"
NAMES = [ORGAN, CONSOLE, THROUGH]


@pytest.mark.parametrize(
    ("raw", "name"),
    [
        pytest.param("Foot Rail:Pedals 24:0", CONSOLE, id="alsa-numbers"),
        pytest.param("Foot Rail:Pedals 128:12", CONSOLE, id="alsa-numbers-of-a-program"),
        pytest.param(
            "bridge:Foot Rail [24] (capture): Pedals", "bridge:Foot Rail (capture): Pedals", id="bridge-numbers"
        ),
        pytest.param("Foot  Rail:Pedals ", CONSOLE, id="spaces"),
        pytest.param("Rail 8", "Rail 8", id="a-number-of-its-own"),
        pytest.param("Rail 16:9 Wide", "Rail 16:9 Wide", id="numbers-in-the-middle"),
    ],
)
def test_numbers_that_a_system_appends_are_left_out(raw: str, name: str) -> None:
    assert normalised(raw, platform="linux") == name


def test_windows_appends_an_index() -> None:
    assert normalised("Foot Rail 3", platform="win32") == "Foot Rail"
    assert listed(["Foot Rail 0", "Foot Rail 1"], platform="win32") == ["1:Foot Rail", "2:Foot Rail"]


@pytest.mark.parametrize(
    ("wanted", "found"),
    [
        pytest.param(ORGAN, ORGAN, id="exact"),
        pytest.param("Quayside Hall:Great 28:0", ORGAN, id="written-down-with-last-weeks-numbers"),
        pytest.param("quayside hall:great", ORGAN, id="small-letters"),
        pytest.param("foot rail", CONSOLE, id="a-part"),
        pytest.param("Pedals", CONSOLE, id="the-ports-own-name"),
    ],
)
def test_a_port_is_found_by(wanted: str, found: str) -> None:
    assert find_port(wanted, NAMES) == found


def test_raw_names_are_matched_as_well_and_given_back_as_they_are() -> None:
    assert find_port("Foot Rail:Pedals 20:0", ["Quay 14:0", "Foot Rail:Pedals 24:0"]) == "Foot Rail:Pedals 24:0"


def test_an_exact_name_wins_over_the_names_that_contain_it() -> None:
    assert find_port("Organ", ["Organ 2", "Organ", "House Organ"]) == "Organ"


def test_an_unknown_port_is_told_with_what_is_there() -> None:
    with pytest.raises(PortUnknown, match=r'no MIDI port "Swell": I see "Quayside Hall:Great", "Foot Rail:Pedals"'):
        find_port("Swell", NAMES)


@pytest.mark.parametrize("wanted", ["", "Swell"])
def test_no_port_at_all(wanted: str) -> None:
    with pytest.raises(PortUnknown, match="I see no port at all"):
        find_port(wanted, [])


def test_an_empty_name_means_no_port() -> None:
    with pytest.raises(PortUnknown):
        find_port("", NAMES)


def test_a_part_of_two_names_is_asked_about() -> None:
    with pytest.raises(PortAmbiguous, match='"Midi Through:Midi Through Port-0", "Midi Rail"'):
        find_port("midi", [*NAMES, "Midi Rail"])


def test_twins_are_numbered_and_the_number_chooses() -> None:
    names = listed(["Rail:1 24:0", ORGAN, "Rail:1 28:0"], platform="linux")
    assert names == ["1:Rail:1", ORGAN, "2:Rail:1"]
    with pytest.raises(PortAmbiguous, match='"1:Rail:1", "2:Rail:1"'):
        find_port("Rail:1", names)
    assert find_port("2:Rail:1", names) == "2:Rail:1"


def test_twins_of_exactly_the_same_name_are_asked_about_by_their_numbers() -> None:
    with pytest.raises(PortAmbiguous, match='"1:Rail", "2:Rail"'):
        find_port("Rail", ["Rail", "Rail"])


def test_a_numbered_twin_is_not_taken_for_the_other_when_one_has_gone() -> None:
    with pytest.raises(PortUnknown):
        find_port("2:Rail", listed(["Rail 24:0"], platform="linux"))


def test_no_midi_system_is_told_with_advice(monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]) -> None:
    monkeypatch.setenv("JACK_DEFAULT_SERVER", "no-such-server")
    with pytest.raises(PlayerError, match=r"JACK does not answer.*start JACK.*demo needs no MIDI"):
        midi_binding("jack")
    assert capfd.readouterr() == ("", "")


def test_a_midi_system_that_is_not_there_is_told_with_the_choices() -> None:
    with pytest.raises(PlayerError, match=r'LIVEASSIST_MIDI is "sequencer"; on this machine I can take \w+'):
        midi_binding("sequencer")


def test_the_binding_is_loaded_only_when_it_is_used() -> None:
    asked = "import sys, liveassist.console.ports; print('rtmidi' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", asked], capture_output=True, text=True, check=True)
    assert told.stdout == "False\n"
