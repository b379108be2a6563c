"""A screen at rest: whatever was begun is on the screen before anything is asked of it.

Textual's pilot takes a process that has not worked for 20 ms for one that is done. On a busy machine it may only be waiting for
its turn, and a test would look at a screen that is not drawn yet. Here every widget says itself that it has worked off what
it was told, until nobody has anything left to do. It is quicker, too.
"""

from __future__ import annotations

import asyncio
from typing import Any

from textual._context import active_app
from textual.app import App
from textual.pilot import Pilot

ROUNDS = 200
QUIET = 2
"""So many rounds running nobody must have had anything to do."""
TURNS = 3
"""A key that is pressed is in the app's queue after so many turns of the loop, at most."""


async def at_rest(app: App[Any]) -> None:
    """Wait until nobody has anything left to do, or the app has ended. Fails where that never comes."""
    pilot, quiet = Pilot(app), 0
    for _ in range(ROUNDS):
        for _ in range(TURNS):
            await asyncio.sleep(0)
        if not (app.is_running and app.screen_stack and await pilot._wait_for_screen()):
            return
        app.screen._on_timer_update()
        quiet = 0 if _busy(app) else quiet + 1
        if quiet == QUIET:
            return
    raise AssertionError("the screen does not come to rest")


def _busy(app: App[Any]) -> bool:
    screen = app.screen
    pumps = [app, *screen.walk_children(with_self=True)]
    return bool(screen._layout_required or screen._callbacks or any(not pump._message_queue.empty() for pump in pumps))


async def instead_of_idling(min_sleep: float = 0.0, max_sleep: float = 1.0) -> None:
    """In place of Textual's ``wait_for_idle``."""
    await at_rest(active_app.get())
