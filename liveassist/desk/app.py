"""The desk: shows the newest picture of the band, and passes on what the player asks.

It makes no music and keeps no state of the band's: it may die and come back at any time.
"""

from __future__ import annotations

import time
from typing import ClassVar

from textual.binding import Binding, BindingType
from textual.timer import Timer

from liveassist.band.nods import NODS
from liveassist.band.states import FINE, TACET
from liveassist.desk import EXIT_CRASHED, EXIT_LEFT, EXIT_REFUSED, EXIT_RESTART
from liveassist.desk.keys import DESK_KEYS, FOLLOW_UP_WAIT, FOLLOW_UPS, nod_keys
from liveassist.desk.liveried import Liveried
from liveassist.desk.playing import PlayingScreen
from liveassist.desk.screens import BenchSheet, HelpSheet, LeaveSheet, LostSheet, RoadmapSheet, SettingsSheet, Sheet
from liveassist.link import NODDER, LinkReader, Picture, Reader, Request
from liveassist.terminal import leave_with_the_terminal

DRAWS = 12
"""At most so many pictures a second are drawn."""
NEWS_STANDS = 4.0
"""Seconds that an answer of the band, or of the desk, stays on the screen."""

SHEETS: dict[str, type[Sheet]] = {
    "help": HelpSheet,
    "settings": SettingsSheet,
    "roadmap": RoadmapSheet,
    "bench": BenchSheet,
    "leave": LeaveSheet,
}


def _bindings() -> list[BindingType]:
    """Every key, ahead of whatever has the focus: page keys would else scroll, and ctrl+q quit."""
    keys = [(key, f"nod('{nod.name}')") for nod in NODS.values() if nod.key for key in nod_keys(nod.key)]
    keys += [(key, action.format(key=key)) for desk_keys, action, _, _ in DESK_KEYS for key in desk_keys]
    digits = sorted({digit for choices in FOLLOW_UPS.values() for digit in choices})
    keys += [(str(digit), f"follow_up({digit})") for digit in digits]
    return [Binding(key, action, show=False, priority=True) for key, action in keys]


