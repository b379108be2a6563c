"""Pages of words with chords above them, as musicians type them (common practice, no source)."""

from __future__ import annotations

import pytest

from charts.errors import ChartError
from charts.exchange.charting import chart_of
from charts.exchange.door import sheets_of
from charts.exchange.headings import chord_word, heading
from charts.exchange.sheet import Sheet
from charts.exchange.words_and_chords import chord_line
from charts.roadmap import unfold

PAGE = """Lamps Along the Water
Key: D

Intro:  D  G/B  A7

[Verse 1]
     D          Bm      G
Lamps along the water, burning
Em7            A
low and clear tonight

CHORUS
|: G  | A  D/F# | G / / A | D :|
Light us home
"""


def _read(text: str) -> Sheet:
    (sheet,) = sheets_of(text.encode(), "page.txt", ".txt")
    return sheet


def test_sections_chords_and_words() -> None:
    chart = chart_of(_read(PAGE)).chart
    assert chart.title == "Lamps Along the Water"
    assert [section.name for section in chart.sections] == ["Intro", "Verse 1", "Chorus"]
    assert [bar.words for bar in chart.sections[1].bars] == [
        ("Lamps along the water, burning",),
        (),
        (),
        ("low and clear tonight",),
        (),
    ]
    played = [change.chord.symbol for change in unfold(chart).changes]
    assert " ".join(played) == "D G/B A7 D Bm G Em7 A G A D/F# G A D G A D/F# G A D"


def test_a_chord_stands_over_the_syllable_at_its_column() -> None:
    sheet = _read("Key: D\nVerse\n     D          Bm      G\nLamps along the water, burning\n")
    assert [bar.words[0] for bar in sheet.bars] == ["Lamps along the", "water, b\u00ad", "urning"] or [
        bar.words[0].split()[0] for bar in sheet.bars
    ] == ["Lamps", "water,", "burning"]


def test_tabs_are_eight_columns() -> None:
    with_tab, with_spaces = (f"Key: D\nVerse\nD{gap}G\nHarbour lights are burning\n" for gap in ("\t", " " * 7))
    assert _read(with_tab).bars == _read(with_spaces).bars


@pytest.mark.parametrize(
    ("line", "name"),
    [
        ("Verse 1:", "Verse 1"),
        ("[Chorus]", "Chorus"),
        ("CHORUS", "Chorus"),
        ("VERSE 2", "Verse 2"),
        ("(Bridge)", "Bridge"),
        ("Pre-Chorus", "Pre-Chorus"),
        ("Chorus x2", "Chorus"),
        ("Intro -", "Intro"),
        ("[Last time]", "Last Time"),
    ],
)
def test_headings_in_their_common_forms(line: str, name: str) -> None:
    found = heading(line)
    assert found is not None
    assert found[0] == name


@pytest.mark.parametrize("line", ["Verse by verse we go", "Bridge of sighs", "A", "[Am7]", "Chorus of angels sing", ""])
def test_lines_that_are_no_headings(line: str) -> None:
    assert heading(line) is None


@pytest.mark.parametrize(
    "line", ["G", "Am7  D7/F#", "| G | C D |", "N.C.  E7(b9)", "G - D - Em", "C (hold)", "Ab6/9   G  x2"]
)
def test_chord_lines(line: str) -> None:
    assert chord_line(line)


@pytest.mark.parametrize("line", ["A light in the dark", "Be still", "Come away", "Go", "Am I alone", "", "|", "2 4 6"])
def test_word_lines(line: str) -> None:
    assert not chord_line(line)


@pytest.mark.parametrize(
    ("word", "symbol"),
    [("Cmaj7", "Cmaj7"), ("B♭m", "Bbm"), ("(Em)", "Em"), ("NC", "N.C."), ("Am/c", "Am/C"), ("D/f+", "D/F#")],
)
def test_chord_words(word: str, symbol: str) -> None:
    chord = chord_word(word)
    assert chord is not None
    assert chord.symbol == symbol


def test_numbers_on_a_napkin() -> None:
    sheet = _read("Key: A\nVerse\n1  5/7  6-  4\nFour chords and a tune\n")
    assert [each.chord.symbol for bar in sheet.bars for each in bar.chords] == ["A", "E/G#", "F#m", "D"]


def test_each_chord_has_a_bar_and_the_report_says_so() -> None:
    sheet = _read("Key: D\nVerse\nD A\nla la\n")
    assert len(sheet.bars) == 2
    assert any("bar of its own" in remark.message for remark in sheet.remarks)


def test_words_without_chords_are_told() -> None:
    sheet = _read("Key: D\nVerse 1\nD A\nla la\nVerse 2\nno chords are here\n")
    assert any("no chords are here" in remark.message for remark in sheet.remarks if remark.lost)


def test_a_page_without_chords_is_refused() -> None:
    with pytest.raises(ChartError, match="no line of this has chords"):
        _read("Only words\nand more of them\n")


@pytest.mark.parametrize(
    ("line", "odd"),
    [("Gmaj7    Zork   D", '"Zork"'), ("G D/F# Em7 H9 C", '"H9"'), ("G D Em A man I am", None), ("Go and tell", None)],
)
def test_what_is_no_chord_among_chords_is_told(line: str, odd: str | None) -> None:
    sheet = _read(f"Harbour Lights\n\nVerse\nG     D\nAll the lamps\n{line}\nwere burning low\n")
    told = [remark for remark in sheet.remarks if remark.lost and "looks like a line of chords" in remark.message]
    assert [odd in remark.message for remark in told if odd] == ([True] if odd else [])
    assert bool(told) == bool(odd)
