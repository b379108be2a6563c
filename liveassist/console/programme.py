"""The programme: what is played one after the other, and what the nods ``next`` and ``back`` do.

A programme is made of *pieces* (see ``spec``): songs, and items for which the band is tacet. One of them is up; going to
another makes a new performance of it, deaf until it is asked, while ports, link and guardian stay as they are. ``ready`` and
``count`` at a tacet item go on to the song that comes next: its first pedal note and tempo are on the desk already.

Each song has a clock of its own, which begins when it comes up, and a take of its own, which is written from then on; its
file is made when the band is first armed, so that a song passed over leaves none.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from pathlib import Path
from typing import Any, Protocol

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from liveassist.band.click import Click
from liveassist.band.clicking import Ahead
from liveassist.band.events import Action, Event, Nodded, StateIs, Told
from liveassist.band.states import TACET
from liveassist.band.view import TimeLine, View
from liveassist.console.edits import Edit
from liveassist.console.picture import HEARD_LINES, Around, page_turner_nods
from liveassist.console.runner import TURNS, Band, Paints, Take
from liveassist.console.spec import Piece
from liveassist.console.take_names import free_name
from liveassist.console.takes import TakeWriter
from liveassist.errors import PlayerError
from liveassist.link import Picture
from liveassist.settings import Settings

NEXT, BACK = TURNS
ARMING = ("ready", "count")
"""Nods that at a tacet item mean the song that comes next."""


class Plays(Band, Protocol):
    """What runner and ears need of a performance."""

    def clicks_until(self, time: float) -> tuple[Click, ...]: ...

    def next_section(self) -> Ahead | None: ...


@dataclass(frozen=True, kw_only=True)
class Song:
    """A piece ready to be played."""

    title: str
    band: Plays
    route: Route | None = None
    """None while the band is tacet."""
    painter: Paints | None = None
    take: Take | None = None
    chores: Iterable[object] = field(default=())
    notices: tuple[str, ...] = ()
    """What the player should know."""


class Programme:
    """The pieces in order, and which of them is up."""

    def __init__(
        self,
        pieces: Sequence[Piece],
        load: Callable[[Sequence[Piece], int], Song],
        up: int,
        song: Song,
        edits: Callable[[], Sequence[Edit]] = tuple,
        tell: Callable[[int], object] = lambda number: None,
    ) -> None:
        """
        Args:
            pieces: in order.
            load: makes one of them ready, by its number from 0.
            up: the number of the one that is up at first.
            song: that one, ready.
            edits: the pieces edited since last asked.
            tell: told which piece comes up.
        """
        self._tell = tell
        self._pieces, self._load, self._edits = list(pieces), load, edits
        self.up, self.song = up, song

    def nod(self, name: str, now: float) -> Song | str | None:
        """What comes up with a nod, given while nothing plays: another piece, or words why not. None where the nod is the
        band's own. ``now`` is the runner's time."""
        if name in ARMING and not self._pieces[self.up].chart:
            songs = [number for number in range(self.up + 1, len(self._pieces)) if self._pieces[number].chart]
            return self._go(songs[0], now) if songs else "no song comes any more"
        if name not in TURNS or len(self._pieces) == 1:
            return None
        number = self.up + (1 if name == NEXT else -1)
        if 0 <= number < len(self._pieces):
            return self._go(number, now)
        return "this is the last item" if name == NEXT else "this is the first item"

    def edited(self, now: float) -> tuple[Song | None, tuple[str, ...]]:
        """What is up instead where somebody has edited its chart, or the one that comes; and what is to be told of edits.
        Asked while the band is tacet."""
        numbers, told = self._take_edits()
        coming = next((number for number in range(self.up, len(self._pieces)) if self._pieces[number].chart), self.up)
        return (self._go(self.up, now) if numbers & {self.up, coming} else None), told

    def _take_edits(self) -> tuple[set[int], tuple[str, ...]]:
        """Put edited pieces into their places. Returns their numbers, and what is to be told."""
        numbers, told = set(), []
        for number, found in self._edits():
            if isinstance(found, str):
                told.append(found)
                continue
            self._pieces[number] = found
            numbers.add(number)
            told.append(f"{found.chart_name} has been edited: {found.title} is played as it is now")
        return numbers, tuple(told)

    def close(self) -> None:
        """Close the take of the piece that is up."""
        if self.song.take is not None:
            self.song.take.close()

    def _go(self, number: int, now: float) -> Song:
        _, edited = self._take_edits()
        made = self._load(self._pieces, number)
        self.close()
        with suppress(OSError):  # a restart would then begin elsewhere: no reason to stop
            self._tell(number)
        take = None if made.take is None else LaterTake(made.take, now)
        notices = (*edited, *made.notices)
        self.up, self.song = number, replace(made, band=Later(made.band, now), take=take, notices=notices)
        return self.song


class Later:
    """A band whose clock begins later than the runner's."""

    def __init__(self, band: Plays, since: float) -> None:
        self._band, self._since = band, since

    def receive(self, event: Event) -> list[Action]:
        return self._as_runner(self._band.receive(_moved(event, -self._since)))

    def due(self, now: float) -> list[Action]:
        return self._as_runner(self._band.due(now - self._since))

    def next_due(self) -> float | None:
        due = self._band.next_due()
        return None if due is None else due + self._since

    def view(self, now: float | None = None) -> View:
        found = self._band.view(None if now is None else now - self._since)
        return replace(found, at=found.at + self._since)

    def off_the_beat(self, at: float) -> float | None:
        return self._band.off_the_beat(at - self._since)

    def clicks_until(self, time: float) -> tuple[Click, ...]:
        clicks = self._band.clicks_until(time - self._since)
        return tuple(replace(click, at=click.at + self._since) for click in clicks)

    def next_section(self) -> Ahead | None:
        found = self._band.next_section()
        return None if found is None else replace(found, at=found.at + self._since)

    def time_line(self) -> TimeLine:
        found = self._band.time_line()
        return replace(found, time=found.time + self._since)

    def _as_runner(self, actions: Sequence[Action]) -> list[Action]:
        return [replace(action, at=action.at + self._since) for action in actions]


