"""The roadmap's lines: a section's name and what differs this time. Interval sizes: common practice, no source."""

from __future__ import annotations

from dataclasses import replace

import pytest

from charts.chart import Step
from charts.notation import read_chart

BODY = "== Verse ==\n| D |\n== Verse 2 ==\n| D |\n== Verse 2 Last Time ==\n| D |\n== Chorus ==\n| D |"


def step(line: str) -> Step:
    (found,) = read_chart(f"key = D\n== Roadmap ==\n{line}\n{BODY}").roadmap
    assert found.line == 3
    return replace(found, line=0)


@pytest.mark.parametrize(
    ("line", "section"),
    [
        ("Verse", "Verse"),
        ("verse 2", "Verse 2"),
        ("VERSE  2   LAST  TIME twice", "Verse 2 Last Time"),
        ("Verse, twice", "Verse"),
        ("Verse 2 twice", "Verse 2"),
        ("  Chorus", "Chorus"),
    ],
)
def test_a_line_begins_with_the_longest_name_that_fits(line: str, section: str) -> None:
    assert step(line).section == section


@pytest.mark.parametrize(
    ("words", "fields"),
    [
        ("twice", {"times": 2}),
        ("three times", {"times": 3}),
        ("4 times", {"times": 4}),
        ("x9", {"times": 9}),
        ("×3", {"times": 3}),
        ("3x", {"times": 3}),
        ("once", {}),
        ("fuller", {"fullness": 1}),
        ("Fuller, fuller", {"fullness": 2}),
        ("thinner", {"fullness": -1}),
        ("soft", {"fullness": -1}),
        ("manuals only", {"manuals_only": True}),
        ("wait", {"wait": True}),
        ("out", {"out": True}),
        ("rit.", {"rit": True}),
        ("rit", {"rit": True}),
        ("up a half step", {"up": 1}),
        ("up a half-step", {"up": 1}),
        ("up a semitone", {"up": 1}),
        ("up a tone", {"up": 2}),
        ("up a step", {"up": 2}),
        ("up a whole step", {"up": 2}),
        ("up two tones", {"up": 4}),
        ("up a minor third", {"up": 3}),
        ("up a third", {"up": 4}),
        ("up a fourth", {"up": 5}),
        ("down a half step", {"up": -1}),
        ("down a fifth", {"up": -7}),
        ("down an octave", {"up": -12}),
        ("up 3 half steps", {"up": 3}),
        ("feel waltz", {"feel": "waltz"}),
        ("feel straight  eighths, fuller", {"feel": "straight eighths", "fullness": 1}),
        ("feel straight eighths fuller", {"feel": "straight eighths", "fullness": 1}),
        ("feel soft ballad", {"feel": "soft ballad"}),
        ("(up a tone, twice)", {"up": 2, "times": 2}),
        ("twice up a tone fuller wait rit.", {"times": 2, "up": 2, "fullness": 1, "wait": True, "rit": True}),
        ("up a tone, fuller", {"up": 2, "fullness": 1}),
    ],
)
def test_directions(words: str, fields: dict[str, object]) -> None:
    assert step(f"Chorus    {words}") == Step(section="Chorus", **fields)


def test_a_roadmap_may_stand_anywhere_and_may_be_empty() -> None:
    assert [s.section for s in read_chart(f"key = D\n{BODY}\n== roadmap ==\nChorus\nVerse").roadmap] == [
        "Chorus",
        "Verse",
    ]
    assert read_chart(f"key = D\n== Roadmap ==\n{BODY}").roadmap == ()
