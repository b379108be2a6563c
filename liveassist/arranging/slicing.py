"""Work in slices: a generator that gives way again and again, and returns what it made.

Whoever has all the time there is takes ``finished``; the band, which may not be away for more than two milliseconds while it
plays, takes a slice whenever no note is due. What comes out is the same.
"""

from __future__ import annotations

from collections.abc import Generator
from typing import TypeVar

Made = TypeVar("Made")


def finished(work: Generator[None, None, Made]) -> Made:
    """What the work makes, all its slices done at once."""
    while True:
        try:
            next(work)
        except StopIteration as done:
            made: Made = done.value
            return made
