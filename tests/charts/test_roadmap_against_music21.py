"""The order of bars against music21's repeat expander (``music21.repeat``), an independent reference.

Each song is one section, written in the notation and built again in music21 from its bars: barlines, brackets and
signs. music21 numbers its bars anew behind a jump, so each bar is known by its one note. What music21 does not do
(leave the first ending out behind a jump) stands in ``test_roadmap.py``.
"""

from __future__ import annotations

import pytest
from music21 import bar as barlines
from music21 import note, repeat, spanner, stream

from charts.chart import (
    CODA,
    DC,
    DC_AL_CODA,
    DC_AL_FINE,
    DS,
    DS_AL_CODA,
    DS_AL_FINE,
    FINE,
    SEGNO,
    TO_CODA,
    Bar,
)
from charts.notation import read_chart
from charts.roadmap import unfold

SIGNS = {
    SEGNO: repeat.Segno,
    CODA: repeat.Coda,
    TO_CODA: repeat.Coda,
    FINE: repeat.Fine,
    DS: repeat.DalSegno,
    DS_AL_CODA: repeat.DalSegnoAlCoda,
    DS_AL_FINE: repeat.DalSegnoAlFine,
    DC: repeat.DaCapo,
    DC_AL_CODA: repeat.DaCapoAlCoda,
    DC_AL_FINE: repeat.DaCapoAlFine,
}
BEGINNING = (SEGNO, CODA)
"""Signs at the beginning of their bar; the others stand at its end."""

SONGS = {
    "plain": "| D | A | G |",
    "repeat": "|: D | A :| G |",
    "repeat from the start": "| D | A :| G |",
    "two repeats": "|: D :| A |: G | D :|",
    "three times": "|: D | A :| x3 G |",
    "endings": "|: D |1. A :|2. G | D |",
    "endings of two bars": "|: D | Bm |1. A | E :|2. G | A | D |",
    "endings without an opening sign": "| D |1. A :|2. G || D |",
    "three endings": "|: D |1. A :|2. G :|3. E | D |",
    "an ending for two times": "|: D |1,2. A :|3. G | D |",
    "two repeats with endings": "|: D |1. A :|2. G |: E |1. A :|2. D |",
    "repeat inside a repeat": "|: D |: A :| G :| D |",
    "da capo": "| D | A | G (D.C.) |",
    "da capo al fine": "| D | A (fine) | G | E (D.C. al fine) |",
    "da capo al coda": "| D | A (to coda) | G | E (D.C. al coda) | (coda) D | A |",
    "dal segno": "| D | (segno) A | G (D.S.) |",
    "dal segno al fine": "| D | (segno) A | G (fine) | E | A (D.S. al fine) |",
    "dal segno al coda": "| D | (segno) A | G (to coda) | E | A (D.S. al coda) | (coda) D | G |",
    "da capo al fine, the repeat once": "|: D | A :| G (fine) | E (D.C. al fine) |",
    "dal segno al coda, the repeat once": "| D |: (segno) A | G :| E (to coda) | A (D.S. al coda) | (coda) D |",
    "the coda's own repeat is taken": "| D (to coda) | A (D.C. al coda) |: (coda) G :| D |",
}

LOWEST = 36
"""The note of bar 0."""


@pytest.mark.parametrize("bars", SONGS.values(), ids=SONGS.keys())
def test_the_order_of_bars_is_that_of_music21(bars: str) -> None:
    chart = read_chart(f"key = D\n== Song ==\n{bars}")
    played = [bar.number for bar in unfold(chart).bars]
    assert played == _order_in_music21(chart.sections[0].bars)


def _order_in_music21(bars: tuple[Bar, ...]) -> list[int]:
    part = stream.Part()
    measures = [_measure(bar) for bar in bars]
    part.append(measures)
    brackets: list[list[stream.Measure]] = []
    for bar, measure in zip(bars, measures, strict=True):
        if bar.endings:
            brackets.append([measure])
            part.insert(0, spanner.RepeatBracket(measure, number=list(bar.endings)))
        elif bar.in_endings:
            brackets[-1].append(measure)
            part.spanners[-1].addSpannedElements(measure)
    return [found.pitch.midi - LOWEST for found in part.expandRepeats().recurse().notes]


def _measure(bar: Bar) -> stream.Measure:
    measure = stream.Measure(number=bar.number)
    measure.append(note.Note(LOWEST + bar.number, quarterLength=float(bar.length)))
    if bar.opens_repeat:
        measure.leftBarline = barlines.Repeat(direction="start")
    if bar.closes_repeat:
        times = bar.closes_repeat if bar.closes_repeat > 2 and not bar.in_endings else None
        measure.rightBarline = barlines.Repeat(direction="end", times=times)
    for mark in bar.marks:
        measure.insert(0 if mark in BEGINNING else float(bar.length), SIGNS[mark]())
    return measure
