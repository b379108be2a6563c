"""Sentences on a terminal: broken between words, not wherever its last column is. Into a file or a pipe they go whole."""

from __future__ import annotations

import shutil
import sys
import textwrap

NARROWEST = 20
"""Columns below which nothing is broken."""


def fitted(text: str, columns: int) -> str:
    """A text in lines of so many columns at most, behind a line's own indent; words and numbers stay whole."""
    if columns < NARROWEST:
        return text
    return "\n".join(
        textwrap.fill(
            line,
            columns,
            subsequent_indent=line[: len(line) - len(line.lstrip())],
            break_long_words=False,
            break_on_hyphens=False,
        )
        for line in text.split("\n")
    )


def say(text: str) -> None:
    """Print a text, fitted where it goes to a terminal."""
    print(fitted(text, shutil.get_terminal_size().columns) if sys.stdout.isatty() else text)
