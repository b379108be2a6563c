"""The index of a library, in SQLite. It can be thrown away at any time: what is missing is read again.

Text is *folded* before it is compared: small letters, no accents, no hyphens between syllables. The *fingerprint* of a chart
is made of its written chords, each by its tones and its bass counted from the tonic, so that a song is known again in another
key and under another title; a song of fewer than ``FEWEST`` chords has none.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import sqlite3
import unicodedata
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path

from platformdirs import user_cache_path

from charts.chart import Chart
from charts.chord import Chord
from charts.errors import ChartError
from charts.notation import read_as_it_stands, text_of_file
from liveassist.service.file import read_service_file

CHART, SERVICE, TAKE = ".chart", ".toml", ".jsonl"
FEWEST = 8
LARGEST = 1_000_000
"""Bytes of a chart; nobody writes longer ones."""
HEADER = 2_000_000
"""Bytes of a take's first line at most."""
WAITS = 5.0
"""How long one program waits for another that is writing, in seconds."""
ODD = "\ufffd"
"""Stands in a path for what is no text (Unicode: the replacement character)."""
VERSION = 2
"""Of the tables: an index of another version is made anew."""
_TABLES = """
CREATE TABLE files (path TEXT PRIMARY KEY, time INTEGER, size INTEGER, trouble TEXT);
CREATE TABLE charts (
    path TEXT PRIMARY KEY, title TEXT, key TEXT, meter TEXT, bpm REAL, feels TEXT, sections TEXT,
    folded TEXT, words TEXT, feels_folded TEXT, sections_folded TEXT, fingerprint TEXT
);
CREATE TABLE used (source TEXT, chart TEXT, title TEXT, day TEXT, told TEXT);
CREATE INDEX used_chart ON used (chart);
CREATE INDEX used_title ON used (title);
"""


def folded(text: str) -> str:
    """Text as it is compared."""
    plain = "".join(char for char in unicodedata.normalize("NFKD", text.casefold()) if not unicodedata.combining(char))
    return " ".join(re.sub(r"(?<=\w)\s*-\s*(?=\w)", "", plain.replace("’", "'")).split())


def index_of(folder: Path, told: Callable[[int, int], None] = lambda done, all_: None) -> sqlite3.Connection:
    """The index of a folder and its subfolders, as the files are now.

    Args:
        folder: the library.
        told: hears how many files have been read of how many that are new or changed.
    """
    index = _opened(folder)
    try:
        _bring_up_to_date(index, folder, told)
    except sqlite3.DatabaseError:  # another program writes for long, the disk is full, the file is spoilt further in
        index.close()
        index = _ready(":memory:")
        _bring_up_to_date(index, folder, told)
    return index


def _bring_up_to_date(index: sqlite3.Connection, folder: Path, told: Callable[[int, int], None]) -> None:
    found = dict(_files(folder))
    known = {path: (time, size) for path, time, size in index.execute("SELECT path, time, size FROM files")}
    with index:
        for path in known.keys() - found.keys():
            _forget(index, path)
        changed = sorted(path for path, stamp in found.items() if known.get(path) != stamp)
        for number, path in enumerate(changed, start=1):
            _forget(index, path)
            read = _READERS[Path(path).suffix]
            trouble = "its name is no text in UTF-8: give it another" if ODD in path else read(index, folder, path)
            index.execute("INSERT INTO files VALUES (?, ?, ?, ?)", (path, *found[path], trouble))
            told(number, len(changed))


def _opened(folder: Path) -> sqlite3.Connection:
    """The index as it was kept; a new one where there is none, or none that can be read; in memory where none can be kept."""
    name = hashlib.sha256(str(folder.resolve()).encode("utf-8", "surrogateescape")).hexdigest()[:24]
    path = Path(user_cache_path("liveassist")) / "library" / f"{name}.sqlite3"
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with suppress(sqlite3.DatabaseError):
            return _ready(path)
        path.unlink(missing_ok=True)
        return _ready(path)
    except (OSError, sqlite3.DatabaseError):
        return _ready(":memory:")


def _ready(path: Path | str) -> sqlite3.Connection:
    index = sqlite3.connect(path, timeout=WAITS)
    try:
        (version,) = index.execute("PRAGMA user_version").fetchone()
        if version != VERSION:
            with index:
                for (name,) in index.execute("SELECT name FROM sqlite_master WHERE type = 'table'").fetchall():
                    index.execute(f'DROP TABLE "{name}"')
                index.executescript(_TABLES)
                index.execute(f"PRAGMA user_version = {VERSION}")
        index.execute("SELECT count(*) FROM charts").fetchone()
    except sqlite3.DatabaseError:
        index.close()
        raise
    return index


