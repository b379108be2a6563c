"""The scores on cases small enough to work out by hand."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction

import pytest

from liveassist.band.events import Action, BeatIs, NoteOff, NoteOn, PlaceIs
from liveassist.players.organist import METRONOME, script
from liveassist.players.scoring import asynchrony, chord_coverage, place_share, sounding_share
from liveassist.players.truth import Truth

PLAIN = replace(METRONOME, melody=False)


@pytest.fixture
def four(route_of) -> Truth:
    """D, G, A, D from 2 s on, four seconds each, to 18 s."""
    return script(route_of("Verse: D | G | A | D"), PLAIN).truth


def told(*places: tuple[float, int]) -> list[Action]:
    return [PlaceIs(at=at, change=change, position=Fraction(4 * change), bpm=60.0, sure=1.0) for at, change in places]


@pytest.mark.parametrize(
    ("places", "share"),
    [
        pytest.param([(2.0, 0), (6.0, 1), (10.0, 2), (14.0, 3)], 1.0, id="all at once"),
        pytest.param([(2.2, 0), (6.25, 1), (10.24, 2), (14.0, 3)], 1.0, id="all within a quarter of a second"),
        pytest.param([(2.0, 0), (6.3, 1), (10.0, 2), (14.0, 3)], 0.75, id="one too late"),
        pytest.param([(2.0, 0), (6.0, 2), (10.0, 2), (14.0, 3)], 0.75, id="one wrong"),
        pytest.param([(2.0, 0), (6.0, 2), (6.2, 1), (10.0, 2), (14.0, 3)], 1.0, id="one put right in time"),
        pytest.param([], 0.0, id="nothing told"),
    ],
)
def test_share_of_changes_with_the_right_place(four, places, share):
    assert place_share(four, told(*places)) == share


def test_a_chorus_told_as_its_other_pass_is_the_same_written_change_but_not_exactly(route_of):
    truth = script(route_of("Chorus: D | G ; Chorus: D | G"), PLAIN).truth
    places = told((2.0, 2), (6.0, 3), (10.0, 2), (14.0, 3))
    assert place_share(truth, places) == 1.0
    assert place_share(truth, places, exactly=True) == 0.5


@pytest.mark.parametrize(
    ("places", "share"),
    [
        # 16 s less 0.1 s on both sides of each of three seams and at the very start: 15.3 s count.
        pytest.param([(2.0, 0), (6.05, 1), (9.95, 2), (14.0, 3)], 1.0, id="within the seams"),
        pytest.param([(2.0, 0), (7.1, 1), (10.0, 2), (14.0, 3)], 14.3 / 15.3, id="a second late"),
        pytest.param([(2.0, 3), (6.0, 1), (10.0, 2), (14.0, 0)], 1.0, id="another change with the same chord"),
        pytest.param([(6.0, 1), (10.0, 2), (14.0, 3)], 11.5 / 15.3, id="late to begin"),
    ],
)
def test_share_of_time_with_the_right_chord(four, places, share):
    assert chord_coverage(four, told(*places)) == pytest.approx(share)


def note(pitch: int, on: float, off: float | None, part: str = "figure") -> list[Action]:
    down: list[Action] = [NoteOn(at=on, part=part, pitch=pitch, position=Fraction(0))]
    return down if off is None else [*down, NoteOff(at=off, part=part, pitch=pitch, position=Fraction(0))]


@pytest.mark.parametrize(
    ("actions", "share"),
    [
        pytest.param([*note(54, 2.1, 5.9)], 1.0, id="F sharp in D"),
        pytest.param([*note(53, 2.1, 5.9)], 0.0, id="F in D"),
        pytest.param([*note(54, 5.0, 7.0)], 0.5, id="held over into G"),
        pytest.param(
            [*note(54, 17.0, None), *note(53, 16.0, 16.5, "answer")], 1.0, id="never let go; the answer aside"
        ),
        pytest.param([*note(54, 5.95, 6.05)], 1.0, id="only in the seam"),
    ],
)
def test_share_of_sound_within_the_chord(four, actions, share):
    assert sounding_share(four, actions) == pytest.approx(share)


def beats(*times: float) -> list[Action]:
    return [BeatIs(at=at, position=Fraction(0)) for at in times]


def test_asynchrony_of_beats_by_hand(four):
    # The player beats whole seconds from 2 to 17. The band: 10 ms late, 30 ms late, one 0.2 s late, then nothing;
    # one of its own at 2.45, which 2.01 has already answered and which is too far from 3.
    found = asynchrony(four, beats(2.01, 2.45, 3.03, 4.2))
    assert (found.matched, found.missed, found.extra) == (3, 13, 1)
    assert found.mean == pytest.approx(0.08)
    assert found.sd == pytest.approx(((0.07**2 + 0.05**2 + 0.12**2) / 3) ** 0.5)
    assert found.median == pytest.approx(0.03)
    assert found.f_measure == pytest.approx(2 * 2 / (16 + 4))


def test_a_band_exactly_on_the_beat(four):
    found = asynchrony(four, beats(*(beat.at for beat in four.beats)))
    assert (found.matched, found.missed, found.extra, found.mean, found.sd) == (16, 0, 0, 0.0, 0.0)
    assert (found.f_measure, found.cemgil) == (1.0, 1.0)


def test_a_silent_band_scores_nothing(four):
    found = asynchrony(four, [])
    assert (found.matched, found.missed, found.extra, found.f_measure, found.cemgil) == (0, 16, 0, 0.0, 0.0)


@pytest.mark.parametrize(
    ("sd", "f_measure", "cemgil"), [(0.020, 0.9995, 0.894), (0.030, 0.980, 0.800), (0.040, 0.920, 0.707)]
)
def test_normal_errors_score_as_calculus_says(route_of, sd, f_measure, cemgil):
    """For errors from a bell of width s: F is the chance of |error| < 70 ms, erf(70 / (s sqrt 2)); Cemgil's score is
    1 / sqrt(1 + (s / 40 ms)^2). Worked out with a table of the normal distribution."""
    truth = script(route_of("Verse: " + " | ".join(["D"] * 500)), PLAIN).truth
    dice = random.Random(1)
    found = asynchrony(truth, beats(*(beat.at + dice.gauss(0.0, sd) for beat in truth.beats)))
    assert found.sd == pytest.approx(sd, rel=0.05)
    assert found.f_measure == pytest.approx(f_measure, abs=0.012)
    assert found.cemgil == pytest.approx(cemgil, abs=0.02)
