"""Writing a chart: the same music when read again, the same text when written again."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.chart import BAR_MARKS, CHANGE_MARKS, Bar, Change, Chart, Section, Step, Tempo
from charts.chord import read_chord
from charts.counting import AND, BEAT, CHORD, offsets
from charts.errors import ChartError
from charts.key import Key, read_key
from charts.meter import Meter
from charts.notation import read_chart, write_chart
from charts.pitch import Spelling
from tests.trials import trials

SYMBOLS = ("D", "Bm", "F#m7/C#", "A7(b9)", "G(no3)", "Ebmaj7", "Csus4", "Dsus2", "Cadd2", "E5", "Gm6/9", "Bdim", "N.C.")
METERS = (Meter(4, 4), Meter(3, 4), Meter(2, 2), Meter(6, 8), Meter(9, 8), Meter(12, 8), Meter(5, 4))
NAMES = ("Intro", "Verse", "Verse 1", "Verse 1 Again", "Chorus", "Bridge (slow)", "Twice Over", "Ending")


def without_places(chart: Chart) -> Chart:
    """The music alone: no lines, no columns, no file."""
    return replace(
        chart,
        source="",
        roadmap=tuple(replace(step, line=0) for step in chart.roadmap),
        sections=tuple(
            replace(section, line=0, bars=tuple(bar_without_places(bar) for bar in section.bars))
            for section in chart.sections
        ),
    )


def bar_without_places(bar: Bar) -> Bar:
    changes = tuple(replace(change, line=0, column=0) for change in bar.changes)
    return replace(bar, line=0, column=0, melody_line=0, changes=changes)


words = st.lists(
    st.text(alphabet="aBé#=|,.()%&-", min_size=1, max_size=6).filter(lambda word: word != "#"), min_size=1, max_size=3
).map(" ".join)
lyrics = st.sampled_from(["Lamps along the water", "so far, so F# near", "1 2 3", "(softly) = not loud", "a | b"])
tunes = st.sampled_from(["A2 B2 |", "z4", "^F3/2 G,, | c'2", "A2\nB2"])
tempos = st.builds(
    Tempo,
    st.sampled_from([Fraction(1), Fraction(3, 2), Fraction(2), Fraction(1, 2), Fraction(3, 4)]),
    st.floats(min_value=20, max_value=300).map(lambda bpm: round(bpm, 2)),
)
keys = st.sampled_from(["C", "D", "Bb", "F#", "Am", "F#m", "Ebm", "Cb"]).map(read_key)
feels = st.none() | st.sampled_from(["waltz", "straight eighths", "soft ballad"])
steps = st.builds(
    Step,
    section=st.sampled_from(NAMES),
    times=st.integers(1, 9),
    fullness=st.integers(-3, 3),
    up=st.integers(-12, 12),
    manuals_only=st.booleans(),
    wait=st.booleans(),
    out=st.booleans(),
    rit=st.booleans(),
    feel=feels,
)


@st.composite
def rows(draw: st.DrawFn, meter: Meter, length: Fraction, first: bool) -> list[str]:
    """A row of chords, strokes and ands that fills a bar."""
    beats = length / meter.counted_beat
    if beats.denominator != 1 or draw(st.booleans()):
        shares = [n for n in range(1, int(beats) + 1) if beats % n == 0] or [1]
        return [CHORD] * draw(st.sampled_from(shares))
    row: list[str] = []
    for beat in range(int(beats)):
        kinds = [CHORD] if first and beat == 0 else [CHORD, BEAT]
        row.append(draw(st.sampled_from(kinds)))
        row.extend([AND] * draw(st.integers(0, 1)))
    return row


def some(draw: st.DrawFn, marks: tuple[str, ...]) -> tuple[str, ...]:
    chosen = draw(st.sets(st.sampled_from(marks), max_size=2)) if draw(st.integers(0, 4)) == 0 else set()
    return tuple(mark for mark in marks if mark in chosen)


@st.composite
def bar_of(draw: st.DrawFn, meter: Meter, length: Fraction, before: Bar | None) -> Bar:
    number = 0 if length < meter.bar_length else 1 if before is None else before.number + 1
    marks = some(draw, BAR_MARKS)
    if before is not None and before.length == length and draw(st.integers(0, 3)) == 0:
        changes = before.changes
        more = some(draw, CHANGE_MARKS)
        if changes:
            last = tuple(mark for mark in CHANGE_MARKS if mark in more or mark in changes[-1].marks)
            changes = (*changes[:-1], replace(changes[-1], marks=last))
        return Bar(number=number, length=length, meter=meter, changes=changes, marks=marks, copies=True)
    row = draw(rows(meter, length, before is None))
    changes = tuple(
        Change(offset=place, chord=read_chord(draw(st.sampled_from(SYMBOLS))), marks=some(draw, CHANGE_MARKS))
        for place in offsets(row, meter, length)
    )
    return Bar(number=number, length=length, meter=meter, changes=changes, marks=marks)


@st.composite
def bars_of(draw: st.DrawFn, meter: Meter, pickup: Fraction) -> tuple[Bar, ...]:
    bars: list[Bar] = []

    def more(low: int, high: int) -> range:
        start = len(bars)
        for _ in range(draw(st.integers(low, high))):
            length = pickup if pickup and not bars else meter.bar_length
            bars.append(draw(bar_of(meter, length, bars[-1] if bars else None)))
        return range(start, len(bars))

    def change(index: int, **fields: object) -> None:
        bars[index] = replace(bars[index], **fields)

    for shape in draw(st.lists(st.sampled_from(["plain", "double", "repeat", "endings"]), min_size=1, max_size=3)):
        stretch = more(1, 5)
        if shape == "double":
            change(stretch[-1], barline=draw(st.sampled_from(["||", "|]"])))
        elif shape == "repeat":
            change(stretch[0], opens_repeat=True)
            change(stretch[-1], closes_repeat=draw(st.integers(1, 4)), barline=draw(st.sampled_from(["|", "||", "|]"])))
        elif shape == "endings":
            change(stretch[0], opens_repeat=True)
            for times in draw(st.sampled_from([((1,), (2,)), ((1, 2), (3,)), ((1,), (2,), (3,))])):
                ending = more(1, 2)
                change(ending[0], endings=times)
                for index in ending:
                    change(index, in_endings=times)
                last = times[-1] == 2 and len(times) == 1
                change(ending[-1], closes_repeat=draw(st.integers(2, 4)), barline="||" if last else "|")
    for index in range(len(bars)):
        if index == 0 or draw(st.integers(0, 4)) == 0:
            change(index, words=tuple(draw(st.lists(lyrics, max_size=2))), melody=draw(st.just("") | tunes))
    return tuple(bars)


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    by_unit = draw(st.booleans())
    meters = st.sampled_from([replace(meter, by_unit=by_unit and meter.unit == 8) for meter in METERS])
    meter = draw(meters)
    names = draw(st.lists(st.sampled_from(NAMES), min_size=1, max_size=3, unique=True))
    pickup = Fraction(0)
    sections = []
    for name in names:
        own_meter = draw(st.none() | meters)
        here = own_meter or meter
        if not sections:
            pickup = draw(
                st.sampled_from([Fraction(0), here.counted_beat, here.counted_beat / 2, here.counted_beat / 3])
            )
        sections.append(
            Section(
                name=name,
                bars=draw(bars_of(here, pickup if not sections else Fraction(0))),
                key=draw(st.none() | keys),
                meter=own_meter,
                tempo=draw(st.none() | tempos),
                feel=draw(feels),
            )
        )
    return Chart(
        title=draw(words),
        key=draw(keys),
        meter=meter,
        tempo=draw(tempos),
        feel=draw(feels),
        pickup=pickup,
        lead=draw(st.none() | st.sampled_from(["feet", "click"])),
        patience=draw(st.none() | st.sampled_from(["0", "always"])),
        room=draw(st.none() | st.sampled_from([0.0, 1.8, 5.0])),
        degrees=draw(st.none() | st.just("relative major")),
        notes=draw(st.just("") | words),
        roadmap=tuple(step for step in draw(st.lists(steps, max_size=3)) if step.section in names),
        sections=tuple(sections),
    )


@trials(60)
@given(charts())
def test_what_is_written_reads_as_the_same_music_and_writes_as_the_same_text(chart: Chart) -> None:
    text = write_chart(chart)
    again = read_chart(text)
    assert without_places(again) == without_places(chart)
    assert write_chart(again) == text


SCRAPS = (
    *("||", "|]", ":|", "|:", "x3", "1.", "2.", "1,2.", "D", "A7", "&G", "/", "%", "N.C.", "(hold)", "(segno)", "(b9)"),
    *("(", "words", "#", "Am(no3)", "&", "|", "| D |", "\n| A", "/ / /", "\nmelody = A", "\nwords", "\n== B ==\n| G"),
)
scraps = st.sampled_from(SCRAPS)


@settings(max_examples=400, deadline=None)
@given(st.lists(scraps, max_size=25).map(" ".join) | st.lists(scraps, max_size=25).map("".join))
def test_any_scrap_of_notation_is_told_off_or_read_and_written_faithfully(scrap: str) -> None:
    try:
        chart = read_chart(f"key = D\n== A ==\n| D {scrap}")
    except ChartError:
        return
    text = write_chart(chart)
    again = read_chart(text)
    assert without_places(again) == without_places(replace(chart, title="Untitled"))
    assert write_chart(again) == text


def rewritten(bars: str, header: str = "") -> str:
    return write_chart(read_chart(f"key = D\n{header}\n== A ==\n{bars}")).partition("== A ==\n")[2].rstrip("\n")


@pytest.mark.parametrize(
    ("written", "canonical"),
    [
        pytest.param("|D|A", "| D | A |", id="spaces and the last barline"),
        pytest.param("| D / A / |", "| D A |", id="even shares need no strokes"),
        pytest.param("| D / / / |", "| D |", id="a whole bar"),
        pytest.param("| D / / A |", "| D / / A |", id="uneven shares do"),
        pytest.param("| D | //// |", "| D | / / / / |", id="strokes"),
        pytest.param("| D | D |", "| D | D |", id="no percent unless written"),
        pytest.param("| D | % |", "| D | % |", id="percent"),
        pytest.param("| D &A G |", "| D &A G |", id="and in a shared bar"),
        pytest.param("| D / &A G / |", "| D &A G |", id="the same with strokes"),
        pytest.param("|: D :| x2 | A |", "|: D :| A |", id="twice goes without saying"),
        pytest.param("|: D :|x3|A|", "|: D :| x3 | A |", id="three times does not"),
        pytest.param("|: D :| |: A :|", "|: D :|: A :|", id="two repeats"),
        pytest.param("|: D :|] |: A :|", "|: D :|] |: A :|", id="two repeats, final bar between"),
        pytest.param("|: D | 1. A :| 2. G |]", "|: D |1. A :|2. G |]", id="endings"),
        pytest.param("| D(Fermata) (to  coda) |", "| D (hold) (to coda) |", id="marks in their first spelling"),
        pytest.param("| D (segno,fine) |", "| (segno) D (fine) |", id="signs where they act"),
        pytest.param("| D |\n   words\nMelody=A4\n| A |", "| D |\n  words\nmelody = A4\n| A |", id="words and melody"),
        pytest.param("| 1 | 6- |", "| D | Bm |", id="degrees become chords"),
        pytest.param("| F♯m | B♭ |", "| F#m | Bb |", id="plain accidentals"),
    ],
)
def test_canonical_bars(written: str, canonical: str) -> None:
    assert rewritten(written) == canonical
    assert rewritten(canonical) == canonical


@pytest.mark.parametrize(
    ("header", "canonical"),
    [
        pytest.param("tempo = 92", "tempo = quarter 92", id="bare tempo"),
        pytest.param("meter = 6/8\ntempo = 56", "tempo = dotted quarter 56", id="bare tempo in 6/8"),
        pytest.param("tempo = ♩ = 72.50", "tempo = quarter 72.5", id="decimal tempo"),
        pytest.param("meter = 6/8\ncount = eighth notes", "count = eighths", id="count"),
        pytest.param("pickup = quarter", "pickup = 1", id="pickup in beats"),
        pytest.param("pickup = 1/2", "pickup = eighth", id="pickup of a note"),
        pytest.param("pickup = 3/4", "pickup = dotted eighth", id="pickup of a dotted note"),
        pytest.param("meter = 6/8\npickup = two eighths", "pickup = quarter", id="pickup in 6/8"),
        pytest.param("pickup = 5/4", "pickup = 5/4", id="pickup of no note"),
        pytest.param("room = 2 s", "room = 2", id="room"),
    ],
)
def test_canonical_header(header: str, canonical: str) -> None:
    text = write_chart(read_chart(f"key = D\n{header}\n== A ==\n| D |"))
    assert canonical in [" ".join(line.split()) for line in text.splitlines()]


def test_bars_of_unknown_lines_stand_four_to_a_line() -> None:
    chart = without_places(read_chart("key = D\n== A ==\n| D | D | D | D | D | D | D | D | D |"))
    assert write_chart(chart).partition("== A ==\n")[2] == "| D | D | D | D |\n| D | D | D | D |\n| D |\n"


def test_a_lone_sharp_sign_never_becomes_a_comment() -> None:
    section = Section(name="A", bars=read_chart("key = D\n== A ==\n| D |").sections[0].bars)
    bars = (replace(section.bars[0], words=("# 1 of 2", "sung # again")),)
    chart = Chart(
        title="Song # 4",
        key=Key(Spelling("D")),
        meter=Meter(4, 4),
        tempo=Tempo(Fraction(1), 84.0),
        sections=(replace(section, bars=bars),),
    )
    again = read_chart(write_chart(chart))
    assert again.title == "Song ♯ 4"
    assert again.sections[0].bars[0].words == ("♯ 1 of 2", "sung ♯ again")


def test_chords_between_the_beats_cannot_be_written() -> None:
    chart = read_chart("key = D\n== A ==\n| D |")
    bar = chart.sections[0].bars[0]
    odd = replace(bar, changes=(*bar.changes, replace(bar.changes[0], offset=Fraction(1, 3))))
    with pytest.raises(ValueError, match="bar 1 has chords at 0, 1/3 quarter notes"):
        write_chart(replace(chart, sections=(replace(chart.sections[0], bars=(odd,)),)))
