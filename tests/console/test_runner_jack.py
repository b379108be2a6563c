"""The band as a process on real MIDI ports: feet in, figure out."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import NoteOff, NoteOn
from liveassist.band.song import performance
from liveassist.console.replaying import replayed
from liveassist.console.takes import read_take
from liveassist.settings import Settings
from tests.console.hall import DOWN, UP, D, G, Hall, open_hall


@pytest.fixture
def hall(
    fake_console: Callable[..., Any], fake_organ: Callable[..., Any], until: Callable[..., None], tmp_path: Path
) -> Iterator[Hall]:
    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path) as opened:
        yield opened


def test_the_feet_lead_and_the_figure_sounds_on_the_second_manual(hall: Hall) -> None:
    hall.begin()
    assert hall.organ.heard == []
    hall.foot(D)
    assert {channel for channel, _ in hall.organ.sounding} == {2}
    hall.show(lambda picture: (picture.state, picture.chord, picture.next_chord) == ("playing", "D", "G"))
    time.sleep(1.5 - 0.05)  # a bar of 4/4 at 160 is 1.5 s: the foot comes in time
    hall.console.play(UP, D, 64)
    hall.console.play(DOWN, G, 64)
    hall.show(lambda picture: (picture.chord, picture.section, picture.bar) == ("G", "Verse", 2))
    assert {status & 0xF0 for status in hall.statuses()} == {0x80, 0x90}
    assert {message[2] for _, message in hall.organ.heard if message[0] == 0x91} == {64}


def test_the_take_of_a_real_performance_replays_to_the_same_music(hall: Hall) -> None:
    hall.begin()
    hall.foot(D)
    hall.show(lambda picture: picture.chord == "G")
    hall.console.play(UP, D, 64)
    hall.ask("cut")
    hall.show(lambda picture: picture.state == "tacet")
    hall.ensemble.end()
    take = read_take(hall.spec.take)
    route = unfold(read_chart(take.header.chart))
    notes = [action for action in take.actions if isinstance(action, NoteOn | NoteOff)]
    again_ = replayed(performance(route, Settings(**take.header.settings)), take.events)
    assert [action for action in again_ if isinstance(action, NoteOn | NoteOff)] == notes
    assert len(hall.organ.heard) >= len(notes)
    assert set(hall.statuses()[len(notes) :]) <= {0x81}  # the guardian lets go of the last ones once more


def test_a_piston_cuts_and_a_second_cut_sweeps(hall: Hall) -> None:
    hall.begin()
    hall.foot(D)
    hall.console.play(0xC3, 9)
    hall.until(lambda: not hall.organ.sounding)
    before = len(hall.organ.heard)
    hall.ask("cut")
    hall.until(lambda: len(hall.organ.heard) >= before + 128)
    assert [message[1] for _, message in hall.organ.heard[before:]] == list(range(128))


def test_a_console_that_is_switched_off_and_on_again_is_heard_again(
    hall: Hall, fake_console: Callable[..., Any]
) -> None:
    hall.begin()
    hall.console.close()
    hall.show(lambda picture: any(not port.well for port in picture.ports))
    again_ = fake_console("console")
    hall.show(lambda picture: all(port.well for port in picture.ports))
    again_.play(DOWN, D, 64)
    hall.until(lambda: hall.organ.sounding)
