"""The command rehearse, with an imagined rehearser: what is told, what is kept, and what it says to bad input."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
QUAY = str(ROOT / "demo_charts" / "lanterns_on_the_quay.chart")


def rehearse(tmp_path: Path, *arguments: str, command: str = "rehearse") -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "liveassist", command, *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        cwd=ROOT,
        env={**os.environ, "XDG_DATA_HOME": str(tmp_path), "XDG_CONFIG_HOME": str(tmp_path)},
    )


def test_one_pass_is_told_in_words_and_written_as_a_report(tmp_path):
    report, take = tmp_path / "week.html", tmp_path / "take.jsonl"
    told = rehearse(tmp_path, QUAY, "--headless", "--report", str(report), "--take", str(take))
    assert told.returncode == 0, told.stderr
    assert "pedal notes right. Timing" in told.stdout
    assert "Next: " in told.stdout
    assert report.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    found = rehearse(tmp_path, QUAY, str(take), "--json", command="review")
    assert json.loads(found.stdout)["reference"] == "click"
    assert "Lanterns on the Quay" in rehearse(tmp_path, command="history").stdout


def test_an_underscore_is_rehearsed_once_and_the_song_goes_on_to_its_end(tmp_path):
    told = rehearse(tmp_path, str(ROOT / "demo_charts" / "over_the_causeway.chart"), "--headless")
    assert told.returncode == 0, told.stderr
    assert "underscore" not in told.stdout
    assert "Ending" in told.stdout


def test_a_section_up_the_ladder(tmp_path):
    told = rehearse(tmp_path, QUAY, "--headless", "--section", "chorus", "--ladder", "100:104:4", "--no-figure")
    assert told.returncode == 0, told.stderr
    assert "up to 104" in told.stdout
    assert "Chorus" in told.stdout or "Every pedal note right" in told.stdout
    assert "Verse" not in told.stdout


def test_a_loop_left_in_the_middle_misses_nothing_after_it(tmp_path):
    told = rehearse(tmp_path, QUAY, "--headless", "--section", "Chorus", "--loop", "--drop", "2:2", "--seed", "3")
    words = told.stdout.split("\n\n")[1] if told.stdout.startswith(" ") else told.stdout
    right, _, asked = words.split(" pedal notes")[0].split()[-3:]
    assert int(asked) - int(right) < 0.1 * int(asked)


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--section", "Bridge of sighs"), 'there is no "Bridge of sighs" in the order of playing; there are: Intro'),
        (("--ladder", "80:60:4"), "from:to:step in counted beats a minute"),
        (("--ladder", "60:80:4", "--loop"), "leave --loop and --tempo away"),
        (("--drop", "two"), "bars with the click and bars without, as 2:2"),
        (("--click", "sometimes"), "one of beats, backbeat, bars"),
    ],
)
def test_bad_input_is_told_in_one_line(tmp_path, options, said):
    told = rehearse(tmp_path, QUAY, "--headless", *options)
    assert told.returncode == 2
    assert said in told.stderr
    assert told.stderr.count("\n") == 1
