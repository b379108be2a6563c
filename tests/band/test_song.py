"""The keys a nod may ask for are made in slices, and what the band gets never depends on how far they came."""

from __future__ import annotations

from itertools import islice
from typing import Any

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import KeyDown, Nodded
from liveassist.band.song import arrangements, performance
from liveassist.settings import Settings

SONG = unfold(
    read_chart(
        "title = Song\nkey = D\nmeter = 4/4\ntempo = 92\n\n== Verse ==\n| D | G A | Bm | D |\nmelody = D8 | d8 | B8 | A8 |\n"
    )
)


@pytest.mark.parametrize("slices", [0, 1, 7, 60, 100_000])
def test_however_far_the_slices_came_the_arrangement_is_the_same(slices: int) -> None:
    arrange_at = arrangements(SONG, Settings())
    for _ in islice(arrange_at.slices((1, 2), wanted=lambda: 0), slices):
        pass
    fresh = arrangements(SONG, Settings())
    assert arrange_at(0) == fresh(0)
    assert arrange_at(2) == fresh(2)


def test_the_key_that_is_wanted_comes_first() -> None:
    arrange_at = arrangements(SONG, Settings())
    alone = len(list(arrangements(SONG, Settings()).slices((5,), wanted=lambda: 5)))
    list(islice(arrange_at.slices((1, 2, 3, 4), wanted=lambda: 5), alone))
    assert set(arrange_at.made) == {5}


def test_slices_end_when_every_key_is_made() -> None:
    arrange_at = arrangements(SONG, Settings())
    list(arrange_at.slices((1, -1), wanted=lambda: 0))
    assert set(arrange_at.made) == {0, 1, -1}


def test_the_band_says_which_key_is_to_come() -> None:
    band = performance(SONG, Settings())
    assert band.lift_to_come == 0
    band.receive(KeyDown(at=1.0, heard=1.0, division="pedal", key=38))
    band.receive(Nodded(at=1.1, heard=1.1, nod="up"))
    band.receive(Nodded(at=1.2, heard=1.2, nod="up"))
    assert (band.lift_to_come, band.view().lift) == (2, 0)


def test_span_and_coupling_come_from_the_settings() -> None:
    narrow = arrangements(SONG, Settings(span=12, fullness=4))(0)
    for notes in narrow.voicings.values():
        assert all(max(keys) - min(keys) <= 12 for keys in notes if keys)
    coupled = arrangements(SONG, Settings(coupled=True))(0)
    first = [note for note in coupled.levels[4] if note.position < 4]
    assert first
    assert max(note.pitch for note in first) < 62  # the tune's D


SLOWER = unfold(
    read_chart(
        "title = Song\nkey = D\nmeter = 4/4\ntempo = 140\nfeel = straight eighths\n\n"
        "== Verse ==\n| D | G A | Bm | D |\n\n== Chorus ==\ntempo = 70\n| G | A | Bm | D |\n"
    )
)


@pytest.mark.parametrize("begins", [{"from_bar": 4}, {"practise": "Chorus"}], ids=["bar", "section"])
def test_figure_and_pulse_take_the_tempo_for_the_bar_in_which_the_band_begins(begins: dict[str, Any]) -> None:
    wished = Settings(tempo=105.0, **begins)  # half as fast again as the chorus is written: the verse goes at 210
    assert performance(SLOWER, wished).view().home_bpm == pytest.approx(105.0)
    at_105, at_210 = (arrangements(SLOWER, each)(0).levels for each in (Settings(tempo=105.0), Settings(tempo=210.0)))
    assert arrangements(SLOWER, wished)(0).levels == at_210
    assert at_105 != at_210
