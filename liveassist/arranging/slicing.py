"""Work in slices: a generator that gives way again and again, and returns what it made.

Whoever has all the time there is does it ``at_once``; the band, which may not be away for more than two milliseconds while it
plays, takes a slice whenever no note is due. What comes out is the same.
"""

from __future__ import annotations

from collections.abc import Callable, Generator
from functools import wraps
from typing import ParamSpec, TypeVar

A_FEW = 16
"""Changes, attacks or ways to look at in one slice."""

How = ParamSpec("How")
Made = TypeVar("Made")


def finished(work: Generator[None, None, Made]) -> Made:
    """What the work makes, all the slices that are left done at once."""
    while True:
        try:
            next(work)
        except StopIteration as done:
            made: Made = done.value
            return made


def at_once(in_slices: Callable[How, Generator[None, None, Made]]) -> Callable[How, Made]:
    """The same work with nobody to give way to."""

    @wraps(in_slices)
    def done(*args: How.args, **kwargs: How.kwargs) -> Made:
        return finished(in_slices(*args, **kwargs))

    return done
