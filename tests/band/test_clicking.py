"""The click: its keys, its divisions, gaps, holds, mute, and what is told ahead.

Keys: General MIDI level 1 percussion key map (37 side stick, 42 closed hi-hat, 56 cowbell, 75 claves, 76 and 77 wood blocks);
General MIDI 2 adds 31 sticks, 33 metronome click, 34 metronome bell. When to divide is common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

import pytest

from charts.meter import read_meter
from liveassist.band.click import SETS, divisions
from liveassist.band.events import BeatIs, NoteOff, NoteOn
from tests.band.rehearsing import Rehearsal, nod, pedal

WAITING = """
title = Stanzas
key = D
tempo = quarter 120

== Roadmap ==
Verse  wait
Verse

== Verse ==
| D | G | A | D |
"""
D, G, A = 38, 43, 45


def clicks(band: Rehearsal, since: float = 0.0, until: float = 1e9) -> list[tuple[float, int]]:
    return [
        (round(action.at, 3), action.pitch)
        for action in band.done
        if isinstance(action, NoteOn) and action.part == "click" and since <= action.at < until
    ]


def times(found: Sequence[tuple[float, int]]) -> list[float]:
    return [at for at, _ in found]


@pytest.mark.parametrize(
    ("name", "keys"),
    [
        ("wood blocks", (76, 77, 37)),
        ("claves", (75, 37, 42)),
        ("cowbell", (56, 37, 42)),
        ("metronome", (34, 33, 37)),
        ("sticks", (76, 31, 37)),
    ],
)
def test_the_keys_of_each_set(name, keys):
    assert tuple(SETS[name].values()) == keys


@pytest.mark.parametrize(
    ("chosen", "meter", "bpm", "swung", "parts"),
    [
        ("auto", "4/4", 110, False, 1),
        ("auto", "4/4", 109, False, 2),
        ("auto", "4/4", 60, False, 2),
        ("auto", "4/4", 59, False, 4),
        ("auto", "3/4", 72, True, 3),
        ("auto", "6/8", 56, False, 3),
        ("auto", "12/8", 120, False, 1),
        ("none", "6/8", 40, False, 1),
        ("eighths", "2/2", 60, False, 4),
        ("eighths", "6/8", 60, False, 3),
        ("sixteenths", "4/4", 90, False, 4),
        ("sixteenths", "4/4", 200, False, 1),  # 75 ms apart would be a buzz
        ("triplets", "4/4", 90, False, 3),
    ],
)
def test_how_a_beat_is_divided(chosen, meter, bpm, swung, parts):
    assert divisions(chosen, read_meter(meter), bpm, swung=swung) == parts


def test_eighths_between_the_beats_with_the_bar_accented(rehearse):
    band = rehearse(lead="pulse", click=True, subdivision="eighths")
    band.hear(pedal(1.0, D))
    band.until(3.1)
    assert clicks(band) == [
        (1.0, 76), (1.25, 37), (1.5, 77), (1.75, 37), (2.0, 77), (2.25, 37), (2.5, 77), (2.75, 37), (3.0, 76)
    ]  # fmt: skip


def test_without_accent_all_beats_are_alike(rehearse):
    band = rehearse(lead="pulse", click=True, click_accent=False, click_notes="metronome")
    band.hear(nod(1.0, "count"))
    band.until(6.0)
    assert {key for _, key in clicks(band)} == {33}


def test_divisions_are_left_out_in_a_marked_ritard(rehearse):
    band = rehearse(
        "title = T\nkey = D\ntempo = quarter 60\n== Verse ==\n| D | G (rit.) | A | D |", lead="pulse", click=True
    )
    band.hear(pedal(1.0, D))
    band.until(13.1)
    assert times(clicks(band, 1.0, 5.0)) == [1.0 + 0.5 * k for k in range(8)]
    assert times(clicks(band, 5.0, 13.0)) == [5.0 + k for k in range(8)]


def test_the_click_goes_on_through_the_gap_and_the_foot_is_on_it(rehearse):
    """Four bars of two seconds from 1.0: the stanza ends at 9.0, the foot comes a bar and 30 ms later."""
    band = rehearse(WAITING, lead="click", click=True)
    band.walk(0, 3, 1.0)
    band.until(10.9)
    assert band.band.state == "holding"
    assert not [action for action in band.done if isinstance(action, BeatIs) and action.at > 8.9]
    assert clicks(band, 8.9) == [(9.0, 76), (9.5, 77), (10.0, 77), (10.5, 77)]
    band.hear(pedal(11.03, D))
    band.until(13.1)
    assert clicks(band, 10.9) == [(11.0, 76), (11.5, 77), (12.0, 77), (12.5, 77), (13.0, 76)]
    assert (11.03, 4) in band.places(), "the figure sounds with the foot"


def test_a_gap_that_is_a_sermon_falls_silent(rehearse):
    band = rehearse(WAITING, lead="click", click=True)
    band.walk(0, 3, 1.0)
    band.until(60.0)
    assert times(clicks(band, 8.9))[-1] == 9.0 + 4 * 2.0 - 0.5


def test_where_the_feet_have_the_time_a_gap_is_silent(rehearse):
    band = rehearse(WAITING, lead="feet", click=True)
    band.walk(0, 3, 1.0)
    band.until(20.0)
    assert clicks(band, 9.2) == []


@pytest.mark.parametrize("lead", ["feet", "click"])
def test_silence_at_a_hold_and_back_with_the_cue(rehearse, lead):
    band = rehearse(
        "title = T\nkey = D\ntempo = quarter 120\n== Verse ==\n| D | G (hold) | A | D |", lead=lead, click=True
    )
    band.hear(pedal(1.0, D), pedal(3.0, G))
    band.until(8.0)
    assert times(clicks(band, 3.0)) == [3.0], "the beat on which the hold begins, and no more"
    band.hear(pedal(8.2, A))
    band.until(9.0)
    assert times(clicks(band, 3.1)) == pytest.approx([8.2, 8.7])


def test_mute_is_instant_and_the_music_goes_on(rehearse):
    band = rehearse(lead="pulse", click=True)
    band.hear(pedal(1.0, D), nod(2.01, "mute"))
    band.until(4.2)
    ended = [action.at for action in band.done if isinstance(action, NoteOff) and action.part == "click"]
    assert ended[-1] == 2.01
    assert times(clicks(band)) == [1.0, 1.5, 2.0]
    assert band.band.view().muted
    assert band.starts(3.0)
    band.hear(nod(4.3, "mute"))
    band.until(5.1)
    assert times(clicks(band, 2.1)) == [4.5, 5.0]


def test_mute_without_a_click_says_so(rehearse):
    band = rehearse()
    told = [action.text for action in band.hear(nod(1.0, "mute")) if hasattr(action, "text")]
    assert told == ["there is no click: it was not asked for"]


@pytest.mark.parametrize(("lead", "subdivision"), [("pulse", "none"), ("pulse", "eighths"), ("click", "sixteenths")])
def test_every_click_is_told_ahead_at_its_time(rehearse, lead, subdivision):
    """Asked every 20 ms for the next 150: what was told is what is clicked, count-in, gap and end included."""
    band = rehearse(WAITING, lead=lead, click=True, subdivision=subdivision)
    told: set[float] = set()
    feet = [pedal(3.0 + 2 * bar, key) for bar, key in enumerate((D, G, A, D))]
    feet += [pedal(12.98 + 2 * bar, key) for bar, key in enumerate((D, G, A, D))]
    band.hear(nod(1.0, "count"))
    for step in range(1, 1100):
        now = 1.0 + 0.02 * step
        while feet and feet[0].at <= now:
            band.hear(feet.pop(0))
        band.until(now)
        told |= {round(click.at, 3) for click in band.band.clicks_until(now + 0.15)}
    happened = times(clicks(band))[3:]  # the first were due before anybody asked
    assert len(happened) > 30
    assert set(happened) <= told
    unclicked = sorted(at for at in told if at not in times(clicks(band)))
    assert len(unclicked) <= 1, "one may have been foretold for a beat that was never reached"


def test_the_next_section_is_told_with_its_time_and_count(rehearse):
    band = rehearse(lead="pulse")
    band.hear(pedal(1.0, D))
    band.until(3.5)
    assert band.band.next_section().name == "Chorus"
    assert band.band.next_section().at == pytest.approx(9.0)
    assert (band.band.next_section().beat, band.band.next_section().beats) == (0.5, 4)
    band.hear(nod(4.0, "again"))
    assert band.band.next_section().name == "Verse"
    band.hear(nod(5.0, "hold"))
    assert band.band.next_section() is None


def test_what_goes_round_until_somebody_asks_foretells_nothing(rehearse):
    band = rehearse(lead="pulse")
    band.hear(pedal(1.0, D), nod(4.0, "vamp"))
    assert band.band.next_section() is None
    band.hear(nod(4.5, "on"))
    assert band.band.next_section().name == "Chorus"
