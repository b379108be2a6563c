"""Sentences are broken between words, and what is no terminal gets them whole."""

from __future__ import annotations

import pytest

from liveassist.wrapping import fitted, say

LONG = "Press the piston for 'again' (this section once more) (or Enter to pass it over)."


def test_a_line_too_long_is_broken_between_words() -> None:
    lines = fitted(LONG, 40).split("\n")
    assert all(len(line) <= 40 for line in lines)
    assert " ".join(lines) == LONG


def test_a_short_line_its_indent_and_a_long_path_stay_as_they_are() -> None:
    assert fitted("well   pedal: heard", 40) == "well   pedal: heard"
    assert fitted("  1  House Organ", 40) == "  1  House Organ"
    path = "/home/organist/.local/share/liveassist/takes/2031-05-04.jsonl"
    assert fitted(f"kept in {path}", 40).split("\n") == ["kept in", path]


def test_what_is_no_terminal_gets_a_text_whole(capsys: pytest.CaptureFixture[str]) -> None:
    say(LONG * 3)
    assert capsys.readouterr().out == LONG * 3 + "\n"
