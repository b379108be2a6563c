"""Nods: what a leader asks for with a nod, and when the band does it."""

from __future__ import annotations

import pytest

from liveassist.band.asking import ACTS
from liveassist.band.events import NodTaken, Told
from liveassist.band.nods import NODS
from tests.band.rehearsing import nod, pedal, sounding_after

D, G, A, B = 38, 43, 45, 47


def test_every_nod_has_an_act_and_a_key_of_its_own():
    assert set(ACTS) == set(NODS)
    keys = [one.key for one in NODS.values() if one.key]
    assert len(keys) == len(set(keys))


def test_again_takes_the_section_once_more(rehearse):
    band = rehearse()
    band.walk(0, 2, 1.0)
    band.hear(nod(5.2, "again"))
    end = band.walk(3, 4, 6.0)
    band.walk(0, 1, end)
    assert [change for _, change in band.places()] == [0, 1, 2, 3, 4, 0, 1]


def test_a_nod_means_nothing_before_the_start(rehearse):
    band = rehearse()
    actions = band.hear(nod(1.0, "again"))
    assert not any(isinstance(action, NodTaken) for action in actions)
    assert any(isinstance(action, Told) for action in actions)


def test_vamp_goes_round_at_the_next_bar_line_until_on(rehearse):
    band = rehearse(patience="always")
    band.walk(0, 1, 1.0)
    band.hear(nod(5.5, "vamp", 2))
    band.until(13.9)
    assert [change for _, change in band.places()][2:] == [2, 3, 1, 2, 3, 1, 2, 3][: len(band.places()) - 2]
    band.hear(nod(14.0, "on"))
    band.until(16.2)
    assert band.states()[-1] == "playing"


def test_hold_keeps_the_chord_and_the_foot_goes_on(rehearse):
    band = rehearse()
    band.walk(0, 0, 1.0)
    band.hear(pedal(3.0, B), nod(3.1, "hold"))
    assert sounding_after(band.done)
    band.until(9.0)
    assert sounding_after(band.done)
    band.hear(pedal(9.0, G))
    assert band.places()[-1] == (9.0, 2)


def test_out_is_silent_and_keeps_the_place_until_in(rehearse):
    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(nod(5.0, "out"))
    band.walk(2, 4, 5.01)
    assert band.starts(5.0) == []
    assert band.places()[-1][1] == 4
    band.hear(nod(8.6, "in"))
    band.walk(5, 5, 9.01)
    assert band.starts(9.0)


def test_close_goes_to_the_ending_at_the_end_of_the_section(rehearse):
    band = rehearse()
    band.walk(0, 2, 1.0)
    band.hear(nod(5.5, "close"))
    end = band.walk(3, 4, 6.0)
    band.hear(pedal(end, G))
    section = band.route.bars[band.route.changes[band.places()[-1][1]].bar].section
    assert section == "Ending"
    assert band.states()[-1] == "ending"


def test_tag_plays_the_last_bars_once_more(rehearse):
    band = rehearse()
    band.walk(0, 3, 1.0)
    band.hear(nod(6.5, "tag", 2))
    end = band.walk(4, 4, 7.0)
    end = band.walk(2, 4, end)
    band.walk(5, 5, end)
    assert [change for _, change in band.places()] == [0, 1, 2, 3, 4, 2, 3, 4, 5]


def test_cut_ends_everything_at_once(rehearse):
    band = rehearse()
    band.walk(0, 0, 1.0)
    band.hear(pedal(3.0, B), nod(3.01, "cut"))
    assert sounding_after(band.done) == set()
    assert band.until(6.0)[-1].state == "tacet"


def test_a_new_key_asked_for_in_a_hold_is_told_to_come_after_it(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D), pedal(3.0, B), nod(3.1, "hold"))
    told = [action.text for action in band.hear(nod(4.0, "up")) if isinstance(action, Told)]
    assert told == ["the new key comes after this hold, at the next bar line"]
    assert not any(isinstance(action, Told) for action in band.hear(nod(4.5, "down"))), "nothing waits any more"


@pytest.mark.parametrize(("name", "semitones"), [("up", 1), ("down", -1)])
def test_the_key_lifts_at_the_next_bar_line(rehearse, name, semitones):
    band = rehearse()
    band.hear(pedal(1.0, D), nod(2.2, name))
    before = {note.pitch % 12 for note in band.starts()}
    assert before == {2, 6, 9}
    band.hear(pedal(3.0, B + semitones))
    assert band.places()[-1][1] == 1
    assert {note.pitch % 12 for note in band.starts(3.0)} == {(pc + semitones) % 12 for pc in (11, 2, 6)}


def test_fuller_and_thinner_stay_within_one_to_four(rehearse):
    band = rehearse()
    band.hear(*[nod(1 + k / 10, "fuller") for k in range(6)])
    assert band.band.view().fullness == 4
    band.hear(*[nod(2 + k / 10, "thinner") for k in range(6)])
    assert band.band.view().fullness == 1


def test_taps_set_the_tempo(rehearse):
    band = rehearse()
    band.hear(*[nod(1 + 0.6 * k, "tap") for k in range(4)])
    assert band.band.view().bpm == pytest.approx(100, abs=0.1)
    band.hear(pedal(6.0, D))
    band.until(7.9)
    assert [at for at, _ in band.beats()] == pytest.approx([6.0, 6.6, 7.2, 7.8])


def test_count_counts_one_bar_and_begins(rehearse):
    band = rehearse(lead="pulse", click=True)
    band.hear(nod(1.0, "count"))
    band.until(3.2)
    assert band.states() == ["count-in", "playing"]
    assert band.places() == [(3.0, 0)]
    clicks = [action.at for action in band.done if getattr(action, "part", "") == "click" and hasattr(action, "pitch")]
    assert clicks[0] == 1.0


def test_to_goes_to_a_step_of_the_roadmap_at_the_next_bar_line(rehearse):
    band = rehearse()
    band.walk(0, 0, 1.0)
    band.hear(pedal(3.0, B), nod(3.2, "to", 3))
    band.hear(pedal(5.0, G))
    where = band.route.bars[band.route.changes[band.places()[-1][1]].bar]
    assert (where.section, where.pass_) == ("Chorus", 2)


def test_an_unknown_nod_changes_nothing(rehearse):
    band = rehearse()
    actions = band.hear(nod(1.0, "louder"))
    assert [type(action) for action in actions] == [Told]
