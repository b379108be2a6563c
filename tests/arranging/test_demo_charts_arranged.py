"""The demo songs, at every fullness and in some keys."""

from __future__ import annotations

from pathlib import Path

import pytest

from charts.route import Route
from liveassist.arranging.arrange import arrange
from liveassist.arranging.feels import load_feels
from tests.arranging.routes import faults, route_of

CHARTS = sorted((Path(__file__).parents[2] / "demo_charts").glob("*.chart"))


def read(path: Path) -> Route:
    return route_of(path.read_text(encoding="utf-8"))


@pytest.mark.parametrize("path", CHARTS, ids=[path.stem for path in CHARTS])
def test_a_demo_song_is_arranged_without_fault(path: Path) -> None:
    route = read(path)
    for lift in (0, 2, -5):
        assert faults(arrange(route, lift=lift)) == []


def test_the_demo_songs_name_feels_that_there_are() -> None:
    named = {route.chart.feel for route in map(read, CHARTS)}
    named |= {bar.feel for route in map(read, CHARTS) for bar in route.bars}
    assert {name for name in named if name} <= set(load_feels())
