"""A hall for the tests on real ports: a console, an organ, and a band between them."""

from __future__ import annotations

import importlib.util
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart
from liveassist.console.ensemble import Ensemble
from liveassist.console.launcher import Session, band_spec
from liveassist.console.ports import MODULES, WHICH
from liveassist.console.profile import read_profile
from liveassist.console.spec import BandSpec
from liveassist.link import LinkReader, Picture, Request
from liveassist.settings import layered

QUAY = """
title = Quay
key = D
tempo = quarter 160
feel = straight eighths

== Verse ==
| D | G | A | D |

== Ending ==
| G | A | D |]
"""
CONSOLE = """
[divisions.melody]
port = "console"
channel = 1

[divisions.figure]
port = "console"
channel = 2

[divisions.pedal]
port = "console"
channel = 4

[parts.figure]
port = "organ"
channel = 2

[[switches]]
what = "cut"
port = "console"
channel = 4
program = 9
"""
DOWN, UP = 0x93, 0x83
D, G, A = 38, 43, 45
STATES: dict[str, tuple[dict[str, Any], tuple[str | int, ...]]] = {
    "tacet": ({"armed": False}, ()),
    "ready": ({"armed": True}, ()),
    "count-in": ({"armed": False, "count_in": 2}, ("count",)),
    "playing": ({"armed": True}, (D,)),
    "vamping": ({"armed": True}, (D, "vamp")),
    "holding": ({"armed": True}, (D, "hold")),
    "ending": ({"armed": True, "from_bar": 4}, (G,)),
    "fine": ({"armed": True}, (D, "cut")),
}
"""How the band is brought to each of its states: settings, then nods (words) and feet (keys)."""


WITHIN = 10.0
"""Seconds in which music must be back."""


@dataclass
class Hall:
    """A console, an organ, and a band between them."""

    console: Any
    organ: Any
    ensemble: Ensemble
    spec: BandSpec
    until: Callable[..., None]
    pictures: list[Picture] = field(default_factory=list)
    reader: LinkReader | None = None

    def begin(self, spec: BandSpec | None = None) -> None:
        self.spec = spec or self.spec
        self.reader = LinkReader(self.ensemble.start(self.spec), self.spec.token)
        self.until(lambda: self.seen(lambda picture: picture.ports and all(port.well for port in picture.ports)))

    def seen(self, true: Callable[[Picture], object]) -> bool:
        """Whether a picture shows it; looks at the newest."""
        assert self.reader is not None
        picture = self.reader.read()
        if picture is not None:
            self.pictures.append(picture)
        return bool(self.pictures) and bool(true(self.pictures[-1]))

    def show(self, true: Callable[[Picture], object]) -> None:
        self.until(lambda: self.seen(true))

    def statuses(self) -> list[int]:
        """The status bytes that came to the organ."""
        return [message[0] for _, message in self.organ.heard]

    def ask(self, name: str) -> None:
        """Give a nod, once the band can be asked: a busy machine may have made it hang up on us."""

        def given() -> bool:
            self.seen(lambda _: True)
            return self.reader is not None and self.reader.send(Request(ask="nod", name=name))

        self.until(given)

    def bring_to(self, state: str) -> None:
        """Begin a band and bring it to a state, its chord sounding where it has one."""
        settings, asked = STATES[state]
        self.begin(replace(self.spec, settings={**self.spec.settings, **settings}))
        for what in asked:
            if isinstance(what, str):
                self.ask(what)
            else:
                self.console.play(DOWN, what, 64)
                self.until(lambda: self.organ.sounding)
        self.show(lambda picture: picture.state == state)

    def told(self, text: str) -> bool:
        """Whether the newest picture tells something."""
        return self.seen(lambda picture: any(text in line.text for line in picture.heard))

    def attacks(self) -> int:
        """How many keys have been pressed."""
        return sum(message[0] & 0xF0 == 0x90 and message[2] > 0 for _, message in self.organ.heard)

    def pid(self) -> int:
        """The band's process."""
        found: list[int] = []

        def told() -> bool:
            news = self.ensemble.news()
            if news is not None and news["kind"] == "band":
                found.append(news["pid"])
            return bool(found)

        self.until(told)
        return found[-1]

    def ended(self) -> str:
        """Wait for the guardian's word that the band has gone: why."""
        found: list[str] = []

        def told() -> bool:
            news = self.ensemble.news()
            if news is not None and news["kind"] == "ended":
                found.append(news["why"])
            return bool(found)

        self.until(told)
        return found[-1]


@contextmanager
def open_hall(
    console: Any, organ: Any, until: Callable[..., None], folder: Path, profile_text: str = CONSOLE
) -> Iterator[Hall]:
    """A hall; in the end the band is ended and the organ must be silent."""
    profile = read_profile(profile_text)
    lasting = layered(("here", {"patience": "always"}))
    song = Session(chart=read_chart(QUAY, "quay.chart"), profile=profile, layered=lasting)
    with Ensemble(profile) as ensemble:
        spec = band_spec(song, str(folder / "quay.jsonl"), ensemble.letter, "token")
        yield Hall(console, organ, ensemble, spec, until)
    until(lambda: not organ.sounding)


def installed(binding: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The band and its guardian take this binding."""
    if importlib.util.find_spec(MODULES[binding]) is None:  # to import it here would bind it to its own JACK library
        pytest.skip(f"{MODULES[binding]} is not installed")
    monkeypatch.setenv(WHICH, binding)


def comes_back(hall: Hall, before: int) -> None:
    """Wait until keys are pressed again; the goal is two seconds, on a machine that has nothing else to do."""
    since = time.monotonic()
    hall.until(lambda: hall.attacks() > before)
    assert time.monotonic() - since < WITHIN
