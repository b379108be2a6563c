"""What a take tells: a take worked by hand, planted errors found again, statistics against numpy and scipy."""

from __future__ import annotations

import re
from collections import Counter
from fractions import Fraction
from statistics import stdev

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from planting import planted
from scipy import stats

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import PEDAL, BeatIs, KeyDown, KeyUp, NodTaken
from liveassist.rehearsal.history import Entry
from liveassist.rehearsal.matching import EXTRA, HELD, MISSED, RIGHT, WRONG, Foot, Written, matched
from liveassist.rehearsal.report import report, strip
from liveassist.rehearsal.review import AGAIN, FEET, STEP, TONE, review
from liveassist.rehearsal.telling import as_json, figures, summary
from liveassist.rehearsal.timing import clock_and_motor, levelled, timing


def click(route, *, start=1.0, beat=1.0):
    """The beats of a click at a quarter note a second."""
    return [
        BeatIs(at=start + beat * float(place / bar.meter.counted_beat), position=place)
        for bar in route.bars
        for place in route.beats(bar)
    ]


def feet(*notes):
    """(seconds, key) as pedals pressed for half a second."""
    return [
        event
        for at, key in notes
        for event in (
            KeyDown(at=at, heard=at, division=PEDAL, key=key),
            KeyUp(at=at + 0.5, heard=at + 0.5, division=PEDAL, key=key),
        )
    ]


G, A, C, D, E, F_SHARP = 43, 45, 36, 38, 40, 42


def test_ten_notes_worked_by_hand(ten):
    """Ten bars at 60, due at 1, 5, 9 ... 37 s. Errors in ms: -20 -10 -30 -20, wrong, -20 -10 missed -30 -20, and an A too many.

    Of the eight right notes: mean -20, median -20, squares of the deviations 0 100 100 0 0 100 100 0, so the sample SD is
    sqrt(400 / 7) = 7.559 ms without a drift; the drift is the slope against the due times 1 5 9 13 21 25 33 37 (mean 18):
    sum of (t - 18)(e + 20) = -13*10 + -9*-10 + 7*10 + 15*-10 = -120 ms s over sum (t - 18)^2 = 1208 s^2.
    """
    played = feet(
        (0.980, G), (4.990, C), (8.970, D), (12.980, G), (17.0, F_SHARP), (20.980, C), (24.990, G), (30.6, A), (32.970, D),
        (36.980, G),
    )  # fmt: skip
    found = review(ten, played, click(ten))
    assert [(one.kind, one.change) for one in found.remarks] == [
        (RIGHT, 0), (RIGHT, 1), (RIGHT, 2), (RIGHT, 3), (WRONG, 4), (RIGHT, 5), (RIGHT, 6), (MISSED, 7), (EXTRA, 7),
        (RIGHT, 8), (RIGHT, 9),
    ]  # fmt: skip
    whole = found.whole
    assert whole is not None
    assert whole.mean == pytest.approx(-0.020)
    assert whole.median == pytest.approx(-0.020)
    assert whole.drift == pytest.approx(-0.120 / 1208)
    assert whole.sd == pytest.approx(((0.000400 - 0.120**2 / 1208) / 7) ** 0.5)
    assert (whole.close, whole.near) == (1.0, 1.0)
    assert found.asked == 10
    (extra,) = found.of_kind(EXTRA)
    assert (found.route.bars[extra.bar].section, found.route.bars[extra.bar].number, extra.what) == ("Chorus", 3, AGAIN)
    (wrong,) = found.of_kind(WRONG)
    assert (wrong.written, wrong.played) == (4, F_SHARP)


def test_the_words_name_the_bar_and_what_to_practise(ten):
    late = [
        (1.0, G),
        (5.0, C),
        (9.0, D),
        (13.0, G),
        (17.0, F_SHARP),
        (21.06, C),
        (25.0, G),
        (29.0, A),
        (33.0, D),
        (37.0, G),
    ]
    words = summary(review(ten, feet(*late), click(ten)))
    assert words[0].startswith("9 of 10 pedal notes right. Timing ")
    assert any(line.startswith("You wait for the Chorus: ") for line in words)
    assert "Wrong pedal in Verse bar 5 (F♯ for E)." in words
    assert words[-1].startswith("Next: Verse bar 5 and the bar before it")


def test_of_a_few_notes_no_timing_is_told(ten):
    words = summary(review(ten, feet((1.2, G), (5.2, C), (9.2, D)), click(ten)))
    assert words[0] == "3 of 10 pedal notes right. Too few to tell the timing."
    assert not any("lead the click" in line or "steady" in line or "slow down" in line for line in words)


def test_to_be_practised_next_is_the_bar_with_the_most_faults(ten):
    """The third bar is late once, the seventh is missed and the fifth wrong: what is late is no fault."""
    played = feet((1.0, G), (5.0, C), (9.09, D), (13.0, G), (17.0, F_SHARP), (21.0, C), (29.0, A), (33.0, D), (37.0, G))
    found = summary(review(ten, played, click(ten)))
    assert found[-1].startswith("Next: Verse bar 5 and the bar before it")


