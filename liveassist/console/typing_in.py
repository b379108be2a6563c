"""Lines that the player types, beside a console that is listened to: read by a thread of their own, so that nobody waits."""

from __future__ import annotations

import threading
from collections.abc import Callable
from queue import Empty, SimpleQueue

PATIENCE = 0.05
"""Seconds between two looks at the keyboard of the computer."""

Typed = Callable[[float], str | None]
"""Waits so many seconds for a line that the player types; None when none came. Raises EOFError when none will come any more."""


class StandardInput:
    """The lines of standard input."""

    def __init__(self) -> None:
        self._lines: SimpleQueue[str] = SimpleQueue()
        self._over = False
        threading.Thread(target=self._read, name="typed", daemon=True).start()

    def __call__(self, seconds: float) -> str | None:
        """See ``Typed``."""
        over = self._over  # asked first: the last line may come meanwhile
        try:
            return self._lines.get(timeout=seconds)
        except Empty:
            if over:
                raise EOFError from None
            return None

    def _read(self) -> None:
        for line in open(0, encoding="utf-8", errors="replace", closefd=False):  # noqa: SIM115  (read until the end)
            self._lines.put(line)
        self._over = True
