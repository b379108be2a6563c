"""The swell shoe as fullness. Where its borders are is a choice of our own."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.band.events import KeyDown, Nodded, NoteOn, ShoeMoved, Told
from liveassist.band.shoe import fullness_at

# Where the shoe is when it is first heard, and the fullness.
FIRST = [(0, 1), (31, 1), (32, 2), (63, 2), (64, 3), (95, 3), (96, 4), (127, 4)]


@pytest.mark.parametrize(("value", "fullness"), FIRST)
def test_a_quarter_of_the_way_for_each_fullness(value: int, fullness: int) -> None:
    assert fullness_at(value, None) == fullness


# The way of a foot, and the fullness at each place, by hand: a border is passed when the shoe is five beyond it.
WAYS = {
    "opened slowly": ([30, 33, 36, 37, 60, 68, 69], [1, 1, 1, 2, 2, 2, 3]),
    "closed slowly": ([70, 63, 59, 58, 31, 27, 26], [3, 3, 3, 2, 2, 2, 1]),
    "trembling on a border": ([40, 31, 33, 30, 34, 29, 36], [2, 2, 2, 2, 2, 2, 2]),
    "thrown open": ([0, 127], [1, 4]),
    "thrown open, not quite": ([0, 98], [1, 3]),
}


@pytest.mark.parametrize(("places", "expected"), WAYS.values(), ids=WAYS.keys())
def test_the_way_of_a_foot(places: list[int], expected: list[int]) -> None:
    fullness, found = None, []
    for place in places:
        fullness = fullness_at(place, fullness)
        found.append(fullness)
    assert found == expected


@given(st.integers(1, 4), st.integers(4, 123), st.lists(st.integers(-4, 4), min_size=1))
def test_a_tremble_never_goes_there_and_back(before: int, value: int, trembles: list[int]) -> None:
    """Four steps to either side of a place: the fullness changes once at most, to that of the place or its neighbour."""
    found, fullness = [], fullness_at(value, before)
    for tremble in trembles:
        fullness = fullness_at(value + tremble, fullness)
        found.append(fullness)
    assert sum(one != other for one, other in pairwise(found)) <= 1


def fullness_told(rehearsal, *values: int) -> list[str]:
    actions = []
    for number, value in enumerate(values):
        at = 0.1 * number
        actions += rehearsal.band.receive(ShoeMoved(at=at, heard=at, value=value))
    return [action.text for action in actions if isinstance(action, Told)]


def test_the_shoe_is_none_of_the_bands_business_unless_it_is_given_to_it(rehearse) -> None:
    rehearsal = rehearse()
    assert fullness_told(rehearsal, 0, 127) == []
    assert rehearsal.band.fullness == 2


def test_the_shoe_sets_the_fullness_and_says_so_once(rehearse) -> None:
    rehearsal = rehearse(shoe="fullness")
    assert fullness_told(rehearsal, 100, 110, 127, 0) == ["swell shoe: fullness 4", "swell shoe: fullness 1"]
    assert rehearsal.band.fullness == 1


def test_a_nod_holds_until_the_shoe_moves_into_another_part(rehearse) -> None:
    rehearsal = rehearse(shoe="fullness")
    band = rehearsal.band
    band.receive(ShoeMoved(at=0.0, heard=0.0, value=40))
    band.receive(Nodded(at=0.1, heard=0.1, nod="fuller"))
    band.receive(ShoeMoved(at=0.2, heard=0.2, value=50))
    assert band.fullness == 3
    band.receive(ShoeMoved(at=0.3, heard=0.3, value=127))
    assert band.fullness == 4


def test_opening_the_shoe_makes_the_next_chord_fuller(rehearse) -> None:
    thin, full = rehearse(shoe="fullness").band, rehearse(shoe="fullness").band
    sounded = []
    for band, value in ((thin, 0), (full, 127)):
        band.receive(ShoeMoved(at=0.0, heard=0.0, value=value))
        actions = band.receive(KeyDown(at=1.0, heard=1.0, division="pedal", key=38))
        sounded.append(sum(isinstance(action, NoteOn) for action in actions))
    assert sounded[0] < sounded[1]
