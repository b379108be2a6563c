"""Whether another process is hung, or only waits for its turn on a busy machine. Standard library only.

A process that is ready to run and is given nothing is starved: it can say nothing, and is not to blame. Linux tells both
things (``/proc``; its manual page ``proc(5)``); elsewhere nobody is ever called starved.
"""

from __future__ import annotations

from pathlib import Path

READY = "R"
"""The state of a process that runs or waits for its turn."""


class Turns:
    """The turns that a process is given, from one look to the next."""

    def __init__(self, pid: int, proc: Path = Path("/proc")) -> None:
        self._of = proc / str(pid)
        self._had = ""

    def missed(self) -> bool:
        """Whether the process is ready to run, and has had no turn since the last look."""
        try:
            state = (self._of / "stat").read_text().rpartition(")")[2].split()[0]
            had = (self._of / "schedstat").read_text().split()[0]
        except (OSError, IndexError):
            return False
        before, self._had = self._had, had
        return state == READY and had == before
