"""The service file: what is read, and that everything wrong is told at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from charts.errors import ChartError
from liveassist.cli import main
from liveassist.service.file import read_service
from liveassist.service.order import proof_order, read_order

Sunday = Callable[[str], Path]
WHOLE = """\
title = "Harbour Sunday"
date = 2031-05-04
patience = "2"

[[items]]
tacet = "Prelude"
notes = "principal 8'"

[[items]]
chart = "bread.chart"
key = "Eb"
tempo = 88
lead = "switch"
omit = [2]
last = "up a tone"
notes = "flutes"
gap = 20

[[items]]
chart = "round.chart"
gap = "straight on"
"""


def test_a_whole_service_is_read(sunday: Sunday) -> None:
    service, problems = read_service(WHOLE, "sunday.toml")
    assert problems == ()
    assert (service.title, service.date, service.settings) == ("Harbour Sunday", "2031-05-04", {"patience": "2"})
    prelude, bread, last = service.items
    assert (prelude.tacet, prelude.notes, prelude.line) == ("Prelude", "principal 8'", 5)
    assert (bread.chart, bread.omit, bread.last, bread.gap, bread.seconds) == ("bread.chart", ("2",), 2, "20 s", 20.0)
    assert bread.key is not None
    assert bread.key.name == "Eb"
    assert (bread.settings, last.gap) == ({"lead": "switch"}, "straight on")
    assert [entry.title for entry in read_order(sunday(WHOLE)).entries] == [
        "Prelude",
        "Bread on the Table",
        "Four Times Round",
    ]


def test_everything_wrong_is_told_at_once_with_item_and_field(sunday: Sunday) -> None:
    text = """\
titel = "X"
lead = "hands"
[[items]]
chart = "nowhere.chart"
[[items]]
tacet = "Prayer"
key = "D"
[[items]]
chart = "bread.chart"
key = "H"
tempo = true
gap = -1
last = "louder"
[[items]]
notes = "?"
[[items]]
chart = "bread.chart"
tempo = "quick"
key = "Dm"
omit = ["Verse 9"]
[[items]]
chart = "bread.chart"
roadmap = ["Intro", "Vesre 1", "Chorus loudly"]
"""
    told = "\n".join(str(problem) for problem in proof_order(sunday(text)))
    for place in (
        'sunday.toml, titel: this is nothing I know here; did you mean "title"?',
        "sunday.toml, lead:",
        "item 1 (nowhere), chart, line 3:",
        "item 2 (Prayer), key, line 5: this is nothing I know here; the band is tacet here",
        "item 3 (bread), key, line 8:",
        "item 3 (bread), tempo",
        "item 3 (bread), gap",
        "item 3 (bread), last",
        "item 4, line 14: an item has either",
        "item 5 (bread), tempo",
        "item 5 (bread), key, line 16: D minor does not fit",
        "item 5 (bread), omit",
        'item 6 (bread), roadmap, line 21: there is no section "Vesre 1"; did you mean "Verse 1"?',
        '"loudly" is no direction',
    ):
        assert place in told, place
    with pytest.raises(ChartError) as error:
        read_order(sunday(text))
    assert len(error.value.problems) >= 14


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("title = Sunday", "line 1, column 9: this is not TOML", id="no-quotes"),
        pytest.param("items = " + "[" * 5000, "this is not TOML", id="nested-too-deep"),
        pytest.param("room = " + "9" * 5000, "this is not TOML", id="a-number-without-end"),
        pytest.param('[[items]]\nchart = "a\\u0000"', "this wants words in quotes", id="no-name-of-a-file"),
        pytest.param("[divisions.pedal]\nport = 1", "this is a console profile, and no service", id="a-console"),
        pytest.param('title = "X"\nitems = 3', "each item begins with a line", id="items-no-list"),
        pytest.param('title = "X"', "a service has items", id="no-items"),
        pytest.param('[[items]]\nchart = ["a"]', "this wants words in quotes", id="chart-no-words"),
        pytest.param('[[items]]\nchart = "a"\nomit = {}', "this wants a list", id="omit-no-list"),
        pytest.param('[[items]]\nchart = "a"\nfullness = 9', "fullness takes one of 1, 2, 3, 4", id="fullness"),
        pytest.param('[[items]]\nchart = "a"\nroadmap = ["B"]\nomit = [1]', "nothing to omit", id="omit-and-roadmap"),
    ],
)
def test_what_is_wrong_with_a_file(sunday: Sunday, text: str, said: str) -> None:
    assert said in "\n".join(str(problem) for problem in proof_order(sunday(text)))


def test_a_file_that_is_no_text_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "x.toml"
    path.write_bytes(b"title = \xff\xfe")
    assert "UTF-8" in str(proof_order(path)[0])
    assert "no such file" in str(proof_order(tmp_path / "none.toml")[0])
    assert "cannot be opened" in str(proof_order(tmp_path)[0])


def test_check_tells_of_the_service_and_of_its_charts(sunday: Sunday, capsys: pytest.CaptureFixture[str]) -> None:
    path = sunday(WHOLE)
    (path.parent / "round.chart").write_text("key = D\n== A ==\n| Dmaj77 |\n", encoding="utf-8")
    assert main(["check", str(path)]) == 1
    told = capsys.readouterr().out
    assert "wrong: round.chart, line 3, column 3" in told
    assert "1 wrong" in told
    (path.parent / "round.chart").write_text("key = D\n== A ==\n| D | G | A | D |\n", encoding="utf-8")
    assert main(["check", str(path)]) == 0


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param('feel = "polka"\n{song}{song}', 'sunday.toml, feel: "polka" is not a feel I know', id="of-all"),
        pytest.param('feel = "polka"\n{song}feel = "shuffle"\n', "", id="every-song-says-otherwise"),
        pytest.param('{song}feel = "polka"\n', 'sunday.toml, item 1 (round), feel, line 1: "polka" is', id="of-one"),
    ],
)
def test_a_feel_that_is_not_known_is_told_once(sunday: Sunday, text: str, said: str) -> None:
    path = sunday(text.format(song='[[items]]\nchart = "round.chart"\n'))
    told = [str(problem) for problem in proof_order(path, feels=lambda chart: ("shuffle",)) if "polka" in str(problem)]
    assert [line[: len(said)] for line in told] == [said][: bool(said)]


def test_the_page_has_every_item_in_order(sunday: Sunday, tmp_path: Path) -> None:
    own = 'lead = "switch"\nfeel = "flowing four"\nfullness = 3\n'
    whole = WHOLE.replace('lead = "switch"\n', own)
    assert main(["print", str(sunday(whole)), "--overview", "--to", str(tmp_path / "page.html")]) == 0
    assert "quarter 88, flowing four<br>lead switch, fullness 3</td>" in (tmp_path / "page.html").read_text("utf-8")
    page = (tmp_path / "page.html").read_text(encoding="utf-8")
    places = [page.index(word) for word in ("Harbour Sunday", "Prelude", "Bread on the Table", "Four Times Round")]
    assert places == sorted(places)
    assert all(words in page for words in ("20 s", "flutes", "quarter 88", "2031-05-04"))