def _files(folder: Path) -> Iterator[tuple[str, tuple[int, int]]]:
    """Charts, services and takes with their times and sizes; hidden folders are left alone."""
    waiting = [str(folder)]
    while waiting:
        with suppress(OSError), os.scandir(waiting.pop()) as entries:
            for entry in entries:
                if entry.name.startswith("."):
                    continue
                if entry.is_dir(follow_symlinks=False):
                    waiting.append(entry.path)
                elif os.path.splitext(entry.name)[1] in _READERS and entry.is_file():
                    stat = entry.stat()
                    name = os.fsencode(os.path.relpath(entry.path, folder)).decode("utf-8", "replace")
                    yield name, (stat.st_mtime_ns, stat.st_size)


def _forget(index: sqlite3.Connection, path: str) -> None:
    index.execute("DELETE FROM files WHERE path = ?", (path,))
    index.execute("DELETE FROM charts WHERE path = ?", (path,))
    index.execute("DELETE FROM used WHERE source = ?", (path,))


# -- what files say -------------------------------------------------------------------------------------------------


def _read_chart(index: sqlite3.Connection, folder: Path, path: str) -> str:
    """Take a chart in. Returns what is wrong with it, empty where nothing is."""
    try:
        if (folder / path).stat().st_size > LARGEST:
            return "this is far too long for a chart"
        chart, problems = read_as_it_stands(text_of_file(folder / path), Path(path).name)
    except OSError as error:
        return str(error.strerror)
    except ChartError as error:
        return error.problems[0].message
    sections = [section.name for section in chart.sections]
    feels = dict.fromkeys(filter(None, [chart.feel, *(section.feel for section in chart.sections)]))
    words = [line for section in chart.sections for bar in section.bars for line in bar.words]
    words += [line.replace("-", "") for line in words if "-" in line]
    index.execute(
        "INSERT INTO charts VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
        (
            path,
            chart.title,
            chart.key.name,
            chart.meter.name,
            chart.tempo.quarter_bpm / float(chart.meter.counted_beat),
            ", ".join(feels),
            ", ".join(sections),
            folded(chart.title),
            folded(" / ".join([chart.title, *words])),
            folded(", ".join(feels)),
            folded(", ".join(sections)),
            fingerprint(chart),
        ),
    )
    return f"{len(problems)} wrong; liveassist check tells what" if problems else ""


def fingerprint(chart: Chart) -> str:
    """What its chords are, whatever the key; empty where there are too few."""
    chords = []
    for section in chart.sections:
        tonic = (section.key or chart.key).tonic.pitch_class
        chords += [_tones(change.chord, tonic) for bar in section.bars for change in bar.changes]
    if len(chords) < FEWEST:
        return ""
    return hashlib.sha256(json.dumps(chords).encode()).hexdigest()[:24]


def _tones(chord: Chord, tonic: int) -> list[int]:
    bass = [] if chord.bass is None else [(chord.bass.pitch_class - tonic) % 12]
    return [*bass, -1, *sorted((tone - tonic) % 12 for tone in chord.pitch_classes)]


def _read_service(index: sqlite3.Connection, folder: Path, path: str) -> str:
    """Note which charts a service uses. A file that is no service is none of ours."""
    try:
        service, _ = read_service_file(folder / path)
    except ChartError:
        return ""
    for item in service.items:
        if item.chart:
            chart = os.path.normpath(os.path.join(os.path.dirname(path), item.chart))
            index.execute("INSERT INTO used VALUES (?, ?, '', ?, ?)", (path, chart, service.date, service.title))
    return ""


def _read_take(index: sqlite3.Connection, folder: Path, path: str) -> str:
    """Note which song a take is of, and when it was played."""
    try:
        with (folder / path).open("rb") as file:
            header = json.loads(file.readline(HEADER))
        title, started = str(header["title"]), str(header["started"])
        (title + started).encode()  # JSON can write what is no text
    except (OSError, ValueError, TypeError, KeyError, RecursionError):
        return ""
    index.execute("INSERT INTO used VALUES (?, '', ?, ?, 'take')", (path, folded(title), started[:10]))
    return ""


_READERS: dict[str, Callable[[sqlite3.Connection, Path, str], str]] = {
    CHART: _read_chart,
    SERVICE: _read_service,
    TAKE: _read_take,
}


def troubles(index: sqlite3.Connection) -> list[tuple[str, str]]:
    """The charts that are not right, and why."""
    with closing(index.execute("SELECT path, trouble FROM files WHERE trouble != '' ORDER BY path")) as rows:
        return rows.fetchall()