def test_a_lead_of_the_feet_is_told_and_not_judged(ten):
    early = feet(*((1.0 + 4 * n - 0.030, 36 + change.bass) for n, change in enumerate(ten.changes)))
    found = review(ten, early, click(ten))
    assert found.whole is not None
    assert found.whole.lead == pytest.approx(-0.030)
    assert all(one.judged == pytest.approx(0.0) for one in found.remarks)
    assert any("lead the click by 30 ms" in line for line in summary(found))
    assert not found.worst


def test_a_root_written_again_that_lies_under_the_foot_is_held():
    route = unfold(read_chart("title = T\nkey = C\nmeter = 4/4\ntempo = 60\n\n== Verse ==\n| C | C | F | C |\n"))
    lying = [
        KeyDown(at=1.0, heard=1.0, division=PEDAL, key=C),
        KeyUp(at=8.9, heard=8.9, division=PEDAL, key=C),
        *feet((9.0, 41), (13.0, C)),
    ]
    assert [one.kind for one in review(route, lying, click(route)).remarks] == [RIGHT, HELD, RIGHT, RIGHT]
    lifted = feet((1.0, C), (9.0, 41), (13.0, C))
    assert [one.kind for one in review(route, lifted, click(route)).remarks] == [RIGHT, MISSED, RIGHT, RIGHT]


@pytest.mark.parametrize(
    ("key", "what"), [(G, AGAIN), (47, TONE), (C + 1, STEP)], ids=["root again", "of the chord", "half a step before"]
)
def test_notes_too_many_are_told_by_what_they_are(ten, key, what):
    rest = [(1.0 + 4 * n, 36 + change.bass) for n, change in enumerate(ten.changes)]
    found = review(ten, feet(*sorted([*rest, (2.5, key)])), click(ten))
    assert [one.what for one in found.of_kind(EXTRA)] == [what]


def test_a_pushed_chord_is_due_where_it_is_played():
    route = unfold(read_chart("title = T\nkey = C\nmeter = 4/4\ntempo = 60\n\n== Verse ==\n| C | F (push) | G | C |\n"))
    found = review(route, feet((1.0, C), (4.5, 41), (9.0, G), (13.0, C)), click(route))
    assert [one.error for one in found.remarks] == pytest.approx([0.0, 0.0, 0.0, 0.0])


def test_a_nod_up_raises_what_is_due_from_the_next_bar_line(ten):
    up = [(1.0 + 4 * n, 36 + change.bass + (1 if n >= 5 else 0)) for n, change in enumerate(ten.changes)]
    actions = [*click(ten), NodTaken(at=18.5, nod="up")]
    assert review(ten, feet(*up), actions).faults == 0


def test_where_the_feet_lead_evenness_is_judged_and_the_tempo_told(ten):
    times = [1.0 + 4.0 * n + 0.02 * n * n for n in range(10)]  # slowing down evenly
    played = feet(*((at, 36 + change.bass) for at, change in zip(times, ten.changes, strict=True)))
    beats = [
        BeatIs(at=at + (later - at) * k / 4, position=Fraction(4 * n + k))
        for n, (at, later) in enumerate(zip(times, [*times[1:], times[-1] + 4.4], strict=True))
        for k in range(4)
    ]
    found = review(ten, played, beats, reference=FEET)
    assert found.whole is not None
    assert found.whole.sd < 0.010
    assert found.tempo[0][1] == pytest.approx(60 * 4 / 4.02)
    assert found.tempo[-1][1] == pytest.approx(60 * 4 / 4.34)


def test_nothing_heard_is_said_and_breaks_nothing(ten):
    found = review(ten, [], click(ten))
    assert found.whole is None
    assert len(found.of_kind(MISSED)) == 10
    assert len(summary(found)) == 1
    assert list(figures(found)) == []
    assert as_json(found)["timing"] is None


def test_a_take_without_beats_is_all_extra(ten):
    assert [one.kind for one in review(ten, feet((1.0, G)), []).remarks] == [EXTRA]


def entry(number, sd):
    return Entry(
        id=number, song="Ten", made="2026-01-04 10:00", lead="pulse", asked=10, right=9, mean=0.0, sd=sd, drift=0.0
    )


def test_the_report_stands_alone_and_is_the_same_each_time(ten):
    wrong = [(1.0, G), (5.03, C), (9.0, D), (13.0, G), (17.0, F_SHARP), (21.06, C), (25.0, G), (33.0, D), (37.0, G)]
    found = review(ten, feet(*wrong), click(ten))
    text = report(found, [entry(1, 30.0), entry(2, 24.0)], made="2026-01-11")
    assert text.count("<svg") == 4
    assert "<script" not in text
    assert not re.search(r'(?:href|src)="(?!#)', text)
    for word in ("Wrong pedal in Verse bar 5", "From take to take", "Chorus bar 3", "2026-01-11"):
        assert word in text
    assert text == report(found, [entry(1, 30.0), entry(2, 24.0)], made="2026-01-11")


