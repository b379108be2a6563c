"""The command ``library``: looks through a library of charts."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING

from liveassist.commands.options import add
from liveassist.errors import PlayerError

if TYPE_CHECKING:
    from liveassist.library.search import Found

MANY = 200
"""From so many files to read on, the player is told how far it is."""
MOST = 40
"""Charts shown where the player did not ask for all."""


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("folder", help="the folder, with all its subfolders")
    parser.add_argument("words", nargs="*", metavar="WORD", help="words of title or text, right behind the folder")
    add(parser, "--key")
    parser.add_argument("--meter", metavar="METER", help="in this meter")
    add(parser, "--tempo", help="counted beats a minute: 92, or 80-100")
    add(parser, "--feel", help="with this feel")
    parser.add_argument("--section", metavar="NAME", help="with a section of this name")
    parser.add_argument("--duplicates", action="store_true", help="charts of the same title, or with the same chords")
    parser.add_argument("--all", action="store_true", help="all that fit, however many")
    add(parser, "--json", help="for programs, one object a line")


def run(options: argparse.Namespace) -> int:
    """Look for charts, and tell what is doubled and what is wrong."""
    from dataclasses import asdict

    from liveassist.library.index import index_of, troubles
    from liveassist.library.search import Question, duplicates, search, used

    folder = Path(options.folder)
    if not folder.is_dir():
        what = "this is a file; I need the folder that it is in" if folder.exists() else "there is no such folder"
        raise PlayerError(f"{folder}: {what}")
    question = Question(
        words=tuple(options.words),
        key=options.key or "",
        meter=options.meter or "",
        tempo=options.tempo or "",
        feel=options.feel or "",
        section=options.section or "",
    )
    with closing(index_of(folder, _progress)) as index:
        if options.duplicates:
            for why, charts in duplicates(index):
                print(f"{why}: {', '.join(chart.path for chart in charts)}")
            return 0
        found = search(index, question)
        with_use = [(chart, used(index, chart)) for chart in (found if options.json or options.all else found[:MOST])]
        if options.json:
            for chart, when in with_use:
                print(json.dumps({**asdict(chart), "used": when}, ensure_ascii=False))
            return 0
        for chart, when in with_use:
            print("\n".join(_in_words(chart, when)))
        if len(with_use) < len(found):
            print(f"... and {len(found) - len(with_use)} more; --all shows them")
        print(f"{len(found)} chart{'' if len(found) == 1 else 's'}")
        doubled = len(duplicates(index))
        if doubled and question == Question():
            print(f"{doubled} may be here twice: --duplicates tells which")
        for path, why in troubles(index) if question == Question() else ():
            print(f"look at: {path}: {why}")
    return 0


def _in_words(chart: Found, when: list[str]) -> Iterator[str]:
    from charts.key import read_key

    about = [read_key(chart.key).shown, chart.meter, f"{chart.bpm:.0f}", chart.feels]
    yield f"{chart.title}   {', '.join(filter(None, about))}   {chart.path}"
    if when:
        more = f", and {len(when) - 3} times before" if len(when) > 3 else ""
        yield f"    used {', '.join(when[:3])}{more}"


def _progress(done: int, of: int) -> None:
    if of >= MANY and sys.stderr.isatty():
        print(f"\rreading {done} of {of}", end="\n" if done == of else "", file=sys.stderr, flush=True)
