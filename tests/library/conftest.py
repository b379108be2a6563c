"""A library for the tests, with a cache folder of its own."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

QUAY = """\
title = Lánterns on the Quay
key = D
tempo = 92
feel = straight eighths
== Verse ==
| D | G | A | D |
  Lan-terns a-long the water, burning clear
== Refrain ==
| G | A | D/F# | G |
"""
MILL = """\
title = Down by the Mill
key = F
meter = 3/4
tempo = 120
feel = waltz
== Verse ==
| F | Bb | C | F |
== Coda ==
| Bb | C | F/A | Bb |
"""
SHORT = "title = Amen\nkey = G\n== A ==\n| C | G |\n"


@pytest.fixture
def shelf(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[..., Path]:
    """A folder with these files."""
    monkeypatch.setattr("liveassist.library.index.user_cache_path", lambda name: tmp_path / "cache")
    folder = tmp_path / "charts"

    def fill(**files: str) -> Path:
        for name, text in ({"quay.chart": QUAY, "old/mill.chart": MILL, "amen.chart": SHORT} | files).items():
            (folder / name).parent.mkdir(parents=True, exist_ok=True)
            (folder / name).write_text(text, encoding="utf-8")
        return folder

    return fill
