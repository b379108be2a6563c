"""The player's own hand on the figure's manual, and what a coupler brings there."""

from __future__ import annotations

import pytest

from liveassist.band.events import TOGETHER, KeyDown, KeyUp, Told
from tests.band.rehearsing import nod, sounding_after, tune


def hand(at: float, key: int = 60) -> KeyDown:
    return KeyDown(at=at, heard=at, division="figure", key=key)


def test_in_brings_the_figure_back_after_the_players_hand(rehearse):
    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(hand(5.01))
    assert sounding_after(band.done) == set()
    band.walk(2, 3, 5.02)
    band.hear(KeyUp(at=7.3, heard=7.3, division="figure", key=60))
    assert band.starts(5.01) == [], "letting go is not enough"
    band.hear(nod(7.4, "in"))
    band.walk(4, 4, 7.52)
    assert band.starts(7.4)


def test_the_hand_takes_over_again_after_in(rehearse):
    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(hand(5.1), nod(5.2, "in"))
    band.walk(2, 2, 5.3)
    band.hear(hand(6.4, 64))
    assert sounding_after(band.done) == set()
    band.until(8.0)
    assert band.starts(5.3)
    assert band.starts(6.4) == []


@pytest.mark.parametrize("after", [0.0, TOGETHER / 2], ids=["at-once", "a-moment-later"])
def test_a_key_that_a_coupler_brings_to_the_figures_manual_is_no_hand(rehearse, after):
    band = rehearse()
    band.walk(0, 1, 1.0)
    told = band.hear(hand(5.02, 74), tune(5.02 + after, 74))
    assert any(isinstance(action, Told) and "coupler" in action.text for action in told)
    band.walk(2, 2, 5.05)
    assert band.starts(5.03)


@pytest.mark.parametrize(("after", "key"), [(0.1, 74), (0.005, 75)], ids=["later", "another-key"])
def test_a_tune_beside_the_hand_gives_nothing_back(rehearse, after, key):
    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(hand(5.02, 74), tune(5.02 + after, key))
    band.walk(2, 2, 5.15)
    assert band.starts(5.03) == []
