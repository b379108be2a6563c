"""What the tests of the page read back with music21."""

from __future__ import annotations

from functools import lru_cache

from music21 import converter, stream

KEPT = 4
"""The latest texts are not read again: several tests look at the same score, and reading is the slowest part of each."""


@lru_cache(maxsize=KEPT)
def read_back(text: str) -> tuple[stream.Part, ...]:
    """The parts of a score. They are shared, so look and do not change."""
    return tuple(converter.parseData(text, format="musicxml").parts)