class DeskApp(Liveried, inherit_bindings=False):
    """The desk of the band at the other end of ``reader``. Running it gives one of the ``EXIT_`` numbers."""

    CSS_PATH = "desk.tcss"
    BINDINGS: ClassVar[list[BindingType]] = _bindings()

    def __init__(self, reader: Reader) -> None:
        super().__init__()
        self.reader = reader
        self.picture = Picture()
        self._playing = PlayingScreen()
        self.waiting_to_draw = True
        """Whether the newest picture is not on the screen yet."""
        self._met = False
        """Whether the band has ever shown us a picture."""
        self._drawn = 0.0
        self._question = ""
        """The nod that a digit may follow."""
        self._question_timer: Timer | None = None
        self._news, self._news_at = "", 0.0
        self._line = ""

    def get_default_screen(self) -> PlayingScreen:
        return self._playing

    # --- what the band shows

    def look(self, now: float | None = None) -> None:
        """Take the newest picture, if there is one, and draw it if it is time."""
        if not self.screen_stack:  # on the way out
            return
        now = time.monotonic() if now is None else now
        newest = self.reader.read()
        if newest is not None:
            self.picture, self.waiting_to_draw, self._met = newest, True, True
        if self.reader.notice:
            self._say(self.reader.notice)
            self.reader.notice = ""
        line = self._said(now)
        if (self.waiting_to_draw or line != self._line) and now - self._drawn >= 0.9 / DRAWS:
            self.waiting_to_draw, self._drawn, self._line = False, now, line
            self._playing.show(self.picture, line)
            if isinstance(self.screen, BenchSheet):
                self.screen.show(self.picture)
        self._mind_the_link()

    def _said(self, now: float) -> str:
        if self._question:
            digits = " or ".join(str(digit) for digit in FOLLOW_UPS[self._question])
            return f"{self._question}: {digits} bars? ({NODS[self._question].key} again: as marked)"
        if self._news and now - self._news_at < NEWS_STANDS:
            return self._news
        if self.picture.bench_asks and not isinstance(self.screen, BenchSheet):
            return "A bench check is open, the band deaf: b"
        if not self._met:
            return "Waiting for the band ..."
        return ""

    def _say(self, text: str) -> None:
        self._news, self._news_at = text, time.monotonic()

    def _mind_the_link(self) -> None:
        loss = self._loss()
        lost = isinstance(self.screen, LostSheet)
        if loss and not lost:
            self._question = ""
            self.push_screen(LostSheet(*loss, self._end_lost))
        elif lost and not loss:
            self.pop_screen()

    def _loss(self) -> tuple[str, str] | None:
        """A word and a story when the band is lost; None while it is there.

        A desk is opened on a band that has told its address, so one that does not answer has gone, even where it has never
        shown a picture.
        """
        if self.reader.refused:
            return "not let in", f"The band does not take this desk: {self.reader.refused}.\n\nPress Q to leave."
        if not self.reader.gone:
            return None
        offer = "Press R to start it again at the last place, Q to leave."
        if self.reader.left:
            return "ended", f"The band has ended.\n\n{offer}"
        if not self._met:
            return "stopped", f"The band has stopped before it began; why is told when you leave this page.\n\n{offer}"
        return "stopped", f"The band has stopped; the organ has been silenced.\n\n{offer}"

    def _end_lost(self, restart: bool) -> None:
        if self.reader.refused:
            self.exit(EXIT_REFUSED)
        else:
            self.exit(EXIT_RESTART if restart else EXIT_LEFT)

    # --- what the player asks

    def check_action(self, action: str, parameters: tuple[object, ...]) -> bool | None:
        """With the band lost, the keys belong to the question what to do now; the leaving keys belong to the question
        whether to leave, once it is asked. A digit belongs to a nod that waits."""
        if isinstance(self.screen, LostSheet):
            return action not in ("nod", "cue", "open", "follow_up")
        if isinstance(self.screen, LeaveSheet) and (action, *parameters) == ("open", "leave"):
            return False
        if action == "follow_up":
            return bool(self._question)
        return True

    def action_nod(self, name: str) -> None:
        if self._question:
            same = self._question == name
            self._answer(None)
            if same:
                return
        if name in FOLLOW_UPS:
            self._question = name
            self._question_timer = self.set_timer(FOLLOW_UP_WAIT, lambda: self._answer(None))
        else:
            self._ask(Request(ask="nod", name=name))
        self.look()

    def action_follow_up(self, digit: int) -> None:
        self._answer(digit)

    def _answer(self, digit: int | None) -> None:
        """Send the nod that waited for a digit."""
        if self._question_timer is not None:
            self._question_timer.stop()
        name, self._question = self._question, ""
        if name:
            self._ask(Request(ask="nod", name=name, argument=digit))

    def action_cue(self, key: str) -> None:
        """A page-turner's key: the cue, or the nod that the console profile gives it."""
        nod = dict(self.picture.page_turner).get(key)
        self._ask(Request(ask="nod", name=nod) if nod else Request(ask="cue"))

    def _ask(self, request: Request) -> None:
        if not self.reader.send(request):
            self._say("look only: another desk gives the nods" if not self.reader.gone else "the band is not there yet")

    def action_light(self) -> None:
        self.theme = "night" if self.theme == "paper" else "paper"

    def action_open(self, name: str) -> None:
        """Bring a sheet, in place of the one that lies there; a sheet's own key turns its page or puts it away."""
        top = self.screen
        if isinstance(top, SHEETS[name]):
            top.again()
            return
        if isinstance(top, Sheet):
            self.pop_screen()
        self.push_screen(self._sheet(name))

    def _sheet(self, name: str) -> Sheet:
        if name == "settings":
            return SettingsSheet(self.picture)
        if name == "roadmap":
            return RoadmapSheet(self.picture, lambda step: self._ask(Request(ask="nod", name="to", argument=step)))
        if name == "bench":
            return BenchSheet(self.picture, lambda word: self._ask(Request(ask="bench", name=word)))
        if name == "leave":
            return LeaveSheet(self._question_before_leaving(), self._leave)
        return HelpSheet()

    def _question_before_leaving(self) -> str:
        if not self.reader.may_nod:
            return "Leave? The band plays on without this desk."
        if self.picture.state in (TACET, FINE):
            return "Leave?"
        return "The band is playing. Leave? The music will stop."

    def _leave(self) -> None:
        self.reader.send(Request(ask="leave"))
        self.exit(EXIT_LEFT)


def run_desk(address: tuple[str, int], token: str, role: str = NODDER) -> int:
    """Show the band at this address until the player leaves.

    Args:
        address: host and port of the band's end of the link.
        token: the band's token.
        role: ``LOOKER`` for a second screen that gives no nods.
    Returns:
        One of the ``EXIT_`` numbers of ``liveassist.desk``.
    """
    leave_with_the_terminal(EXIT_CRASHED)
    reader = LinkReader(address, token, role)
    try:
        result = DeskApp(reader).run(mouse=False)
    finally:
        reader.close()
    return EXIT_CRASHED if result is None else result
