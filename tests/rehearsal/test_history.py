"""The history: what is kept is found again, after a kill, by two programs at once, and by a later version."""

from __future__ import annotations

import csv
import io
import os
import random
import signal
import sqlite3
import subprocess
import sys
import textwrap
import time
from contextlib import closing
from datetime import UTC, datetime, timedelta

import pytest

from liveassist.cli import main
from liveassist.errors import PlayerError
from liveassist.rehearsal import history
from liveassist.rehearsal.history import COLUMNS, History, compared, listed, write_csv

REVIEW = {
    "asked": 10,
    "right": 8,
    "held": 1,
    "timing": {"sd": 24.0, "mean": -11.0, "drift_percent": 0.4},
    "words": ["Good."],
}


@pytest.fixture
def kept(tmp_path):
    with History(tmp_path / "data" / "history.sqlite3") as found:
        yield found


def add(kept, number, title="Lanterns", days_ago=0, **changed):
    made = datetime.now(UTC) - timedelta(days=days_ago, seconds=-number)
    return kept.add(
        title=title, lead="pulse", chart="title = x", take=b"take %d" % number, review={**REVIEW, **changed}, made=made
    )


def test_a_take_is_found_again_with_everything(kept):
    number = add(kept, 1)
    assert kept.kept(number) == ("title = x", b"take 1")
    assert kept.review(number)["words"] == ["Good."]
    (entry,) = kept.entries()
    assert (entry.song, entry.lead, entry.asked, entry.right, entry.sd) == ("Lanterns", "pulse", 10, 9, 24.0)


def test_the_same_take_is_kept_once_with_the_newer_review(kept):
    first = add(kept, 1)
    assert add(kept, 1, right=9) == first
    assert [entry.right for entry in kept.entries()] == [10]


def test_songs_are_found_by_part_of_their_title(kept):
    add(kept, 1)
    add(kept, 2, title="Salt and Thyme")
    assert [entry.song for entry in kept.entries("thyme")] == ["Salt and Thyme"]
    assert len(kept.entries()) == 2


def test_pruning_keeps_the_latest_of_each_song(kept):
    for number in range(5):
        add(kept, number, days_ago=10 * (4 - number))
    add(kept, 9, title="Other", days_ago=100)
    assert kept.prune(keep=2) == 3
    assert [entry.song for entry in kept.entries()] == ["Other", "Lanterns", "Lanterns"]
    assert kept.prune(older_than=timedelta(days=50)) == 1


@pytest.mark.parametrize("asked", [("--keep", "-1"), ("--days", "-5"), ("--days", "9" * 12), ("--show", "9" * 20)])
def test_a_number_that_would_forget_everything_is_refused(tmp_path, monkeypatch, capsys, asked):
    monkeypatch.setattr("liveassist.commands.looking_back.user_data_path", lambda name: tmp_path)
    with History(tmp_path / "history.sqlite3") as kept:
        add(kept, 1)
    assert main(["history", *asked]) == 2
    assert f"{asked[0]} takes a whole number from 0" in capsys.readouterr().err
    with History(tmp_path / "history.sqlite3") as kept:
        assert len(kept.entries()) == 1


def test_takes_are_reviewed_again_when_the_review_has_become_better(kept, monkeypatch):
    number = add(kept, 1)
    assert kept.review_again(lambda chart, take: {**REVIEW, "words": ["no"]}) == 0
    monkeypatch.setattr(history, "REVIEW_VERSION", history.REVIEW_VERSION + 1)
    assert kept.review_again(lambda chart, take: {**REVIEW, "words": [chart, take.decode()]}) == 1
    assert kept.review(number)["words"] == ["title = x", "take 1"]


def test_a_number_that_is_not_there_is_told(kept):
    with pytest.raises(PlayerError, match="no take of that number"):
        kept.kept(77)


def test_the_table_for_a_spreadsheet_reads_back(kept):
    add(kept, 1, title='Lanterns, "slowly"')
    file = io.StringIO()
    write_csv(kept.entries(), file)
    header, row = csv.reader(io.StringIO(file.getvalue()))
    assert tuple(header) == COLUMNS
    assert row[1] == 'Lanterns, "slowly"'


def test_lists_and_comparisons_are_words(kept):
    assert "No takes yet" in next(listed([]))
    add(kept, 1)
    add(kept, 2, timing={"sd": 18.0, "mean": 0.0, "drift_percent": 0.0})
    one, other = kept.entries()
    assert any("24 ms, then 18 ms: steadier" in line for line in compared(one, other))
    assert len(list(listed([one, other]))) == 3


def test_a_newer_file_is_left_alone(tmp_path):
    path = tmp_path / "history.sqlite3"
    with History(path):
        pass
    with sqlite3.connect(path) as db:
        db.execute("PRAGMA user_version = 99")
    with pytest.raises(PlayerError, match="newer liveassist"):
        History(path)
    assert sqlite3.connect(path).execute("PRAGMA user_version").fetchone() == (99,)


def test_what_cannot_be_kept_now_is_told(tmp_path, monkeypatch):
    monkeypatch.setattr(history, "WAITS", 0.0)
    path = tmp_path / "history.sqlite3"
    kept = History(path)
    with closing(sqlite3.connect(path)) as other:
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(PlayerError, match="locked"), kept:
            add(kept, 1)


def test_a_file_that_is_none_is_told(tmp_path):
    path = tmp_path / "history.sqlite3"
    path.write_bytes(b"a shopping list, not a database" * 100)
    with pytest.raises(PlayerError, match="cannot be opened"):
        History(path)


WRITER = textwrap.dedent("""
    import sys
    from pathlib import Path
    from liveassist.rehearsal.history import History
    review = {"asked": 1, "right": 1, "held": 0, "timing": None}
    with History(Path(sys.argv[1])) as kept:
        print("open", flush=True)
        for number in range(10_000):
            kept.add(title="T", lead="feet", chart="c" * 5000, take=f"{sys.argv[2]} {number}".encode(), review=review)
            print(number, flush=True)
""")


def writer(path, name):
    return subprocess.Popen(
        [sys.executable, "-c", WRITER, str(path), name], stdout=subprocess.PIPE, text=True, env=os.environ
    )


def test_killed_while_writing_no_finished_take_is_lost(tmp_path):
    """Ten kills; the benchmark ``reviewing.py`` does two hundred."""
    path, dice = tmp_path / "history.sqlite3", random.Random(1)
    finished = 0
    for trial in range(10):
        program = writer(path, f"trial {trial}")
        assert program.stdout is not None
        assert program.stdout.readline() == "open\n"
        time.sleep(dice.uniform(0.0, 0.05))
        program.send_signal(signal.SIGKILL)
        finished += len(program.communicate()[0].splitlines())
        with History(path) as kept:
            entries = kept.entries()
            assert len(entries) >= finished
            assert all(kept.kept(entry.id) for entry in entries)


def test_two_programs_write_at_once(tmp_path):
    path = tmp_path / "history.sqlite3"
    programs = [writer(path, name) for name in ("one", "other")]
    for program in programs:
        assert program.stdout is not None
        for _ in range(21):
            program.stdout.readline()
    for program in programs:
        program.kill()
        program.communicate()
    with History(path) as kept:
        assert len(kept.entries()) >= 40
