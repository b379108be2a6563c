"""A short version of the benchmark: some songs of each kind, judged by its critic.

Chord tones are music21's wherever it knows the symbol; ranges, limits and gaps have their sources in the critic.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

pytest.importorskip("music21")
sys.path.insert(0, str(Path(__file__).parent.parent / "benchmarks"))

from arranging import judged
from arranging_critic import LEFT, RULES
from arranging_motion import above_the_best, greedy, rows, stops_of
from arranging_songs import Progression, chorales, lead_sheets, random_progression, the_set

from charts.qualities import QUALITIES

FEW = list(the_set(quick=True))


@pytest.fixture(scope="module")
def corpus() -> list[Progression]:
    return [*lead_sheets(), *chorales((3, 5, 7))]


def test_no_left_hand_does_what_it_may_not(corpus: list[Progression]) -> None:
    verdict = judged([*FEW, *corpus])
    assert {rule: count for rule, count in verdict.faults[False].items() if rule != LEFT} == {}
    coupled = verdict.faults[True]
    assert [
        rule for rule in RULES if coupled[rule] and rule not in (LEFT, "no third", "no seventh", "one attack")
    ] == []
    assert verdict.heard["known to music21"] > 0.7 * verdict.heard["notes"]


def test_voices_move_less_than_a_tone_and_less_than_simpler_hands() -> None:
    ours, nearest, blocks = rows(FEW, 3)
    assert ours.motion <= nearest.motion < 2.0 < blocks.motion
    assert ours.parallels < nearest.parallels < blocks.parallels


def test_no_short_case_is_a_tenth_dearer_than_the_cheapest_chain_of_all() -> None:
    assert max(above_the_best(FEW, cases=12)) < 0.10


def test_random_songs_hold_every_quality() -> None:
    found = {change.chord.quality for seed in range(1, 61) for change in random_progression(seed).route.changes}
    assert found == set(QUALITIES)


def test_greedy_goes_to_the_nearest_each_time() -> None:
    song = random_progression(2)
    chain = greedy(stops_of(song, 3))
    assert len(chain) == sum(change.root is not None for change in song.route.changes)
