"""What is written between two barlines: chords, beats, and marks in parentheses.

A group in parentheses is a mark where every word of it (they stand between commas) is one, glued or not: ``D(hold)``,
``D (hold, rit.)``. Any other group that makes sense with the chord, or has a number in it, belongs to the chord,
glued or not: ``A7(b9)``, ``A7 (b9)``, ``G(no3)/B``. A mark belongs to the chord it follows; before the first symbol
of a bar, to the first chord.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace

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
    """As written, without its marks."""


class Cell:
    """What stands between two barlines."""

    def __init__(self, line: int, read: Callable[[str], Chord], problems: Problems) -> None:
        self.symbols: list[Symbol] = []
        self.bar_marks: tuple[str, ...] = ()
        self.opening_marks: tuple[str, ...] = ()
        """Change marks before the first symbol: they wait for it."""
        self.line = line
        self.read = read
        self.problems = problems

    def report(self, column: int, message: str) -> None:
        self.problems.add(self.line, column, message)

    def mark(self, mark: str, column: int) -> None:
        """Gives a mark to the bar or to the chord that it follows."""
        chords = [index for index, symbol in enumerate(self.symbols) if symbol.kind != BEAT]
        if mark in BAR_MARKS:
            self.bar_marks += (mark,)
        elif chords:
            symbol = self.symbols[chords[-1]]
            self.symbols[chords[-1]] = replace(symbol, marks=(*symbol.marks, mark))
        elif not self.symbols:
            self.opening_marks += (mark,)
        else:
            self._report_lonely(mark, column)

    def close(self, column: int) -> None:
        """The bar has ended: what was written before its first chord goes to that chord."""
        for mark in self.opening_marks:
            if self.symbols and self.symbols[0].kind != BEAT:
                self.symbols[0] = replace(self.symbols[0], marks=(*self.symbols[0].marks, mark))
            elif self.symbols:
                self._report_lonely(mark, column)

    def _report_lonely(self, mark: str, column: int) -> None:
        self.report(
            column, f"({mark}) belongs to a chord, and none stands before it in this bar: write the chord again"
        )


def read_cell(text: str, column: int, line: int, read: Callable[[str], Chord], problems: Problems) -> Cell:
    """Reads the text between two barlines, which begins at ``column`` of its line. ``read`` reads one chord symbol."""
    cell = Cell(line, read, problems)
    and_column = 0
    for match in _SYMBOL.finditer(text.translate(_DASHES)):
        here = column + match.start()
        if match["stray"] is not None:
            cell.report(here, "a parenthesis without a partner in this bar; a mark is written (hold)")
        elif match["group"] is not None:
            _read_group(match["group"], cell, here)
        elif match["word"] == "&":
            and_column = here
        else:
            word, marks = _take_marks(match["word"])
            _read_word(word, cell, here, on_the_and=bool(and_column))
            and_column = 0
            for mark in marks:
                cell.mark(mark, here + len(word))
    if and_column:
        cell.report(and_column, "& wants a chord after it: &A puts A on the and of the beat before")
    cell.close(column + len(text) - len(text.lstrip()))
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


def _read_word(word: str, cell: Cell, column: int, *, on_the_and: bool) -> None:
    if word == "%" and not on_the_and:
        cell.symbols.append(Symbol(COPY, column, text=word))
        return
    if re.fullmatch("/+", word) and not on_the_and:
        cell.symbols.extend(Symbol(BEAT, column + k, text="/") for k in range(len(word)))
        return
    strokes = len(word) - len(word.rstrip("/"))  # D/// is D / / /
    word = word.rstrip("/")
    name = word.removeprefix("&")
    kind = AND if on_the_and or name != word else CHORD
    column += len(word) - len(name)
    cell.symbols.append(Symbol(kind, column, _read_chord(name, cell, column), text=name))
    cell.symbols.extend(Symbol(BEAT, column + len(name) + k, text="/") for k in range(strokes))


def _read_chord(name: str, cell: Cell, column: int) -> Chord | None:
    """The chord, or None where it cannot be read: then the chord is told, or the word in parentheses behind it."""
    try:
        return cell.read(plain_accidentals(name))
    except ValueError as error:
        group = _GROUP.search(name)
        if group is not None and not _alters(group[1]):
            _report_mark(group[1], cell, column + group.start())
            return _read_chord(_GROUP.sub("", name), cell, column)
        cell.report(column, str(error))
        return None


def _read_group(group: str, cell: Cell, column: int) -> None:
    """A group that stands alone: marks, or the alteration of the chord before it."""
    last = cell.symbols[-1] if cell.symbols else None
    parts = re.split("[,;]", group)
    if last is not None and last.kind in (CHORD, AND) and not any(map(read_mark, parts)):
        name = f"{last.text}({group})"
        if last.chord is not None and (_alters(group) or _readable(name, cell)):
            cell.symbols[-1] = replace(last, chord=_read_chord(name, cell, last.column), text=name)
            return
        if last.chord is None and _alters(group):
            return
    for part in parts:
        mark = read_mark(part)
        if mark is None:
            _report_mark(part.strip(), cell, column)
        else:
            cell.mark(mark, column)


def _readable(name: str, cell: Cell) -> bool:
    try:
        cell.read(plain_accidentals(name))
    except ValueError:
        return False
    return True


def _alters(group: str) -> bool:
    """Whether a group in parentheses is meant for the chord, rightly or wrongly: marks have no numbers."""
    return any(character.isdecimal() for character in group)


def _report_mark(text: str, cell: Cell, column: int) -> None:
    cell.report(column, f'"({text})" is neither a mark nor an alteration I know; marks are: {", ".join(ALL_MARKS)}')
