"""Charts written out by hand from two public-domain lead sheets, against the chord symbols that music21 reads.

music21 (a second library) gives root, bass and pitch classes of each symbol and its place in the bar; the order of playing is
music21's too where its repeats are those of the sheet, and spelled by hand where they are not.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route

music21 = pytest.importorskip("music21")
SHEETS = Path(__file__).parent.parent / "lead_sheets"

Symbol = tuple[Fraction, int, int, tuple[int, ...]]
"""Position, root, bass, pitch classes."""


def route_of(name: str) -> Route:
    path = SHEETS / f"{name}.chart"
    return unfold(read_chart(path.read_text(encoding="utf-8"), path.name))


def ours(route: Route) -> list[Symbol]:
    """What the chart says, N.C. aside: the sheets leave a bar without symbol there."""
    return [
        (change.position, change.root, change.bass, change.chord.pitch_classes)
        for change in route.changes
        if change.root is not None and change.bass is not None
    ]


def theirs(measures) -> list[Symbol]:
    """What music21 reads from these measures, one after the other."""
    found, start = [], Fraction(0)
    for measure in measures:
        for symbol in measure.recurse().getElementsByClass(music21.harmony.ChordSymbol):
            tones = tuple(sorted({pitch.pitchClass for pitch in symbol.pitches}))
            place = start + Fraction(symbol.getOffsetInHierarchy(measure))
            found.append((place, symbol.root().pitchClass, symbol.bass().pitchClass, tones))
        start += Fraction(measure.duration.quarterLength)
    return found


def test_jeanie_with_its_two_endings():
    part = music21.corpus.parse("leadSheet/fosterBrownHair").parts[0]
    measures = list(part.expandRepeats().getElementsByClass("Measure"))
    route = route_of("jeanie")
    assert ours(route) == theirs(measures)
    assert [bar.number for bar in route.bars] == [measure.number for measure in measures]
    assert route.length == sum(Fraction(measure.duration.quarterLength) for measure in measures)


def test_the_cuckoos_nest_with_its_upbeat_and_both_parts_twice():
    part = music21.corpus.parse("nottingham-dataset/reelsa-c", number=80).parts[0]
    measures = list(part.getElementsByClass("Measure"))
    assert [measure.number for measure in measures] == list(range(18))
    first, second = measures[:9], measures[9:]
    route = route_of("cuckoos_nest")
    assert ours(route) == theirs([*first, *first, *second, *second])
    assert [(bar.section, bar.pass_, bar.time) for bar in route.bars if bar.number == 8] == [
        ("Part A", 1, 1),
        ("Part A", 1, 2),
        ("Part B", 1, 1),
        ("Part B", 1, 2),
    ]
