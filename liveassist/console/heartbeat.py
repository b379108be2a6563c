"""What the band tells the guardian: that it is alive, and which keys are down. The band's end, and the lines themselves.

The line of communication is a pipe whose write end only the band holds: its standard output, so it works on every
system. The guardian's end of it closes when the band dies, however it dies. The band must therefore never fork without
exec, and ``Heartbeat.over_stdout`` moves the pipe away from standard output, so that nothing printed gets into it.

One line each, ASCII; PORT counts the spec's outputs from 0, CHANNEL is 1-16, KEY a MIDI key number:

===================== ======================================================================
on PORT CHANNEL KEY   a key is about to be pressed (said before it is sent)
off PORT CHANNEL KEY  a key has been released (said after it was sent)
rolls                 the MIDI clock is about to be started (said before it is sent)
halts                 it has been stopped (said after it was sent)
beat                  alive; the guardian counts silence from any line
rest                  about to do long work with no key down: silence means nothing for a
                      minute, or until the next line
bye                   all is done and silent: the end of the pipe that follows is no death
===================== ======================================================================

The watch begins with the first line, which may be a minute in coming, and ends with ``bye``. Writing never waits: beats that
find the pipe full are dropped, presses and releases are kept and written first the next time.
"""

from __future__ import annotations

import os
import sys

BEAT = 0.04
"""A beat is written when this much time, in seconds, has gone since the last line."""
LIMIT = 0.25
"""Silence, in seconds, that the guardian takes for a hang while something sounds. The band's loop should beat at least every
80 ms."""
PIECE = 512
"""Bytes written at a time: a pipe takes so few whole or not at all (POSIX: PIPE_BUF)."""


class Heartbeat:
    """The band's end of the pipe. Use from one thread."""

    def __init__(self, fd: int) -> None:
        self._fd = fd
        self._kept = b""
        self._last = float("-inf")
        self.broken = False
        """Whether the guardian is gone: the music goes on, unguarded."""
        if sys.platform != "win32":
            os.set_blocking(fd, False)

    @classmethod
    def over_stdout(cls) -> Heartbeat:
        """The pipe that the guardian gave as standard output; what is printed from now on goes to standard error."""
        fd = os.dup(1)
        os.dup2(2, 1)
        return cls(fd)

    def note_on(self, port: int, channel: int, key: int) -> None:
        """A key is about to be pressed: call before sending."""
        self._say(f"on {port} {channel} {key}\n")

    def note_off(self, port: int, channel: int, key: int) -> None:
        """A key has been released: call after sending."""
        self._say(f"off {port} {channel} {key}\n")

    def clock_rolls(self) -> None:
        """The MIDI clock is about to be started: call before sending."""
        self._say("rolls\n")

    def clock_halts(self) -> None:
        """It has been stopped: call after sending."""
        self._say("halts\n")

    def beat(self, now: float) -> None:
        """Alive at ``now`` (seconds, monotonic). Costs nothing when called too often."""
        if now - self._last >= BEAT:
            self._last = now
            self.still_here()

    def still_here(self) -> None:
        """Alive, between two pieces of long work: said whatever the time."""
        self._say("")
        if not self._kept:
            self._write(b"beat\n")

    def rest(self) -> None:
        """Long work begins, with no key down."""
        self._say("rest\n")

    def bye(self) -> None:
        """All is silent and done; closes the pipe. A guardian that does not read takes it for a death: no harm."""
        self._say("bye\n")
        if not self.broken:
            os.close(self._fd)
            self.broken = True

    def _say(self, line: str) -> None:
        if self.broken:
            return
        self._kept += line.encode("ascii")
        while self._kept and not self.broken:
            end = len(self._kept) if len(self._kept) <= PIECE else self._kept.rindex(b"\n", 0, PIECE) + 1
            if not self._write(self._kept[:end]):
                break
            self._kept = self._kept[end:]

    def _write(self, lines: bytes) -> bool:
        """Whether the pipe took it."""
        if self.broken:
            return False
        try:
            os.write(self._fd, lines)
        except BlockingIOError:
            return False
        except OSError:
            self.broken = True
            os.close(self._fd)
            return False
        return True
