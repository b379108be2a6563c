"""The fault report: what is in the archive, what is listed, and that nothing is written unasked."""

from __future__ import annotations

import json
import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from liveassist.band.events import KeyDown
from liveassist.commands.fault_report import report
from liveassist.console.profile import PLAIN, write_profile
from liveassist.console.takes import Header, TakeWriter, read_take

ROOT = Path(__file__).parent.parent
CHART = "title = Quay\nkey = D\ntempo = 60\n\n== Verse ==\n| D | G |\n  Lamps along the water\n"
FEEL = """
name = "quayside"
about = "two and a half, and two and a half"
meters = ["5/4"]
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


@pytest.fixture
def take(tmp_path: Path) -> Path:
    path = tmp_path / "evening.jsonl"
    header = Header(
        program="0.1.0",
        started="2026-01-04T10:05:06+01:00",
        title="Quay",
        chart=CHART,
        chart_name="quay.chart",
        profile=write_profile(PLAIN).replace('port = ""', 'port = "House Organ"'),
        settings={"lead": "feet", "calls_folder": f"{Path.home()}/calls"},
        feels={"quayside.toml": FEEL},
        seed=1,
    )
    writer = TakeWriter(path, header)
    writer.event(KeyDown(at=1.0, heard=1.0, division="pedal", key=38))
    writer.wrong(f'Traceback: File "{Path.home()}/somewhere.py"')
    writer.close()
    return path


def run(tmp_path: Path, *arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "liveassist", *arguments],
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
        cwd=tmp_path,
        stdin=subprocess.DEVNULL,
        env={**os.environ, "PYTHONPATH": str(ROOT)},
    )


def test_one_archive_with_everything_that_a_replay_needs(take, tmp_path):
    told = run(tmp_path, "fault-report", str(take), "--yes")
    assert told.returncode == 0, told.stderr
    with zipfile.ZipFile(tmp_path / "evening-fault.zip") as archive:
        assert archive.namelist() == [
            "evening.jsonl",
            "song.chart",
            "console.toml",
            "feels/quayside.toml",
            "versions.txt",
        ]
        assert archive.testzip() is None
        archive.extractall(tmp_path / "out")
    again = read_take(tmp_path / "out" / "evening.jsonl")
    assert again.events == read_take(take).events
    assert (tmp_path / "out" / "song.chart").read_text(encoding="utf-8") == CHART
    assert "liveassist " in (tmp_path / "out" / "versions.txt").read_text(encoding="utf-8")
    replay = run(tmp_path / "out", "replay", "song.chart", "evening.jsonl")
    assert replay.returncode == 0, replay.stderr


def test_personal_data_is_listed_before_it_is_written(take, tmp_path):
    told = run(tmp_path, "fault-report", str(take))
    assert told.returncode == 2
    assert "--yes" in told.stderr
    assert not list(tmp_path.glob("*.zip"))
    for named in ("2026-01-04T10:05:06", "every key: 1", "words of the song", "calls folder"):
        assert named in told.stdout


def test_the_home_folder_is_not_in_it(take):
    found = report(take.read_bytes(), take.name)
    assert str(Path.home()).encode() not in b"".join(found.files.values())
    header = json.loads(found.files[take.name].splitlines()[0])
    assert header["settings"]["calls_folder"] == "~/calls"


def test_a_damaged_take_is_a_fault_worth_reporting(take):
    found = report(take.read_bytes() + b"not json\n", take.name)
    assert "the take is damaged" in found.files["versions.txt"].decode()
    assert set(found.files) == {take.name, "versions.txt"}


def test_a_midi_file_takes_chart_and_console_with_it(take, tmp_path):
    chart = tmp_path / "quay.chart"
    chart.write_text(CHART, encoding="utf-8")
    found = report(b"MThd rest", "evening.mid", chart=str(chart))
    assert list(found.files) == ["evening.mid", "song.chart", "versions.txt"]


def test_an_archive_is_never_written_over(take, tmp_path):
    assert run(tmp_path, "fault-report", str(take), "--yes").returncode == 0
    told = run(tmp_path, "fault-report", str(take), "--yes")
    assert told.returncode == 2
    assert "--to names another" in told.stderr


def test_the_same_take_gives_the_same_archive(take, tmp_path):
    for name in ("one.zip", "other.zip"):
        assert run(tmp_path, "fault-report", str(take), "--yes", "--to", name).returncode == 0
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "other.zip").read_bytes()
