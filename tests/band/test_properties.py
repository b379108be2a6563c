"""Any sequence of events: one end for every start, time never goes back, and asking changes nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from hypothesis import given
from hypothesis import strategies as st

from charts.route import Route
from liveassist.arranging.arrangement import Arrangement
from liveassist.band.events import (
    DIVISIONS,
    Action,
    ClockSays,
    DivisionBack,
    DivisionLost,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    NoteOff,
    NoteOn,
    SwitchPressed,
)
from liveassist.band.nods import NODS
from liveassist.band.song import arrangements, performance
from liveassist.settings import Settings
from tests.band.rehearsing import QUAY, route_of
from tests.trials import trials

ANSWERED = QUAY.replace(
    "| D | Bm | G A | D |", "answer = canon, two beats\n| D | Bm | G A | D |\nmelody = d2 f2 a2 f2 | d8 | G4 A4 | d4 z4"
).replace("| G | A | Em | A |", "answer = echo, one bar, octave below\n| G | A | Em | A |")
ANSWERED = ANSWERED.replace("Chorus\nEnding", "Chorus  underscore\nEnding")
"""The verse has a written answer; the chorus answers what the right hand plays, and goes round the second time."""
ROUTE = route_of(QUAY)


@dataclass(frozen=True)
class Song:
    """A route with its arrangements made."""

    route: Route
    bass: bool
    arrange_at: Callable[[int], Arrangement]


def made_ready(text: str, bass: bool) -> Song:
    route = route_of(text)
    arrange_at = arrangements(route, Settings(bass=bass))
    for lift in range(-2, 3):
        arrange_at(lift)
    return Song(route, bass, arrange_at)


PLAIN = made_ready(QUAY, bass=False)
SONGS = st.sampled_from([PLAIN, made_ready(QUAY, bass=True), made_ready(ANSWERED, bass=True)])

LEADS = st.sampled_from(["feet", "switch", "pulse", "click", "drums", "clock"])


@st.composite
def runs(draw: st.DrawFn, at: float) -> list[Event]:
    """A count by sticks and a groove, or a MIDI clock, evenly spaced."""
    gap = draw(st.sampled_from([0.25, 0.5, 0.52, 1.0]))
    if draw(st.booleans()):
        key = draw(st.sampled_from([37, 42]))
        keys = [key] * 4 + draw(st.lists(st.sampled_from([36, 38, 42, 37]), max_size=12))
        strength = draw(st.sampled_from([20, 64, 127]))
        return [
            KeyDown(at=at + gap * k, heard=at + gap * k, division="drums", key=struck, strength=strength)
            for k, struck in enumerate(keys)
        ]
    what = draw(st.sampled_from(["start", "stop", "continue"]))
    ticks = [ClockSays(at=at + gap / 24 * k, heard=at + gap / 24 * k, what="tick") for k in range(60)]
    return [*ticks[:30], ClockSays(at=ticks[29].at, heard=ticks[29].heard, what=what), *ticks[30:]]


@st.composite
def events(draw: st.DrawFn) -> list[Event]:
    at, heard, made = 0.0, 0.0, []
    for _ in range(draw(st.integers(1, 40))):
        if draw(st.integers(0, 5)) == 0:
            made += draw(runs(at))
            at = heard = max(heard, made[-1].heard)
        at += draw(st.sampled_from([0.0, 0.01, 0.05, 0.24, 0.5, 1.0, 2.0, 9.0]))
        heard = max(heard, at + draw(st.sampled_from([0.0, 0.0, 0.003, 0.2])))
        key = draw(st.integers(36, 50))
        division = draw(st.sampled_from(["pedal", "pedal", "pedal", *DIVISIONS]))
        made.append(
            draw(
                st.sampled_from(
                    [
                        KeyDown(at=at, heard=heard, division=division, key=key),
                        KeyDown(at=at, heard=heard, division="pedal", key=36 + (ROUTE.changes[key % 18].bass or 0)),
                        KeyUp(at=at, heard=heard, division=division, key=key),
                        SwitchPressed(at=at, heard=heard),
                        Nodded(
                            at=at,
                            heard=heard,
                            nod=draw(st.sampled_from(sorted(NODS))),
                            argument=draw(st.sampled_from([None, 2])),
                        ),
                        DivisionLost(at=at, heard=heard, division=division),
                        DivisionBack(at=at, heard=heard, division=division),
                    ]
                )
            )
        )
    return made


AHEAD = 3.0
"""Seconds for which clicks are asked ahead: six beats, many times what ears ask for."""


def play(
    given_events: list[Event], lead: str, *, asks: int = 0, song: Song = PLAIN, subdivision: str = "sixteenths"
) -> list[Action]:
    """Play events; ``asks`` times between any two events ``due`` and ``next_due`` are asked in small steps."""
    where = {"time": lead} if lead == "clock" else {"lead": lead}
    chosen = Settings(**where, bass=song.bass, click=True, subdivision=subdivision)
    band = performance(song.route, chosen)
    band.arrange_at = song.arrange_at
    band.arrangement = song.arrange_at(0)
    done: list[Action] = []
    before = 0.0
    for event in given_events:
        for step in range(1, asks + 1):
            band.next_due()
            band.view()
            band.clicks_until(before + AHEAD)
            band.next_section()
            done += band.due(before + (event.heard - before) * step / (asks + 1))
        done += band.receive(event)
        before = event.heard
    return done + band.due(before + 8.0) + band.receive(Nodded(at=before + 8.0, heard=before + 8.0, nod="tacet"))


@trials(60)
@given(events(), LEADS, SONGS)
def test_every_start_has_exactly_one_end_and_time_never_goes_back(given_events, lead, song):
    done = play(given_events, lead, song=song)
    on: set[tuple[str, int]] = set()
    latest = 0.0
    for action in done:
        assert action.at >= latest - 1e-9
        latest = action.at
        if isinstance(action, NoteOn):
            assert (action.part, action.pitch) not in on
            on.add((action.part, action.pitch))
        if isinstance(action, NoteOff):
            on.remove((action.part, action.pitch))
    assert on == set()


@trials(20)
@given(events(), LEADS, st.integers(1, 3), SONGS)
def test_asking_more_often_gives_the_same_music(given_events, lead, asks, song):
    assert play(given_events, lead, asks=asks, song=song) == play(given_events, lead, song=song)


@trials(15)
@given(events(), LEADS, SONGS)
def test_the_same_events_give_the_same_actions(given_events, lead, song):
    assert repr(play(given_events, lead, song=song)) == repr(play(given_events, lead, song=song))
