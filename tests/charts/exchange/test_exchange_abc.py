"""ABC tunes (ABC standard 2.1; the facts of its sections, tunes of our own)."""

from __future__ import annotations

import re
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.chart import Tempo
from charts.errors import ChartError
from charts.exchange.charting import chart_of
from charts.exchange.door import sheets_of
from charts.exchange.headings import chord_word
from charts.exchange.sheet import Sheet
from charts.roadmap import unfold
from tests.trials import trials

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
    assert [bar.words for bar in sheet.bars] == [("Har\u00adbour light,",), ("burn",), ("on",)]


def test_words_with_a_syllable_for_each_note_are_divided() -> None:
    chart = chart_of(_read("G A B2 | c2 d2- | d4 |\nw: Har-bour light, burn on_\nw: Fair wind and tide, li-\n")).chart
    assert chart.sections[0].bars[0].words == ("Har-bour light, burn on", "Fair wind and tide, li-")
    chart = chart_of(_read("G A B2 | c4 |\nw: Har-bour_ light,\n")).chart
    assert chart.sections[0].bars[0].words == ("Harbour light,",)


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


def test_a_voice_named_in_its_first_line_is_the_first() -> None:
    sheet = _read('[V:1] "G"G4 | G4 |\n[V:2] D4 | "D"D4 | "G"G4 |\n')
    assert [[each.chord.symbol for each in bar.chords] for bar in sheet.bars] == [["G"], ["D"]]
    assert any("more bars" in remark.message for remark in sheet.remarks if remark.lost)


def test_chords_of_all_voices_are_taken_and_what_contradicts_is_told() -> None:
    sheet = _read('V:1\n"G"G2 G2 | "C"c4 |\nV:2\n"G"D2 "D"D2 | "Am"E4 |\n')
    assert [[each.chord.symbol for each in bar.chords] for bar in sheet.bars] == [["G", "D"], ["C"]]
    assert [remark.bar for remark in sheet.remarks if remark.lost] == [2]


@pytest.mark.parametrize(("how", "pitches"), [("pitch", [66, 78, 66]), ("octave", [66, 77, 66]), ("not", [66, 77, 65])])
def test_how_long_accidentals_hold(how: str, pitches: list[int]) -> None:
    head = HEAD.replace("K:G", "K:C")
    for line in (f"%%propagate-accidentals {how}\n", f"I:propagate-accidentals {how}\n"):
        assert [note.pitch for note in _read("^F f F z|", line + head).bars[0].notes] == pitches


def test_chords_inside_brackets_and_graces_are_chords() -> None:
    sheet = _read('["Am"ACE]2 {"G"g}B2 |')
    assert [(each.chord.symbol, each.offset) for each in sheet.bars[0].chords] == [("Am", 0), ("G", 2)]


def test_a_tune_without_barlines_is_divided_and_told() -> None:
    sheet = _read("G4 " * 99 + '"D"A2 B7 c2 | "G"G4 |')
    assert {bar.length for bar in sheet.bars[:-2]} == {4}
    assert sum(len(bar.chords) for bar in sheet.bars) == 2
    assert sum(note.length for bar in sheet.bars for note in bar.notes) == 99 * 4 + 11 + 4
    assert [remark.bar for remark in sheet.remarks if remark.lost] == [1]


def test_music_that_belongs_to_no_tune_is_told() -> None:
    text = "G4 | A4 |\nX:1\nT:One\nG4 | A4 |\nX:2\nT:Two\nK:C\nc4|\n"
    (sheet,) = sheets_of(text.encode(), "book.abc", ".abc")
    assert [remark.lost for remark in sheet.remarks] == [True]


def test_signs_in_words_come_back() -> None:
    sheet = _read("G A B c |\nw:a\\u005fb 100\\% ma\\~nana x~y\\-z\n")
    assert sheet.bars[0].words == ("a_b 100% mañana x y-z",)


LINES = [
    '"G"GABc dedB|"C"c2ec "D7"B2dB|',
    '|:"Em"e2ef g2ge|[1 "Am"A2 "D"d6:|[2 "G"G8|]',
    "P:B",
    "[M:3/4]",
    'V:2\n"F#m"A3 B|',
    "w: la la la",
    "X:7",
    "K:Dmix",
    '{"A7"c}d2 (3efg "B7"[B^df]2|',
    "L:1/16",
    '"Bb"z4 & B4|"F"Z|',
    '"C"c2"F"|:d2 \\',
    "M:9999/1",
    "%%propagate-accidentals not",
    '"A" "Bm" "A"',
]
SIGNS = ["|", ":|", '"', "[", "]", "{", "(", "(3", ">", "-", "!", "\\", "&", "%", "x9", "4/0", '"Gm7"', "[K:D]", "$"]


@trials(60)
@given(
    st.lists(st.sampled_from(LINES), max_size=8),
    st.lists(st.tuples(st.integers(0, 7), st.integers(0, 40), st.sampled_from(SIGNS)), max_size=5),
)
def test_no_chord_of_a_muddled_tune_is_lost_in_silence(lines: list[str], inserted: list[tuple[int, int, str]]) -> None:
    for line, place, sign in inserted:
        if line < len(lines):
            lines = [*lines]
            lines[line] = lines[line][:place] + sign + lines[line][place:]
    text = HEAD + '"G"G4|\n' + "\n".join(lines) + "\n"
    sheets = sheets_of(text.encode(), "tune.abc", ".abc")
    for sheet in sheets:
        if sheet.bars:
            chart_of(sheet)
    music = (re.sub(r"%.*", "", line) for line in text.split("\n")[5:] if not re.match("[A-Za-z]:(?![|:])", line))
    written = sum(chord_word(text) is not None for line in music for text in re.findall('"([^"]*)"', line))
    read = sum(len(bar.chords) for sheet in sheets for bar in sheet.bars)
    assert read >= written or any(remark.lost for sheet in sheets for remark in sheet.remarks)


def test_decorations_inside_a_chord_are_passed_over() -> None:
    sheet = _read("[.G.B]2 [~Gd]2 |")
    assert [(note.offset, note.pitch) for note in sheet.bars[0].notes] == [(0, 71), (2, 74)]
    assert not sheet.remarks
