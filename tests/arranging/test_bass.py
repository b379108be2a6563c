"""The bass: keys, places and lengths worked out by hand; detached is three quarters of the value (a share of our own)."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.route import Route
from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import BASS, Note, played
from liveassist.arranging.bass import HIGHEST, LOWEST
from tests.arranging.routes import route_of, song


def bass_of(route: Route, **how: float) -> tuple[Note, ...]:
    return arrange(route, **how).lines[BASS]  # type: ignore[arg-type]


def told(route: Route, **how: float) -> str:
    return " ".join(f"{note.position}:{note.pitch}/{note.length}" for note in bass_of(route, **how))


@pytest.mark.parametrize(
    ("bars", "expected"),
    [
        pytest.param(["C", "G/B"], "0:36/3 4:47/3", id="the written bass, an octave up where only there it is"),
        pytest.param(["C", "%", "F"], "0:36/3 4:36/3 8:41/3", id="a chord written again is struck again"),
        pytest.param(
            ["C", "/ / / /", "F"], "0:36/3 4:36/3 8:41/3", id="a longer chord is struck on each bar's first beat"
        ),
        pytest.param(["C G", "F"], "0:36/3/2 2:43/3/2 4:41/3", id="one attack a change"),
        pytest.param(["G", "C"], "0:43/3 4:48/3", id="up a fourth rather than down a fifth"),
        pytest.param(["A", "N.C.", "C"], "0:45/3 8:48/3", id="no chord is silence"),
        pytest.param(["C / &F / /", "G"], "0:36/9/8 3/2:41/15/8 4:43/3", id="off the beat"),
        pytest.param(["C", "F (push)"], "0:36/21/8 7/2:41/27/8", id="pushed with its chord"),
        pytest.param(["C", "F (late)"], "0:36/3 9/2:41/21/8", id="late with its chord"),
        pytest.param(["C (hold)", "F"], "0:36/4 4:41/3", id="a hold is held"),
        pytest.param(["C (break)", "F"], "0:36/3/8 4:41/3", id="a break is one short note"),
        pytest.param(["C (tacet)", "F"], "4:41/3", id="tacet"),
        pytest.param(["C (breath)", "F"], "0:36/21/8 4:41/3", id="a breath comes up early"),
    ],
)
def test_one_detached_note_for_each_change(bars: list[str], expected: str) -> None:
    assert told(song(*bars)) == expected


@pytest.mark.parametrize(
    ("bars", "key", "expected"),
    [
        pytest.param(["C (walk)", "G"], "C", "36 38 40 41 43", id="up to the fifth by steps"),
        pytest.param(["G D (walk)", "G"], "G", "43 38 42 43", id="two beats: the root and the leading tone"),
        pytest.param(["E7 (walk)", "Am"], "Am", "40 44 40 44 45", id="the leading tone in minor"),
    ],
)
def test_a_walk_goes_straight_to_a_step_before_the_next_bass(bars: list[str], key: str, expected: str) -> None:
    assert " ".join(str(note.pitch) for note in bass_of(song(*bars, key=key))) == expected


def test_one_beat_walks_on_its_last_division() -> None:
    assert [str(note.position) for note in bass_of(song("C / / F (walk)", "G"))] == ["0", "3", "7/2", "4"]


def test_a_pushed_chord_walks_on_the_beats() -> None:
    assert [str(note.position) for note in bass_of(song("C", "F (push, walk)", "C"))] == [
        "0",
        "7/2",
        "5",
        "6",
        "7",
        "8",
    ]


def test_where_the_band_is_out_or_the_feet_rest_the_bass_rests() -> None:
    text = "title = Song\nkey = C\n== Roadmap ==\nA\nA  out\nA  manuals only\nA\n\n== A ==\n| C | / / / / |\n"
    assert [str(note.position) for note in bass_of(route_of(text))] == ["0", "4", "24", "28"]


def test_a_repeated_key_comes_up_for_the_gap_of_the_room() -> None:
    # 120 a minute: a quarter is half a second. A room of 4 s asks for 400 ms, 0.8 quarters; between two eighths half is kept.
    first = bass_of(song("C C C C", tempo="120"), room=4.0)[0]
    assert first.length == Fraction(1, 2)
    assert bass_of(song("C", "C", tempo="120"), room=4.0)[0].length == 3


def test_with_the_bass_every_fullness_has_the_same_one() -> None:
    plain = arrange(song("C", "F G"))
    full = played(plain, bass=True)
    for fullness, notes in full.levels.items():
        mine = [note for note in notes if note.part == BASS]
        assert [(note.position, note.pitch) for note in mine] == [(0, 36), (4, 41), (6, 43)]
        assert tuple(note for note in notes if note.part != BASS) == plain.levels[fullness]
        assert {note.fullness for note in mine} == {fullness}
        assert full.held(fullness, 1)[-1] == (BASS, 41)


CHORDS = st.sampled_from(
    ["C", "Dm", "E7", "F", "G7/B", "Am", "Bb", "F#dim", "N.C.", "C (walk)", "G (walk)", "Eb (push)"]
)


@given(
    bars=st.lists(CHORDS, min_size=1, max_size=8),
    meter=st.sampled_from(["4/4", "3/4", "6/8", "5/4", "12/8"]),
    lift=st.integers(-6, 6),
    room=st.sampled_from([0.5, 1.8, 6.0]),
)
def test_the_bass_stays_on_the_pedals_and_never_overlaps(bars: list[str], meter: str, lift: int, room: float) -> None:
    route = song(*bars, meter=meter)
    line = arrange(route, lift=lift, room=room).lines[BASS]
    for note, following in zip(line, [*line[1:], None], strict=False):
        assert LOWEST <= note.pitch <= HIGHEST
        assert note.length > 0
        if following is not None:
            assert note.position + note.length <= following.position
            assert note.pitch != following.pitch or note.position + note.length < following.position
    struck = {note.change: note.pitch % 12 for note in reversed(line)}
    assert struck == {change.index: (change.bass + lift) % 12 for change in route.changes if change.bass is not None}
