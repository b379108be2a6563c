"""The band killed on real MIDI ports: no note stays on, and another band goes on where it was.

The server runs in the usual mode with a short client timeout: see the module of the fixtures.
"""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.console.launcher import again
from liveassist.console.profile import read_profile
from tests.console.hall import CONSOLE, DOWN, QUAY, A, D, open_hall

JACK = ("-t", "5")


def test_a_band_that_is_killed_leaves_no_note_and_goes_on_where_it_was(
    fake_console: Callable[..., Any], fake_organ: Callable[..., Any], until: Callable[..., None], tmp_path: Path
) -> None:
    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path) as hall:
        hall.begin()
        hall.foot(D)
        hall.show(lambda picture: picture.chord == "A")
        hall.until(lambda: hall.organ.sounding)
        os.kill(hall.pid(), signal.SIGKILL)
        assert hall.ended() == "died"
        assert hall.organ.sounding == set()
        hall.begin(again(hall.spec, unfold(read_chart(QUAY))))
        hall.show(lambda picture: (picture.state, picture.next_chord, picture.out) == ("ready", "A", True))
        before = hall.statuses().count(0x91)
        hall.console.play(DOWN, A, 64)
        hall.show(lambda picture: picture.state == "playing")
        hall.ask("in")
        hall.until(lambda: hall.statuses().count(0x91) > before)


@pytest.mark.parametrize(
    ("how", "why"), [(signal.SIGKILL, "died"), (signal.SIGSTOP, "hung")], ids=["killed", "stopped"]
)
def test_a_drum_module_is_told_to_stop_when_the_band_cannot(
    how: signal.Signals,
    why: str,
    fake_console: Callable[..., Any],
    fake_organ: Callable[..., Any],
    until: Callable[..., None],
    tmp_path: Path,
) -> None:
    module = fake_organ("module")
    profile = read_profile(f'{CONSOLE}\n[clock]\nsends = "module"\n')

    def said() -> list[int]:
        return [message[0] for _, message in module.heard]

    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path, profile) as hall:
        hall.begin(replace(hall.spec, settings={**hall.spec.settings, "lead": "pulse"}))
        hall.ask("count")  # by the link, as a foot on its own may be lost here
        hall.show(lambda picture: picture.state == "playing")
        assert 0xFC not in said()
        os.kill(hall.pid(), how)
        assert hall.ended() == why
        hall.until(lambda: 0xFC in said())
        assert set(said()) <= {0xFA, 0xFC}
