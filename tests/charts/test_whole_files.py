"""A file is written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from charts.whole import whole_file, write_whole


def _names(folder: Path) -> list[str]:
    return sorted(path.name for path in folder.iterdir())


def _broken_off(path: Path) -> None:
    with whole_file(path) as file:
        file.write(b"half of the new")
        assert path.read_text() == "the old one"
        raise KeyboardInterrupt


def test_text_and_bytes(tmp_path: Path) -> None:
    write_whole(tmp_path / "psalm.chart", "Söng\n")
    write_whole(tmp_path / "psalm.mxl", b"PK\0")
    assert (tmp_path / "psalm.chart").read_bytes() == "Söng\n".encode()
    assert (tmp_path / "psalm.mxl").read_bytes() == b"PK\0"
    assert _names(tmp_path) == ["psalm.chart", "psalm.mxl"]


def test_half_a_file_is_never_left(tmp_path: Path) -> None:
    path = tmp_path / "song.wav"
    write_whole(path, "the old one")
    with pytest.raises(KeyboardInterrupt):
        _broken_off(path)
    assert path.read_text() == "the old one"
    assert _names(tmp_path) == ["song.wav"]


def test_a_file_that_is_there_is_kept_where_that_is_asked(tmp_path: Path) -> None:
    path = tmp_path / "song.chart"
    write_whole(path, "the old one", over=False)
    with pytest.raises(FileExistsError):
        write_whole(path, "the new one", over=False)
    assert path.read_text() == "the old one"
    write_whole(path, "the new one")
    assert path.read_text() == "the new one"


def test_a_private_file_is_for_nobody_else(tmp_path: Path) -> None:
    write_whole(tmp_path / "token", "1", private=True)
    assert (tmp_path / "token").stat().st_mode & 0o777 == 0o600


def test_a_file_keeps_its_rights_and_a_link_stays_a_link(tmp_path: Path) -> None:
    path, link = tmp_path / "song.chart", tmp_path / "sunday.chart"
    write_whole(path, "the old one")
    path.chmod(0o664)
    link.symlink_to(path)
    write_whole(link, "the new one")
    assert link.is_symlink()
    assert path.read_text() == "the new one"
    assert path.stat().st_mode & 0o777 == 0o664


def test_a_file_that_may_not_be_written_is_not_replaced(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "song.chart"
    write_whole(path, "the old one")
    monkeypatch.setattr("charts.whole.os.access", lambda *_: False)
    with pytest.raises(PermissionError):
        write_whole(path, "the new one")
    assert path.read_text() == "the old one"


def test_a_pipe_is_written_into(tmp_path: Path) -> None:
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    reader = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    try:
        write_whole(pipe, "to whoever reads")
        assert os.read(reader, 100) == b"to whoever reads"
    finally:
        os.close(reader)
    assert pipe.is_fifo()


@pytest.mark.parametrize(
    ("name", "error"),
    [("nowhere/song.chart", FileNotFoundError), (".", IsADirectoryError)],
    ids=["no folder", "folder"],
)
def test_where_nothing_can_be_written(tmp_path: Path, name: str, error: type[OSError]) -> None:
    with pytest.raises(error):
        write_whole(tmp_path / name, "a song")
    assert _names(tmp_path) == []
