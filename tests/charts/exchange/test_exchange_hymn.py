"""Four-part writing becomes chords: by hand for a cadence, and against an expert's analysis of a chorale."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from charts.chart import BREATH
from charts.chord import read_chord
from charts.exchange.charting import chart_of
from charts.exchange.door import read_sheets
from charts.exchange.hymn import find_chords, is_hymn, with_chords
from charts.exchange.sheet import Sheet, SheetBar, SheetChord, tune_note
from charts.key import read_key
from charts.meter import Meter
from charts.pitch import NATURAL, read_spelling
from charts.tune import TuneNote


def _voice(text: str) -> list[TuneNote]:
    """``"C5 D5/2 E5/2 F5*2"``: quarters, halved or lengthened."""
    notes, now = [], Fraction(0)
    for word in text.split():
        name, _, times = word.partition("*")
        name, _, parts = name.partition("/")
        length = Fraction(int(times or 1), int(parts or 1))
        read = read_spelling(name)
        assert read is not None
        spelling, octave = read
        pitch = 12 * (int(octave) + 1) + NATURAL[spelling.letter] + spelling.alter
        notes.append(tune_note(now, length, spelling, pitch))
        now += length
    return notes


def _hymn(*voices: str, phrase_end: bool = False) -> Sheet:
    """One bar of parts, the tune first."""
    parts = [_voice(voice) for voice in voices]
    length = sum((note.length for note in parts[0]), Fraction(0))
    meter = Meter(int(length), 4)
    notes = tuple(note for part in parts for note in part)
    bar = SheetBar(length=length, meter=meter, notes=tuple(parts[0]), voices=notes, phrase_end=phrase_end)
    return Sheet(title="A Hymn", key=read_key("C"), meter=meter, bars=(bar,))


def _symbols(sheet: Sheet) -> list[tuple[str, Fraction]]:
    return [(each.chord.symbol, each.offset) for bar in with_chords(sheet).bars for each in bar.chords]


# Worked by hand; the cadences of any harmony textbook.
@pytest.mark.parametrize(
    ("voices", "chords"),
    [
        pytest.param(
            ("E4 F4 D4 C4", "C4 C4 B3 C4", "G3 A3 G3 G3", "C3 F3 G3 C3"), "C 0 F 1 G 2 C 3", id="a plain cadence"
        ),
        pytest.param(
            ("E4 F4 D4 C4", "C4 C4 B3 C4", "G3 A3 G3/2 F3/2 E3", "C3 F3 G3 C3"),
            "C 0 F 1 G7 2 C 3",
            id="a passing seventh",
        ),
        pytest.param(
            ("E4/2 D4/2 C4 B3 C4", "C4 C4 G3 G3", "G3 A3 D4 E4", "C3 F3 G3 C3"), "C 0 F 1 G 2 C 3", id="a passing note"
        ),
        pytest.param(
            ("C5 C5 B4 C5", "E4 F4 D4 E4", "G3 A3 G3 G3", "E3 F3 G3 C3"),
            "C/E 0 F 1 G 2 C 3",
            id="an inversion keeps its bass",
        ),
        pytest.param(
            ("C5 C5/2 B4/2 C5*2", "E4 D4 E4*2", "G3 G3 G3*2", "C3 G3 C3*2"), "C 0 G 1 C 2", id="a suspension that falls"
        ),
    ],
)
def test_one_chord_for_a_sensible_harmonic_rhythm(voices: tuple[str, ...], chords: str) -> None:
    words = chords.split()
    wanted = list(zip(words[::2], map(Fraction, words[1::2]), strict=True))
    found = _symbols(_hymn(*voices))
    assert [name.replace("7", "") for name, _ in found] == [name.replace("7", "") for name, _ in wanted]
    assert [at for _, at in found] == [at for _, at in wanted]


def test_a_phrase_ends_with_a_breath_and_a_line() -> None:
    sheet = _hymn("E4 D4 C4*2", "C4 B3 C4*2", "G3 G3 E3*2", "C3 G3 C3*2", phrase_end=True)
    sheet = with_chords(Sheet(title="", key=sheet.key, meter=sheet.meter, bars=sheet.bars * 2))
    assert sheet.bars[0].chords[-1].marks == (BREATH,)
    assert sheet.bars[1].new_line


def test_a_close_call_is_told_with_what_else_it_might_be(music21_folder: Path) -> None:
    (sheet,) = read_sheets(music21_folder / "corpus" / "bach" / "bwv269.mxl")
    made = with_chords(sheet)
    told = [remark for remark in made.remarks if "might be" in remark.message]
    found = [each for bar in made.bars for each in bar.chords]
    assert 0 < len(told) < len(found)
    names = {each.chord.symbol for each in found}
    for remark in told:
        chosen, others = remark.message.split(": ")[1].split(", and it might be ")
        assert chosen in names
        assert remark.bar
        assert all(read_chord(other) != read_chord(chosen) for other in others.split(" or "))


def test_chords_on_the_page_are_never_replaced() -> None:
    hymn = _hymn("E4 D4 C4*2", "C4 B3 C4*2", "G3 G3 E3*2", "C3 G3 C3*2")
    assert is_hymn(hymn)
    given = with_chords(hymn).bars[0].chords
    lead = replace(hymn, bars=(replace(hymn.bars[0], chords=given[:1]),))
    assert not is_hymn(lead)
    assert isinstance(given[0], SheetChord)


def test_the_melody_of_a_hymn_is_kept() -> None:
    chart = chart_of(_hymn("E4 D4 C4*2", "C4 B3 C4*2", "G3 G3 E3*2", "C3 G3 C3*2")).chart
    assert chart.sections[0].bars[0].melody == "E2 D2 C4 |"


def test_a_chorale_agrees_with_the_experts_analysis() -> None:
    """Roman numerals of chorale 8 (BWV 40.8), corpus of music21; not among those the figures were fitted to."""
    import music21
    from music21 import corpus, roman

    path = corpus.getWork("bach/bwv40.8")
    (sheet,) = read_sheets(path)
    assert sheet.key is not None
    found = find_chords(sheet.bars, sheet.key)
    folder = path.parent / "choraleAnalyses"
    analysis = music21.converter.parse(folder / "riemenschneider008.rntxt").parts[0]
    expert = [
        (Fraction(each.getOffsetInHierarchy(analysis)).limit_denominator(8), each.root().pitchClass)
        for each in analysis.recurse().getElementsByClass(roman.RomanNumeral)
    ]
    agree = points = 0
    at = Fraction(0)
    while at < sum(bar.length for bar in sheet.bars):
        root = [pitch for start, pitch in expert if start <= at][-1]
        ours = [each.candidate[0] for each in found if each.start <= at][-1]
        agree, points, at = agree + (root == ours), points + 1, at + Fraction(1, 4)
    assert agree / points >= 0.9
