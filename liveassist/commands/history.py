"""The command ``history``: the takes reviewed so far, listed, compared, exported, pruned."""

from __future__ import annotations

import argparse
from datetime import timedelta
from io import StringIO
from pathlib import Path

from liveassist.errors import PlayerError

MOST = 999_999
"""Takes, or days, that can be asked for."""


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("song", nargs="?", help="part of a song's title (default: all songs)")
    parser.add_argument("--show", type=int, metavar="NO", help="what was said of a take")
    parser.add_argument("--compare", type=int, nargs=2, metavar="NO", help="two takes, by their numbers")
    parser.add_argument("--csv", metavar="FILE", help="write the list for a spreadsheet")
    parser.add_argument("--again", action="store_true", help="review every take again, as this version does")
    parser.add_argument("--keep", type=int, metavar="N", help="forget all but the latest N takes of each song")
    parser.add_argument("--days", type=int, metavar="N", help="forget takes older than N days")


def run(options: argparse.Namespace) -> int:
    """The takes kept: listed, compared, exported, pruned."""
    from charts.whole import write_whole
    from liveassist.commands.looking_back import history_file, review_kept
    from liveassist.rehearsal.history import History, compared, listed, write_csv

    for name in ("show", "keep", "days"):
        value = getattr(options, name)
        if value is not None and not 0 <= value <= MOST:  # fewer than none would forget everything
            raise PlayerError(f"--{name} takes a whole number from 0 to {MOST}, not {value}")
    with History(history_file()) as kept:
        if options.compare:
            entries = {entry.id: entry for entry in kept.entries()}
            for number in options.compare:
                if number not in entries:
                    raise PlayerError(
                        f"{number}: the history has no take of that number; liveassist history lists them"
                    )
            for line in compared(*(entries[number] for number in options.compare)):
                print(line)
            return 0
        if options.show is not None:
            for sentence in kept.review(options.show)["words"]:
                print(sentence)
            return 0
        if options.again:
            print(f"{kept.review_again(review_kept, every=True)} takes reviewed again")
            return 0
        if options.keep is not None or options.days is not None:
            older = None if options.days is None else timedelta(days=options.days)
            print(f"{kept.prune(older_than=older, keep=options.keep)} takes forgotten")
            return 0
        entries_found = kept.entries(options.song)
    if options.csv:
        try:
            rows = StringIO(newline="")
            write_csv(entries_found, rows)
            write_whole(Path(options.csv), rows.getvalue())
        except OSError as error:
            raise PlayerError(f"{options.csv}: cannot be written: {error.strerror}") from None
        print(f"{options.csv}: {len(entries_found)} takes")
        return 0
    for row in listed(entries_found):
        print(row)
    return 0
