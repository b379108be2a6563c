"""The command ``import``: charts made of files from elsewhere.

Exit codes are those of ``check``: 0 all understood, 1 something was not (it is told, with its bar), 2 bad input.
"""

from __future__ import annotations

import argparse
import os
import re
import sys
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TextIO

from charts.errors import ChartError
from liveassist.commands.options import add
from liveassist.commands.target import STANDARD_OUTPUT, file_name
from liveassist.errors import PlayerError

MANY = 24
"""Files from which on several processes share the work."""
MOST_IN_THE_CHART = 20
"""Remarks that are kept as comments in the chart itself."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Song:
    """One song brought in, or the message that tells why it was not."""

    title: str
    text: str = ""
    bars: int = 0
    chords: int = 0
    lost: tuple[str, ...] = ()
    told: tuple[str, ...] = ()
    error: str = ""


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("files", nargs="+", metavar="FILE", help="a file, or a folder of them")
    parser.add_argument("--to", metavar="FILE|FOLDER", help="where to (default: this folder); - for standard output")
    add(parser, "--force", help="write over files that are there")


def run(options: argparse.Namespace) -> int:
    """Charts made of files from elsewhere."""
    files = list(_files(options.files))
    if not files:
        raise PlayerError(f"there is nothing to import in {', '.join(options.files)}; {_known()}")
    single = _single_target(options.to)
    said = sys.stderr if options.to == STANDARD_OUTPUT else sys.stdout
    taken: set[Path] = set()
    counts = {"songs": 0, "whole": 0, "failed": 0}
    for path, songs in _with_progress(files, _read_all(files)):
        for song in songs:
            counts["songs"] += 1
            if song.error:
                counts["failed"] += 1
                print(f"not imported: {song.error}", file=said)
                continue
            if single and counts["songs"] - counts["failed"] > 1:
                raise PlayerError(f"--to {options.to}: more than one song does not go into one file; name a folder")
            try:
                target = _write(song, path, options, taken)
            except ChartError as error:
                counts["failed"] += 1
                print(f"not imported: {error}", file=said)
                continue
            counts["whole"] += not song.lost
            _tell(song, path, target, said)
    if counts["songs"] > 1:
        print(
            f"{counts['songs']} songs: {counts['whole']} understood in all, "
            f"{counts['songs'] - counts['whole'] - counts['failed']} in part, {counts['failed']} not imported",
            file=said,
        )
    return 0 if counts["whole"] == counts["songs"] else 1


def _known() -> str:
    from charts.exchange.door import READERS

    return f"files that are understood end in {', '.join(READERS)}"


def _files(named: Sequence[str]) -> Iterator[Path]:
    """The files named, and those in the folders named whose suffix is understood."""
    from charts.exchange.door import READERS

    for name in named:
        path = Path(name)
        if path.is_dir():
            yield from sorted(each for each in path.rglob("*") if each.suffix.lower() in READERS and each.is_file())
        else:
            yield path


def _read_all(files: Sequence[Path]) -> Iterator[list[Song]]:
    if len(files) < MANY:
        yield from map(songs_of, files)
        return
    from concurrent.futures import ProcessPoolExecutor

    with ProcessPoolExecutor(max_workers=os.cpu_count()) as pool:
        yield from pool.map(songs_of, files, chunksize=8)


def songs_of(path: Path) -> list[Song]:
    """The songs of one file as charts; one that tells what is wrong where there are none."""
    from charts.exchange.charting import chart_of
    from charts.exchange.door import read_sheets

    try:
        sheets = read_sheets(path)
    except ChartError as error:
        return [Song(title=path.stem, error=str(error))]
    songs = []
    for number, sheet in enumerate(sheets, 1):
        title = sheet.title or (path.stem if len(sheets) == 1 else f"{path.stem} {number}")
        try:
            made = chart_of(sheet, path.name)
        except ChartError as error:
            songs.append(Song(title=title, error=f"{title}: {error}"))
            continue
        bars = [bar for section in made.chart.sections for bar in section.bars]
        songs.append(
            Song(
                title=title,
                text=_with_title(made.chart.text, sheet.title, title),
                bars=len(bars),
                chords=sum(len(bar.changes) for bar in bars),
                lost=tuple(str(remark) for remark in made.remarks if remark.lost),
                told=tuple(str(remark) for remark in made.remarks if not remark.lost),
            )
        )
    return songs


def _with_title(text: str, stated: str, title: str) -> str:
    """A song without a title has its file's name."""
    return text if stated else re.sub(r"(?m)^(title *= ).*$", lambda match: match[1] + title, text, count=1)


def _with_progress(files: Sequence[Path], found: Iterable[list[Song]]) -> Iterator[tuple[Path, list[Song]]]:
    """The same, with a line that tells how far it is where somebody watches."""
    watched = len(files) > 1 and sys.stderr.isatty()
    for number, (path, songs) in enumerate(zip(files, found, strict=True), 1):
        if watched:
            filled = 30 * number // len(files)
            print(f"\r\033[K[{'#' * filled:30}] {number} of {len(files)}", end="", file=sys.stderr, flush=True)
            print("\r\033[K", end="", file=sys.stderr, flush=True)
        yield path, songs


def _single_target(to: str | None) -> bool:
    return to is not None and to != STANDARD_OUTPUT and Path(to).suffix == ".chart" and not Path(to).is_dir()


def _write(song: Song, path: Path, options: argparse.Namespace, taken: set[Path]) -> str:
    from charts.exchange.files import write

    lines = [f"# From {path.name}.", *(f"# {remark}" for remark in song.lost[:MOST_IN_THE_CHART])]
    text = "\n".join(" ".join(line.split()) for line in lines) + "\n" + song.text
    if options.to == STANDARD_OUTPUT:
        print(text)
        return "standard output"
    if _single_target(options.to):
        target = Path(options.to)
    else:
        folder = Path(options.to or ".")
        try:
            folder.mkdir(parents=True, exist_ok=True)
        except OSError as error:
            raise PlayerError(f"--to {folder}: {error.strerror}") from None
        target = _free(folder, file_name(song.title), taken)
    write(target, text.encode(), force=options.force)
    return str(target)


def _free(folder: Path, stem: str, taken: set[Path]) -> Path:
    """A name that no song of this run has."""
    target, number = folder / f"{stem}.chart", 2
    while target in taken:
        target, number = folder / f"{stem}_{number}.chart", number + 1
    taken.add(target)
    return target


def _tell(song: Song, path: Path, target: str, stream: TextIO) -> None:
    print(f"{path.name} -> {target}: {song.title}, {song.bars} bars, {song.chords} chords", file=stream)
    for remark in song.lost:
        print(f"  not as written: {remark}", file=stream)
    for remark in song.told:
        print(f"  note: {remark}", file=stream)
