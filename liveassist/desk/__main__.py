"""``python -m liveassist.desk HOST PORT``: the desk alone. The link's token comes in an environment variable."""

from __future__ import annotations

import os
import sys

from liveassist.desk import EXIT_USAGE
from liveassist.link import TOKEN_VARIABLE

USAGE = f"python -m liveassist.desk HOST PORT, with the band's token in the environment variable {TOKEN_VARIABLE}"


def main(arguments: list[str]) -> int:
    token = os.environ.get(TOKEN_VARIABLE, "")
    if len(arguments) != 2 or not arguments[1].isdigit() or not token:
        print(USAGE, file=sys.stderr)
        return EXIT_USAGE
    from liveassist.desk.app import run_desk

    return run_desk((arguments[0], int(arguments[1])), token)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
