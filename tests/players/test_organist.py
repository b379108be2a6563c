"""The imagined organist plays what its habits say, and the truth it tells is what it played."""

from __future__ import annotations

import random
import statistics
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import mido
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from charts.chart import A_TEMPO, BREATH, HOLD, LATE, PUSH, RIT, WALK
from liveassist.arranging.clock import ritard_speed
from liveassist.band.events import MELODY_MANUAL, PEDAL, KeyDown, KeyUp, SwitchPressed
from liveassist.players.organist import METRONOME, SLIPPING, Organist, script
from liveassist.players.timing import Pace, one_over_f
from liveassist.players.truth import Script, events, write_midi
from liveassist.players.tune import fingered

PLAIN = replace(METRONOME, melody=False)
"""At 60 a minute, from 2 s on: a beat is a second."""
FOUR = "Verse: D | G | A | D"
TWO_SECTIONS = "Verse: D | G ; Chorus: A | E"
LONG = "Verse: " + " | ".join(["D A", "G", "E A", "D"] * 50)
SCALE = tuple((Fraction(beat), Fraction(1), 60 + beat) for beat in range(16))


def feet(played: Script) -> list[tuple[float, int]]:
    return [(at, data[1]) for at, data in played.messages if data[0] == 0x93]


def lifts(played: Script) -> list[float]:
    return [at for at, data in played.messages if data[0] == 0x83]


def moments(played: Script) -> list[tuple[float, int, int, int]]:
    return [(moment.at, moment.bar, moment.change, int(moment.position)) for moment in played.truth.changes]


def test_a_metronome_plays_each_root_on_its_beat(route_of):
    played = script(route_of(FOUR), PLAIN)
    assert feet(played) == [(2.0, 38), (6.0, 43), (10.0, 45), (14.0, 50)]
    assert moments(played) == [(2.0, 0, 0, 0), (6.0, 1, 1, 4), (10.0, 2, 2, 8), (14.0, 3, 3, 12)]
    assert [beat.at for beat in played.truth.beats] == [2.0 + beat for beat in range(16)]
    assert played.truth.end == 18.0


def test_a_pedal_is_held_nine_tenths_and_the_last_to_the_end(route_of):
    assert lifts(script(route_of(FOUR), PLAIN)) == [5.6, 9.6, 13.6, 18.0]


