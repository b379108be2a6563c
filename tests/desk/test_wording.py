"""A picture in words."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.band.states import STATES
from liveassist.desk import wording
from liveassist.link import Heard, Picture, PortHealth, Step

AT_REST = Picture()


def test_an_underscore_tells_how_long_it_has_gone_on() -> None:
    assert wording.asked(Picture(underscore=125)) == "underscore 2:05, until 'on'"
    both = wording.asked(Picture(underscore=9, asked=("key up 1",)))
    assert both == "underscore 0:09, until 'on'  ·  at the bar line: key up 1"


def test_every_state_has_a_sign_of_its_own() -> None:
    assert set(wording.SIGNS) == set(STATES)
    assert len(set(wording.SIGNS.values())) == len(STATES)
    assert all(len(sign) == 1 for sign in wording.SIGNS.values())


def test_a_state_from_a_newer_band_is_still_shown() -> None:
    assert "bowing" in wording.state(Picture(state="bowing"))


# English ordinals: 11th to 13th are the exceptions. From memory.
@pytest.mark.parametrize(
    ("number", "said"),
    [
        (1, "1st"),
        (2, "2nd"),
        (3, "3rd"),
        (4, "4th"),
        (11, "11th"),
        (12, "12th"),
        (13, "13th"),
        (21, "21st"),
        (112, "112th"),
    ],
)
def test_ordinals(number: int, said: str) -> None:
    assert wording.ordinal(number) == said


@pytest.mark.parametrize(
    ("section", "pass_", "bar", "said"),
    [
        ("Chorus", 1, 3, "Chorus, bar 3 of 8"),
        ("Chorus", 2, 3, "Chorus, 2nd time, bar 3 of 8"),
        ("Verse 1", 1, 0, "Verse 1, pickup"),
        ("", 1, 1, ""),
    ],
)
def test_the_place(section: str, pass_: int, bar: int, said: str) -> None:
    assert wording.place(Picture(section=section, pass_=pass_, bar=bar, bars=8)) == said


@pytest.mark.parametrize(
    ("beats", "said"),
    [
        (None, "next   pedal A"),
        (4.0, "next, in 4 beats   pedal A"),
        (2.01, "next, in 2 beats   pedal A"),
        (1.9, "next, in 2 beats   pedal A"),
        (1.0, "next, in 1 beat   pedal A"),
        (0.5, "next, in 1 beat   pedal A"),
        (0.1, "next, now   pedal A"),
        (-0.3, "next, now   pedal A"),
    ],
)
def test_what_comes_and_when(beats: float | None, said: str) -> None:
    assert wording.coming(Picture(section="Verse", next_chord="A7", next_pedal="A", next_in=beats)) == said


def test_no_chord_comes_after_the_last() -> None:
    assert wording.coming(Picture(section="Ending")) == "next: the end"
    assert wording.coming(AT_REST) == ""


def test_no_pedal_is_named_before_no_chord() -> None:
    assert wording.coming(Picture(next_chord="N.C.", next_in=1.0)) == "next, in 1 beat"


def test_the_tempo_names_the_charts_own_only_where_it_differs() -> None:
    assert wording.tempo(Picture(bpm=91.7, home_bpm=92)) == "92 bpm"
    assert wording.tempo(Picture(bpm=84.2, home_bpm=92)) == "84 bpm (chart 92)"
    assert wording.tempo(AT_REST) == ""


def test_the_present_beat_is_the_filled_box() -> None:
    rows = wording.beat_boxes(4, 3, 24, 4).split("\n")
    assert len(rows) == 3
    assert rows[1].replace("█" * 5, "F").split() == ["│", "1", "│", "│", "2", "│", "F", "│", "4", "│"]


def test_no_box_is_filled_while_nothing_moves() -> None:
    assert "█" not in wording.beat_boxes(4, 0, 24, 4)


@pytest.mark.parametrize("beats", [2, 3, 4, 5, 6, 7, 12])
@pytest.mark.parametrize("room", [(24, 4), (60, 9), (24, 1), (30, 3)])
def test_beats_of_every_meter_fit(beats: int, room: tuple[int, int]) -> None:
    rows = wording.beat_boxes(beats, beats, *room).split("\n")
    assert len(rows) <= room[1]
    assert all(len(row) <= room[0] for row in rows)
    assert any(filled in rows[-1] for filled in "█■")


def test_what_stands_is_told_in_words() -> None:
    said = wording.standing(
        Picture(
            state="playing", lead="click", time_lead="click", place_lead="feet", fullness=1, lift=-1, out=True, sure=0.3
        )
    )
    assert (
        said
        == "time click, place feet  ·  fullness ▮▯▯▯ 1  ·  key down 1 half step  ·  figure OUT  ·  UNSURE of the place"
    )


def test_certainty_is_not_mentioned_when_all_is_well_or_nothing_plays() -> None:
    assert "sure" not in wording.standing(Picture(state="playing", sure=0.95))
    assert "sure" not in wording.standing(Picture(state="ready", sure=0.0))


def test_a_sick_port_comes_first_with_its_story() -> None:
    ports = (
        PortHealth(role="Pedal", name="a", well=True, text="open"),
        PortHealth(role="Switch", name="b", well=False, text="gone, looking for it"),
    )
    assert wording.ports(Picture(ports=ports)) == "! Switch: gone, looking for it   ● Pedal"


def test_the_last_lines_heard_with_the_latest_at_the_bottom() -> None:
    lines = tuple(Heard(at=float(at), text=f"line {at}", kind="caution" if at == 75 else "heard") for at in (5, 61, 75))
    assert wording.heard(Picture(heard=lines), 2).split("\n") == ["  1:01  line 61", "! 1:15  line 75"]
    assert wording.heard(Picture(heard=lines), 0) == ""


@pytest.mark.parametrize(
    ("current", "shown"), [(0, [0, 1, 2, 3]), (1, [0, 1, 2, 3]), (5, [4, 5, 6, 7]), (9, [6, 7, 8, 9])]
)
def test_the_roadmap_shows_where_we_are_and_more_of_what_comes(current: int, shown: list[int]) -> None:
    assert list(wording.window(10, current, 4)) == shown


def test_a_short_roadmap_is_shown_whole() -> None:
    assert list(wording.window(3, 2, 8)) == [0, 1, 2]
    assert list(wording.window(0, 0, 8)) == []


def test_the_current_step_has_a_sign_and_stands_out() -> None:
    steps = (Step(name="Verse"), Step(name="Chorus", note="fuller"))
    assert wording.roadmap(steps, 1, 8) == [("   1 Verse", False), ("►  2 Chorus  fuller", True)]
    assert wording.roadmap(steps, 1, 8, chosen=0) == [("»  1 Verse", True), ("►  2 Chorus  fuller", False)]


def test_asked_nods_wait_for_the_bar_line() -> None:
    assert wording.asked(replace(AT_REST, asked=("again", "up"))) == "at the bar line: again, up"
    assert wording.asked(AT_REST) == ""


def test_asked_nods_wait_for_the_end_of_a_hold() -> None:
    held = replace(AT_REST, state="holding", asked=("key up 1",))
    assert wording.asked(held) == "after the hold, at the bar line: key up 1"


@pytest.mark.parametrize(
    ("feet", "columns", "shown"),
    [
        ((), 40, "early ───────┼─────── late"),
        ((12,), 40, "early ───────┼●────── late  12 ms late"),
        ((-50, 3), 40, "early ───○───●─────── late  on the beat"),
        ((400, -400), 40, "early ●──────┼──────○ late  400 ms early"),
        ((12,), 20, "feet: 12 ms late"),
    ],
)
def test_feet_around_the_beat(feet, columns, shown):
    picture = Picture(rehearsing=True, feet=feet)
    line = wording.feet(picture, columns)
    assert line == shown
    assert len(line) <= columns
    assert wording.feet(replace(picture, rehearsing=False), columns) == ""


def test_a_muted_click_is_told() -> None:
    assert "click MUTED" in wording.standing(Picture(state="playing", muted=True))
    assert "click" not in wording.standing(Picture(state="playing"))


@pytest.mark.parametrize(
    ("lines", "rows", "said"),
    [
        ((), 1, ""),
        ((" Lamps along ", ""), 2, "Lamps along"),
        (("one", "two"), 1, "one  two"),
        (("one", "two"), 2, "one\ntwo"),
        (("one", "two", "three", "four"), 3, "one\ntwo\nthree  four"),
    ],
)
def test_verses_stand_one_below_the_other_as_far_as_there_is_room(lines, rows, said) -> None:
    assert wording.words(lines, rows) == said


@pytest.mark.parametrize(
    ("now", "coming", "rows", "each"),
    [
        (0, 0, 4, (1, 1)),
        (1, 1, 4, (1, 1)),
        (2, 2, 4, (2, 2)),
        (2, 2, 3, (2, 1)),
        (4, 4, 4, (3, 1)),
        (4, 4, 9, (4, 4)),
        (1, 4, 4, (1, 3)),
        (2, 2, -2, (1, 1)),
    ],
)
def test_words_now_come_before_those_to_come(now: int, coming: int, rows: int, each: tuple[int, int]) -> None:
    assert wording.word_rows(("la",) * now, ("lu",) * coming, rows) == each
