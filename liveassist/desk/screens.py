"""The sheets that lie on the playing screen for a moment. The band plays on below, and the nods' keys go through."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, ClassVar

from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical, VerticalScroll
from textual.content import Content
from textual.screen import ModalScreen
from textual.widgets import Static

from liveassist.band.states import FINE, READY, TACET
from liveassist.desk import keys, wording
from liveassist.desk.letters import block
from liveassist.desk.playing import LEAST, roadmap_content
from liveassist.link import Picture

HELP_ROWS = 20
"""Of a page of the help: of 24, two are the sheet's edge, one its heading, and one the row below that."""


class Sheet(ModalScreen[Any]):
    """A sheet with a heading. Escape puts it away, and so does the key that brought it."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape", "put_away", show=False)]
    heading = ""

    def compose(self) -> ComposeResult:
        with Vertical(classes="sheet"):
            yield Static(self.heading, markup=False, classes="heading")
            yield from self.body()

    def body(self) -> ComposeResult:
        raise NotImplementedError

    def again(self) -> None:
        """Its key was pressed again."""
        self.action_put_away()

    def action_put_away(self) -> None:
        self.dismiss()


def _columns(rows: Sequence[tuple[str, ...]], gap: int = 3) -> str:
    """Rows as a table, each column as wide as its widest entry."""
    widths = [max(len(row[column]) for row in rows) + gap for column in range(len(rows[0]))]
    return "\n".join(
        "".join(f"{cell:<{width}}" for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows
    )


class HelpSheet(Sheet):
    """The nods, on as many pages as they need; then the other keys and the signs."""

    heading = "Keys     (? turns the page, Esc closes)"

    def __init__(self) -> None:
        super().__init__()
        self._pages = help_pages()
        self._page = 0

    def body(self) -> ComposeResult:
        yield Static(self._pages[0], markup=False, id="page")

    def again(self) -> None:
        self._page += 1
        if self._page == len(self._pages):
            self.action_put_away()
        else:
            self.query_one("#page", Static).update(self._pages[self._page])


def help_pages() -> list[str]:
    """What stands on each page of the help."""
    nods = _columns(keys.nod_help()).splitlines()
    pages = -(-len(nods) // HELP_ROWS)
    rows = -(-len(nods) // pages)
    signs = [(sign, state) for state, sign in wording.SIGNS.items()]
    other = f"{_columns(keys.desk_help())}\n\nSigns of the band's state\n{_columns(signs)}"
    return ["\n".join(nods[row : row + rows]) for row in range(0, len(nods), rows)] + [other]


class SettingsSheet(Sheet):
    """Each setting, its value, and where it came from."""

    heading = "Settings and where they came from     (↑ ↓ move, Esc closes)"

    def __init__(self, picture: Picture) -> None:
        super().__init__()
        self._picture = picture

    def body(self) -> ComposeResult:
        with VerticalScroll():
            yield Static(_columns(wording.settings(self._picture)), markup=False, id="settings")
            if self._picture.take:
                yield Static(f"\ntake written to {self._picture.take}", markup=False)


class RoadmapSheet(Sheet):
    """Choose the step to go to at the next bar line."""

    heading = "Go to     (↑ ↓ or its number, then Enter; Esc stays)"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("up", "move(-1)", show=False),
        Binding("down", "move(1)", show=False),
        Binding("enter", "go", show=False),
        *(Binding(str(digit), f"digit({digit})", show=False) for digit in range(10)),
    ]

    def __init__(self, picture: Picture, go: Callable[[int], None]) -> None:
        super().__init__()
        self._picture, self._go = picture, go
        self.chosen = min(picture.step + 1, max(0, len(picture.roadmap) - 1))
        self._typed = ""

    def body(self) -> ComposeResult:
        yield Static("", markup=False, id="steps")

    def on_mount(self) -> None:
        self.call_after_refresh(self._draw)

    def on_resize(self) -> None:
        self.call_after_refresh(self._draw)

    def _draw(self) -> None:
        steps = self.get_widget_by_id("steps", Static)
        if not self._picture.roadmap:
            steps.update(Content("The band has shown no roadmap yet."))
            return
        lines = wording.roadmap(self._picture.roadmap, self._picture.step, steps.size.height, self.chosen)
        steps.update(roadmap_content(lines))

    def _choose(self, index: int) -> None:
        if 0 <= index < len(self._picture.roadmap):
            self.chosen = index
            self._draw()

    def action_move(self, by: int) -> None:
        self._typed = ""
        self._choose(self.chosen + by)

    def action_digit(self, digit: int) -> None:
        """Digits make a number as long as there is such a step, else they begin a new one."""
        typed = self._typed + str(digit)
        self._typed = typed if int(typed) <= len(self._picture.roadmap) else str(digit)
        self._choose(int(self._typed) - 1)

    def action_go(self) -> None:
        if self._picture.roadmap:
            self._go(self.chosen)
        self.dismiss()


class BenchSheet(Sheet):
    """The bench check: what was found, a line each, and what is asked now."""

    heading = "Bench check     (y yes, n no, Enter passes over, Esc ends)"
    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y,Y", "answer('yes')", show=False),
        Binding("n,N", "answer('no')", show=False),
        Binding("enter", "answer('pass')", show=False),
    ]

    def __init__(self, picture: Picture, ask: Callable[[str], None]) -> None:
        super().__init__()
        self._ask = ask
        self._asks = Static(self._question(picture), markup=False)
        self._found = Static(self._findings(picture), markup=False)

    def body(self) -> ComposeResult:
        yield self._asks
        with VerticalScroll():
            yield self._found

    def on_mount(self) -> None:
        self._ask("begin")

    def show(self, picture: Picture) -> None:
        """Show what the newest picture tells of it."""
        self._asks.update(self._question(picture))
        self._found.update(self._findings(picture))

    @staticmethod
    def _question(picture: Picture) -> str:
        if picture.bench_asks or picture.bench:
            return picture.bench_asks or "Done."
        return (
            "" if picture.state in (TACET, READY, FINE) else "Not while the band plays: before the song, or after it."
        )

    @staticmethod
    def _findings(picture: Picture) -> str:
        return "\n".join(reversed(picture.bench))

    def action_answer(self, word: str) -> None:
        self._ask(word)

    def on_unmount(self) -> None:
        self._ask("end")


class LeaveSheet(Sheet):
    """Asked before anything ends. Who presses Ctrl-C again means it; ``q`` again, which a finger may do twice, is no
    answer."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("y,Y,ctrl+c,ctrl+q", "leave", show=False),
        Binding("n,N", "put_away", show=False),
    ]

    def __init__(self, question: str, leave: Callable[[], None]) -> None:
        super().__init__()
        self.heading, self._leave = question, leave

    def body(self) -> ComposeResult:
        yield Static("y   leave (or Ctrl-C again)\nn   stay", markup=False)

    def action_leave(self) -> None:
        self._leave()


class LostSheet(Sheet):
    """The band is gone, or will not have us. Put away by itself when the band answers again."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("r,R", "end(True)", show=False),
        Binding("q,Q,ctrl+q,ctrl+c", "end(False)", show=False),
    ]

    def __init__(self, word: str, story: str, end: Callable[[bool], None]) -> None:
        super().__init__()
        self.heading, self._story, self._end = block(word, LEAST[0] - 12, 5), story, end

    def body(self) -> ComposeResult:
        yield Static(self._story, markup=False, id="story")

    def again(self) -> None:
        """It stays until the player has chosen."""

    def action_put_away(self) -> None:
        """It stays until the player has chosen."""

    def action_end(self, restart: bool) -> None:
        self._end(restart)
