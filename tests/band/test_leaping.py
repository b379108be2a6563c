"""Where a jump leaves and lands, and what is learned of the player's feet. The rules are the tool's own; no outside source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.band.expecting import BASS, CUES, FIFTH, OTHER, THIRD, Expecting
from liveassist.band.habits import Habits
from liveassist.band.hypothesis import Hypothesis
from liveassist.band.leaping import Leaping
from liveassist.band.plan import Plan
from liveassist.band.pulse import Pulse
from tests.band.rehearsing import DOORS, pedal, route_of

VERSE, CHORUS, BRIDGE, CHORUS_AGAIN = 0, 4, 8, 12
"""The first changes of the sections; a bar is two seconds."""
EB = 39


@pytest.fixture
def leaping() -> Leaping:
    route = route_of(DOORS)
    return Leaping(route, Expecting(route, Plan(route)))


def jumps(
    leaping: Leaping, change: int, pitch_class: int, *, uncued: bool = False, late: float = 0.0
) -> dict[int, float]:
    """How likely each landing is when a foot comes at the next bar line, or at the one that has gone by the clock."""
    expects = Expecting(leaping.route, Plan(leaping.route))
    pulse = replace(Pulse.begin(4.0 * change, 0.0, 0.5, 1.0), var_period=0.0)
    here = Hypothesis(change, 4.0 * change, pulse, 1.0, uncued=uncued)
    at = (0.0 if uncued else 2.0) + late
    found = leaping.jumps([here], change + 1, pitch_class, at, lambda landing, pc: expects.pitch[landing][pc])
    return {item.change: item.weight for item in found}


def test_a_jump_from_a_section_s_end_is_likelier_than_one_from_inside(leaping):
    assert jumps(leaping, 3, EB % 12)[BRIDGE] > 5 * jumps(leaping, 1, EB % 12)[BRIDGE]


def test_from_its_end_a_section_is_begun_again_rather_than_another_far_away(leaping):
    found = jumps(leaping, 7, 0)  # the chorus over; its next time, and the verse, begin with C, too
    assert found[CHORUS] > 2 * found[VERSE]
    assert found[CHORUS] > found[CHORUS_AGAIN]


def test_a_section_is_cut_short_for_the_next_rather_than_begun_anew(leaping):
    found = jumps(leaping, 1, 0)
    assert found[CHORUS] > found[VERSE]


def test_a_bar_line_that_just_went_by_the_clock_is_still_a_way_out(leaping):
    gone, ahead = jumps(leaping, CHORUS, EB % 12, uncued=True, late=0.03), jumps(leaping, 3, EB % 12, late=0.03)
    assert gone[BRIDGE] == pytest.approx(ahead[BRIDGE], rel=0.3)


def test_a_late_foot_elsewhere_is_found_though_the_band_had_gone_on(rehearse):
    """The chorus begins with the chord that sounds, so the band waits for no foot there."""
    band = rehearse(DOORS)
    at = band.walk(0, 3, 1.0)
    band.until(at + 0.02)
    assert band.places()[-1][1] == CHORUS
    band.hear(pedal(at + 0.04, EB))
    assert band.places()[-1][1] == BRIDGE


def test_belief_in_a_place_of_the_chart_counts_each_time_it_comes_round(rehearse):
    band = rehearse(DOORS)
    band.walk(0, 0, 1.0)
    listening = band.band.listening
    (best, *_) = listening.hypotheses
    listening.hypotheses = tuple(
        replace(best, change=change, weight=weight)
        for change, weight in ((CHORUS, 0.4), (CHORUS_AGAIN, 0.4), (VERSE, 0.2))
    )
    assert listening.place(CHORUS_AGAIN) == pytest.approx(0.8)
    assert listening.place(VERSE) == pytest.approx(0.2)


# -- habits -----------------------------------------------------------------------------------------------------------


def test_who_never_inverts_is_thought_ever_less_likely_to():
    habits = Habits()
    for _ in range(40):
        habits.cue(BASS, 1.0)
    assert habits.ratios[FIFTH] < 0.3
    assert habits.ratios[BASS] > 1.0
    assert habits.ratios[OTHER] == 1.0, "anybody may slip"


def test_who_inverts_is_thought_likelier_to():
    habits = Habits()
    for _ in range(10):
        habits.cue(THIRD, 0.95)
        habits.cue(BASS, 0.95)
    assert habits.ratios[THIRD] > 5.0


def test_a_foot_teaches_nothing_until_a_right_one_confirms_the_place():
    habits = Habits()
    habits.cue(FIFTH, 1.0)
    habits.cue(BASS, 0.6)
    assert set(habits.ratios.values()) == {1.0}
    habits.forget()  # the player had jumped
    habits.cue(BASS, 0.95)
    assert habits.ratios[FIFTH] < 1.0


def test_old_feet_fade():
    habits = Habits()
    for _ in range(300):
        habits.cue(BASS, 1.0)
    assert habits.ratios[FIFTH] >= 12 / 72 * 0.99
    for _ in range(20):
        habits.cue(FIFTH, 1.0)
        habits.cue(BASS, 1.0)
    assert habits.ratios[FIFTH] > 3.0


def test_the_shares_are_those_of_one_foot():
    assert sum(CUES.values()) == pytest.approx(1.0)
