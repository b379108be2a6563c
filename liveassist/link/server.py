"""The band's end of the link: many readers, none of which can make the music wait.

The newest picture wins: each reader has at most the rest of one line waiting for it, and when that is through it gets
what is newest then. One reader may nod, the first that wanted to; when it leaves, the next.
"""

from __future__ import annotations

import hmac
import json
import selectors
import socket
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Any

from liveassist.link.messages import BUFFER, NODDER, VERSION, Picture, Request, read_request, write_line

TICK = 0.04
"""How often, in seconds, the link's thread looks for a new picture."""
ALIVE = 1.0
"""After so many seconds without anything to say the band says that it is there."""
STUCK = 10.0
"""A reader that has taken nothing of what it is owed for so many seconds is dropped; it may come back."""
LONGEST_REQUEST = 4096
"""Bytes in a line from a desk."""
MOST_OWED = 1 << 20
"""Bytes; a reader that is owed more never reads our answers."""
MOST_READERS = 16


class _Guest:
    """A connection as the band sees it."""

    def __init__(self, line: socket.socket, now: float) -> None:
        self.line = line
        self.welcome = False
        self.wants_nod = False
        self.heard = b""
        """Read and not yet a whole line."""
        self.owed = b""
        """The rest of what we have begun to send: a line once begun is finished, or the guest is dropped."""
        self.shown: Picture | None = None
        self.moved = now
        """When the last byte went through (for a guest not yet welcome: when it came)."""
        self.spoken = now
        """When we last began a line."""
        self.closing = False


