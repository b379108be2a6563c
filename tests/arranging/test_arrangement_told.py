"""An arrangement as rows that programs read."""

from __future__ import annotations

import json
from fractions import Fraction

from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import Note
from liveassist.arranging.telling import note_as_json, notes_of
from tests.arranging.routes import song


def test_a_row_is_exact_text() -> None:
    note = Note(part="figure", pitch=62, position=Fraction(33, 2), length=Fraction(1, 4), change=41, fullness=2)
    expected = '{"part": "figure", "pitch": 62, "position": "33/2", "length": "1/4", "change": 41, "fullness": 2}'
    assert json.dumps(note_as_json(note)) == expected


def test_the_default_is_fullness_two() -> None:
    arrangement = arrange(song("C", "F"))
    assert notes_of(arrangement) == arrangement.levels[2]
