"""The command ``arrange``: the left hand as data or as a list."""

from __future__ import annotations

import argparse
import json

from liveassist.commands.options import add


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart")
    add(parser, "--json", "--console", "--fullness")
    add(parser, "--tempo", help="counted beats a minute")
    add(parser, "--room", "--feel", "--no-variety", "--bass")


def run(options: argparse.Namespace) -> int:
    """The left hand as data or as a list."""
    from liveassist.arranging.telling import note_as_json
    from liveassist.commands.arranged import arranged

    arrangement, settings, _ = arranged(options.chart, options)
    for note in arrangement.levels[settings.fullness]:
        row = note_as_json(note)
        if options.json:
            print(json.dumps(row))
        else:
            change = arrangement.route.changes[note.change].chord.shown
            print(f"{row['position']:>10}  {row['length']:>8}  {note.part:<6}  key {note.pitch}  {change}")
    return 0
