"""History: what was practised and how it went, kept from week to week in one SQLite file.

A take is kept with its text (the take file itself, as it was written), so that it can be replayed and reviewed again when the
review has become better; its review is kept beside it with the version that made it. Writing is one transaction with a
write-ahead log: a program killed at any moment leaves every finished take and nothing half, and two programs may write at once.

The file states its version (``PRAGMA user_version``). Opening an older one brings it up to date step by step (``STEPS``); a
newer one is refused and left alone.
"""

from __future__ import annotations

import csv
import hashlib
import json
import sqlite3
import time
import zlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TextIO

from liveassist.errors import PlayerError

REVIEW_VERSION = 2
"""Of the review's JSON: raised when the review finds more, or judges otherwise."""
WAITS = 10.0
"""How long one program waits for another that is writing, in seconds."""

STEPS: tuple[str, ...] = (
    """
    CREATE TABLE songs (
        id INTEGER PRIMARY KEY,
        title TEXT NOT NULL UNIQUE
    );
    CREATE TABLE takes (
        id INTEGER PRIMARY KEY,
        song INTEGER NOT NULL REFERENCES songs (id),
        made TEXT NOT NULL,
        lead TEXT NOT NULL,
        digest TEXT NOT NULL UNIQUE,
        chart BLOB NOT NULL,
        take BLOB NOT NULL
    );
    CREATE INDEX takes_by_song ON takes (song, made);
    CREATE TABLE reviews (
        take INTEGER PRIMARY KEY REFERENCES takes (id) ON DELETE CASCADE,
        version INTEGER NOT NULL,
        asked INTEGER NOT NULL,
        well INTEGER NOT NULL,
        sd REAL,
        mean REAL,
        drift REAL,
        review BLOB NOT NULL
    );
    """,
)
"""What brings the file from each version to the next."""

COLUMNS = ("id", "song", "made", "lead", "asked", "right", "mean_ms", "sd_ms", "drift_percent")


@dataclass(frozen=True, kw_only=True, slots=True)
class Entry:
    """One take in a list."""

    id: int
    song: str
    made: str
    """Local date and time, ISO 8601."""
    lead: str
    asked: int
    right: int
    mean: float | None
    """Milliseconds, positive late."""
    sd: float | None
    drift: float | None
    """Per cent of the tempo."""


