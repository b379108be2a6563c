"""Transposing: keys, chords, melody, all by one interval and spelled for the new key.

Spellings are from the circle of fifths and the scales of each key (common practice, no source). Melodies are checked by a
second reader of ABC, music21.
"""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from charts.chart import Chart
from charts.key import read_key
from charts.notation import read_chart, write_chart
from charts.transposing import Interval, interval, transposed, transposed_melody


def song(key: str, bars: str, more: str = "") -> Chart:
    return read_chart(f"title = Made Up\nkey = {key}\n== A ==\n{bars}\n{more}", "made_up.chart")


def symbols(chart: Chart, section: str = "A") -> str:
    return " ".join(change.chord.symbol for bar in chart.section(section).bars for change in bar.changes)


@pytest.mark.parametrize(
    ("key", "bars", "semitones", "new_key", "expected"),
    [
        pytest.param("D", "| D | G/B | A7sus4 A7 | F#m |", 2, "E", "E A/C# B7sus4 B7 G#m", id="D up a tone"),
        pytest.param("D", "| D | F#m | C#dim |", 1, "Eb", "Eb Gm Ddim", id="D up a half step"),
        pytest.param("D", "| D | F#m | Em |", -1, "Db", "Db Fm Ebm", id="D down a half step"),
        pytest.param("Bb", "| Bb | Eb | F/A |", 2, "C", "C F G/B", id="B flat up a tone"),
        pytest.param("G", "| G | D/F# | Em |", 4, "B", "B F#/A# G#m", id="G up a major third"),
        pytest.param("C", "| C | E7 | Am |", 8, "Ab", "Ab C7 Fm", id="C up a minor sixth"),
        pytest.param("Am", "| Am | E7 | Dm |", 2, "Bm", "Bm F#7 Em", id="A minor up a tone"),
        pytest.param("Em", "| Em | B7/D# |", 1, "Fm", "Fm C7/E", id="E minor up a half step"),
        pytest.param("D", "| D | A7(b9) | N.C. |", 12, "D", "D A7(b9) N.C.", id="an octave"),
        pytest.param("D", "| D | Bb |", 0, "D", "D Bb", id="not at all"),
        pytest.param("C", "| C | F#m7 | Bb |", -3, "A", "A D#m7 G", id="C down a minor third"),
    ],
)
def test_chords_and_keys(key: str, bars: str, semitones: int, new_key: str, expected: str) -> None:
    chart = transposed(song(key, bars), semitones)
    assert chart.key.name == new_key
    assert symbols(chart) == expected


def test_there_and_back_is_the_same_song() -> None:
    home = song("D", "| D | F#m7/C# | A7(b9) |: G / / A | % :|\n  words\nmelody = ^F2 G,/2 | c' z4")
    for semitones in range(-11, 12):
        away = transposed(home, semitones)
        assert transposed(away, -semitones) == home
        assert away.key.usual


def test_semitones_and_steps_fit_together_in_every_key() -> None:
    home = song("C", "| C | Dm | E7 | F | G | Am | Bdim |")
    for semitones in range(-12, 13):
        moved = transposed(home, semitones)
        roots = [bar.changes[0].chord.root for bar in moved.sections[0].bars]
        assert [root.pitch_class for root in roots if root] == [
            (step + semitones) % 12 for step in (0, 2, 4, 5, 7, 9, 11)
        ]
        letters = "".join(root.letter for root in roots if root)
        assert sorted(letters) == list("ABCDEFG")
        signature = [root.alter for root in roots if root]
        assert sum(signature) == moved.key.fifths


def test_a_section_key_moves_by_the_same_interval() -> None:
    chart = song("D", "| D |", "== B ==\nkey = E\n| E | B/D# |")
    moved = transposed(chart, 1)
    assert [moved.key.name, moved.section("B").key] == ["Eb", read_key("F")]
    assert symbols(moved, "B") == "F C/E"


def test_a_section_key_that_nobody_would_print_is_respelled_with_its_chords() -> None:
    chart = song("C", "| C |", "== B ==\nkey = Db\n| Db | Gb |")
    moved = transposed(chart, 6)
    assert moved.key == read_key("Gb")
    assert moved.section("B").key == read_key("G")
    assert symbols(moved, "B") == "G C"


