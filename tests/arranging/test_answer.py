"""The answer: places and keys worked out by hand from the rules at the head of ``liveassist.arranging.answer``."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from charts.melody import joined, melody
from charts.notation import read_chart, read_chart_file
from charts.roadmap import unfold
from charts.route import Route
from liveassist.arranging.answer import given_way, on_the_manual, rubs
from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import ANSWER, FIGURE, MELODY, played

DEMO = Path(__file__).parents[2] / "demo_charts" / "across_the_millpond.chart"


def song(answer: str, bars: str, tune: str, *, more: str = "", key: str = "C", meter: str = "4/4") -> Route:
    """A section with an answer and a tune, and an ending without: the last chord is never answered."""
    head = f"title = Song\nkey = {key}\nmeter = {meter}\n"
    return unfold(
        read_chart(f"{head}== A ==\nanswer = {answer}\n{bars}\nmelody = {tune}\n{more}\n== Ending ==\n| N.C. | C |")
    )


def told(route: Route, lift: int = 0) -> str:
    """Position and key of every note of the answer."""
    return " ".join(f"{note.position}:{note.pitch}" for note in arrange(route, lift=lift).lines[ANSWER])


def test_a_canon_is_the_tune_later_and_lower() -> None:
    route = song("canon, two beats, octave below", "| C | C |", "c2 e2 g2 c'2 | c'4 z4 |")
    assert told(route) == "2:60 3:64 4:67 5:72 6:72"


def test_a_canon_ends_with_its_section() -> None:
    assert told(song("canon, one bar", "| C | C |", "c4 e4 | g8 |")) == "4:72 6:76"


def test_an_echo_speaks_where_the_tune_stands_still() -> None:
    # Bar 2 holds, so bar 1 is answered; bar 3 moves by quarters, so of bar 2 nothing is; bar 4 rests and answers bar 3.
    route = song("echo, one bar", "| C | C | C | C |", "c2 e2 g2 e2 | c8 | e2 g2 e2 c2 | c2 z6 |")
    assert told(route) == "4:72 5:76 6:79 7:76 12:76 13:79 14:76 15:72"


def test_an_echo_ends_where_the_tune_goes_on() -> None:
    route = song("echo, one bar", "| C | C |", "c6 e2 | z2 c2 c4 |")
    # Of the dotted half a beat would be left before the tune goes on: too little. The last note is answered over the held c.
    assert told(route) == "7:76"
    route = song("echo, two beats", "| C | C |", "c4 z4 | c2 c2 c4 |")
    (note,) = arrange(route).lines[ANSWER][:1]
    assert (note.position, note.pitch, note.length) == (2, 72, Fraction(97, 50))


@pytest.mark.parametrize(
    ("chord", "tune", "key"),
    [
        pytest.param("C", "e", 76, id="a tone of the chord stays"),
        pytest.param("C", "f", 76, id="a fourth on the strong beat gives way to the third below"),
        pytest.param("C", "b", 84, id="a seventh to the root above"),
        pytest.param("Cmaj7", "b", 83, id="unless the chord has it"),
        pytest.param("C", "a", 81, id="a sixth does not rub"),
        pytest.param("C", "^d", 76, id="a raised second to the third"),
        pytest.param("Csus4", "e", 77, id="a third to the suspension"),
    ],
)
def test_a_note_that_rubs_gives_way(chord: str, tune: str, key: int) -> None:
    route = song("canon, one bar", f"| C | {chord} |", f"{tune}4 z4 | z8 |")
    assert told(route) == f"4:{key}"


def test_a_passing_note_off_the_strong_beat_may_rub() -> None:
    assert told(song("canon, one bar", "| C | C |", "e f g e c4 | z8 |")) == "4:76 9/2:77 5:79 11/2:76 6:72"


def test_a_note_ends_where_it_would_rub_against_the_next_chord() -> None:
    # C is a tone of F and a semitone from the B of G.
    (note,) = arrange(song("canon, one bar", "| C | F G |", "c8 | z8 |")).lines[ANSWER]
    assert (note.position, note.pitch, note.length) == (4, 72, Fraction(97, 50))


def test_the_figure_rests_where_there_is_an_answer_and_has_the_last_chord() -> None:
    route = unfold(read_chart("key = C\nanswer = canon, one bar\n== A ==\n| C | F | C |\nmelody = c8 | c8 | c8 |"))
    made = arrange(route)
    heard = played(made, bass=False)
    for fullness, notes in heard.levels.items():
        assert {note.part for note in notes if note.position < 8} == {ANSWER}
        assert {note.part for note in notes if note.position >= 8} == {FIGURE}
        assert {note.fullness for note in notes if note.part == ANSWER} == {fullness}
        assert heard.held(fullness, 0) == ()
        assert heard.held(fullness, 2)
    assert {note.part for note in made.levels[2]} == {FIGURE}


def test_a_section_without_a_tune_has_no_written_answer_and_no_figure() -> None:
    route = unfold(read_chart("key = C\n== A ==\nanswer = canon, one bar\n| C | F |\n== B ==\n| C | C |"))
    assert {note.position >= 8 for note in played(arrange(route), bass=False).levels[2]} == {True}


def test_without_an_answer_nothing_changes() -> None:
    made = arrange(unfold(read_chart("key = C\n== A ==\n| C | F |")))
    assert played(made, bass=False) is made


def test_tacet_and_out_silence_the_answer() -> None:
    assert told(song("canon, one bar", "| C | F (tacet) |", "c8 | z8 |")) == ""
    text = "key = C\n== Roadmap ==\nA  out\nB\n== A ==\nanswer = canon, two beats\n| C | C |\nmelody = c8 | c8\n== B ==\n| C |"
    assert told(unfold(read_chart(text))) == ""


def test_the_answer_goes_with_a_key_lift_and_stays_on_the_manual() -> None:
    route = song("canon, one bar", "| C | C |", "c4 e4 | z8 |")
    assert told(route, lift=2) == "4:74 6:78"
    assert [on_the_manual(pitch) for pitch in (35, 36, 96, 97, 120, 12)] == [47, 36, 96, 85, 96, 36]


def test_the_melody_is_a_line_of_the_arrangement() -> None:
    sung = arrange(song("none", "| C | C |", "c4 e4- | e8 |"), lift=1).lines[MELODY]
    assert [(note.position, note.pitch, note.length, note.change) for note in sung] == [(0, 73, 2, 0), (2, 77, 6, 0)]


def test_a_tune_that_does_not_add_up_is_left_out() -> None:
    assert arrange(song("canon, one bar", "| C | C |", "c4 | c8 |")).lines[MELODY] == ()


def test_in_the_demo_song_the_answer_gives_way_and_has_the_room_of_its_manual() -> None:
    route = unfold(read_chart_file(DEMO))
    line = arrange(route).lines[ANSWER]
    assert len(line) > 60
    verse = [bar for bar in route.bars if bar.section == "Verse"][:2]
    echo = [note.pitch for note in line if verse[1].position <= note.position < verse[1].end]
    assert echo == [55, 57, 59, 62]  # G A B D, an octave below the call, while the tune holds its d
    for note, following in pairwise(line):
        assert note.position + note.length <= following.position


NOTES = st.lists(st.sampled_from(["c", "d2", "^f", "g3", "_b", "z", "e4", "B", "a/2"]), min_size=1, max_size=10)


@given(
    bars=st.lists(st.tuples(st.sampled_from(["C", "Am7", "F/A", "G7", "Bb", "N.C."]), NOTES), min_size=2, max_size=5),
    answer=st.sampled_from(
        ["echo, one bar", "canon, two beats", "echo, half a bar, octave below", "canon, one bar, octave above"]
    ),
    lift=st.integers(-3, 3),
)
@example(bars=[("C", ["a/2"]), ("Bb", ["c"])], answer="canon, one bar, octave above", lift=3)
def test_whatever_is_sung_the_answer_never_overlaps_nor_rubs_on_a_strong_beat(bars, answer: str, lift: int) -> None:
    tune = " | ".join(_filled(notes) for _, notes in bars)
    route = song(answer, "| " + " | ".join(chord for chord, _ in bars) + " |", tune, meter="8/1")
    line = arrange(route, lift=lift).lines[ANSWER]
    sung = joined(melody(route))
    assert len(line) <= len(sung)
    for note, following in zip(line, [*line[1:], None], strict=False):
        assert 36 <= note.pitch <= 96
        assert note.length > 0
        if following is not None:
            assert note.position + note.length <= following.position
            assert note.pitch != following.pitch or note.position + note.length < following.position
        bar = route.bar_at(note.position)
        classes = {(each + lift) % 12 for each in route.change_at(note.position).chord.pitch_classes}
        assert note.position != bar.position or not rubs(note.pitch, classes)


def _quarters(note: str) -> Fraction:
    digits = note.lstrip("^_abcdefgABz")
    return (Fraction(f"1{digits}") if digits.startswith("/") else Fraction(digits or 1)) / 2


def _filled(notes: list[str]) -> str:
    """The notes, and rests to the end of a bar of 32 quarters."""
    rest = (32 - sum(map(_quarters, notes))) * 2
    return f"{' '.join(notes)} z{rest}"


@given(st.integers(36, 96), st.sets(st.integers(0, 11), max_size=5))
def test_giving_way_is_a_semitone_at_most_and_ends_on_a_tone(pitch: int, sounding: set[int]) -> None:
    moved = given_way(pitch, sounding)
    assert abs(moved - pitch) <= 1
    assert not rubs(moved, sounding)
