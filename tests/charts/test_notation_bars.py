"""Bars: where chords fall, barlines, repeats, endings, ``%`` and marks.

Positions are quarter notes from the start of the bar, counted by hand. How many beats a meter counts is stated in the
notation; sharing a bar evenly, ``%`` and endings are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.chart import Bar
from charts.chord import NO_CHORD
from charts.notation import read_chart


def bars(text: str, header: str = "") -> tuple[Bar, ...]:
    return read_chart(f"key = D\n{header}\n== A ==\n{text}").sections[0].bars


def places(bar: Bar) -> list[str]:
    return [f"{change.chord.symbol} {change.offset}" for change in bar.changes]


@pytest.mark.parametrize(
    ("meter", "bar", "expected"),
    [
        pytest.param("4/4", "D", ["D 0"], id="4/4, one"),
        pytest.param("4/4", "D A", ["D 0", "A 2"], id="4/4, two"),
        pytest.param("4/4", "D A G A", ["D 0", "A 1", "G 2", "A 3"], id="4/4, four"),
        pytest.param("4/4", "D / A /", ["D 0", "A 2"], id="4/4, strokes"),
        pytest.param("4/4", "D / / A", ["D 0", "A 3"], id="4/4, three and one"),
        pytest.param("4/4", "D A / /", ["D 0", "A 1"], id="4/4, one and three"),
        pytest.param("4/4", "D ///", ["D 0"], id="4/4, strokes in one"),
        pytest.param("3/4", "D", ["D 0"], id="3/4, one"),
        pytest.param("3/4", "D A G", ["D 0", "A 1", "G 2"], id="3/4, three"),
        pytest.param("3/4", "D / A", ["D 0", "A 2"], id="3/4, two and one"),
        pytest.param("2/2", "D A", ["D 0", "A 2"], id="2/2, two"),
        pytest.param("2/2", "D /", ["D 0"], id="2/2, strokes are halves"),
        pytest.param("2/4", "D A", ["D 0", "A 1"], id="2/4, two"),
        pytest.param("4/2", "D A G A", ["D 0", "A 2", "G 4", "A 6"], id="4/2, four"),
        pytest.param("6/8", "D A", ["D 0", "A 3/2"], id="6/8, two"),
        pytest.param("6/8", "D /", ["D 0"], id="6/8, strokes are dotted quarters"),
        pytest.param("9/8", "D A G", ["D 0", "A 3/2", "G 3"], id="9/8, three"),
        pytest.param("9/8", "D / A", ["D 0", "A 3"], id="9/8, two and one"),
        pytest.param("12/8", "D A", ["D 0", "A 3"], id="12/8, two"),
        pytest.param("12/8", "D A G A", ["D 0", "A 3/2", "G 3", "A 9/2"], id="12/8, four"),
        pytest.param("5/4", "D A G A D", ["D 0", "A 1", "G 2", "A 3", "D 4"], id="5/4, five"),
        pytest.param("5/4", "D / / A /", ["D 0", "A 3"], id="5/4, three and two"),
        pytest.param("6/8\ncount = eighths", "D A", ["D 0", "A 3/2"], id="6/8 in six, two"),
        pytest.param("6/8\ncount = eighths", "D A G", ["D 0", "A 1", "G 2"], id="6/8 in six, three"),
        pytest.param("6/8\ncount = eighths", "D / / / A /", ["D 0", "A 2"], id="6/8 in six, strokes are eighths"),
    ],
)
def test_chords_fall_on_counted_beats(meter: str, bar: str, expected: list[str]) -> None:
    assert places(bars(f"| {bar} |", f"meter = {meter}")[0]) == expected


@pytest.mark.parametrize(
    ("meter", "bar", "expected"),
    [
        pytest.param("4/4", "G &A / / /", ["G 0", "A 1/2"], id="and of 1"),
        pytest.param("4/4", "G / &A / /", ["G 0", "A 3/2"], id="and of 2"),
        pytest.param("4/4", "G / / / &A", ["G 0", "A 7/2"], id="and of 4"),
        pytest.param("4/4", "G / & A / /", ["G 0", "A 3/2"], id="a space after the sign"),
        pytest.param("4/4", "G &A D /  /", ["G 0", "A 1/2", "D 1"], id="two in a beat"),
        pytest.param("4/4", "G &A D &E / &F#m /", ["G 0", "A 1/2", "D 1", "E 3/2", "F#m 5/2"], id="many"),
        pytest.param("4/4", "D &A G", ["D 0", "A 3/2", "G 2"], id="sharing: the last of its beats"),
        pytest.param("4/4", "D &A", ["D 0", "A 7/2"], id="whole bar: and of 4"),
        pytest.param("3/4", "D &A G D", ["D 0", "A 1/2", "G 1", "D 2"], id="3/4"),
        pytest.param("2/2", "D &A /", ["D 0", "A 1"], id="2/2, half of a half"),
        pytest.param("6/8", "D &A /", ["D 0", "A 1"], id="6/8, third eighth"),
        pytest.param("6/8", "D / &A", ["D 0", "A 5/2"], id="6/8, sixth eighth"),
        pytest.param("6/8\ncount = eighths", "D &A / / / / /", ["D 0", "A 1/4"], id="6/8 in six, half an eighth"),
    ],
)
def test_a_chord_on_the_and(meter: str, bar: str, expected: list[str]) -> None:
    assert places(bars(f"| {bar} |", f"meter = {meter}")[0]) == expected


def test_a_bar_may_begin_with_the_chord_going_on() -> None:
    _, second, third, fourth = bars("| D | / / A / | / / / / | / &G / / / |")
    assert places(second) == ["A 2"]
    assert third.changes == ()
    assert places(fourth) == ["G 1/2"]


def test_a_chord_written_again_is_another_change() -> None:
    assert places(bars("| D D |")[0]) == ["D 0", "D 2"]


def test_no_chord_is_a_change() -> None:
    bar = bars("| D | N.C. | A |")[1]
    assert [change.chord for change in bar.changes] == [NO_CHORD]


def test_percent_copies_the_changes_and_their_marks() -> None:
    first, second, third = bars("| D (push) A | % | % (hold) |")
    assert places(second) == places(third) == places(first)
    assert [bar.copies for bar in (first, second, third)] == [False, True, True]
    assert [change.marks for change in second.changes] == [("push",), ()]
    assert [change.marks for change in third.changes] == [("push",), ("hold",)]
    assert [(change.line, change.column) for change in second.changes] == [(4, 16), (4, 16)]


def test_percent_copies_no_signs_of_the_roadmap() -> None:
    assert [bar.marks for bar in bars("| D (segno) | % | % (fine) |")] == [("segno",), (), ("fine",)]


def signs(bar: Bar) -> tuple[bool, int, tuple[int, ...], tuple[int, ...], str]:
    return bar.opens_repeat, bar.closes_repeat, bar.endings, bar.in_endings, bar.barline


PLAIN = (False, 0, (), (), "|")


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        pytest.param("| D | A ||", [PLAIN, (False, 0, (), (), "||")], id="double bar"),
        pytest.param("| D | A |]", [PLAIN, (False, 0, (), (), "|]")], id="final bar"),
        pytest.param("|D|A", [PLAIN, PLAIN], id="last barline left out"),
        pytest.param("| D ||\n| A |", [(False, 0, (), (), "||"), PLAIN], id="double bar at the end of a line"),
        pytest.param("| D |\n|| A |", [(False, 0, (), (), "||"), PLAIN], id="double bar at the start of a line"),
        pytest.param("|: D :|", [(True, 2, (), (), "|")], id="repeat"),
        pytest.param("|: D :|x3", [(True, 3, (), (), "|")], id="glued number of times"),
        pytest.param("|: D :| x2", [(True, 2, (), (), "|")], id="number of times"),
        pytest.param("|: D :| ×4 | A |", [(True, 4, (), (), "|"), PLAIN], id="number of times in mid-line"),
        pytest.param("|: D :|]", [(True, 2, (), (), "|]")], id="repeat before the final bar"),
        pytest.param("| D :|", [(False, 2, (), (), "|")], id="repeat from the start"),
        pytest.param("| D |: A :| G |", [PLAIN, (True, 2, (), (), "|"), PLAIN], id="repeat in mid-line"),
        pytest.param("|: D :|: A :|", [(True, 2, (), (), "|"), (True, 2, (), (), "|")], id="double repeat"),
        pytest.param("|: D :||: A :|", [(True, 2, (), (), "||"), (True, 2, (), (), "|")], id="double repeat, thick"),
        pytest.param("|: D :| x3 |: A :|", [(True, 3, (), (), "|"), (True, 2, (), (), "|")], id="x3, then a repeat"),
        pytest.param(
            "|: D :|\n|: A :|", [(True, 2, (), (), "|"), (True, 2, (), (), "|")], id="double repeat over lines"
        ),
        pytest.param("| D ||: A :|", [(False, 0, (), (), "||"), (True, 2, (), (), "|")], id="double bar and repeat"),
        pytest.param("| D || |: A :|", [(False, 0, (), (), "||"), (True, 2, (), (), "|")], id="the same, apart"),
        pytest.param(
            "|:D|1.A:|2.G||",
            [(True, 0, (), (), "|"), (False, 2, (1,), (1,), "|"), (False, 0, (2,), (2,), "||")],
            id="endings without spaces",
        ),
        pytest.param(
            "|: D |1. A :|2. G ||",
            [(True, 0, (), (), "|"), (False, 2, (1,), (1,), "|"), (False, 0, (2,), (2,), "||")],
            id="endings",
        ),
        pytest.param(
            "|: D |1. A | E :|\n|2. G | D || A |",
            [
                (True, 0, (), (), "|"),
                (False, 0, (1,), (1,), "|"),
                (False, 2, (), (1,), "|"),
                (False, 0, (2,), (2,), "|"),
                (False, 0, (), (2,), "||"),
                PLAIN,
            ],
            id="endings of two bars, over lines",
        ),
        pytest.param(
            "|: D |1,2. A :|3. G |]",
            [(True, 0, (), (), "|"), (False, 3, (1, 2), (1, 2), "|"), (False, 0, (3,), (3,), "|]")],
            id="an ending for two times",
        ),
        pytest.param(
            "|: D | 1-3. A :| 4. G |]",
            [(True, 0, (), (), "|"), (False, 4, (1, 2, 3), (1, 2, 3), "|"), (False, 0, (4,), (4,), "|]")],
            id="an ending for three times, apart",
        ),
        pytest.param(
            "|: D |: A :| G :|",
            [(True, 0, (), (), "|"), (True, 2, (), (), "|"), (False, 2, (), (), "|")],
            id="repeat inside a repeat",
        ),
    ],
)
def test_barlines(text: str, expected: list[tuple[object, ...]]) -> None:
    assert [signs(bar) for bar in bars(text)] == expected


@pytest.mark.parametrize(
    ("text", "change_marks", "bar_marks"),
    [
        pytest.param("D (hold)", ("hold",), (), id="spaced"),
        pytest.param("D(hold)", ("hold",), (), id="glued"),
        pytest.param("D (Fermata)", ("hold",), (), id="fermata"),
        pytest.param("D (breath, rit.)", ("breath", "rit."), (), id="two in one"),
        pytest.param("D (rit.) (breath)", ("breath", "rit."), (), id="two in a row, in order of the table"),
        pytest.param("D (Rall)", ("rit.",), (), id="rallentando"),
        pytest.param("D (a tempo)", ("a tempo",), (), id="a tempo"),
        pytest.param("D / / / (breath)", ("breath",), (), id="after strokes"),
        pytest.param("(rit.) D", ("rit.",), (), id="before the first chord"),
        pytest.param("D (ped. pt.)", ("ped. pt.",), (), id="pedal point"),
        pytest.param("D (Pedal point)", ("ped. pt.",), (), id="pedal point in full"),
        pytest.param("D (push,walk;late)", ("push", "late", "walk"), (), id="other separators"),
        pytest.param("D (tacet) (break)", ("tacet", "break"), (), id="tacet and break"),
        pytest.param("(segno) D", (), ("segno",), id="segno before"),
        pytest.param("D (segno)", (), ("segno",), id="segno after"),
        pytest.param("D (To Coda)", (), ("to coda",), id="to coda"),
        pytest.param("D(to coda)", (), ("to coda",), id="to coda glued"),
        pytest.param("D (D.S. al Coda)", (), ("D.S. al coda",), id="D.S. al coda"),
        pytest.param("D (ds al fine)", (), ("D.S. al fine",), id="ds al fine"),
        pytest.param("D (D.C.)", (), ("D.C.",), id="D.C."),
        pytest.param("D (D. C. al Fine)", (), ("D.C. al fine",), id="D.C. al fine, spaced"),
        pytest.param("D (𝄐)", ("hold",), (), id="printed sign"),
        pytest.param("(vamp) D (end vamp)", (), ("vamp", "end vamp"), id="vamp"),
        pytest.param("D (tag end)", (), ("end tag",), id="tag end"),
        pytest.param("D (hold, fine)", ("hold",), ("fine",), id="chord and bar"),
    ],
)
def test_marks(text: str, change_marks: tuple[str, ...], bar_marks: tuple[str, ...]) -> None:
    bar = bars(f"| {text} |")[0]
    assert bar.changes[0].chord.symbol == "D"
    assert bar.changes[0].marks == change_marks
    assert bar.marks == bar_marks


def test_marks_belong_to_the_chord_they_follow() -> None:
    bar = bars("| D / (breath) A (push) / |")[0]
    assert [change.marks for change in bar.changes] == [("breath",), ("push",)]


@pytest.mark.parametrize(
    "text", ["A7(b9)", "A7 (b9)", "A7(♭9)", "A7(b9)(hold)", "A7 (hold) ", "G(no3)/B", "G (no3)", "C7 (alt)"]
)
def test_parentheses_that_are_no_marks_belong_to_the_chord(text: str) -> None:
    bar = bars(f"| {text} |")[0]
    plain = text.replace("(hold)", "").replace(" ", "")
    assert bar.changes[0].chord == bars(f"| {plain} |")[0].changes[0].chord
    assert bar.changes[0].marks == (("hold",) if "hold" in text else ())


def test_a_bar_knows_where_its_first_symbol_stands() -> None:
    assert [(bar.line, bar.column) for bar in bars("|D|   (segno) A |\n|  % |")] == [(4, 2), (4, 7), (5, 4)]


def test_bars_count_from_1_in_every_section() -> None:
    chart = read_chart("key = D\n== A ==\n| D | G |\n| A |\n== B ==\n| D |")
    assert [[bar.number for bar in section.bars] for section in chart.sections] == [[1, 2, 3], [1]]


def test_a_section_keeps_its_own_meter_in_every_bar() -> None:
    bar = bars("meter = 5/4\n| D |\n")[0]
    assert (bar.meter.name, bar.length) == ("5/4", Fraction(5))
