"""The imagined drummer plays the organist's beats."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from charts.chart import HOLD
from liveassist.band.events import DRUMS, KeyDown
from liveassist.players.drummer import HAT, KICK, SIDE_STICK, SNARE, Drummer, with_drums
from liveassist.players.organist import METRONOME, Organist, script
from liveassist.players.truth import events

EXACT = Drummer(motor_noise=0.0, foot_lead=0.0, hat_lead=0.0)
LATE_START = replace(METRONOME, melody=False, start=5.0)
"""Room for one bar of count-in at 60 a minute."""


def struck(played, *keys):
    return [
        (event.at, event.key)
        for event in events(played.messages)
        if isinstance(event, KeyDown) and event.division == DRUMS and event.key in keys
    ]


def test_one_bar_of_count_in_and_the_beats(route_of):
    played = with_drums(script(route_of("Verse: D"), LATE_START), EXACT)
    assert struck(played, SIDE_STICK) == [(1.0, 37), (2.0, 37), (3.0, 37), (4.0, 37)]
    assert struck(played, KICK, SNARE) == [(5.0, 36), (6.0, 38), (7.0, 36), (8.0, 38)]
    assert [at for at, _ in struck(played, HAT)] == [5.0 + half / 2 for half in range(8)]


def test_each_limb_is_early_in_its_own_way(route_of):
    drummer = replace(EXACT, foot_lead=0.010, hat_lead=0.002)
    played = with_drums(script(route_of("Verse: D"), LATE_START), drummer)
    assert struck(played, KICK)[0] == (4.99, 36)
    assert struck(played, HAT)[0] == (4.998, 42)


def test_a_hold_is_not_drummed_through(route_of):
    organist = replace(LATE_START, hold_beats=4.0)
    played = with_drums(script(route_of("Verse: D | G", marks={0: (HOLD,)}), organist), EXACT)
    assert struck(played, KICK, SNARE) == [(5.0, 36), (13.0, 36), (14.0, 38), (15.0, 36), (16.0, 38)]
    assert [at for at, _ in struck(played, HAT)][:3] == [5.0, 5.5, 13.0]


def test_organist_and_truth_are_left_as_they_were(route_of):
    alone = script(route_of("Verse: D | G"), replace(Organist(), melody=False, start=6.0), random.Random(3))
    together = with_drums(alone, Drummer(), random.Random(4))
    assert [message for message in together.messages if message[1][0] & 0x0F != 9] == list(alone.messages)
    assert together.truth == alone.truth
    assert together == with_drums(alone, Drummer(), random.Random(4))


def test_no_room_for_the_count_in_is_an_error(route_of):
    with pytest.raises(ValueError, match=r"takes 4.0 s; the first beat is at 2.0 s"):
        with_drums(script(route_of("Verse: D"), replace(METRONOME, melody=False)), EXACT)
