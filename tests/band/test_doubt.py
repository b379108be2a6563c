"""Jumps, and what sounds while the place is in doubt. The rules are the tool's own; no outside source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.band.events import Told
from tests.band.rehearsing import DOORS, Rehearsal, lift, pedal, tune

C, A = 36, 45


def test_a_section_taken_again_is_found_with_its_first_foot(rehearse):
    band = rehearse(DOORS)
    at = band.walk(0, 7, 1.0)  # verse and chorus
    band.hear(pedal(at, C))
    assert band.places()[-1] == (at, 4), "the chorus again, though the bridge was next"


def test_two_feet_find_a_section_whose_first_foot_was_missed(rehearse):
    band = rehearse(DOORS)
    at = band.walk(0, 7, 1.0)
    band.walk(5, 6, at + 2.0)
    assert band.places()[-1][1] == 6


@pytest.mark.parametrize("beat", [0.5, 1.0, 1.5])
def test_a_jump_begins_at_a_bar_line_so_a_foot_inside_the_bar_is_none(rehearse, beat):
    """The bar before the bridge ends two seconds after its foot."""
    band = rehearse(DOORS)
    at = band.walk(0, 7, 1.0)
    band.hear(pedal(at - 2.0 + beat, C))
    assert band.places()[-1][1] == 7


def in_doubt(rehearse, rival: int) -> Rehearsal:
    """The second bar played through, another change being nearly as likely."""
    band = rehearse(DOORS)
    band.walk(0, 0, 1.0)
    band.hear(pedal(3.0, A))
    listening = band.band.listening
    (best, *_) = listening.hypotheses
    listening.hypotheses = best.weighing(0.55), replace(best, change=rival, weight=0.45)
    band.until(4.9)
    return band


def test_in_doubt_only_what_the_likely_chords_share(rehearse):
    """Am or F: A and C belong to both (common practice, no source)."""
    band = in_doubt(rehearse, 2)
    heard = {note.pitch % 12 for note in band.starts(3.1)}
    assert heard
    assert heard <= {9, 0}


def test_once_it_is_believed_the_whole_chord_sounds(rehearse):
    band = rehearse(DOORS)
    band.walk(0, 0, 1.0)
    band.hear(pedal(3.0, A))
    band.until(4.9)
    assert {note.pitch % 12 for note in band.starts(3.1)} >= {0, 4}


def test_where_likely_chords_share_nothing_the_figure_is_silent(rehearse):
    band = in_doubt(rehearse, 5)  # A minor, B flat
    assert not band.starts(3.1)


# -- after a hold or a breath, without feet ---------------------------------------------------------------------------

REST = """
title = Rest
key = D
tempo = quarter 120
feel = quarters

== Roadmap ==
Verse
Bridge    manuals only
Ending

== Verse ==
| D | G | A | D (breath) |

== Bridge ==
| Bm | G | Em | A |

== Ending ==
| D |]
"""


def test_after_a_breath_the_tune_is_the_cue_where_the_feet_rest(rehearse):
    band = rehearse(REST)
    band.hear(tune(1.0))
    at = band.walk(0, 3, 1.0)
    band.hear(lift(at - 0.2, 74, division="melody"))
    band.until(at + 0.6)
    assert band.states()[-1] == "holding"
    band.hear(tune(at + 0.7, 71))
    assert band.places()[-1] == (at + 0.7, 4)
    band.until(at + 1.3)
    assert band.starts(at + 0.65)


def test_after_a_breath_the_first_foot_is_for_the_bar_that_waits_though_the_root_goes_on(rehearse):
    """Two seconds of breath: the foot comes when the bar after the next would have been due."""
    band = rehearse(
        "title = x\nkey = A\ntempo = quarter 120\n== Verse ==\n| A | D | E | A (breath) | A | A | D | A |\n"
    )
    at = band.walk(0, 3, 1.0)
    band.hear(pedal(at + 2.0, A))
    assert band.places()[-1] == (at + 2.0, 4)


def test_after_a_breath_whose_foot_was_missed_the_next_foot_brings_the_band_in(rehearse):
    """The root goes on under the new chord, and the player leaves it out: the band does not wait for it for ever."""
    verses = "| A | D | E | A (breath) | Amaj7 | F#m | D | E | A |"
    band = rehearse(f"title = x\nkey = A\ntempo = quarter 120\n== Verse ==\n{verses}\n")
    at = band.walk(0, 3, 1.0)
    band.walk(5, 6, at + 3.0)
    assert band.places()[-1][1] == 6


def test_where_no_tune_is_heard_at_all_there_is_nothing_to_wait_for(rehearse):
    band = rehearse(REST)
    at = band.walk(0, 3, 1.0)
    band.until(at + 0.1)
    assert band.places()[-1][1] == 4


def test_a_tune_that_goes_on_without_the_awaited_foot_takes_the_band_along(rehearse):
    """Three beats of tune and no foot: the bridge began with the first of them."""
    band = rehearse(REST.replace("manuals only", ""))
    band.hear(tune(1.0))
    at = band.walk(0, 3, 1.0)
    band.hear(lift(at - 0.2, 74, division="melody"))
    for beat in range(5):
        band.hear(tune(at + 1.0 + 0.5 * beat, 71), lift(at + 1.4 + 0.5 * beat, 71, division="melody"))
        if beat == 2:
            assert band.places()[-1][1] == 3
        if beat == 3:
            assert band.places()[-1][1] == 4
    assert any("with the tune" in action.text for action in band.done if isinstance(action, Told))
    assert band.band.time_of(band.route.changes[5].position) == pytest.approx(at + 3.0, abs=0.1)


def test_the_left_hand_on_the_figure_s_manual_is_heard(rehearse):
    """The figure is silent then, and what the hand plays speaks for the place."""
    band = rehearse(DOORS)
    band.walk(0, 0, 1.0)
    band.hear(replace(tune(1.6, 60), division="figure"))
    before = band.band.listening.hypotheses
    band.hear(replace(tune(2.02, 64), division="figure"))
    assert band.band.listening.hypotheses != before
