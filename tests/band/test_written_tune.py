"""What the chart's tune says of a note, and how it weighs what is believed of the place."""

from __future__ import annotations

import sys
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.melody import joined, readable_melody
from liveassist.band.expecting import Expecting
from liveassist.band.hypothesis import Hypothesis
from liveassist.band.plan import Detour, Plan
from liveassist.band.pulse import Pulse
from liveassist.band.tune_listening import TuneListening
from liveassist.band.written_tune import Note, WrittenTune
from tests.band.rehearsing import route_of

ROUTE = route_of(
    "title = Two\nkey = C\ntempo = quarter 120\n\n== Verse ==\n| C | Am |\nmelody = c2 e2 g2 e2 | a2 c'2 a4\n\n"
    "== Chorus ==\n| F | G |\nmelody = f2 f2 a2 c'2 | g8\n\n== Bridge ==\n| Am | C |\n"
)
MIDDLE_C = 60
VERSE, AM, CHORUS, BRIDGE = 0, 1, 2, 4


def written() -> WrittenTune:
    return WrittenTune(ROUTE, joined(readable_melody(ROUTE)))


def listening(lift: int = 0) -> TuneListening:
    plan = Plan(ROUTE)
    return TuneListening(plan, Expecting(ROUTE, plan), written(), lambda change: lift)


def believed(**shares: float) -> tuple[Hypothesis, ...]:
    """Places at count 0, second 0, two quarters a second; ``believed(c0=0.9, c2=0.1)``."""
    pulse = Pulse.begin(0.0, 0.0, 0.5, 1.0).counted_in()
    found = [Hypothesis(int(name[1:]), 0.0, pulse, share) for name, share in shares.items()]
    return tuple(sorted(found, key=lambda item: -item.weight))


def test_a_note_is_found_by_pitch_class_and_time():
    tune = written()
    assert tune.nearest(1.1, MIDDLE_C + 4, 0.3) == Note(1.0, 2.0, -1)  # e, written an octave higher
    assert tune.nearest(1.1, MIDDLE_C + 16, 0.3) == Note(1.0, 2.0, 0)
    assert tune.nearest(1.1, MIDDLE_C + 16, 0.05) is None
    assert tune.nearest(1.1, MIDDLE_C + 14, 0.3) is None


def test_around_a_place_a_key_has_a_note_before_and_one_after():
    assert [note.start for note in written().around(2.1, MIDDLE_C + 16, 1.5)] == [1.0, 3.0]
    assert [note.start for note in written().around(5.5, MIDDLE_C + 21, 2.0)] == [4.0, 6.0]
    assert written().around(2.1, MIDDLE_C + 16, 0.5) == []


def test_a_bar_without_a_note_is_not_covered():
    assert [written().covers(4.0 * bar + 1.0) for bar in range(6)] == [True, True, True, True, False, False]


def test_what_is_written_is_likelier_than_the_average_and_what_is_not_less():
    tune = written()
    note = tune.nearest(0.0, MIDDLE_C + 12, 0.1)
    assert note is not None
    assert tune.likely(note, 1.0) > 5.0 > 1.0 > tune.likely(None, 1.0)


def test_a_hand_that_plays_another_tune_is_soon_listened_to_for_its_chords_only():
    tune = written()
    for _ in range(20):
        tune.learn(None, 1.0)
    assert tune.likely(None, 1.0) == pytest.approx(1.0, abs=0.1)
    assert tune.likely(Note(0.0, 1.0, 0), 1.0) < 1.5


def test_a_tune_an_octave_lower_becomes_the_usual_one():
    tune = written()
    first = tune.likely(Note(0.0, 1.0, -1), 1.0)
    for _ in range(20):
        tune.learn(Note(0.0, 1.0, -1), 1.0)
    assert tune.likely(Note(0.0, 1.0, -1), 1.0) > 2 * first
    assert tune.likely(Note(0.0, 1.0, 0), 1.0) < tune.likely(Note(0.0, 1.0, -1), 1.0)


def test_a_note_speaks_for_the_place_where_it_is_written():
    after, sung = listening().weighed(believed(c0=0.5, c2=0.5), MIDDLE_C + 16, 0.5)  # e on the second beat
    assert (after[0].change, after[0].weight) == (VERSE, pytest.approx(1.0, abs=0.1))
    assert sung is not None
    assert (sung.change, sung.into, sung.until, sung.opens) == (VERSE, 1.0, 2.0, False)


def test_with_a_key_change_by_nod_the_tune_is_lifted_too():
    after, sung = listening(lift=2).weighed(believed(c0=0.5, c2=0.5), MIDDLE_C + 18, 0.5)
    assert after[0].change == VERSE
    assert sung is not None


def test_a_note_that_opens_the_next_change_is_told_from_there():
    _, sung = listening().weighed(believed(c0=1.0), MIDDLE_C + 21, 1.98)
    assert sung is not None
    assert (sung.change, sung.count, sung.into, sung.opens) == (AM, 4.0, 0.0, True)


