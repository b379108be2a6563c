"""The tune on the melody manual: it moves no harmony, but it speaks for the pulse and for the place."""

from __future__ import annotations

import pytest

from tests.band.rehearsing import lift, pedal, tune

D, FIS, G, A, B = 38, 42, 43, 45, 47


def test_a_note_of_the_tune_alone_starts_nothing(rehearse):
    band = rehearse()
    band.hear(tune(1.0), tune(1.5))
    assert band.done == []


def test_the_tune_moves_no_harmony_by_itself(rehearse):
    band = rehearse()
    band.hear(pedal(1.0, D), *[tune(1.5 + k / 2, 71) for k in range(3)])
    assert [change for _, change in band.places()] == [0]


def test_a_tune_that_drags_takes_the_beat_along_between_two_feet(rehearse):
    steady, dragging = rehearse(), rehearse()
    steady.hear(pedal(1.0, D), *[tune(1.5 + 0.5 * k) for k in range(3)])
    dragging.hear(pedal(1.0, D), *[tune(1.5 + 0.5 * k + 0.02 * (k + 1)) for k in range(3)])
    steady.until(2.95)
    dragging.until(2.95)
    assert steady.beats()[-1][0] == pytest.approx(2.5, abs=0.01)
    assert 2.52 < dragging.beats()[-1][0] < 2.58


def test_a_note_between_the_divisions_moves_nothing(rehearse):
    band = rehearse()
    band.walk(0, 3, 1.0)
    band.hear(pedal(7.0, D), tune(7.37))
    band.until(8.9)
    assert [at for at, _ in band.beats()][-3:] == pytest.approx([7.5, 8.0, 8.5], abs=0.01)


def test_a_tune_that_fits_does_not_unsettle_the_place(rehearse):
    """All sections begin with the same root; what the tune plays leaves the belief where the feet put it."""
    sections = "== Verse ==\n| C | G | C | F |\n== Chorus ==\n| C | Am | Dm | G |\n== Bridge ==\n| C | E |\n"
    band = rehearse("title=x\nkey=C\ntempo=120\n" + sections)
    band.walk(0, 3, 1.0)
    listening = band.band.listening
    band.hear(pedal(9.0, 36))
    before = {item.change: item.weight for item in listening.hypotheses}
    for k in range(4):
        band.hear(tune(9.1 + 0.5 * k, 64))
    after = {item.change: item.weight for item in listening.hypotheses}
    assert max(after, key=after.__getitem__) == 4
    assert after[4] >= before[4]


def test_in_a_verse_without_pedal_the_tune_carries_the_harmony(rehearse):
    band = rehearse(patience="0")
    end = band.walk(0, 3, 1.0)
    for k in range(16):
        band.hear(tune(end + 0.5 * k, 74))
    band.until(end + 7.9)
    assert [change for _, change in band.places()][-4:] == [4, 5, 6, 7]
    band.hear(pedal(end + 8.0, A), lift(end + 8.4, A))
    assert band.places()[-1][1] == 8
