"""MusicXML scores (W3C, version 4.0) as exporters write them, tidy and untidy (the untidy: common practice, no source)."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from charts.exchange.charting import chart_of
from charts.exchange.door import read_sheets, sheets_of
from charts.exchange.sheet import Sheet
from charts.roadmap import unfold


def _read(data: bytes) -> Sheet:
    (sheet,) = sheets_of(data, "page.musicxml", ".musicxml")
    return sheet


def _chords(sheet: Sheet) -> list[list[tuple[str, Fraction]]]:
    return [[(each.chord.symbol, each.offset) for each in bar.chords] for bar in sheet.bars]


def test_chords_stand_where_their_notes_do(scores: Any) -> None:
    note = scores.note
    bar = scores.measure(scores.harmony("G"), note.format("G", 8), scores.harmony("D", "dominant"), note.format("A", 8))
    assert _chords(_read(scores.score(bar))) == [[("G", 0), ("D7", 2)]]


def test_an_offset_moves_a_chord_into_a_long_note(scores: Any) -> None:
    bar = scores.measure(scores.harmony("G"), scores.harmony("C", "minor", extra="<offset>8</offset>"))
    assert _chords(_read(scores.score(bar))) == [[("G", 0), ("Cm", 2)]]


def test_two_chords_at_one_place_share_the_bar_and_are_told(scores: Any) -> None:
    sheet = _read(scores.score(scores.measure(scores.harmony("G"), scores.harmony("D"))))
    assert _chords(sheet) == [[("G", 0), ("D", 2)]]
    assert [remark.bar for remark in sheet.remarks if remark.lost] == [1]


@pytest.mark.parametrize(
    ("kind", "text", "symbol"),
    [
        ("other", "m7b5", "Gm7b5"),
        ("other", "7(b9)", "G7(b9)"),
        ("min7", "", "Gm7"),
        ("", "sus4", "Gsus4"),
        ("dominant-seventh", "", "G7"),
        ("Minor", "", "Gm"),
        ("tristan", "", "Gm7b5"),
    ],
)
def test_kinds_that_the_schema_has_not(scores: Any, kind: str, text: str, symbol: str) -> None:
    sheet = _read(scores.score(scores.measure(scores.harmony("G", kind, text))))
    assert _chords(sheet) == [[(symbol, 0)]]


def test_a_chord_that_no_symbol_names_is_told_with_its_bar(scores: Any) -> None:
    odd = "<degree><degree-value>4</degree-value><degree-alter>-1</degree-alter><degree-type>add</degree-type></degree>"
    sheet = _read(scores.score(scores.measure(scores.harmony("G", extra=odd))))
    assert _chords(sheet) == [[("G", 0)]]
    assert "bar 1" in str(sheet.remarks[-1])


def test_no_chord_is_n_c(scores: Any) -> None:
    assert _chords(_read(scores.score(scores.measure(scores.harmony("C", "none", "N.C."))))) == [[("N.C.", 0)]]


def test_the_same_harmony_in_two_parts_is_one(scores: Any) -> None:
    data = scores.score(scores.measure(scores.harmony("G"))).decode()
    part = data[data.index('<part id="P1">') : data.index("</score-partwise>")]
    sheet = _read(data.replace(part, part + part.replace("P1", "P2")).encode())
    assert _chords(sheet) == [[("G", 0)]]


def test_chords_written_as_words_are_read_where_there_are_no_others(scores: Any) -> None:
    def words(text: str) -> str:
        return f"<direction><direction-type><words>{text}</words></direction-type></direction>"

    sheet = _read(
        scores.score(scores.measure(words("Am7")), scores.measure(words("D7")), scores.measure(words("dolce")))
    )
    assert _chords(sheet) == [[("Am7", 0)], [("D7", 0)], []]
    assert any("dolce" in remark.message and remark.bar == 3 for remark in sheet.remarks)


def test_a_time_wise_score_reads_as_the_part_wise_one(scores: Any) -> None:
    bars = [scores.measure(scores.harmony("G")), scores.measure(scores.harmony("C"))]
    plain = _read(scores.score(*bars))
    text = scores.score(*bars).decode().replace('<part id="P1">', "").replace("</part>", "")
    text = text.replace("score-partwise", "score-timewise").replace(
        '<measure number="1">', '<measure number="1"><part id="P1">'
    )
    turned = _read(text.replace("</measure>", "</part></measure>").encode())
    assert (turned.bars, turned.key) == (plain.bars, plain.key)


def test_missing_divisions_are_found_from_the_note_types(scores: Any) -> None:
    note = "<note><pitch><step>G</step><octave>4</octave></pitch><duration>480</duration><type>quarter</type></note>"
    data = scores.score(scores.measure(note * 2, scores.harmony("D"), note * 2)).replace(
        b"<divisions>4</divisions>", b""
    )
    assert _chords(_read(data)) == [[("D", 2)]]


@pytest.mark.parametrize("encoding", ["utf-8-sig", "utf-16", "latin-1"])
def test_encodings(scores: Any, encoding: str) -> None:
    text = scores.score(scores.measure(scores.harmony("G"))).decode()
    text = text.replace("<part-list>", "<work><work-title>Frühe Weise</work-title></work><part-list>")
    text = text.replace("UTF-8", {"utf-8-sig": "UTF-8", "utf-16": "UTF-16", "latin-1": "ISO-8859-1"}[encoding])
    assert _read(text.encode(encoding)).title == "Frühe Weise"


def test_repeats_endings_and_signs(scores: Any) -> None:
    def right(inside: str) -> str:
        return f'<barline location="right">{inside}</barline>'

    def left(inside: str) -> str:
        return f'<barline location="left">{inside}</barline>'

    def words(text: str) -> str:
        return f"<direction><direction-type><words>{text}</words></direction-type></direction>"

    g, c, d, e = (scores.harmony(root) for root in "GCDE")
    chart = chart_of(
        _read(
            scores.score(
                scores.measure("<direction><direction-type><segno/></direction-type></direction>", g),
                scores.measure(left('<repeat direction="forward"/>'), c),
                scores.measure(left('<ending number="1" type="start"/>'), d, right('<repeat direction="backward"/>')),
                scores.measure(left('<ending number="2" type="start"/>'), e, words("To Coda")),
                scores.measure(g, words("D.S. al Coda"), right("<bar-style>light-light</bar-style>")),
                scores.measure("<direction><direction-type><coda/></direction-type></direction>", c, words("Fine")),
            )
        )
    ).chart
    played = [change.chord.symbol for change in unfold(chart).changes]
    assert played == ["G", "C", "D", "C", "E", "G", "G", "C", "E", "C"]


def test_a_transposing_part_is_read_as_it_sounds(scores: Any) -> None:
    text = scores.score(scores.measure(scores.harmony("A"))).decode()
    text = text.replace(
        "</attributes>", "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose></attributes>"
    )
    sheet = _read(text.encode())
    assert sheet.key is not None
    assert (sheet.key.name, sheet.bars[0].chords[0].chord.symbol, sheet.bars[0].notes[0].pitch) == ("F", "G", 65)


def test_a_pickup_and_its_counterpart_stay_bars_of_their_own(scores: Any) -> None:
    note = scores.note
    sheet = _read(
        scores.score(
            scores.measure(note.format("D", 4)),
            scores.measure(scores.harmony("G"), note.format("G", 16), number=2),
            scores.measure(scores.harmony("D"), note.format("A", 12), number=3),
        )
    )
    made = chart_of(sheet)
    assert [bar.length for bar in made.chart.sections[0].bars] == [1, 4, 3]
    assert made.chart.pickup == 1


def test_words_stand_below_their_line_by_verse(scores: Any) -> None:
    def sung(*verses: tuple[str, str]) -> str:
        lyrics = "".join(
            f'<lyric number="{number}"><syllabic>{how}</syllabic><text>{text}</text></lyric>'
            for number, (how, text) in enumerate(verses, 1)
        )
        return scores.note.format("G", 8).replace("</note>", f"{lyrics}</note>")

    bar = scores.measure(sung(("begin", "Har"), ("single", "Fair")), sung(("end", "bour"), ("single", "wind")))
    chart = chart_of(_read(scores.score(bar))).chart
    assert chart.sections[0].bars[0].words == ("Har-bour", "Fair wind")


def test_words_with_fewer_syllables_than_notes_are_whole(scores: Any) -> None:
    lyric = "<lyric><syllabic>{}</syllabic><text>{}</text></lyric></note>"
    notes = [scores.note.format("G", 4) for _ in range(4)]
    for place, how, text in ((0, "begin", "Har"), (1, "end", "bour"), (3, "begin", "li")):
        notes[place] = notes[place].replace("</note>", lyric.format(how, text))
    chart = chart_of(_read(scores.score(scores.measure(*notes)))).chart
    assert chart.sections[0].bars[0].words == ("Harbour li-",)


def test_the_lead_sheets_of_the_corpus_come_in_whole(music21_folder: Path) -> None:
    for path in (music21_folder / "corpus" / "leadSheet").glob("*.mxl"):
        (sheet,) = read_sheets(path)
        made = chart_of(sheet, path.name)
        assert not [remark for remark in made.remarks if remark.lost]
        written = sum(len(bar.chords) for bar in sheet.bars)
        # A section states its first chord, so there may be one more.
        assert written <= sum(len(bar.changes) for bar in made.chart.sections[0].bars) <= written + 1
