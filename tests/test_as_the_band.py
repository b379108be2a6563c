"""What ``arrange`` lists and ``print`` prints is what the band would play: with the player's own settings and the console's."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.band.arranged import arrangement_for
from liveassist.cli import main
from liveassist.commands import layering
from liveassist.console.profile import PLAIN, write_profile
from liveassist.settings import Settings

QUAY = Path(__file__).parents[1] / "demo_charts" / "lanterns_on_the_quay.chart"


@pytest.fixture(params=["settings file", "console profile"])
def wish(request: pytest.FixtureRequest, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Any:
    """``wish(span=12)`` states that in the settings file or the console profile, and gives the options to go with it."""
    monkeypatch.setattr(layering, "user_config_path", lambda name: tmp_path / name)

    def state(**settings: object) -> list[str]:
        if request.param == "console profile":
            console = tmp_path / "console.toml"
            console.write_text(write_profile(replace(PLAIN, settings=settings)), encoding="utf-8")
            return ["--console", str(console)]
        (tmp_path / "liveassist").mkdir()
        lines = [f"{name} = {json.dumps(value)}\n" for name, value in settings.items()]
        (tmp_path / "liveassist" / "settings.toml").write_text("".join(lines), encoding="utf-8")
        return []

    return state


def test_a_narrow_hand_is_listed(wish: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["arrange", str(QUAY), "--json", *wish(span=12, fullness=4)]) == 0
    listed = [json.loads(line)["pitch"] for line in capsys.readouterr().out.splitlines()]
    route = unfold(read_chart_file(QUAY))
    plain, narrow = (
        [note.pitch for note in arrangement_for(route, each).levels[4] if note.part == "figure"]
        for each in (Settings(), Settings(span=12))
    )
    assert listed == narrow
    assert listed != plain


def test_a_full_hand_is_printed_unless_the_command_line_says_otherwise(wish: Any, tmp_path: Path) -> None:
    def printed(*options: str) -> bytes:
        target = tmp_path / "song.mid"
        assert main(["print", str(QUAY), "--to", str(target), *options]) == 0
        return target.read_bytes()

    bare, full = (printed("--fullness", number) for number in ("1", "4"))
    console = wish(fullness=4)
    assert printed(*console) == full
    assert printed(*console, "--fullness", "1") == bare
    assert bare != full
