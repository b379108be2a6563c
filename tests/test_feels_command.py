"""A musician's own feels, and ``liveassist feels`` as a player meets it."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import wave
from pathlib import Path

import pytest

from liveassist.arranging.arrange import arrange
from liveassist.arranging.feel_files import read_feel
from liveassist.arranging.feel_words import explained, remarks
from liveassist.arranging.feels import feels_from, load_feels
from liveassist.cli import main
from liveassist.commands import own_feels as room
from liveassist.commands.own_feels import own_feels
from tests.arranging.routes import onsets, song

ROOT = Path(__file__).parent.parent

QUAYSIDE = """
name = "quayside"
about = "two and a half, and two and a half"
meters = ["5/4"]
default = ["5/4"]
grid = "eighth"
touch = "short"
cell   = "x----x----"
weight = ">....-...."

[fullness]
1 = { voices = 2, light = 2 }
2 = { voices = 3, light = 2 }
3 = { cell = "x--x-x--x-", voices = 4, light = 3 }
4 = { cell = "x-xx-x-xx-", voices = 5, light = 3 }
"""
CHART = """
title = Five bridges
key = G
meter = 5/4
tempo = 92
feel = quayside

== Verse ==
| G | C |
| D | G |
"""


def run(*arguments: str, cwd: Path = ROOT, home: Path | None = None) -> subprocess.CompletedProcess[str]:
    """The command, with the settings of nobody or of somebody."""
    settings = str(home or ROOT / "nobody")
    return subprocess.run(
        [sys.executable, "-m", "liveassist", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        cwd=cwd,
        env={**os.environ, "PYTHONPATH": str(ROOT), "XDG_CONFIG_HOME": settings},
    )


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The folder of somebody's settings, in which nothing is."""
    monkeypatch.setattr(room, "user_config_path", lambda name: tmp_path / "settings" / name)
    found = tmp_path / "settings" / "liveassist" / "feels"
    found.mkdir(parents=True)
    return found


# -- where they are -------------------------------------------------------------------------------------------------


def test_without_files_there_are_the_feels_of_the_tool(folder: Path) -> None:
    own = own_feels()
    assert (own.feels, own.texts, own.problems) == (load_feels(), {}, ())


def test_a_feel_among_the_settings_is_there_for_every_chart(folder: Path, tmp_path: Path) -> None:
    (folder / "quayside.toml").write_text(QUAYSIDE, encoding="utf-8")
    own = own_feels(tmp_path / "song.chart")
    assert own.feels["quayside"].meters == ("5/4",)
    assert list(own.texts.values()) == [QUAYSIDE]
    assert own.sources["quayside"] == folder / "quayside.toml"


def test_a_feel_beside_the_chart_comes_before_one_among_the_settings(folder: Path, tmp_path: Path) -> None:
    (folder / "quayside.toml").write_text(QUAYSIDE, encoding="utf-8")
    beside = tmp_path / "songs" / "feels"
    beside.mkdir(parents=True)
    (beside / "ours.toml").write_text(QUAYSIDE.replace('"short"', '"legato"'), encoding="utf-8")
    own = own_feels(tmp_path / "songs" / "song.chart")
    assert own.feels["quayside"].touch == "legato"
    assert own.problems == ()
    assert own_feels(tmp_path / "elsewhere.chart").feels["quayside"].touch == "short"


def test_a_chart_among_the_settings_has_no_feel_twice(folder: Path) -> None:
    (folder / "quayside.toml").write_text(QUAYSIDE, encoding="utf-8")
    assert own_feels(folder.parent / "song.chart").problems == ()


def test_a_broken_file_is_told_and_the_others_are_read(folder: Path) -> None:
    (folder / "a_broken.toml").write_text(QUAYSIDE.replace('"short"', '"crisp"'), encoding="utf-8")
    (folder / "b_bytes.toml").write_bytes(b"\xff\xfe")
    (folder / "c_good.toml").write_text(QUAYSIDE, encoding="utf-8")
    (folder / "d_twin.toml").write_text(QUAYSIDE, encoding="utf-8")
    own = own_feels()
    assert own.sources["quayside"].name == "c_good.toml"
    (folder / "a_worse.toml").write_text('name = "worse"\n', encoding="utf-8")
    crisp, worse, unreadable, twin = own_feels().problems
    assert "a_worse.toml: 7 wrong; liveassist feels a_worse.toml, in its folder, tells what" in worse
    assert "a_broken.toml: touch: 'crisp'" in crisp
    assert "legato" in crisp
    assert "b_bytes.toml" in unreadable
    assert 'd_twin.toml: name: "quayside" is the name of c_good.toml too' in twin


def test_a_take_carries_the_texts_that_it_needs(folder: Path) -> None:
    (folder / "quayside.toml").write_text(QUAYSIDE, encoding="utf-8")
    own = own_feels()
    route = song("C", "F", meter="5/4", feel="quayside")
    assert arrange(route, feels=feels_from(own.texts)).levels == arrange(route, feels=own.feels).levels