def test_the_strip_marks_late_above_and_early_below(ten):
    rows = list(strip(review(ten, feet((1.0, G), (5.0, C), (9.06, D), (12.94, G)), click(ten)), width=40))
    assert len(rows) == 9
    above, below = "".join(row[5:] for row in rows[:4]), "".join(row[5:] for row in rows[5:])
    assert "█" in above
    assert "█" in below
    assert rows[4].count("o") == 6


# -- planted errors -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("rate", [0.0, 0.05, 0.15])
def test_planted_errors_are_found_again(demo_routes, rate):
    """Every missed, wrong and extra note with its bar in 99 % of takes; mean within 1 ms, SD within 2 ms, drift within 0.1 %.
    The benchmark ``reviewing.py`` does the same with a thousand takes."""
    lost, takes = 0, 60
    for seed in range(takes):
        route = demo_routes[seed % len(demo_routes)]
        take = planted(
            route, seed, bpm=60 + seed, rate=rate, lead=-0.04, scatter=0.025, drift=(-0.01, 0.0, 0.008)[seed % 3]
        )
        found = review(route, take.events, take.actions)
        told = Counter((one.kind, one.bar) for one in found.of_kind(MISSED, WRONG, EXTRA))
        lost += bool(Counter(take.faults) - told)
        mean, drift, flat = levelled(*zip(*take.clean, strict=True))
        assert found.whole is not None
        assert abs(found.whole.mean - mean) < 0.001
        assert abs(found.whole.drift - drift) < 0.001
        assert abs(found.whole.sd - stdev(flat)) < 0.002
    assert lost <= 1


# -- statistics against numpy and scipy -----------------------------------------------------------------------------

rows = st.lists(
    st.tuples(st.floats(0, 300).map(lambda t: round(t, 3)), st.floats(-0.1, 0.1)),
    min_size=4,
    max_size=60,
    unique_by=lambda row: row[0],
).map(sorted)


@given(rows)
def test_figures_are_those_of_scipy(row):
    times, errors = map(np.array, zip(*row, strict=True))
    found = timing(list(times), list(errors), [0.5] * len(row))
    assert found is not None
    line = stats.linregress(times, errors)
    assert found.drift == pytest.approx(line.slope, abs=1e-9)
    assert found.mean == pytest.approx(np.mean(errors), abs=1e-12)
    left = errors - (line.intercept + line.slope * times)
    assert found.sd == pytest.approx(np.std(left, ddof=1), abs=1e-9)
    assert found.median == pytest.approx(np.median(errors), abs=1e-12)
    flat = left + np.mean(errors)
    judged = flat - np.median(flat)
    assert found.median_absolute == pytest.approx(np.median(np.abs(judged)), abs=1e-9)
    resultant = 1 - stats.circvar(judged, high=0.5, low=0.0)
    assert found.steadiness == pytest.approx(resultant, abs=1e-9)


def test_clock_and_motor_are_told_apart_where_the_model_holds():
    """Wing and Kristofferson's own model (1973, from memory): intervals of a clock, each end blurred by the limb."""
    dice = np.random.default_rng(5)
    clock, motor = 0.020, 0.010
    blur = dice.normal(0, motor, 4001)
    onsets = np.concatenate([[0.0], np.cumsum(dice.normal(0.5, clock, 4000))]) + blur
    errors = onsets - 0.5 * np.arange(4001)
    found = clock_and_motor(list(errors))
    assert found[0] == pytest.approx(clock, rel=0.05)
    assert found[1] == pytest.approx(motor, rel=0.10)
    assert found[2] is not None
    assert -0.5 < found[2] < 0.0


# -- matching -------------------------------------------------------------------------------------------------------

notes = st.lists(st.tuples(st.floats(0, 60), st.integers(36, 67)), max_size=30).map(sorted)


@settings(max_examples=200)
@given(notes, notes)
def test_every_note_is_told_once(due, played):
    written = [Written(index, at, key % 12, 0.5) for index, (at, key) in enumerate(due)]
    struck = [Foot(at, at + 0.2, key) for at, key in played]
    pairs = matched(written, struck)
    assert [pair.written for pair in pairs if pair.written] == written
    assert [pair.foot for pair in pairs if pair.foot] == struck
    for pair in pairs:
        assert (pair.kind == EXTRA) == (pair.written is None)
        assert (pair.kind in (MISSED, HELD)) == (pair.foot is None)
        if pair.written and pair.foot:
            assert (pair.kind == RIGHT) == (pair.foot.key % 12 == pair.written.bass)
