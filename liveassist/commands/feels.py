"""The command ``feels``: the ways of playing the figure."""

from __future__ import annotations

import argparse

from liveassist.commands.options import add


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("names", nargs="*", metavar="NAME", help="a feel to explain, or a file of your own to proof")
    parser.add_argument("--hear", action="store_true", help="play it: seven bars, with the pedal")
    add(parser, "--sound")
    parser.add_argument("--to", metavar="FILE.wav", help="write it to a WAV file instead")
    add(parser, "--tempo", help="counted beats a minute")
    add(parser, "--fullness", "--room")


def run(options: argparse.Namespace) -> int:
    from liveassist.commands.showing_feels import show

    return show(options)
