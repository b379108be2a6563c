"""The feet lead: the root in the pedal is the cue (common practice, no source)."""

from __future__ import annotations

import pytest

from tests.band.rehearsing import lift, pedal, sounding_after, tune

D, E, FIS, G, A, B = 38, 40, 42, 43, 45, 47


def test_nothing_sounds_until_the_first_foot(rehearse):
    band = rehearse()
    band.until(5.0)
    assert band.done == []
    band.hear(pedal(6.0, D))
    assert band.places() == [(6.0, 0)]
    assert {note.at for note in band.starts()} == {6.0}


def test_tacet_is_deaf(rehearse):
    band = rehearse(armed=False)
    band.walk(0, 3, 1.0)
    assert band.done == []


def test_the_figure_keeps_the_pulse_between_changes(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D))
    band.until(2.9)
    assert sorted({round(note.at, 3) for note in band.starts()}) == [1.0, 1.5, 2.0, 2.5]


def test_each_foot_moves_the_harmony_on(rehearse):
    band = rehearse()
    end = band.walk(0, 4, 1.0)
    assert [change for _, change in band.places()] == [0, 1, 2, 3, 4]
    assert [at for at, _ in band.places()] == [1.0, 3.0, 5.0, 6.0, 7.0]
    assert end == 9.0


def test_an_attack_waits_for_a_late_foot_and_sounds_with_it(rehearse):
    band = rehearse()
    band.walk(0, 0, 1.0)
    band.hear(pedal(3.05, B))
    assert [note.at for note in band.starts(2.9, 3.2)] == [3.05] * len(band.starts(2.9, 3.2))
    assert band.starts(2.9, 3.2)


def test_an_early_foot_inside_the_grace_moves_the_harmony_at_once(rehearse):
    band = rehearse()
    band.walk(0, 3, 1.0)
    band.hear(pedal(6.95, D))
    assert band.places()[-1] == (6.95, 4)


def test_the_downbeat_is_skipped_when_the_grace_runs_out(rehearse):
    band = rehearse()
    end = band.walk(0, 4, 1.0)
    band.until(end + 0.45)
    assert band.starts(end - 0.02, end + 0.45) == []
    assert band.places()[-1][1] == 5, "patience 1: carried on through one missing foot"
    band.until(end + 0.6)
    assert band.starts(end + 0.45, end + 0.6), "the figure is back on the second beat"


def test_after_two_missing_feet_it_vamps_and_never_runs_further(rehearse):
    band = rehearse()
    band.walk(0, 4, 1.0)
    band.until(30.0)
    assert max(change for _, change in band.places()) == 5
    assert "vamping" in band.states()


@pytest.mark.parametrize(("patience", "furthest"), [("0", 4), ("1", 5), ("2", 6), ("always", 17)])
def test_patience_is_how_many_missing_changes_it_carries_on_through(rehearse, patience, furthest):
    band = rehearse(patience=patience)
    band.hear(*[pedal(at, key) for at, key in ((1.0, D), (3.0, B), (5.0, G), (6.0, A), (7.0, D))])
    band.until(60.0)
    assert max(change for _, change in band.places()) == furthest, "the ending is never entered by the clock alone"


def test_a_vamp_goes_on_with_the_foot(rehearse):
    band = rehearse(patience="0")
    end = band.walk(0, 1, 1.0)
    band.until(end + 0.8)
    assert band.states()[-1] == "vamping"
    band.hear(pedal(end + 0.83, G))
    assert band.states()[-1] == "playing"
    assert band.places()[-1] == (round(end + 0.83, 3), 2)


def test_a_vamp_falls_silent_when_nobody_plays(rehearse):
    band = rehearse(patience="0")
    end = band.walk(0, 1, 1.0)
    band.until(end + 20)
    assert band.starts(end + 3.0) == []
    assert sounding_after(band.done) == set()


def test_a_wrong_note_in_time_is_taken_as_a_slip(rehearse):
    band = rehearse()
    band.walk(0, 3, 1.0)
    band.hear(pedal(7.0, D + 1))  # a slip to the neighbour
    assert band.places()[-1][1] == 4
    band.hear(pedal(9.0, G))
    assert band.places()[-1][1] == 5


@pytest.mark.parametrize(
    ("name", "events"),
    [
        ("fifth", [(7.5, A)]),
        ("octave", [(8.0, D + 12)]),
        ("repeated root", [(8.0, D)]),
        ("passing note", [(8.5, FIS)]),
        ("a note on every beat", [(7.5, D), (8.0, D), (8.5, D)]),
        ("walk", [(7.5, E), (8.0, FIS)]),
    ],
)
def test_notes_that_are_no_cue_change_nothing(rehearse, name, events):
    band = rehearse()
    band.walk(0, 4, 1.0)
    for at, key in events:
        band.hear(pedal(at, key), lift(at + 0.2, key))
    assert [change for _, change in band.places()] == [0, 1, 2, 3, 4]
    band.hear(pedal(9.0, G))
    assert band.places()[-1] == (9.0, 5)


def test_two_feet_at_once_are_one(rehearse):
    band = rehearse()
    band.walk(0, 3, 1.0)
    band.hear(pedal(7.0, D), pedal(7.02, D + 7), lift(7.5, D), lift(7.5, D + 7))
    assert [change for _, change in band.places()][-1] == 4
    band.until(8.9)
    assert [change for _, change in band.places()][-1] == 4


