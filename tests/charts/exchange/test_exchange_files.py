"""Files that are broken, hostile or not what they say: a clear refusal, in bounded time and memory, never a crash."""

from __future__ import annotations

import io
import time
import tracemalloc
import zipfile
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.errors import ChartError
from charts.exchange.charting import chart_of
from charts.exchange.door import READERS, read_sheets, sheets_of
from charts.exchange.files import LARGEST, write
from charts.exchange.outlets import exported
from charts.melody import written_melody
from charts.notation import read_chart_file

DEMO = Path(__file__).parents[3] / "demo_charts"


def _archive(**members: bytes) -> bytes:
    data = io.BytesIO()
    with zipfile.ZipFile(data, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in members.items():
            archive.writestr(name.replace("__", "/"), content)
    return data.getvalue()


def _refused(data: bytes, suffix: str, match: str) -> None:
    with pytest.raises(ChartError, match=match):
        sheets_of(data, f"page{suffix}", suffix)


def test_entities_are_refused() -> None:
    bomb = (
        b'<?xml version="1.0"?><!DOCTYPE s [<!ENTITY a "aa"><!ENTITY b "&a;&a;">]><score-partwise>&b;</score-partwise>'
    )
    _refused(bomb, ".musicxml", "entities")
    _refused(bomb.decode().encode("utf-16"), ".musicxml", "entities")


def test_an_archive_that_unpacks_to_too_much_is_refused_in_little_memory() -> None:
    data = _archive(**{"score.xml": b"<a>" + b" " * (3 * LARGEST) + b"</a>"})
    tracemalloc.start()
    _refused(data, ".mxl", "MB")
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 4 * LARGEST


def test_paths_in_an_archive_lead_nowhere(tmp_path: Path) -> None:
    container = b'<container><rootfiles><rootfile full-path="../../etc/passwd"/></rootfiles></container>'
    _refused(_archive(**{"META-INF__container.xml": container}), ".mxl", "no score")


@pytest.mark.parametrize("suffix", list(READERS))
def test_an_empty_file_is_refused(suffix: str) -> None:
    _refused(b"\n \n", suffix, "empty")


@pytest.mark.parametrize(
    ("data", "suffix", "match"),
    [
        (b"<score-partwise><part>", ".musicxml", "whole XML"),
        (b'<?xml version="1.0" encoding="undefined"?><score-partwise/>', ".musicxml", "no measures"),
        (b"<html><body/></html>", ".xml", "no score in MusicXML"),
        (b"<score-partwise/>", ".musicxml", "no measures"),
        (b"PK\x03\x04rubbish", ".mxl", "not a whole compressed score"),
        (b"\x00\x01\x02", ".pdf", "no kind of file"),
    ],
)
def test_what_is_no_score_is_told(data: bytes, suffix: str, match: str) -> None:
    _refused(data, suffix, match)


def test_a_file_too_large_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "large.abc"
    with path.open("wb") as file:
        file.truncate(LARGEST + 10)
    with pytest.raises(ChartError, match="larger than"):
        read_sheets(path)


@pytest.mark.parametrize("line", ["Verse" + " " * 3000 + "x", "(" * 3000, "to " * 900, "G" + " " * 5000 + "|" * 500])
@pytest.mark.parametrize("suffix", [".txt", ".abc"])
def test_long_lines_take_no_time(line: str, suffix: str) -> None:
    head = "Key: C\n" if suffix == ".txt" else "X:1\nK:C\n"
    start = time.thread_time()
    _read_or_refused((head + line + "\n" + line).encode(), suffix)
    assert time.thread_time() - start < 5


def test_a_file_is_never_written_over_unasked(tmp_path: Path) -> None:
    path = tmp_path / "song.chart"
    write(path, b"one")
    with pytest.raises(ChartError, match="--force"):
        write(path, b"two")
    assert path.read_bytes() == b"one"
    write(path, b"two", force=True)
    assert path.read_bytes() == b"two"
    assert [each.name for each in tmp_path.iterdir()] == ["song.chart"]


def _pages() -> list[tuple[bytes, str]]:
    chart = read_chart_file(DEMO / "the_baker_rises_early.chart")
    return [(exported(chart, suffix)[0], suffix) for suffix in (".musicxml", ".mxl", ".abc", ".txt")]


PAGES = _pages()
DAMAGE = st.tuples(st.sampled_from(["cut", "change", "double", "drop"]), st.floats(0, 0.999), st.integers(0, 255))


@settings(max_examples=150, deadline=None)
@given(st.integers(0, len(PAGES) - 1), st.lists(DAMAGE, min_size=1, max_size=6))
def test_a_damaged_page_is_read_or_refused(which: int, damage: list[tuple[str, float, int]]) -> None:
    page, suffix = PAGES[which]
    damaged = bytearray(page)
    for what, where, value in damage:
        at = int(where * len(damaged))
        if what == "cut" and damage.index((what, where, value)) == len(damage) - 1:
            del damaged[max(1, at) :]
        elif what == "change":
            damaged[at] = value
        elif what == "double":
            damaged[at:at] = damaged[max(0, at - 40) : at]
        else:
            del damaged[at : at + 10]
        damaged = damaged or bytearray(b" ")
    _read_or_refused(bytes(damaged), suffix)


@settings(max_examples=150, deadline=None)
@given(st.text(max_size=200), st.sampled_from([".abc", ".txt"]))
def test_any_text_is_read_or_refused(text: str, suffix: str) -> None:
    body = f"X:1\nT:t\nK:C\n{text}" if suffix == ".abc" else f"Key: C\nVerse\nC G\n{text}"
    _read_or_refused(body.encode("utf-8", "replace"), suffix)


TOKENS = [
    *["|", "||", ":|", "|:", "[1", "[2", "::", '"G"', '"x"', "C", "d2", "z", "(3", "&", "[K:D]", "[M:3/4]", "[L:1/16]"],
    *[
        "\n",
        "V:2\n",
        "\nP:B\n",
        "Z4",
        ">",
        "-",
        "!fine!",
        '"^D.S."',
        "{g}",
        "w: a b-c\n",
        "[CE]",
        "y",
        "%x\n",
        "\nM:C|\n",
    ],
]


@settings(max_examples=250, deadline=None)
@given(st.lists(st.sampled_from(TOKENS), max_size=30))
def test_any_signs_of_abc_are_read_or_refused(tokens: list[str]) -> None:
    _read_or_refused(("X:1\nT:t\nM:4/4\nL:1/4\nK:C\n" + " ".join(tokens)).encode(), ".abc")


def _read_or_refused(data: bytes, suffix: str) -> None:
    """A chart that can be read, unfolded and played, or a ChartError; nothing else."""
    try:
        sheets = sheets_of(data, f"page{suffix}", suffix)
    except ChartError:
        return
    for sheet in sheets:
        try:
            made = chart_of(sheet)
        except ChartError as error:
            if "no music" not in str(error):
                raise AssertionError(str(error)) from error
            continue
        assert not written_melody(made.chart)[1]
