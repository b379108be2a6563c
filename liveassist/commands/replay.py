"""The command ``replay``: what the band does with a take, or with a MIDI file."""

from __future__ import annotations

import argparse
import json

from liveassist.commands.options import add, add_playing


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart")
    parser.add_argument("take", help="a take, or a Standard MIDI File")
    add(parser, "--json", help="for programs, one object a line")
    add_playing(parser)


def run(options: argparse.Namespace) -> int:
    """What the band does with a take."""
    from liveassist.commands.looking_back import played_again
    from liveassist.console.replaying import in_words, story

    again = played_again(options)
    if options.json:
        for line in story(again.actions, again.route):
            print(json.dumps(line, ensure_ascii=False, separators=(",", ":")))
    else:
        for text in in_words(again.actions, again.route):
            print(text)
    return 0