def test_the_lowest_of_two_feet_leads(rehearse):
    band = rehearse()
    band.walk(0, 3, 1.0)
    band.hear(pedal(7.0, A), pedal(7.03, D))
    assert [change for _, change in band.places()][-1] == 4


def test_a_foot_early_by_an_eighth_waits_for_its_beat(rehearse):
    band = rehearse()
    band.walk(0, 4, 1.0)
    band.hear(pedal(8.7, G))  # the chorus is due at 9.0 and the foot stays down
    assert band.places()[-1][1] == 4
    band.until(9.2)
    at, change = band.places()[-1]
    assert change == 5
    assert at == pytest.approx(9.0, abs=0.08)


def test_an_early_foot_struck_again_on_the_beat_is_the_cue(rehearse):
    band = rehearse()
    band.walk(0, 4, 1.0)
    band.hear(pedal(8.7, G), lift(8.85, G), pedal(9.0, G))
    assert band.places()[-1] == (9.0, 5)


def test_a_section_taken_again_is_found_within_two_cues(rehearse):
    band = rehearse()
    end = band.walk(0, 8, 1.0)  # verse and chorus
    at = end
    for change in (5, 6, 7):  # the chorus again, unplanned
        at = band.walk(change, change, at)
    where = band.route.changes[band.band.view().change]
    assert where.chord.symbol == "Em"
    assert band.route.bars[where.bar].section == "Chorus"


def test_the_same_written_bass_never_waits(rehearse):
    band = rehearse("title=x\nkey=D\ntempo=120\n== Verse ==\n| D | D7 | G | A | D |")
    band.hear(pedal(1.0, D))
    band.until(3.01)
    assert band.places() == [(1.0, 0), (3.0, 1)]


def test_manuals_only_goes_on_without_the_feet(rehearse):
    text = "title=x\nkey=D\ntempo=120\n== Roadmap ==\nVerse\nBridge manuals only\nVerse\n"
    band = rehearse(text + "== Verse ==\n| D | A |\n== Bridge ==\n| Bm | G | Em | A |\n")
    band.walk(0, 1, 1.0)
    band.until(12.9)
    assert [at for at, _ in band.places()] == pytest.approx([1.0, 3.0, 5.0, 7.0, 9.0, 11.0], abs=0.01)
    band.hear(pedal(13.05, D))
    assert band.places()[-1][1] == 6


@pytest.mark.parametrize(
    ("name", "moving", "foot_down", "goes_on"),
    [
        ("pedal point", True, True, True),
        ("manuals only", True, False, True),
        ("fermata", False, True, False),
        ("breath", False, False, False),
    ],
)
def test_what_is_known_decides_whether_the_harmony_goes_on(rehearse, name, moving, foot_down, goes_on):
    band = rehearse(patience="0" if goes_on else "always")
    band.hear(tune(1.0), pedal(1.0, D), tune(2.0), lift(2.8, D))
    band.hear(pedal(3.0, B), tune(3.0, 71))
    if not foot_down:
        band.hear(lift(4.5, B))
    if moving:
        band.hear(tune(5.0, 76))
    band.until(5.4)
    assert (band.places()[-1][1] == 2) is goes_on


def test_the_ending_waits_for_its_foot_and_the_last_chord_for_the_last_key(rehearse):
    band = rehearse(patience="always")
    end = band.walk(0, 17, 1.0)
    band.until(end + 10)
    assert "ending" not in band.states()
    at = end + 11
    band.hear(pedal(at, G), lift(at + 1.8, G), pedal(at + 2, A), lift(at + 3.8, A), pedal(at + 4, D))
    assert band.states()[-1] == "ending"
    band.until(at + 20)
    assert sounding_after(band.done), "the last chord is held with the foot"
    band.hear(lift(at + 20, D))
    assert sounding_after(band.done) == set()
    band.until(at + 23)
    assert band.states()[-1] == "fine"
    band.until(at + 30)
    assert band.states()[-1] == "tacet"


def test_a_hold_stands_until_the_foot_and_keeps_the_old_tempo(rehearse):
    band = rehearse("title=x\nkey=D\ntempo=120\n== Verse ==\n| D | A (hold) | G | A | D |")
    band.hear(pedal(1.0, D), lift(2.9, D), pedal(3.0, A))
    band.until(11.0)
    assert sounding_after(band.done), "held with the foot"
    assert band.states()[-1] == "holding"
    band.hear(lift(11.0, A), pedal(11.3, G))
    band.until(13.25)
    assert band.places()[-1] == (11.3, 2)
    assert [at for at, _ in band.beats()][-4:] == pytest.approx([11.3, 11.8, 12.3, 12.8], abs=0.02)
    assert not [at for at, _ in band.beats() if 3.1 < at < 11.2], "no beats in a hold"


def test_the_players_own_hand_on_the_figures_manual_takes_over(rehearse):
    from liveassist.band.events import KeyDown

    band = rehearse()
    band.walk(0, 1, 1.0)
    band.hear(KeyDown(at=5.01, heard=5.01, division="figure", key=60))
    assert sounding_after(band.done) == set()
    band.walk(2, 4, 5.0 + 0.02)
    assert band.starts(5.02) == []


def test_a_late_delivery_never_pulls_time_backwards(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D))
    band.until(3.3)
    band.hear(pedal(3.0, B, heard=3.35))
    times = [action.at for action in band.done]
    assert times == sorted(times)
    assert band.places()[-1][1] == 1
