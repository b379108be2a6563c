"""Reading back an export gives the same music: bars, chords, tune, keys, tempi, and the words."""

from __future__ import annotations

import re
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import importing_trips
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.chart import BREATH, CODA, HOLD, SEGNO, TO_CODA, Bar, Change, Chart, Section, Step, Tempo
from charts.chord import Chord, read_chord
from charts.exchange.charting import chart_of
from charts.exchange.door import read_sheets, sheets_of
from charts.exchange.outlets import WRITERS, exported
from charts.exchange.tune_text import bar_text, usual_unit
from charts.key import Key, read_key
from charts.marks import in_order
from charts.meter import Meter
from charts.notation import read_chart, read_chart_file, write_chart
from charts.pitch import NATURAL, Spelling
from charts.tune import Tune, TuneNote
from tests.trials import trials

DEMO = sorted((Path(__file__).parents[3] / "demo_charts").glob("*.chart"))
EXACT = [suffix for suffix in WRITERS if suffix != ".txt"]


def _back(chart: Chart, suffix: str) -> Chart:
    data, _ = exported(chart, suffix)
    (sheet,) = sheets_of(data, f"song{suffix}", suffix)
    made = chart_of(sheet)
    assert not [str(remark) for remark in made.remarks if remark.lost]
    return made.chart


@pytest.mark.parametrize("suffix", EXACT)
@pytest.mark.parametrize("path", DEMO, ids=lambda path: path.stem)
def test_the_demo_songs_come_back_the_same(path: Path, suffix: str, music: Any) -> None:
    chart = read_chart_file(path)
    assert music(_back(chart, suffix)) == music(chart)


@pytest.mark.parametrize("path", [path for path in DEMO if "baker" not in path.stem], ids=lambda path: path.stem)
def test_words_and_chords_come_back_in_order(path: Path, music: Any) -> None:
    # A song with a pickup is left out: a page without bars cannot tell one.
    chart = read_chart_file(path)
    before, after = music(chart), music(_back(chart, ".txt"))
    assert [symbol for _, symbol, _ in after["chords"]] == [symbol for _, symbol, _ in before["chords"]]
    assert after["words"] == before["words"]


# -- charts that nobody wrote -----------------------------------------------------------------------------------------

METERS = [Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(2, 2), Meter(5, 4), Meter(9, 8)]
SYMBOLS = ["C", "F#m7", "Bb7(b9)", "G/B", "Ebmaj7", "Asus4", "D6/9", "E7(#5,#9)", "N.C.", "Cm7b5/Gb", "A13", "Dm(maj7)"]
MARKS: list[tuple[str, ...]] = [(), (), (), (HOLD,), (BREATH,), ("rit.",), ("push",), (HOLD, "rit.")]
WORDS = [
    "light,",
    "and",
    "lan-terns",
    "a_b",
    "*",
    "~",
    "100%",
    "don’t",
    "Frühe",
    "\\-",
    "(soft)",
    "-",
    "&amp;",
    "no.2",
]
JUMPS: list[list[tuple[tuple[str, ...], tuple[str, ...]]]] = [
    [((), ()), ((), ("fine",)), ((), ("D.C. al fine",))],
    [((SEGNO,), ()), ((), ("fine",)), ((), ("D.S. al fine",))],
    [((SEGNO,), (TO_CODA,)), ((), ("D.S. al coda",)), ((CODA,), ())],
]
"""For each section the marks of its first and its last bar."""
LENGTHS = [Fraction(1, 4), Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(1, 3), Fraction(2)]


@st.composite
def tunes(draw: st.DrawFn, length: Fraction) -> tuple[TuneNote, ...]:
    """Notes and rests that fit a bar."""
    notes: list[TuneNote] = []
    now = Fraction(0)
    while now < length and len(notes) < 8:
        value = min(draw(st.sampled_from(LENGTHS)), length - now)
        if draw(st.integers(0, 5)):
            spelling = Spelling(draw(st.sampled_from("CDEFGAB")), draw(st.integers(-1, 1)))
            pitch = 60 + NATURAL[spelling.letter] + spelling.alter + 12 * draw(st.integers(0, 1))
            notes.append(TuneNote(offset=now, length=value, spelling=spelling, pitch=pitch, ties=False))
        now += value
    return tuple(notes)


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    """A chart of a few sections with tune, words, repeats, endings, changes of meter, and perhaps jumps or a roadmap."""
    meter = draw(st.sampled_from(METERS))
    key = read_key(draw(st.sampled_from(["C", "Eb", "F#m", "B", "Dm"])))
    with_tune = draw(st.booleans())
    sections = [
        _section(
            draw,
            name,
            draw(st.sampled_from([meter, meter, meter, *METERS])),
            key if draw(st.booleans()) else read_key("G"),
            with_tune,
        )
        for name in draw(st.sampled_from([["Verse"], ["Verse", "Chorus"], ["Intro", "Verse 1", "Ending"]]))
    ]
    sections = [replace(each, meter=each.bars[0].meter) for each in sections]
    jumps = draw(st.sampled_from([None, None, *JUMPS]))
    if jumps and len(sections) == 3:
        sections = [_marked(section, *marks) for section, marks in zip(sections, jumps, strict=True)]
    pickup = Fraction(0)
    if draw(st.booleans()) and not sections[0].bars[0].opens_repeat and not with_tune:
        pickup = meter.counted_beat
        short = Bar(number=0, length=pickup, meter=sections[0].bars[0].meter, changes=(_first(draw),), line=1)
        sections[0] = replace(sections[0], bars=(short, *sections[0].bars))
    steps = []
    if not jumps and draw(st.booleans()):
        names = draw(st.lists(st.sampled_from([section.name for section in sections]), min_size=1, max_size=4))
        steps = [Step(section=name, up=draw(st.sampled_from([0, 0, 2]))) for name in names]
    chart = Chart(
        title="Any Song",
        key=key,
        meter=meter,
        tempo=Tempo(meter.counted_beat, float(draw(st.integers(50, 140)))),
        pickup=pickup,
        sections=tuple(sections),
        roadmap=tuple(steps),
    )
    return read_chart(write_chart(chart))


