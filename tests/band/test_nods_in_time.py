"""When a nod is taken: at the bar line, in a vamp, before the start, at the end."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.band.events import NoteOn, PlaceIs, Told
from liveassist.band.hypothesis import CUE
from liveassist.band.listening import Verdict
from tests.band.rehearsing import Rehearsal, lift, nod, pedal, press, sounding_after, tune

D, E, G, A, B = 38, 40, 43, 45, 47
HEAD = "title = x\nkey = D\ntempo = quarter 120\nfeel = quarters\n"
FOUR = HEAD + "== Verse ==\n| D | G | A | D |\n"
LONG = HEAD + "== Verse ==\n| D | / / / / | / / / / | / / / / |\n== Chorus ==\n| G | A |\n"


def changes(band: Rehearsal) -> list[int]:
    return [change for _, change in band.places()]


def clicks(band: Rehearsal) -> list[float]:
    return [round(action.at, 3) for action in band.done if isinstance(action, NoteOn) and action.part == "click"]


# -- vamps ------------------------------------------------------------------------------------------------------------


def test_the_band_says_that_it_vamps_for_as_long_as_the_vamp_goes_round(rehearse):
    band = rehearse(patience="always")
    band.walk(0, 1, 1.0)
    band.hear(nod(5.5, "vamp", 2))
    band.until(13.0)
    assert band.states() == ["playing", "vamping"]


def test_a_marked_vamp_further_on_is_played_up_to_as_written(rehearse):
    band = rehearse(HEAD + "== Verse ==\n| D | G |\n== Chorus ==\n| A (vamp) | G (end vamp) | D |\n")
    band.hear(pedal(1.0, D), nod(1.5, "vamp"))
    assert band.states()[-1] == "playing"
    band.hear(pedal(3.0, G), pedal(5.0, A))
    assert band.states()[-1] == "vamping"
    band.until(12.0)
    assert changes(band) == [0, 1, 2, 3, 2, 3]


def test_a_vamp_over_one_long_chord_keeps_its_place_under_the_tune(rehearse):
    band = rehearse(LONG, patience="always")
    band.hear(pedal(1.0, D), nod(5.2, "vamp", 2))
    band.hear(tune(9.5), tune(10.0))
    band.until(12.9)
    times = [at for at, _ in band.beats()]
    assert times == pytest.approx([1.0 + 0.5 * k for k in range(24)], abs=0.02)
    assert [position for _, position in band.beats()][12:20] == ["4", "5", "6", "7", "8", "9", "10", "11"]


def test_a_vamp_that_is_asked_for_while_a_cue_is_missing_goes_round_its_bars(rehearse):
    band = rehearse(patience="0")
    band.walk(0, 3, 1.0)
    band.hear(pedal(7.0, D))  # and no foot for the chorus
    band.until(10.0)
    band.hear(nod(10.1, "vamp", 2))
    band.until(14.5)
    assert changes(band)[-3:] == [2, 3, 4]


def test_on_leaves_a_vamp_on_a_missing_cue_without_one(rehearse):
    band = rehearse(patience="0")
    band.hear(pedal(1.0, D), pedal(3.0, B))
    band.until(6.0)
    assert band.states()[-1] == "vamping"
    band.hear(nod(6.1, "on"))
    assert band.states()[-1] == "playing"
    band.until(7.1)
    assert changes(band) == [0, 1, 2]


def test_on_after_silence_goes_on_at_once_and_counts_no_beat_twice(rehearse):
    band = rehearse(patience="0")
    band.walk(0, 1, 1.0)
    band.until(20.0)
    assert band.states()[-1] == "holding"
    band.hear(nod(20.0, "on"))
    band.until(21.9)
    assert band.places()[-1] == (20.0, 2)
    assert [at for at, _ in band.beats() if at > 19] == pytest.approx([20.0, 20.5, 21.0, 21.5], abs=0.05)


def test_a_vamp_on_a_chord_that_comes_off_the_beat_keeps_the_beat(rehearse):
    band = rehearse(HEAD + "== Verse ==\n| D / &Em / / | A |\n", patience="0")
    band.hear(pedal(1.0, D), lift(2.0, D), pedal(2.25, E))
    band.until(6.4)
    assert changes(band) == [0, 1]
    assert [at for at, _ in band.beats()] == pytest.approx([1.0 + 0.5 * k for k in range(11)], abs=0.05)


def test_a_vamp_thins_to_a_held_chord_in_a_feel_that_leaves_the_first_beat_out(rehearse):
    band = rehearse(HEAD.replace("quarters", "off-beats") + "== Verse ==\n| D | G | A |\n", patience="0")
    band.hear(pedal(1.0, D))
    band.until(11.5)
    assert [note.at for note in band.starts(8.8)] == pytest.approx([9.0] * 3 + [11.0] * 3, abs=0.05)


@pytest.mark.parametrize(("unit", "reached"), [("bar", 0), ("section", 5)])
def test_a_press_of_a_bar_or_a_section_moves_on_in_a_vamp_of_one_bar(rehearse, unit, reached):
    band = rehearse(lead="switch", switch_unit=unit)
    band.hear(press(1.0, unit), nod(2.0, "vamp", 1), press(2.9, unit))
    assert changes(band)[-1] == reached


# -- again, close, the last chord -------------------------------------------------------------------------------------


def test_again_repeats_a_section_of_one_bar_once(rehearse):
    band = rehearse(HEAD + "== Verse ==\n| D |\n== Chorus ==\n| G | A |\n", lead="pulse")
    band.hear(nod(0.5, "count"), nod(3.0, "again"))
    band.until(8.6)
    assert changes(band) == [0, 0, 1, 2]


def test_again_in_the_last_section_goes_on_through_the_last_chord(rehearse):
    band = rehearse(FOUR)
    band.walk(0, 2, 1.0)
    band.hear(nod(6.5, "again"))
    band.walk(3, 3, 7.0)
    band.until(9.2)
    assert changes(band) == [0, 1, 2, 3, 0], "asked for with a nod, it needs no foot"


def test_close_lets_the_clock_into_the_ending_and_to_its_end(rehearse):
    band = rehearse(patience="always")
    band.walk(0, 2, 1.0)
    band.hear(nod(5.5, "close"))
    band.until(30.0)
    sections = [band.route.bars[band.route.changes[change].bar].section for change in changes(band)]
    assert sections[-4:] == ["Verse", "Ending", "Ending", "Ending"]
    assert band.states()[-3:] == ["ending", "fine", "tacet"]


def test_close_in_the_last_section_plays_its_end_once(rehearse):
    band = rehearse(FOUR, lead="pulse")
    band.hear(nod(0.5, "count"), nod(4.0, "close"))
    band.until(20.0)
    assert changes(band) == [0, 1, 2, 3]
    assert band.states()[-2:] == ["fine", "tacet"]


def test_to_is_taken_at_its_bar_line_though_no_foot_comes(rehearse):
    band = rehearse(patience="0")
    band.hear(pedal(1.0, D), nod(2.0, "to", 3))
    band.until(3.5)
    assert changes(band) == [0, 14]


def test_the_last_chord_of_a_switch_player_is_held_until_the_next_press(rehearse):
    band = rehearse(HEAD + "== Verse ==\n| D | G A |\n", lead="switch", switch_unit="bar")
    band.hear(press(1.0, "bar"), press(3.0, "bar"))
    band.until(20.0)
    assert changes(band) == [0, 1, 2]
    assert sounding_after(band.done)
    band.hear(press(20.0, "bar"))
    assert band.states()[-1] == "fine"


# -- hold -------------------------------------------------------------------------------------------------------------


def test_hold_between_two_attacks_strikes_the_chord_and_keeps_it(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D), pedal(3.0, B), nod(3.45, "hold"))
    band.until(9.0)
    assert {pitch % 12 for _, pitch in sounding_after(band.done)} == {11, 2, 6}


def test_hold_keeps_no_click(rehearse):
    band = rehearse(click=True)
    band.hear(pedal(1.0, D), nod(1.01, "hold"))
    band.until(2.0)
    assert {part for part, _ in sounding_after(band.done)} == {"figure"}


@pytest.mark.parametrize("foot", [2.98, 3.0, 3.03])
def test_the_beat_of_a_held_chord_is_told_once_however_its_foot_comes(rehearse, foot):
    band = rehearse(HEAD + "== Verse ==\n| D | A (hold) | G | D |\n")
    band.hear(pedal(1.0, D), pedal(foot, A))
    band.until(9.0)
    assert [position for _, position in band.beats()] == ["0", "1", "2", "3", "4"]


# -- before the start -------------------------------------------------------------------------------------------------


def test_a_key_lifted_before_the_start_is_the_key_of_the_first_chord(rehearse):
    band = rehearse()
    band.hear(nod(0.5, "up"), pedal(1.0, D + 1))
    assert changes(band) == [0]
    assert {note.pitch % 12 for note in band.starts()} == {3, 7, 10}


def test_the_next_time_through_the_song_begins_in_its_own_key(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D), nod(1.5, "up"), pedal(3.0, B + 1), nod(4.0, "cut"), nod(5.0, "ready"), pedal(6.0, D))
    assert band.places()[-1] == (6.0, 0)


def test_taps_while_tacet_are_the_tempo_of_the_next_start(rehearse):
    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(nod(5.0, "tacet"), *[nod(6 + 0.6 * k, "tap") for k in range(4)], nod(9.0, "ready"))
    assert band.band.view().bpm == pytest.approx(100, abs=0.1)


def test_taps_in_the_count_in_move_its_clicks_too(rehearse):
    band = rehearse(lead="pulse", click=True, count_in=2, subdivision="none")
    band.hear(nod(1.0, "count"), nod(2.0, "tap"), nod(3.0, "tap"))
    band.until(9.5)
    assert clicks(band)[-6:] == pytest.approx([4.0, 5.0, 6.0, 7.0, 8.0, 9.0])


def test_a_tap_falls_on_a_beat_after_a_pickup_of_half_a_beat(rehearse):
    band = rehearse(HEAD + "pickup = 1/2\n== Verse ==\n| D | G | A | D |\n", lead="pulse")
    band.hear(nod(1.0, "count"))
    band.until(6.0)
    beats = [at for at, _ in band.beats()]
    band.hear(nod(beats[-1] + 0.5, "tap"), nod(beats[-1] + 1.0, "tap"))
    band.until(beats[-1] + 3.2)
    assert [at for at, _ in band.beats()] == pytest.approx([beats[0] + 0.5 * k for k in range(len(band.beats()))])


def test_a_tap_that_bounces_is_one_tap(rehearse):
    band = rehearse()
    band.hear(nod(1.0, "tap"), nod(1.02, "tap"), nod(1.6, "tap"))
    assert band.band.view().bpm == pytest.approx(100, abs=0.1)


def test_count_in_clicks_every_beat_before_a_pickup_of_half_a_beat(rehearse):
    band = rehearse(HEAD + "pickup = 1/2\n== Verse ==\n| D | G | A | D |\n", lead="pulse", click=True, count_in=1)
    band.hear(nod(1.0, "count"))
    band.until(6.0)
    assert clicks(band)[:10] == pytest.approx([1.0 + 0.5 * k for k in range(10)])


@pytest.mark.parametrize(("from_bar", "first", "at"), [(1, 1, 4.5), (2, 1, 4.5), (99, 2, 4.5)])
def test_a_start_in_the_middle_of_a_chord_begins_with_the_next(rehearse, from_bar, first, at):
    text = HEAD + "== Verse ==\n| D | / / / / | / / / / | G | A | / / / / |\n"
    band = rehearse(text, lead="pulse", from_bar=from_bar, count_in=1)
    band.hear(nod(2.5, "count"))
    band.until(at + 0.6)
    assert band.places()[0] == (at, first)
    assert [time for time, _ in band.beats()] == [at, at + 0.5]


# -- what is written --------------------------------------------------------------------------------------------------


def test_a_pushed_chord_is_not_struck_again_on_its_beat_and_a_late_one_comes_late(rehearse):
    text = HEAD + "== Verse ==\n| D | G (push) | A (late) | D |\n"
    band = rehearse(text, lead="pulse", count_in=1)
    band.hear(nod(1.0, "count"))
    band.until(8.0)
    assert sorted({round(note.at, 2) for note in band.starts(4.8, 5.4)}) == []
    assert 4.75 in {round(note.at, 2) for note in band.starts()}
    assert [round(note.at, 2) for note in band.starts(6.95, 7.3)] == [7.25] * 3
    assert [at for at, _ in band.places()] == [3.0, 5.0, 7.0]


def test_every_beat_is_clicked_though_the_attack_waits_for_its_foot(rehearse):
    band = rehearse(click=True)
    band.walk(0, 4, 1.0, late=(0.02,))
    assert len(clicks(band)) == len(band.beats())
    assert clicks(band) == [at for at, _ in band.beats()]


def test_a_foot_that_is_delivered_too_late_moves_the_harmony_without_its_attack(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D), pedal(2.98, B, heard=3.19))
    assert changes(band) == [0, 1]
    assert band.starts(2.9, 3.4) == []
    band.until(3.6)
    assert {note.pitch % 12 for note in band.starts(3.4)} == {11, 2, 6}


def test_a_foot_long_ago_is_no_twin_of_the_latest(rehearse):
    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(pedal(5.0, G))
    before = band.band.listening.hypotheses
    band.hear(pedal(2.0, A, heard=5.05))
    assert band.band.listening.hypotheses != before


def test_carrying_on_is_told_with_less_belief(rehearse):
    band = rehearse()
    band.walk(0, 4, 1.0)
    band.until(9.5)
    told = [action for action in band.done if isinstance(action, PlaceIs)]
    assert told[-1].change == 5
    assert told[-1].sure < 0.8 * told[-2].sure


def test_inside_the_ending_a_missing_foot_is_missed_as_anywhere(rehearse):
    band = rehearse(HEAD + "== Verse ==\n| D | G |\n== Ending ==\n| D | A | G | D |\n")
    band.walk(0, 3, 1.0)
    band.until(9.5)
    assert changes(band) == [0, 1, 2, 3, 4], "only its door and its last chord wait"


def test_a_held_chord_whose_foot_is_missing_comes_in_on_the_next_beat(rehearse):
    band = rehearse(HEAD.replace("quarters", "held") + "== Verse ==\n| D | G | A | D |\n", patience="1")
    band.hear(pedal(1.0, D))
    band.until(3.45)
    assert band.starts(2.5) == []
    band.until(4.8)
    assert {note.at for note in band.starts(2.5)} == {3.5}
    assert {pitch % 12 for _, pitch in sounding_after(band.done)} == {7, 11, 2}


def test_a_foot_is_named_as_its_chord_spells_it(rehearse):
    band = rehearse("title = x\nkey = Am\ntempo = 120\n== Verse ==\n| Am | D7/F# | F | Am |\n")
    band.hear(pedal(1.0, A), pedal(3.0, 42))
    assert [action.text for action in band.done if isinstance(action, Told)][-1].startswith("F♯")


def test_a_chord_that_the_listening_finds_bars_late_begins_with_its_foot(rehearse, monkeypatch):
    band = rehearse(HEAD + "== Verse ==\n| D | G | / / / / | / / / / | A | D |\n")
    band.hear(pedal(1.0, D))
    band.until(7.3)
    assert band.places()[-1][1] == 1, "carried on through"
    best = band.band.listening.hypotheses[0]
    count = best.pulse.count_at(7.4)
    found = replace(best, change=1, count=count, pulse=best.pulse.restarted(count, 7.4), kind=CUE, out_of_time=True)
    monkeypatch.setattr(band.band.listening, "foot", lambda *_, **__: Verdict(CUE, found, 0.9, 0.9, True))
    monkeypatch.setattr(band.band.listening, "hypotheses", (found,))
    band.hear(pedal(7.4, G))
    band.until(9.3)
    assert {round(note.at, 2) for note in band.starts(7.35)} == {7.4, 7.9, 8.4, 8.9}
    assert band.beats()[-4:] == [(7.4, "4"), (7.9, "5"), (8.4, "6"), (8.9, "7")]
