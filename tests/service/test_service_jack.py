"""A service on real MIDI ports: from song to song the ports stay open and the band's process is the same."""

from __future__ import annotations

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart
from charts.transposing import transposed
from liveassist.console.launcher import Programmed, ServiceSession, service_spec
from liveassist.console.profile import read_profile
from liveassist.settings import layered
from tests.console.conftest import fake_console, fake_organ, jack, until  # noqa: F401  (fixtures)
from tests.console.hall import CONSOLE, DOWN, QUAY, UP, D, Hall, open_hall

F = 41
DEAF = layered(("the service", {"armed": False}))


@pytest.fixture
def hall(
    fake_console: Callable[..., Any],  # noqa: F811
    fake_organ: Callable[..., Any],  # noqa: F811
    until: Callable[..., None],  # noqa: F811
    tmp_path: Path,
) -> Iterator[Hall]:
    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path) as opened:
        yield opened


def test_from_song_to_song_the_ports_stay_open(hall: Hall) -> None:
    quay = read_chart(QUAY, "quay.chart")
    items = (
        Programmed(title="Quay", chart=quay, layered=DEAF),
        Programmed(title="Prayer"),
        Programmed(title="Quay, higher", chart=transposed(quay, 3), layered=DEAF),
    )
    session = ServiceSession(title="Sunday", items=items, profile=read_profile(CONSOLE), layered=DEAF)
    hall.begin(service_spec(session, hall.ensemble.letter, "token"))
    hall.pid()
    hall.console.play(DOWN, D, 64)
    hall.console.play(UP, D, 64)
    time.sleep(0.2)
    assert hall.organ.heard == []  # nothing is armed until asked
    hall.ask("ready")
    hall.show(lambda picture: picture.state == "ready")
    hall.console.play(DOWN, D, 64)
    hall.until(lambda: hall.organ.sounding)
    hall.console.play(UP, D, 64)
    hall.ask("cut")
    hall.show(lambda picture: picture.state == "tacet")
    hall.until(lambda: not hall.organ.sounding)
    hall.ask("next")
    hall.show(lambda picture: (picture.title, picture.item, picture.first_pedal) == ("Prayer", "2 of 3", "F"))
    assert all(port.well for port in hall.pictures[-1].ports)
    hall.ask("ready")
    hall.show(lambda picture: (picture.title, picture.state) == ("Quay", "ready"))
    heard = len(hall.organ.heard)
    hall.console.play(DOWN, F, 64)
    hall.show(lambda picture: (picture.state, picture.chord) == ("playing", "F"))
    hall.until(lambda: len(hall.organ.heard) > heard)
    assert hall.ensemble.playing
    hall.console.play(UP, F, 64)
    hall.ask("cut")
    hall.until(lambda: not hall.organ.sounding)
    news = []
    while (told := hall.ensemble.news()) is not None:
        news.append(told)
    assert [told for told in news if told["kind"] in ("silenced", "ended", "band")] == []
