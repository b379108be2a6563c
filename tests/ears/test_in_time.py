"""Notes in seconds: where they begin, how long they stay in holds and before breaths, and what an excerpt takes."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

from charts.notation import read_chart, read_chart_file
from charts.roadmap import unfold
from charts.route import Route
from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import Note
from liveassist.arranging.clock import written_time
from liveassist.ears.in_time import BEFORE, Excerpt, click_line, excerpt, in_time, lines
from liveassist.ears.tone import Played
from liveassist.errors import PlayerError

DEMO = sorted((Path(__file__).parents[2] / "demo_charts").glob("*.chart"))


def route_of(bars: str, *, sections: str = "", roadmap: str = "") -> Route:
    head = "title = Hourglass\nkey = C\nmeter = 4/4\ntempo = quarter 60\n\n"
    return unfold(read_chart(f"{head}{roadmap}== Verse ==\n{bars}\n{sections}"))


def note(position: float, length: float, pitch: int = 0, part: str = "figure") -> Note:
    """Without a pitch, each sixteenth of a bar has a key of its own."""
    return Note(
        part=part,
        pitch=pitch or 60 + round(position * 4) % 16,
        position=Fraction(position),
        length=Fraction(length),
        change=0,
        fullness=2,
    )


def played(route: Route, *notes: Note, heard: Excerpt | None = None) -> list[tuple[float, float]]:
    """When each note is pressed and let go, in seconds from the beginning of the music."""
    found = in_time(route, notes, written_time(route), heard or Excerpt(Fraction(0), route.length))
    return [(round(each.on - BEFORE, 4), round(each.off - BEFORE, 4)) for each in found]


def test_notes_fall_where_the_tempo_puts_them():
    route = route_of("| C | F |]")
    assert played(route, note(0, 1), note(1.5, 0.5), note(4, 2)) == [(0, 1), (1.5, 2), (4, 6)]


def test_a_tempo_change_moves_what_comes_after():
    route = route_of("| C |", sections="== Chorus ==\ntempo = quarter 120\n| F |\n")
    assert played(route, note(3, 1), note(4, 1), note(7, 1)) == [(3, 4), (4, 4.5), (5.5, 6)]


def test_what_ends_at_a_breath_is_let_go_before_it():
    assert played(route_of("| C (breath) | F |]"), note(0, 4), note(4, 4)) == [(0, 4), (4.5, 8.5)]


@pytest.mark.parametrize(
    ("notes", "times"),
    [
        ([note(0, 4), note(4, 4, 62)], [(0, 6), (6, 10)]),
        ([note(0, 3.5), note(4, 4)], [(0, 5.5), (6, 10)]),
        ([note(0, 3), note(4, 4)], [(0, 3), (6, 10)]),
        ([note(2, 1), note(3, 0.75), note(4, 4)], [(2, 3), (3, 5.75), (6, 10)]),
        ([note(3, 0.5), note(3.5, 0.4, 64), note(4, 4)], [(3, 3.5), (3.5, 5.9), (6, 10)]),
        ([note(0, 3.5, 60), note(0, 3.5, 64), note(4, 4)], [(0, 5.5), (0, 5.5), (6, 10)]),
    ],
    ids=["to the end", "a gap after it", "a rest before it", "the last of two", "the last of the last beat", "a chord"],
)
def test_the_last_notes_of_a_hold_stay_down_through_it(notes, times):
    assert played(route_of("| C (hold) | F |]"), *notes) == times


@pytest.mark.parametrize(
    ("notes", "times"),
    [
        ([note(0, 1, 60), note(1, 1, 60)], [(0, 0.95), (1, 2)]),
        ([note(0, 0.5, 60), note(1, 1, 60)], [(0, 0.5), (1, 2)]),
        ([note(0, 1, 60), note(1, 1, 62)], [(0, 1), (1, 2)]),
        ([note(0, 1, 60), note(1, 1, 60, "melody")], [(0, 1), (1, 2)]),
        ([note(0, 0.0625, 60), note(0.0625, 1, 60)], [(0, 0.0312), (0.0625, 1.0625)]),
    ],
    ids=["legato", "detached", "another key", "another part", "very fast"],
)
def test_a_key_comes_up_before_it_is_struck_again(notes, times):
    # 50 ms, as the touch of the figure gives to any action.
    assert played(route_of("| C |]"), *notes) == times


def test_parts_are_held_each_for_itself():
    route = route_of("| C (hold) | F |]")
    tune, figure = note(3, 1, 72, "melody"), note(0, 4, 60, "figure")
    assert played(route, tune, figure) == [(0, 6), (3, 6)]


@pytest.mark.parametrize("path", DEMO, ids=[path.stem for path in DEMO])
def test_every_demo_chart_sounds_from_its_first_bar_to_its_last(path):
    route = unfold(read_chart_file(path))
    clock = written_time(route)
    parts = lines(arrange(route), 2)
    found = in_time(route, (each for part in parts.values() for each in part), clock, excerpt(route))
    assert all(each.off > each.on >= BEFORE for each in found)
    assert max(each.off for each in found) == pytest.approx(clock.until(route.length) + BEFORE, abs=2.0)
    assert {"figure", "bass"} <= set(parts)
    for part in ("melody", "bass"):  # one voice each
        voice = [each for each in found if each.part == part]
        assert all(later.on >= sooner.off - 1e-9 for sooner, later in pairwise(voice))


def test_the_pedal_plays_the_written_basses_and_rests_where_only_the_manuals_play():
    roadmap = "== Roadmap ==\nVerse\nVerse manuals only\n\n"
    route = route_of("| C | G/B | N.C. | F |]", roadmap=roadmap)
    bass = lines(arrange(route), 2)["bass"]
    assert [each.pitch % 12 for each in bass] == [0, 11, 5]
    assert [each.position for each in bass] == [0, 4, 12]


def test_a_lift_lifts_tune_and_pedal():
    route = unfold(read_chart("title = T\nkey = C\nmeter = 4/4\n\n== V ==\n| C | G |]\nmelody = C8 | D8 |\n"))
    written, lifted = lines(arrange(route), 2), lines(arrange(route, lift=2), 2)
    assert [each.pitch for each in lifted["melody"]] == [each.pitch + 2 for each in written["melody"]]
    assert [each.pitch % 12 for each in lifted["bass"]] == [2, 9]


def test_a_click_on_each_counted_beat_the_first_of_the_bar_higher():
    # General MIDI percussion map: 76 High Wood Block, 77 Low Wood Block.
    ticks = click_line(route_of("| C | F |]"))
    assert [each.pitch for each in ticks] == [76, 77, 77, 77] * 2
    assert [each.position for each in ticks] == list(range(8))


# -- excerpts -------------------------------------------------------------------------------------------------------

THREE = {"sections": "== Chorus ==\n| F | G |\n== Ending ==\n| C |]\n"}


@pytest.mark.parametrize(
    ("asked", "bars"),
    [
        ({}, (0, 5)),
        ({"from_bar": 2}, (1, 5)),
        ({"from_bar": 2, "bars": 2}, (1, 3)),
        ({"bars": 99}, (0, 5)),
        ({"section": "Chorus"}, (2, 4)),
        ({"section": "  chorus "}, (2, 4)),
        ({"section": "Chorus", "bars": 1}, (2, 3)),
        ({"section": "Chorus", "bars": 3}, (2, 5)),
    ],
    ids=["all", "from a bar", "so many", "more than there are", "a section", "in small letters", "its start", "and on"],
)
def test_what_an_excerpt_takes(asked, bars):
    heard = excerpt(route_of("| C | C |", **THREE), **asked)
    assert (heard.start, heard.end) == (bars[0] * 4, bars[1] * 4)


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"section": "Bridge"}, 'no section "Bridge" in the order of playing; there are: Verse, Chorus, Ending'),
        ({"from_bar": 6}, "no bar 6; as it is played, Hourglass has bars 1 to 5"),
        ({"from_bar": 0}, "no bar 0"),
        ({"bars": -2}, "-2 bars"),
    ],
)
def test_an_excerpt_that_is_not_there_is_told_what_there_is(asked, says):
    with pytest.raises(PlayerError, match=says):
        excerpt(route_of("| C | C |", **THREE), **asked)


def test_an_excerpt_begins_at_once_and_cuts_what_crosses_its_ends():
    route = route_of("| C | F | G |]")
    heard = Excerpt(Fraction(4), Fraction(8))
    assert played(route, note(0, 3), note(3, 2), note(6, 1), note(7, 3), note(8, 1), heard=heard) == [
        (0, 1),
        (2, 3),
        (3, 4),
    ]


def test_notes_come_in_order():
    route = route_of("| C |]")
    found = in_time(route, [note(2, 1, 60), note(0, 1, 64), note(0, 1, 60)], written_time(route), excerpt(route))
    assert [(each.key, each.on) for each in found] == [(60, BEFORE), (64, BEFORE), (60, BEFORE + 2)]
    assert isinstance(found[0], Played)
