"""What is written between two barlines: chords, beats, and marks in parentheses.

A group in parentheses is a mark where every word of it (they stand between commas) is one, glued or not: ``D(hold)``,
``D (hold, rit.)``. Otherwise it belongs to the chord: ``A7(b9)``, ``A7 (b9)``, ``G(no3)/B``. A mark belongs to the chord it
follows; before the first symbol of a bar, to the first chord.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from charts.chart import BAR_MARKS
from charts.chord import Chord
from charts.counting import AND, BEAT, CHORD
from charts.lines import Problems
from charts.marks import ALL_MARKS, read_mark
from charts.pitch import plain_accidentals

COPY = "copy"
"""The sign ``%``."""

_GROUP = re.compile(r"\(([^()]*)\)")
_SYMBOL = re.compile(r"\((?P<group>[^()]*)\)|(?P<word>[^\s()]+(?:\([^()]*\)[^\s()]*)*)|(?P<stray>[()][^()]*)")
_DASHES = str.maketrans("\u2212\u2013\u2010\u2011", "----")


@dataclass(frozen=True, slots=True)
class Symbol:
    """One chord, ``/`` or ``%``, and the change marks that follow it."""

    kind: str
    column: int
    chord: Chord | None = None
    """None for ``/`` and ``%``, and for a chord that could not be read."""
    marks: tuple[str, ...] = ()
    text: str = ""


@dataclass(slots=True)
class Cell:
    """What stands between two barlines."""

    symbols: list[Symbol] = field(default_factory=list)
    opening_marks: tuple[str, ...] = ()
    """Change marks before the first symbol."""
    bar_marks: tuple[str, ...] = ()
    mark_column: int = 0
    """Column of the first mark, 0 where there is none."""


def read_cell(text: str, column: int, line: int, read: Callable[[str], Chord], problems: Problems) -> Cell:
    """Reads the text between two barlines, which begins at ``column`` of its line. ``read`` reads one chord symbol."""
    cell = Cell()
    on_the_and = False
    for match in _SYMBOL.finditer(text.translate(_DASHES)):
        here = column + match.start()
        if match["stray"] is not None:
            problems.add(line, here, "a parenthesis that has no partner in this bar; a mark is written (hold)")
        elif match["group"] is not None:
            _read_group(match["group"], cell, here, line, read, problems)
        else:
            word, marks = _take_marks(match["word"])
            if word == "&":
                on_the_and = True
                continue
            cell.symbols.extend(_read_word(word, on_the_and, here, line, read, problems))
            on_the_and = False
            if marks:
                _attach(cell, marks, here + len(word))
    if on_the_and:
        problems.add(
            line, column + text.rindex("&"), "& wants a chord after it: &A puts A on the and of the beat before"
        )
    return cell


def _take_marks(word: str) -> tuple[str, tuple[str, ...]]:
    """A symbol without the marks glued to it, and those marks."""
    taken: list[str] = []

    def take(match: re.Match[str]) -> str:
        marks = [read_mark(part) for part in re.split("[,;]", match[1])]
        known = [mark for mark in marks if mark is not None]
        if len(known) < len(marks):
            return match[0]
        taken.extend(known)
        return ""

    return _GROUP.sub(take, word), tuple(taken)


def _read_word(
    word: str, on_the_and: bool, column: int, line: int, read: Callable[[str], Chord], problems: Problems
) -> list[Symbol]:
    if not on_the_and and word == "%":
        return [Symbol(COPY, column, text=word)]
    if not on_the_and and re.fullmatch("/+", word):
        return [Symbol(BEAT, column + k, text="/") for k in range(len(word))]
    kind = AND if on_the_and or word.startswith("&") else CHORD
    name = word.removeprefix("&") if kind == AND and not on_the_and else word
    column += len(word) - len(name)
    chord: Chord | None = None
    try:
        chord = read(plain_accidentals(name))
    except ValueError as error:
        _report_chord(name, str(error), column, line, read, problems)
    return [Symbol(kind, column, chord, text=name)]


def _report_chord(
    name: str, message: str, column: int, line: int, read: Callable[[str], Chord], problems: Problems
) -> None:
    """Says whether the chord or only the group in parentheses behind it is at fault."""
    group = _GROUP.search(name)
    if group is not None and group[1].strip().isalpha():
        try:
            read(plain_accidentals(_GROUP.sub("", name)))
        except ValueError:
            pass
        else:
            _report_mark(group[1], column + group.start(), line, problems)
            return
    problems.add(line, column, message)


def _read_group(
    group: str, cell: Cell, column: int, line: int, read: Callable[[str], Chord], problems: Problems
) -> None:
    """A group that stands alone: marks, or the alteration of the chord before it."""
    last = cell.symbols[-1] if cell.symbols else None
    parts = re.split("[,;]", group)
    if not any(read_mark(part) for part in parts) and last is not None and last.kind in (CHORD, AND):
        whole = f"{last.text}({group})"
        try:
            cell.symbols[-1] = replace(last, chord=read(plain_accidentals(whole)), text=whole)
        except ValueError:
            _report_mark(group, column, line, problems)
        return
    for part in parts:
        mark = read_mark(part)
        if mark is None:
            _report_mark(part.strip(), column, line, problems)
        else:
            _attach(cell, (mark,), column)


def _attach(cell: Cell, marks: tuple[str, ...], column: int) -> None:
    cell.mark_column = cell.mark_column or column
    for mark in marks:
        if mark in BAR_MARKS:
            cell.bar_marks += (mark,)
        elif cell.symbols:
            cell.symbols[-1] = replace(cell.symbols[-1], marks=(*cell.symbols[-1].marks, mark))
        else:
            cell.opening_marks += (mark,)


def _report_mark(text: str, column: int, line: int, problems: Problems) -> None:
    problems.add(
        line, column, f'"({text})" is neither a mark nor an alteration that I know; marks are: {", ".join(ALL_MARKS)}'
    )
