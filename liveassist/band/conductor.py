"""The conductor: what the band does at a change. Pure decisions, stated as tables; ``performance`` carries them out.

A change may pass by the clock, wait for the foot for a grace, or stop and wait. Where the grace runs out, what is known
decides whether the harmony goes on without the foot.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from charts.chart import A_TEMPO, BREATH, HOLD, LATE, PEDAL_POINT, PUSH, RIT
from charts.route import Route, RouteBar, RouteChange
from liveassist.arranging.answer import answered

PASS, GRACE, STOP = "pass", "grace", "stop"
"""How the band meets a change: by the clock; waiting for the cue a moment; waiting until it comes."""

BELIEVE, BELIEVE_JUMP = 0.5, 0.8
"""How sure the band must be to follow a cue straight on, and to follow a jump."""
NO_JUMP = 2
"""So many changes ahead are straight on, with a foot or two missed; more are a jump."""

GO_ON, VAMP, STAND, BE_SILENT = "go on", "vamp", "stand", "be silent"
"""What the band does when the grace has run out: play on; keep the chord going round; hold it; wait in silence."""

SHORTEST_GRACE, LONGEST_GRACE = 0.060, 0.150
LONGEST_GRACE_BEATS = 0.45
"""The grace is about two standard deviations of the expected time, within these bounds (seconds, counted beats)."""

KNOWN_MELODY = {
    # (melody moving, pedal still down)
    (True, True): GO_ON,  # a pedal point
    (True, False): GO_ON,  # manuals only
    (False, True): STAND,
    (False, False): BE_SILENT,  # a breath or a stop
}
ENDINGS = ("ending", "outro", "end", "coda")
"""Sections that are endings, by the first word of their name."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Known:
    """What is known when a cue is missing."""

    melody_known: bool
    """The melody manual has been heard in this take."""
    melody_moving: bool
    pedal_down: bool
    pedal_lost: bool
    """The pedal's port has gone away."""
    patience: str
    missed: int
    """Changes carried on through since the last cue."""
    nodded: bool
    """A nod has asked for the change."""
    ending: bool
    """The change is the door to the ending, or the last chord, and neither ``close`` nor the tune asks for it."""
    ritard: bool
    sung: bool = False
    """The written tune has come there, or is held over it."""


def when_missing(known: Known) -> str:
    """The grace has run out and no cue came."""
    if known.nodded or (known.sung and not known.ending):
        return GO_ON
    if known.ritard:
        return STAND
    if known.ending:
        return VAMP
    if known.pedal_lost:
        return GO_ON
    if known.melody_known:
        return KNOWN_MELODY[known.melody_moving, known.pedal_down]
    if known.patience == "always":
        return GO_ON
    return GO_ON if known.missed < int(known.patience) else VAMP


def grace(spread: float, beat_seconds: float) -> float:
    """How long an attack waits for its foot, in seconds."""
    longest = max(SHORTEST_GRACE, min(LONGEST_GRACE, LONGEST_GRACE_BEATS * beat_seconds))
    return min(max(SHORTEST_GRACE, 2.0 * spread), longest)


def shift(route: Route, change: RouteChange) -> Fraction:
    """How much later (negative: earlier) than written a change is played, in quarter notes: a push comes one division of the
    counted beat before its place, a late chord one after."""
    meter = route.bars[change.bar].meter
    division = meter.counted_beat / (3 if meter.compound else 2)
    return division * ((LATE in change.marks) - (PUSH in change.marks))


class Reading:
    """What the band reads off a route before it plays: where cues are due, ritards, the ending. Made once."""

    def __init__(self, route: Route, place: str, switch_unit: str) -> None:
        self.route = route
        self.place, self.switch_unit = place, switch_unit
        self.ending_bar = self._find_ending()
        self.ritard = self._find_ritards()
        self.answers_live = self._find_live_answers()
        """For each bar whether the second manual answers what the right hand plays: an answer, and no tune written."""
        self.shifts = tuple(shift(route, change) for change in route.changes)
        """For each change how much earlier (negative) or later than written it is played, in quarter notes."""

    def _find_ending(self) -> int:
        """The first bar of the ending: its section where one is named so, or the bar of the last chord."""
        bars, changes = self.route.bars, self.route.changes
        last = bars[-1]
        if last.section.casefold().split()[0] in ENDINGS and last.step > 0:
            return next(bar.index for bar in bars if bar.step == last.step)
        return changes[-1].bar if changes else last.index

    def _find_ritards(self) -> tuple[bool, ...]:
        """For each change whether it lies in a ritard: from the mark to ``a tempo`` or the end of the section."""
        found: list[bool] = []
        slowing = False
        for change in self.route.changes:
            bar = self.route.bars[change.bar]
            if A_TEMPO in change.marks or (bar.starts_section and change.offset == 0):
                slowing = False
            slowing = slowing or RIT in change.marks
            found.append(slowing or bar.rit)
        return tuple(found)

    def _find_live_answers(self) -> tuple[bool, ...]:
        sung = {section.name for section in self.route.chart.sections if any(bar.melody for bar in section.bars)}
        return tuple(answered(bar) and bar.section not in sung for bar in self.route.bars)

    def opens_ending(self, change: int) -> bool:
        """Whether a change is the door to the ending, or the last chord of all."""
        here = self.route.changes[change]
        first = self.route.bars[self.ending_bar].changes
        return change == len(self.route.changes) - 1 or (bool(first) and here.index == first[0])

    def in_ending(self, bar: RouteBar) -> bool:
        return bar.index >= self.ending_bar

    def without_pedal(self, change: int) -> bool:
        """Whether no foot need cue a change: it has no bass, or the feet rest."""
        here = self.route.changes[change]
        bar = self.route.bars[here.bar]
        return here.bass is None or bar.manuals_only or bar.underscore

    def wants_cue(self, before: int, change: int) -> bool:
        """Whether the player is expected to cue a change, coming from another."""
        here = self.route.changes[change]
        bar = self.route.bars[here.bar]
        underscored = bar.underscore and bar.step == self.route.bars[self.route.changes[before].bar].step
        if self.place == "bars" or underscored:
            return False
        if self.place == "switch":
            new_bar = here.bar != self.route.changes[before].bar
            return {"change": True, "bar": new_bar, "section": new_bar and bar.starts_section}[self.switch_unit]
        if self.without_pedal(change):
            return False
        return here.bass != self.route.changes[before].bass and PEDAL_POINT not in here.marks

    def meets(self, before: int, change: int, leaving: RouteBar | None) -> str:
        """How the band meets a change, coming from another; ``leaving`` is the bar that ends there, if one does."""
        if self.place == "bars":
            return PASS
        behind = self.route.changes[before]
        if BREATH in behind.marks or HOLD in behind.marks or (leaving is not None and leaving.wait):
            return STOP
        return GRACE if self.wants_cue(before, change) else PASS
