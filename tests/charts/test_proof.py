"""Proofing: what is told, where, and how gravely; and that everything is told at once."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from charts.chart import Chart, Step
from charts.errors import Problem
from charts.notation import read_chart
from charts.proof import proof, proof_text


def chart_of(body: str, header: str = "key = D") -> Chart:
    return read_chart(f"{header}\n{body}", "quay.chart")


def only(found: tuple[Problem, ...]) -> Problem:
    assert len(found) == 1, [str(problem) for problem in found]
    return found[0]


CLEAN = {
    "a plain song": "== Verse ==\n| D | A |",
    "repeats and endings": "== Verse ==\n|: D |1. A :|2. G |: D :| x3",
    "a first ending alone": "== Verse ==\n|: D |1. A :| G |",
    "D.S. al coda": "== Verse ==\n| (segno) D (to coda) | A (D.S. al coda) | (coda) G |",
    "a section named Coda": "== Verse ==\n| D (to coda) | A (D.C. al coda) |\n== Coda ==\n| D |",
    "D.C. al fine": "== Verse ==\n| D (fine) | A (D.C. al fine) |",
    "a silent start": "== Verse ==\n| N.C. | D |",
    "vamp and tag": "== Verse ==\n| (vamp) D (end vamp) | (tag) A | D (end tag) |",
    "another meter half-way": "== Verse ==\n| D |\n== Bridge ==\nmeter = 6/8\ntempo = dotted quarter 60\n| G |",
    "a chord going on over the barline": "== Verse ==\n| D | / A / / |",
}


@pytest.mark.parametrize("body", CLEAN.values(), ids=CLEAN.keys())
def test_nothing_to_mend(body: str) -> None:
    assert proof(chart_of(body), feels=("waltz",)) == ()


ONE_FINDING = {
    "a repeat that never closes": ("== Verse ==\n| D |: A | G |", 3, 8, True, "never closes"),
    "an inner repeat that never closes": ("== Verse ==\n|: D |: A | G :|", 3, 4, True, "never closes"),
    "endings without a repeat": ("== Verse ==\n| D |1. A |2. G |", 3, 9, True, "without a repeat"),
    "an ending that does not go back": ("== Verse ==\n| D |1. A |2. G :|3. E |", 3, 9, True, "does not go back"),
    "an ending with nothing before it": ("== Verse ==\n|1. D :|2. A |", 3, 5, True, "no bars before it"),
    "no ending for the second time": ("== Verse ==\n| D |1. A :|3. G |", 3, 9, False, "no ending for time 2"),
    "two endings for one time": ("== Verse ==\n| D |1. A :|1,2. G |", 3, 18, False, "two endings for time 1"),
    "an ending for all times": ("== Verse ==\n| D |1,2. A :| G |", 3, 11, False, "all 2 times"),
    "D.S. without segno": ("== Verse ==\n| D | A (D.S.) |", 3, 7, True, "goes back to the segno"),
    "a segno behind the D.S.": ("== Verse ==\n| D | A (D.S.) | (segno) G |", 3, 7, True, "no bar before it"),
    "to coda without coda": ("== Verse ==\n| D (to coda) | A (D.C.) |", 3, 3, True, "no bar is marked (coda)"),
    "to coda without a jump": ("== Verse ==\n| D (to coda) | A |\n== Coda ==\n| D |", 3, 3, True, "only after"),
    "al coda without to coda": ("== Verse ==\n| D | A (D.C. al coda) |\n== Coda ==\n| D |", 3, 7, True, "(to coda)"),
    "al fine without fine": ("== Verse ==\n| D | A (D.C. al fine) |", 3, 7, True, "(fine)"),
    "fine without a jump": ("== Verse ==\n| D (fine) | A |", 3, 3, False, "passed over"),
    "a segno for nobody": ("== Verse ==\n| (segno) D | A |", 3, 3, False, "no D.S."),
    "a coda for nobody": ("== Verse ==\n| D | (coda) A |", 3, 7, False, "leads to it"),
    "a vamp without end": ("== Verse ==\n| D | (vamp) A |", 3, 7, True, "(end vamp)"),
    "a tag begun twice": ("== Verse ==\n| (tag) D | (tag) A (end tag) |", 3, 3, True, "before the next"),
    "an end of nothing": ("== Verse ==\n| D (end tag) | A |", 3, 3, True, "no (tag)"),
    "a section never played": (
        "== Roadmap ==\nVerse\n== Verse ==\n| D |\n== Bridge ==\n| G |",
        6,
        0,
        False,
        "Bridge is never played",
    ),
    "bars never played": (
        "== Verse ==\n| D (to coda) | A (D.C. al coda) | Bm | G | (coda) D |",
        3,
        36,
        False,
        "bar 3, bar 4: never played",
    ),
    "a pickup never played": (
        "pickup = 1\n== Roadmap ==\nChorus\nVerse\n== Verse ==\n| A | D |\n== Chorus ==\n| G |",
        7,
        3,
        False,
        "the pickup: never played",
    ),
    "many chords for two feet": ("== Verse ==\n| D A &Bm G D |", 3, 3, False, "5 chords"),
    "a sign where no chord is written": ("== Verse ==\n| D |: / A / / :|", 3, 8, False, "more than one place"),
    "a section in seven sharps": ("== Verse ==\nkey = C#\n| C# |", 3, 7, False, "7 sharps; D♭ major"),
    "a step lifted into eight flats or so": (
        "== Roadmap ==\nVerse up a half step\n== Verse ==\nkey = A#m\n| A#m |",
        5,
        7,
        False,
        "7 sharps; B♭ minor",
    ),
    "a tempo of the wrong note value": ("== Verse ==\ntempo = half 112\n| D |", 3, 9, False, "224 counted beats"),
    "a tempo for nobody": ("== Verse ==\ntempo = 30\n| D |", 3, 9, False, "30 counted beats"),
    "nothing but silence": ("== Verse ==\n| N.C. | % |", 0, 0, True, "no chord in the whole chart"),
    "an unknown feel": ("== Verse ==\nfeel = walz\n| D |", 3, 8, True, 'did you mean "waltz"?'),
    "an unknown feel in the roadmap": ("== Roadmap ==\nVerse feel polka\n== Verse ==\n| D |", 3, 7, True, "I can play"),
}


@pytest.mark.parametrize(("body", "line", "column", "serious", "words"), ONE_FINDING.values(), ids=ONE_FINDING.keys())
def test_one_finding(body: str, line: int, column: int, serious: bool, words: str) -> None:
    found = only(proof(chart_of(body), feels=("waltz", "half-time")))
    assert words in found.message
    assert (found.line, found.column, found.serious, found.source) == (line, column, serious, "quay.chart")


def test_feels_by_any_name_where_none_are_known() -> None:
    assert proof(chart_of("== Verse ==\nfeel = polka\n| D |")) == ()


def test_feels_are_known_with_capitals_or_without() -> None:
    assert proof(chart_of("== Verse ==\nfeel = Half-Time\n| D |"), feels=("half-time",)) == ()


@pytest.mark.parametrize(("header", "beats"), [("tempo = 40", 40), ("tempo = 160", 160), ("meter = 6/8", 56)])
def test_usual_tempos_are_not_worth_a_look(header: str, beats: int) -> None:
    """Limits 40 and 160: from memory. The default, quarter 84, is 56 dotted quarters."""
    assert proof(chart_of("== Verse ==\n| D |", f"key = D\n{header}")) == ()


# -- the pedalboard -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("pedals", [(36, 67), (36, 65), (36, 48)], ids=["32 notes", "30 notes", "13 notes"])
def test_every_pitch_class_is_on_a_board_of_an_octave_or_more(pedals: tuple[int, int]) -> None:
    body = "== Verse ==\n| C Db D Eb | E F F# G | Ab A Bb B |"
    assert proof(chart_of(body), pedals=pedals) == ()


def test_a_bass_off_a_short_board_is_told_once_with_its_first_place() -> None:
    """Eight keys from C: C to G."""
    found = proof(chart_of("== Verse ==\n| D | A | A/C# | Bb | A |"), pedals=(36, 43))
    assert [(problem.line, problem.column) for problem in found] == [(3, 7), (3, 18)]
    assert "no A in any octave" in found[0].message
    assert "no Bb in any octave" in found[1].message
    assert all(problem.serious for problem in found)


def test_a_lifted_step_needs_its_own_bass_notes() -> None:
    body = "== Roadmap ==\nVerse\nVerse up a tone\n== Verse ==\n| D | G |"
    found = only(proof(chart_of(body), pedals=(36, 43)))
    assert (found.line, "no A in any octave" in found.message) == (6, True)


# -- models that the reader would have refused ----------------------------------------------------------------------


def _first_bar_changed(**fields: object) -> Chart:
    chart = chart_of("== Verse ==\n| D A | G |")
    (verse,) = chart.sections
    first, *rest = verse.bars
    return replace(chart, sections=(replace(verse, bars=(replace(first, **fields), *rest)),))


def test_a_bar_too_long_for_its_meter() -> None:
    found = only(proof(_first_bar_changed(length=Fraction(5))))
    assert "Verse, bar 1 does not add up: found 5 quarter notes, and 4/4 has 4" in found.message
    assert (found.line, found.column, found.serious) == (3, 3, True)


def test_a_chord_outside_its_bar() -> None:
    chart = _first_bar_changed()
    changes = chart.sections[0].bars[0].changes
    found = only(proof(_first_bar_changed(changes=(changes[0], replace(changes[1], offset=Fraction(4))))))
    assert "outside" in found.message


def test_two_chords_in_one_place() -> None:
    chart = _first_bar_changed()
    changes = chart.sections[0].bars[0].changes
    found = only(proof(_first_bar_changed(changes=(changes[0], replace(changes[1], offset=Fraction(0))))))
    assert "same place" in found.message


def test_a_section_without_a_first_chord() -> None:
    found = only(proof(_first_bar_changed(changes=())))
    assert "Verse does not begin with a chord" in found.message
    assert found.serious


def test_a_step_that_names_no_section_is_told_once_and_once_only() -> None:
    chart = replace(chart_of("== Verse ==\n| D |"), roadmap=(Step(section="Verse"), Step(section="Chorus", line=9)))
    found = only(proof(chart))
    assert (found.line, found.serious) == (9, True)
    assert 'asks for "Chorus"' in found.message
    assert "Verse" in found.message


# -- all at once ----------------------------------------------------------------------------------------------------


def test_everything_is_told_at_once_in_order_of_place() -> None:
    body = (
        "tempo = 20\nfeel = polka\n== Roadmap ==\nVerse\nChorus\n"
        "== Verse ==\n|: D | A (D.S.) |\n== Chorus ==\n| G (vamp) |\n== Bridge ==\n| E (fine) |"
    )
    found = proof(chart_of(body), feels=("waltz",))
    assert [problem.line for problem in found] == sorted(problem.line for problem in found)
    words = ("20 counted beats", "polka", "never closes", "segno", "end vamp")
    assert all(any(word in problem.message for problem in found) for word in words)
    assert [problem.message for problem in found if not problem.serious and problem.line > 2] == [
        "Bridge is never played: the roadmap does not lead there"
    ]


def test_what_cannot_be_read_hides_nothing_else_that_is_wrong() -> None:
    text = "key = D\nfeel = polka\nmeter = 4/5\n== Verse ==\n| D Q | G (D.S.) |\n| A (end tag) |: D |\n"
    found = proof_text(text, "quay.chart", feels=("waltz",))
    assert [(problem.line, problem.column) for problem in found] == [(2, 8), (3, 9), (5, 5), (5, 9), (6, 3), (6, 18)]
    words = ("polka", "4/5", '"Q"', "segno", "no (tag)", "never closes")
    assert all(word in problem.message for word, problem in zip(words, found, strict=True))


def test_what_cannot_be_read_is_not_told_again_as_missing() -> None:
    """The first bar has no chord because its chord cannot be read."""
    found = only(proof_text("key = D\n== Verse ==\n| Q | G |", "quay.chart"))
    assert (found.line, found.column) == (3, 3)


def test_a_chart_as_text_is_proofed_as_the_chart_is() -> None:
    text = "key = D\n== Verse ==\n| D | A (D.S.) |"
    assert proof_text(text, "quay.chart") == proof(read_chart(text, "quay.chart"))
