"""The JACK server: whether it is there, whether it serves, and what to do with what it leaves behind when it dies.

Neither MIDI binding tells of a server that has gone, or hangs. Their lists of ports stay as they were, what is sent is taken,
and after some 2300 messages the next one spins for ever with the interpreter's lock held. So we have a client of our own, in
the system's JACK library and never activated: it is no part of the graph, the library calls it when the server goes
(``jack_on_shutdown``), and the time of the server's latest cycle (``jack_last_frame_time``) stands still while it hangs. To
read that costs some 20 us and waits for nobody. While the server hangs nothing is sent, opened or closed: whatever wants
its answer would wait for as long.

What was open at a dead server is not closed. The bindings wait a second for each port of a dead server; and as soon as
another client is made, the library frees those that are left over, and to close one of them afterwards ends the process
(measured with jackd2 1.9.21). So they are *buried*: kept for ever, and never touched again.
"""

from __future__ import annotations

import ctypes
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

LIBRARIES = {"linux": "libjack.so.0", "darwin": "libjack.0.dylib", "win32": "libjack64.dll"}
NAME = b"liveassist-watch"
NO_START = 1
"""``JackNoStartServer``."""
AGAIN = 0.5
"""A server that has gone is looked for this often, in seconds: looking costs some 20 ms."""
LOOK = 0.05
"""It is looked whether the server serves this often, in seconds."""
STILL = 0.5
"""A server whose time stands still for longer, in seconds, hangs: many times its longest cycle."""
KNOWN = 3
"""It must have been seen to go on so often before: there may be servers that tell an idle client no time."""

_Shutdown = ctypes.CFUNCTYPE(None, ctypes.c_void_p)


def library() -> Any:
    """The system's JACK library, or None where there is none.

    Its functions are made to go before those of a library that a binding brings along: the one in pylibremidi's wheel is too
    old to speak with the servers of today. So call this before the import of a binding.
    """
    try:
        found = ctypes.CDLL(LIBRARIES.get(sys.platform, ""), mode=ctypes.RTLD_GLOBAL)
        found.jack_client_open.restype = ctypes.c_void_p
        found.jack_client_open.argtypes = [ctypes.c_char_p, ctypes.c_int, ctypes.c_void_p]
        found.jack_on_shutdown.argtypes = [ctypes.c_void_p, _Shutdown, ctypes.c_void_p]
        found.jack_client_close.argtypes = [ctypes.c_void_p]
        found.jack_last_frame_time.argtypes = [ctypes.c_void_p]
        found.jack_last_frame_time.restype = ctypes.c_uint32
    except (OSError, AttributeError):
        return None
    return found


class JackServer:
    """The server that this process plays through, with what was open at it."""

    def __init__(self, library: Any) -> None:
        """``library``: of ``library()``; None for a MIDI system that has no such server: it is taken to be there always."""
        self._library = library
        self._client: int | None = None
        self._looked = float("-inf")
        self._shutdown = _Shutdown(self._has_gone)
        bury(self._shutdown)  # the library may call it at any time
        self._open: set[str] = set()
        self._lost: set[str] = set()
        self.gone = library is not None
        """Whether the server is not there."""
        self.deaths = 0
        """How often it has gone: what was opened before the latest death is to be buried."""
        self.hangs = False
        """Whether it is there and does not serve."""
        self._frame, self._went_on, self._still, self._seen = 0, 0, 0.0, float("-inf")

    def meet(self) -> bool:
        """Look for a server where there is none; whether there is one now. Looks at its time only (``AGAIN``)."""
        now = time.monotonic()
        if self.gone and now - self._looked >= AGAIN:
            self._looked = now
            status = ctypes.c_int()
            with hushed():
                self._client = self._library.jack_client_open(NAME, NO_START, ctypes.byref(status))
            if self._client:
                self.gone = False
                self._went_on, self._still = 0, 0.0
                self._library.jack_on_shutdown(self._client, self._shutdown, None)
        return not self.gone

    def changed(self) -> bool:
        """Whether it has begun to hang, or serves again, since the last asking. Looks at its time only (``LOOK``), and counts
        standing still only while we were running."""
        now = time.monotonic()
        passed, before = now - self._seen, self.hangs
        if self.gone or not self._client or passed < LOOK:
            return False
        self._seen = now
        frame = self._library.jack_last_frame_time(self._client)
        if frame != self._frame:
            self._frame, self._went_on, self._still = frame, self._went_on + 1, 0.0
        else:
            self._still += min(passed, 2 * LOOK)
        self.hangs = self._went_on >= KNOWN and self._still > STILL
        return self.hangs is not before

    def opened(self, name: str) -> None:
        """A port of this name was opened."""
        self._open.add(name)

    def lost(self) -> frozenset[str]:
        """The names that were open at a server that has gone, told once."""
        lost, self._lost = self._lost, set()
        return frozenset(lost)

    def trouble(self) -> str:
        """What the player should know of it; empty where all is well."""
        if self.gone:
            return "the JACK server has stopped"
        return "the JACK server does not answer" if self.hangs else ""

    def close(self) -> None:
        """Leave the server."""
        if self._client and not self.gone and not self.hangs:
            self._library.jack_client_close(self._client)
        self._client = None

    def _has_gone(self, _: object) -> None:
        self.deaths += 1
        self._lost, self._open = self._lost | self._open, set()
        self.gone, self.hangs = True, False


def bury(thing: object) -> None:
    """Keep something for ever, the end of the process included."""
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(thing))


@contextmanager
def hushed() -> Iterator[None]:
    """Keep the C libraries from printing while we try whether a MIDI system is there."""
    sys.stderr.flush()
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)
