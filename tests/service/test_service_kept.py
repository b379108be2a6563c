"""After the service: one question, and what is written then."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.commands.whole_service import ask_to_keep
from liveassist.service.keeping import changes
from liveassist.service.order import read_order
from tests.service.conftest import HYMN

Sunday = Callable[[str], Path]
TODAY = """\
[[items]]
chart = "bread.chart"
key = "Eb"
tempo = 88
omit = [2]
notes = "flutes"
fullness = 4
[[items]]
chart = "round.chart"
notes = "reeds"
"""


def asked(path: Path, said: str) -> list[str]:
    questions: list[str] = []

    def answer(question: str) -> str:
        questions.append(question)
        return said

    order = read_order(path)
    ask_to_keep(changes(order.service, order.entries), answer)
    return questions


def test_with_yes_key_tempo_and_route_are_kept_and_the_rest_stays(
    sunday: Sunday, capsys: pytest.CaptureFixture[str]
) -> None:
    path = sunday(TODAY)
    bread = path.parent / "bread.chart"
    hymn = HYMN.replace("| D | Em | A | D |", "| D  | Em | A | D |  # women only")
    bread.write_text("# From the harbour.\n" + hymn, encoding="utf-8")
    today = read_order(path).entries[0].route
    assert len(asked(path, "y")) == 1
    told = capsys.readouterr().out
    assert "Bread on the Table: E♭ major, quarter 88, another route" in told
    assert "Four Times Round" not in told
    chart = read_chart_file(bread)
    now = bread.read_text(encoding="utf-8")
    assert now.startswith("# From the harbour.\n")
    assert "\n| Eb  | Fm | Bb | Eb |  # women only\n" in now
    assert (bread.parent / "bread.chart.before").read_text(encoding="utf-8") == "# From the harbour.\n" + hymn
    assert (chart.key.name, chart.tempo.quarter_bpm, chart.notes, chart.title) == ("Eb", 88.0, "", "Bread on the Table")
    assert [section.name for section in chart.sections][2:4] == ["Verse 2", "Verse 3"]
    assert today is not None
    assert [change.chord for change in unfold(chart).changes] == [change.chord for change in today.changes]
    assert sorted(each.name for each in path.parent.glob("*.draft")) == []


@pytest.mark.parametrize("said", ["", "n", "what"])
def test_anything_else_keeps_the_chart_as_it_is(sunday: Sunday, said: str) -> None:
    path = sunday(TODAY)
    assert len(asked(path, said)) == 1
    assert (path.parent / "bread.chart").read_text(encoding="utf-8") == HYMN


def test_nothing_is_asked_where_nothing_was_otherwise(sunday: Sunday) -> None:
    assert asked(sunday('[[items]]\nchart = "bread.chart"\nkey = "D"\nnotes = "flutes"\n'), "y") == []


def test_a_chart_that_is_being_edited_is_left_alone(sunday: Sunday) -> None:
    path = sunday(TODAY)
    order = read_order(path)
    (path.parent / "bread.chart").write_text("key = D\n== A ==\n| Dmaj77 |\n", encoding="utf-8")
    assert changes(order.service, order.entries) == []