@pytest.mark.parametrize(
    ("habit", "expected"),
    [
        pytest.param({"lead": 0.02}, [(1.98, 38), (5.98, 43), (9.98, 45), (13.98, 50)], id="feet ahead"),
        pytest.param({"missed": 1.0}, [], id="feet forgotten"),
        pytest.param({"late": 1.0}, [(2.5, 38), (6.5, 43), (10.5, 45), (14.5, 50)], id="half a beat late"),
        pytest.param(
            {"early": 1.0}, [(2.0, 38), (5.5, 43), (9.5, 45), (13.5, 50)], id="half a beat early but the first"
        ),
        pytest.param({"octaves": 1.0}, [(2.0, 50), (6.0, 55), (10.0, 57), (14.0, 62)], id="octave above"),
        pytest.param(
            {"passing": 1.0},
            [(2.0, 38), (5.5, 41), (6.0, 43), (9.5, 44), (10.0, 45), (13.5, 48), (14.0, 50)],
            id="passing notes",
        ),
        pytest.param(
            {"fifths": 1.0},
            [(2.0, 38), (4.0, 45), (6.0, 43), (8.0, 50), (10.0, 45), (12.0, 52), (14.0, 50), (16.0, 57)],
            id="fifths",
        ),
        pytest.param({"every_beat": True}, [(2.0 + k, (38, 43, 45, 50)[k // 4]) for k in range(16)], id="every beat"),
        pytest.param({"pace": Pace(tempo=120.0)}, [(2.0, 38), (4.0, 43), (6.0, 45), (8.0, 50)], id="twice as fast"),
        pytest.param({"first_bar": 2}, [(2.0, 45), (6.0, 50)], id="from the third bar"),
    ],
)
def test_one_habit_at_a_time(route_of, habit, expected):
    assert feet(script(route_of(FOUR), replace(PLAIN, **habit))) == expected


def test_a_wrong_pedal_is_close_to_the_right_one_and_leaves_the_truth_alone(route_of):
    right, wrong = script(route_of(LONG), PLAIN), script(route_of(LONG), replace(PLAIN, wrong=1.0))
    apart = [abs(one - other) for (_, one), (_, other) in zip(feet(right), feet(wrong), strict=True)]
    assert 0 not in apart
    assert statistics.mean(distance <= 2 for distance in apart) > 0.7
    assert right.truth.changes == wrong.truth.changes


def test_slips_come_about_as_often_as_asked(route_of):
    route = route_of(LONG)
    assert len(route.changes) == 300
    missing = 300 - len(feet(script(route, replace(PLAIN, missed=0.1))))
    assert 14 <= missing <= 48  # 30 expected; three standard deviations of a binomial are 16


def test_an_early_slip_moves_the_foot_but_not_the_music(route_of):
    played = script(route_of(FOUR), replace(PLAIN, early=1.0))
    assert [moment.at for moment in played.truth.changes] == [2.0, 6.0, 10.0, 14.0]


@pytest.mark.parametrize(("mark", "at"), [(PUSH, 5.5), (LATE, 6.5)])
def test_a_marked_push_or_late_chord_moves_foot_and_truth(route_of, mark, at):
    played = script(route_of(FOUR, marks={1: (mark,)}), PLAIN)
    assert feet(played)[1] == (at, 43)
    assert played.truth.changes[1].at == at


def test_a_marked_walk_goes_by_step_to_the_next_root(route_of):
    played = script(route_of("Verse: D | A", marks={0: (WALK,)}), PLAIN)
    assert feet(played) == [(2.0, 38), (3.0, 40), (4.0, 42), (5.0, 43), (6.0, 45)]


def test_a_hold_keeps_foot_and_melody_down_and_counts_no_beats(route_of):
    played = script(route_of(FOUR, marks={1: (HOLD,)}), replace(PLAIN, hold_beats=3.0, melody=True, tune=SCALE))
    assert feet(played)[2] == (13.0, 45)
    assert lifts(played)[1] == pytest.approx(12.99)  # up 10 ms before the next foot
    assert [beat.at for beat in played.truth.beats][3:7] == [5.0, 6.0, 13.0, 14.0]
    melody_ends = [at for at, data in played.messages if data[0] == 0x80 and data[1] == 67]
    assert melody_ends == [pytest.approx(9.0 + 4.0 * 0.97)]


def test_a_breath_lifts_everything_and_then_goes_on(route_of):
    played = script(route_of(FOUR, marks={1: (BREATH,)}), replace(PLAIN, breath_beats=1.0, melody=True, tune=SCALE))
    assert feet(played)[2] == (11.0, 45)
    assert not [data for at, data in played.messages if 10.0 < at < 11.0]


def test_a_stop_is_silent_for_as_long_as_asked(route_of):
    played = script(route_of(FOUR), replace(PLAIN, stops=((2, 7.5),), melody=True, tune=SCALE))
    assert feet(played)[2] == (17.5, 45)
    assert not [data for at, data in played.messages if 10.0 < at < 17.5]


def test_an_unplanned_repeat_goes_back_and_on_again(route_of):
    played = script(route_of(TWO_SECTIONS), replace(PLAIN, jumps=((1, 0),)))
    assert [(moment.at, moment.bar) for moment in played.truth.changes] == [
        (2.0, 0),
        (6.0, 1),
        (10.0, 0),
        (14.0, 1),
        (18.0, 2),
        (22.0, 3),
    ]


def test_landing_in_the_middle_of_a_chord_strikes_it_again(route_of):
    played = script(route_of("Verse: D | _ | G"), replace(PLAIN, jumps=((2, 1),)))
    assert moments(played) == [(2.0, 0, 0, 0), (10.0, 2, 1, 8), (14.0, 1, 0, 4), (18.0, 2, 1, 8)]
    assert feet(played) == [(2.0, 38), (10.0, 43), (14.0, 38), (18.0, 43)]


@pytest.mark.parametrize(
    "habit",
    [{"jumps": ((1, 9),)}, {"jumps": ((3, 0), (9, 1))}, {"jumps": ((1, 3), (2, 0))}, {"stops": ((8, 1.0),)}],
    ids=["to nowhere", "from nowhere", "never reached", "stop nowhere"],
)
def test_a_plan_that_cannot_be_played_is_an_error(route_of, habit):
    with pytest.raises(ValueError, match=r"bar|never"):
        script(route_of(FOUR), replace(PLAIN, **habit))


@pytest.mark.parametrize(
    ("unit", "expected"),
    [("change", [2.0, 6.0, 10.0, 14.0]), ("bar", [2.0, 6.0, 10.0, 14.0]), ("section", [2.0, 10.0])],
)
def test_the_switch_is_pressed_at_each_unit(route_of, unit, expected):
    played = script(route_of(TWO_SECTIONS), replace(PLAIN, switch=unit))
    presses = [event for event in events(played.messages) if isinstance(event, SwitchPressed)]
    assert [event.at for event in presses] == expected


def test_the_ritard_falls_as_published():
    # Friberg & Sundberg 1999 (formula from memory): with q = 2 the square of the tempo falls in a straight line.
    squares = [ritard_speed(x / 4, 0.5, 2.0) ** 2 for x in range(5)]
    assert squares == pytest.approx([1.0, 0.8125, 0.625, 0.4375, 0.25])


def test_a_marked_ritard_slows_until_a_tempo(route_of):
    route = route_of(FOUR, marks={1: (RIT,), 2: (A_TEMPO,)})
    beats = [beat.at for beat in script(route, replace(PLAIN, pace=Pace(ritard_to=0.5))).truth.beats]
    lengths = [after - before for before, after in pairwise(beats)]
    assert lengths[:4] == pytest.approx([1.0] * 4)
    assert lengths[4:8] == sorted(lengths[4:8])
    assert 1.0 < lengths[4] < 1.2
    assert 1.6 < lengths[7] < 2.0
    assert lengths[8:] == pytest.approx([1.0] * 7)


def test_the_noise_is_of_the_size_asked_and_of_the_human_kind(route_of):
    """Wing & Kristofferson 1973 (from memory): with intervals I and lag-k autocovariance g(k), motor variance is -g(1),
    timer variance g(0) + 2 g(1)."""
    route = route_of("Verse: " + " | ".join(["D"] * 500))
    organist = replace(PLAIN, pace=Pace(clock_noise=0.025), motor_noise=0.015, every_beat=True)
    times = [at for at, _ in feet(script(route, organist, random.Random(7)))]
    intervals = [after - before for before, after in pairwise(times)]
    mean = statistics.mean(intervals)
    lag0 = statistics.pvariance(intervals)
    lag1 = statistics.mean((a - mean) * (b - mean) for a, b in pairwise(intervals))
    assert (-lag1) ** 0.5 == pytest.approx(0.015, rel=0.15)
    assert (lag0 + 2 * lag1) ** 0.5 == pytest.approx(0.025, rel=0.15)


def test_the_default_organist_taps_like_a_musician(route_of):
    # Musicians' tapping SD is 2-4 % of the interval (Repp 2005, from memory); 90 a minute, arch and drift on top.
    route = route_of("Verse: " + " | ".join(["D"] * 100), bpm=90.0)
    times = [at for at, _ in feet(script(route, replace(Organist(), every_beat=True, melody=False), random.Random(3)))]
    intervals = [after - before for before, after in pairwise(times)]
    assert 0.02 < statistics.stdev(intervals) / statistics.mean(intervals) < 0.055
    assert statistics.mean(intervals) == pytest.approx(60 / 90, rel=0.03)


def test_the_same_seed_plays_the_same_and_another_does_not(route_of):
    route, organist = route_of(LONG), replace(SLIPPING, tune=SCALE)
    one, again = (script(route, organist, random.Random(5)) for _ in range(2))
    assert one == again
    assert one.messages != script(route, organist, random.Random(6)).messages


def test_turning_one_habit_on_leaves_the_dice_of_the_others_alone(route_of):
    route = route_of(LONG)
    without, with_slips = (
        script(route, replace(Organist(), melody=False)),
        script(route, replace(SLIPPING, melody=False)),
    )
    assert without.truth.beats == with_slips.truth.beats


CHANCE = st.sampled_from([0.0, 0.1, 0.5, 1.0])


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    seed=st.integers(0, 1000),
    rates=st.fixed_dictionaries(dict.fromkeys(("missed", "wrong", "early", "late", "passing", "fifths"), CHANCE)),
    every_beat=st.booleans(),
    marks=st.dictionaries(st.integers(0, 7), st.sampled_from([(HOLD,), (BREATH,), (RIT,), (PUSH,), (LATE,), (WALK,)])),
    jump=st.sampled_from([(), ((3, 0),), ((1, 4),)]),
)
def test_whatever_the_habits_keys_come_up_again_and_the_truth_goes_forward(
    route_of, seed, rates, every_beat, marks, jump
):
    route = route_of("Verse: D A | G | E A | D ; Chorus: G | D", marks=marks)
    organist = replace(Organist(), tune=SCALE, every_beat=every_beat, jumps=jump, **rates)
    played = script(route, organist, random.Random(seed))
    down: set[tuple[int, int]] = set()
    for _, (status, key, _) in played.messages:
        voice = (status & 0x0F, key)
        assert (voice in down) == (status & 0xF0 == 0x80)
        down ^= {voice}
        assert 36 <= key <= (67 if status & 0x0F == 3 else 96)
    assert not down
    times = [at for at, _ in played.messages]
    assert times == sorted(times)
    beats = [beat.at for beat in played.truth.beats]
    assert beats == sorted(beats)
    assert beats[-1] < played.truth.end


def test_the_band_hears_divisions_of_the_plain_console(route_of):
    played = script(route_of("Verse: D"), replace(PLAIN, melody=True, tune=((Fraction(0), Fraction(4), 69),)))
    assert events(played.messages) == [
        KeyDown(at=2.0, heard=2.0, division=MELODY_MANUAL, key=69),
        KeyDown(at=2.0, heard=2.0, division=PEDAL, key=38),
        KeyUp(at=5.88, heard=5.88, division=MELODY_MANUAL, key=69),
        KeyUp(at=6.0, heard=6.0, division=PEDAL, key=38),
    ]


def test_the_midi_file_says_the_same_to_a_tenth_of_a_millisecond(route_of, tmp_path):
    played = script(route_of(LONG), replace(Organist(), tune=SCALE))
    write_midi(played, tmp_path / "take.mid")
    now, read = 0.0, []
    for message in mido.MidiFile(tmp_path / "take.mid"):
        now += message.time
        if not message.is_meta:
            read.append((now, bytes(message.bytes())))
    assert [data for _, data in read] == [data for _, data in played.messages]
    assert max(abs(one - other) for (one, _), (other, _) in zip(read, played.messages, strict=True)) < 0.0001


def test_an_invented_tune_stays_in_the_chords_and_in_a_congregations_range(route_of):
    route = route_of("Verse: D | G | A | D")
    played = script(route, METRONOME, random.Random(4))
    triads = ({2, 6, 9}, {7, 11, 2}, {9, 1, 4}, {2, 6, 9})  # D, G, A major, by hand
    notes = [(at, data[1]) for at, data in played.messages if data[0] == 0x90]
    assert len(notes) >= 8
    for at, key in notes:
        assert key % 12 in triads[int((at - 2.0) // 4)]
        assert 60 <= key <= 76


def test_feet_that_rest_though_the_chart_says_nothing(route_of):
    route = route_of("Verse: D | G ; Chorus: A | D ; Verse: D | G")
    performed = script(route, replace(METRONOME, melody=False, resting=(1,)))
    assert [at for at, _ in feet(performed)] == [2.0, 6.0, 18.0, 22.0]
    assert len(performed.truth.changes) == 6


def test_feet_that_walk_to_the_next_root(route_of):
    performed = script(route_of("Verse: D | G | D"), replace(METRONOME, melody=False, walking=1.0))
    walked = feet(performed)[:9]
    assert [at for at, _ in walked] == [2.0 + second for second in range(9)]
    assert [key % 12 for _, key in walked[::4]] == [2, 7, 2]
    assert all(abs(after[1] - before[1]) <= 2 for before, after in pairwise(walked))


def test_a_written_bass_line_is_played_as_it_stands(route_of):
    line = ((Fraction(0), Fraction(3), 38), (Fraction(3), Fraction(1), 40), (Fraction(4), Fraction(4), 43))
    performed = script(route_of("Verse: D | G"), replace(METRONOME, melody=False, line=line))
    assert feet(performed) == [(2.0, 38), (5.0, 40), (6.0, 43)]
    assert [moment.at for moment in performed.truth.changes] == [2.0, 6.0]
    missed = script(route_of("Verse: D | G"), replace(METRONOME, melody=False, line=line, missed=1.0))
    assert feet(missed) == [(5.0, 40)], "the passing note is no cue, so it is not missed"


def test_new_habits_leave_the_dice_of_the_others_alone(route_of):
    route = route_of("Verse: D | G | A | D")
    plain = script(route, Organist(), random.Random(5))
    assert script(route, replace(Organist(), walking=1e-9), random.Random(5)) == plain


def test_time_stands_still_in_stops_only(route_of):
    performed = script(route_of("Verse: D | G | A"), replace(METRONOME, stops=((1, 3.0),)))
    assert performed.truth.pauses == ((6.0, 9.0),)


def test_wandering_tempo_moves_on_every_scale():
    """1/f noise: halving the frequency doubles the power. Averages over twice as many beats hardly shrink, where those of
    white noise shrink by the root of two."""
    flicker = one_over_f(random.Random(3))
    noise = [next(flicker) for _ in range(40_000)]
    means = [
        statistics.pstdev([statistics.fmean(noise[start : start + beats]) for start in range(0, len(noise), beats)])
        for beats in (1, 2, 4, 8, 16, 32)
    ]
    assert means[0] == pytest.approx(1.0, abs=0.1)
    assert all(0.75 < after / before < 0.98 for before, after in pairwise(means))


def test_fingers_slip_add_and_leave_out_about_as_often_as_asked():
    notes = [(Fraction(beat), Fraction(beat + 1), 60 + beat % 12) for beat in range(4000)]
    plain = fingered(notes, random.Random(1), slips=0.0, graces=0.0, left_out=0.0)
    assert plain == notes
    slipped = fingered(notes, random.Random(1), slips=0.02, graces=0.0, left_out=0.0)
    beside = [abs(key - written) for (_, _, key), (_, _, written) in zip(slipped, notes, strict=True)]
    assert set(beside) == {0, 1, 2}
    assert sum(map(bool, beside)) / len(notes) == pytest.approx(0.02, abs=0.006)
    fewer = fingered(notes, random.Random(1), slips=0.0, graces=0.0, left_out=0.03)
    assert 1 - len(fewer) / len(notes) == pytest.approx(0.03, abs=0.008)
    more = fingered(notes, random.Random(1), slips=0.0, graces=0.05, left_out=0.0)
    assert len(more) / len(notes) - 1 == pytest.approx(0.05, abs=0.01)
    assert all(before[1] == after[0] for before, after in pairwise(more))
