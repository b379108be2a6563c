"""The tune that stands in the chart: where it is heard, the band is, feet or not."""

from __future__ import annotations

import pytest

from charts.melody import joined, readable_melody
from liveassist.band import states
from liveassist.band.events import KeyDown, Told
from tests.band.rehearsing import Rehearsal, lift, nod, pedal, tune

SUNG = """
title = Sung
key = C
tempo = quarter 120
feel = quarters

== Roadmap ==
Verse
Chorus
Bridge
Chorus
Ending

== Verse ==
| C | Am | F | C (breath) |
melody = c2 e2 g2 e2 | a2 c'2 a2 e2 | f2 a2 c'2 a2 | g8 |

== Chorus ==
| C | Bb | Dm | E |
melody = g2 g2 a2 g2 | f2 d2 b2 d'2 | d2 f2 a2 f2 | e2 ^g2 b2 e2 |

== Bridge ==
| Eb | Ab | Eb | Bb |

== Ending ==
| F | C |]
melody = f2 c2 a2 c'2 | c8 |]
"""
"""A bar is two seconds; verse and chorus begin with the same chord."""
C, D, F, G, A, BB = 36, 38, 41, 43, 45, 46
VERSE, CHORUS, BRIDGE, CHORUS_AGAIN, ENDING = 0, 4, 8, 12, 16
BAR = 2.0


def sing(band: Rehearsal, first: int, start: float, *, bars: int = 1, notes: int = 99, octave: int = 0) -> float:
    """The written tune from a bar of the route on, in time; each note is let go just before the next. Returns when it ends."""
    route = band.route
    begin, end = route.bars[first].position, route.bars[first + bars - 1].end
    written = [note for note in joined(readable_melody(route)) if begin <= note.position < end]
    for note in written[:notes]:
        at = start + 0.5 * float(note.position - begin)
        key = note.pitch + 12 * octave
        band.hear(tune(at, key), lift(at + 0.48 * float(note.length), key, division="melody"))
    return start + 0.5 * float(end - begin)


def play(band: Rehearsal, first: int, start: float, *, bars: int = 1, without: tuple[int, ...] = ()) -> float:
    """Feet and tune from a bar of the route on, one change a bar; the feet of some changes left out."""
    for bar in range(first, first + bars):
        if bar not in without:
            band.walk(bar, bar, start)
        start = sing(band, bar, start)
    return start


def told(band: Rehearsal) -> list[str]:
    return [action.text for action in band.done if isinstance(action, Told)]


def test_without_a_foot_the_band_is_where_the_tune_is(rehearse):
    band = rehearse(SUNG, patience="0")
    play(band, VERSE, 1.0, bars=3, without=(1,))
    assert [change for _, change in band.places()] == [0, 1, 2]
    assert band.places()[1][0] == pytest.approx(1.0 + BAR, abs=0.15)
    assert not [text for text in told(band) if text.startswith("waiting")]


def test_where_feet_are_missing_the_note_that_opens_a_change_is_its_cue(rehearse):
    band = rehearse(SUNG)
    play(band, VERSE, 1.0, bars=3, without=(1, 2))
    assert band.places()[2] == (1.0 + 2 * BAR, 2)
    assert band.starts(1.0 + 2 * BAR - 0.01, 1.0 + 2 * BAR + 0.06), "an attack with it"


def test_a_note_held_over_a_change_says_that_the_player_goes_on(rehearse):
    text = SUNG.replace("a2 c'2 a2 e2 | f2 a2 c'2 a2", "a2 c'2 a4- | a4 c'2 a2")
    band = rehearse(text)
    play(band, VERSE, 1.0, bars=2)
    at = 1.0 + 2 * BAR
    band.hear(tune(at - 1.0, 81))  # the long note, still down
    band.until(at + 0.5)
    assert band.places()[-1][1] == 2


def test_a_foot_that_is_late_is_still_the_cue(rehearse):
    band = rehearse(SUNG)
    at = play(band, VERSE, 1.0, bars=2)
    band.hear(tune(at, 77), pedal(at + 0.05, F))
    assert band.places()[-1] == (round(at + 0.05, 3), 2)


def test_the_tune_tells_a_verse_taken_again_from_the_chorus(rehearse):
    """Both begin with C. The tune goes on from there as only the verse does."""
    band = rehearse(SUNG.replace(" (breath)", ""))
    at = play(band, VERSE, 1.0, bars=4)
    band.walk(VERSE, VERSE, at)
    sing(band, VERSE, at, notes=3)
    assert band.band.change == VERSE
    at = sing(band, VERSE, at)
    play(band, 1, at)
    assert band.places()[-1] == (at, 1)


