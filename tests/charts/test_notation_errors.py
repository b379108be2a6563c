"""What is wrong with a chart is told all at once, each thing with its line and column, counted by hand from 1."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.errors import ChartError, Problem
from charts.notation import read_chart, read_chart_file


def problems(text: str) -> tuple[Problem, ...]:
    with pytest.raises(ChartError) as caught:
        read_chart(text, "quay.chart")
    return caught.value.problems


def only(text: str, line: int, column: int, *says: str) -> None:
    """The text has this one problem and no other."""
    found = [(problem.line, problem.column) for problem in problems(text)]
    assert found == [(line, column)]
    message = problems(text)[0].message
    for words in says:
        assert words in message


@pytest.mark.parametrize(
    ("header", "line", "column", "says"),
    [
        pytest.param("titel = X", 2, 1, ('"titel"', "title, key, meter, tempo, feel"), id="unknown name"),
        pytest.param("sub_title 2 = X", 2, 1, ('"sub_title 2"', "title, key"), id="unknown name, odd letters"),
        pytest.param("  titel = X", 2, 3, ('"titel"',), id="unknown name, indented"),
        pytest.param("key = G", 2, 1, ("already", "line 1"), id="stated twice"),
        pytest.param("meter = 4", 2, 9, ('"4"', "4/4"), id="meter"),
        pytest.param("meter = 4/5", 2, 9, ("4/5",), id="meter over five"),
        pytest.param("tempo = quick", 2, 9, ('"quick"', "quarter 92"), id="tempo in words"),
        pytest.param("tempo = semibrief 92", 2, 9, ('"semibrief"', "dotted quarter 56"), id="tempo of no note value"),
        pytest.param("tempo = 0", 2, 9, ('"0"', "1 to 999"), id="no tempo at all"),
        pytest.param("tempo =", 2, 8, ('"tempo" has no value',), id="no value"),
        pytest.param("pickup = 4", 2, 10, ('"4"', "less than a bar of 4/4"), id="pickup as long as a bar"),
        pytest.param("pickup = 0", 2, 10, ('"0"', "more than nothing"), id="no pickup"),
        pytest.param("pickup = some", 2, 10, ('"some"', "counted beats", "two eighths"), id="pickup"),
        pytest.param("count = eighths", 2, 9, ("4/4", "6/8"), id="nothing to count in eighths"),
        pytest.param("count = loudly", 2, 9, ('"loudly"', "eighths"), id="count"),
        pytest.param("lead = hands", 2, 8, ('"hands"', "feet, switch, pulse, drums, click"), id="lead"),
        pytest.param("patience = 3", 2, 12, ('"3"', "0, 1, 2, always"), id="patience"),
        pytest.param("room = huge", 2, 8, ('"huge"', "seconds"), id="room"),
        pytest.param("degrees = tonic minor", 2, 11, ("relative major",), id="degrees"),
        pytest.param("a line of words", 2, 1, ('"a line of words"', "header"), id="no name and value"),
        pytest.param("| D |", 2, 1, ("section",), id="bars in the header"),
    ],
)
def test_header(header: str, line: int, column: int, says: tuple[str, ...]) -> None:
    only(f"key = D\n{header}\n== A ==\n| D |", line, column, *says)


@pytest.mark.parametrize(
    ("text", "line", "column", "says"),
    [
        pytest.param("== A ==\n| D |", 0, 0, ("no key", "key = D"), id="no key"),
        pytest.param("key = H\n== A ==\n| D |", 1, 7, ('"H"', "F#m"), id="not a key"),
        pytest.param("key = D", 0, 0, ("no section",), id="no section"),
        pytest.param("key = D\n== A ==\n| D |\n== a ==\n| D |", 4, 1, ('"a"', "line 2"), id="section twice"),
        pytest.param("key = D\n == A ==\n| D |\n  == A ==\n| D |", 4, 3, ('"A"',), id="section twice, indented"),
        pytest.param("key = D\n== A\n| D |", 2, 1, ('"== A"', "double equals"), id="heading half written"),
        pytest.param("key = D\n== ==\n| D |", 2, 1, ("heading",), id="heading without a name"),
        pytest.param("key = D\n== A ==\n", 2, 1, ('"A" has no bars',), id="section without bars"),
        pytest.param("key = D\n== A ==\n|", 3, 1, ("no bar in this line",), id="a lone barline"),
        pytest.param("key = D\n== A ==\nwords\n| D |", 3, 1, ("below the bars",), id="words above all bars"),
        pytest.param("key = D\n== A ==\nmelody = A\n| D |", 3, 1, ("below the bars",), id="melody above all bars"),
        pytest.param(
            "key = D\n== A ==\nlead = feet\n| D |", 3, 1, ("key, meter, tempo, feel",), id="name in a section"
        ),
        pytest.param("key = D\n== A ==\n| D |\nkey = E", 4, 1, ("before the bars",), id="key below bars"),
        pytest.param("key = D\n== A ==\n| D |\nG | A |", 4, 1, ("begins with |",), id="first barline lost"),
        pytest.param("key = D\n== A ==\n|: D\n:| x2", 4, 1, ("begins with |",), id="repeat ends on its own line"),
    ],
)
def test_page(text: str, line: int, column: int, says: tuple[str, ...]) -> None:
    only(text, line, column, *says)


@pytest.mark.parametrize(
    ("meter", "bars", "column", "says"),
    [
        pytest.param("3/4", "| D A |", 3, ("2 chords", "3 beats of 3/4", "1 or 3", '"D / A"'), id="two in 3/4"),
        pytest.param("4/4", "| G | D A G |", 7, ("3 chords", "1, 2 or 4", '"D / A G"'), id="three in 4/4"),
        pytest.param("4/4", "| D A G D A |", 3, ("5 chords", "1, 2 or 4", "&"), id="five in 4/4"),
        pytest.param("6/8", "| D A G |", 3, ("3 chords", "2 beats of 6/8", "1 or 2"), id="three in 6/8"),
        pytest.param("12/8", "| D A G |", 3, ("3 chords", "1, 2 or 4"), id="three in 12/8"),
        pytest.param("5/4", "| D A |", 3, ("2 chords", "1 or 5"), id="two in 5/4"),
        pytest.param("4/4", "| D / / |", 3, ("found 3 beats", "4/4 has 4", "add 1"), id="a beat short"),
        pytest.param("4/4", "| D / / / / |", 3, ("found 5 beats", "4/4 has 4", "take away 1"), id="a beat long"),
        pytest.param("6/8", "| D / / |", 3, ("found 3 beats", "6/8 has 2"), id="6/8 counts two"),
        pytest.param("4/4", "| D | / |", 7, ("found 1 beat,", "add 3"), id="one stroke"),
        pytest.param("4/4", "| D | &A / / / |", 7, ("& needs a beat",), id="and without a beat"),
        pytest.param("4/4", "| D &A &G / / / |", 3, ("& needs a beat",), id="two on one and"),
        pytest.param("4/4", "| D | &A |", 7, ("& needs a beat",), id="and alone"),
        pytest.param("4/4", "| D / / / & |", 11, ("& wants a chord",), id="and without a chord"),
        pytest.param("4/4", "| / D / / |", 3, ("first chord", '"/"'), id="section begins with a stroke"),
        pytest.param("4/4", "| % | D |", 3, ("first chord", '"%"'), id="section begins with percent"),
        pytest.param("4/4", "| D | % A |", 7, ("stands alone",), id="percent with a chord"),
        pytest.param("4/4", "| D | | A |", 5, ("empty", "N.C."), id="empty bar"),
        pytest.param("4/4", "|: | D :|", 1, ("empty",), id="empty bar in a repeat"),
        pytest.param("4/4", "| D | (segno) |", 7, ("no chord in this bar",), id="bar with a sign alone"),
        pytest.param(
            "4/4", "| D | / / / / (hold) |", 15, ("(hold)", "write the chord again"), id="hold without a chord"
        ),
        pytest.param("4/4", "| D | / (hold) / A / |", 9, ("(hold)",), id="hold before the chord of its bar"),
        pytest.param("4/4", "| D | / / / / | % (hold) |", 17, ("(hold)",), id="hold on a copy without a chord"),
        pytest.param("4/4", "| D | (hold) / / A / |", 7, ("(hold)",), id="hold first, then strokes"),
        pytest.param("4/4", "| D (breth) |", 5, ('"(breth)"', "breath", "D.S. al coda"), id="unknown mark"),
        pytest.param("4/4", "| D(breth) |", 4, ('"(breth)"', "breath"), id="unknown mark, glued"),
        pytest.param("4/4", "| D (hold, brth) |", 5, ('"(brth)"',), id="one of two marks"),
        pytest.param("4/4", "| D (hold | A |", 5, ("parenthesis",), id="open parenthesis"),
        pytest.param("4/4", "| D hold) |", 5, (), id="word for a chord"),
        pytest.param("4/4", "| D :| x0", 8, ("1 or more",), id="repeat played no time"),
        pytest.param("4/4", "| D | x2", 7, (":| x2",), id="times without a repeat"),
        pytest.param("4/4", ":| D |", 1, (), id="line begins with a repeat's end"),
        pytest.param("4/4", "|: D |2,1. A :|", 7, ("2,1", "rising"), id="ending numbers fall"),
        pytest.param("4/4", "| D |0. A |", 6, ("0",), id="ending number nothing"),
        pytest.param("4/4", "| D |:", 5, ("no bar follows",), id="repeat begins at the end"),
    ],
)
def test_bars(meter: str, bars: str, column: int, says: tuple[str, ...]) -> None:
    found = problems(f"key = D\nmeter = {meter}\n== A ==\n{bars}")
    assert (found[0].line, found[0].column) == (4, column)
    for words in says:
        assert words in found[0].message


@pytest.mark.parametrize(
    ("bars", "column"),
    [
        pytest.param("| D | Cmaj77 |", 7, id="alone"),
        pytest.param("| D Hm |", 5, id="after another"),
        pytest.param("| D &Hm / / / |", 6, id="on the and: the chord's own column"),
        pytest.param("| D | A7(b8) |", 7, id="alteration"),
        pytest.param("| D | A7 (b8) (hold) |", 7, id="alteration, apart"),
        pytest.param("| D | Hm (b9) |", 7, id="told once, with an alteration apart"),
        pytest.param("| D | A/Hb (hold) |", 7, id="before a mark"),
        pytest.param("| F#m7 | \u00a0 X |", 12, id="after an odd space"),
    ],
)
def test_a_chord_that_cannot_be_read(bars: str, column: int) -> None:
    only(f"key = D\n== A ==\n{bars}", 3, column)


def test_percent_cannot_repeat_a_pickup() -> None:
    only("key = D\npickup = 1\n== A ==\n| A | % |", 4, 7, "pickup", "shorter")


def test_a_pickup_must_add_up_to_its_length() -> None:
    only("key = D\npickup = 1\n== A ==\n| A / | D |", 4, 3, "found 2 beats", "this pickup has 1")


def test_half_a_beat_has_no_strokes() -> None:
    only("key = D\npickup = eighth\n== A ==\n| A G | D |", 4, 3, "2 chords")


@pytest.mark.parametrize(
    ("step", "column", "says"),
    [
        pytest.param("Vers 1 twice", 1, ('"Vers 1"', 'did you mean "Verse 1"', "Chorus"), id="misspelt section"),
        pytest.param("  Coda", 3, ('"Coda"', "Verse 1, Chorus"), id="no such section"),
        pytest.param("Verse 10", 1, ('"Verse 10"',), id="a name that only begins like one"),
        pytest.param("Chorus loudly", 8, ('"loudly"', "fuller", "up or down", "manuals only"), id="unknown word"),
        pytest.param("Chorus x2, very loudly, wait", 12, ('"very loudly"',), id="unknown words in the middle"),
        pytest.param("Chorus up", 8, ('"up"', "a tone"), id="up how far"),
        pytest.param("Chorus up a bit", 8, ('"up a bit"',), id="up a bit"),
        pytest.param("Chorus feel", 8, ('"feel"', "its name"), id="feel without a name"),
        pytest.param("Chorus feel, wait", 8, ('"feel"',), id="feel without a name before a comma"),
        pytest.param("Chorus twice x3", 14, ('"x3"', "contradicts"), id="twice and three times"),
        pytest.param("Chorus x0", 8, ('"x0"',), id="not at all"),
        pytest.param("Chorus up two octaves", 8, ('"up two octaves"',), id="too far up"),
        pytest.param("| D |", 1, ("bars stand in a section",), id="bars in the roadmap"),
    ],
)
def test_roadmap(step: str, column: int, says: tuple[str, ...]) -> None:
    only(f"key = D\n== Roadmap ==\n{step}\n== Verse 1 ==\n| D |\n== Chorus ==\n| G |", 3, column, *says)


def test_everything_is_told_at_once_and_in_order() -> None:
    text = (
        "titel = x\nkey = D\nmeter = 3/4\n\n== Roadmap ==\nVers 1\n\n"
        "== Verse 1 ==\n| D A | Cmaj77 | G / |\n| D (hld) ||\n"
    )
    assert [(p.line, p.column) for p in problems(text)] == [(1, 1), (6, 1), (9, 3), (9, 9), (9, 18), (10, 5)]
    assert all(problem.serious and problem.source == "quay.chart" for problem in problems(text))


def test_a_bad_bar_is_told_once_however_often_it_is_copied() -> None:
    only("key = D\n== A ==\n| D | D / | % | % (hold) |", 3, 7, "found 2 beats")


@settings(max_examples=200, deadline=None)
@given(
    st.lists(
        st.text(max_size=12) | st.sampled_from(["\n", "| D |", "== A ==", "key = D", "(", "tempo = "]), max_size=12
    )
)
def test_no_text_whatever_breaks_the_reader(scraps: list[str]) -> None:
    try:
        read_chart("".join(scraps))
    except ChartError as error:
        lines = "".join(scraps).count("\n") + "".join(scraps).count("\r") + 1
        told = error.problems
        inside = all(0 <= problem.line <= lines for problem in told)
    else:
        told, inside = (), True
    assert inside
    assert list(told) == sorted(told, key=lambda problem: (problem.line, problem.column))


PROSE = "Here is a letter about the service.\nWe begin at ten.\nBring the blue folder.\n\nUntil then!\n"


@pytest.mark.parametrize(
    "text",
    [
        pytest.param(PROSE, id="a letter"),
        pytest.param("hello", id="a word"),
        pytest.param(PROSE * 3 + "key = D\n== Verse ==\n| D |", id="a letter with a chart in it"),
    ],
)
def test_what_is_no_chart_is_one_error_and_not_one_a_line(text: str) -> None:
    only(text, 1, 1, "this is no chart", "key = D", "== Verse 1 ==")


def test_a_title_written_plain_is_a_slip_in_a_chart() -> None:
    found = problems("Quay\n== Verse ==\n| D |")
    assert any('"Quay" is no line of the header' in problem.message for problem in found)


def test_a_file_that_is_not_text_is_one_error(tmp_path: Path) -> None:
    path = tmp_path / "sound.chart"
    path.write_bytes(b"RIFF\0\0\0\0WAVE\n" * 20)
    with pytest.raises(ChartError, match=r"sound\.chart: this is not a text file") as caught:
        read_chart_file(path)
    assert len(caught.value.problems) == 1


@pytest.mark.parametrize(
    ("text", "line", "says"),
    [
        ('title = "Sunday"\n\n[[items]]\nchart = "quay.chart"\n', 3, "this is a whole service, and no chart"),
        ('name = "House organ"\n[divisions.pedal]\nchannel = 4\n', 2, "this is a console profile, and no chart"),
        ('name = "quayside"\n[fullness]\n1 = { voices = 2 }\n', 2, "this is a feel, and no chart"),
    ],
)
def test_another_of_our_own_files_is_called_by_its_name(text: str, line: int, says: str) -> None:
    only(text, line, 1, says)
