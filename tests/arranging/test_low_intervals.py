"""Low interval limits against the published table.

Source: the glossary of sweetwater.com, "low interval limit", which names middle C "C3"; its tritone (printed an octave
lower, below the fifth's limit) taken as B2.
"""

from __future__ import annotations

import pytest

from liveassist.arranging.low_intervals import LOWEST, pedal_sound, too_low

# Interval, semitones, lowest lower note with middle C named C4, its key number by hand (C2 is 36).
PUBLISHED = [
    ("minor second", 1, "E3", 52),
    ("major second", 2, "Eb3", 51),
    ("minor third", 3, "C3", 48),
    ("major third", 4, "B2", 47),
    ("fourth", 5, "A2", 45),
    ("tritone", 6, "B2", 47),
    ("fifth", 7, "C#2", 37),
    ("minor sixth", 8, "F2", 41),
    ("major sixth", 9, "F2", 41),
    ("minor seventh", 10, "F2", 41),
    ("major seventh", 11, "F2", 41),
]


@pytest.mark.parametrize(("interval", "semitones", "name", "key"), PUBLISHED, ids=[row[0] for row in PUBLISHED])
def test_an_interval_may_lie_as_low_as_the_table_says(interval: str, semitones: int, name: str, key: int) -> None:
    assert LOWEST[semitones] == key, name
    assert too_low((key, key + semitones)) == 0
    assert too_low((key - 1, key - 1 + semitones)) == 1


def test_octaves_and_wider_have_no_limit() -> None:
    assert too_low((36, 48)) == 0
    assert too_low((36, 52)) == 0


def test_the_pedal_counts_an_octave_below_its_key_too() -> None:
    assert pedal_sound(0) == (24, 36)
    assert pedal_sound(11) == (35, 47)


def test_a_tritone_on_a_high_pedal_is_told() -> None:
    assert too_low((52, 55, 60), below=pedal_sound(10)) == 1  # B flat 46 below E 52
    assert too_low((52, 55, 60), below=pedal_sound(9)) == 0  # A 45 below E 52, a fifth


def test_every_voice_counts_against_the_pedal_for_it_may_sound_alone() -> None:
    # the major second on D, and the major third and the tritone on the pedal's B flat
    assert too_low((50, 52, 57), below=pedal_sound(10)) == 3
    assert too_low((52,), below=pedal_sound(10)) == 1
