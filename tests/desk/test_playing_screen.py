"""The playing screen: what is shown, from the smallest terminal to a large one."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.desk.letters import block
from liveassist.desk.playing import Plate
from liveassist.link import Picture, Step

SEEN = [
    "Lanterns on the Quay  ·  D  ·  4/4",
    "► playing",
    "next, in 2 beats   pedal A",
    "92 bpm",
    "Chorus, 2nd time, bar 3 of 8",
    "at the bar line: again",
    "Lamps along the water, one by one",
    "carry every boat that will not come again",
    "►  5 Chorus  twice",
    "! 1:23  the Swell has gone silent",
    "lead feet  ·  fullness ▮▮▮▯ 3  ·  key up 2 half steps",
    "! Figure manual: gone, looking for it   ● Pedal",
    "? help",
]


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (160, 50)])
async def test_everything_is_on_the_screen(desk, size: tuple[int, int]) -> None:
    async with desk(size) as running:
        text = running.text()
        assert [seen for seen in SEEN if seen not in text] == []
        for symbol, columns, rows in (("G/B", 53, 7), ("B", 24, 7)):
            if size == (80, 24):
                assert all(line in text for line in block(symbol, columns, rows).split("\n"))


VERSES = ("Lamps along the water, burning low and clear for us", "Ropes along the harbour wall, heavy with the rain")
COMING = (
    "swing and turn to gold before the morning finds us here",
    "creak and hold the boats at home until the wind has gone",
)


@pytest.mark.parametrize("rehearsing", [False, True])
@pytest.mark.parametrize("size", [(80, 24), (100, 30), (160, 50)])
async def test_two_verses_stand_one_below_the_other(
    desk, mid_song: Picture, size: tuple[int, int], rehearsing: bool
) -> None:
    there, heard = [*VERSES, *(line[:50] for line in COMING)], "! 1:23  the Swell has gone silent"

    def rows(*lines: str) -> list[int]:
        text = running.text().split("\n")
        return [place for line in lines for place, row in enumerate(text) if line in row]

    async with desk(size) as running:
        await running.show(replace(mid_song, words=VERSES, next_words=COMING, rehearsing=rehearsing, feet=(12,)))
        await running.until(lambda: len(rows(*there, heard)) == 5)
        assert rows(*there) == [*range(rows(VERSES[0])[0], rows(VERSES[0])[0] + 4)]
        await running.show(mid_song)  # a line with one verse again
        await running.until(lambda: len(rows("passing note A", heard)) == 2)


async def test_a_larger_terminal_gets_larger_letters(desk) -> None:
    heights = []
    for size in ((80, 24), (120, 36), (200, 60)):
        async with desk(size) as running:
            heights.append(len(running.app.screen.query_one("#chord", Plate).shown.split("\n")))
    assert heights == sorted(set(heights))


@pytest.mark.parametrize("name", ["B♭(add9)", "[/]", "F♯m7♭5/C♯", "[bold]", "N.C.", "C\\[/", "[@click=app.quit]x[/]"])
async def test_chord_names_and_words_are_never_markup(desk, mid_song: Picture, name: str) -> None:
    picture = replace(
        mid_song,
        chord=name,
        next_chord=name,
        title=name,
        words=(name,),
        section=name,
        roadmap=(Step(name=name),),
        step=0,
    )
    async with desk(picture=picture) as running:
        text = running.text()
        assert text.count(name) >= 4
        drawn = block(name, 53, 7).split("\n")
        assert all(line.rstrip() in text for line in drawn)


async def test_the_state_changes_with_its_sign(desk, mid_song: Picture) -> None:
    async with desk() as running:
        await running.show(replace(mid_song, state="vamping"))
        assert "↻ vamping" in running.text()
        assert "► playing" not in running.text()


async def test_before_the_first_picture_the_desk_waits(desk) -> None:
    async with desk(picture=None) as running:
        await running.until(lambda: "Waiting for the band" in running.text())


async def test_an_empty_picture_is_no_trouble(desk) -> None:
    async with desk(picture=Picture()) as running:
        assert "○ tacet" in running.text()


async def test_only_plates_that_changed_are_written(desk, mid_song: Picture, monkeypatch: pytest.MonkeyPatch) -> None:
    async with desk() as running:
        written: list[str | None] = []
        update = Plate.update
        monkeypatch.setattr(Plate, "update", lambda plate, *a, **k: (written.append(plate.id), update(plate, *a, **k)))
        await running.show(replace(mid_song, at=83.3))
        assert written == []
        await running.show(replace(mid_song, beat=4))
        assert written == ["beats"]


async def test_at_most_twelve_pictures_a_second_are_drawn(desk, mid_song: Picture) -> None:
    async with desk() as running:
        app = running.app
        now = app._drawn
        running.band.publish(replace(mid_song, beat=1))
        app.look(now + 0.01)
        assert app.waiting_to_draw
        app.look(now + 1 / 12)
        assert not app.waiting_to_draw


async def test_light_and_dark(desk) -> None:
    async with desk() as running:
        dark = running.app.screen.styles.background
        await running.press("l")
        light = running.app.screen.styles.background
        assert light.brightness > 0.9
        assert dark.brightness < 0.1
        await running.press("l")
        assert running.app.screen.styles.background == dark


@pytest.mark.parametrize("size", [(79, 24), (80, 23), (40, 12), (20, 6), (1, 1)])
async def test_a_terminal_too_small_says_what_it_needs(desk, size: tuple[int, int]) -> None:
    async with desk(size) as running:
        if size[0] >= 40:
            text = " ".join(running.text().split())
            assert f"This terminal has {size[0]} columns and {size[1]} rows; the desk needs 80 and 24." in text
        await running.press("a")
        assert [request.name for request in running.requests()] == ["again"]


async def test_a_terminal_made_larger_shows_the_desk_again(desk) -> None:
    async with desk((60, 20)) as running:
        assert "This terminal has 60" in running.text()
        await running.pilot.resize_terminal(80, 24)
        await running.until(lambda: "This terminal has" not in running.text())
        await running.until(lambda: "Chorus, 2nd time, bar 3 of 8" in running.text())
        assert "This terminal has" not in running.text()


@pytest.mark.parametrize("size", [(80, 24), (100, 30), (160, 50)])
async def test_a_rehearsal_shows_the_feet_around_the_beat(desk, mid_song: Picture, size: tuple[int, int]) -> None:
    async with desk(size, picture=replace(mid_song, rehearsing=True, feet=(-20, 34))) as running:
        text = running.text()
        assert "34 ms late" in text
        assert [seen for seen in SEEN if seen not in text] == []