def test_where_nods_lead_elsewhere_the_next_bar_is_not_told():
    ear = listening()
    ear.plan.lay(0, Detour(to=2, why="to"))
    _, sung = ear.weighed(believed(c0=1.0), MIDDLE_C + 21, 1.98)
    assert sung is None


def test_a_written_note_takes_the_pulse_along_wherever_in_the_beat_it_stands():
    after, _ = listening().weighed(believed(c0=1.0), MIDDLE_C + 16, 0.54)
    assert 0.0 < after[0].pulse.time_of(1.0) - 0.5 < 0.04


def test_a_jump_found_late_is_weighed_by_what_was_sung_since_it_landed():
    ear = listening()
    for at, key in ((0.0, 17), (0.5, 17), (1.0, 21)):  # f f a, as the chorus begins
        ear.weighed(believed(c0=1.0), MIDDLE_C + key, at)
    landed = believed(c0=0.01, c2=0.01)
    weighed = {item.change: ear.after_landing(item, 1.5).weight for item in landed}
    assert weighed[CHORUS] > 100 * weighed[VERSE]
    assert {item.change: ear.after_landing(item, -1.0).weight for item in landed} == {VERSE: 0.01, CHORUS: 0.01}


def test_before_the_first_foot_the_tune_has_told_where_the_song_begins():
    ear = listening()
    for at, key in ((-2.0, 12), (-1.5, 16), (-1.0, 19)):  # c e g: a bar before the foot
        ear.before_start(MIDDLE_C + key, at)
    weights = {item.change: ear.after_silence(item, VERSE, 0.0).weight for item in believed(c0=0.8, c1=0.15)}
    assert weights[AM] > weights[VERSE]
    assert ear.since(-1.5) == [MIDDLE_C + 16, MIDDLE_C + 19]


def test_a_line_played_as_an_introduction_says_nothing_of_another_place():
    ear = listening()
    for at, key in ((-2.0, 17), (-1.5, 17), (-1.0, 21), (-0.5, 24)):  # the chorus's first bar
        ear.before_start(MIDDLE_C + key, at)
    shares = {"c0": 0.8, "c1": 0.15, "c3": 0.01}
    weights = {item.change: ear.after_silence(item, VERSE, 0.0).weight for item in believed(**shares)}
    assert weights == {0: 0.8, 1: 0.15, 3: 0.01}


def test_which_notes_open_a_change():
    ear = listening()
    assert ear.opening(CHORUS, MIDDLE_C + 5) == {0: 0.0, 1: 1.0}
    assert ear.opening(VERSE, MIDDLE_C + 16) == {1: 1.0}
    assert ear.opening(VERSE, MIDDLE_C + 19) == {}, "the third"
    assert ear.opening(VERSE, MIDDLE_C - 12) == {}, "two octaves down"
    assert ear.opening(BRIDGE, MIDDLE_C + 21) == {}


def test_which_changes_begin_alike():
    ear = listening()
    assert not ear.begin_alike(VERSE, CHORUS)
    assert ear.begin_alike(VERSE, BRIDGE), "no tune there: C is in A minor"
    assert not ear.begin_alike(CHORUS, BRIDGE)


notes = st.lists(st.tuples(st.integers(36, 96), st.floats(0.0, 3.0)), max_size=30)


@given(notes)
def test_whatever_is_sung_belief_stays_a_share(played):
    ear = listening()
    hypotheses, at = believed(c0=0.6, c1=0.2, c2=0.2), 0.0
    for key, wait in played:
        at += wait
        hypotheses, sung = ear.weighed(hypotheses, key, at)
        assert sum(item.weight for item in hypotheses) == pytest.approx(1.0)
        assert [item.weight for item in hypotheses] == sorted((item.weight for item in hypotheses), reverse=True)
        assert sung is None or 0.0 <= sung.sure <= 1.0
        assert len(hypotheses) <= 3 + 2 * len(played)


CHORALES = (1, 5, 8)
"""Bach's own soprano and bass, from music21's corpus; analyses by A. Jones and D. Tymoczko, as their files say."""


@pytest.mark.parametrize("number", CHORALES)
def test_with_bachs_own_soprano_in_the_chart_lines_begun_again_are_found_within_two_cues(number):
    pytest.importorskip("music21")
    sys.path.insert(0, str(Path(__file__).parents[1] / "benchmarks"))
    from following import followed, played
    from following_conditions import CONDITIONS
    from following_scores import cues_of
    from following_songs import chorale

    from liveassist.players.places import jumps_found, rightly_placed
    from liveassist.players.truth import events

    song, condition = chorale(number), CONDITIONS["2 %, jump, written"]
    assert song is not None
    performance = played(song, condition)
    actions = followed(performance.truth.route, condition.settings, events(performance.messages))
    right = rightly_placed(performance.truth, actions)
    assert all(jump.cues in (1, 2) for jump in jumps_found(performance.truth, right, cues_of(performance)))
    assert sum(right) / len(right) > Fraction(9, 10)
