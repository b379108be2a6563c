"""What the launcher hands to the band process: one JSON line with everything it needs to play a song, or a service."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from charts.whole import write_whole
from liveassist.players.begun import Begun

UP = ".up"
LAST_PLACE = "the last place"
"""Where settings come from that make a band go on."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Item:
    """One item of a service: what launcher and band process both know of it."""

    title: str
    take: str = ""
    """Where its take is written; empty: nowhere."""
    feels: Mapping[str, str] = field(default_factory=dict)
    notices: tuple[str, ...] = ()
    notes: str = ""
    """First registration."""
    before: str = ""
    """What comes before it."""
    gap: float = 0.0
    """Seconds before it that the desk counts down."""
    path: str = ""
    """The chart's file, to be looked after for edits; empty: none is."""
    stamp: tuple[int, ...] = ()
    """Its time and size when it was read."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Piece(Item):
    """An item as it is handed over. Plain values only."""

    chart: str = ""
    """Text of the chart of the day; empty while the band is tacet."""
    chart_name: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """Every setting, its layers already laid on one another."""
    origin: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, kw_only=True, slots=True)
class BandSpec:
    """One song to be played, or a service. Plain values only."""

    chart: str
    """Text of the chart; empty for a service."""
    chart_name: str = ""
    settings: Mapping[str, Any] = field(default_factory=dict)
    """Every setting, its layers already laid on one another."""
    origin: Mapping[str, str] = field(default_factory=dict)
    """Where each came from."""
    profile: str
    """Text of the console profile; a port without a name is none."""
    take: str = ""
    """Where the take is written; empty: nowhere."""
    take_needed: bool = False
    """The player asked for that very file: without it there is no music."""
    letter: str
    """The file in which the band says at which address its link listens."""
    token: str
    """Of the link."""
    script: tuple[tuple[float, str], ...] = ()
    """The messages of an imagined player: seconds, and the bytes as hexadecimal digits."""
    begun: Begun | None = None
    """Where the script goes, for an imagined player who goes along with nods; None: it is played as it stands."""
    ends: bool = False
    """It is over with the script; else when somebody ends it."""
    feels: Mapping[str, str] = field(default_factory=dict)
    """Texts of the player's own feels, by the names of their files."""
    notices: tuple[str, ...] = ()
    """What the player should know from the start."""
    sound: str = ""
    """Name of a sound device; empty: silent."""
    nods: tuple[str, ...] = ()
    """Nods to begin with."""
    tempo: float = 0.0
    """Counted beats a minute to begin with, as if they had been tapped; 0: as settings and chart say."""
    rehearsed: bool = False
    """A coach listens."""
    alone: bool = False
    """It is over with the rehearsal; else when somebody ends it."""
    ladder: str = ""
    """The tempo ladder of a rehearsal, as ``60:80:4``."""
    ports: tuple[str, ...] = ()
    """Full names of the ports that it plays on, for other bands to know."""
    title: str = ""
    """Of a service."""
    service: str = ""
    """Text of its file."""
    service_name: str = ""
    pieces: tuple[Piece, ...] = ()
    """The items of a service, in order; empty where one song is played."""
    up: int = 0
    """Which of them comes first, from 0."""
    here: Mapping[str, Any] = field(default_factory=dict)
    """Settings of that one, this once: where the band goes on after it had stopped."""

    def line(self) -> str:
        """As one line."""
        return json.dumps(asdict(self), ensure_ascii=False)


def tell_item(letter: str, number: int) -> None:
    """Leave word beside the letter which item of a service is up, for whoever starts the next band. Raises OSError."""
    write_whole(Path(letter + UP), str(number))


def item_up(letter: str, otherwise: int) -> int:
    """Which item of a service was up; ``otherwise`` where no word was left."""
    try:
        return int(Path(letter + UP).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return otherwise


def read_spec(line: str) -> BandSpec:
    """A spec from its line. Raises ValueError where it is none."""
    stated = json.loads(line)
    try:
        stated["script"] = tuple((float(at), str(message)) for at, message in stated.get("script", ()))
        stated["begun"] = _begun(stated["begun"]) if stated.get("begun") else None
        stated |= {name: tuple(stated.get(name, ())) for name in ("nods", "notices", "ports")}
        stated["pieces"] = tuple(_piece(piece) for piece in stated.get("pieces", ()))
        return BandSpec(**stated)
    except (TypeError, AttributeError, KeyError) as error:
        raise ValueError(f"this is no spec of a band: {error}") from None


def _begun(stated: dict[str, Any]) -> Begun:
    pairs = {name: tuple((float(at), what) for at, what in stated[name]) for name in ("bars", "mishaps")}
    return Begun(**stated | pairs)


def _piece(stated: dict[str, Any]) -> Piece:
    return Piece(**stated | {name: tuple(stated.get(name, ())) for name in ("notices", "stamp")})
