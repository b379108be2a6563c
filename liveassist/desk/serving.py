"""The drummer's sheet in a browser: one process for each tab, by textual-serve, which is an extra and need not be there.

It is bound to this machine unless another address is asked for, and looks at the band as the sheet in a terminal does:
nothing that comes from a browser reaches the band. Who comes from elsewhere shows a code, which is good for one device and
once; after that the device is known by a cookie. A page of another site may not open the sheet behind the reader's back: the
connection has to come from the page that we have served.
"""

from __future__ import annotations

import hmac
import ipaddress
import logging
import secrets
from collections.abc import Awaitable, Callable
from typing import Any
from urllib.parse import urlsplit

from aiohttp import web
from textual_serve.server import Server

ALPHABET = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
"""Of a code: no sign that looks like another."""
CODE_LENGTH = 8
MOST_WRONG = 10
"""After so many wrong codes none is good any more."""
MOST_TABS = 4
"""Tabs at a time: each is a process beside the music."""
COOKIE = "drummers_sheet"
LOOPBACK_NAMES = ("localhost", "127.0.0.1", "::1")

Handler = Callable[[web.Request], Awaitable[web.StreamResponse]]

PAGE = """<!doctype html><meta name="viewport" content="width=device-width"><title>The drummer's sheet</title>
<body style="font-family:sans-serif;background:#12100c;color:#f3ead6;padding:2em"><h1>The drummer's sheet</h1><p>{text}</p>
<form action="/"><input name="code" autofocus autocomplete="off" style="font-size:2em;width:8em">
<button style="font-size:2em">Look</button></form>"""


def new_code() -> str:
    return "".join(secrets.choice(ALPHABET) for _ in range(CODE_LENGTH))


class Gate:
    """Who may look. Pure: what is asked is handed in."""

    def __init__(self, tell: Callable[[str], object]) -> None:
        """``tell`` is told each code that is good from now on, and when none is any more."""
        self._tell = tell
        self._known: set[str] = set()
        self._wrong = 0
        self.code = new_code()

    def is_known(self, remote: str, host: str, cookie: str) -> bool:
        """Whether somebody may look: from this machine, or with a cookie that we gave."""
        return (_is_loopback(remote) and _name_of(host) in LOOPBACK_NAMES) or cookie in self._known

    def admit(self, code: str) -> str | None:
        """The cookie for a good code, which then is good no more; None for a wrong one."""
        if self.code and hmac.compare_digest(code.strip().upper().encode(), self.code.encode()):
            cookie = secrets.token_urlsafe(24)
            self._known.add(cookie)
            self.code, self._wrong = new_code(), 0
            self._tell(f"a device is let in; the code for the next one is {self.code}")
            return cookie
        self._wrong += 1
        if self.code and self._wrong >= MOST_WRONG:
            self.code = ""
            self._tell(f"{MOST_WRONG} wrong codes: nobody else is let in until this is started again")
        return None


def _is_loopback(remote: str) -> bool:
    try:
        return ipaddress.ip_address(remote).is_loopback
    except ValueError:
        return False


def _name_of(host: str) -> str:
    return urlsplit(f"//{host}").hostname or ""


class SheetServer(Server):
    """Serves the sheet, behind the gate."""

    def __init__(self, command: str, host: str, port: int, tell: Callable[[str], object] = print) -> None:
        super().__init__(command, host=host, port=port, title="The drummer's sheet")
        self._say = tell
        self.gate = Gate(tell)
        self._tabs = 0

    def initialize_logging(self) -> None:
        logging.basicConfig(level="WARNING")

    async def on_startup(self, app: web.Application) -> None:
        """Says nothing yet: the port may be refused."""

    def serve(self, debug: bool = False) -> None:
        """Serve until Ctrl-C, and say where once it is served. Raises OSError where it cannot be."""
        self.initialize_logging()
        web.run_app(self._make_app(), host=self.host, port=self.port, print=self._announce)

    def _announce(self, *_: object) -> None:
        if _is_loopback(self.host) or self.host in LOOPBACK_NAMES:
            self._say(f"the drummer's sheet is at http://{self.host}:{self.port} on this machine; Ctrl-C ends it")
            return
        self._say(f"the drummer's sheet is at port {self.port} of this machine ({self.host}); Ctrl-C ends it")
        self._say(f"the code for the first device is {self.gate.code}")

    async def _make_app(self) -> web.Application:
        app = await super()._make_app()
        app.middlewares.append(self._at_the_door)
        return app

    @web.middleware
    async def _at_the_door(self, request: web.Request, handler: Handler) -> web.StreamResponse:
        if "code" in request.query and request.path == "/":
            cookie = self.gate.admit(request.query["code"])
            if cookie is None:
                return _page("That code is not good (any more). Ask for the one on the band's screen.")
            answer = web.Response(status=303, headers={"Location": "/"})
            answer.set_cookie(COOKIE, cookie, httponly=True, samesite="Strict")
            return answer
        if not self.gate.is_known(request.remote or "", request.host, request.cookies.get(COOKIE, "")):
            return _page("The code is on the band's screen.")
        origin = request.headers.get("Origin")
        if origin is not None and urlsplit(origin).netloc != request.host:
            return web.Response(status=403, text="not from another page")
        return await handler(request)

    async def handle_index(self, request: web.Request) -> Any:
        self.public_url = f"http://{request.host}"  # as this reader knows us: addresses are many
        return await super().handle_index(request)

    async def handle_websocket(self, request: web.Request) -> web.WebSocketResponse:
        if self._tabs >= MOST_TABS:
            raise web.HTTPServiceUnavailable(text=f"{MOST_TABS} sheets are open already")
        self._tabs += 1
        try:
            return await super().handle_websocket(request)
        finally:
            self._tabs -= 1


def _page(text: str) -> web.Response:
    return web.Response(status=401, text=PAGE.format(text=text), content_type="text/html")
