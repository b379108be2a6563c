"""The drummer's sheet: where the song is, how many bars until the next section, the count-in, the tempo, and a beat as large
as the screen allows. It looks at the band and asks nothing of it: it has no key but the one to leave, and the band would not
listen.

It finds the band by itself, now and whenever the band has gone and another has come.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Horizontal, Vertical
from textual.screen import Screen

from liveassist.desk import EXIT_CRASHED, EXIT_LEFT, wording
from liveassist.desk.liveried import Liveried
from liveassist.desk.playing import BlockPlate, Plate
from liveassist.link import Picture, Reader
from liveassist.terminal import leave_with_the_terminal

FIND_AGAIN = 1.0
"""Seconds between two looks for a band."""
WAITING = "Waiting for the band: liveassist play, on this machine"
GONE = "The band has stopped."


class SheetScreen(Screen[Any]):
    """Plates with a picture of the band."""

    def __init__(self) -> None:
        super().__init__()
        self._picture, self._line = Picture(), WAITING
        self._plates = {
            name: Plate(name) for name in ("title", "state", "left", "of-bar", "place", "then", "tempo", "said")
        }
        self._blocks = {name: BlockPlate(name) for name in ("bars", "count")}
        self._boxes = Plate("boxes")

    def compose(self) -> ComposeResult:
        plate, large = self._plates, self._blocks
        with Vertical(id="stand"):
            yield Horizontal(plate["title"], plate["state"], classes="line")
            yield Horizontal(plate["left"], plate["of-bar"], classes="line label")
            yield Horizontal(large["bars"], large["count"], id="large")
            yield plate["place"]
            yield plate["then"]
            yield self._boxes
            yield plate["tempo"]
            yield plate["said"]

    def show(self, picture: Picture, line: str = "") -> None:
        """Show this picture; ``line`` is what the sheet itself has to say."""
        self._picture, self._line = picture, line
        texts = {
            "title": wording.title(picture),
            "state": f" {wording.state(picture)} ",
            "left": wording.bars_left(picture),
            "of-bar": "count-in" if picture.counting else "beat",
            "place": wording.place(picture),
            "then": wording.then(picture),
            "tempo": wording.tempo(picture),
            "said": line or wording.time_from(picture),
        }
        for name, text in texts.items():
            self._plates[name].show(text)
        beat = wording.beat_of(picture)
        self._blocks["bars"].set(str(picture.bars_left) if picture.bars_left else "")
        self._blocks["count"].set(str(beat) if beat else "")
        self._boxes.show(wording.beat_boxes(picture.beats, beat, *self._boxes.content_size))

    def on_resize(self) -> None:
        self.call_after_refresh(lambda: self.show(self._picture, self._line))


class DrummerApp(Liveried, inherit_bindings=False):
    """The sheet of the band that ``find`` finds. Running it gives one of the ``EXIT_`` numbers."""

    CSS_PATH = "drummer.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding(key, "leave", show=False, priority=True) for key in ("q", "Q", "ctrl+q", "ctrl+c")
    ]

    def __init__(self, find: Callable[[], Reader | None]) -> None:
        """``find`` gives a reader of the band that plays now, or None where there is none."""
        super().__init__()
        self._find = find
        self.reader: Reader | None = None
        self.picture = Picture()
        self._sheet = SheetScreen()
        self._found_at = float("-inf")
        self._met = False
        self._line: str | None = None

    def get_default_screen(self) -> SheetScreen:
        return self._sheet

    def look(self, now: float | None = None) -> None:
        """Draw the newest picture, if there is one; look for a band where there is none."""
        if not self.screen_stack:  # on the way out
            return
        now = time.monotonic() if now is None else now
        newest = self.reader.read() if self.reader is not None else None
        if self.reader is not None and (self.reader.gone or self.reader.refused):
            self.reader.close()
            self.reader = None
        if self.reader is None and now - self._found_at >= FIND_AGAIN:
            self._found_at, self.reader = now, self._find()
        if newest is not None:
            self.picture, self._met = newest, True
        line = "" if self.reader is not None and self._met else GONE if self._met else WAITING
        if newest is not None or line != self._line:
            self._line = line
            self._sheet.show(self.picture if not line else Picture(), line)

    def action_leave(self) -> None:
        self.exit(EXIT_LEFT)


def run_sheet(find: Callable[[], Reader | None]) -> int:
    """Show the drummer's sheet until somebody leaves it. Returns one of the ``EXIT_`` numbers of ``liveassist.desk``."""
    leave_with_the_terminal(EXIT_CRASHED)
    app = DrummerApp(find)
    try:
        result = app.run(mouse=False)
    finally:
        if app.reader is not None:
            app.reader.close()
    return EXIT_CRASHED if result is None else result
