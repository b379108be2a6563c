"""The drummer's sheet: what it shows, and that it asks nothing of the band."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest
from textual.pilot import Pilot

from liveassist.band.nods import NODS
from liveassist.desk import wording
from liveassist.desk.drummer import GONE, WAITING, DrummerApp
from liveassist.desk.letters import block
from liveassist.link import FakeBand, FakeReader, Picture


def text(app: DrummerApp) -> str:
    strips = app.screen._compositor.render_strips(app.size)
    return "\n".join(strip.text.rstrip() for strip in strips)


async def shown(app: DrummerApp, pilot: Pilot[int], band: FakeBand, picture: Picture) -> str:
    band.publish(picture)
    app.look()
    await pilot.pause()
    return text(app)


@pytest.fixture
def playing(mid_song: Picture) -> Picture:
    return replace(mid_song, bars_left=6, next_section="Bridge", time_lead="drums")


@pytest.mark.parametrize("size", [(80, 24), (120, 40), (40, 16)])
async def test_section_bars_left_tempo_and_beat(playing, size):
    band = FakeBand()
    app = DrummerApp(band.reader)
    async with app.run_test(size=size) as pilot:
        app.look()
        seen = await shown(app, pilot, band, playing)
        assert "Chorus, 2nd time, bar 3 of 8" in seen
        assert "then Bridge" in seen
        assert "92 bpm" in seen
        large = app.query_one("#bars").content_size
        assert block("6", *large).splitlines()[0].rstrip() in seen


async def test_the_count_in_counts_from_one_whatever_the_bars(playing):
    said = [wording.beat_of(replace(playing, counting=left, beat=0, beats=4)) for left in (8, 7, 6, 5, 4, 3, 2, 1)]
    assert said == [1, 2, 3, 4, 1, 2, 3, 4]
    assert wording.beat_of(replace(playing, counting=0, beat=3)) == 3


async def test_before_a_band_plays_it_waits_and_then_shows_it(playing, monkeypatch):
    monkeypatch.setattr("liveassist.desk.drummer.FIND_AGAIN", 0.0)
    found: list[FakeReader] = []
    app = DrummerApp(lambda: found[0] if found else None)
    async with app.run_test(size=(80, 24)) as pilot:
        app.look()
        await pilot.pause()
        assert WAITING in text(app)
        band = FakeBand()
        found.append(band.reader())
        band.publish(playing)
        for _ in range(2):  # found, then read
            app.look()
        await pilot.pause()
        assert "then Bridge" in text(app)
        band.stop()
        found.clear()
        app.look()
        await pilot.pause()
        assert GONE in text(app)


async def test_no_key_of_the_desk_asks_anything(playing):
    band = FakeBand()
    app = DrummerApp(band.reader)
    keys = [nod.key for nod in NODS.values() if nod.key]
    async with app.run_test(size=(80, 24)) as pilot:
        app.look()
        await shown(app, pilot, band, playing)
        await pilot.press(*keys, "space", "pagedown", "pageup", "left", "right", "enter", "escape", "f1", "m", "s", "l")
        await pilot.pause()
        assert band.requests() == []
        assert app.is_running


async def test_q_leaves_the_sheet_and_asks_nothing(playing):
    band = FakeBand()
    app = DrummerApp(band.reader)
    async with app.run_test(size=(80, 24)) as pilot:
        await pilot.press("q")
        await pilot.pause()
    assert app.return_value == 0
    assert band.requests() == []


def leaves(say: Callable[[Picture], str], **said: object) -> str:
    return say(Picture(section="Verse", **said))  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("say", "said", "words"),
    [
        pytest.param(wording.then, {"bars_left": 3, "next_section": "Chorus"}, "then Chorus", id="then"),
        pytest.param(wording.then, {"bars_left": 3}, "then the end", id="end"),
        pytest.param(wording.then, {}, "begins with Verse", id="before"),
        pytest.param(wording.bars_left, {"bars_left": 1}, "last bar", id="last-bar"),
        pytest.param(wording.bars_left, {"bars_left": 2}, "bars left", id="bars-left"),
    ],
)
def test_its_words(say, said, words):
    assert leaves(say, **said) == words
