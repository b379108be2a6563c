"""Where the band thought the player was, on cases small enough to work out by hand."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from liveassist.band.events import Action, PlaceIs
from liveassist.players.organist import METRONOME, script
from liveassist.players.places import asked_at, beliefs, false_jumps, jumps_found, landings, rightly_placed
from liveassist.players.truth import Truth

PLAIN = replace(METRONOME, melody=False)
SONG = "Verse: D | G | A | D ; Chorus: G | A | D | D"
"""A bar is four seconds; the player begins at 2 s."""


def told(*places: tuple[float, int]) -> list[Action]:
    return [PlaceIs(at=at, change=change, position=Fraction(4 * change), bpm=60.0, sure=0.95) for at, change in places]


def bars(*changes: int) -> list[Action]:
    """These changes told one a bar, from the start."""
    return told(*((2.0 + 4 * bar, change) for bar, change in enumerate(changes)))


@pytest.fixture
def straight(route_of) -> Truth:
    return script(route_of(SONG), PLAIN).truth


@pytest.fixture
def verse_again(route_of) -> Truth:
    """D G A D, and once more, then the chorus."""
    return script(route_of(SONG), replace(PLAIN, jumps=((3, 0),))).truth


def test_landings_are_where_the_order_breaks(straight, verse_again):
    assert landings(straight) == ()
    assert landings(verse_again) == (4,)


def test_the_place_is_asked_a_quarter_second_after_or_in_the_middle_of_a_short_change(route_of):
    truth = script(route_of("Verse: D G | A", bpm=600.0), PLAIN).truth  # two beats are 0.2 s, four 0.4 s
    assert asked_at(truth) == pytest.approx([2.1, 2.3, 2.65])


def test_straight_through(straight):
    assert all(rightly_placed(straight, bars(*range(8))))
    assert false_jumps(straight, bars(*range(8))) == ()


def test_without_a_jump_an_equal_chord_elsewhere_is_wrong(straight):
    assert rightly_placed(straight, bars(0, 1, 2, 6, 4, 5, 6, 7)) == (True, True, True, False, True, True, True, True)


def test_after_a_jump_what_sounds_the_same_is_right_until_it_differs(route_of):
    # Chorus 1, then Chorus 1 again where the bridge, which begins like it, follows: G A are told as the bridge's.
    song = "Chorus: G | A | D | D ; Bridge: G | A | B | E ; Ending: D"
    truth = script(route_of(song), replace(PLAIN, jumps=((3, 0),))).truth
    as_bridge = bars(0, 1, 2, 3, 4, 5, 6, 3, 4, 5, 6, 7, 8)
    assert rightly_placed(truth, as_bridge)[4:8] == (True, True, False, True)
    assert jumps_found(truth, rightly_placed(truth, as_bridge), [True] * 13)[0].cues == 2


def test_a_jump_that_shows_late_may_land_wherever_it_sounds_the_same_from_then_on(route_of):
    # Out of the verse's end into the bridge, whose first two bars are the chorus's that follows anyway; D B is then like the
    # ending as well: a band that goes on to the chorus and from there to the ending has heard one jump, as the player made one.
    song = "Verse: E | B ; Chorus: G | A | E | E ; Bridge: G | A | D | B | F ; Ending: D | B | C"
    truth = script(route_of(song), replace(PLAIN, jumps=((1, 6),))).truth
    told = bars(0, 1, 2, 3, 11, 12, 10, 11, 12, 13)
    assert rightly_placed(truth, told)[:8] == (True, True, True, True, True, True, True, True)
    assert [one.cues for one in jumps_found(truth, rightly_placed(truth, told), [True] * 10)] == [1]
    assert not rightly_placed(truth, bars(0, 1, 2, 3, 5, 9, 10, 11, 12, 13))[4]


def test_cues_until_a_jump_is_found(verse_again):
    cued = [True] * 12
    for cues, found in (
        (1, (0, 1, 2, 3, 0, 1, 2, 3, 4, 5, 6, 7)),
        (2, (0, 1, 2, 3, 4, 1, 2, 3, 4, 5, 6, 7)),
        (3, (0, 1, 2, 3, 4, 5, 2, 3, 4, 5, 6, 7)),
        (None, (0, 1, 2, 3, 4, 5, 6, 7, 7, 7, 7, 5)),
    ):
        jump = jumps_found(verse_again, rightly_placed(verse_again, bars(*found)), cued)
        assert [one.cues for one in jump] == [cues]
        assert jump[0].at == 18.0


def test_a_change_without_a_foot_is_no_cue(verse_again):
    cued = [True, True, True, True, False, True] + [True] * 6
    late = bars(0, 1, 2, 3, 4, 1, 2, 3, 4, 5, 6, 7)
    assert jumps_found(verse_again, rightly_placed(verse_again, late), cued)[0].cues == 1


@pytest.mark.parametrize(
    ("places", "found"),
    [
        pytest.param((0, 1, 2, 3, 4, 5, 6, 7), [], id="straight on"),
        pytest.param((0, 1, 3, 3, 4, 5, 6, 7), [], id="one change too far is no jump"),
        pytest.param((0, 1, 5, 6, 4, 5, 6, 7), [(10.0, 5)], id="made up; the way back to where the player is is none"),
        pytest.param((0, 1, 2, 3, 0, 1, 2, 3), [(18.0, 0)], id="the verse again, unasked"),
    ],
)
def test_jumps_that_nobody_played(straight, places, found):
    assert list(false_jumps(straight, bars(*places))) == found


def test_a_jump_that_was_played_is_no_false_one(verse_again):
    assert false_jumps(verse_again, bars(0, 1, 2, 3, 0, 1, 2, 3, 4, 5, 6, 7)) == ()


def test_belief_is_right_within_a_quarter_of_a_second(straight):
    places = told((2.0, 0), (5.8, 1), (10.2, 1), (10.3, 2), (13.0, 3))
    assert [right for _, right in beliefs(straight, places)] == [True, True, True, True, False]
    assert {sure for sure, _ in beliefs(straight, places)} == {0.95}