def test_a_jump_whose_first_foot_is_missed_is_known_at_the_second_by_what_was_sung(rehearse):
    band = rehearse(SUNG.replace(" (breath)", ""))
    at = play(band, VERSE, 1.0, bars=8)  # the chorus over, and begun once more
    at = sing(band, CHORUS, at)
    band.hear(pedal(at, BB))
    assert band.places()[-1] == (at, CHORUS + 1)


def test_after_a_breath_the_first_two_notes_of_what_comes_next_go_on(rehearse):
    band = rehearse(SUNG)
    at = play(band, VERSE, 1.0, bars=4)
    band.until(at + 1.0)
    assert band.band.state == states.HOLDING
    band.hear(tune(at + 1.2, 72), lift(at + 1.3, 72, division="melody"))
    assert band.band.state == states.HOLDING, "no note of the chorus"
    band.hear(tune(at + 1.5, 79), lift(at + 1.9, 79, division="melody"))
    assert band.band.state == states.HOLDING, "an ornament could be that"
    band.hear(tune(at + 2.0, 79))
    assert band.places()[-1] == (round(at + 2.0, 3), CHORUS)


def test_while_a_pedal_is_down_the_tune_does_not_end_a_breath(rehearse):
    band = rehearse(SUNG)
    at = play(band, VERSE, 1.0, bars=3)
    band.hear(pedal(at, C), tune(at, 79), lift(at + 1.9, 79, division="melody"))
    band.until(at + 3.0)
    band.hear(tune(at + 3.2, 79))
    assert band.band.state == states.HOLDING


@pytest.mark.parametrize("late", [-0.05, 0.05])
def test_a_slip_of_the_first_foot_is_forgiven_where_the_tune_begins(rehearse, late):
    band = rehearse(SUNG)
    both = [(1.0, pedal(1.0, D)), (1.0 + late, tune(1.0 + late, 72))]
    band.hear(*(event for _, event in sorted(both, key=lambda pair: pair[0])))
    assert [change for _, change in band.places()] == [0]


def test_the_tune_alone_starts_nothing_nor_does_it_with_a_slip_that_is_no_beginning(rehearse):
    band = rehearse(SUNG)
    sing(band, VERSE, 1.0, bars=2)
    assert band.places() == []
    band.hear(pedal(20.0, D), tune(20.03, 76))
    assert band.places() == []


def test_a_first_foot_that_was_missed_is_known_from_the_tune_when_the_next_comes(rehearse):
    band = rehearse(SUNG)
    at = sing(band, VERSE, 1.0)
    band.hear(pedal(at, A))
    assert band.places() == [(at, 1)]


def test_into_the_ending_leads_the_note_that_opens_it_and_no_clock(rehearse):
    silent, sung = rehearse(SUNG), rehearse(SUNG)
    for band in (silent, sung):
        at = play(band, VERSE, 1.0, bars=4)
        at = play(band, CHORUS, at, bars=12)
        if band is sung:
            sing(band, ENDING, at, notes=1)
        band.until(at + 1.0)
    assert sung.places()[-1][1] == ENDING
    assert silent.places()[-1][1] == ENDING - 1


@pytest.mark.parametrize("octave", [-1, 1])
def test_a_tune_in_another_octave_is_the_tune(rehearse, octave):
    band = rehearse(SUNG, patience="0")
    at = 1.0
    for bar in range(3):
        if bar != 2:
            band.walk(bar, bar, at)
        at = sing(band, bar, at, octave=octave)
    assert [change for _, change in band.places()] == [0, 1, 2]


def test_a_player_who_comes_out_of_time_is_in_time_again_with_the_tune(rehearse):
    """No foot says so: the tune goes on a beat and a bit too late."""
    band = rehearse(SUNG)
    at = play(band, VERSE, 1.0)
    sing(band, 1, at + 0.6, bars=2)
    band.until(at + 0.6 + 2 * BAR - 0.1)
    assert band.places()[-1] == (pytest.approx(at + 0.6 + BAR, abs=0.15), 2)


def test_another_tune_than_the_written_one_leads_nowhere(rehearse):
    band = rehearse(SUNG)
    at = 1.0
    for bar in range(12):
        band.walk(bar, bar, at)
        for beat in range(4):
            band.hear(tune(at + 0.5 * beat, 71 if beat % 2 else 76))
        at += BAR + (1.0 if bar == 3 else 0.0)
    assert [change for _, change in band.places()] == list(range(12))


def test_a_place_that_comes_round_is_the_one_that_comes_now(rehearse):
    band = rehearse(SUNG)
    play(band, VERSE, 1.0, bars=4)
    assert band.band.this_time(CHORUS_AGAIN) == CHORUS
    assert band.band.this_time(CHORUS) == CHORUS
    assert band.band.this_time(BRIDGE) == BRIDGE


