"""Every nod has a key, no two share one, and the help is made from the same tables."""

from __future__ import annotations

from collections import Counter

import pytest

from liveassist.band.nods import NODS
from liveassist.desk import keys
from liveassist.desk.screens import help_pages
from liveassist.link import Picture, Request

KEYED = [nod for nod in NODS.values() if nod.key]
AT_ONCE = [nod for nod in KEYED if nod.name not in keys.FOLLOW_UPS]


def test_no_key_means_two_things() -> None:
    every = [key for nod in KEYED for key in keys.nod_keys(nod.key)]
    every += [key for row in keys.DESK_KEYS for key in row[0]]
    assert [key for key, times in Counter(every).items() if times > 1] == []


def test_every_nod_with_a_key_is_on_the_help_page() -> None:
    assert [key for key, _ in keys.nod_help()] == [nod.key for nod in KEYED]
    assert all(nod.says in says for nod, (_, says) in zip(KEYED, keys.nod_help(), strict=True))


def test_the_help_fits_eighty_columns_and_twenty_four_rows() -> None:
    assert max(len(says) for _, says in keys.nod_help()) <= 72
    assert all(len(page.splitlines()) <= 24 - 4 for page in help_pages()), "edge, heading and a row below it"


async def test_every_nod_key_sends_its_request(desk) -> None:
    async with desk() as running:
        for nod in AT_ONCE:
            await running.press(nod.key)
            assert running.requests() == [Request(ask="nod", name=nod.name)], nod.name


async def test_caps_lock_changes_nothing(desk) -> None:
    async with desk() as running:
        for nod in AT_ONCE:
            await running.press(nod.key.upper())
            assert running.requests() == [Request(ask="nod", name=nod.name)], nod.name


async def test_cut_goes_out_at_once_and_again_for_the_sweep(desk) -> None:
    async with desk() as running:
        await running.press("x", "x")
        assert running.requests() == [Request(ask="nod", name="cut")] * 2


@pytest.mark.parametrize("key", keys.CUE_KEYS)
async def test_every_page_turner_key_is_the_cue(desk, key: str) -> None:
    async with desk() as running:
        await running.press(key)
        assert running.requests() == [Request(ask="cue")]


async def test_a_page_turner_key_asks_what_the_console_says(desk) -> None:
    async with desk() as running:
        await running.show(Picture(page_turner=(("pageup", "again"),)))
        await running.press("pageup", "pagedown")
        assert running.requests() == [Request(ask="nod", name="again"), Request(ask="cue")]


@pytest.mark.parametrize("name", sorted(keys.FOLLOW_UPS))
@pytest.mark.parametrize("digit", [2, 4])
async def test_a_digit_says_how_many_bars(desk, name: str, digit: int) -> None:
    async with desk() as running:
        await running.press(NODS[name].key)
        assert running.requests() == []
        await running.until(lambda: "2 or 4 bars?" in running.text())
        await running.press(str(digit))
        assert running.requests() == [Request(ask="nod", name=name, argument=digit)]
        await running.press(str(digit))
        assert running.requests() == [], "a digit alone asks nothing"


async def test_the_same_key_again_takes_the_bars_as_marked(desk) -> None:
    async with desk() as running:
        await running.press("v", "v")
        assert running.requests() == [Request(ask="nod", name="vamp")]


async def test_a_vamp_without_a_digit_goes_out_by_itself(desk, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("liveassist.desk.app.FOLLOW_UP_WAIT", 0.01)
    async with desk() as running:
        await running.press("v")
        assert await running.until(running.requests) == [Request(ask="nod", name="vamp")]


async def test_another_nod_sends_the_waiting_one_first(desk) -> None:
    async with desk() as running:
        await running.press("v", "x")
        assert running.requests() == [Request(ask="nod", name="vamp"), Request(ask="nod", name="cut")]


@pytest.mark.parametrize("sheet", ["question_mark", "s", "m", "q"])
async def test_nods_and_cues_go_through_every_sheet(desk, sheet: str) -> None:
    async with desk() as running:
        await running.press(sheet, "a", "pagedown")
        assert running.requests() == [Request(ask="nod", name="again"), Request(ask="cue")]


async def test_a_desk_that_may_only_look_says_so(desk) -> None:
    async with desk() as running:
        running.app.reader.may_nod = False
        await running.press("a")
        assert running.requests() == []
        await running.until(lambda: "look only" in running.text())


async def test_what_the_band_did_not_take_is_said(desk) -> None:
    async with desk() as running:
        running.app.reader.notice = '"dance" is not a request'
        await running.until(lambda: '"dance" is not a request' in running.text())
