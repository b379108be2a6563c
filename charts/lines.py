"""The page before it is read: lines, comments, headings, and the list of what is wrong.

Conventions: lines and columns count from 1, as editors do, and a tab is one column. A comment runs from ``#`` at the
start of a line (indented or not), or from a ``#`` that stands alone after a space, to the end of the line; so the
sharp of ``F#m`` never starts one, and neither does ``#4``. Odd spaces (tab, no-break space, a stray byte-order mark)
count as spaces, one for one, so that columns stay those of the file.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from charts.chart import same_name
from charts.errors import Problem

ROADMAP = "Roadmap"
"""The heading under which the order of sections stands."""
LONGEST_QUOTE = 60
"""Characters of a line that a message repeats."""

LINE_END = re.compile(r"\r\n|\r|\n")
_COMMENT = re.compile(r"^\s*#.*$|(?<=\s)#(?=\s|$).*$")
_HEADING = re.compile(r"\s*={2,}\s*(?P<name>.*?)\s*={2,}\s*")
_ODD_SPACES = dict.fromkeys(map(ord, "\t\v\f\u00a0\u2007\u2009\u200b\u202f\u3000\ufeff"), " ")


@dataclass(frozen=True, slots=True)
class Line:
    """One line of the file, its comment cut off and its odd spaces made plain."""

    number: int
    text: str

    @property
    def content(self) -> str:
        return self.text.strip()

    @property
    def column(self) -> int:
        """Where the content begins."""
        return len(self.text) - len(self.text.lstrip()) + 1


@dataclass(frozen=True, slots=True)
class Block:
    """A heading and the lines below it; blank lines are left out."""

    name: str
    line: int
    column: int
    """Where the heading begins."""
    lines: tuple[Line, ...]


class Problems:
    """Everything found wrong on one page."""

    def __init__(self, source: str = "") -> None:
        self.source = source
        self._found: list[Problem] = []

    def add(self, line: int, column: int, message: str) -> None:
        self._found.append(Problem(line=line, column=column, message=message, source=self.source))

    def __len__(self) -> int:
        return len(self._found)

    @property
    def found(self) -> tuple[Problem, ...]:
        """Everything found, in order of place."""
        return tuple(sorted(self._found, key=lambda problem: (problem.line, problem.column)))


def shortened(text: str) -> str:
    """The beginning of a long line, for a message."""
    return text if len(text) <= LONGEST_QUOTE else f"{text[: LONGEST_QUOTE - 4].rstrip()} ..."


def lines_of(text: str) -> tuple[Line, ...]:
    """The lines of a file that say something."""
    bare = text.removeprefix("\ufeff")
    lines = (
        Line(number, _COMMENT.sub("", raw.translate(_ODD_SPACES)).rstrip())
        for number, raw in enumerate(LINE_END.split(bare), start=1)
    )
    return tuple(line for line in lines if line.text)


def divide(lines: Iterable[Line], problems: Problems) -> tuple[tuple[Line, ...], tuple[Line, ...], tuple[Block, ...]]:
    """The header's lines, the roadmap's lines, and a block for every section, in the order written."""
    header: list[Line] = []
    headings: list[tuple[str, Line, list[Line]]] = []
    for line in lines:
        if not line.content.startswith("=="):
            (headings[-1][2] if headings else header).append(line)
            continue
        heading = _HEADING.fullmatch(line.text)
        name = " ".join(heading["name"].split()) if heading else ""
        if not name:
            problems.add(
                line.number,
                line.column,
                f'"{line.content}" is not a heading; a section has its name between double equals signs: == Verse 1 ==',
            )
            # The bars below still want reading, under the best name there is.
            name = line.content.strip("= ") or f"line {line.number}"
        headings.append((name, line, []))

    roadmap: list[Line] | None = None
    blocks: list[Block] = []
    seen: dict[str, int] = {}
    for name, line, below in headings:
        known = " ".join(name.casefold().split())
        if known in seen:
            problems.add(
                line.number,
                line.column,
                f'"{name}" is here already, in line {seen[known]}; every section needs its own name',
            )
        seen.setdefault(known, line.number)
        if same_name(name, ROADMAP):
            roadmap = roadmap or below
        else:
            blocks.append(Block(name, line.number, line.column, tuple(below)))
    return tuple(header), tuple(roadmap or ()), tuple(blocks)
