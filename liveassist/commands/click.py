"""The command ``click``: a steady pattern to set the in-ear click by."""

from __future__ import annotations

import argparse

from liveassist.commands.options import IN_EARS, add, whole


def add_to(parser: argparse.ArgumentParser) -> None:
    add(parser, "--console", help="console profile: the figure's division plays along")
    parser.add_argument("--bars", type=whole, default=8, metavar="N", help="so many bars, where there is no terminal")
    add(parser, *IN_EARS)


def run(options: argparse.Namespace) -> int:
    from liveassist.commands.click_pattern import play_pattern

    return play_pattern(options)
