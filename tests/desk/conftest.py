"""A picture in the middle of a song, and a desk that shows it without sockets or a real band."""

from __future__ import annotations

import time
from collections.abc import AsyncIterator, Callable
from contextlib import asynccontextmanager
from dataclasses import dataclass
from typing import Any

import pytest
from textual.pilot import Pilot

from liveassist.desk.app import DeskApp
from liveassist.link import FakeBand, Heard, Picture, PortHealth, Request, Step
from tests.desk.resting import instead_of_idling

ROADMAP = (
    Step(name="Intro"),
    Step(name="Verse 1"),
    Step(name="Chorus"),
    Step(name="Verse 2"),
    Step(name="Chorus", note="twice"),
    Step(name="Bridge", note="manuals only"),
    Step(name="Chorus", note="up a tone, fuller"),
    Step(name="Ending", note="wait"),
)
MID_SONG = Picture(
    at=83.2,
    state="playing",
    title="Lanterns on the Quay",
    key="D",
    meter="4/4",
    chord="G/B",
    pedal="B",
    next_chord="A7sus4",
    next_pedal="A",
    next_in=2.0,
    section="Chorus",
    pass_=2,
    bar=3,
    bars=8,
    beat=3,
    roadmap=ROADMAP,
    step=4,
    bpm=91.7,
    home_bpm=92.0,
    heard=(
        Heard(at=76.0, text="passing note A", kind="heard"),
        Heard(at=79.0, text="again, at the end of the section", kind="note"),
        Heard(at=83.0, text="the Swell has gone silent", kind="caution"),
    ),
    ports=(
        PortHealth(role="Pedal", name="pedal out", well=True, text="open"),
        PortHealth(role="Figure manual", name="swell in", well=False, text="gone, looking for it"),
    ),
    words=("Lamps along the water, one by one",),
    next_words=("carry every boat that will not come again",),
    fullness=3,
    lift=2,
    asked=("again",),
    take="takes/lanterns.take",
    origins=(("lead", "feet", "chart"), ("patience", "1", "built-in")),
)


@dataclass
class Desk:
    """A running desk, its band, and what is to be seen."""

    app: DeskApp
    band: FakeBand
    pilot: Pilot[int]

    async def press(self, *keys: str) -> None:
        await self.pilot.press(*keys)
        await self.pilot.pause()

    async def until(self, question: Callable[[], Any], seconds: float = 30.0) -> Any:
        """Let the desk look again until the answer is something."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            if answer := question():
                return answer
            await self.pilot.pause(0.01)
        raise AssertionError(f"not seen within {seconds} s:\n{self.text()}")

    async def show(self, picture: Picture) -> None:
        """Publish a picture and wait until it is drawn."""
        self.band.publish(picture)
        await self.until(lambda: self.app.picture == picture and not self.app.waiting_to_draw)
        await self.pilot.pause()

    def requests(self) -> list[Request]:
        return self.band.requests()

    def text(self) -> str:
        """The characters on the screen, row by row."""
        strips = self.app.screen._compositor.render_strips(self.app.size)
        return "\n".join(strip.text.rstrip() for strip in strips)


@pytest.fixture(autouse=True)
def _resting(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever presses a key or pauses waits for a screen at rest."""
    for module in ("textual.app", "textual.pilot"):
        monkeypatch.setattr(f"{module}.wait_for_idle", instead_of_idling)


@pytest.fixture
def desk() -> Callable[..., Any]:
    """``async with desk(size=(80, 24)) as running:`` shows the picture in the middle of a song."""

    @asynccontextmanager
    async def opened(size: tuple[int, int] = (80, 24), picture: Picture | None = MID_SONG) -> AsyncIterator[Desk]:
        band = FakeBand()
        app = DeskApp(band.reader())
        async with app.run_test(size=size) as pilot:
            running = Desk(app, band, pilot)
            if picture is not None:
                await running.show(picture)
            yield running

    return opened


@pytest.fixture
def mid_song() -> Picture:
    return MID_SONG
