"""Layout: where systems begin, and where the words stand.

A line of bars in the chart is a line on the page, so that the words stand below the bars they belong to; a line too full
for that is divided evenly, and its words with it, at a comma where one is near. Syllables are laid below the notes only where
it is certain which belongs to which: where the tune has as many notes as the words have syllables, words being divided by
their own hyphens only.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil

from charts.syllables import Syllable, syllables_of
from liveassist.page.score import Score
from liveassist.page.sheet import Printed

FULL = 48
"""Notes and rests side by side that a line takes."""
MOST_BARS = 6
MOST_JOINED = 5
"""Bars of two of the chart's lines that stand on one."""
LEAST = 4
"""A bar counts as so many at least."""
LONGEST = 84
"""Letters of words below one line."""


@dataclass(frozen=True, slots=True)
class System:
    """One line of the page."""

    first: int
    """Index of its first printed bar."""
    words: tuple[str, ...]
    """Lines of text below it."""


@dataclass(frozen=True, slots=True)
class Layout:
    """Where everything stands."""

    systems: tuple[System, ...]
    sung: dict[int, tuple[tuple[Syllable, ...], ...]]
    """For each printed bar with syllables below its notes: for each line of words the syllables of its notes, in order."""


def layout(score: Score, printed: Sequence[Printed], density: Sequence[int]) -> Layout:
    """The lines of the page. ``density``: for each printed bar how many notes and rests stand side by side."""
    systems: list[System] = []
    sung: dict[int, tuple[tuple[Syllable, ...], ...]] = {}
    weights = [max(LEAST, notes) for notes in density]
    for line in _lines(score, printed, weights):
        bars = [score.route.bars[printed[number].index] for number in line]
        words = next((bar.words for bar in bars if bar.words), ())
        notes = [sum(not stroke.tie_in for stroke in score.contents[printed[number].index].melody) for number in line]
        syllables = [syllables_of(text) for text in words]
        if words and all(len(each) == sum(notes) for each in syllables):
            place = 0
            for number, count in zip(line, notes, strict=True):
                sung[number] = tuple(tuple(each[place : place + count]) for each in syllables)
                place += count
            words = ()
        systems += _divided(line, [weights[number] for number in line], words)
    return Layout(tuple(systems), sung)


def _lines(score: Score, printed: Sequence[Printed], weights: Sequence[int]) -> list[list[int]]:
    """The printed bars by the chart's lines; a short line without words goes on behind the one before."""
    lines: list[list[int]] = []
    for number, bar in enumerate(printed):
        if not lines or bar.new_line:
            lines.append([])
        lines[-1].append(number)
    joined = lines[:1]
    for line in lines[1:]:
        first, together = printed[line[0]], [*joined[-1], *line]
        worded = any(score.route.bars[printed[number].index].words for number in line)
        full = len(together) > MOST_JOINED or sum(weights[number] for number in together) > FULL
        if first.heading or worded or full:
            joined.append(line)
        else:
            joined[-1] = together
    return joined


def _divided(line: Sequence[int], weights: Sequence[int], words: Sequence[str]) -> list[System]:
    """One line of the chart as so many lines of the page as it needs."""
    longest = max((len(text) for text in words), default=0)
    count = min(len(line), max(ceil(sum(weights) / FULL), ceil(len(line) / MOST_BARS), ceil(longest / LONGEST)))
    share = sum(weights) / count
    starts, filled = [0], 0
    for at, weight in enumerate(weights):
        if at and len(starts) < count and filled + weight / 2 > share * len(starts):
            starts.append(at)
        filled += weight
    ends = [*starts[1:], len(line)]
    texts = [
        divided_words(text, [(end - start) / len(line) for start, end in zip(starts, ends, strict=True)])
        for text in words
    ]
    return [
        System(line[start], tuple(text[number] for text in texts if text[number]))
        for number, start in enumerate(starts)
    ]


def divided_words(text: str, shares: Sequence[float]) -> list[str]:
    """A line of words in as many pieces as there are shares, between words and rather behind a comma."""
    pieces, rest = [], text.strip()
    for number in range(len(shares) - 1):
        wanted = len(rest) * shares[number] / sum(shares[number:])
        gaps = [match.start() for match in re.finditer(" ", rest)]
        if not gaps:
            break
        at = min(gaps, key=lambda gap: abs(gap - wanted) - (8 if rest[gap - 1] in ",.;:!?" else 0))
        pieces.append(rest[:at].rstrip())
        rest = rest[at:].lstrip()
    return [*pieces, rest, *[""] * len(shares)][: len(shares)]
