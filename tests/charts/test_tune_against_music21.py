"""The tune reader against music21's reader of ABC, on tunes of the 18th and 19th century (public domain) from its corpus.

music21 lets an accidental hold for its own note only, where the ABC standard 2.1 has it hold for its letter to the bar's end
(from memory), and its directive for that does not reach a tuplet or a natural; it knows no broken rhythm behind a tie, and no
decoration in letters. So the tunes are those without, and in made-up bars either every note has an accidental or none. Grace
notes are left out on both sides.
"""

from __future__ import annotations

import re
from fractions import Fraction
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.key import read_key
from charts.melody import joined, melody
from charts.meter import read_meter
from charts.notation import read_chart
from charts.roadmap import unfold
from charts.tune import Tune

music21 = pytest.importorskip("music21")
CORPUS = Path(music21.__file__).parent / "corpus"
TUNES = [
    *[("airdsAirs/book1.abc", number) for number in (1, 2, 3, 4, 6, 9, 12, 20, 25, 31)],
    *[("oneills1850/0001-0050.abc", number) for number in (1, 2, 5, 7, 10, 11, 12)],
    *[("oneills1850/0101-0200.abc", number) for number in (101, 103, 104, 108, 109, 110)],
]

Sung = list[tuple[Fraction, Fraction, int]]
"""Position, length and key of every note."""


def by_music21(abc: str) -> Sung:
    score = music21.converter.parseData("%%propagate-accidentals pitch\n" + abc, format="abc")
    found = []
    for each in score.flatten().notes:
        if each.duration.isGrace or isinstance(each, music21.harmony.ChordSymbol):
            continue
        top = max(pitch.midi for pitch in each.pitches)
        found.append((Fraction(each.offset).limit_denominator(960), _length(each), top))
    return found


def _length(note: object) -> Fraction:
    return Fraction(note.duration.quarterLength).limit_denominator(960)  # type: ignore[attr-defined]


def by_us(body: str, key: str, meter: str, unit: str = "") -> Sung:
    tune = Tune(read_key(key), read_meter(meter))
    found, start = [], Fraction(0)
    for bar in tune.read((f"[L:{unit}]" if unit else "") + body):
        assert bar.length is not None
        found += [(start + note.offset, note.length, note.pitch) for note in bar.notes]
        start += bar.length
    return found


def tune_of(book: str, number: int) -> tuple[dict[str, str], str]:
    """The header fields and the body of one tune of a book."""
    text = (CORPUS / book).read_text(encoding="utf-8", errors="replace")
    block = next(part for part in re.split(r"\n(?=X:)", text) if re.match(rf"X:\s*0*{number}\b", part))
    lines = [line for line in block.splitlines() if line.strip() and not line.startswith("%")]
    end = next(index for index, line in enumerate(lines) if line.startswith("K:"))
    fields = {line[0]: line[2:].partition("%")[0].strip() for line in lines[: end + 1] if line[1:2] == ":"}
    body = [line for line in lines[end + 1 :] if not re.match(r"[A-Za-z]:(?![|:])", line)]
    return fields, "\n".join(body)


@pytest.mark.parametrize(("book", "number"), TUNES, ids=lambda value: str(value).partition("/")[0])
def test_old_tunes_are_read_alike(book: str, number: int) -> None:
    fields, body = tune_of(book, number)
    meter = {"C": "4/4", "C|": "2/2"}.get(fields["M"], fields["M"])
    header = "".join(f"{name}:{value}\n" for name, value in (("X", "1"), ("M", meter), ("K", fields["K"])))
    if "L" in fields:
        header = header.replace("K:", f"L:{fields['L']}\nK:")
    mine = by_us(f"[K:{fields['K']}]{body}", "C", meter, fields.get("L", ""))
    theirs = by_music21(header + body)
    assert len(mine) > 20
    assert mine == theirs


NAMES = st.sampled_from(["C", "D", "F", "G,", "B", "c", "f", "b", "d'", "e"])
LENGTHS = st.sampled_from(["", "2", "3", "/2", "/", "3/2", "//", "4"])
REST = LENGTHS.map(lambda length: f"z{length}")
CHORD = st.tuples(st.sampled_from(["[CEG]", "[Ac]", "[DFB]"]), LENGTHS).map("".join)


def bars_of(accidentals: list[str]) -> st.SearchStrategy[list[str]]:
    note = st.tuples(st.sampled_from(accidentals), NAMES, LENGTHS).map("".join)
    pair = st.tuples(note, st.sampled_from([">", "<", ">>", "<<"]), note).map("".join)
    triplet = st.lists(note, min_size=3, max_size=3).map(lambda notes: "(3" + "".join(notes))
    plain = [CHORD] if accidentals == [""] else []
    bar = st.lists(st.one_of(note, REST, pair, triplet, *plain), min_size=1, max_size=6).map(" ".join)
    return st.lists(bar, min_size=1, max_size=4)


@settings(max_examples=60, deadline=None)
@given(
    bars=st.one_of(bars_of([""]), bars_of(["^", "_", "="])),
    key=st.sampled_from(["C", "G", "D", "Bb", "Ab", "F#m", "Em", "Cm"]),
)
def test_made_up_bars_are_read_alike(bars: list[str], key: str) -> None:
    meter = "16/1"  # music21 divides a bar that is longer than its meter
    body = " | ".join(bars) + " |"
    assert by_us(body, key, meter) == by_music21(f"X:1\nM:{meter}\nK:{key}\n{body}\n")


def test_a_whole_chart_sings_what_music21_reads() -> None:
    # The opening of a dance tune (O'Neill, public domain) laid over bars of a chart, with its repeat played.
    fields, body = tune_of("oneills1850/0101-0200.abc", 101)
    bars = [bar for bar in re.split(r"[|:\]\[]+", body.replace("\n", "")) if len(bar.strip()) > 4][:4]
    meter = {"C": "4/4", "C|": "2/2"}.get(fields["M"], fields["M"])
    key = fields["K"]
    chart = read_chart(
        f"key = {key}\nmeter = {meter}\n== A ==\n|: {' | '.join(['C'] * 4)} :|\nmelody = {'|'.join(bars)}"
    )
    sung = [(note.position, note.length, note.pitch) for note in joined(melody(unfold(chart)))]
    once = by_music21(f"X:1\nM:{meter}\nL:1/8\nK:{key}\n{'|'.join(bars)}|\n")
    length = unfold(chart).length / 2
    assert sung == once + [(at + length, value, key_) for at, value, key_ in once]
