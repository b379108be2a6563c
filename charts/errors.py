"""What can be wrong with a chart, told so that a musician can mend it.

Lines and columns count from 1, as editors do. A problem knows where it is; an error carries one or more problems.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True, slots=True)
class Problem:
    """One thing wrong (or odd) in a chart."""

    line: int
    """Line in the file, from 1; 0 where the whole chart is meant."""
    column: int
    """Column in the line, from 1; 0 where the whole line is meant."""
    message: str
    """What was read and what would have been accepted, as a sentence."""
    serious: bool = True
    """True: the chart cannot be played as it stands. False: worth a look."""
    source: str = ""
    """Name of the file, if there is one."""

    def __str__(self) -> str:
        where = [self.source] if self.source else []
        if self.line:
            where.append(f"line {self.line}")
        if self.column:
            where.append(f"column {self.column}")
        return f"{', '.join(where)}: {self.message}" if where else self.message


class ChartError(ValueError):
    """A chart, or a piece of one, that cannot be read. ``problems`` holds everything found, in order of place."""

    def __init__(self, *problems: Problem) -> None:
        self.problems = problems
        super().__init__("\n".join(str(problem) for problem in problems))

    @classmethod
    def at(cls, line: int, column: int, message: str, source: str = "") -> ChartError:
        return cls(Problem(line=line, column=column, message=message, source=source))
