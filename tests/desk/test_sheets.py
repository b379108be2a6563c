"""Help, settings, roadmap; leaving asks first; what is said when the band is gone."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.band.nods import NODS
from liveassist.desk import EXIT_LEFT, EXIT_REFUSED, EXIT_RESTART
from liveassist.desk.playing import PlayingScreen
from liveassist.link import Picture, Request, Step


@pytest.mark.parametrize("key", ["question_mark", "f1"])
async def test_help_has_a_few_pages_and_goes_away(desk, key: str) -> None:
    async with desk() as running:
        await running.press(key)
        text = ""
        while not isinstance(running.app.screen, PlayingScreen):
            text += running.text()
            await running.press(key)
        assert all(f"{nod.name}: {nod.says}" in text for nod in NODS.values() if nod.key)
        assert "space, page keys" in text
        assert "↻   vamping" in text


async def test_settings_say_where_they_came_from(desk) -> None:
    async with desk() as running:
        await running.press("s")
        text = running.text()
        assert "patience   1       built-in" in text
        assert "takes/lanterns.take" in text
        await running.press("escape")
        assert isinstance(running.app.screen, PlayingScreen)


async def test_long_settings_can_be_read_to_the_end(desk, mid_song: Picture) -> None:
    origins = tuple((f"setting {number}", "1", "built-in") for number in range(40))
    async with desk(picture=replace(mid_song, origins=origins)) as running:
        await running.press("s")
        assert "setting 39" not in running.text()
        await running.press(*["down"] * 30)
        await running.until(lambda: "setting 39" in running.text())


async def test_one_sheet_takes_the_place_of_another(desk) -> None:
    async with desk() as running:
        await running.press("s", "m")
        assert "Go to" in running.text()
        await running.press("m")
        assert isinstance(running.app.screen, PlayingScreen)


@pytest.mark.parametrize(
    ("keys", "step"),
    [
        (("enter",), 5),
        (("down", "enter"), 6),
        (("up", "up", "enter"), 3),
        (("2", "enter"), 1),
        (("9", "8", "enter"), 7),
        (("down",) * 20 + ("enter",), 7),
    ],
)
async def test_the_roadmap_sends_the_band_to_a_step(desk, keys: tuple[str, ...], step: int) -> None:
    async with desk() as running:
        await running.press("m", *keys)
        assert running.requests() == [Request(ask="nod", name="to", argument=step)]
        assert isinstance(running.app.screen, PlayingScreen)


async def test_step_twelve_is_a_one_and_a_two(desk, mid_song: Picture) -> None:
    steps = tuple(Step(name=f"Verse {number}") for number in range(1, 31))
    async with desk(picture=replace(mid_song, roadmap=steps, step=0)) as running:
        await running.press("m", "1", "2")
        assert "» 12 Verse 12" in running.text()
        await running.press("enter")
        assert running.requests() == [Request(ask="nod", name="to", argument=11)]


async def test_escape_stays_where_we_are(desk) -> None:
    async with desk() as running:
        await running.press("m", "down", "escape")
        assert running.requests() == []


async def test_without_a_roadmap_there_is_nowhere_to_go(desk) -> None:
    async with desk(picture=Picture()) as running:
        await running.press("m")
        assert "no roadmap" in running.text()
        await running.press("down", "enter")
        assert running.requests() == []


# --- leaving


@pytest.mark.parametrize("key", ["q", "Q", "ctrl+q", "ctrl+c"])
async def test_leaving_asks_first(desk, key: str) -> None:
    async with desk() as running:
        await running.press(key)
        assert "The band is playing. Leave?" in running.text()
        assert running.app.is_running
        await running.press("n")
        assert isinstance(running.app.screen, PlayingScreen)
        assert running.requests() == []


@pytest.mark.parametrize("first", ["q", "ctrl+c"])
@pytest.mark.parametrize("again", ["ctrl+c", "ctrl+q"])
async def test_ctrl_c_at_the_question_leaves(desk, first: str, again: str) -> None:
    async with desk() as running:
        await running.press(first, again)
        assert running.requests() == [Request(ask="leave")]
    assert running.app.return_value == EXIT_LEFT


async def test_a_q_that_bounces_neither_leaves_nor_stays(desk) -> None:
    async with desk() as running:
        await running.press("q", "q", "Q")
        assert "The band is playing. Leave?" in running.text()
        assert running.requests() == []
        await running.press("n")
        assert isinstance(running.app.screen, PlayingScreen)


async def test_the_question_can_be_read_in_a_small_window(desk) -> None:
    async with desk(size=(40, 10)) as running:
        await running.press("q")
        words = " ".join(running.text().replace("█", " ").split())
        assert "The band is playing. Leave? The music will stop." in words
        assert "n stay" in words


async def test_yes_leaves_and_asks_the_band_to_end(desk) -> None:
    async with desk() as running:
        await running.press("q", "y")
        assert running.requests() == [Request(ask="leave")]
    assert running.app.return_value == EXIT_LEFT


async def test_y_alone_leaves_nothing(desk) -> None:
    async with desk() as running:
        await running.press("y", "Y", "enter", "escape")
        assert running.app.is_running
        assert running.requests() == []


async def test_a_looking_desk_leaves_without_the_band(desk) -> None:
    async with desk() as running:
        running.app.reader.may_nod = False
        await running.press("q")
        assert "The band plays on" in running.text()
        await running.press("y")
        assert running.requests() == []
    assert running.app.return_value == EXIT_LEFT


# --- the band gone


async def lose(running, *, goodbye: bool = False) -> str:
    running.band.stop(goodbye=goodbye)
    await running.until(lambda: "Press R" in running.text())
    return running.text()


@pytest.mark.parametrize(
    ("key", "code"), [("r", EXIT_RESTART), ("R", EXIT_RESTART), ("q", EXIT_LEFT), ("ctrl+c", EXIT_LEFT)]
)
async def test_a_lost_band_can_be_started_again_or_left(desk, key: str, code: int) -> None:
    async with desk() as running:
        text = await lose(running)
        assert "The band has stopped; the organ has been silenced." in text
        await running.press("escape", "a", "space", "m")
        assert "Press R" in running.text()
        await running.press(key)
    assert running.app.return_value == code
    assert running.requests() == []


async def test_the_loss_is_told_above_every_other_sheet(desk) -> None:
    async with desk() as running:
        await running.press("question_mark")
        await lose(running)


async def test_a_band_that_said_goodbye_did_not_crash(desk) -> None:
    async with desk() as running:
        text = await lose(running, goodbye=True)
        assert "The band has ended." in text
        assert "silenced" not in text


@pytest.mark.parametrize(("key", "code"), [("r", EXIT_RESTART), ("q", EXIT_LEFT)])
async def test_a_band_that_died_before_its_first_picture_is_told(desk, key: str, code: int) -> None:
    async with desk(picture=None) as running:
        assert "The band has stopped before it began" in await lose(running)
        await running.press(key)
    assert running.app.return_value == code


async def test_a_band_that_answers_again_is_shown_again(desk) -> None:
    async with desk() as running:
        await lose(running)
        running.band.come_back()
        await running.until(lambda: isinstance(running.app.screen, PlayingScreen))


async def test_a_desk_that_is_not_let_in_says_why(desk) -> None:
    async with desk(picture=None) as running:
        running.app.reader.refused = "the token is not this band's"
        await running.until(lambda: "the token is not this band's" in running.text())
        await running.press("q")
    assert running.app.return_value == EXIT_REFUSED
