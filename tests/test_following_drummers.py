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

import mir_eval
import numpy
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


@pytest.mark.parametrize("name", FEW)
def test_beats_are_told_where_the_drummer_has_them(name):
    condition = replace(next(each for each in CONDITIONS if each.name == name), grooves=FEW[name])
    for _, groove, bpm, meant, told in cases(condition, range(40, 41)):
        reference, estimate = numpy.array(meant), numpy.array(told)
        assert mir_eval.beat.f_measure(reference, estimate) >= 0.98, (groove, bpm)
        assert mir_eval.beat.cemgil(reference, estimate)[0] >= 0.85, (groove, bpm)
        assert statistics.median(min(abs(at - beat) for at in told) for beat in meant) <= 0.015, (groove, bpm)
        assert 0.97 <= len(told) / len(meant) <= 1.03, (groove, bpm)
