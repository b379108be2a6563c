"""Routes to rehearse."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from charts.notation import read_chart, read_chart_file
from charts.roadmap import unfold
from charts.route import Route

sys.path.insert(0, str(Path(__file__).parent))

DEMO = Path(__file__).parents[2] / "demo_charts"


@pytest.fixture(scope="session")
def demo_routes() -> list[Route]:
    return [unfold(read_chart_file(path)) for path in sorted(DEMO.glob("*.chart"))]


@pytest.fixture
def ten() -> Route:
    """Ten bars of one chord each, in two sections."""
    return unfold(
        read_chart(
            "title = Ten\nkey = G\nmeter = 4/4\ntempo = 60\n\n"
            "== Verse ==\n| G | C | D | G | Em |\n\n== Chorus ==\n| C | G | Am | D | G |\n"
        )
    )
