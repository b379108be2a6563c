"""ABC tunes (ABC standard 2.1; the facts of its sections, tunes of our own)."""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.chart import Tempo
from charts.errors import ChartError
from charts.exchange.charting import chart_of
from charts.exchange.door import sheets_of
from charts.exchange.sheet import Sheet
from charts.roadmap import unfold

HEAD = "X:1\nT:A Tune\nM:4/4\nL:1/4\nK:G\n"


def _read(body: str, head: str = HEAD) -> Sheet:
    (sheet,) = sheets_of((head + body).encode(), "tune.abc", ".abc")
    return sheet


def _played(sheet: Sheet) -> list[str]:
    return [change.chord.symbol for change in unfold(chart_of(sheet).chart).changes]


def test_chords_in_quotes_stand_before_their_notes() -> None:
    sheet = _read('"G"G2 "D7/F#"A2 | "Em"B3 "^dolce"c |')
    assert [[(c.chord.symbol, c.offset) for c in bar.chords] for bar in sheet.bars] == [
        [("G", 0), ("D7/F#", 2)],
        [("Em", 0)],
    ]
    assert [remark.lost for remark in sheet.remarks] == [False]


@pytest.mark.parametrize(
    ("body", "played"),
    [
        ('"G"G4 |: "C"c4 :| "D"d4 |]', "G C C D"),
        ('|: "G"G4 |1 "C"c4 :|2 "D"d4 |]', "G C G D"),
        ('"G"G4 :: "C"c4 :|', "G G C C"),
        ('"G"G4 |[1 "C"c4 :|[2 "D"d4 || "Em"e4 |]', "G C G D Em"),
        ('|: "G"G4 |1,3 "C"c4 :|2 "D"d4 :|', "G C G D G C"),
        ('|:: "G"G4 ::|', "G G G"),
        ('"G"G4 |: "C"c4 :|: "D"d4 :|', "G C C D D"),
        ('!segno!"G"G4 | "C"c4 !fine! | "D"d4 "^D.S. al fine" |]', "G C D G C"),
    ],
)
def test_repeats_and_endings(body: str, played: str) -> None:
    assert _played(_read(body)) == played.split()


def test_parts_are_played_in_the_order_of_the_header() -> None:
    sheet = _read('P:A\n"G"G4 |\nP:B\n"D"A4 |', HEAD.replace("K:G", "P:A2BA\nK:G"))
    assert _played(sheet) == ["G", "G", "D", "G"]


def test_many_tunes_in_a_file_and_what_it_states_for_all() -> None:
    text = "M:3/4\n\nX:1\nT:One\nK:D\nd3|\n\nX:2\nT:Two\nM:2/4\nK:A\na2|\n"
    one, two = sheets_of(text.encode(), "book.abc", ".abc")
    assert (one.title, one.meter.name, two.title, two.meter.name) == ("One", "3/4", "Two", "2/4")


def test_fields_in_the_line() -> None:
    sheet = _read('"G"G4 | [M:3/4][K:D] "D"d3 | [L:1/8] d6 |')
    assert [bar.length for bar in sheet.bars] == [4, 3, 3]
    assert [bar.key.name if bar.key else "" for bar in sheet.bars] == ["", "D", ""]


def test_a_church_mode_is_told() -> None:
    sheet = _read("D4 |", HEAD.replace("K:G", "K:Ddor"))
    assert sheet.key is not None
    assert sheet.key.name == "Dm"
    assert any("D minor" in remark.message for remark in sheet.remarks)


@pytest.mark.parametrize(
    ("text", "tempo"),
    [
        ("1/4=92", Tempo(Fraction(1), 92.0)),
        ("3/8=56", Tempo(Fraction(3, 2), 56.0)),
        ('"Gently" 1/4=72', Tempo(Fraction(1), 72.0)),
        ("1/8 1/4 = 60", Tempo(Fraction(3, 2), 60.0)),
    ],
)
def test_tempo(text: str, tempo: Tempo) -> None:
    assert _read("G4|", HEAD.replace("K:G", f"Q:{text}\nK:G")).tempo == tempo


def test_aligned_words() -> None:
    sheet = _read("G A B2 | c4 | d4 |\nw: Har-bour light, burn_ on\n")
    assert [bar.words for bar in sheet.bars] == [("Harbour light,",), ("burn",), ("",)] or sheet.bars[1].words == (
        "burn",
    )


def test_a_latin_1_file_and_the_standards_accents() -> None:
    (sheet,) = sheets_of(HEAD.replace("A Tune", "Frühe Weise").encode("latin-1") + b"G4|\n", "alt.abc", ".abc")
    assert sheet.title == "Frühe Weise"
    assert _read("G4|", HEAD.replace("A Tune", r"Fr\"uhe Caf\'e")).title == "Frühe Café"


def test_a_second_voice_is_not_the_tune() -> None:
    sheet = _read('V:1\n"G"G4 | "D"A4 |\nV:2\nG,4 | D,4 |\n')
    assert [note.pitch for bar in sheet.bars for note in bar.notes] == [67, 69]
    assert [len(bar.voices) for bar in sheet.bars] == [2, 2]


def test_what_cannot_be_read_is_told_with_its_bar() -> None:
    sheet = _read('"G"G4 | "G7xyz"A4 | $§ B4 |')
    lost = [remark for remark in sheet.remarks if remark.lost]
    assert [remark.bar for remark in lost] == [2, 3]
    assert len(sheet.bars) == 3


def test_a_file_without_a_tune_is_refused() -> None:
    with pytest.raises(ChartError, match="no tune"):
        sheets_of(b"X:1\nT:Nothing\n", "none.abc", ".abc")
