"""The command line's door: a command is found by its name, its words are read, errors become exit codes.

The commands are in ``liveassist.commands``. Nothing heavy is imported here: ``--help`` must come at once.
"""

from __future__ import annotations

import argparse
import difflib
import os
import sys
from collections.abc import Iterable, Sequence
from typing import Any, NoReturn

from liveassist.commands import COMMANDS, add_options, run

CAUTION = (
    "Hearing: start low, keep in-ears as quiet as they do their job, rest your ears; follow your local rules and ask a "
    "professional where in doubt."
)

MEANT = {
    "learn": "console",
    "start": "play",
    "run": "play",
    "perform": "play",
    "practise": "rehearse",
    "practice": "rehearse",
    "bug-report": "fault-report",
    "bug": "fault-report",
    "proof": "check",
    "proofread": "check",
    "roadmap": "route",
}
"""Words that a player may try, and the command that does it."""


class _Parser(argparse.ArgumentParser):
    """Tells what is wrong with a command in one line."""

    def error(self, message: str) -> NoReturn:
        said = message.removeprefix("argument ")
        self.exit(2, f"{self.prog}: {said} ({self.prog} --help tells what there is)\n")


class _Command(_Parser):
    """Reads the words of one command. Its options are stated when it is asked for, so that it alone is loaded."""

    def __init__(self, *, command: str, **more: Any) -> None:
        super().__init__(**more)
        self._unstated = command

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> Any:
        if self._unstated:
            add_options(self._unstated, self)
            self._unstated = ""
        return super().parse_known_args(args, namespace)


def _unknown(word: str, names: Iterable[str]) -> str:
    """What to say to a word that is no command."""
    names = list(names)
    near = [MEANT[word]] if word in MEANT else difflib.get_close_matches(word, names, n=1)
    advice = f'did you mean "{near[0]}"?' if near else f"the commands are: {', '.join(names)}"
    return f'"{word}" is not a command; {advice}'


def _parser() -> tuple[argparse.ArgumentParser, tuple[str, ...]]:
    """What reads the command line, and the names of the commands."""
    parser = _Parser(
        prog="liveassist",
        description="The rhythm section's left hand for a solo organist: follows a chord chart by the pedals and plays a "
        "detached figure on a second manual.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="store_true", help="tell the version and stop")
    commands = parser.add_subparsers(parser_class=_Command, dest="command", metavar="COMMAND", title="commands")

    for name, (_, does) in COMMANDS.items():
        commands.add_parser(name, help=does, command=name)
    return parser, tuple(COMMANDS)


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command. Returns the exit code: 0 well, 1 problems found in a chart, 2 bad input."""
    parser, names = _parser()
    words = sys.argv[1:] if arguments is None else list(arguments)
    if words and not words[0].startswith("-") and words[0] not in names:
        parser.error(_unknown(words[0], names))
    options = parser.parse_args(words)
    if options.version:
        from importlib.metadata import version

        print(f"liveassist {version('liveassist')}")
        return 0
    if options.command is None:
        parser.print_help()
        return 0

    from charts.errors import ChartError
    from liveassist.errors import PlayerError

    try:
        return run(options.command, options)
    except (PlayerError, ChartError) as error:
        print(f"liveassist: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader has had enough; nothing to tell
        return 0


if __name__ == "__main__":
    sys.exit(main())
