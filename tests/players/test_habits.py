"""Habits of real players: feet that scatter like a bass player's, inversions, a left hand, a congregation that drags."""

from __future__ import annotations

import random
import statistics
from dataclasses import replace
from itertools import islice, pairwise

import pytest

from liveassist.players.organist import HABITS, METRONOME, Organist, script
from liveassist.players.scatter import scattered
from liveassist.players.timing import Pace, playing_order, sections_played
from liveassist.players.truth import Script

PLAIN = replace(METRONOME, melody=False)
"""At 60 a minute, from 2 s on: a beat is a second."""
TWO_SECTIONS = "Verse: D | G | D | A ; Chorus: G | A | D | D"


def feet(played: Script) -> list[tuple[float, int]]:
    return [(at, data[1]) for at, data in played.messages if data[0] == 0x93]


def hands(played: Script) -> list[tuple[float, int]]:
    return [(at, data[1]) for at, data in played.messages if data[0] == 0x90]


def errors(count: int = 40_000, **habits: float) -> list[float]:
    shape = {"tails": 0.0, "lingering": 0.0} | habits
    return list(islice(scattered(random.Random(1), random.Random(2), **shape), count))


def beat_lengths(played: Script) -> list[float]:
    return [after.at - before.at for before, after in pairwise(played.truth.beats)]


# -- scatter ----------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "habits",
    [{}, {"tails": 5.0}, {"lingering": 0.5}, {"tails": 5.0, "lingering": 0.5}],
    ids=["a bell", "heavy tails", "lingering", "both"],
)
def test_whatever_its_shape_the_scatter_is_as_wide_as_asked(habits):
    found = errors(**habits)
    assert statistics.pstdev(found) == pytest.approx(1.0, abs=0.04)
    assert statistics.fmean(found) == pytest.approx(0.0, abs=0.03)


def test_heavy_tails_are_those_of_students_t():
    # A table of the t distribution with 4 degrees of freedom: 10 % lie beyond 2.132, 1 % beyond 4.604; its SD is the root of 2.
    found = [abs(error) * 2**0.5 for error in errors(tails=4.0)]
    assert sum(error > 2.132 for error in found) / len(found) == pytest.approx(0.10, abs=0.006)
    assert sum(error > 4.604 for error in found) / len(found) == pytest.approx(0.01, abs=0.002)


def test_an_error_lives_on_in_the_next_foot():
    found = errors(lingering=0.5)
    assert statistics.correlation(found[:-1], found[1:]) == pytest.approx(0.5, abs=0.02)
    assert statistics.correlation(found[:-2], found[2:]) == pytest.approx(0.25, abs=0.02)


def test_a_scatter_without_an_sd_is_refused():
    with pytest.raises(ValueError, match="degrees of freedom"):
        errors(1, tails=2.0)


def test_the_feet_lie_ahead_in_one_section_and_behind_in_another(route_of):
    played = script(route_of(TWO_SECTIONS), replace(PLAIN, pull=0.02), random.Random(3))
    leads = [round(2.0 + 4.0 * index - at, 6) for index, (at, _) in enumerate(feet(played))]
    assert len(set(leads[:4])) == len(set(leads[4:])) == 1
    assert leads[0] != leads[4]
    assert [beat.at for beat in played.truth.beats] == [2.0 + beat for beat in range(32)]


# -- inversions -------------------------------------------------------------------------------------------------------


def test_an_inversion_stands_on_the_third_or_the_fifth_and_leaves_the_truth_alone(route_of):
    route = route_of("Verse: " + " | ".join(["D"] * 40))
    plain, turned = script(route, PLAIN), script(route, replace(PLAIN, inverted=1.0))
    assert {key % 12 for _, key in feet(turned)} == {6, 9}  # F# and A under a D major chord
    assert turned.truth == plain.truth


def test_inversions_come_about_as_often_as_asked(route_of):
    route = route_of("Verse: " + " | ".join(["D"] * 300))
    turned = sum(key % 12 != 2 for _, key in feet(script(route, replace(PLAIN, inverted=0.1))))
    assert 14 <= turned <= 46  # 30 expected; three standard deviations of a binomial are 16


def test_a_written_bass_line_is_inverted_at_its_changes_only(route_of):
    line = ((0, 3, 38), (3, 1, 40), (4, 4, 43))
    played = script(route_of("Verse: D | G"), replace(PLAIN, line=line, inverted=1.0))
    at_changes = [key % 12 for at, key in feet(played) if at != 5.0]
    assert at_changes[0] in (6, 9)
    assert at_changes[1] in (11, 2)
    assert (5.0, 40) in feet(played)


# -- the left hand ----------------------------------------------------------------------------------------------------


def test_the_left_hand_beats_out_the_chord_below_the_tune(route_of):
    played = script(route_of("Verse: D | G"), replace(PLAIN, left_hand=True))
    assert hands(played) == [
        *((2.0 + beat, key) for beat in range(4) for key in (50, 54, 57)),
        *((6.0 + beat, key) for beat in range(4) for key in (50, 55, 59)),
    ]


def test_no_key_is_down_twice_where_both_hands_share_a_manual(route_of):
    played = script(route_of(TWO_SECTIONS), replace(Organist(), left_hand=True), random.Random(5))
    down: set[int] = set()
    for _, (status, key, _) in played.messages:
        if status & 0x0F == 0:
            assert (key in down) == (status & 0xF0 == 0x80)
            down ^= {key}
    assert not down


# -- dragging ---------------------------------------------------------------------------------------------------------


def test_a_congregation_sinks_through_each_section_and_is_picked_up_at_the_next(route_of):
    lengths = beat_lengths(script(route_of(TWO_SECTIONS), replace(PLAIN, pace=Pace(drag=(0.08, 0.08)))))
    for section in (lengths[:16], lengths[16:]):
        assert section == sorted(section)
        assert section[0] == pytest.approx(1.0, abs=0.005)
        assert section[14] == pytest.approx(1 / 0.925, abs=0.005)  # 14.5 beats of 16 through a fall of 8 %


def test_each_section_sinks_by_another_share(route_of):
    route = route_of(" ; ".join(["Verse: D | G | D | A"] * 20))
    lengths = beat_lengths(script(route, replace(PLAIN, pace=Pace(drag=(0.05, 0.10)))))
    sunk = [lengths[16 * section + 14] - 1.0 for section in range(20)]
    assert 0.04 < min(sunk) < 0.06
    assert 0.08 < max(sunk) < 0.11


def test_a_jump_begins_a_new_section(route_of):
    order = playing_order(route_of(TWO_SECTIONS), ((1, 0),))
    assert [(int(start), int(end)) for start, end in sections_played(order)] == [(0, 8), (8, 24), (24, 40)]


# -- dice -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "habit",
    [{"inverted": 1e-9}, {"pull": 1e-12}, {"left_hand": True}, {"pace": replace(Organist().pace, drag=(1e-12, 1e-12))}],
    ids=["inverted", "pull", "left hand", "drag"],
)
def test_each_new_habit_leaves_the_feet_of_the_others_alone(route_of, habit):
    route = route_of(TWO_SECTIONS)
    plain, other = (
        script(route, organist, random.Random(9)) for organist in (Organist(), replace(Organist(), **habit))
    )
    assert feet(other) == feet(plain)


def test_the_order_of_the_dice_is_kept():
    """A habit added anywhere but at the end would give every seed another performance."""
    assert HABITS[:7] == ("time", "feet", "slips", "tune", "hand", "slow", "walks")
