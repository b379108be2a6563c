"""Options that several commands have: how each is read and what its help says, stated once.

Most values are texts: they are read where all settings are (``layering.stated``).
"""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import Any


def whole(text: str) -> int:
    """A whole number, as stated on the command line."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a whole number') from None


_OPTIONS: Mapping[str, Mapping[str, Any]] = {
    "--console": {"metavar": "FILE", "help": "console profile (default: the plain console)"},
    "--lead": {"metavar": "NAME", "help": "feet, switch, pulse, click or drums"},
    "--time": {"metavar": "FROM", "help": "where time comes from: feet, click, drums or clock"},
    "--place": {"metavar": "FROM", "help": "where place comes from: feet, switch or bars"},
    "--patience": {"metavar": "N", "help": "missing changes to carry on through: 0, 1, 2 or always"},
    "--tempo": {"metavar": "BPM", "help": "counted beats a minute (default: the chart's)"},
    "--fullness": {"metavar": "N", "help": "1 bare to 4 full (default 2)"},
    "--room": {"metavar": "SECONDS", "help": "reverberation time"},
    "--feel": {"metavar": "NAME", "help": "a feel for the whole chart"},
    "--shoe": {"metavar": "USE", "help": "what the swell shoe sets: off (default) or fullness"},
    "--click": {"action": argparse.BooleanOptionalAction, "help": "a click, or none"},
    "--signals": {"action": argparse.BooleanOptionalAction, "help": "quiet signs in your ears"},
    "--calls": {"action": argparse.BooleanOptionalAction, "help": "call the sections in your ears"},
    "--registration": {"metavar": "NAME", "help": "flutes, principals, strings or full, for --sound"},
    "--ears": {"metavar": "DEVICE", "help": "sound device of your in-ears, by name: the click, and no music"},
    "--drummer-ears": {"metavar": "DEVICE", "help": "sound device of the drummer's in-ears"},
    "--click-offset": {"metavar": "MS", "help": "your click comes so many milliseconds later"},
    "--no-variety": {
        "dest": "variety",
        "action": "store_const",
        "const": False,
        "help": "play equal bars alike, without small variations",
    },
    "--bass": {"action": argparse.BooleanOptionalAction, "help": "play the bass, too (default: no)"},
    "--sound": {"metavar": "DEVICE", "help": "sound device to play through, by name"},
    "--from-bar": {"metavar": "N", "help": "start at bar N of the route, counted from 1"},
    "--key": {"metavar": "KEY", "help": "in this key"},
    "--take": {"metavar": "FILE"},
    "--no-desk": {"action": "store_true"},
    "--headless": {"action": "store_true"},
    "--seed": {"type": whole, "default": 1, "metavar": "N"},
    "--report": {"metavar": "FILE"},
    "--forget": {"action": "store_true", "help": "do not keep it in the history"},
    "--force": {"action": "store_true", "help": "write over a file that is there"},
    "--json": {"action": "store_true", "help": "for programs"},
}
"""As ``argparse`` takes them. Those without a help have one of their own in each command."""

IN_EARS = ("--ears", "--drummer-ears", "--click-offset")
"""Where the click is heard."""


def add(parser: argparse._ActionsContainer, *names: str, **otherwise: Any) -> None:
    """Add options by their names; ``otherwise`` is what this command has another way."""
    for name in names:
        parser.add_argument(name, **{**_OPTIONS[name], **otherwise})


def add_playing(parser: argparse.ArgumentParser) -> None:
    """The settings of a performance that a player may state."""
    add(parser, "--console", "--lead", "--time", "--place", "--patience", "--tempo")
    add(parser, "--fullness", help="1 bare to 4 full")
    add(parser, "--feel", "--shoe", "--click", "--signals", "--calls", "--registration")
    add(parser, *IN_EARS, "--no-variety", "--bass")