def test_everything_else_stays() -> None:
    chart = read_chart(
        "title = A\nkey = D\nmeter = 6/8\ntempo = 56\nfeel = lilt\n== Roadmap ==\nA up a tone\n"
        "== A ==\n|: D (hold) | % :| x3\n words"
    )
    moved = transposed(chart, 5)
    assert write_chart(moved) == write_chart(chart).replace("key   = D", "key   = G").replace("|: D", "|: G")
    assert moved.roadmap == chart.roadmap
    assert symbols(read_chart(moved.text)) == symbols(moved)


@pytest.mark.parametrize(
    ("one", "other", "semitones", "steps"),
    [
        pytest.param("D", "E", 2, 1, id="up a tone"),
        pytest.param("D", "C", -2, -1, id="down a tone"),
        pytest.param("D", "C", 10, 6, id="up a seventh"),
        pytest.param("D", "D", 12, 7, id="up an octave"),
        pytest.param("D", "D", -12, -7, id="down an octave"),
        pytest.param("B", "C", 1, 1, id="up a half step over the octave"),
        pytest.param("C", "B", -1, -1, id="down a half step over the octave"),
        pytest.param("D", "Db", -1, 0, id="down a chromatic half step"),
        pytest.param("E", "D#", -1, -1, id="down to a sharp key"),
        pytest.param("C", "F#", 6, 3, id="an augmented fourth"),
        pytest.param("C", "Gb", 6, 4, id="a diminished fifth"),
        pytest.param("C", "Gb", -6, -3, id="down an augmented fourth"),
    ],
)
def test_the_interval_between_two_keys(one: str, other: str, semitones: int, steps: int) -> None:
    assert interval(read_key(one), read_key(other), semitones) == Interval(steps, semitones)


@pytest.mark.parametrize(
    ("tune", "steps", "semitones", "expected"),
    [
        pytest.param("C D E F G A B c", 1, 2, "D E F G A B c d", id="up a tone"),
        pytest.param("C D E", -1, -2, "B, C D", id="down a tone"),
        pytest.param("b c' C, C,,", 7, 12, "b' c'' C C,", id="an octave"),
        pytest.param("^F =F _B", 1, 2, "^G =G =c", id="accidentals keep their sound"),
        pytest.param("^C __D", 0, 1, "^^C _D", id="a chromatic half step"),
        pytest.param(
            "(3ABc d3/2e/ z2 x | [CEG]4- [CEG] |]", 1, 2, "(3Bcd e3/2f/ z2 x | [DFA]4- [DFA] |]", id="chords, rests"
        ),
        pytest.param('"D"A "^slow"B !fermata!c', 1, 2, '"E"B "^slow"c !fermata!d', id="symbols and decorations"),
        pytest.param("[K:D] A [M:3/4] B [K:Am]", 1, 2, "[K:E] B [M:3/4] c [K:Bm]", id="inline fields"),
        pytest.param("{AB}c .d ~e", 1, 2, "{Bc}d .e ~f", id="grace notes and ornaments"),
        pytest.param("A % a comment\nB", 1, 2, "B % a comment\nc", id="comments"),
        pytest.param("", 1, 2, "", id="nothing"),
    ],
)
def test_melody(tune: str, steps: int, semitones: int, expected: str) -> None:
    assert transposed_melody(tune, Interval(steps, semitones)) == expected


TUNE = "D E F G | ^G A _B c | =c d e f' | ^c2 B, A,, | __e ^^F z d |"


def keys_sounding(key: str, tune: str) -> list[int]:
    """The tune's key numbers as music21 reads them."""
    from music21 import converter

    score = converter.parse(f"X:1\nT:t\nM:4/4\nL:1/4\nK:{key}\n{tune}\n", format="abc")
    return [note.pitch.midi for note in score.flatten().notes]


@pytest.mark.parametrize("semitones", [-12, -7, -5, -3, -2, -1, 1, 2, 3, 4, 6, 7, 12])
@pytest.mark.parametrize("key", ["D", "Bb", "Am"])
def test_a_second_reader_hears_the_melody_at_the_new_pitch(key: str, semitones: int) -> None:
    chart = song(key, "| D |", f"melody = {TUNE}")
    moved = transposed(chart, semitones)
    before = keys_sounding(key, TUNE)
    after = keys_sounding(moved.key.name, moved.sections[0].bars[0].melody)
    assert len(before) == len(re.findall("[A-Ga-g]", TUNE))
    assert [new - old for old, new in zip(before, after, strict=True)] == [semitones] * len(before)


def test_keys_a_half_step_apart_meet_in_the_same_place() -> None:
    names = [transposed(song("C", "| C |"), n).key.name for n in range(13)]
    assert names == ["C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B", "C"]
    assert all(one != other for one, other in pairwise(names))
