"""``liveassist print`` as an organist meets it."""

from __future__ import annotations

from pathlib import Path

import mido
import pytest

from liveassist.cli import main

CHART = "title = Two Bars\nkey = Bb\n\n== Verse ==\n| Bb | F7 |]\n"


@pytest.fixture
def chart(tmp_path, monkeypatch) -> str:
    monkeypatch.chdir(tmp_path)
    (tmp_path / "two_bars.chart").write_text(CHART, encoding="utf-8")
    return "two_bars.chart"


@pytest.mark.parametrize(
    ("to", "file", "begins"),
    [
        (None, "two_bars.html", b"<!DOCTYPE html>"),
        ("mine.html", "mine.html", b"<!DOCTYPE html>"),
        ("mine.musicxml", "mine.musicxml", b"<?xml"),
        ("mine.xml", "mine.xml", b"<?xml"),
        ("mine.mxl", "mine.mxl", b"PK"),
        ("mine.svg", "mine.svg", b"<svg"),
        ("MINE.MID", "MINE.MID", b"MThd"),
        (".musicxml", "two_bars.musicxml", b"<?xml"),
        (".", "two_bars.html", b"<!DOCTYPE html>"),
    ],
)
def test_the_file_s_name_says_what_is_written(chart, capsys, to, file, begins):
    assert main(["print", chart, *(["--to", to] if to else [])]) == 0
    assert Path(file).read_bytes().startswith(begins)
    assert capsys.readouterr().out.strip().endswith(file)


def test_a_folder_gets_every_song(chart, tmp_path):
    (tmp_path / "another.chart").write_text(CHART, encoding="utf-8")
    (tmp_path / "music").mkdir()
    assert main(["print", chart, "another.chart", "--to", "music"]) == 0
    assert sorted(path.name for path in (tmp_path / "music").iterdir()) == ["another.html", "two_bars.html"]


def test_standard_output(chart, capfdbinary):
    assert main(["print", chart, "--to", "-"]) == 0
    assert capfdbinary.readouterr().out.startswith(b"<!DOCTYPE html>")
    assert not Path("-").exists()


@pytest.mark.parametrize(
    ("option", "file"),
    [("--chords", "two_bars_chords.html"), ("--simple", "two_bars_simple.html"), ("--overview", "overview.html")],
)
def test_other_pages_have_names_of_their_own(chart, option, file):
    assert main(["print", chart, option]) == 0
    assert Path(file).exists()


def test_the_simple_hand_as_midi(chart):
    assert main(["print", chart, "--simple", "--to", "s.mid"]) == 0
    left = mido.MidiFile("s.mid").tracks[2]
    assert sum(message.type == "note_on" for message in left) == 6


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["--to", "song.pdf"], ["song.pdf", ".pdf", ".html", ".musicxml", ".mid", "browser"]),
        (["--to", "nowhere/song.html"], ["nowhere", "no folder"]),
        (["--to", "song"], ["song", ".html", "folder that is there"]),
        (["--chords", "--to", "song.mid"], ["song.mid", ".html only"]),
        (["--feel", "polka dots"], ["polka dots", "quarters"]),
        (["--fullness", "9"], ["9"]),
    ],
    ids=["unknown suffix", "no folder", "no suffix", "chords as MIDI", "unknown feel", "fullness"],
)
def test_what_cannot_be_done_is_told(chart, capsys, arguments, told):
    assert main(["print", chart, *arguments]) == 2
    said = capsys.readouterr().err
    for word in told:
        assert word in said


def test_two_songs_do_not_go_into_one_file(chart, capsys):
    assert main(["print", chart, chart, "--to", "one.html"]) == 2
    assert "folder" in capsys.readouterr().err


def test_a_place_that_cannot_be_written_is_told(chart, tmp_path, capsys):
    (tmp_path / "taken.html").mkdir()
    (tmp_path / "taken.html" / "two_bars.html").mkdir()
    assert main(["print", chart, "--to", "taken.html"]) == 2
    assert "it is a folder" in capsys.readouterr().err


def test_a_chart_with_a_slip_is_told_with_its_line(chart, capsys):
    Path(chart).write_text(CHART.replace("F7", "Fmaj77"), encoding="utf-8")
    assert main(["print", chart]) in (1, 2)
    assert "line 5" in capsys.readouterr().err


def test_another_tempo_is_printed(chart):
    assert main(["print", chart, "--tempo", "66", "--to", "t.musicxml"]) == 0
    assert "<per-minute>66</per-minute>" in Path("t.musicxml").read_text(encoding="utf-8")
