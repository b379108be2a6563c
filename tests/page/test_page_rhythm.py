"""Rhythms as a copyist writes them. Expected rows are worked out by hand by the usual rules (common practice, no source)."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.exchange.elements import TYPES
from charts.meter import Meter, read_meter
from charts.pitch import Spelling
from liveassist.page.rhythm import Stroke, Symbol, written_bar
from liveassist.page.spelling import Written

MIDDLE_C = (Written(Spelling("C"), 4),)
_LETTERS = {"whole": "w", "half": "h", "quarter": "q", "eighth": "e", "16th": "s", "32nd": "t"}


def bar(meter: str, *spans: tuple[float, float], missing: Fraction = Fraction(0)) -> tuple[Symbol, ...]:
    read = read_meter(meter)
    strokes = [
        Stroke(Fraction(start).limit_denominator(96), Fraction(end).limit_denominator(96), MIDDLE_C)
        for start, end in spans
    ]
    return written_bar(tuple(strokes), read.bar_length - missing, read, missing)


def told(symbols: tuple[Symbol, ...]) -> str:
    """``q.`` a dotted quarter, ``(h)`` a half rest, ``e~`` an eighth that is tied to what follows, ``3`` in a triplet."""
    found = []
    for symbol in symbols:
        name = _LETTERS.get(symbol.type, "bar") + "." * symbol.dots + ("3" if symbol.triplet else "")
        found.append((name if symbol.notes else f"({name})") + ("~" if symbol.tie_out else ""))
    return " ".join(found)


@pytest.mark.parametrize(
    ("meter", "spans", "written"),
    [
        ("4/4", [], "(bar)"),
        ("4/4", [(0, 4)], "w"),
        ("4/4", [(0, 3)], "h. (q)"),
        ("4/4", [(0, 1.5), (1.5, 3), (3, 4)], "q. e~ q q"),
        ("4/4", [(0.5, 1), (1.5, 2), (2.5, 3), (3.5, 4)], "(e) e (e) e (e) e (e) e"),
        ("4/4", [(1, 2), (3, 4)], "(q) q (q) q"),
        ("4/4", [(0, 0.5), (0.5, 1.5), (1.5, 2), (2, 4)], "e q e h"),
        ("4/4", [(0, 1), (1, 3), (3, 4)], "q h q"),
        ("4/4", [(0, 2.5)], "h~ e (e) (q)"),
        ("4/4", [(0, 0.75), (0.75, 1.5), (1.5, 2.5)], "e. s~ e e~ e (e) (q)"),
        ("4/4", [(0, 2 / 3), (2 / 3, 1)], "q3 e3 (q) (h)"),
        ("2/2", [(1, 2), (3, 4)], "(q) q (q) q"),
        ("3/4", [(0, 3)], "h."),
        ("3/4", [(1, 2), (2, 3)], "(q) q q"),
        ("3/4", [(0, 2.5)], "h~ e (e)"),
        ("6/8", [(0, 1), (1, 1.5), (1.5, 2.5), (2.5, 3)], "q e q e"),
        ("6/8", [(0, 3)], "h."),
        ("6/8", [(0, 1.5)], "q. (q.)"),
        ("6/8", [(0, 2.5)], "q.~ q (e)"),
        ("9/8", [(0, 4.5)], "h.~ q."),
        ("12/8", [(0, 6)], "w."),
        ("12/8", [(0, 1.5), (3, 4.5)], "q. (q.) q. (q.)"),
        ("5/4", [(0, 3), (3, 5)], "h. h"),
        ("5/4", [(0, 5)], "w~ q"),
    ],
)
def test_rows_by_hand(meter, spans, written):
    assert told(bar(meter, *spans)) == written


def test_a_pickup_keeps_the_beats_of_the_bar_it_leads_into():
    symbols = bar("4/4", (0, 0.5), (0.5, 1.5), missing=Fraction(5, 2))
    assert told(symbols) == "e q"


@pytest.mark.parametrize(
    ("meter", "eighths", "groups"),
    [("4/4", 8, [4, 4]), ("3/4", 6, [6]), ("6/8", 6, [3, 3]), ("12/8", 12, [3, 3, 3, 3]), ("5/4", 10, [2, 2, 2, 2, 2])],
)
def test_eighths_are_beamed_in_groups(meter, eighths, groups):
    symbols = bar(meter, *((number / 2, number / 2 + 0.5) for number in range(eighths)))
    assert [symbol.beams[0] for symbol in symbols].count("begin") == len(groups)
    lengths, place = [], 0
    for symbol in symbols:
        place += 1
        if symbol.beams[0] == "end":
            lengths.append(place)
            place = 0
    assert lengths == groups


METERS = [
    Meter(4, 4),
    Meter(3, 4),
    Meter(6, 8),
    Meter(5, 4),
    Meter(12, 8),
    Meter(2, 2),
    Meter(9, 8),
    Meter(7, 8),
    Meter(3, 2),
]


@given(st.sampled_from(METERS), st.sampled_from([4, 6, 8, 12]), st.data())
def test_symbols_fill_the_bar_and_keep_every_attack(meter, per_quarter, data):
    """Triplets in simple meters, where alone they are written."""
    if meter.compound and per_quarter % 3 == 0:
        per_quarter = 16
    steps = int(meter.bar_length * per_quarter)
    places = sorted(data.draw(st.sets(st.integers(0, steps), max_size=8)))
    strokes = [
        Stroke(Fraction(start, per_quarter), Fraction(end, per_quarter), MIDDLE_C)
        for start, end in zip(places[::2], places[1::2], strict=False)
    ]
    symbols = written_bar(tuple(strokes), meter.bar_length, meter, Fraction(0))
    place = Fraction(0)
    for symbol in symbols:
        assert symbol.start == place
        place += symbol.length
        if symbol.type:
            plain = next(value for value, name in TYPES.items() if name == symbol.type)
            dotted = plain * (2 - Fraction(1, 2**symbol.dots))
            assert dotted * (Fraction(2, 3) if symbol.triplet else 1) == symbol.length
    assert place == meter.bar_length
    assert [symbol.start for symbol in symbols if symbol.notes and not symbol.tie_in] == [
        each.start for each in strokes
    ]
    for one, other in pairwise(symbols):
        assert other.tie_in == one.tie_out
