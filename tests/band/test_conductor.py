"""What the band does when a cue is missing: the table of the conductor, row by row, and the General MIDI click."""

from __future__ import annotations

import pytest

from liveassist.band.click import click_pitch
from liveassist.band.conductor import (
    BE_SILENT,
    GO_ON,
    LONGEST_GRACE,
    LONGEST_GRACE_BEATS,
    SHORTEST_GRACE,
    STAND,
    VAMP,
    Known,
    Reading,
    grace,
    when_missing,
)
from tests.band.rehearsing import QUAY, route_of

PLAIN = {
    "melody_known": False,
    "melody_moving": False,
    "pedal_down": True,
    "pedal_lost": False,
    "patience": "1",
    "missed": 0,
    "nodded": False,
    "ending": False,
    "ritard": False,
}


@pytest.mark.parametrize(
    ("what", "expected"),
    [
        ({}, GO_ON),
        ({"missed": 1}, VAMP),
        ({"patience": "0"}, VAMP),
        ({"patience": "2", "missed": 1}, GO_ON),
        ({"patience": "always", "missed": 99}, GO_ON),
        ({"patience": "always", "ending": True}, VAMP),
        ({"ritard": True}, STAND),
        ({"nodded": True, "ending": True, "ritard": True}, GO_ON),
        ({"pedal_lost": True, "missed": 9}, GO_ON),
        ({"melody_known": True, "melody_moving": True, "pedal_down": True, "patience": "0"}, GO_ON),
        ({"melody_known": True, "melody_moving": True, "pedal_down": False, "patience": "0"}, GO_ON),
        ({"melody_known": True, "melody_moving": False, "pedal_down": True, "patience": "always"}, STAND),
        ({"melody_known": True, "melody_moving": False, "pedal_down": False, "patience": "always"}, BE_SILENT),
    ],
)
def test_a_missing_cue(what, expected):
    assert when_missing(Known(**{**PLAIN, **what})) == expected


def test_the_grace_is_two_deviations_within_its_bounds():
    assert grace(0.010, 0.6) == SHORTEST_GRACE
    assert grace(0.070, 0.6) == pytest.approx(0.14)
    assert grace(9.0, 0.6) == pytest.approx(LONGEST_GRACE)
    assert grace(9.0, 0.3) == pytest.approx(LONGEST_GRACE_BEATS * 0.3)


def test_the_ending_is_its_section_or_the_bar_of_the_last_chord():
    assert Reading(route_of(QUAY), "feet", "change").ending_bar == 16
    plain = route_of("title = x\nkey = D\n== Verse ==\n| D | G | A | D |")
    assert Reading(plain, "feet", "change").ending_bar == 3


def test_a_ritard_lasts_until_a_tempo_or_the_end_of_the_section():
    route = route_of(
        "title=x\nkey=D\n== Verse ==\n| D | G (rit.) | A | D (a tempo) | G |\n== Chorus ==\n| A (rit.) |\n== Bridge ==\n| D |"
    )
    assert Reading(route, "feet", "change").ritard == (False, True, True, False, False, True, False)


@pytest.mark.parametrize(("beat", "key"), [(1.0, 76), (2.0, 77), (3.0, 77), (4.0, 77)])
def test_the_click_is_general_midis_wood_blocks(beat, key):
    """General MIDI System Level 1 percussion map: 76 Hi Wood Block, 77 Low Wood Block."""
    assert click_pitch(beat) == key
