"""The chart of the day: what an item of the service changes, and that everything else stays."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from charts.errors import ChartError
from charts.key import read_key
from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.service.day import chart_of_the_day
from liveassist.service.file import Item
from tests.service.conftest import HYMN, ROUND

BREAD, FOUR = read_chart(HYMN, "bread.chart"), read_chart(ROUND, "round.chart")


def item(**stated: Any) -> Item:
    return Item(number=1, chart="bread.chart", **stated)


def played(chart_item: Item, chart: Any = BREAD) -> list[str]:
    """Sections in the order of playing, with what the roadmap lifts."""
    bars = unfold(chart_of_the_day(chart_item, chart)).bars
    return [f"{bar.section}{f' +{bar.up}' if bar.up else ''}" for bar in bars if bar.starts_section]


def test_an_item_that_says_nothing_leaves_the_chart_as_it_is() -> None:
    assert chart_of_the_day(item(), BREAD) is BREAD


@pytest.mark.parametrize(
    ("key", "first", "last"),
    [
        ("Eb", "Eb", "Ab Bb Eb"),
        ("C", "C", "F G C"),
        ("D", "D", "G A D"),
        ("G", "G", "C D G"),
    ],
)
def test_the_key_of_the_day(key: str, first: str, last: str) -> None:
    """Written out by hand: I at the beginning, IV V I at the end."""
    today = chart_of_the_day(item(key=read_key(key)), BREAD)
    changes = [change.chord.symbol for change in unfold(today).changes]
    assert (today.key.name, changes[0], " ".join(changes[-3:])) == (key, first, last)
    assert [bar.section for bar in unfold(read_chart(today.text)).bars] == [bar.section for bar in unfold(today).bars]


@pytest.mark.parametrize(
    ("stated", "order"),
    [
        pytest.param({"omit": ("Verse 2",)}, "Intro, Verse 1, Chorus, Bridge, Chorus, Ending", id="second"),
        pytest.param({"omit": ("2",)}, "Intro, Verse 1, Chorus, Bridge, Chorus, Ending", id="by-number"),
        pytest.param({"omit": ("verse 1",)}, "Intro, Verse 2, Chorus, Bridge, Chorus, Ending", id="first"),
        pytest.param(
            {"add": ("3",)},
            "Intro, Verse 1, Chorus, Verse 2, Chorus, Verse 3, Chorus, Bridge, Chorus, Ending",
            id="added-with-its-refrain",
        ),
        pytest.param(
            {"omit": ("1",), "add": ("Verse 3 fuller",)},
            "Intro, Verse 2, Chorus, Verse 3, Chorus, Bridge, Chorus, Ending",
            id="one-out-one-in",
        ),
        pytest.param(
            {"last": 2},
            "Intro, Verse 1, Chorus, Verse 2 +2, Chorus +2, Bridge +2, Chorus +2, Ending +2",
            id="last-up-a-tone",
        ),
        pytest.param({"roadmap": ("Chorus   twice", "Ending   up a tone")}, "Chorus, Chorus, Ending +2", id="roadmap"),
    ],
)
def test_the_route_of_the_day(stated: dict[str, Any], order: str) -> None:
    assert ", ".join(played(item(**stated))) == order


@pytest.mark.parametrize(
    ("stated", "order"),
    [
        pytest.param({"omit": ("2",)}, "Verse, Verse, Verse, Ending", id="one-time-less"),
        pytest.param({"add": ("Verse",)}, "Verse, Verse, Verse, Verse, Verse, Ending", id="one-time-more"),
        pytest.param({"last": 1}, "Verse, Verse, Verse, Verse +1, Ending +1", id="last-time-up"),
    ],
)
def test_a_stanza_that_goes_round(stated: dict[str, Any], order: str) -> None:
    assert ", ".join(played(item(**stated), FOUR)) == order


def test_an_added_stanza_keeps_the_key_and_the_ritard_of_the_last() -> None:
    up = [
        replace(step, up=2 * (step.section in ("Verse 2", "Bridge") or place > 3), rit=place == 4)
        for place, step in enumerate(BREAD.roadmap)
    ]
    today = chart_of_the_day(item(add=("3",)), replace(BREAD, roadmap=tuple(up)))
    assert [(step.section, step.up, step.rit) for step in today.roadmap[3:7]] == [
        ("Verse 2", 2, False),
        ("Chorus", 2, False),
        ("Verse 3", 2, False),
        ("Chorus", 2, True),
    ]


def test_tempo_and_registration_of_the_day() -> None:
    today = chart_of_the_day(item(tempo="60", notes="flutes 8'"), FOUR)
    assert today.tempo.quarter_bpm == 90.0  # sixty dotted quarters a minute are ninety quarters
    assert today.notes == "flutes 8'"
    assert read_chart(today.text).notes == "flutes 8'"


@pytest.mark.parametrize(
    ("stated", "said"),
    [
        pytest.param({"key": read_key("Dm")}, "I need a major key", id="mode"),
        pytest.param({"omit": ("Verse 7",)}, 'there is no "Verse 7" here', id="omit-unknown"),
        pytest.param({"omit": ("1", "2")}, "nothing is left to sing", id="omit-all"),
        pytest.param({"add": ("7",)}, 'there is no "Verse 7" here', id="add-unknown-number"),
        pytest.param({"add": ("Vrse 3",)}, 'did you mean "Verse 3"', id="add-unknown"),
        pytest.param({"last": 12, "roadmap": ("Ending up an octave",)}, "more than an octave", id="too-high"),
        pytest.param({"tempo": "quick"}, "is not a tempo", id="tempo"),
    ],
)
def test_what_does_not_fit_is_told(stated: dict[str, Any], said: str) -> None:
    with pytest.raises(ChartError, match=said):
        chart_of_the_day(item(**stated), BREAD)
