"""Amending a chart's text: what need not change stays byte for byte, and what comes out is the music that was wanted."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.amending import amended
from charts.chart import Chart, Step, Tempo
from charts.notation import read_chart, write_chart
from charts.transposing import transposed
from tests.charts.test_writing import charts, steps

PAGE = """\
# From the harbour; ask before copying.
title = Bread on the Table   # ours
key   = D
feel  = straight eighths # not swung

== Roadmap ==
  # as we sing it
  Verse 1    # women
Chorus  fuller\t# all
Verse 2
== Verse 1 ==
# slow down here
|D  G/B|   A7 (b9) (hold) / &D(rit.) / / |  # mind the hold
  Bread, and a lamp # 9 by the door
melody = D2 F2 | A4 # the tune
| % |:  N.C. :| x3
== Chorus ==
key = G
| G | D/F# |
== Verse 2 ==
| 1 | 5/7 6- |]
"""


def day(chart: Chart, *, lift: int = 0, tempo: Tempo | None = None, roadmap: tuple[Step, ...] | None = None) -> Chart:
    """The chart as wanted."""
    wanted = replace(chart, tempo=tempo or chart.tempo, roadmap=chart.roadmap if roadmap is None else roadmap)
    return transposed(wanted, lift) if lift else wanted


def comments(text: str) -> list[str]:
    """What stands behind the signs that begin a comment, in order."""
    return re.findall(r"(?m)(?:^|(?<=\s))#(?=\s).*?(?=\r|\n|$)", text)


def test_a_tempo_touches_nothing_else() -> None:
    chart = read_chart(PAGE)
    text = amended(chart, day(chart, tempo=Tempo(Fraction(1), 88.0)))
    assert text == PAGE.replace("key   = D\n", "key   = D\ntempo = quarter 88\n")
    again = read_chart(text)
    slower = amended(again, day(again, tempo=Tempo(Fraction(1), 76.0)))
    assert slower == text.replace("quarter 88", "quarter 76")


def test_a_roadmap_touches_its_own_lines_and_leaves_every_comment() -> None:
    chart = read_chart(PAGE)
    route = (Step(section="Verse 1"), Step(section="Chorus", times=2), Step(section="Verse 1", wait=True))
    assert amended(chart, day(chart, roadmap=route)) == PAGE.replace(
        "Chorus  fuller\t# all\nVerse 2\n==", "Chorus    twice\t# all\nVerse 1    wait\n=="
    )
    only = amended(chart, day(chart, roadmap=(Step(section="Chorus", fullness=1),)))
    assert only == PAGE.replace("  Verse 1    # women\n", "# women\n").replace("Verse 2\n==", "==", 1)


def test_a_chart_without_a_roadmap_gets_one_behind_its_header() -> None:
    chart = read_chart("key=D\r\n# verses\r\n== A ==\r\n| D |\r\n== B ==\r\n| G |")
    wanted = day(chart, roadmap=(Step(section="B"), Step(section="A")), tempo=Tempo(Fraction(1), 100.0))
    assert amended(chart, wanted) == (
        "key=D\r\ntempo=quarter 100\r\n\r\n== Roadmap ==\r\nB\r\nA\r\n# verses\r\n== A ==\r\n| D |\r\n== B ==\r\n| G |"
    )


def test_a_key_moves_chords_melodies_and_keys_where_they_stand_and_degrees_by_themselves() -> None:
    chart = read_chart("\ufeff" + PAGE)
    assert amended(chart, day(chart, lift=1)) == "\ufeff" + (
        PAGE.replace("key   = D", "key   = Eb")
        .replace("|D  G/B|   A7 (b9) (hold) / &D(rit.)", "|Eb  Ab/C|   Bb7(b9) (hold) / &Eb(rit.)")
        .replace("D2 F2 | A4", "E2 G2 | B4")
        .replace("key = G\n| G | D/F# |", "key = Ab\n| Ab | Eb/G |")
    )


def test_what_differs_in_more_is_refused() -> None:
    chart = read_chart(PAGE)
    with pytest.raises(ValueError, match="more than key, tempo and roadmap"):
        amended(chart, replace(chart, title="Another"))


scribbled = st.sampled_from(["", "", "# slowly", "  # take care", "\t# 2 | D |"])


@settings(max_examples=25, deadline=None)
@given(
    chart=charts(),
    notes=st.lists(scribbled, min_size=1, max_size=9),
    lift=st.integers(-5, 6),
    tempo=st.none() | st.sampled_from([Tempo(Fraction(1), 88.0), Tempo(Fraction(3, 2), 56.5)]),
    route=st.none() | st.lists(steps, min_size=1, max_size=4),
    ends=st.sampled_from(["\n", "\r\n", "\r"]),
)
def test_bars_words_and_comments_stay_and_the_music_is_the_one_wanted(
    chart: Chart, notes: list[str], lift: int, tempo: Tempo | None, route: list[Step] | None, ends: str
) -> None:
    rows = [
        f"{row}{' ' if notes[k % len(notes)] else ''}{notes[k % len(notes)]}" if row else notes[k % len(notes)]
        for k, row in enumerate(write_chart(chart).splitlines())
    ]
    text = ends.join(rows) + ends
    written = read_chart(text)
    names = [section.name for section in written.sections]
    roadmap = None if route is None else tuple(step for step in route if step.section in names) or None
    try:
        wanted = day(written, lift=lift, tempo=tempo, roadmap=roadmap)
    except ValueError:
        return
    new = amended(written, wanted)
    assert write_chart(read_chart(new)) == write_chart(wanted)
    assert comments(new) == comments(text)
    if not lift:
        first = min(section.line for section in written.sections)
        assert new.endswith(ends.join(rows[first - 1 :]) + ends)
