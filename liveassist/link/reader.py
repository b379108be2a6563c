"""The desk's end of the link: knows when the band is gone, and knocks again."""

from __future__ import annotations

import json
import socket
import time
from collections.abc import Callable
from contextlib import suppress
from typing import Any, Protocol

from liveassist.link.messages import BUFFER, NODDER, VERSION, Picture, Request, read_picture, write_line

SILENCE = 3.0
"""After so many seconds without a word the desk takes the band for gone."""
FAREWELL = 0.3
"""Seconds the desk waits, when it leaves, for the band to take its last request."""
KNOCK = 0.5
"""How long, in seconds, the desk waits before it tries again to reach the band."""


class Reader(Protocol):
    """What a desk needs of its end of the link: ``LinkReader`` and ``FakeBand.reader()`` both serve."""

    gone: bool
    """The band does not answer any more."""
    left: bool
    """It said goodbye before it went."""
    refused: str
    """Why it turned us away; empty where it did not. Asking again would not help."""
    may_nod: bool
    """Our requests are heard; otherwise we may look only."""
    notice: str
    """The band's latest answer to a request it did not take."""

    def read(self) -> Picture | None: ...

    def send(self, request: Request) -> bool: ...

    def close(self) -> None: ...


class LinkReader:
    """The desk's end. No thread: ``read`` is asked some twenty times a second, never waits, and mends the connection.

    Args:
        address: host and port of the band's ``LinkServer``.
        token: the band's token.
        role: ``NODDER`` to give nods if nobody else does, ``LOOKER`` to look only.
        clock: seconds that only grow; for tests.
    """

    def __init__(
        self, address: tuple[str, int], token: str, role: str = NODDER, clock: Callable[[], float] = time.monotonic
    ) -> None:
        self.gone = False
        self.left = False
        self.refused = ""
        self.may_nod = False
        self.notice = ""
        self._address = address
        self._hello = write_line({"link": VERSION, "token": token, "role": role})
        self._clock = clock
        self._line: socket.socket | None = None
        self._greeted = False
        self._heard = b""
        self._last = clock()
        """When we last heard anything, or knocked."""

    def read(self) -> Picture | None:
        """The newest picture if there is a new one. Never waits, never raises for what the band does."""
        now = self._clock()
        if self.refused:
            return None
        if self._line is None:
            if not self.gone or now - self._last >= KNOCK:
                self._knock(now)
            return None
        pieces = [self._heard]
        ended = False
        while True:
            try:
                piece = self._line.recv(BUFFER)
            except (BlockingIOError, InterruptedError):
                break
            except OSError:
                piece = b""
            if not piece:
                ended = True
                break
            pieces.append(piece)
        *lines, self._heard = b"".join(pieces).split(b"\n")
        if len(pieces) > 1:
            self._last = now
        picture = self._understand(lines)
        if self.refused:
            self._hang_up()
        elif ended or now - self._last > SILENCE:
            # A band that let us in and hung up may only have lost patience: knock at once. One that is silent is gone.
            self.gone = self.left or not (ended and self._greeted)
            self._last = now
            self._hang_up()
        return picture

    def send(self, request: Request) -> bool:
        """Ask something of the band. False where it cannot be asked now. Never waits."""
        if self._line is None or not self.may_nod:
            return False
        line = write_line({"request": request})
        try:
            if self._line.send(line) == len(line):
                return True
        except OSError:
            pass
        self._hang_up()  # half a line, or none, went through: begin anew
        return False

    def close(self) -> None:
        """Hang up once the band has taken what was sent, or after a moment; the band goes on."""
        if self._line is None:
            return
        with suppress(OSError):
            self._line.shutdown(socket.SHUT_WR)
            self._line.settimeout(FAREWELL)
            while self._line.recv(BUFFER):  # to close with unread pictures would throw away the last request
                pass
        self._hang_up()

    def _knock(self, now: float) -> None:
        self._last = now
        line = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
        try:
            line.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, BUFFER)
            line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            # On this machine a connection is made or refused at once; the limit is for one that is neither.
            line.settimeout(0.2)
            line.connect(self._address)
            line.sendall(self._hello)
            line.setblocking(False)
        except OSError:
            line.close()
            self.gone = True
            return
        self._line, self._heard, self._greeted = line, b"", False

    def _hang_up(self) -> None:
        if self._line is not None:
            self._line.close()
            self._line = None
        self.may_nod = False

    def _understand(self, lines: list[bytes]) -> Picture | None:
        newest: Any = None
        for line in lines:
            try:
                message = json.loads(line)
                if not isinstance(message, dict):
                    raise ValueError(f"a line of the link should be a JSON object, not {message!r}")
                if "link" in message:
                    self._greeted, self.gone, self.left = True, False, False
                self.may_nod = message.get("may_nod", self.may_nod)
                self.notice = message.get("say", self.notice)
                self.left = message.get("bye", self.left)
                self.refused = message.get("refused", self.refused)
                newest = message.get("picture", newest)
            except (ValueError, RecursionError) as error:
                self.refused = f"what came from the band is no link line: {error}"
        if newest is None:
            return None
        try:
            return read_picture(newest)
        except ValueError as error:
            self.refused = f"what came from the band is no picture: {error}"
            return None
