"""Reading a whole chart: header, sections, words, melody, comments, and what a file may look like.

Positions in the sample were counted by hand from the printed text; the tempo and the count of beats are common practice, no
source.
"""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path

import pytest

from charts.chart import Chart, Step, Tempo
from charts.errors import ChartError
from charts.key import Key
from charts.meter import Meter
from charts.notation import read_chart, read_chart_file
from charts.pitch import Spelling

PRINTED = """\
title = Lanterns on the Quay
key   = D
meter = 4/4
tempo = quarter 92
feel  = straight eighths

== Roadmap ==
Intro
Verse 1
Chorus
Verse 2
Chorus    twice
Bridge    manuals only
Chorus    up a tone, fuller
Ending    wait

== Intro ==
| D | G/B | A7sus4 A7 | D |

== Verse 1 ==
| D / / /    | Bm        | G &A / / / | D        |
  Lamps along the water ...
| Em7 A      | D (breath) ||

== Chorus ==
|: G | A | D/F# G | A :| x2

== Ending ==
| G (rit.) | A (hold) | D |]
"""
WHOLE = f"{PRINTED}\n== Verse 2 ==\n| D | % |\n\n== Bridge ==\n| Bm | G A |\n"


def chart_with(*, header: str = "", bars: str = "| D |", body: str = "") -> Chart:
    key = "" if header.startswith("key") else "key = D\n"
    return read_chart(f"title = Made Up\n{key}{header}\n{body or f'== Verse =={chr(10)}{bars}'}")


def written(chart: Chart, section: str) -> list[list[tuple[str, Fraction, int, int]]]:
    return [
        [(change.chord.symbol, change.offset, change.line, change.column) for change in bar.changes]
        for bar in chart.section(section).bars
    ]


def test_the_sample_header_is_read() -> None:
    chart = read_chart(WHOLE, "lanterns.chart")
    assert chart.title == "Lanterns on the Quay"
    assert chart.key == Key(Spelling("D"))
    assert chart.meter == Meter(4, 4)
    assert chart.tempo == Tempo(Fraction(1), 92.0)
    assert chart.feel == "straight eighths"
    assert (chart.source, chart.text) == ("lanterns.chart", WHOLE)


def test_the_sample_roadmap_is_read() -> None:
    assert read_chart(WHOLE).roadmap == (
        Step(section="Intro", line=8),
        Step(section="Verse 1", line=9),
        Step(section="Chorus", line=10),
        Step(section="Verse 2", line=11),
        Step(section="Chorus", times=2, line=12),
        Step(section="Bridge", manuals_only=True, line=13),
        Step(section="Chorus", up=2, fullness=1, line=14),
        Step(section="Ending", wait=True, line=15),
    )


def test_every_chord_of_the_sample_stands_where_it_is_printed() -> None:
    chart = read_chart(WHOLE)
    half = Fraction(1, 2)
    assert [section.name for section in chart.sections] == ["Intro", "Verse 1", "Chorus", "Ending", "Verse 2", "Bridge"]
    assert written(chart, "Intro") == [
        [("D", 0, 18, 3)],
        [("G/B", 0, 18, 7)],
        [("A7sus4", 0, 18, 13), ("A7", 2, 18, 20)],
        [("D", 0, 18, 25)],
    ]
    assert written(chart, "Verse 1") == [
        [("D", 0, 21, 3)],
        [("Bm", 0, 21, 16)],
        [("G", 0, 21, 28), ("A", half, 21, 31)],
        [("D", 0, 21, 41)],
        [("Em7", 0, 23, 3), ("A", 2, 23, 7)],
        [("D", 0, 23, 16)],
    ]
    assert written(chart, "Chorus") == [
        [("G", 0, 26, 4)],
        [("A", 0, 26, 8)],
        [("D/F#", 0, 26, 12), ("G", 2, 26, 17)],
        [("A", 0, 26, 21)],
    ]


def test_signs_marks_and_words_of_the_sample() -> None:
    chart = read_chart(WHOLE)
    verse, chorus, ending = (chart.section(name).bars for name in ("Verse 1", "Chorus", "Ending"))
    assert [bar.number for bar in verse] == [1, 2, 3, 4, 5, 6]
    assert verse[0].words == ("Lamps along the water ...",)
    assert not any(bar.words for bar in verse[1:])
    assert verse[5].changes[0].marks == ("breath",)
    assert verse[5].barline == "||"
    assert [bar.opens_repeat for bar in chorus] == [True, False, False, False]
    assert [bar.closes_repeat for bar in chorus] == [0, 0, 0, 2]
    assert [bar.changes[0].marks for bar in ending] == [("rit.",), ("hold",), ()]
    assert ending[2].barline == "|]"


def test_the_sample_as_printed_lacks_two_sections_and_nothing_else() -> None:
    with pytest.raises(ChartError) as caught:
        read_chart(PRINTED)
    assert [(p.line, p.column, p.serious) for p in caught.value.problems] == [(11, 1, True), (13, 1, True)]


