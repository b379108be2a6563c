"""Amending: another key, tempo or roadmap written into the text of a chart, which otherwise stays as it is.

What need not change stays byte for byte: bars, words, spacing, line ends, and every comment. A tempo or a roadmap touches its
own lines only. Another key touches each chord symbol and each melody where it stands; scale degrees follow the key by
themselves. A line of the roadmap that goes leaves its comment behind.

Conventions: lines and columns count from 1, as the chart's places do.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from difflib import SequenceMatcher

from charts.chart import Change, Chart, Step
from charts.chord import read_chord
from charts.directions import step_text
from charts.errors import ChartError
from charts.lines import LINE_END, ROADMAP, lines_of
from charts.notation import read_chart
from charts.transposing import Interval, interval, section_moved, transposed_melody
from charts.values import tempo_text
from charts.writing import write_chart

_MELODY = re.compile(r"\s*melody\s*=\s*(?P<tune>.*)", re.IGNORECASE)
_AT_MOST = re.compile(r"[A-G][^\s|()]*(?:\s*\([^()]*\)[^\s|()]*)*")
"""A chord symbol and what may stand behind it; one that begins with a number is a degree."""


def amended(chart: Chart, wanted: Chart) -> str:
    """The text of a chart with the key, the tempo and the roadmap of another.

    Args:
        chart: as read from its text.
        wanted: the same song, transposed by the smaller way where its key is another.
    Raises:
        ValueError: where the text amended is not the music that is wanted. What else differs is not written.
    """
    page = _Page(chart.text)
    if wanted.key != chart.key:
        _move(page, chart, interval(chart.key, wanted.key, chart.key.half_steps_to(wanted.key)))
        page.value(chart.places["key"], wanted.key.name)
    if wanted.tempo != chart.tempo:
        if "tempo" in chart.places:
            page.value(chart.places["tempo"], tempo_text(wanted.tempo))
        else:
            page.below(chart.places["key"][0], page.like(chart.places["key"][0], "tempo", tempo_text(wanted.tempo)))
    if wanted.roadmap != chart.roadmap:
        _route(page, chart, wanted.roadmap)
    text = page.text()
    try:
        same = write_chart(read_chart(text, chart.source)) == write_chart(wanted)
    except ChartError as error:
        raise ValueError(str(error)) from None
    if not same:
        raise ValueError("what is wanted differs in more than key, tempo and roadmap")
    return text


class _Page:
    """The lines of a text, to be changed one by one."""

    def __init__(self, text: str) -> None:
        self._mark = "\ufeff" if text.startswith("\ufeff") else ""
        pieces = re.split(f"({LINE_END.pattern})", text.removeprefix("\ufeff"))
        self._lines, self._ends = pieces[::2], [*pieces[1::2], ""]
        self._end = self._ends[0] or "\n"
        """How a line of ours ends."""
        self._said = {line.number: len(line.text) for line in lines_of(text)}
        """How much of each line is no comment."""
        self._below: dict[int, list[str]] = {}
        self._gone: set[int] = set()

    def said(self, line: int) -> str:
        """A line without its comment, as it is now."""
        return self._lines[line - 1][: self._said.get(line, 0)]

    @property
    def numbers(self) -> Sequence[int]:
        """Of the lines that say something."""
        return tuple(self._said)

    def write(self, line: int, start: int, end: int, text: str) -> None:
        """Put a text in the place of the characters from ``start`` up to ``end``, from 0."""
        old = self._lines[line - 1]
        self._lines[line - 1] = old[:start] + text + old[end:]
        self._said[line] += len(text) - (end - start)

    def value(self, place: tuple[int, int], text: str) -> None:
        """Put a text in the place of a value, which goes on to the end of what its line says."""
        line, column = place
        self.write(line, column - 1, self._said[line], text)

    def below(self, line: int, *texts: str) -> None:
        """Put lines below a line; 0 is the top of the page."""
        self._below.setdefault(line, []).extend(texts)

    def like(self, line: int, name: str, value: str) -> str:
        """A line ``name = value`` that is laid out as another is."""
        before, _, _ = self._lines[line - 1].partition("=")
        return f"{name:{len(before) - 1}} = {value}" if before.endswith(" ") else f"{name}={value}"

    def remove(self, line: int) -> None:
        """Take a line away; its comment stays."""
        comment = self._lines[line - 1][self._said[line] :].strip()
        if comment:
            self.write(line, 0, len(self._lines[line - 1]) - len(comment), "")
        else:
            self._gone.add(line)

    def text(self) -> str:
        def rows() -> Iterator[str]:
            for number, (line, end) in enumerate(zip(self._lines, self._ends, strict=True), start=1):
                if number not in self._gone:
                    yield line + (end or (self._end if self._below.get(number) else ""))
                yield from (text + self._end for text in self._below.get(number, ()))

        return self._mark + "".join(rows())


# -- the key --------------------------------------------------------------------------------------------------------


def _move(page: _Page, chart: Chart, home: Interval) -> None:
    """Move chords, melodies and the keys of sections."""
    for section in chart.sections:
        key, own = section_moved(section, home)
        if key is not None:
            page.value(section.places["key"], key.name)
        changes = [change for bar in section.bars if not bar.copies for change in bar.changes]
        for change in sorted(changes, key=lambda change: (change.line, change.column), reverse=True):
            _move_chord(page, change, own)
    starts = [section.line for section in chart.sections]
    for number in page.numbers:
        match = _MELODY.fullmatch(page.said(number))
        if match and number > starts[0]:
            section = chart.sections[sum(start <= number for start in starts) - 1]
            tune = transposed_melody(match["tune"], section_moved(section, home)[1])
            page.write(number, match.start("tune"), match.end("tune"), tune)


def _move_chord(page: _Page, change: Change, by: Interval) -> None:
    """Write a chord anew where it stands: as far as its symbol goes, which is as far as it reads as that chord."""
    start = change.column - 1
    match = _AT_MOST.match(page.said(change.line), start)
    if change.chord.root is None or match is None:
        return
    text = match[0]
    for end in range(len(text), 0, -1):
        if not text[end - 1].isspace() and _reads_as(text[:end], change):
            page.write(change.line, start, start + end, by.chord(change.chord).symbol)
            return


def _reads_as(text: str, change: Change) -> bool:
    try:
        return read_chord(re.sub(r"\s+\(", "(", text)) == change.chord
    except ValueError:
        return False


# -- the roadmap ----------------------------------------------------------------------------------------------------


def _route(page: _Page, chart: Chart, steps: Sequence[Step]) -> None:
    new = [step_text(step) for step in steps]
    if not chart.roadmap:
        last = max(line for line, _ in chart.places.values())
        page.below(last, "", f"== {ROADMAP} ==", *new)
        return
    old = [step_text(step) for step in chart.roadmap]
    lines = [step.line for step in chart.roadmap]
    above = lines[0] - 1
    for how, start, end, first, after in SequenceMatcher(None, old, new, autojunk=False).get_opcodes():
        if how == "equal":
            continue
        both = min(end - start, after - first)
        for line, text in zip(lines[start : start + both], new[first:], strict=False):
            said = page.said(line)
            page.write(line, len(said) - len(said.lstrip()), len(said), text)
        for line in lines[start + both : end]:
            page.remove(line)
        place = start + both
        page.below(lines[place - 1] if place else above, *new[first + both : after])
