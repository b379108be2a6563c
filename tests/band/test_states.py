"""The legal moves of the band, spelled by hand, and that playing never makes another."""

from __future__ import annotations

import pytest

from liveassist.band.states import MOVES, STATES
from tests.band.rehearsing import nod, pedal, press

LEGAL = {
    "tacet": "ready, count-in",
    "ready": "tacet, count-in, playing, ending",
    "count-in": "tacet, ready, playing, ending, fine",
    "playing": "vamping, holding, ending, fine, tacet",
    "vamping": "playing, holding, ending, fine, tacet",
    "holding": "playing, vamping, ending, fine, tacet",
    "ending": "playing, vamping, holding, fine, tacet",
    "fine": "tacet, ready, count-in",
}


def test_the_table_of_moves_is_the_one_written_here():
    assert {state: set(moves) for state, moves in MOVES.items()} == {
        state: set(moves.split(", ")) for state, moves in LEGAL.items()
    }
    assert set(LEGAL) == set(STATES)


@pytest.mark.parametrize(
    ("events", "states"),
    [
        ([nod(1, "tacet"), nod(2, "ready")], ["tacet", "ready"]),
        ([pedal(1, 38), nod(2, "cut")], ["playing", "fine"]),
        ([pedal(1, 38), nod(2, "hold"), nod(3, "on")], ["playing", "holding", "playing"]),
        ([pedal(1, 38), nod(2, "vamp"), nod(2.2, "on")], ["playing", "vamping", "playing"]),
        ([nod(1, "count")], ["count-in"]),
        ([press(1), press(2), nod(2.5, "tacet")], ["playing", "tacet"]),
    ],
    ids=["tacet and ready", "cut", "hold and on", "vamp and on", "count", "switch then tacet"],
)
def test_nods_and_cues_move_the_state(rehearse, events, states):
    band = rehearse()
    band.hear(*events)
    assert band.states() == states
