"""``import``, ``export`` and ``key`` as a player uses them."""

from __future__ import annotations

from pathlib import Path

import pytest

from charts.notation import read_chart_file
from liveassist.cli import main

DEMO = Path(__file__).parents[1] / "demo_charts"
TUNE = 'X:1\nT:Weir Song\nM:4/4\nL:1/4\nK:D\n"D"d4 | "A7"e4 |\n\nX:2\nT:Mill Song\nM:3/4\nK:G\n"G"G3 | "??"A3 |\n'


@pytest.fixture
def book(tmp_path: Path) -> Path:
    path = tmp_path / "book.abc"
    path.write_text(TUNE)
    return path


def test_a_book_of_tunes_becomes_charts_with_a_report(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", str(book), "--to", str(tmp_path / "charts")]) == 0
    told = capsys.readouterr().out
    assert "Weir Song, 2 bars, 2 chords" in told
    assert "2 songs" in told
    chart = read_chart_file(tmp_path / "charts" / "weir_song.chart")
    assert (chart.title, chart.key.name) == ("Weir Song", "D")


def test_what_was_not_understood_is_an_exit_code(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book.write_text(TUNE.replace('"A7"', '"A7xyz"'))
    assert main(["import", str(book), "--to", str(tmp_path)]) == 1
    assert 'not as written: bar 2: the chord "A7xyz" cannot be read' in capsys.readouterr().out
    assert "# bar 2" in (tmp_path / "weir_song.chart").read_text()


def test_a_file_that_is_not_there(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", str(tmp_path / "none.abc"), "--to", str(tmp_path)]) == 1
    assert "there is no such file" in capsys.readouterr().out


def test_on_standard_output_stands_the_chart_alone(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["import", str(book), str(tmp_path / "none.abc"), "--to", "-"]) == 1
    told = capsys.readouterr()
    assert "not imported: " in told.err
    assert "3 songs: " in told.err
    assert "= Mill Song" in told.out
    assert not [line for line in told.out.splitlines() if "imported" in line or "->" in line]


def test_an_empty_folder_is_bad_input(tmp_path: Path) -> None:
    assert main(["import", str(tmp_path)]) == 2


def test_nothing_is_written_over(book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["import", str(book), "--to", str(tmp_path)]) == 0
    assert main(["import", str(book), "--to", str(tmp_path)]) == 1
    assert "--force" in capsys.readouterr().out
    assert main(["import", str(book), "--to", str(tmp_path), "--force"]) == 0


def test_a_large_folder_is_shared_by_processes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    folder = tmp_path / "many"
    folder.mkdir()
    for number in range(30):
        (folder / f"tune{number}.abc").write_text(f'X:1\nT:Tune {number}\nK:G\n"G"G4|\n')
    assert main(["import", str(folder), "--to", str(tmp_path / "out")]) == 0
    assert len(list((tmp_path / "out").glob("*.chart"))) == 30


@pytest.mark.parametrize("suffix", [".musicxml", ".mxl", ".abc", ".txt", ".chart"])
def test_export_by_suffix(suffix: str, tmp_path: Path) -> None:
    target = tmp_path / f"song{suffix}"
    assert main(["export", str(DEMO / "the_baker_rises_early.chart"), "--to", str(target)]) == 0
    assert target.stat().st_size > 100


def test_export_to_what_is_not_known(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["export", str(DEMO / "five_doors.chart"), "--to", str(tmp_path / "song.doc")]) == 2
    assert ".musicxml" in capsys.readouterr().err


def test_key_tells_where_the_tune_lies(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["key", str(DEMO / "the_baker_rises_early.chart")]) == 0
    rows = capsys.readouterr().out.splitlines()
    assert len([row for row in rows if " major " in row]) == 12
    written = next(row for row in rows if "as written" in row)
    assert "D4-C5" in written


def test_key_writes_the_chart_in_another(tmp_path: Path) -> None:
    target = tmp_path / "lower.chart"
    assert main(["key", str(DEMO / "the_baker_rises_early.chart"), "Eb", "--to", str(target)]) == 0
    assert read_chart_file(target).key.name == "Eb"


def test_key_refuses_a_change_of_mode(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["key", str(DEMO / "the_baker_rises_early.chart"), "Gm"]) == 2
    assert "stays major" in capsys.readouterr().err