class History:
    """The file of takes. Raises PlayerError where it cannot be opened, and on leaving it (``with``) where something else went
    wrong with it: the disk is full, another program writes for too long."""

    def __init__(self, path: Path) -> None:
        self.path = path
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            self._db = sqlite3.connect(path, timeout=WAITS, isolation_level=None)
            self._keep_a_log()
            self._db.execute("PRAGMA synchronous = FULL")
            self._db.execute("PRAGMA foreign_keys = ON")
            self._bring_up_to_date()
        except (OSError, sqlite3.Error) as error:
            raise PlayerError(f"{path}: the history cannot be opened: {error}") from None

    def close(self) -> None:
        self._db.close()

    def __enter__(self) -> History:
        return self

    def __exit__(self, kind: object, error: BaseException | None, trace: object) -> None:
        self.close()
        if isinstance(error, sqlite3.Error):
            raise PlayerError(f"{self.path}: {error}") from None

    def _keep_a_log(self) -> None:
        """Write ahead. While another program opens a new file for the first time, SQLite refuses at once and does not wait."""
        until = time.monotonic() + WAITS
        while True:
            try:
                self._db.execute("PRAGMA journal_mode = WAL")
                return
            except sqlite3.OperationalError as error:
                if error.sqlite_errorcode != sqlite3.SQLITE_BUSY or time.monotonic() > until:
                    raise
                time.sleep(0.01)

    def _bring_up_to_date(self) -> None:
        if self._version() == len(STEPS):
            return
        with self._writing():
            version = self._version()  # another program may have been first
            if version > len(STEPS):
                raise PlayerError(
                    f"{self.path}: the history was written by a newer liveassist (version {version}; I know {len(STEPS)}); "
                    "it is left alone"
                )
            for step in STEPS[version:]:
                for statement in step.split(";"):
                    self._db.execute(statement)
            self._db.execute(f"PRAGMA user_version = {len(STEPS)}")

    def _version(self) -> int:
        return int(self._db.execute("PRAGMA user_version").fetchone()[0])

    @contextmanager
    def _writing(self) -> Iterator[None]:
        """One transaction: all of it or nothing."""
        self._db.execute("BEGIN IMMEDIATE")
        try:
            yield
        except BaseException:
            self._db.execute("ROLLBACK")
            raise
        self._db.execute("COMMIT")

    # -- writing ------------------------------------------------------------------------------------------------------

    def add(
        self, *, title: str, lead: str, chart: str, take: bytes, review: dict[str, Any], made: datetime | None = None
    ) -> int:
        """Keep a take and its review; returns its number. A take that is there already gets the new review."""
        digest = hashlib.sha256(chart.encode() + b"\0" + take).hexdigest()
        moment = (made or datetime.now(UTC)).astimezone(UTC).isoformat(timespec="seconds")
        with self._writing():
            self._db.execute("INSERT INTO songs (title) VALUES (?) ON CONFLICT DO NOTHING", (title,))
            song = self._db.execute("SELECT id FROM songs WHERE title = ?", (title,)).fetchone()[0]
            self._db.execute(
                "INSERT INTO takes (song, made, lead, digest, chart, take) VALUES (?, ?, ?, ?, ?, ?)"
                " ON CONFLICT DO NOTHING",
                (song, moment, lead, digest, zlib.compress(chart.encode()), zlib.compress(take)),
            )
            number = int(self._db.execute("SELECT id FROM takes WHERE digest = ?", (digest,)).fetchone()[0])
            self._keep_review(number, review)
        return number

    def _keep_review(self, number: int, review: dict[str, Any]) -> None:
        timing = review.get("timing") or {}
        self._db.execute(
            "INSERT OR REPLACE INTO reviews (take, version, asked, well, sd, mean, drift, review)"
            " VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
            (
                number,
                REVIEW_VERSION,
                review["asked"],
                review["right"] + review["held"],
                timing.get("sd"),
                timing.get("mean"),
                timing.get("drift_percent"),
                zlib.compress(json.dumps(review).encode()),
            ),
        )

    def review_again(self, made: Callable[[str, bytes], dict[str, Any]], *, every: bool = False) -> int:
        """Review takes again whose review is of an older version (or every one); returns how many. ``made`` makes the review
        from a chart's text and a take's bytes."""
        wanted = "" if every else f" WHERE version < {REVIEW_VERSION}"
        numbers = [row[0] for row in self._db.execute(f"SELECT take FROM reviews{wanted}")]
        for number in numbers:
            chart, take = self.kept(number)
            review = made(chart, take)
            with self._writing():
                self._keep_review(number, review)
        return len(numbers)

    def prune(self, *, older_than: timedelta | None = None, keep: int | None = None) -> int:
        """Forget takes that are older than so long, and all but the latest so many of each song; returns how many."""
        with self._writing():
            before = self._count()
            if older_than is not None:
                limit = (datetime.now(UTC) - older_than).isoformat(timespec="seconds")
                self._db.execute("DELETE FROM takes WHERE made < ?", (limit,))
            if keep is not None:
                self._db.execute(
                    "DELETE FROM takes WHERE id IN (SELECT id FROM (SELECT id, row_number() OVER"
                    " (PARTITION BY song ORDER BY made DESC, id DESC) AS place FROM takes) WHERE place > ?)",
                    (keep,),
                )
            return before - self._count()

    def _count(self) -> int:
        return int(self._db.execute("SELECT count(*) FROM takes").fetchone()[0])

    # -- reading ------------------------------------------------------------------------------------------------------

    def entries(self, title: str | None = None, *, latest: int | None = None) -> list[Entry]:
        """Takes in order of time, of one song (any capitals, any part of its title) or of all; the latest so many."""
        rows = self._db.execute(
            "SELECT takes.id, songs.title, made, lead, asked, well, mean, sd, drift FROM takes"
            " JOIN songs ON songs.id = takes.song JOIN reviews ON reviews.take = takes.id"
            " WHERE ? IS NULL OR instr(lower(songs.title), lower(?))"
            " ORDER BY made DESC, takes.id DESC LIMIT ?",
            (title, title, -1 if latest is None else latest),
        ).fetchall()
        return [_entry(row) for row in reversed(rows)]

    def kept(self, number: int) -> tuple[str, bytes]:
        """A take's chart and the take itself. Raises PlayerError where there is none of that number."""
        row = self._db.execute("SELECT chart, take FROM takes WHERE id = ?", (number,)).fetchone()
        if row is None:
            raise PlayerError(f"{number}: the history has no take of that number; liveassist history lists them")
        return zlib.decompress(row[0]).decode(), zlib.decompress(row[1])

    def review(self, number: int) -> dict[str, Any]:
        """A take's review. Raises PlayerError."""
        row = self._db.execute("SELECT review FROM reviews WHERE take = ?", (number,)).fetchone()
        if row is None:
            raise PlayerError(f"{number}: the history has no take of that number; liveassist history lists them")
        found: dict[str, Any] = json.loads(zlib.decompress(row[0]))
        return found


