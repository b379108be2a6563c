"""The bench check at the desk: the same steps inside the band's process, while nothing is played.

While it lasts the keys and switches belong to it, and the band is deaf to them; a nod from the desk ends it. What the laptop
tells is asked for in a thread of its own, because some systems take seconds to answer. What sounds goes out through the band's
own outlets, so the guardian watches it too.
"""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterable, Sequence

from liveassist.band.events import Event
from liveassist.console.bench import LOOK, WELL, WRONG, BenchCheck, Line, Note, in_order
from liveassist.console.instrument import Profile
from liveassist.console.laptop import Look
from liveassist.console.outlets import Outlets
from liveassist.link import PortHealth

ANSWERS: dict[str, bool | None] = {"yes": True, "no": False, "pass": None}
BEGIN, END = "begin", "end"


class BenchAtDesk:
    """A bench check that a desk asks for, answers, and puts away."""

    def __init__(
        self,
        profile: Profile,
        outlets: Outlets,
        *,
        laptop: Callable[[], Sequence[Look]] = tuple,
        keep: Callable[[Sequence[Line]], str] = lambda lines: "",
    ) -> None:
        """
        Args:
            profile, outlets: the console.
            laptop: reads what can be read of the laptop; may take seconds.
            keep: keeps what was found, and says where, or why not.
        """
        self._profile, self._outlets, self._laptop, self._keep = profile, outlets, laptop, keep
        self._check: BenchCheck | None = None
        self._ports: list[Line] = []
        self._looks: list[Line] | None = None
        """What the laptop told; None until it has."""
        self._kept = ""
        self._done = False

    @property
    def running(self) -> bool:
        """Whether the keys belong to the check."""
        return self._check is not None and self._check.step is not None

    def asked(self, word: str, ports: Iterable[PortHealth], now: float) -> None:
        """A desk begins a check, answers its question, or puts it away."""
        if word == BEGIN and not self.running:
            self._begin(ports)
        elif word == END:
            self.end(now)
        elif word in ANSWERS and self._check is not None:
            self._play(self._check.answer(ANSWERS[word], now), now)

    def hear(self, events: Iterable[Event], now: float) -> None:
        """What the player presses."""
        for event in events:
            if self._check is not None:
                self._play(self._check.hear(event), now)

    def next_due(self) -> float | None:
        """When its next note is due."""
        return self._check.next_due() if self._check is not None else None

    def due(self, now: float) -> str:
        """Play what is due. What the player should be told, or an empty text."""
        if self._check is None:
            return ""
        self._play(self._check.due(now), now)
        if self._done or self.running or self._looks is None:
            return ""
        self._done = True
        self._kept = self._keep(self._lines())
        return "bench check: " + ("all in order" if in_order(self._lines()) else "something is wrong, see its lines")

    def end(self, now: float) -> None:
        """Let go of everything, and forget it."""
        if self._check is not None:
            self._play(self._check.stop(now), now)
        self._check = None

    def shown(self) -> tuple[tuple[str, ...], str]:
        """For the picture: the lines found so far, and what is asked now."""
        if self._check is None:
            return (), ""
        step = self._check.step
        lines = tuple(str(line) for line in self._lines())
        if step is not None:
            remark = f"   ({self._check.remark})" if self._check.remark else ""
            return lines, step.asks + remark
        return (*lines, *filter(None, (self._kept,))), ""

    def _begin(self, ports: Iterable[PortHealth]) -> None:
        self._check, self._looks, self._kept, self._done = BenchCheck(self._profile), None, "", False
        self._ports = [
            Line(f"port, {port.role}", WELL if port.well else WRONG, f'"{port.name}": {port.text}') for port in ports
        ]
        threading.Thread(target=self._look, name="laptop", daemon=True).start()

    def _look(self) -> None:
        self._looks = [Line(look.name, WELL if look.well else LOOK, look.text) for look in self._laptop()]

    def _lines(self) -> list[Line]:
        found = self._check.lines if self._check is not None else []
        return [*self._ports, *found, *(self._looks or [] if not self.running else [])]

    def _play(self, notes: Sequence[Note], now: float) -> None:
        for note in notes:
            self._outlets.play(note, now)
