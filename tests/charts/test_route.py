"""Places on a route: beats within the bar, the bar and the change at a position, and the route as data for programs.

Counting a pickup as the end of a full bar: common practice, no source.
"""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from charts.telling import route_as_json, route_in_words


def route_of(header: str, bars: str) -> Route:
    return unfold(read_chart(f"key = D\n{header}\n== Verse ==\n{bars}"))


COUNTS = {
    "4/4": ("meter = 4/4", "| D | A |", ["4 1", "5 2", "6 3", "7 4"]),
    "3/4": ("meter = 3/4", "| D | A |", ["3 1", "4 2", "5 3"]),
    "2/2 counts two": ("meter = 2/2", "| D | A |", ["4 1", "6 2"]),
    "5/4": ("meter = 5/4", "| D | A |", ["5 1", "6 2", "7 3", "8 4", "9 5"]),
    "6/8 counts two": ("meter = 6/8", "| D | A |", ["3 1", "9/2 2"]),
    "6/8 counted in six": (
        "meter = 6/8\ncount = eighths",
        "| D | A |",
        ["3 1", "7/2 2", "4 3", "9/2 4", "5 5", "11/2 6"],
    ),
    "9/8 counts three": ("meter = 9/8", "| D | A |", ["9/2 1", "6 2", "15/2 3"]),
    "12/8 counts four": ("meter = 12/8", "| D | A |", ["6 1", "15/2 2", "9 3", "21/2 4"]),
}


@pytest.mark.parametrize(("header", "bars", "beats"), COUNTS.values(), ids=COUNTS.keys())
def test_the_counted_beats_of_the_second_bar(header: str, bars: str, beats: list[str]) -> None:
    route = route_of(header, bars)
    bar = route.bars[1]
    assert [f"{position} {bar.beat_at(position)}" for position in route.beats(bar)] == beats


PICKUPS = {
    "one beat of 4/4": ("pickup = 1", ["0 4"]),
    "three beats of 4/4": ("pickup = 3", ["0 2", "1 3", "2 4"]),
    "an eighth before 4/4": ("pickup = eighth", []),
    "a beat and a half": ("pickup = three eighths", ["1/2 4"]),
    "one beat of 3/4": ("meter = 3/4\npickup = 1", ["0 3"]),
    "an eighth before 6/8": ("meter = 6/8\npickup = eighth", []),
    "one beat of 6/8": ("meter = 6/8\npickup = 1", ["0 2"]),
}


@pytest.mark.parametrize(("header", "beats"), PICKUPS.values(), ids=PICKUPS.keys())
def test_a_pickup_is_counted_as_the_end_of_a_bar(header: str, beats: list[str]) -> None:
    route = route_of(header, "| A | D |")
    bar = route.bars[0]
    assert bar.number == 0
    assert [f"{position} {bar.beat_at(position)}" for position in route.beats(bar)] == beats
    assert route.bars[1].beat_at(route.bars[1].position) == 1


def test_a_pickup_shorter_than_a_beat_begins_within_the_last() -> None:
    route = route_of("pickup = eighth", "| A | D |")
    assert route.bars[0].beat_at(Fraction(0)) == Fraction(9, 2)


def test_what_sounds_at_a_position() -> None:
    route = route_of("", "| D A | / G / / | N.C. |")
    places = [
        Fraction(-1),
        Fraction(0),
        Fraction(7, 4),
        Fraction(2),
        Fraction(4),
        Fraction(5),
        Fraction(8),
        Fraction(99),
    ]
    assert [route.bar_at(place).number for place in places] == [1, 1, 1, 1, 2, 2, 3, 3]
    assert [route.change_at(place).chord.symbol for place in places] == ["D", "D", "D", "A", "A", "G", "N.C.", "N.C."]
    assert (route.length, route.changes[1].end, route.bars[1].end) == (12, 5, 8)


def test_a_bar_is_known_by_its_section_and_number() -> None:
    route = route_of("", "|: D | A :|")
    assert [bar.id for bar in route.bars] == [("Verse", 1), ("Verse", 2)] * 2


SONG = """title = Quay
key = Bb
meter = 6/8
tempo = dotted quarter 56
feel = six-eight lilt
pickup = eighth

== Roadmap ==
Verse
Chorus twice

== Verse ==
| F7 |: Bb | Eb/Bb F7 :|

== Chorus ==
key = C
meter = 2/2
tempo = half 60
| C G/B | N.C. | / / |
"""


def test_the_route_as_data_for_programs() -> None:
    told = route_as_json(unfold(read_chart(SONG)))
    assert json.loads(json.dumps(told)) == told
    assert {name: told[name] for name in ("title", "key", "meter", "tempo", "feel")} == {
        "title": "Quay",
        "key": "Bb",
        "meter": "6/8",
        "tempo": 56.0,
        "feel": "six-eight lilt",
    }
    assert [(section["name"], section["bars"], section["pickup"]) for section in told["sections"]] == [
        ("Verse", 2, True),
        ("Chorus", 3, False),
    ]
    chorus = told["sections"][1]
    assert (chorus["key"], chorus["meter"], chorus["tempo"]) == ("C", "2/2", 60.0)
    bars = told["bars"]
    assert [(bar["section"], bar["pass"], bar["time"], bar["bar"]) for bar in bars] == [
        ("Verse", 1, 1, 0),
        ("Verse", 1, 1, 1),
        ("Verse", 1, 1, 2),
        ("Verse", 1, 2, 1),
        ("Verse", 1, 2, 2),
        ("Chorus", 1, 1, 1),
        ("Chorus", 1, 1, 2),
        ("Chorus", 1, 1, 3),
        ("Chorus", 2, 1, 1),
        ("Chorus", 2, 1, 2),
        ("Chorus", 2, 1, 3),
    ]
    assert [(bar["position"], bar["length"]) for bar in bars[:3]] == [("0", "1/2"), ("1/2", "3"), ("7/2", "3")]
    assert bars[2]["changes"] == [
        {
            "change": 2,
            "position": "7/2",
            "beat": 1.0,
            "chord": "Eb/Bb",
            "root": 3,
            "bass": 10,
            "pitch_classes": [3, 7, 10],
        },
        {"change": 3, "position": "5", "beat": 2.0, "chord": "F7", "root": 5, "bass": 5, "pitch_classes": [0, 3, 5, 9]},
    ]
    assert bars[0]["changes"][0]["beat"] == pytest.approx(2 + 2 / 3)
    silence = bars[6]["changes"]
    assert [(change["chord"], change["root"], change["bass"], change["pitch_classes"]) for change in silence] == [
        ("N.C.", None, None, [])
    ]
    assert bars[7]["changes"] == []


def test_the_route_in_words_is_written_as_the_notation_writes_it() -> None:
    """The first number counts the bars as played, the second within the section; another time round is marked."""
    route = route_of("meter = 4/4", "|: G &A / / / | D A |1. / / / / :|2. Em (hold) |")
    assert [" ".join(line.split()) for line in list(route_in_words(route))[4:]] == [
        "1 1 G &A / / /",
        "2 2 D A",
        "3 3 / / / /",
        "4 1 G &A / / / (repeat, time 2)",
        "5 2 D A",
        "6 4 Em",
    ]