def test_it_is_played_where_a_chart_names_it_or_names_none() -> None:
    """Onsets by hand: one, and the half-beat after three."""
    own = feels_from({"quayside.toml": QUAYSIDE})
    for feel in ("quayside", ""):
        route = song("C", "F", meter="5/4", feel=feel)
        assert [str(place) for place in onsets(arrange(route, feels=own, variety=False))] == ["0", "5/2", "5", "15/2"]


# -- what the commands say ------------------------------------------------------------------------------------------


def test_the_list_names_every_feel_its_meters_and_what_it_is(tmp_path: Path) -> None:
    told = run("feels", home=tmp_path)
    assert told.returncode == 0
    for feel in load_feels().values():
        line = next(line for line in told.stdout.splitlines() if line.startswith(f"{feel.name} "))
        assert " ".join(feel.meters) in line
        assert line.endswith(feel.about)


def test_the_whole_way_of_a_feel_of_ones_own(tmp_path: Path) -> None:
    feels = tmp_path / "liveassist" / "feels"
    feels.mkdir(parents=True)
    (feels / "quayside.toml").write_text(QUAYSIDE, encoding="utf-8")
    (feels / "broken.toml").write_text("name = 3\n", encoding="utf-8")
    chart = tmp_path / "bridges.chart"
    chart.write_text(CHART, encoding="utf-8")

    listed = run("feels", home=tmp_path)
    assert "(yours)" in next(line for line in listed.stdout.splitlines() if line.startswith("quayside "))
    assert listed.returncode == 1  # one of the files is broken
    assert "broken.toml: 8 wrong; liveassist feels broken.toml" in listed.stdout

    checked = run("check", str(chart), home=tmp_path)
    assert checked.returncode == 0
    assert "broken.toml: 8 wrong" in checked.stdout
    assert "not a feel" not in checked.stdout
    assert run("check", str(chart)).returncode == 1  # somebody else does not have it

    played = run("arrange", str(chart), "--json", "--no-variety", home=tmp_path)
    assert played.returncode == 0
    places = [json.loads(line)["position"] for line in played.stdout.splitlines()]
    assert list(dict.fromkeys(places))[:4] == ["0", "5/2", "5", "15/2"]
    assert "broken.toml" in played.stderr


def test_a_feel_is_explained_over_its_counted_beats() -> None:
    told = run("feels", "Six-eight", "LILT").stdout.splitlines()
    assert told[0].startswith("six-eight lilt: ")
    beats = next(line for line in told if line.split() == ["1", "2"])
    row = next(line for line in told if line.startswith("fullness 2"))
    assert row.split()[2:] == ["X", "-", "o", "x", "-", "o"]  # long and short, the first of each beat full
    assert row.index("X") == beats.index("1")
    assert row.index("x") == beats.index("2")


# A line of the explanation, as a musician would check it against the sheet: the feel, and what the line must say.
EXPLAINED = {
    "quarters": "fullness 2        X   x   x   x",
    "waltz": "fullness 2        .   .   x   -   o   -",
    "straight eighths": "Fits 4/4 and 2/4. Charts in 4/4 that name no feel get it.",
    "held": "One attack for each chord, wherever it stands, held until the next.",
    "flowing three": "fullness 2        X   2   3   2   3   2",
    "shuffle": "by tempo, in beats a minute: 60 2:1, 92 2:1, 120 2:1",
    "ballad": "its last chord comes up half a beat early",
}


@pytest.mark.parametrize(("name", "line"), EXPLAINED.items(), ids=EXPLAINED.keys())
def test_what_an_explanation_says(name: str, line: str) -> None:
    assert any(line in told for told in explained(load_feels()[name]))


@pytest.mark.parametrize("name", sorted(load_feels()))
def test_an_explanation_goes_onto_the_screen(name: str) -> None:
    """130 columns at most, the cells on 80."""
    for line in explained(load_feels()[name]):
        assert len(line) <= (80 if line.startswith("fullness") else 130)


def test_a_file_is_proofed_all_at_once(tmp_path: Path) -> None:
    good, broken = tmp_path / "good.toml", tmp_path / "broken.toml"
    good.write_text(QUAYSIDE, encoding="utf-8")
    broken.write_text(QUAYSIDE.replace('"short"', '"crisp"').replace("voices = 2", "voices = 7"), encoding="utf-8")
    well = run("feels", str(good))
    assert (well.returncode, well.stdout.splitlines()[-1]) == (0, f"{good}: nothing to mend")
    wrong = run("feels", str(broken), str(good))
    assert wrong.returncode == 1
    assert wrong.stdout.splitlines()[0].startswith("wrong: broken.toml: touch: 'crisp'")
    assert wrong.stdout.splitlines()[1].startswith("wrong: broken.toml: fullness.1.voices: 7")
    assert wrong.stdout.splitlines()[2] == f"{broken}: 2 wrong"


