"""A line that tells how far it is, where somebody watches: on a terminal, and nowhere else."""

from __future__ import annotations

from typing import TextIO

WIDTH = 32
"""Signs of the bar."""


class Progress:
    """How many seconds of how many, written over itself. Use it in a ``with``: the line is gone afterwards."""

    def __init__(self, seconds: float, out: TextIO) -> None:
        self._seconds = seconds
        self._out = out if out.isatty() else None
        self._line = ""

    def __enter__(self) -> Progress:
        return self

    def __exit__(self, *_: object) -> None:
        if self._out and self._line:
            print(f"\r{' ' * len(self._line)}\r", end="", file=self._out, flush=True)

    def tell(self, done: float) -> None:
        """So many seconds are done."""
        line = progress_line(done, self._seconds)
        if self._out and line != self._line:
            self._line = line
            print(f"\r{line}", end="", file=self._out, flush=True)


def progress_line(done: float, seconds: float) -> str:
    """``"━━━━────  1:12 of 2:40"``."""
    share = min(done / seconds, 1.0) if seconds > 0 else 1.0
    full = round(share * WIDTH)
    return f"{'━' * full}{'─' * (WIDTH - full)}  {minutes(done)} of {minutes(seconds)}"


def minutes(seconds: float) -> str:
    """``"2:05"``."""
    return f"{int(seconds) // 60}:{int(seconds) % 60:02}"
