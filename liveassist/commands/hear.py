"""The command ``hear``: a chart as the band would play it, through a sound device or to a WAV file."""

from __future__ import annotations

import argparse

from liveassist.commands.options import add


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart")
    where = parser.add_mutually_exclusive_group()
    add(where, "--sound")
    where.add_argument("--to", metavar="FILE.wav", help="write a WAV file instead")
    begins = parser.add_mutually_exclusive_group()
    add(begins, "--from-bar", type=int, default=1)
    begins.add_argument("--section", metavar="NAME", default="", help="this section alone, where it first comes")
    parser.add_argument("--bars", type=int, metavar="N", default=0, help="so many bars and no more")
    parser.add_argument(
        "--parts", metavar="NAMES", help="some of figure,answer,melody,bass,click (default: all but the click)"
    )
    key = parser.add_mutually_exclusive_group()
    key.add_argument("--lift", type=int, metavar="N", default=0, help="so many half steps up (down: negative)")
    add(key, "--key")
    parser.add_argument("--level", type=float, metavar="DBFS", default=-20.0, help="of a full chord (default -20)")
    add(parser, "--console")
    add(parser, "--fullness", type=int)
    add(parser, "--tempo", type=float)
    add(parser, "--room", type=float, help="reverberation time, for the touch")
    parser.add_argument("--reverb", action="store_true", help="let the room be heard, too")
    add(parser, "--feel", "--no-variety")


def run(options: argparse.Namespace) -> int:
    from liveassist.commands.hearing import hear

    return hear(options)