class LaterTake:
    """The take of such a band: its second 0 is the band's."""

    def __init__(self, take: Take, since: float) -> None:
        self._take, self._since = take, since

    @property
    def path(self) -> Path:
        return self._take.path

    def event(self, event: Event) -> None:
        self._take.event(_moved(event, -self._since))

    def action(self, action: Action) -> None:
        self._take.action(replace(action, at=action.at - self._since))

    def wrong(self, text: str) -> None:
        self._take.wrong(text)

    def trouble(self) -> str:
        return self._take.trouble()

    def close(self) -> None:
        self._take.close()


def _moved(event: Event, by: float) -> Event:
    return replace(event, at=event.at + by, heard=event.heard + by)


class Rest:
    """A band that is tacet throughout."""

    def __init__(self, title: str) -> None:
        self._title = title

    def receive(self, event: Event) -> list[Action]:
        if isinstance(event, Nodded):
            return [Told(at=event.heard, text=f"'{event.nod}' means nothing now: the band is tacet ({self._title})")]
        return []

    def due(self, now: float) -> list[Action]:
        return []

    def next_due(self) -> float | None:
        return None

    def off_the_beat(self, at: float) -> float | None:
        return None

    def clicks_until(self, time: float) -> tuple[Click, ...]:
        return ()

    def next_section(self) -> Ahead | None:
        return None

    def time_line(self) -> TimeLine:
        return TimeLine(ticks=False, rolls=False, time=0.0, position=0.0, period=1.0)

    def view(self, now: float | None = None) -> View:
        return View(
            at=now or 0.0,
            state=TACET,
            change=None,
            next_change=None,
            next_in=None,
            bar=0,
            beat=0.0,
            position=Fraction(0),
            bpm=0.0,
            home_bpm=0.0,
            sure=1.0,
            lift=0,
            fullness=Settings().fullness,
            out=False,
            asked=(),
            sounding=(),
        )


