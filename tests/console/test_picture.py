"""What the desk is shown, from a view of the band."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from liveassist.band.view import View
from liveassist.console.picture import Around, Painter
from liveassist.link import Heard, PortHealth, Step
from liveassist.settings import layered

QUAY = """
title = Quay
key = D
meter = 6/8
tempo = dotted quarter 60
pickup = 1/8

== Roadmap ==
Verse
Chorus   twice
Bridge   manuals only, wait
Chorus   up a tone, fuller
Ending   rit.

== Verse ==
| D |
| D | Bm7 |
  Lamps along the water
| G | A/C# |
  swing and turn to gold

== Chorus ==
|: G | A :| x2
  Sing it out

== Bridge ==
| Em | N.C. |

== Ending ==
| A | D |]
"""


@pytest.fixture(scope="module")
def route() -> Route:
    return unfold(read_chart(QUAY))


def test_an_underscore_shows_its_step_and_whole_seconds() -> None:
    text = "key = D\n== Roadmap ==\nA underscore\nA underscore, feel ballad\n== A ==\n| D |\n"
    route = unfold(read_chart(text))
    picture = Painter(route, layered()).picture(view(route, 0, 1, next_change=1, underscore=65.9), Around())
    assert picture.underscore == 65
    assert [step.note for step in picture.roadmap] == ["underscore", "underscore, feel ballad"]
    assert Painter(route, layered()).picture(view(route, 0, 1), Around()).underscore is None


def bar_of(route: Route, step: int, number: int) -> int:
    return next(bar.index for bar in route.bars if (bar.step, bar.number) == (step, number))


def view(route: Route, step: int, number: int, **more: Any) -> View:
    """The band at the first change of a bar."""
    bar = route.bars[bar_of(route, step, number)]
    change = bar.changes[0]
    base = View(
        **{"at": 12.5, "state": "playing", "change": change, "next_change": change + 1, "next_in": 1.5},
        **{"bar": bar.index, "beat": 2.25, "position": Fraction(0), "bpm": 61.0, "home_bpm": 60.0, "sure": 0.9},
        **{"lift": 0, "fullness": 2, "out": False, "asked": (), "sounding": (("figure", 60), ("figure", 64))},
    )
    return replace(base, **more)


def test_a_moment_in_the_second_chorus(route: Route) -> None:
    picture = Painter(route, layered()).picture(view(route, 2, 2), Around())
    assert (picture.title, picture.key, picture.meter) == ("Quay", "D major", "6/8")
    assert (picture.section, picture.pass_, picture.bar, picture.bars) == ("Chorus", 2, 2, 2)
    assert (picture.chord, picture.pedal) == ("A", "A")
    assert (picture.beat, picture.beats, picture.next_in) == (2, 2, 1.5)
    assert (picture.bpm, picture.home_bpm, picture.sure, picture.sounding) == (61.0, 60.0, 0.9, 2)


def test_the_roadmap_says_what_differs_each_time(route: Route) -> None:
    assert Painter(route, layered()).picture(view(route, 0, 1), Around()).roadmap == (
        Step(name="Verse"),
        Step(name="Chorus"),
        Step(name="Chorus"),
        Step(name="Bridge", note="manuals only, wait"),
        Step(name="Chorus", note="fuller, up a tone"),
        Step(name="Ending", note="rit."),
    )


@pytest.mark.parametrize("lift", ["up an octave", "down an octave", "down a fifth", "up a tone"])
def test_the_roadmap_says_the_way_that_a_step_is_lifted(lift: str) -> None:
    route = unfold(read_chart(f"title = Up\nkey = D\n== Roadmap ==\nVerse\nVerse   {lift}\n== Verse ==\n| D | G |\n"))
    steps = Painter(route, layered()).picture(view(route, 0, 1), Around()).roadmap
    assert [step.note for step in steps] == ["", lift]


@pytest.mark.parametrize(
    ("step", "number", "chord", "pedal"),
    [
        pytest.param(0, 4, "A/C♯", "C♯", id="slash-chord"),
        pytest.param(3, 1, "Em", "", id="manuals-only"),
        pytest.param(3, 2, "N.C.", "", id="no-chord"),
        pytest.param(4, 1, "A", "A", id="up-a-tone"),
    ],
)
def test_chord_and_pedal(route: Route, step: int, number: int, chord: str, pedal: str) -> None:
    picture = Painter(route, layered()).picture(view(route, step, number), Around())
    assert (picture.chord, picture.pedal) == (chord, pedal)


def test_a_key_raised_by_a_nod_is_shown_as_it_sounds(route: Route) -> None:
    """D up a half step is E flat (5 sharps more, or 3 flats): B minor becomes C minor."""
    picture = Painter(route, layered()).picture(view(route, 0, 2, lift=1), Around())
    assert (picture.key, picture.chord, picture.pedal, picture.next_chord) == ("E♭ major", "Cm7", "C", "A♭")


def test_before_the_start_the_first_chord_is_what_comes(route: Route) -> None:
    ready = view(route, 0, 0, state="ready", change=None, next_change=None, next_in=None, beat=0.0)
    picture = Painter(route, layered()).picture(ready, Around())
    assert (picture.chord, picture.next_chord, picture.next_pedal, picture.bar, picture.beat) == ("", "D", "D", 0, 0)


def test_at_the_end_nothing_comes(route: Route) -> None:
    picture = Painter(route, layered()).picture(view(route, 5, 2, next_change=None, next_in=None), Around())
    assert (picture.chord, picture.next_chord, picture.next_in) == ("D", "", None)


@pytest.mark.parametrize(
    ("step", "number", "now", "coming"),
    [
        pytest.param(0, 0, (), ("Lamps along the water",), id="pickup"),
        pytest.param(0, 2, ("Lamps along the water",), ("swing and turn to gold",), id="line-of-words"),
        pytest.param(0, 3, ("swing and turn to gold",), ("Sing it out",), id="next-section"),
        pytest.param(2, 2, ("Sing it out",), ("Sing it out",), id="repeat"),
        pytest.param(3, 1, (), ("Sing it out",), id="no-words"),
        pytest.param(5, 2, (), (), id="end"),
    ],
)
def test_words_belong_to_their_line_of_bars(
    route: Route, step: int, number: int, now: tuple[str, ...], coming: tuple[str, ...]
) -> None:
    picture = Painter(route, layered()).picture(view(route, step, number, next_change=None), Around())
    assert (picture.words, picture.next_words) == (now, coming)


def test_what_was_heard_the_ports_and_the_take_are_handed_on(route: Route) -> None:
    lines = tuple(Heard(at=float(number), text=f"line {number}", kind="heard") for number in range(12))
    ports = (PortHealth(role="Pedal", name="console", well=True, text="open"),)
    picture = Painter(route, layered()).picture(view(route, 0, 1), Around(heard=lines, ports=ports, take="a.jsonl"))
    assert [line.text for line in picture.heard] == [f"line {number}" for number in range(4, 12)]
    assert (picture.ports, picture.take) == (ports, "a.jsonl")


def test_settings_say_where_they_came_from(route: Route) -> None:
    found = layered(("quay.chart", {"lead": "click", "tempo": 92.5}), ("the command line", {"click": True}))
    picture = Painter(route, found).picture(view(route, 0, 1), Around())
    assert (picture.lead, picture.time_lead, picture.place_lead) == ("click", "click", "feet")
    said = {name: (value, where) for name, value, where in picture.origins}
    assert said["tempo"] == ("92.5 beats a minute", "quay.chart")
    assert said["click"] == ("sent", "the command line")
    assert said["feel"] == ("as the chart says", "built-in")
    assert said["time"] == ("click, as the lead says", "built-in")
    assert said["from bar"] == ("the beginning", "built-in")
    assert said["seed"] == ("1", "built-in")


def test_a_page_turners_key_that_asks_for_a_nod_is_told_to_the_desk(route: Route) -> None:
    painter = Painter(route, layered(), {"pageup": "again", "pagedown": "cue"})
    assert painter.picture(view(route, 0, 1), Around()).page_turner == (("pageup", "again"),)