def _entry(row: Sequence[Any]) -> Entry:
    number, song, made, lead, asked, right, mean, sd, drift = row
    local = datetime.fromisoformat(made).astimezone().isoformat(sep=" ", timespec="minutes")[:16]
    return Entry(id=number, song=song, made=local, lead=lead, asked=asked, right=right, mean=mean, sd=sd, drift=drift)


# -- to read ----------------------------------------------------------------------------------------------------------


def listed(entries: Sequence[Entry]) -> Iterator[str]:
    """A table of takes."""
    if not entries:
        yield "No takes yet: rehearse a chart, or review a take, and it is kept here."
        return
    width = min(32, max(len(entry.song) for entry in entries))
    yield f"{'no':>5}  {'when':<16}  {'song':<{width}}  {'lead':<6}  {'right':>9}  {'SD':>7}  {'drift':>6}"
    for entry in entries:
        right = f"{entry.right}/{entry.asked}"
        sd = "" if entry.sd is None else f"{entry.sd:.0f} ms"
        drift = "" if entry.drift is None else f"{entry.drift:+.1f}%"
        yield (
            f"{entry.id:>5}  {entry.made}  {entry.song[:width]:<{width}}  {entry.lead:<6}  {right:>9}  {sd:>7}  {drift:>6}"
        )


def compared(one: Entry, other: Entry) -> Iterator[str]:
    """What has changed from one take to another, in words."""
    yield f"{one.song}, {one.made} and {other.made}"
    before, after = one.right / max(1, one.asked), other.right / max(1, other.asked)
    yield f"right notes {before:.0%}, then {after:.0%}"
    if one.sd is not None and other.sd is not None:
        change = "steadier" if other.sd < one.sd else "less steady"
        yield (
            f"timing {one.sd:.0f} ms, then {other.sd:.0f} ms: {change}"
            if round(one.sd) != round(other.sd)
            else (f"timing {one.sd:.0f} ms both times")
        )
    if one.drift is not None and other.drift is not None:
        yield f"drift {one.drift:+.1f} %, then {other.drift:+.1f} %"


def write_csv(entries: Sequence[Entry], file: TextIO) -> None:
    """The table for a spreadsheet (RFC 4180)."""
    writer = csv.writer(file)
    writer.writerow(COLUMNS)
    for entry in entries:
        writer.writerow(
            [entry.id, entry.song, entry.made, entry.lead, entry.asked, entry.right, entry.mean, entry.sd, entry.drift]
        )
