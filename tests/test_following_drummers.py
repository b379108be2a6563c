"""Imagined drummers are followed: the same grooves, slips and measures as in the benchmark, on a few seeds. What is asked
for: beats with an F-measure of 0.98 (70 ms) and a Cemgil score of 0.85 (40 ms), by mir_eval; a tempo that drifts by 5 % a
minute within 15 ms at the median; never another number of beats.
"""

from __future__ import annotations

import statistics
import sys
from dataclasses import replace
from pathlib import Path

import pytest

pytest.importorskip("mir_eval")
sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

from drumming import CONDITIONS, cases

FEW = {
    "everything at once": ("rock", "syncopated", "six-eight"),
    "5 % a minute slower": ("shuffle",),
    "5 % a minute faster": ("ballad", "waltz"),
    "half time": ("sparse",),
    "double time": ("double time",),
    "bars": ("one drop", "fast ride"),
}
"""Grooves by row of the benchmark."""


HARD = (
    ("anybody, 5 % faster", "half-time shuffle", 1),
    ("anybody, other grooves", "samba", 1),
    ("laid back 20 ms", "sixteenths", 1),
)
"""Row, groove and seed of drummers who were once lost by a sixteenth or a triplet."""


@pytest.mark.parametrize(
    ("name", "groove", "seed"), [(name, each, 40) for name in FEW for each in FEW[name]] + list(HARD)
)
def test_beats_are_told_where_the_drummer_has_them(name, groove, seed):
    condition = replace(next(each for each in CONDITIONS if each.name == name), grooves=(groove,))
    (case,) = cases(condition, range(seed, seed + 1))
    assert case.f_measure() >= 0.98
    assert case.cemgil() >= 0.85
    assert statistics.median(min(abs(at - beat) for at in case.told) for beat in case.meant) <= 0.015
    assert 0.97 <= len(case.told) / len(case.meant) <= 1.03
