"""An output at a MIDI server that may die or hang: the same for every binding, which says only how its port sends and is
shut."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

from liveassist.console.jack_server import JackServer, bury
from liveassist.console.ports import LAST_OFF, SLOW_SEND


class ServedOutput:
    """See ``ports.Output``."""

    def __init__(
        self, port: Any, server: JackServer, *, send: Callable[[Any, bytes], bool], shut: Callable[[Any], None]
    ) -> None:
        """``send`` sends a message through the binding's port and says whether it was taken; ``shut`` closes that port."""
        self._port, self._server = port, server
        self._send, self._shut = send, shut
        self._deaths = server.deaths
        self._sent = -LAST_OFF
        self._well = True

    @property
    def well(self) -> bool:
        return self._well and self._server.deaths == self._deaths

    def send(self, message: bytes) -> bool:
        if not self.well or self._server.hangs:
            return False
        before = time.monotonic()
        taken = self._send(self._port, message)
        self._sent = time.monotonic()
        self._well = taken and self._sent - before <= SLOW_SEND
        return taken

    def close(self, *, vanished: bool = False) -> None:
        port, self._port, self._well = self._port, None, False
        if port is None:
            return
        if self._server.deaths != self._deaths or self._server.hangs:
            bury(port)
            return
        if not vanished:
            time.sleep(max(0.0, self._sent + LAST_OFF - time.monotonic()))
        self._shut(port)