# What is changed in the file, and what is then worth a look.
ODD: dict[str, tuple[dict[str, str], str]] = {
    "thinner when fuller": (
        {"x-xx-x-xx-": "x----x----"},
        "fullness.4: it has fewer attacks than fullness 3",
    ),
    "fewer voices when fuller": ({"voices = 5": "voices = 3"}, "fullness.4.voices: 3 are fewer"),
    "a name that is taken": ({'"quayside"': '"march"'}, 'name: it is played instead of the "march"'),
    "an ending that is none": ({'"short"': '"short"\nending = "x----x----"'}, "ending: it is what the bar has anyway"),
    "a voice that is never there": (
        {'"short"': '"short"\nbroken = "*234512345"', "voices = 5": "voices = 4"},
        "broken: voice 5 is never there; at its fullest a chord has 4",
    ),
}


@pytest.mark.parametrize(("changes", "told"), ODD.values(), ids=ODD.keys())
def test_what_is_worth_a_look(changes: dict[str, str], told: str) -> None:
    text = QUAYSIDE
    for old, new in changes.items():
        text = text.replace(old, new)
    assert any(remark.startswith(told) for remark in remarks(read_feel(text), load_feels(), 1.8))


def test_a_feel_may_be_denser_than_a_room_carries() -> None:
    """An eighth at 92 is 326 ms; a tenth of 4 s is 400 ms."""
    (told,) = remarks(read_feel(QUAYSIDE), load_feels(), 4.0)
    assert told.startswith("fullness.4: at 92 beats a minute attacks come 326 ms apart; a room of 4 s carries 400 ms")


def test_the_one_that_is_fine_has_nothing_worth_a_look() -> None:
    assert remarks(read_feel(QUAYSIDE), load_feels(), 1.8) == []


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        pytest.param(["waltzz"], 'did you mean "waltz"?', id="nearly right"),
        pytest.param(["march", "x.toml"], "not both", id="a name and a file"),
        pytest.param(["nowhere.toml"], "there is no such file", id="no such file"),
        pytest.param(["--hear"], "which feel", id="hear what"),
        pytest.param(["waltz", "--hear"], "--to FILE.wav", id="hear it where"),
        pytest.param(["waltz", "--to", "x.wav", "--fullness", "7"], "fullness takes one of 1, 2, 3, 4", id="too full"),
    ],
)
def test_what_cannot_be_done_is_told_in_a_line(arguments: list[str], says: str) -> None:
    told = run("feels", *arguments)
    assert told.returncode == 2
    assert says in told.stderr
    assert len(told.stderr.splitlines()) == 1


def test_a_feel_is_heard_as_a_file(tmp_path: Path) -> None:
    told = run("feels", "two in a bar", "--to", str(tmp_path / "two.wav"), "--tempo", "80")
    assert told.returncode == 0, told.stderr
    with wave.open(str(tmp_path / "two.wav")) as file:
        seconds = file.getnframes() / file.getframerate()
    # Seven bars of two beats at 80 are 10.5 seconds; the last is held a little, and the sound dies away.
    assert 10.5 < seconds < 16


def test_a_take_is_replayed_with_the_feel_it_was_played_with(tmp_path: Path) -> None:
    """Though the file has gone from the settings since: the take carries its text. One foot, and the shoe opened before it."""
    chart = tmp_path / "bridges.chart"
    chart.write_text(CHART, encoding="utf-8")
    header = {"take": 1, "program": "0.1.0", "chart": CHART, "feels": {"quayside.toml": QUAYSIDE}}
    header["settings"] = {"shoe": "fullness", "variety": False}
    shoe = {"event": "shoe", "at": 0.5, "heard": 0.5, "value": 127}
    foot = {"event": "key down", "at": 1.0, "heard": 1.0, "division": "pedal", "key": 43}
    take = tmp_path / "take.jsonl"
    take.write_text("".join(json.dumps(line) + "\n" for line in (header, shoe, foot)), encoding="utf-8")
    told = run("replay", str(chart), str(take), "--json")
    assert told.returncode == 0, told.stderr
    notes = [json.loads(line) for line in told.stdout.splitlines() if '"note"' in line]
    struck = [note["position"] for note in notes if note["on"] and note["at"] < 3.5]
    # Fullness 4 of the feel: x-xx-x-xx- in eighths.
    assert list(dict.fromkeys(struck))[:4] == ["0", "1", "3/2", "5/2"]


def test_what_is_missing_is_asked_for_with_an_example_of_its_own(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "empty.toml").write_text("", encoding="utf-8")
    assert main(["feels", str(tmp_path / "empty.toml")]) == 1
    told = capsys.readouterr().out
    assert 'name: is missing; it takes text in quotes, such as "quayside"' in told
    assert 'cell: is missing; it takes text in quotes, such as "x-x-"' in told
