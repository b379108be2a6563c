"""Whether somebody is still at the other end of a terminal.

As a rule the system tells with a signal (HUP) that a terminal is gone. A terminal program that is killed, or a process that is
not in the terminal's foreground, may never be told; then every reading comes back at once with nothing, and whoever waits for
keys would spin. ``poll`` knows (POSIX: ``POLLHUP``). Standard library only.
"""

from __future__ import annotations

import os
import select
import sys
import threading
import time

EVERY = 0.25
"""Seconds between two looks."""


def hung_up(fd: int) -> bool:
    """Whether the terminal behind ``fd`` has gone. On Windows nothing is known of it."""
    if sys.platform == "win32":
        return False
    poll = select.poll()
    poll.register(fd, 0)
    return any(event & select.POLLHUP for _, event in poll.poll(0))


def leave_with_the_terminal(code: int) -> None:
    """From now on end this process, with this exit code, when the terminal on its standard input goes: at once and whatever
    else it does, for there is nobody to say anything to."""
    if sys.platform == "win32" or not os.isatty(0):
        return

    def watch() -> None:
        while not hung_up(0):
            time.sleep(EVERY)
        os._exit(code)

    threading.Thread(target=watch, name="terminal", daemon=True).start()