class ItemPainter:
    """Pictures of one item of a service: what its own painter shows, and what comes."""

    def __init__(
        self,
        pieces: Sequence[Piece],
        number: int,
        page_turner: Mapping[str, str],
        painter: Paints | None = None,
    ) -> None:
        """
        Args:
            pieces: the service.
            number: which item it is, from 0.
            page_turner: the console profile's, what each key asks.
            painter: of the song; None while the band is tacet.
        """
        piece = pieces[number]
        self._painter = painter
        self._gap = piece.gap
        self._since: float | None = None
        """When it came up: its gap is counted from the first picture."""
        coming = next((one for one in pieces[number:] if one.chart), None)
        title, tempo, pedal = _first(coming) if coming is not None else ("", "", "")
        notes = piece.notes if coming in (None, piece) else " · ".join(filter(None, [piece.notes, coming.notes]))
        self._tacet = Picture(title=piece.title, beat=0, page_turner=page_turner_nods(page_turner))
        self._marks: dict[str, Any] = {
            "item": f"{number + 1} of {len(pieces)}",
            "following": pieces[number + 1].title if number + 1 < len(pieces) else "",
        }
        self._before: dict[str, Any] = {
            "first_of": title,
            "first_tempo": tempo,
            "first_pedal": pedal,
            "words": tuple(filter(None, [notes])),
            "next_words": (piece.before,) if piece.before and not piece.gap else (),
        }

    def picture(self, view: View, around: Around) -> Picture:
        """The picture of a moment."""
        if self._since is None:
            self._since = view.at
        if self._painter is not None:
            picture = self._painter.picture(view, around)
        else:
            picture = replace(
                self._tacet,
                at=view.at,
                state=view.state,
                heard=tuple(around.heard)[-HEARD_LINES:],
                ports=around.ports,
                bench=around.bench[0],
                bench_asks=around.bench[1],
            )
        if view.change is not None:
            return replace(picture, **self._marks)
        left = math.ceil(self._since + self._gap - view.at)
        picture = replace(picture, **self._marks, **self._before, gap=left if left > 0 else None)
        if self._painter is None:
            return picture
        tempo = f"{view.bpm:.0f}" if view.bpm else picture.first_tempo  # as tapped, and in the key as nodded
        return replace(picture, first_tempo=tempo, first_pedal=picture.next_pedal or picture.first_pedal)


def _first(piece: Piece) -> tuple[str, str, str]:
    """Title, tempo in counted beats a minute, and first pedal note of a song."""
    route = unfold(read_chart(piece.chart, piece.chart_name))
    bar = route.bars[0]
    bpm = float(piece.settings.get("tempo", 0.0)) or bar.quarter_bpm / float(bar.meter.counted_beat)
    bass = (change.chord.bass for change in route.changes if not route.bars[change.bar].manuals_only)
    return piece.title, f"{bpm:.0f}", next((note.shown for note in bass if note is not None), "")


class LateTake:
    """A take whose file is made when the band is first armed; until then it is kept in memory."""

    def __init__(self, path: str, make: Callable[[str], TakeWriter]) -> None:
        """``make`` writes a take to a path."""
        self.path = Path(free_name(path))
        self._make = make
        self._kept: list[Event | Action] | None = []
        self._writer: TakeWriter | None = None
        self._trouble = ""

    def event(self, event: Event) -> None:
        """Write an event."""
        if self._kept is not None:
            self._kept.append(event)
        elif self._writer is not None:
            self._writer.event(event)

    def action(self, action: Action) -> None:
        """Write an action."""
        if self._kept is not None:
            self._kept.append(action)
            if isinstance(action, StateIs) and action.state != TACET:
                self._begin()
        elif self._writer is not None:
            self._writer.action(action)

    def wrong(self, text: str) -> None:
        """Write what went wrong."""
        self._begin()
        if self._writer is not None:
            self._writer.wrong(text)

    def trouble(self) -> str:
        """What the player should know, once; else empty."""
        said, self._trouble = self._trouble, ""
        return said or (self._writer.trouble() if self._writer is not None else "")

    def close(self) -> None:
        """Write what is left, and close."""
        if self._writer is not None:
            self._writer.close()
            self._writer = None

    def _begin(self) -> None:
        kept, self._kept = self._kept, None
        if kept is None:
            return
        try:
            self._writer = self._make(str(self.path))
        except PlayerError as error:
            self._trouble = f"no take is written: {error}"
            return
        for one in kept:
            if isinstance(one, Event):
                self._writer.event(one)
            else:
                self._writer.action(one)
