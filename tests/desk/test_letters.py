"""Block letters. What a letter looks like is for eyes to judge; here they must be whole, apart, and in their place."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liveassist.desk.letters import LETTERS, block

CHORDS = [
    *("C", "F♯m7♭5/C♯", "B♭(add9)", "A7sus4", "G/B", "Cmaj9", "E♭dim", "D+", "Bø7", "C°7", "N.C.", "[/]"),
    *("Gm6/9", "B♭13(no3)", "D7(♭9)", "E7(♯5♭9)", "Asus2", "F5", "C2", "Dm(maj7)", "G𝄪", "A𝄫/D♭", "Caug", "B7alt"),
    *("Am/G", "E♭maj7(♯11)", "C6", "G7/F"),
]
INKS = set(" ▀▄█\n")


@pytest.mark.parametrize("chord", CHORDS)
def test_every_chord_fits_a_desk_of_eighty_columns(chord: str) -> None:
    drawn = block(chord, 53, 7)
    assert set(drawn) <= INKS
    lines = drawn.split("\n")
    assert 3 <= len(lines) <= 7
    assert max(map(len, lines)) <= 53


@pytest.mark.parametrize("chord", ["C", "F♯m", "B♭7", "G/B", "Em7", "A7sus4", "Dm7", "B♭(add9)", "E♭maj7", "F♯m7♭5"])
def test_common_chords_get_the_full_height(chord: str) -> None:
    assert len(block(chord, 53, 7).split("\n")) == 7


@pytest.mark.parametrize("note", [letter + accidental for letter in "ABCDEFG" for accidental in ("", "♯", "♭")])
def test_every_pedal_note_gets_the_full_height(note: str) -> None:
    assert len(block(note, 24, 7).split("\n")) == 7


@pytest.mark.parametrize("rows", [3, 4, 7, 10, 20])
def test_no_two_letters_look_alike(rows: int) -> None:
    alike = {frozenset("—–"), frozenset("-−"), frozenset("Δ♢")}
    drawn = {char: block(char, 200, rows) for char in LETTERS if char != " "}
    twins = {frozenset(pair) for pair in itertools.combinations(drawn, 2) if drawn[pair[0]] == drawn[pair[1]]}
    assert twins <= alike


def test_letters_grow_with_the_room() -> None:
    heights = [len(block("Am7", columns, 30).split("\n")) for columns in (24, 40, 80, 160)]
    assert heights == sorted(set(heights))


@pytest.mark.parametrize("text", ["", "Ж", "C\x1b[31m", "ハ"])
def test_what_has_no_letter_is_shown_as_it_is(text: str) -> None:
    assert block(text, 50, 7) == text


def test_no_room_no_letters() -> None:
    assert block("F♯m7♭5/C♯", 12, 7) == "F♯m7♭5/C♯"
    assert block("C", 80, 2) == "C"
    assert block("C", 0, 0) == "C"


@settings(max_examples=60, deadline=None)
@given(st.text(alphabet=sorted(LETTERS), max_size=8), st.integers(0, 90), st.integers(0, 14))
def test_block_letters_never_leave_their_room(text: str, columns: int, rows: int) -> None:
    drawn = block(text, columns, rows)
    if drawn != text:
        lines = drawn.split("\n")
        assert len(lines) <= rows
        assert all(len(line) <= columns for line in lines)
        assert set(drawn) <= INKS
