"""The bass in the band: a third part beside the figure and the click, which comes and goes with the figure.

The quay is at 120: a beat is half a second. The bass of D is 38, of B minor 47, of G 43, of A 45.
"""

from __future__ import annotations

import pytest

from liveassist.band.events import KeyDown, NoteOff, NoteOn
from tests.band.rehearsing import QUAY, Rehearsal, lift, nod, pedal, press, sounding_after, tune


def bass(rehearsal: Rehearsal) -> list[tuple[float, int]]:
    return [
        (round(action.at, 3), action.pitch)
        for action in rehearsal.done
        if isinstance(action, NoteOn) and action.part == "bass"
    ]


def parts_on(rehearsal: Rehearsal) -> set[str]:
    return {part for part, _ in sounding_after(rehearsal.done)}


def test_no_bass_unless_asked(rehearse) -> None:
    band = rehearse(lead="switch")
    band.hear(press(1.0))
    band.until(3.0)
    assert bass(band) == []
    assert band.starts()


def test_with_a_foot_switch_the_bass_changes_with_the_switch(rehearse) -> None:
    band = rehearse(lead="switch", bass=True)
    band.hear(press(1.0), press(3.0), press(5.0))
    band.until(5.4)
    assert bass(band) == [(1.0, 38), (3.0, 47), (5.0, 43)]


def test_by_the_pulse_alone_it_is_detached(rehearse) -> None:
    band = rehearse(lead="pulse", bass=True)
    band.hear(press(0.0))
    band.until(5.9)
    ends = [(round(a.at, 3), a.pitch) for a in band.done if isinstance(a, NoteOff) and a.part == "bass"]
    assert bass(band) == [(0.0, 38), (2.0, 47), (4.0, 43), (5.0, 45)]
    assert ends[:2] == [(1.5, 38), (3.5, 47)]  # three quarters of a bar of two seconds


def test_out_silences_both_and_in_brings_both_back(rehearse) -> None:
    band = rehearse(lead="pulse", bass=True)
    band.hear(press(0.0), nod(0.3, "out"))
    assert parts_on(band) == set()
    band.until(2.9)
    assert bass(band) == [(0.0, 38)]
    band.hear(nod(3.0, "in"))
    band.until(4.1)
    assert parts_on(band) == {"bass", "figure"}


def test_the_players_hand_on_the_figure_manual_silences_both(rehearse) -> None:
    band = rehearse(lead="pulse", bass=True)
    band.hear(press(0.0), tune(0.3))
    assert parts_on(band) == {"bass", "figure"}
    band.hear(KeyDown(at=0.4, heard=0.4, division="figure", key=60))
    assert parts_on(band) == set()


def test_a_hold_keeps_the_bass_until_the_next_foot(rehearse) -> None:
    band = rehearse(bass=True)
    band.hear(pedal(1.0, 38), nod(1.3, "hold"))
    band.until(9.0)
    assert ("bass", 38) in sounding_after(band.done)
    band.hear(pedal(9.5, 47))
    assert {key for key in sounding_after(band.done) if key[0] == "bass"} == {("bass", 47)}


def test_a_hold_between_two_notes_strikes_the_bass_again(rehearse) -> None:
    band = rehearse(bass=True)
    band.hear(pedal(1.0, 38), nod(2.8, "hold"))  # the bass came up at 2.5
    assert {key for key in sounding_after(band.done) if key[0] == "bass"} == {("bass", 38)}


def test_a_key_lift_takes_the_bass_along(rehearse) -> None:
    band = rehearse(lead="pulse", bass=True)
    band.hear(press(0.0), nod(0.5, "up"))
    band.until(2.1)
    assert bass(band) == [(0.0, 38), (2.0, 36)]  # B minor has become C minor


def test_a_vamp_on_a_missing_foot_keeps_the_bass_going_round(rehearse) -> None:
    band = rehearse(bass=True, patience="0")
    band.hear(pedal(1.0, 38))
    band.until(8.0)
    assert band.band.state == "vamping"
    assert {pitch for _, pitch in bass(band)} == {38}
    assert len(bass(band)) >= 2


@pytest.mark.parametrize("name", ["cut", "tacet"])
def test_stopping_ends_the_bass(rehearse, name: str) -> None:
    band = rehearse(lead="pulse", bass=True)
    band.hear(press(0.0), nod(0.3, name))
    assert parts_on(band) == set()


def test_the_last_chord_is_released_with_foot_and_tune(rehearse) -> None:
    band = rehearse(QUAY.split("== Roadmap ==")[0] + "== Ending ==\n| G | A | D |]\n", bass=True)
    at = band.walk(0, 1, 1.0)
    band.hear(pedal(at, 38))
    band.until(at + 4.0)
    assert parts_on(band) == {"bass", "figure"}
    band.hear(tune(at + 4.5))
    band.hear(lift(at + 5.0, 38), lift(at + 5.1, 74, division="melody"))
    assert parts_on(band) == set()
