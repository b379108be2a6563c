"""What may go wrong on a Sunday, on real MIDI ports: a desk that dies, cables, a full disk.

The promises are in DEVELOPERS.md, "When something fails". Every test ends with an organ that is silent by its own account,
which is made up from the wire alone. Seconds are generous here, because a machine may be busy with other things;
``tests/benchmarks/faults.py`` measures them. What happens when a band, the guardian or the JACK
server dies is in ``test_faults_killed_jack``.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from liveassist.band.events import KeyDown
from liveassist.console.takes import read_take
from tests.console.hall import DOWN, D, G, Hall, comes_back, installed, open_hall

BAR = 1.5
"""Seconds of a bar."""


@pytest.fixture
def hall(
    fake_console: Callable[..., Any], fake_organ: Callable[..., Any], until: Callable[..., None], tmp_path: Path
) -> Iterator[Hall]:
    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path) as opened:
        yield opened


# -- the desk ------------- ----------------------------------------------------------------------------------------


def test_a_desk_that_hangs_or_is_killed_does_not_stop_the_music(hall: Hall) -> None:
    hall.bring_to("playing")
    before = hall.attacks()
    time.sleep(1.0)  # a desk that does not read
    assert hall.attacks() > before
    assert hall.reader is not None
    hall.reader.close()
    comes_back(hall, hall.attacks())


# -- cables ---------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("binding", ["rtmidi", "libremidi"])
@pytest.mark.parametrize("state", ["playing", "count-in", "holding"])
def test_the_organs_cable_pulled_and_put_back(
    hall: Hall, state: str, binding: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    installed(binding, monkeypatch)
    hall.bring_to(state)
    hall.organ.close()
    hall.until(lambda: hall.told('"organ" has gone'))
    before = hall.attacks()
    hall.organ.again()
    comes_back(hall, before)  # a held chord too: what should be down is pressed again
    hall.show(lambda picture: all(port.well for port in picture.ports))


@pytest.mark.parametrize("state", ["playing", "count-in", "holding"])
def test_the_consoles_cable_pulled_and_put_back(hall: Hall, state: str) -> None:
    hall.bring_to(state)
    begun = time.monotonic()
    hall.console.close()
    hall.until(lambda: hall.told("the pedal has gone silent"))
    assert hall.pictures[-1].state == state
    hall.console.again()
    hall.until(lambda: hall.told("the pedal is back"))
    hall.until(lambda: state != "holding" or time.monotonic() - begun > BAR)  # the foot of the next bar
    hall.console.play(DOWN, D if state == "count-in" else G, 64)
    comes_back(hall, hall.attacks())


# -- the machine ----------------------------------------------------------------------------------------------------


def test_a_full_disk_is_told_the_music_goes_on_and_what_was_kept_is_written_when_there_is_room(hall: Hall) -> None:
    import resource

    hall.bring_to("playing")
    band = hall.pid()
    _, most = resource.prlimit(band, resource.RLIMIT_FSIZE)
    resource.prlimit(band, resource.RLIMIT_FSIZE, (Path(hall.spec.take).stat().st_size + 10, most))
    hall.until(lambda: hall.told("the take cannot be written now"))
    comes_back(hall, hall.attacks())
    hall.console.play(DOWN, G, 64)
    hall.show(lambda picture: picture.chord == "G")
    resource.prlimit(band, resource.RLIMIT_FSIZE, (most, most))
    hall.ask("cut")
    hall.show(lambda picture: picture.state in ("fine", "tacet"))
    hall.ensemble.end()
    take = read_take(hall.spec.take)
    assert [event.key for event in take.events if isinstance(event, KeyDown)] == [D, G]
    assert take.remarks == ()
