"""The command ``console``: learns the console by pressing, or checks it before the service."""

from __future__ import annotations

import argparse
from pathlib import Path

from liveassist.errors import PlayerError

CHECK = "check"
"""The word after ``console`` that asks for the bench check."""


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "profile",
        nargs="?",
        metavar="FILE",
        help=f'where to write the profile (default: console.toml); or the word "{CHECK}" for the one-minute bench check',
    )
    parser.add_argument(
        "checked",
        nargs="?",
        metavar="PROFILE",
        help=f'after "{CHECK}": the console to check (default: the plain console)',
    )


def run(options: argparse.Namespace) -> int:
    """Learn the console by pressing, or check it."""
    from liveassist.commands.layering import read_profile_file
    from liveassist.console.checking import check_console
    from liveassist.console.learning import learn_console

    if options.profile == CHECK:
        return check_console(read_profile_file(options.checked))
    if options.checked:
        raise PlayerError(
            f'"{options.checked}" is one word too many: liveassist console FILE, or liveassist console check FILE'
        )
    return learn_console(Path(options.profile or "console.toml"))