@pytest.mark.parametrize(
    ("header", "value", "per_minute"),
    [
        pytest.param("tempo = quarter 92", Fraction(1), 92, id="quarter"),
        pytest.param("tempo = quarter = 92", Fraction(1), 92, id="as engraved"),
        pytest.param("tempo = Dotted Quarter 56", Fraction(3, 2), 56, id="dotted, capitals"),
        pytest.param("tempo = half 60", Fraction(2), 60, id="half"),
        pytest.param("tempo = eighth 120", Fraction(1, 2), 120, id="eighth"),
        pytest.param("tempo = ♩ = 72.5", Fraction(1), 72.5, id="note sign, decimal"),
        pytest.param("tempo = dotted crotchet 50", Fraction(3, 2), 50, id="british name"),
        pytest.param("tempo = 92", Fraction(1), 92, id="bare, 4/4"),
        pytest.param("tempo = 92 bpm", Fraction(1), 92, id="bare with unit"),
        pytest.param("tempo = 56\nmeter = 6/8", Fraction(3, 2), 56, id="bare before its meter, 6/8"),
        pytest.param("tempo = 56\nmeter = 12/8", Fraction(3, 2), 56, id="bare, 12/8"),
        pytest.param("tempo = 80\nmeter = 2/2", Fraction(2), 80, id="bare, 2/2"),
        pytest.param(
            "tempo = 120\nmeter = 6/8\ncount = eighths", Fraction(1, 2), 120, id="bare, 6/8 counted in eighths"
        ),
        pytest.param("", Fraction(1), 84, id="none stated"),
    ],
)
def test_tempo(header: str, value: Fraction, per_minute: float) -> None:
    assert chart_with(header=header).tempo == Tempo(value, per_minute)


@pytest.mark.parametrize(
    ("meter", "pickup", "length"),
    [
        pytest.param("4/4", "1", Fraction(1), id="one beat"),
        pytest.param("4/4", "1 beat", Fraction(1), id="one beat, in words"),
        pytest.param("4/4", "1/2", Fraction(1, 2), id="half a beat"),
        pytest.param("4/4", "quarter", Fraction(1), id="quarter"),
        pytest.param("3/4", "two eighths", Fraction(1), id="two eighths"),
        pytest.param("4/4", "dotted quarter", Fraction(3, 2), id="dotted quarter"),
        pytest.param("6/8", "1", Fraction(3, 2), id="one counted beat of 6/8"),
        pytest.param("6/8", "eighth", Fraction(1, 2), id="eighth before 6/8"),
        pytest.param("2/2", "1", Fraction(2), id="one counted beat of 2/2"),
    ],
)
def test_a_pickup_is_bar_0_and_has_its_own_length(meter: str, pickup: str, length: Fraction) -> None:
    chart = chart_with(header=f"meter = {meter}\npickup = {pickup}", body="== A ==\n| A | D |\n== B ==\n| G |")
    assert chart.pickup == length
    assert [(bar.number, bar.length) for bar in chart.section("A").bars] == [(0, length), (1, chart.meter.bar_length)]
    assert [bar.number for bar in chart.section("B").bars] == [1]


def test_a_pickup_of_two_beats_is_written_with_strokes_or_shared() -> None:
    for bars in ("| A / | D |", "| A E | D |"):
        chart = chart_with(header="pickup = 2", bars=bars)
        assert chart.sections[0].bars[0].length == 2


def test_all_other_header_lines() -> None:
    header = "Lead = Feet\npatience = always\nroom = 2.5 s\nnotes = Softly, then  not\ndegrees = relative major\nfeel = waltz"
    chart = chart_with(header=header)
    assert (chart.lead, chart.patience, chart.room, chart.notes) == ("feet", "always", 2.5, "Softly, then not")
    assert (chart.degrees, chart.feel) == ("relative major", "waltz")


def test_what_is_not_stated() -> None:
    chart = read_chart("key = Am\n== A ==\n| Am |", "harbour_light.chart")
    assert chart.title == "harbour_light"
    assert chart.meter == Meter(4, 4)
    assert (chart.feel, chart.lead, chart.patience, chart.room, chart.degrees, chart.notes) == (None,) * 5 + ("",)
    assert chart.roadmap == ()


def test_a_title_may_hold_an_equals_sign() -> None:
    assert read_chart("title = 1 + 1 = 2\nkey = D\n== A ==\n| D |").title == "1 + 1 = 2"


def test_a_section_has_its_own_key_meter_tempo_and_feel() -> None:
    chart = chart_with(
        body="== A ==\n| D |\n== B ==\ntempo = 50\nkey = F# minor\nmeter = 6/8\nfeel = lilt\n| F#m | C#m D |"
    )
    section = chart.section("b")
    assert section.key == Key(Spelling("F", 1), minor=True)
    assert section.meter == Meter(6, 8)
    assert section.tempo == Tempo(Fraction(3, 2), 50.0)
    assert section.feel == "lilt"
    assert [change.offset for change in section.bars[1].changes] == [0, Fraction(3, 2)]
    assert chart.section("A").key is None


