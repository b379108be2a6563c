"""The command ``rehearse``: a chart practised against a steady pulse."""

from __future__ import annotations

import argparse

from liveassist.commands.options import IN_EARS, add


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart", help="the chart")
    parser.add_argument(
        "--section", action="append", metavar="NAME", help="this section alone; say it again for more (default: all)"
    )
    parser.add_argument("--loop", action="store_true", help="round and round until you nod 'on' or leave")
    add(parser, "--tempo")
    parser.add_argument(
        "--ladder", metavar="FROM:TO:STEP", help="tempo ladder, as 60:80:4: up after two good passes, else down"
    )
    parser.add_argument(
        "--figure", action=argparse.BooleanOptionalAction, default=True, help="with the figure, or without"
    )
    parser.add_argument("--click", dest="click_on", metavar="WHERE", help="on beats (default), backbeat or bars")
    parser.add_argument("--drop", metavar="ON:OFF", help="the click falls out, as 2:2: two bars on, two bars off")
    add(parser, "--report", help="write pictures, words and figures as one HTML file")
    add(parser, "--forget")
    add(parser, "--take", help="where to write the take (default: the takes folder)")
    add(parser, "--no-desk", help="without the screen, from a count-in to the fine")
    add(parser, "--sound", help="sound device for the figure, by name")
    add(parser, "--headless", help="an imagined rehearser plays, told as text, with nothing plugged in")
    add(parser, "--seed", help="another imagined rehearser")
    add(parser, "--console")
    add(parser, "--fullness", help="1 bare to 4 full")
    add(parser, "--feel", *IN_EARS)


def run(options: argparse.Namespace) -> int:
    from liveassist.commands.rehearsing import rehearse

    return rehearse(options)
