"""Questions to a library's index."""

from __future__ import annotations

import re
import sqlite3
from collections.abc import Sequence
from dataclasses import dataclass

from charts.key import read_key
from charts.meter import read_meter
from liveassist.errors import PlayerError
from liveassist.library.index import folded

NEAR = 5.0
"""Counted beats a minute either side of a single tempo."""
_TEMPO = re.compile(r"(\d+(?:\.\d+)?)(?:\s*[-–]\s*(\d+(?:\.\d+)?))?")


@dataclass(frozen=True, kw_only=True, slots=True)
class Question:
    """What is looked for; everything stated must be so."""

    words: tuple[str, ...] = ()
    """Each somewhere in title or words."""
    key: str = ""
    meter: str = ""
    tempo: str = ""
    """Counted beats a minute, "92" or "80-100"."""
    feel: str = ""
    section: str = ""


@dataclass(frozen=True, kw_only=True, slots=True)
class Found:
    """One chart."""

    path: str
    title: str
    key: str
    meter: str
    bpm: float
    feels: str
    sections: str


_COLUMNS = "path, title, key, meter, bpm, feels, sections"


def search(index: sqlite3.Connection, question: Question) -> list[Found]:
    """The charts that fit, those first that have the words in their title. Raises PlayerError."""
    tests: list[str] = []
    values: list[object] = []

    def test(condition: str, *given: object) -> None:
        tests.append(condition)
        values.extend(given)

    words = [folded(word) for word in question.words]
    for word in filter(None, words):
        test("instr(words, ?)", word)
    try:
        if question.key:
            test("key = ?", read_key(question.key).name)
        if question.meter:
            test("meter = ?", read_meter(question.meter).name)
    except ValueError as error:
        raise PlayerError(str(error)) from None
    if question.tempo:
        test("bpm BETWEEN ? AND ?", *_tempi(question.tempo))
    for column, asked in (("feels", question.feel), ("sections", question.section)):
        if asked:
            test(f"instr({column}_folded, ?)", folded(asked))
    where = f" WHERE {' AND '.join(tests)}" if tests else ""
    rows = index.execute(f"SELECT {_COLUMNS}, folded FROM charts{where} ORDER BY folded, path", values).fetchall()
    rows.sort(key=lambda row: not all(word in row[-1] for word in words))
    return [_found(row[:-1]) for row in rows]


def _found(row: Sequence[object]) -> Found:
    return Found(**dict(zip(_COLUMNS.split(", "), row, strict=True)))  # type: ignore[arg-type]


def _tempi(text: str) -> tuple[float, float]:
    match = _TEMPO.fullmatch(text.strip())
    if match is None:
        raise PlayerError(f'"{text}" is no tempo to look for; I can read counted beats a minute: 92, or 80-100')
    low = float(match[1])
    return (low, float(match[2])) if match[2] else (low - NEAR, low + NEAR)


def used(index: sqlite3.Connection, chart: Found) -> list[str]:
    """When a chart was used, the latest first: the day, and the service where it was one."""
    rows = index.execute(
        "SELECT DISTINCT day, told FROM used WHERE chart = ? OR title = ? ORDER BY day DESC, told",
        (chart.path, folded(chart.title)),
    )
    return [" ".join(filter(None, [day, f"({told})" if told else ""])) for day, told in rows]


def duplicates(index: sqlite3.Connection) -> list[tuple[str, list[Found]]]:
    """Charts that may be the same song: why, and which."""
    groups = []
    for column, why in (("folded", "the same title"), ("fingerprint", "the same chords")):
        rows = index.execute(
            f"SELECT {_COLUMNS}, {column} FROM charts WHERE {column} IN (SELECT {column} FROM charts WHERE {column} != '' "
            f"GROUP BY {column} HAVING count(*) > 1) ORDER BY {column}, path"
        ).fetchall()
        alike: dict[str, list[Found]] = {}
        for row in rows:
            alike.setdefault(row[-1], []).append(_found(row[:-1]))
        groups += [(why, charts) for charts in alike.values()]
    seen: set[tuple[str, ...]] = set()
    told = []
    for why, charts in groups:  # alike in both is told once
        paths = tuple(chart.path for chart in charts)
        if paths not in seen:
            told.append((why, charts))
        seen.add(paths)
    return told
