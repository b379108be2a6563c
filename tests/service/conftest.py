"""Charts and services for the tests."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

HYMN = """\
title = Bread on the Table
key = D
tempo = quarter 92

== Roadmap ==
Intro
Verse 1
Chorus
Verse 2
Chorus   fuller
Bridge
Chorus
Ending   wait

== Intro ==
| D | A |
== Verse 1 ==
| D | G | A | D |
== Verse 2 ==
| D | Em | A | D |
== Verse 3 ==
| D | Bm | A | D |
== Chorus ==
| G | A | D/F# | G |
== Bridge ==
| Bm | G |
== Ending ==
| G | A | D |]
"""
ROUND = """\
title = Four Times Round
key = Bm
meter = 6/8
tempo = dotted quarter 56

== Roadmap ==
Verse    x4
Ending

== Verse ==
| Bm | Em F#7 |
== Ending ==
| G | Bm |]
"""


@pytest.fixture
def sunday(tmp_path: Path) -> Callable[[str], Path]:
    """A service file with these words, beside the charts of these tests."""
    (tmp_path / "bread.chart").write_text(HYMN, encoding="utf-8")
    (tmp_path / "round.chart").write_text(ROUND, encoding="utf-8")

    def write(text: str) -> Path:
        path = tmp_path / "sunday.toml"
        path.write_text(text, encoding="utf-8")
        return path

    return write
