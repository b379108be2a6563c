"""The command ``drummer``: the drummer's sheet of the band that plays on this machine, in a terminal or in a browser.

The band leaves word where it listens, with a token that is good for looking only (``console.at_work``); so this needs no
address, and can be started before the band.
"""

from __future__ import annotations

import argparse
import errno
import os
import shlex
import sys
from contextlib import suppress
from typing import TYPE_CHECKING

from liveassist.commands.options import whole
from liveassist.errors import PlayerError

if TYPE_CHECKING:
    from liveassist.link import Reader

PORT = 8460
ACCEPTED = {
    errno.EADDRINUSE: "something is served at that port already; --port takes another, from 1 to 65535",
    errno.EACCES: "this user may not serve at that port; --port takes another, from 1024 to 65535",
}
"""What would do, by what the system said."""
AN_ADDRESS = "--bind takes an address of this machine, such as 192.168.1.2, or 0.0.0.0 for all that it has"
NICE = 5
"""The sheet gives way to the music."""


def find() -> Reader | None:
    """The band that was started last, if one plays."""
    from liveassist.console.at_work import bands
    from liveassist.link import LOOKER, LinkReader

    looked_at = [band for band in bands() if band.look]
    if not looked_at:
        return None
    band = looked_at[-1]
    return LinkReader((band.host, band.port), band.look, LOOKER)


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--browser", action="store_true", help="serve it to a browser on this machine")
    parser.add_argument("--bind", metavar="ADDRESS", help="serve it to others too, at this address of this machine")
    parser.add_argument("--port", type=whole, metavar="N", help=f"port to serve it at (default {PORT})")


def run(options: argparse.Namespace) -> int:
    """Show the sheet here, or serve it to browsers."""
    if hasattr(os, "nice"):
        with suppress(OSError):
            os.nice(NICE)
    if options.browser or options.bind is not None:
        return _serve(options.bind or "127.0.0.1", PORT if options.port is None else options.port)
    if not (sys.stdin.isatty() and sys.stdout.isatty()) and "TEXTUAL_DRIVER" not in os.environ:
        raise PlayerError("there is no terminal here to show the drummer's sheet on; --browser serves it to a tablet")
    from liveassist.desk.drummer import run_sheet

    return run_sheet(find)


def _serve(host: str, port: int) -> int:
    if not 1 <= port <= 65535:
        raise PlayerError(f"--port {port}: a port is a number from 1 to 65535")
    try:
        from liveassist.desk.serving import SheetServer
    except ImportError:
        raise PlayerError(
            'for a browser the drummer\'s sheet needs textual-serve: .venv/bin/pip install -e ".[browser]"; without it, '
            "liveassist drummer shows the sheet in a terminal"
        ) from None
    command = f"{shlex.quote(sys.executable)} -m liveassist drummer"
    try:
        SheetServer(command, host, port).serve()
    except (OSError, UnicodeError) as error:  # a name with an empty or endless part is not even looked up
        said, number = "that is no address", 0
        if isinstance(error, OSError):
            said, number = error.strerror or str(error), error.errno or 0
        raise PlayerError(
            f"{host}, port {port}: the sheet cannot be served there: {said}; {ACCEPTED.get(number, AN_ADDRESS)}"
        ) from None
    return 0
