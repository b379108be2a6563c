"""Where a tune lies for a congregation: A3 to D5 (published advice on congregational keys, as ``charts.singing`` says)."""

from __future__ import annotations

from charts.notation import read_chart
from charts.singing import HIGHEST, LOWEST, best, places

CHART = """key = G
meter = 4/4
== Verse ==
| G | D7/F# |
melody = G2 B2 d2 g2 | f4 A4 |
"""


def test_the_range_in_every_key() -> None:
    found = places(read_chart(CHART))
    assert [place.key.name for place in found] == ["Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B", "C"]
    written = next(place for place in found if not place.up)
    assert written.lowest is not None
    assert written.highest is not None
    assert (written.lowest.pitch, written.highest.pitch) == (67, 79)
    # g (a quarter) and f sharp (a half) are above D5: counted by hand.
    assert (written.too_high, written.too_low) == (3, 0)


def test_the_best_key_has_everything_in_range() -> None:
    chosen = best(places(read_chart(CHART)))
    assert (chosen.too_high, chosen.too_low) == (0, 0)
    assert chosen.lowest is not None
    assert chosen.highest is not None
    assert LOWEST <= chosen.lowest.pitch <= chosen.highest.pitch <= HIGHEST


def test_pedals_are_told_for_each_key() -> None:
    written = next(place for place in places(read_chart(CHART)) if not place.up)
    assert written.pedals == (42, 43)  # F sharp and G in the lowest octave of the pedalboard, MIDI 36 being C
    assert written.black_pedals == 1


def test_a_chart_without_a_tune_has_no_range() -> None:
    found = places(read_chart("key = G\n== Verse ==\n| G |"))
    assert all(place.lowest is None and place.highest is None for place in found)