def _section(draw: st.DrawFn, name: str, meter: Meter, key: Key, with_tune: bool) -> Section:
    count = draw(st.integers(2, 4))
    repeat = draw(st.sampled_from(["", "whole", "three times", "endings"]))
    bars = []
    for index in range(count):
        places = [index_ * meter.counted_beat for index_ in range(meter.counted_beats)]
        chosen = sorted(draw(st.sets(st.sampled_from(places), min_size=0 if index else 1, max_size=3)))
        if not index:
            chosen = sorted({Fraction(0), *chosen})
        bars.append(
            Bar(
                number=index + 1,
                length=meter.bar_length,
                meter=meter,
                changes=tuple(
                    Change(offset=at, chord=_chord(draw), marks=draw(st.sampled_from(MARKS)) if with_tune else ())
                    for at in chosen
                ),
                opens_repeat=bool(repeat) and index == 0,
                closes_repeat={"whole": 2, "three times": 3}.get(repeat, 0) if index == count - 1 else 0,
                line=1,
            )
        )
    if repeat == "endings":
        first, last = bars[-2], bars[-1]
        if count > 2:
            bars[-2] = replace(first, endings=(1,), in_endings=(1,), closes_repeat=2)
            bars[-1] = replace(last, endings=(2,), in_endings=(2,), barline="||")
        else:
            bars[-1] = replace(last, closes_repeat=2)
    if with_tune:
        unit = usual_unit(meter)
        text = " | ".join(bar_text(draw(tunes(bar.length)), bar.length, key, unit) for bar in bars)
        bars[0] = replace(bars[0], melody=text)
    verses = draw(st.lists(st.lists(st.sampled_from(WORDS), min_size=1, max_size=9), max_size=2))
    bars[0] = replace(bars[0], words=tuple(map(" ".join, verses)))
    return Section(name=name, key=key, bars=tuple(bars))


def _first(draw: st.DrawFn) -> Change:
    return Change(offset=Fraction(0), chord=_chord(draw))


def _marked(section: Section, first: tuple[str, ...], last: tuple[str, ...]) -> Section:
    """The section with marks at its first and its last bar."""
    bars = [replace(bar, closes_repeat=0, opens_repeat=False, endings=(), in_endings=()) for bar in section.bars]
    bars[0] = replace(bars[0], marks=first)
    bars[-1] = replace(bars[-1], marks=in_order((*bars[-1].marks, *last)))
    return replace(section, bars=tuple(bars))


def _chord(draw: st.DrawFn) -> Chord:
    return read_chord(draw(st.sampled_from(SYMBOLS)))


@trials(40)
@given(charts(), st.sampled_from([".musicxml", ".abc"]))
def test_any_chart_comes_back_the_same(chart: Chart, suffix: str) -> None:
    before, after = (importing_trips.music(each) for each in (chart, _back(chart, suffix)))
    assert {what: after.get(what) for what in before} == before


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(METERS).flatmap(lambda meter: st.tuples(st.just(meter), tunes(meter.bar_length))))
def test_a_bar_of_tune_is_read_as_it_was_written(given_: tuple[Meter, tuple[TuneNote, ...]]) -> None:
    meter, notes = given_
    key = read_key("Eb")
    text = bar_text(notes, meter.bar_length, key, usual_unit(meter))
    (bar,) = Tune(key, meter).read(text)
    assert (bar.notes, bar.length) == (notes, meter.bar_length)


def test_the_corpus_lead_sheets_go_through_every_format(music21_folder: Path, music: Any) -> None:
    for path in (music21_folder / "corpus" / "leadSheet").glob("*.mxl"):
        chart = chart_of(read_sheets(path)[0]).chart
        for suffix in EXACT:
            assert music(_back(chart, suffix)) == music(chart), (path.name, suffix)


SUNG = """title = Lan-terns
key   = C
meter = 4/4

== Verse ==
| C / F / | C |
  Lan-terns burn low
  Fair wind is slow
melody = C4- C2 D2- | D2 E2 F4 |
"""


def test_syllables_stand_at_the_notes_that_begin_to_sound() -> None:
    chart = read_chart(SUNG)
    text = exported(chart, ".musicxml")[0].decode()
    syllables = re.findall(r"<syllabic>(\w+)</syllabic>\s*<text>([^<]*)", text)
    assert syllables[:4] == [("begin", "Lan"), ("single", "Fair"), ("end", "terns"), ("single", "wind")]
    abc = exported(chart, ".abc")[0].decode()
    assert "w:Lan_-terns_ burn low" in abc
    held = read_chart(SUNG.replace("F4 |", "F4- |") + "| C |\n  on\nmelody = F8 |\n")
    assert "on</text>" in exported(held, ".musicxml")[0].decode()
    for suffix in EXACT:
        assert _back(chart, suffix).sections[0].bars[0].words == chart.sections[0].bars[0].words