class LinkServer:
    """The band's end. One daemon thread does all the talking, so ``publish`` is one assignment and music never waits.

    Args:
        token: what a reader must show first; see ``new_token``.
        look_token: what a reader that may only look can show instead: whatever role it asks for, it never nods.
        on_request: called from the link's thread with each request; hand it to a queue and return. Without it the
            requests wait for ``requests()``.
        host, port: where to listen; port 0 takes a free one, see ``address``.
    Raises:
        OSError: when the address cannot be had.
    """

    def __init__(
        self,
        token: str,
        on_request: Callable[[Request], object] | None = None,
        host: str = "127.0.0.1",
        port: int = 0,
        *,
        look_token: str = "",
    ) -> None:
        self._token, self._look_token = token.encode(), look_token.encode()
        self._waiting: deque[Request] = deque()
        self._on_request = on_request or self._waiting.append
        self._newest: Picture | None = None
        self._line: tuple[Picture | None, bytes] = (None, b"")
        self._guests: dict[socket.socket, _Guest] = {}
        self._leader: _Guest | None = None
        self._closing = threading.Event()
        self._door = socket.create_server((host, port))
        self._door.setblocking(False)
        self.address: tuple[str, int] = self._door.getsockname()[:2]
        self._selector = selectors.DefaultSelector()
        self._selector.register(self._door, selectors.EVENT_READ)
        self._thread = threading.Thread(target=self._serve, name="link", daemon=True)
        self._thread.start()

    def publish(self, picture: Picture) -> None:
        """Show this picture from now on. Never waits; pictures that no reader has taken yet are forgotten."""
        self._newest = picture

    def requests(self) -> list[Request]:
        """The requests since the last call (only without ``on_request``). Never waits."""
        taken = []
        while self._waiting:
            taken.append(self._waiting.popleft())
        return taken

    def close(self) -> None:
        """Send the last picture and a goodbye to every reader that can take them now, then hang up."""
        self._closing.set()
        self._thread.join(timeout=1.0)

    def __enter__(self) -> LinkServer:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    # From here on everything runs in the link's own thread.

    def _serve(self) -> None:
        while not self._closing.is_set():
            ready = self._selector.select(TICK)
            now = time.monotonic()
            for key, events in ready:
                if key.fileobj is self._door:
                    self._admit(now)
                    continue
                guest = key.data
                if events & selectors.EVENT_READ and guest.line in self._guests:
                    self._listen(guest, now)
                if events & selectors.EVENT_WRITE and guest.line in self._guests:
                    self._push(guest, now)
            self._show_all(now)
        for guest in list(self._guests.values()):
            if guest.welcome:
                newest = b"" if guest.shown is self._newest else self._picture_line()
                self._tell(guest, newest + write_line({"bye": True}), time.monotonic())
            self._drop(guest)
        self._selector.close()
        self._door.close()

    def _admit(self, now: float) -> None:
        try:
            line, _ = self._door.accept()
        except OSError:  # it went away between knocking and our answer
            return
        line.setblocking(False)
        line.setsockopt(socket.SOL_SOCKET, socket.SO_SNDBUF, BUFFER)
        line.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        if len(self._guests) >= MOST_READERS:
            line.close()
            return
        guest = _Guest(line, now)
        self._guests[line] = guest
        self._selector.register(line, selectors.EVENT_READ, guest)

    def _listen(self, guest: _Guest, now: float) -> None:
        try:
            piece = guest.line.recv(BUFFER)
        except BlockingIOError:
            return
        except OSError:
            piece = b""
        if not piece:
            self._drop(guest)
            return
        *lines, guest.heard = (guest.heard + piece).split(b"\n")
        if any(len(each) > LONGEST_REQUEST for each in (*lines, guest.heard)):
            self._turn_away(guest, f"a line from a desk may have {LONGEST_REQUEST} bytes; this one has more", now)
            return
        for each in lines:
            if guest.closing or guest.line not in self._guests:
                return
            try:
                message = json.loads(each)
            except (ValueError, RecursionError):  # the second: nested deeper than anybody means it
                message = None
            if not isinstance(message, dict):
                self._turn_away(guest, "every line must be a JSON object", now)
            elif guest.welcome:
                self._take(guest, message, now)
            else:
                self._greet(guest, message, now)

    def _greet(self, guest: _Guest, message: dict[str, Any], now: float) -> None:
        version, token = message.get("link"), message.get("token")
        if version != VERSION:
            self._turn_away(guest, f"the band speaks link version {VERSION}, the desk version {version}", now)
        elif not self._is_let_in(token):
            self._turn_away(guest, "the token is not this band's; start the desk from the same command", now)
        else:
            guest.welcome = True
            guest.wants_nod = message.get("role") == NODDER and _same(token, self._token)
            if guest.wants_nod and self._leader is None:
                self._leader = guest
            self._tell(guest, write_line({"link": VERSION, "may_nod": guest is self._leader}), now)

    def _is_let_in(self, token: Any) -> bool:
        return _same(token, self._token) or (bool(self._look_token) and _same(token, self._look_token))

    def _take(self, guest: _Guest, message: dict[str, Any], now: float) -> None:
        if guest is not self._leader:
            self._tell(guest, write_line({"say": "look only: another desk gives the nods"}), now)
            return
        try:
            request = read_request(message.get("request"))
        except ValueError as error:
            self._tell(guest, write_line({"say": str(error)}), now)
            return
        self._on_request(request)

    def _turn_away(self, guest: _Guest, why: str, now: float) -> None:
        guest.closing = True
        self._tell(guest, write_line({"refused": why}), now)

    def _show_all(self, now: float) -> None:
        for guest in list(self._guests.values()):
            if guest.owed or guest.closing or not guest.welcome:
                if now - guest.moved > STUCK:  # it takes nothing, or never said who it is
                    self._drop(guest)
            elif guest.shown is not self._newest:
                guest.shown = self._newest
                self._tell(guest, self._picture_line(), now)
            elif now - guest.spoken > ALIVE:
                self._tell(guest, write_line({"alive": True}), now)

    def _picture_line(self) -> bytes:
        newest = self._newest
        if self._line[0] is not newest:
            self._line = (newest, write_line({"picture": newest}))
        return self._line[1]

    def _tell(self, guest: _Guest, line: bytes, now: float) -> None:
        if not guest.owed:
            guest.moved = now
        guest.spoken = now
        guest.owed += line
        if len(guest.owed) > MOST_OWED:  # it asks and asks and never reads the answers
            self._drop(guest)
        else:
            self._push(guest, now)

    def _push(self, guest: _Guest, now: float) -> None:
        try:
            sent = guest.line.send(guest.owed) if guest.owed else 0
        except BlockingIOError:
            sent = 0
        except OSError:
            self._drop(guest)
            return
        if sent:
            guest.owed = guest.owed[sent:]
            guest.moved = now
        if guest.closing and not guest.owed:
            self._drop(guest)
            return
        wanted = selectors.EVENT_READ | (selectors.EVENT_WRITE if guest.owed else 0)
        self._selector.modify(guest.line, wanted, guest)

    def _drop(self, guest: _Guest) -> None:
        if self._guests.pop(guest.line, None) is None:
            return
        self._selector.unregister(guest.line)
        guest.line.close()
        if guest is self._leader:
            waiting = (each for each in self._guests.values() if each.wants_nod and not each.closing)
            self._leader = next(waiting, None)
            if self._leader is not None:
                self._tell(self._leader, write_line({"may_nod": True}), time.monotonic())


def _same(token: Any, ours: bytes) -> bool:
    """Whether somebody has shown our token; how long that takes tells nothing of it."""
    return isinstance(token, str) and hmac.compare_digest(token.encode("utf-8", "surrogatepass"), ours)