def test_two_pedals_clipped_at_the_first_foot_are_one_slip(rehearse):
    band = rehearse(SUNG)
    band.hear(tune(0.99, 72), pedal(1.0, D), pedal(1.03, C))
    assert [change for _, change in band.places()] == [0]


def test_a_last_line_as_introduction_begins_no_other_section(rehearse):
    band = rehearse(SUNG)
    at = sing(band, 2, 1.0, bars=2)
    band.hear(pedal(at, C))
    assert band.places() == [(at, VERSE)]


@pytest.mark.parametrize("late", [-0.02, -0.005, 0.01, 0.03])
def test_where_feet_rest_a_note_that_is_a_little_early_or_late_has_its_attack(rehearse, late):
    band = rehearse(SUNG.replace(" (breath)", ""))
    at = play(band, VERSE, 1.0)
    for bar in range(1, 6):
        sing(band, bar, at + BAR * (bar - 1) + late)
    for bar in range(2, 6):
        due = at + BAR * (bar - 1)
        assert band.starts(due - 0.06, due + 0.06), f"bar {bar + 1}"


def test_a_steady_click_is_moved_by_no_tune(rehearse):
    band = rehearse(SUNG.replace(" (breath)", ""), time="click", lead="feet")
    at = 1.0
    for bar in range(8):
        band.walk(bar, bar, at)
        sing(band, bar, at + 0.25)
        at += BAR
    assert {round(beat % 0.5, 3) for beat, _ in band.beats()} <= {0.0, 0.5}


def test_in_a_ritard_a_note_held_over_waits_for_the_foot_with_everybody(rehearse):
    text = SUNG.replace("| C | Am | F | C (breath) |", "| C | Am (rit.) | F | C |")
    text = text.replace("a2 c'2 a2 e2 | f2 a2 c'2 a2", "a2 c'2 a4- | a4 c'2 a2")
    band = rehearse(text)
    at = play(band, VERSE, 1.0)
    band.walk(1, 1, at)
    at = sing(band, 1, at, notes=2)
    band.hear(tune(at - 1.0, 81), pedal(at + 0.3, F))
    assert band.places()[-1] == (round(at + 0.3, 3), 2)
    assert band.starts(at + 0.3, at + 0.35)


def test_a_section_lifted_another_time_is_another_place(rehearse):
    text = SUNG.replace("Bridge\nChorus\nEnding", "Bridge\nChorus  up a tone\nEnding")
    band = rehearse(text.replace(" (breath)", ""))
    play(band, VERSE, 1.0, bars=4)
    assert band.band.this_time(CHORUS_AGAIN) == CHORUS_AGAIN


def test_an_ending_that_begins_like_the_chorus_needs_a_foot_or_the_nod(rehearse):
    band = rehearse(SUNG.replace("melody = f2 c2 a2 c'2", "melody = g2 c2 a2 c'2"))
    at = play(band, VERSE, 1.0, bars=4)
    at = play(band, CHORUS, at, bars=12)
    sing(band, ENDING, at, notes=1)
    band.until(at + 1.0)
    assert band.places()[-1][1] == ENDING - 1


def test_after_the_nod_hold_a_figure_of_the_right_hand_goes_nowhere(rehearse):
    band = rehearse(SUNG)
    at = play(band, VERSE, 1.0, bars=2)
    band.hear(nod(at - 0.5, "hold"))
    for k, key in enumerate((77, 81, 77)):
        band.hear(tune(at + 0.6 + 0.3 * k, key), lift(at + 0.8 + 0.3 * k, key, division="melody"))
    assert band.band.state == states.HOLDING


def test_a_hand_on_the_figures_manual_ends_no_breath(rehearse):
    band = rehearse(SUNG)
    at = play(band, VERSE, 1.0, bars=4)
    band.until(at + 1.0)
    for k in range(2):
        key = KeyDown(at=at + 1.2 + k / 2, heard=at + 1.2 + k / 2, division="figure", key=79)
        band.hear(key, lift(at + 1.5 + k / 2, 79, division="figure"))
    assert band.band.state == states.HOLDING


def test_in_time_again_leaves_nods_as_they_are(rehearse):
    band = rehearse(SUNG.replace(" (breath)", ""))
    at = play(band, VERSE, 1.0, bars=3)
    band.hear(nod(at - 0.3, "again"))
    sing(band, 3, at + 0.6)
    band.walk(VERSE, VERSE, at + 0.6 + BAR)
    assert band.places()[-1][1] == VERSE
