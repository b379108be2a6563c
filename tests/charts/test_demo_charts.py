"""The demo songs: each reads, proofs and unfolds; between them they use everything that the notation can write."""

from __future__ import annotations

from pathlib import Path

import pytest

from charts.chart import BAR_MARKS, CHANGE_MARKS, DC, DC_AL_CODA, DS, Bar, Section
from charts.notation import read_chart, read_chart_file, write_chart
from charts.proof import proof
from charts.roadmap import unfold

FOLDER = Path(__file__).parents[2] / "demo_charts"
PATHS = sorted(FOLDER.glob("*.chart"))
CHARTS = [read_chart_file(path) for path in PATHS]
BARS: list[Bar] = [bar for chart in CHARTS for section in chart.sections for bar in section.bars]
CHORDS = [change.chord for bar in BARS for change in bar.changes]
SECTIONS = [section for chart in CHARTS for section in chart.sections]
STEPS = [step for chart in CHARTS for step in chart.roadmap]

FEELS = {
    "held",
    "quarters",
    "straight eighths",
    "off-beats",
    "two-beat",
    "three-three-two",
    "half-time",
    "ballad",
    "waltz",
    "flowing three",
    "six-eight lilt",
    "two in a bar",
    "slow twelve",
    "twelve-eight lilt",
    "shuffle",
}
METERS = {"4/4", "3/4", "6/8", "12/8", "2/2", "5/4"}
SELDOM = {DS, DC}
"""Plain jumps, without "al": few songs want them."""


def test_there_are_enough_songs() -> None:
    assert len(PATHS) >= 8
    assert len({chart.title for chart in CHARTS}) == len(PATHS)


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_song_proofs_without_a_remark(path: Path) -> None:
    assert proof(read_chart_file(path), feels=FEELS) == ()


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_song_written_and_read_is_the_same_song(path: Path) -> None:
    chart = read_chart_file(path)
    text = write_chart(chart)
    again = read_chart(text, path.name)
    assert write_chart(again) == text
    assert unfold(again).changes == unfold(chart).changes


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_song_is_long_enough_to_play_and_short_enough_to_sing(path: Path) -> None:
    route = unfold(read_chart_file(path))
    seconds = sum(float(bar.length) * 60 / bar.quarter_bpm for bar in route.bars)
    assert 45 < seconds < 300


@pytest.mark.parametrize("path", PATHS, ids=lambda path: path.stem)
def test_a_song_begins_with_a_line_that_says_what_it_shows(path: Path) -> None:
    assert path.read_text(encoding="utf-8").startswith("# ")


def test_every_feel_is_used() -> None:
    assert {bar.feel for chart in CHARTS for bar in unfold(chart).bars} == FEELS


def test_every_meter_is_used() -> None:
    assert {bar.meter.name for bar in BARS} == METERS
    assert any(bar.meter.by_unit for bar in BARS)


def test_every_mark_is_used() -> None:
    used = {mark for bar in BARS for mark in bar.marks}
    used |= {mark for bar in BARS for change in bar.changes for mark in change.marks}
    assert used >= {*CHANGE_MARKS, *BAR_MARKS} - SELDOM
    assert DC_AL_CODA in used


def _nested(section: Section) -> bool:
    """Whether a repeat opens while another is open."""
    is_open = False
    for bar in section.bars:
        if bar.opens_repeat and is_open:
            return True
        is_open = (is_open or bar.opens_repeat) and not bar.closes_repeat
    return False


FEATURES = {
    "repeat": any(bar.opens_repeat for bar in BARS),
    "repeat inside a repeat": any(_nested(section) for section in SECTIONS),
    "second ending": any(2 in bar.endings for bar in BARS),
    "ending for two times": any(len(bar.endings) > 1 for bar in BARS),
    "pickup": any(chart.pickup for chart in CHARTS),
    "copied bar": any(bar.copies for bar in BARS),
    "the and of a beat": any(
        change.offset % bar.meter.counted_beat for bar in BARS for change in bar.changes if bar.number
    ),
    "a bar that goes on": any(not bar.changes for bar in BARS),
    "N.C.": any(chord.root is None for chord in CHORDS),
    "slash chord": any(chord.slash for chord in CHORDS),
    "suspension": any("sus" in chord.symbol for chord in CHORDS),
    "diminished": any("dim" in chord.symbol for chord in CHORDS),
    "half-diminished": any("m7b5" in chord.symbol or "m7(b5)" in chord.symbol for chord in CHORDS),
    "ninth and above": any(number in chord.symbol for chord in CHORDS for number in ("9", "11", "13")),
    "sharp root": any(chord.root is not None and chord.root.alter > 0 for chord in CHORDS),
    "flat root": any(chord.root is not None and chord.root.alter < 0 for chord in CHORDS),
    "double bar": any(bar.barline == "||" for bar in BARS),
    "final bar": any(bar.barline == "|]" for bar in BARS),
    "words": any(bar.words for bar in BARS),
    "two stanzas": any(len(bar.words) > 1 for bar in BARS),
    "melody": any(bar.melody for bar in BARS),
    "section key": any(section.key for section in SECTIONS),
    "section meter": any(section.meter for section in SECTIONS),
    "section tempo": any(section.tempo for section in SECTIONS),
    "section feel": any(section.feel for section in SECTIONS),
    "minor key": any(chart.key.minor for chart in CHARTS),
    "degrees of the relative major": any(chart.degrees for chart in CHARTS),
    "lead": any(chart.lead for chart in CHARTS),
    "patience": any(chart.patience for chart in CHARTS),
    "room": any(chart.room for chart in CHARTS),
    "notes": any(chart.notes for chart in CHARTS),
    "no roadmap": any(not chart.roadmap for chart in CHARTS),
    "twice": any(step.times > 1 for step in STEPS),
    "fuller": any(step.fullness > 0 for step in STEPS),
    "thinner": any(step.fullness < 0 for step in STEPS),
    "up a tone": any(step.up == 2 for step in STEPS),
    "manuals only": any(step.manuals_only for step in STEPS),
    "wait": any(step.wait for step in STEPS),
    "out": any(step.out for step in STEPS),
    "rit.": any(step.rit for step in STEPS),
    "feel": any(step.feel for step in STEPS),
}
"""Whether any song uses each thing that the notation can write."""


@pytest.mark.parametrize("used", FEATURES.values(), ids=FEATURES.keys())
def test_between_them_the_songs_use(used: bool) -> None:
    assert used
