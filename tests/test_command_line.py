"""The command line as a player meets it: help at once, the contracts for programs, and clear words for bad input."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
DEMO = sorted((ROOT / "demo_charts").glob("*.chart"))
QUAY = next(path for path in DEMO if "quay" in path.name)


def run(*arguments: str, **more: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "liveassist", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        cwd=ROOT,
        env={**os.environ, **more},
    )


def test_help_loads_nothing_heavy():
    code = "import sys; from liveassist.cli import main\ntry: main(['--help'])\nexcept SystemExit: print(*sys.modules)"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True).stdout
    assert "demo" in told
    loaded = set(told.splitlines()[-1].split())
    assert not loaded & {"textual", "music21", "numpy", "mido", "rtmidi", "pylibremidi", "miniaudio"}


@pytest.mark.parametrize(
    "command",
    [
        "demo",
        "play",
        "rehearse",
        "check",
        "replay",
        "review",
        "history",
        "fault-report",
        "route",
        "arrange",
        "print",
        "hear",
        "feels",
        "click",
        "ports",
        "console",
    ],
)
def test_every_command_explains_itself(command):
    told = run(command, "--help")
    assert told.returncode == 0
    assert command in told.stdout


def test_route_tells_every_bar_and_change():
    told = json.loads(run("route", str(QUAY), "--json").stdout)
    assert {"title", "key", "meter", "tempo", "sections", "bars"} <= set(told)
    changes = [change for bar in told["bars"] for change in bar["changes"]]
    assert [change["change"] for change in changes] == list(range(len(changes)))
    assert set(changes[0]) >= {"change", "position", "beat", "chord", "root", "bass", "pitch_classes"}
    assert set(told["bars"][0]) >= {"section", "pass", "bar", "position", "length", "changes"}


def test_arrange_tells_one_note_a_line():
    lines = run("arrange", str(QUAY), "--json").stdout.splitlines()
    for line in lines:
        note = json.loads(line)
        assert set(note) == {"part", "pitch", "position", "length", "change", "fullness"}
        assert 52 <= note["pitch"] <= 69


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["route", "nowhere.chart"], "nowhere.chart"),
        (["route", "demo_charts"], "folder"),
        (["replay", str(QUAY), "nowhere.mid"], "nowhere.mid"),
        (["replay", str(QUAY), str(QUAY), "--lead", "nose"], "feet"),
        (["arrange", str(QUAY), "--feel", "polka of doom"], "feel"),
        (["arrange", str(QUAY), "--tempo", "9000"], "tempo"),
        (["arrange", str(QUAY), "--tempo", "fast"], 'from 20 to 400 (counted beats a minute), not "fast"'),
        (["arrange", str(QUAY), "--tempo", "0"], "from 20 to 400"),
        (["arrange", str(QUAY), "--fullness", "9"], "1, 2, 3, 4, not 9"),
        (["arrange", str(QUAY), "--room", "0"], "seconds of reverberation"),
        (["play", str(QUAY), "--console", "nowhere.toml"], "nowhere.toml"),
        (["play", str(QUAY), "--from-bar", "500"], "bars 1 to 59"),
        (["play", str(QUAY), "--from-bar", "0"], "bars 1 to 59"),
        (["play", str(QUAY), "--from-bar", "two"], '"two" is not a whole number'),
        (["proof", str(QUAY)], 'did you mean "check"?'),
        (["rout", str(QUAY)], 'did you mean "route"?'),
        (["sing", str(QUAY)], "the commands are: demo, play, check"),
        (["route"], "chart"),
    ],
    ids=[
        *(
            "missing",
            "folder",
            "missing take",
            "lead",
            "feel",
            "tempo",
            "tempo in words",
            "tempo 0",
            "fullness",
            "room",
        ),
        *("missing profile", "bar too late", "bar 0", "bar in words", "another word", "slip of the pen", "no command"),
        "no chart",
    ],
)
def test_bad_input_is_told_in_one_line(arguments, says):
    told = run(*arguments)
    assert told.returncode == 2
    assert says in told.stderr
    assert told.stderr.count("\n") == 1


@pytest.mark.parametrize(
    "arguments", [("demo",), ("demo", "--headless"), ("play", str(QUAY))], ids=["demo", "headless", "play"]
)
def test_a_sound_device_that_is_not_there_is_told_before_anything_starts(arguments):
    told = run(*arguments, "--sound", "no such device")
    assert told.returncode == 2
    assert told.stdout == ""
    assert re.search(r'"no such device"; there are: |does not answer|needs the package', told.stderr)


def test_check_tells_all_problems_with_their_places(tmp_path):
    chart = tmp_path / "bad.chart"
    chart.write_text("title = x\nkey = D\n\n== Verse ==\n| D Q | G G G |\n", encoding="utf-8")
    told = run("check", str(chart))
    assert told.returncode == 1
    assert told.stdout.count("line 5") == 2


def test_check_tells_a_missing_file_once_and_goes_on():
    told = run("check", "nowhere.chart", str(QUAY))
    assert told.returncode == 1
    assert told.stdout.splitlines() == ["wrong: nowhere.chart: there is no such file", f"{QUAY}: nothing to mend"]


def test_check_finds_nothing_wrong_with_the_demo_charts():
    told = run("check", *map(str, DEMO))
    assert told.returncode == 0, told.stdout


def test_a_chart_that_is_not_text_is_refused(tmp_path):
    chart = tmp_path / "noise.chart"
    chart.write_bytes(bytes(range(128, 256)))
    told = run("route", str(chart))
    assert told.returncode == 2
    assert "UTF-8" in told.stderr


def test_a_word_too_many_after_console_is_told(tmp_path):
    told = run("console", str(tmp_path / "church.toml"), "chapel.toml")
    assert told.returncode == 2
    assert "one word too many" in told.stderr
    assert not list(tmp_path.iterdir())
