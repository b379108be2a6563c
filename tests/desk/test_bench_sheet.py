"""The sheet of the bench check: what is asked, what was found, and what the keys answer."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.desk.playing import PlayingScreen
from liveassist.link import Picture, Request


def bench(name: str) -> Request:
    return Request(ask="bench", name=name)


async def test_it_begins_when_it_is_brought_and_ends_when_it_is_put_away(desk) -> None:
    async with desk() as running:
        await running.press("b")
        assert running.requests() == [bench("begin")]
        await running.press("escape")
        await running.until(lambda: isinstance(running.app.screen, PlayingScreen))
        assert running.requests() == [bench("end")]


@pytest.mark.parametrize(("key", "word"), [("y", "yes"), ("n", "no"), ("N", "no"), ("enter", "pass")])
async def test_the_keys_answer(desk, key: str, word: str) -> None:
    async with desk() as running:
        await running.press("b", key)
        assert running.requests() == [bench("begin"), bench(word)]


async def test_it_shows_what_is_asked_and_what_was_found(desk, mid_song: Picture) -> None:
    async with desk() as running:
        await running.press("b")
        found = ("well        pedal: heard, key 36", "wrong       tune: not heard")
        await running.show(replace(mid_song, bench=found, bench_asks="Press the switch that asks for 'again'"))
        text = running.text()
        assert "Press the switch that asks for 'again'" in text
        assert all(line in text for line in found)
        await running.show(replace(mid_song, bench=found, bench_asks=""))
        assert "Done." in running.text()


async def test_in_the_middle_of_a_song_it_says_why_nothing_is_asked(desk, mid_song: Picture) -> None:
    async with desk(picture=mid_song) as running:
        await running.press("b")
        await running.until(lambda: "Not while the band plays" in running.text())


async def test_another_sheet_in_its_place_ends_it(desk) -> None:
    async with desk() as running:
        await running.press("b", "s")
        await running.until(lambda: bench("end") in running.requests())


async def test_a_check_that_another_desk_left_open_is_told(desk, mid_song: Picture) -> None:
    async with desk(picture=replace(mid_song, bench_asks="Play any pedal")) as running:
        await running.until(lambda: "the band deaf: b" in running.text())
