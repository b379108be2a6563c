"""The command ``review``: what a take tells about the playing."""

from __future__ import annotations

import argparse

from liveassist.commands.options import add, add_playing


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart")
    parser.add_argument("take", help="a take, or a Standard MIDI File")
    add(parser, "--json")
    add(parser, "--report", help="also write pictures, words and figures as one HTML file")
    add(parser, "--forget")
    add_playing(parser)


def run(options: argparse.Namespace) -> int:
    """What a take tells about the playing: words first, then figures. A take of the tool's own is kept in the history."""
    from liveassist.commands.looking_back import played_again, tell

    again = played_again(options)
    tell(again, options.take, report_to=options.report, forget=options.forget, as_json=options.json)
    return 0
