"""The songs and the jumps that following is measured with are what they say."""

from __future__ import annotations

import sys
from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest

pytest.importorskip("music21")
sys.path.insert(0, str(Path(__file__).parent / "benchmarks"))

from following_conditions import CONDITIONS, KINDS, prepared
from following_melodies import in_the_chart
from following_songs import (
    DANCE_TUNES,
    chorale,
    dance_tune,
    development_songs,
    loop_song,
    loop_text,
    random_song,
    reported_songs,
)

from charts.melody import joined, melody
from liveassist.players.timing import playing_order

TUNE = 80


def test_both_sets_hold_loop_songs_and_only_the_reported_one_dance_tunes():
    development = [song.name for song in development_songs(8)]
    reported = [song.name for song in reported_songs(8, ())]
    assert [name for name in development if name.startswith("loop")] == ["loop 1", "loop 2"]
    assert [name for name in reported if name.startswith("loop")] == ["loop 101", "loop 102"]
    assert not [name for name in development if name.startswith("dance")]
    assert len([name for name in reported if name.startswith("dance")]) == 2


def test_a_loop_songs_verse_and_chorus_go_round_the_same_chords():
    assert loop_text(101) == loop_text(101)
    route = loop_song(104).route
    by_section: dict[str, list[str]] = {}
    for change in route.changes:
        by_section.setdefault(route.bars[change.bar].section, []).append(change.chord.symbol)
    assert by_section["Verse"][:4] == by_section["Chorus"][:4]
    assert by_section["Verse"][:4] == by_section["Verse"][4:8]


def test_a_dance_tunes_form_is_each_part_twice_and_all_of_it_again():
    song = dance_tune(TUNE)
    assert song is not None
    steps = [bar.section for bar in song.route.bars if bar.starts_section]
    assert steps == ["Tune", "Tune", "Turn", "Turn"] * 3
    assert {bar.length for bar in song.route.bars} == {Fraction(2)}


def test_most_notes_of_a_dance_tune_are_in_its_chords_and_nearly_all_in_its_key():
    """The chords are ours, the notes are not; what does not fit would be a reading gone wrong."""
    song = dance_tune(TUNE)
    assert song is not None
    assert song.tune is not None
    key = song.route.chart.key
    scale = {key.degree(number).pitch_class for number in range(1, 8)}
    fitting = [pitch % 12 in song.route.change_at(at).chord.pitch_classes for at, _, pitch in song.tune]
    assert sum(fitting) > 0.6 * len(fitting)
    assert sum(pitch % 12 in scale for _, _, pitch in song.tune) > 0.9 * len(song.tune)


def test_a_dance_tune_has_one_note_at_a_time():
    for number in DANCE_TUNES[:8]:
        song = dance_tune(number)
        if song is not None and song.tune is not None:
            assert all(one[0] + one[1] <= other[0] for one, other in pairwise(song.tune))


def test_a_chorales_tune_is_its_soprano():
    song = chorale(1)
    assert song is not None
    assert song.tune is not None
    assert [key for _, _, key in song.tune[:4]] == [67, 67, 74, 71]  # g g d' b, as the hymn begins (from memory)


@pytest.mark.parametrize("name", ["drift 2 %, jump", "drift 2 %, 3 jumps"])
def test_unplanned_jumps_can_be_played_and_land_on_the_start_of_a_section(name):
    wanted = CONDITIONS[name].jump
    for song in (*(random_song(seed) for seed in range(101, 125)), *(loop_song(seed) for seed in range(101, 107))):
        route, organist = prepared(song, CONDITIONS[name])
        order = playing_order(route, organist.jumps)
        assert 1 <= len(organist.jumps) <= wanted
        assert sum(played.landed for played in order) == len(organist.jumps)
        assert all(route.bars[to].starts_section for _, to in organist.jumps)
        assert all(to != after + 1 for after, to in organist.jumps)


def test_jumps_are_of_every_kind():
    found = set()
    for seed in range(101, 181):
        route, organist = prepared(random_song(seed), CONDITIONS["drift 2 %, jump"])
        after, to = (route.bars[index] for index in organist.jumps[0])
        found.add((to.step - after.step, after.ends_section))
    assert found == {(0, True), (2, True), (0, False), (1, False), (-1, True)}
    assert len(found) == len(KINDS)


def test_jumps_are_spread_over_the_song():
    """Eight steps, three jumps: they are not all made at once."""
    departures = []
    for seed in range(101, 141):
        route, organist = prepared(random_song(seed), CONDITIONS["drift 2 %, 3 jumps"])
        departures.append([route.bars[after].step for after, _ in organist.jumps])
    three = [steps for steps in departures if len(steps) == 3]
    assert len(three) > 20
    assert sum(steps[2] >= 3 for steps in three) > len(three) / 2


# -- tunes in the chart -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("song", [random_song(101), chorale(1), dance_tune(TUNE)], ids=lambda song: song.name)
def test_a_tune_put_into_the_chart_leaves_the_chords_and_is_what_the_player_plays(song):
    sung = in_the_chart(song)
    assert [change.position for change in sung.route.changes] == [change.position for change in song.route.changes]
    assert sung.tune == tuple((note.position, note.length, note.pitch) for note in joined(melody(sung.route)))
    assert len(sung.tune) > len(sung.route.bars)


def test_bachs_own_soprano_is_what_stands_in_the_chart():
    song = chorale(1)
    assert {(start, key) for start, _, key in in_the_chart(song).tune} == {(start, key) for start, _, key in song.tune}


def test_a_made_up_tune_is_the_same_whenever_a_section_comes_round():
    song = in_the_chart(random_song(101))
    route = song.route
    by_bar: dict[tuple[str, int], set[tuple[int, ...]]] = {}
    for bar in route.bars:
        keys = tuple(key for start, _, key in song.tune if bar.position <= start < bar.end)
        by_bar.setdefault(bar.id, set()).add(keys)
    assert all(len(kept) == 1 for kept in by_bar.values())


def test_a_chart_that_has_its_tune_keeps_it():
    song = next(song for song in development_songs(1) if song.name == "across_the_millpond")
    assert in_the_chart(song).route is song.route
