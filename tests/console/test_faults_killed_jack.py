"""A band that dies, hangs or sleeps, in any state, a guardian and a JACK server that die, on real MIDI ports: no note stays on.

The server runs in the usual mode with a short client timeout: see the module of the fixtures.
"""

from __future__ import annotations

import os
import signal
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import KeyDown, Slept
from liveassist.console.launcher import again
from liveassist.console.takes import read_take
from liveassist.link import Request
from tests.console.hall import DOWN, QUAY, STATES, G, Hall, comes_back, installed, open_hall

JACK = ("-t", "5")
CHORD = 4
"""Keys of a chord, at most."""

pytestmark = pytest.mark.skipif(os.name == "nt", reason="processes are stopped and killed by signals")


@pytest.fixture
def hall(
    fake_console: Callable[..., Any], fake_organ: Callable[..., Any], until: Callable[..., None], tmp_path: Path
) -> Iterator[Hall]:
    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path) as opened:
        yield opened


# -- the band -------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("state", "how"),
    [*((state, signal.SIGKILL) for state in STATES), ("playing", signal.SIGSTOP), ("holding", signal.SIGSTOP)],
    ids=lambda value: getattr(value, "name", value),
)
def test_a_band_that_dies_or_hangs_leaves_no_note_and_its_take(hall: Hall, state: str, how: signal.Signals) -> None:
    hall.bring_to(state)
    os.kill(hall.pid(), how)
    assert hall.ended() == ("died" if how == signal.SIGKILL else "hung")
    assert hall.organ.sounding == set()
    feet = [event for event in read_take(hall.spec.take).events if isinstance(event, KeyDown)]
    assert len(feet) == sum(isinstance(what, int) for what in STATES[state][1])


def test_after_the_death_of_a_band_the_next_one_is_ready_and_silent(hall: Hall) -> None:
    """The goal is two seconds, and ``tests/benchmarks/faults.py`` measures them."""
    hall.bring_to("playing")
    os.kill(hall.pid(), signal.SIGKILL)
    assert hall.ended() == "died"
    hall.begin(again(hall.spec, unfold(read_chart(QUAY))))
    hall.show(lambda picture: (picture.state, picture.out) == ("ready", True))
    assert hall.organ.sounding == set()


def test_a_guardian_that_is_killed_is_told_and_the_music_goes_on_and_ends_properly(hall: Hall) -> None:
    hall.bring_to("playing")
    assert hall.ensemble._process is not None
    hall.ensemble._process.kill()
    hall.until(lambda: hall.told("the guardian has gone"))
    comes_back(hall, hall.attacks())
    assert hall.reader is not None
    hall.reader.send(Request(ask="leave"))
    hall.until(lambda: hall.reader and (hall.reader.read(), hall.reader.left)[1])
    hall.until(lambda: not hall.organ.sounding)


# -- the JACK server ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("binding", ["rtmidi", "libremidi"])
def test_a_jack_server_that_dies_is_told_and_the_music_goes_on_at_its_place_when_it_is_back(
    hall: Hall, jack: Any, binding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    installed(binding, monkeypatch)
    hall.bring_to("playing")
    jack.kill()
    hall.console.bury()
    hall.organ.bury()
    hall.until(lambda: hall.told("the JACK server has stopped"))
    hall.show(lambda picture: not any(port.well for port in picture.ports))
    jack.begin()
    before = hall.attacks()
    hall.organ.again()
    hall.console.again()
    comes_back(hall, before)
    hall.show(lambda picture: all(port.well for port in picture.ports))
    assert hall.pictures[-1].state not in ("tacet", "fine")
    news = iter(hall.ensemble.news, None)
    assert not [told for told in news if told["kind"] in ("silenced", "ended")]


@pytest.mark.parametrize("binding", ["rtmidi", "libremidi"])
def test_a_jack_server_that_hangs_is_told_and_sent_nothing_and_the_music_goes_on_when_it_serves_again(
    hall: Hall, jack: Any, binding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    installed(binding, monkeypatch)
    hall.bring_to("playing")
    comes_back(hall, hall.attacks())
    jack.hang()
    try:
        hall.until(lambda: hall.told("the JACK server does not answer"))
        hall.show(lambda picture: not any(port.well for port in picture.ports))
        hall.ask("hold")
        hall.show(lambda picture: picture.state == "holding")
        hall.ask("on")
        hall.show(lambda picture: picture.state in ("playing", "vamping"))
    finally:
        jack.go_on()
    hall.show(lambda picture: all(port.well for port in picture.ports))
    comes_back(hall, hall.attacks())
    hall.ask("hold")
    hall.show(lambda picture: picture.state == "holding")
    hall.until(lambda: len(hall.organ.sounding) == hall.pictures[-1].sounding)
    news = iter(hall.ensemble.news, None)
    assert not [told for told in news if told["kind"] in ("silenced", "ended")]


def test_a_band_that_dies_at_a_jack_server_that_hangs_leaves_no_note_when_it_serves_again(
    hall: Hall, jack: Any
) -> None:
    hall.bring_to("playing")
    comes_back(hall, hall.attacks())
    jack.hang()
    try:
        hall.until(lambda: hall.told("the JACK server does not answer"))
        os.kill(hall.pid(), signal.SIGKILL)
        assert hall.ended() == "died"
    finally:
        jack.go_on()
    hall.until(lambda: not hall.organ.sounding)


# -- the machine ------------------------------------------------------------


def test_a_laptop_that_slept_waits_for_the_foot_without_a_burst_or_an_alarm(hall: Hall) -> None:
    hall.bring_to("playing")
    assert hall.ensemble._process is not None
    asleep = (hall.ensemble._process.pid, hall.pid())
    for process in asleep:
        os.kill(process, signal.SIGSTOP)
    time.sleep(2.0)
    before = hall.attacks()
    for process in asleep:
        os.kill(process, signal.SIGCONT)
    hall.until(lambda: hall.told("the computer slept for"))
    hall.until(lambda: not hall.organ.sounding)
    assert hall.attacks() <= before + CHORD  # what was on its way as it fell asleep
    before = hall.attacks()
    hall.console.play(DOWN, G, 64)
    hall.until(lambda: hall.attacks() > before)
    hall.ask("cut")
    hall.show(lambda picture: picture.state in ("fine", "tacet"))
    hall.ensemble.end()
    assert [type(event) for event in read_take(hall.spec.take).events].count(Slept) == 1
