"""What ``liveassist replay`` tells. The names and forms of its lines are a contract with other programs."""

from __future__ import annotations

import json
from fractions import Fraction

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from liveassist.band.events import (
    Action,
    BeatIs,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    NodTaken,
    NoteOff,
    NoteOn,
    PlaceIs,
    StateIs,
    Told,
)
from liveassist.band.song import performance
from liveassist.console.replaying import TAIL, action_as_json, in_words, replayed, story
from liveassist.settings import Settings

QUAY = """
title = Quay
key = D
tempo = quarter 120
feel = quarters

== Roadmap ==
Verse
Chorus
Verse
Chorus
Ending

== Verse ==
| D | G | A | D |

== Chorus ==
| G | D/F# G |

== Ending ==
| A | D |]
"""


@pytest.fixture(scope="module")
def route() -> Route:
    return unfold(read_chart(QUAY))


@pytest.mark.parametrize(
    ("action", "line"),
    [
        pytest.param(
            PlaceIs(at=31.0000004, change=12, position=Fraction(44), bpm=91.70049, sure=0.98),
            {
                **{"kind": "place", "at": 31.0, "section": "Chorus", "pass": 2, "bar": 2, "beat": 1.0},
                **{"position": "44", "change": 12, "chord": "D/F#", "bpm": 91.7, "sure": 0.98},
            },
            id="place",
        ),
        pytest.param(
            BeatIs(at=1.25, position=Fraction(129, 2)), {"kind": "beat", "at": 1.25, "position": "129/2"}, id="beat"
        ),
        pytest.param(
            NoteOn(at=1.0, part="figure", pitch=62, position=Fraction(257, 2)),
            {"kind": "note", "at": 1.0, "part": "figure", "pitch": 62, "on": True, "position": "257/2"},
            id="note",
        ),
        pytest.param(
            NoteOff(at=1.0, part="click", pitch=76, position=Fraction(3)),
            {"kind": "note", "at": 1.0, "part": "click", "pitch": 76, "on": False, "position": "3"},
            id="note-end",
        ),
        pytest.param(StateIs(at=1.0, state="vamping"), {"kind": "state", "at": 1.0, "state": "vamping"}, id="state"),
        pytest.param(NodTaken(at=1.0, nod="again"), {"kind": "nod", "at": 1.0, "nod": "again"}, id="nod"),
        pytest.param(Told(at=1.0, text="hello"), None, id="for-people-only"),
    ],
)
def test_the_lines_for_programs(route: Route, action: Action, line: dict[str, object] | None) -> None:
    assert action_as_json(action, route) == line
    assert json.dumps(line) == json.dumps(action_as_json(action, route))


def test_times_are_told_to_six_decimals(route: Route) -> None:
    line = action_as_json(BeatIs(at=1 / 3, position=Fraction(1)), route)
    assert line is not None
    assert line["at"] == 0.333333


def test_lines_are_in_order_of_time_and_else_of_doing(route: Route) -> None:
    actions = [StateIs(at=2.0, state="one"), StateIs(at=1.0, state="two"), StateIs(at=2.0, state="three")]
    assert [line["state"] for line in story(actions, route)] == ["two", "one", "three"]


def test_people_read_musicians_words(route: Route) -> None:
    place = PlaceIs(at=75.5, change=12, position=Fraction(44), bpm=91.7, sure=0.98)
    told = list(in_words([place, NodTaken(at=80.0, nod="out"), BeatIs(at=81.0, position=Fraction(1))], route))
    assert told == [
        "  1:15.500  D/F♯     Chorus (time 2), bar 2, beat 1, 92 bpm, sure 98%",
        "  1:20.000  nod: out",
    ]


# -- the tail -------------------------------------------------------------------------------------------------------------


def foot(at: float, key: int) -> KeyDown:
    return KeyDown(at=at, heard=at, division="pedal", key=key)


def all_of(route: Route, events: list[Event], **settings: object) -> list[Action]:
    return list(replayed(performance(route, Settings(**settings)), events))  # type: ignore[arg-type]


def test_nothing_heard_nothing_done(route: Route) -> None:
    assert all_of(route, []) == []


def test_lead_pulse_plays_to_the_end_after_the_last_event(route: Route) -> None:
    """16 bars of 4/4 at 120 a minute are 32 seconds, after a count-in."""
    actions = all_of(route, [Nodded(at=0.0, heard=0.0, nod="count")], lead="pulse")
    states = [action.state for action in actions if isinstance(action, StateIs)]
    assert states[-2:] == ["fine", "tacet"]
    assert actions[-1].at > 30.0


def test_after_the_last_foot_the_band_goes_on_no_longer_than_it_would(route: Route) -> None:
    actions = all_of(route, [foot(1.0, 38)])
    assert max(action.at for action in actions) <= 1.0 + TAIL


@pytest.mark.parametrize("patience", ["0", "1", "always"])
@pytest.mark.parametrize("events", [[foot(1.0, 38)], [foot(1.0, 38), foot(3.0, 43)]], ids=["one-foot", "two-feet"])
def test_every_note_told_to_begin_is_told_to_end(route: Route, events: list[Event], patience: str) -> None:
    ringing: set[tuple[str, int]] = set()
    for action in all_of(route, events, patience=patience):
        if isinstance(action, NoteOn):
            assert (action.part, action.pitch) not in ringing
            ringing.add((action.part, action.pitch))
        elif isinstance(action, NoteOff):
            ringing.remove((action.part, action.pitch))
    assert not ringing


def test_a_released_foot_is_heard_too(route: Route) -> None:
    up = KeyUp(at=1.5, heard=1.5, division="pedal", key=38)
    assert all_of(route, [foot(1.0, 38), up]) != all_of(route, [foot(1.0, 38)])


def test_bass_and_answer_are_told_as_parts_of_their_own() -> None:
    text = QUAY.replace("| D | G | A | D |", "answer = canon, one bar\n| D | G | A | D |\nmelody = d8 | d8 | e8 | d8")
    two_parts = unfold(read_chart(text))
    band = performance(two_parts, Settings(lead="pulse", bass=True))
    lines = list(story(replayed(band, [KeyDown(at=0.0, heard=0.0, division="pedal", key=38)]), two_parts))
    notes = [line for line in lines if line["kind"] == "note" and line["on"] and line["at"] < 4.5]
    assert [(line["part"], line["pitch"], line["position"]) for line in notes] == [
        ("bass", 38, "0"),
        ("bass", 43, "4"),
        ("answer", 74, "4"),
        ("bass", 45, "8"),
        ("answer", 73, "8"),  # D against A gives way to its third
    ]
