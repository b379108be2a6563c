"""A start in another key than the chart's, and a transposer turned while playing: offered, never guessed.

QUAY's bass is D B G A D | G A E A | D B G A D ...: two bars of whole bars, so a foot every two seconds at 120.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.band.events import Told
from liveassist.band.shifting import Shifting, shift_between
from tests.band.rehearsing import QUAY, nod, pedal, route_of

D, G, A, B = 38, 43, 45, 47
ROUTE = route_of(QUAY)


def offers(actions):
    return [action.text for action in actions if isinstance(action, Told) and "'yes'" in action.text]


@pytest.mark.parametrize(
    ("written", "played", "shift"),
    [
        pytest.param([2, 11, 7], [3, 0, 8], 1, id="half-step-up"),
        pytest.param([2, 11, 7], [0, 9, 5], -2, id="whole-step-down"),
        pytest.param([2, 11], [8, 5], 6, id="tritone-is-up"),
        pytest.param([2, 11], [9, 6], -5, id="a-fifth-up-is-a-fourth-down"),
        pytest.param([2, 11, 7], [2, 11, 7], 0, id="as-written"),
        pytest.param([2, 11, 7], [3, 0, 7], None, id="one-note-differs"),
    ],
)
def test_the_shift_between_two_runs(written, played, shift):
    assert shift_between(written, played) == shift


@pytest.mark.parametrize("shift", [-5, -2, -1, 1, 2, 3, 4, 6])
def test_a_start_in_another_key_is_offered_by_the_third_root(rehearse, shift):
    band = rehearse()
    told = band.hear(*(pedal(1.0 + 2.0 * number, key + shift) for number, key in enumerate((D, B, G))))
    assert len(offers(told)) == 1, "a foot that is the first root as written begins all the same"
    assert band.band.offered == shift
    assert band.band.view().lift == 0, "never guessed"


def test_two_roots_are_enough_where_the_song_has_no_such_step(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D + 1))
    assert offers(band.done) == []
    (offer,) = offers(band.hear(pedal(3.0, B + 1)))
    assert "in E♭ major, 1 half step higher" in offer


def test_yes_takes_the_band_there_and_the_next_foot_begins_where_the_player_is(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D + 1), pedal(3.0, B + 1), nod(3.5, "yes"))
    assert band.band.state == "ready"
    assert band.band.view().lift == 1
    band.hear(pedal(5.0, G + 1))
    assert band.places() == [(5.0, 2)]
    assert {note.pitch % 12 for note in band.starts(5.0)} == {8, 0, 3}, "A flat major"
    band.hear(pedal(6.0, A + 1), pedal(7.0, D + 1))
    assert [change for _, change in band.places()] == [2, 3, 4]
    assert offers(band.done[-20:]) == []


def test_up_does_the_same_as_yes(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D + 1), pedal(3.0, B + 1), nod(3.5, "up"), pedal(5.0, G + 1))
    assert band.places() == [(5.0, 2)]


def test_the_offer_stands_on_the_desk_until_it_is_taken(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D + 1), pedal(3.0, B + 1))
    assert any("half step higher" in words for words in band.band.view().asked)
    band.hear(nod(3.5, "yes"))
    assert band.band.view().asked == ()


@pytest.mark.parametrize("before", [(D + 1,), (D + 1, B + 1), (D + 1, B + 1, G + 1)], ids=["one", "two", "three"])
def test_a_player_who_takes_no_offer_and_begins_again_as_written_is_followed(rehearse, before):
    band = rehearse()
    band.hear(*(pedal(1.0 + 2.0 * number, key) for number, key in enumerate(before)), pedal(9.0, D))
    assert band.band.state == "playing"
    assert band.band.view().lift == 0


def test_yes_without_an_offer_changes_nothing(rehearse):
    band = rehearse()
    (_, told) = band.hear(nod(1.0, "yes"))
    assert "nothing is offered" in told.text
    assert band.band.view().lift == 0


def test_a_transposer_turned_while_playing_is_told_and_yes_takes_it(rehearse):
    band = rehearse(patience="always")
    at = band.walk(0, 4, 1.0)
    feet = [(ROUTE.changes[number].bass, float(ROUTE.changes[number].length) / 2) for number in range(5, 13)]
    taken = False
    for bass, seconds in feet:
        if offers(band.hear(pedal(at, 36 + (bass + 1) % 12))) and not taken:
            taken = True
            band.hear(nod(at + 0.1, "yes"))
        at += seconds
    assert taken
    assert band.band.listening.lift == 1
    assert band.places()[-1][1] == 12
    assert len(offers(band.done)) == 1


@pytest.mark.parametrize("start", range(9))
def test_a_song_played_as_written_is_never_offered_another_key(rehearse, start):
    band = rehearse(from_bar=ROUTE.changes[start].bar)
    first = ROUTE.bars[ROUTE.changes[start].bar].changes[0]
    band.walk(first, min(first + 10, len(ROUTE.changes) - 1), 1.0)
    assert offers(band.done) == []


@given(st.lists(st.integers(0, 11), max_size=12), st.integers(0, len(ROUTE.changes) - 1))
def test_whatever_the_feet_do_an_offer_explains_them(feet, change):
    shifting = Shifting(ROUTE)
    for number, foot in enumerate(feet):
        shifting.foot(foot, float(number))
    line = [here.bass for here in ROUTE.changes]
    merged = [bass for number, bass in enumerate(line) if number == 0 or bass != line[number - 1]]
    for shift in (shifting.at_the_start(0), shifting.while_playing(change)):
        if shift is None:
            continue
        assert shift != 0
        back = [(foot - shift) % 12 for foot, _ in shifting.run]
        assert any(
            merged[begin : begin + roots] == back[-roots:]
            for roots in range(2, len(back) + 1)
            for begin in range(len(merged) - roots + 1)
        )


def test_an_offer_is_withdrawn_when_the_feet_play_as_written_again(rehearse):
    band = rehearse(patience="always")
    at = band.walk(0, 4, 1.0)
    for number in range(5, 9):
        band.hear(pedal(at, 36 + (ROUTE.changes[number].bass + 1) % 12))
        at += float(ROUTE.changes[number].length) / 2
    assert band.band.offered == 1
    band.walk(9, 13, at)
    assert band.band.offered is None
    assert band.band.view().asked == ()


def test_before_the_start_another_key_takes_the_place_of_the_one_offered(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D + 1), pedal(3.0, B + 1), pedal(9.0, D + 4), pedal(11.0, B + 4))
    assert ["1 half step" in offer for offer in offers(band.done)] == [True, False]
    assert band.band.offered == 4
    band.hear(nod(11.5, "yes"))
    assert (band.band.state, band.band.view().lift) == ("ready", 4)


def shifted(band, first, last, at, shift):
    for number in range(first, last):
        band.hear(pedal(at, 36 + (ROUTE.changes[number].bass + shift) % 12))
        at += float(ROUTE.changes[number].length) / 2
    return at


def test_an_offer_that_is_not_taken_is_not_told_again_and_can_be_taken_later(rehearse):
    band = rehearse(patience="always")
    at = band.walk(0, 4, 1.0)
    at = shifted(band, 5, 13, at, 1)
    assert len(offers(band.done)) == 1
    assert band.band.offered == 1, "it stands on the desk"
    band.hear(nod(at, "yes"))
    assert band.band.view(at).asked == ("key up 1",)
    (_, told) = band.hear(nod(at + 0.01, "yes"))
    assert "nothing is offered" in told.text, "taken once"
    assert band.band.view(at + 0.01).asked == ("key up 1",)


def test_after_the_feet_have_played_as_written_the_same_key_may_be_offered_again(rehearse):
    band = rehearse(patience="always")
    at = band.walk(0, 4, 1.0)
    at = shifted(band, 5, 9, at, 1)
    at = band.walk(9, 13, at)
    assert band.band.offered is None
    shifted(band, 14, 18, at, 1)
    assert (len(offers(band.done)), band.band.offered) == (2, 1)
