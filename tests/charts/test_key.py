"""Keys as musicians write them, and the interval between two; signatures and degrees stand in ``test_theory.py``.

Spellings of keys are common practice, no source.
"""

from __future__ import annotations

import pytest

from charts.key import Key, read_key
from charts.pitch import Spelling


@pytest.mark.parametrize("text", ["F#m", "F♯m", "F# minor", "F# Minor", "F#min", "F#-", " F# MINOR "])
def test_a_minor_key_is_written_in_many_ways(text):
    assert read_key(text) == Key(Spelling("F", 1), minor=True)


@pytest.mark.parametrize("text", ["Bb", "B♭", "Bb major", "Bb Major", "Bbmaj", "BbM"])
def test_a_major_key_is_written_in_many_ways(text):
    assert read_key(text) == Key(Spelling("B", -1))


@pytest.mark.parametrize("key", ["C", "Bb", "F#m", "Ebm"])
def test_a_key_reads_back_by_its_name_and_as_printed(key):
    assert read_key(read_key(key).name) == read_key(read_key(key).shown) == read_key(key)


@pytest.mark.parametrize(
    ("one", "other", "steps"), [("D", "E", 1), ("D", "Eb", 1), ("B", "C", 1), ("C", "B", 6), ("F", "F#", 0)]
)
def test_letter_steps_between_keys_go_up(one, other, steps):
    assert read_key(one).steps_to(read_key(other)) == steps


@pytest.mark.parametrize("number", [0, 8])
def test_a_scale_has_seven_degrees(number):
    with pytest.raises(ValueError, match="they go from 1 to 7"):
        read_key("C").degree(number)
