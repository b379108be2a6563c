"""What may go wrong on a Sunday, on real MIDI ports: ports that are pulled, a band that dies in any state, a JACK server that dies.

Every test ends with an organ that is silent by its own account, which is made up from the wire alone.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.console.hall import DOWN, A, D, G, Hall, open_hall

JACK = ("-t", "5")
WITHIN = 4.0
"""Seconds in which music must be back on a machine that is busy with other things; the goal is 2."""


@pytest.fixture
def hall(
    fake_console: Callable[..., Any], fake_organ: Callable[..., Any], until: Callable[..., None], tmp_path: Path
) -> Iterator[Hall]:
    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path) as opened:
        yield opened


def test_a_jack_server_that_dies_is_told_and_the_music_goes_on_at_its_place_when_it_is_back(
    hall: Hall, jack: Any
) -> None:
    hall.begin()
    hall.console.play(DOWN, D, 64)
    hall.until(lambda: hall.organ.sounding)
    jack.kill()
    hall.console.bury()
    hall.organ.bury()
    hall.show(lambda picture: any("JACK server has stopped" in line.text for line in picture.heard))
    hall.show(lambda picture: not any(port.well for port in picture.ports))
    jack.begin()
    before = hall.statuses().count(0x91)
    hall.organ.again()
    back = time.monotonic()
    hall.console.again()
    hall.until(lambda: hall.statuses().count(0x91) > before)
    assert time.monotonic() - back < WITHIN
    hall.show(lambda picture: all(port.well for port in picture.ports))
    assert hall.pictures[-1].state != "tacet"
    assert hall.ensemble.playing
