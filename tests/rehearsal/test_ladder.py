"""The tempo ladder: when it goes up, when down, and what a good pass is."""

from __future__ import annotations

import random

import pytest
from planting import planted

from liveassist.rehearsal.ladder import Ladder, climbed, ladder_from, verdict
from liveassist.rehearsal.review import review

UP = Ladder(first=60.0, last=66.0, step=4.0)


@pytest.mark.parametrize(
    ("passes", "bpm", "good", "done"),
    [
        ("", 60, 0, False),
        ("g", 60, 1, False),
        ("gg", 64, 0, False),
        ("gbgg", 64, 0, False),
        ("ggb", 60, 0, False),
        ("b", 60, 0, False),  # nothing below the first rung
        ("gggg", 66, 0, False),  # the last step is a shorter one
        ("gggggg", 66, 2, True),
        ("ggggggb", 66, 2, True),  # what was reached stays reached
        ("ggggb", 62, 0, False),
    ],
)
def test_two_good_passes_lead_up_and_one_that_was_not_down(passes, bpm, good, done):
    rung = climbed(UP, [one == "g" for one in passes])
    assert (rung.bpm, rung.good, rung.done) == (bpm, good, done)


def test_ladder_as_written():
    assert ladder_from("60:80:4") == Ladder(first=60.0, last=80.0, step=4.0)
    assert ladder_from(" 54:60:1.5 ").step == 1.5


@pytest.mark.parametrize("text", ["", "60", "60:80", "80:60:4", "60:80:0", "10:80:4", "60:500:4", "a:b:c"])
def test_a_ladder_that_leads_nowhere_says_what_it_takes(text):
    with pytest.raises(ValueError, match="60:80:4"):
        ladder_from(text)


@pytest.mark.parametrize(
    ("scatter", "rate", "good"),
    [(0.010, 0.0, True), (0.025, 0.0, True), (0.060, 0.0, False), (0.010, 0.5, False)],
    ids=["tight", "ensemble", "loose", "wrong notes"],
)
def test_a_good_pass_by_its_figures(demo_routes, scatter, rate, good):
    route = demo_routes[0]
    for seed in range(5):
        one = planted(route, seed, bpm=80.0, rate=rate, lead=-0.03, scatter=scatter, drift=0.0)
        found = verdict(review(route, one.events, one.actions))
        assert found is not None
        assert found.good is good, (seed, found.words)


def test_a_pass_without_a_note_is_no_pass(demo_routes):
    one = planted(demo_routes[0], 1, bpm=80.0, rate=0.0, lead=0.0, scatter=0.01, drift=0.0)
    assert verdict(review(demo_routes[0], [], one.actions)) is None


def test_the_ladder_never_leaves_its_ends():
    dice = random.Random(7)
    for _ in range(200):
        rung = climbed(UP, [dice.random() < 0.6 for _ in range(dice.randrange(30))])
        assert UP.first <= rung.bpm <= UP.last