def test_words_and_melody_belong_to_the_line_of_bars_above() -> None:
    bars = "| D | G |\n  First line\n\n  second line\nmelody = A2 B2 |\n| A | D |\nmelody = F4\nmelody = D4\n  tempo or = not"
    first, second, third, fourth = chart_with(bars=bars).sections[0].bars
    assert first.words == ("First line", "second line")
    assert (first.melody, first.melody_line) == ("A2 B2 |", 9)
    assert (second.words, second.melody) == ((), "")
    assert (third.melody, third.melody_line) == ("F4\nD4", 11)
    assert third.words == ("tempo or = not",)
    assert fourth.melody == ""


@pytest.mark.parametrize(
    ("line", "symbols"),
    [
        pytest.param("| F#m | G#dim |", ["F#m", "G#dim"], id="sharps are no comments"),
        pytest.param("| F# | # tail", ["F#"], id="comment after a space"),
        pytest.param("| F# | #", ["F#"], id="empty comment"),
        pytest.param("| F#m | C |  # G | A |", ["F#m", "C"], id="bars in a comment"),
        pytest.param("| D |\n# G\n  # A\n| E |", ["D", "E"], id="whole lines"),
        pytest.param("|\tF♯m\u00a0|\u00a0B♭\t|", ["F#m", "Bb"], id="typographic accidentals, odd spaces"),
    ],
)
def test_comments_and_accidentals(line: str, symbols: list[str]) -> None:
    bars = chart_with(bars=line).sections[0].bars
    assert [change.chord.symbol for bar in bars for change in bar.changes] == symbols
    assert not any(bar.words for bar in bars)


@pytest.mark.parametrize("ending", ["\n", "\r\n", "\r"])
@pytest.mark.parametrize("mark", ["", "\ufeff"])
def test_line_endings_and_byte_order_marks_change_nothing(ending: str, mark: str) -> None:
    text = mark + WHOLE.replace("\n", ending)
    chart = read_chart(text)
    assert chart == read_chart(WHOLE)
    assert chart.text == text


def test_headings_are_generous_with_capitals_and_spaces() -> None:
    chart = read_chart("KEY = D\n==  ROADMAP==\nverse   1\n===Verse  1===\n| D |\n")
    assert [section.name for section in chart.sections] == ["Verse 1"]
    assert chart.roadmap == (Step(section="Verse 1", line=3),)


@pytest.mark.parametrize(
    ("header", "bars", "symbols"),
    [
        pytest.param("key = D", "| 1 4 5/7 6- |", "D G A/C# Bm", id="major"),
        pytest.param("key = Bb", "| 1 | Eb F | b7 |", "Bb Eb F Ab", id="mixed with chords"),
        pytest.param("key = Am", "| 1- | 4- |", "Am Dm", id="minor, from the tonic"),
        pytest.param(
            "key = Am\ndegrees = relative major", "| 6- | 4 5 | 1 |", "Am F G C", id="from the relative major"
        ),
    ],
)
def test_scale_degrees_count_in_the_key_in_force(header: str, bars: str, symbols: str) -> None:
    section = chart_with(header=header, bars=bars).sections[0]
    assert [change.chord.symbol for bar in section.bars for change in bar.changes] == symbols.split()


def test_scale_degrees_count_from_a_sections_own_key() -> None:
    chart = chart_with(body="== A ==\n| 1 |\n== B ==\nkey = E\n| 1 5/7 |")
    assert [change.chord.symbol for change in chart.section("B").bars[0].changes] == ["E", "B/D#"]


def test_a_chart_is_read_from_a_file(tmp_path: Path) -> None:
    path = tmp_path / "quay.chart"
    path.write_bytes(b"\xef\xbb\xbfkey = D\r\n== A ==\r\n| F\xe2\x99\xafm |\r\n")
    chart = read_chart_file(path)
    assert (chart.title, chart.source) == ("quay", "quay.chart")
    assert chart.sections[0].bars[0].changes[0].chord.symbol == "F#m"


@pytest.mark.parametrize(
    ("content", "line", "column", "says"),
    [
        pytest.param(b"key = D\ntitle = Caf\xe9\n", 2, 12, "not UTF-8", id="latin-1"),
        pytest.param("key = D".encode("utf-16"), 1, 1, "not UTF-8", id="utf-16"),
        pytest.param(b"", 0, 0, "no key", id="empty"),
    ],
)
def test_a_file_that_is_no_chart_says_so(tmp_path: Path, content: bytes, line: int, column: int, says: str) -> None:
    path = tmp_path / "quay.chart"
    path.write_bytes(content)
    with pytest.raises(ChartError) as caught:
        read_chart_file(path)
    first = caught.value.problems[0]
    assert (first.line, first.column, first.source) == (line, column, "quay.chart")
    assert says in first.message


def test_a_file_that_is_not_there_says_so(tmp_path: Path) -> None:
    with pytest.raises(ChartError, match=r"no such file"):
        read_chart_file(tmp_path / "gone.chart")
    with pytest.raises(ChartError, match=r"is a folder"):
        read_chart_file(tmp_path)
