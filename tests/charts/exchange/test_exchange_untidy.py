"""The same music, written less tidily (``tests/benchmarks/importing_pages.py``); odd harmonies one by one (MusicXML 4.0)."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Any

import pytest

from charts.exchange.charting import chart_of
from charts.exchange.door import sheets_of
from charts.exchange.sheet import Sheet
from charts.roadmap import unfold

sys.path.insert(0, str(Path(__file__).parents[2] / "benchmarks"))

import importing_pages


def _read(data: bytes) -> Sheet:
    (sheet,) = sheets_of(data, "page.musicxml", ".musicxml")
    return sheet


def _music(sheet: Sheet) -> list[Any]:
    return [(bar.length, bar.meter, bar.chords, bar.notes, bar.opens_repeat, bar.closes_repeat) for bar in sheet.bars]


def _chords(sheet: Sheet) -> list[str]:
    return [each.chord.symbol for bar in sheet.bars for each in bar.chords]


def _page(scores: Any) -> bytes:
    """A pickup, chords over long notes and rests, a triplet, a repeat; twelve divisions a quarter."""
    note, harmony = scores.note, scores.harmony
    three = "<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>"
    triplet = note.format("A", 4).replace("</note>", f"<type>eighth</type>{three}</note>") * 3
    rest = "<note><rest/><duration>24</duration></note>"
    seventh = "<bass><bass-step>C</bass-step><bass-alter>1</bass-alter></bass>"
    added = (
        "<degree><degree-value>9</degree-value><degree-alter>0</degree-alter><degree-type>add</degree-type></degree>"
    )
    repeat = '<barline location="right"><repeat direction="backward"/></barline>'
    measures = [
        scores.measure(note.format("D", 12)),
        scores.measure(harmony("G"), note.format("G", 36), harmony("D", "dominant"), triplet, number=2),
        scores.measure(harmony("A", "dominant", extra=seventh), rest, harmony("E", "minor-seventh"), rest, number=3),
        scores.measure(
            note.format("C", 24), harmony("C", "major", extra=added), note.format("B", 24), repeat, number=4
        ),
    ]
    return bytes(scores.score(*measures).replace(b"<divisions>4<", b"<divisions>12<"))


@pytest.mark.parametrize("name", importing_pages.UNTIDY)
@pytest.mark.parametrize("encoding", range(len(importing_pages.ENCODINGS)))
def test_an_untidy_page_has_the_same_music(scores: Any, name: str, encoding: int) -> None:
    tidy = _read(_page(scores))
    assert [len(bar.chords) for bar in tidy.bars] == [0, 2, 2, 1]
    untidy = _read(importing_pages.untidy(_page(scores), name, encoding))
    assert _music(untidy) == _music(tidy)
    assert not [remark for remark in untidy.remarks if remark.lost]


@pytest.mark.parametrize(
    ("inside", "symbol"),
    [
        ("<function>V</function><kind>dominant</kind>", "D7"),
        ("<function>vi</function><kind>minor</kind>", "Em"),
        ("<numeral><numeral-root>4</numeral-root></numeral><kind>major</kind>", "C"),
        (
            "<numeral><numeral-root>7</numeral-root><numeral-alter>-1</numeral-alter></numeral><kind>major</kind>",
            "F",
        ),
        ("<root><root-step>G</root-step></root><kind>major</kind><inversion>0</inversion>", "G"),
        ("<root><root-step>G</root-step></root><kind>major</kind><inversion>1</inversion>", "G/B"),
        ("<root><root-step>D</root-step></root><kind>dominant</kind><inversion>3</inversion>", "D7/C"),
        (
            "<root><root-step>D</root-step></root><kind>dominant</kind><inversion>1</inversion>"
            "<bass><bass-step>F</bass-step><bass-alter>1</bass-alter></bass>",
            "D7/F#",
        ),
        ("<root><root-step>G</root-step></root><kind>diminished-seventh</kind><degree><degree-value>5</degree-value>"
         "<degree-alter>1</degree-alter><degree-type>alter</degree-type></degree>", "Gm6"),
        ("<root><root-step>G</root-step></root><kind>augmented-major-ninth</kind>", "Gmaj9#5"),
    ],
)  # fmt: skip
def test_odd_harmonies(scores: Any, inside: str, symbol: str) -> None:
    sheet = _read(scores.score(scores.measure(f"<harmony>{inside}</harmony>")))
    assert _chords(sheet) == [symbol]
    assert not [remark for remark in sheet.remarks if remark.lost]


def test_an_inversion_that_the_chord_has_not_is_told(scores: Any) -> None:
    inside = "<root><root-step>G</root-step></root><kind>major</kind><inversion>3</inversion>"
    sheet = _read(scores.score(scores.measure(f"<harmony>{inside}</harmony>")))
    assert _chords(sheet) == ["G"]
    assert [remark.bar for remark in sheet.remarks if remark.lost] == [1]


def test_endings_for_several_times_and_jumps_as_sounds_alone(scores: Any) -> None:
    def barline(side: str, inside: str) -> str:
        return f'<barline location="{side}">{inside}</barline>'

    g, c, d, e = (scores.harmony(root) for root in "GCDE")
    back = '<repeat direction="backward"/>'
    sheet = _read(
        scores.score(
            scores.measure('<sound segno="segno"/>', barline("left", '<repeat direction="forward"/>'), g),
            scores.measure(
                barline("left", '<ending number="1, 2" type="start"/>'),
                c,
                barline("right", f'<ending number="1, 2" type="stop"/>{back}'),
            ),
            scores.measure(
                barline("left", '<ending number="3" type="start"/>'),
                d,
                barline("right", '<ending number="3" type="discontinue"/>'),
            ),
            scores.measure(e, '<sound fine="yes"/>'),
            scores.measure(
                c, '<direction><direction-type><words/></direction-type><sound dalsegno="segno"/></direction>'
            ),
        )
    )
    # Once more from the sign, and the last time of the repeat.
    played = [change.chord.symbol for change in unfold(chart_of(sheet).chart).changes]
    assert played == ["G", "C", "G", "C", "G", "D", "E", "C", "G", "D", "E"]


def test_notes_with_slashed_heads_are_notes_and_slashes_are_none(scores: Any) -> None:
    def headed(head: str) -> str:
        return str(scores.note.format("G", 8).replace("</note>", f"<notehead>{head}</notehead></note>"))

    sheet = _read(scores.score(scores.measure(headed("slashed"), headed("slash"))))
    assert [len(bar.notes) for bar in sheet.bars] == [1]


def test_a_quarter_tone_is_told(scores: Any) -> None:
    sheet = _read(
        scores.score(scores.measure(scores.note.format("G", 16).replace("</step>", "</step><alter>0.5</alter>")))
    )
    assert [remark.bar for remark in sheet.remarks if remark.lost] == [1]


def test_a_backup_too_far_goes_to_the_beginning(scores: Any) -> None:
    low = scores.note.format("E", 16).replace("</note>", "<voice>2</voice></note>")
    sheet = _read(
        scores.score(scores.measure(scores.note.format("G", 16), "<backup><duration>9999</duration></backup>", low))
    )
    assert [bar.length for bar in sheet.bars] == [4]
