"""Unfolding the roadmap. Expected orders are counted by hand; what a sign means is common practice, no source."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, reject
from hypothesis import strategies as st

from charts.errors import ChartError
from charts.notation import read_chart, write_chart
from charts.proof import proof
from charts.roadmap import LONGEST, unfold
from charts.route import Route


def route_of(body: str, header: str = "key = D") -> Route:
    return unfold(read_chart(f"{header}\n{body}"))


def order(route: Route) -> str:
    """``V1 V2 C1``: the first letter of the section and the written bar."""
    return " ".join(f"{bar.section[0]}{bar.number}" for bar in route.bars)


def times(route: Route) -> list[int]:
    return [bar.time for bar in route.bars]


def section(bars: str) -> Route:
    return route_of(f"== Verse ==\n{bars}")


REPEATS = {
    "no repeat": ("| D | A | G |", "1 2 3", "1 1 1"),
    "a repeat": ("|: D | A :| G |", "1 2 1 2 3", "1 1 2 2 1"),
    "no opening sign": ("| D | A :| G |", "1 2 1 2 3", "1 1 2 2 1"),
    "no opening sign, after a repeat": ("|: D :| A | G :| D |", "1 1 2 3 2 3 4", "1 2 1 1 2 2 1"),
    "once only": ("|: D | A :| x1 G |", "1 2 3", "1 1 1"),
    "four times": ("|: D :| x4 G |", "1 1 1 1 2", "1 2 3 4 1"),
    "never closed": ("| D |: A | G |", "1 2 3", "1 1 1"),
    "two endings": ("|: D |1. A :|2. G | D |", "1 2 1 3 4", "1 1 2 2 2"),
    "the second ending ends at a double bar": ("|: D |1. A :|2. G || D |", "1 2 1 3 4", "1 1 2 2 1"),
    "the second ending closes from habit": ("|: D |1. A :|2. G :| D |", "1 2 1 3 4", "1 1 2 2 1"),
    "a first ending alone": ("|: D |1. A :| G |", "1 2 1 3", "1 1 2 1"),
    "a first ending alone, three times": ("|: D |1. A :| x3 G |", "1 2 1 2 1 3", "1 1 2 2 3 1"),
    "an ending for two times": ("|: D |1,2. A :|3. G |", "1 2 1 2 1 3", "1 1 2 2 3 3"),
    "endings in turn": ("|: D |1,3. A :|2,4. G :| D |", "1 2 1 3 1 2 1 3 4", "1 1 2 2 3 3 4 4 1"),
    "oftener than endings are numbered": ("|: D |1. A :| x4 |2. G |", "1 2 1 2 1 2 1 3", "1 1 2 2 3 3 4 4"),
    "three endings, five times": (
        "|: D |1. A :|2. E :| x5 |3. G |",
        "1 2 1 3 1 3 1 3 1 4",
        "1 1 2 2 3 3 4 4 5 5",
    ),
    "endings without an opening sign": ("| D |1. A :|2. G |", "1 2 1 3", "1 1 2 2"),
    "a repeat right behind the endings": ("|: D |1. A :|2. G |: E :| D |", "1 2 1 3 4 4 5", "1 1 2 2 1 2 1"),
    "a repeat inside a repeat": ("|: D |: A :| x3 G :| D |", "1 2 2 2 3 1 2 2 2 3 4", "1 1 2 3 1 2 1 2 3 2 1"),
    "the outer repeat ends the section": ("|: D |: A :| G :|", "1 2 2 3 1 2 2 3", "1 1 2 1 2 1 2 2"),
    "inner endings, outer repeat": (
        "|: D |: A |1. E :|2. Bm || G :|",
        "1 2 3 2 4 5 1 2 3 2 4 5",
        "1 1 1 2 2 1 2 1 1 2 2 2",
    ),
    "inner repeat, outer endings": ("|: D |: A :| E |1. G :|2. D |", "1 2 2 3 4 1 2 2 3 5", "1 1 2 1 1 2 1 2 2 2"),
}


@pytest.mark.parametrize(("bars", "numbers", "rounds"), REPEATS.values(), ids=REPEATS.keys())
def test_repeats_and_endings(bars: str, numbers: str, rounds: str) -> None:
    route = section(bars)
    assert [bar.number for bar in route.bars] == [int(number) for number in numbers.split()]
    assert times(route) == [int(number) for number in rounds.split()]


SIGNS = {
    "D.C. goes on to the end": ("| D | A | G (D.C.) | D |", "1 2 3 1 2 3 4"),
    "D.C. al fine": ("| D | A (fine) | G (D.C. al fine) |", "1 2 3 1 2"),
    "plain D.C. obeys the fine": ("| D | A (fine) | G (D.C.) |", "1 2 3 1 2"),
    "D.S. stays behind the segno": ("| D | (segno) A | G (D.S.) | E |", "1 2 3 2 3 4"),
    "D.S. al coda": ("| D | (segno) A (to coda) | G (D.S. al coda) | (coda) E |", "1 2 3 2 4"),
    "D.C. al coda": ("| D (to coda) | A (D.C. al coda) | (coda) E | D |", "1 2 1 3 4"),
    "plain D.S. obeys to coda": ("| (segno) D (to coda) | A (D.S.) | (coda) E |", "1 2 1 3"),
    "al coda passes over the fine": ("| D (fine) | A (to coda) | G (D.C. al coda) | (coda) E |", "1 2 3 1 2 4"),
    "al fine passes over to coda": ("| D (to coda) | A (fine) | G (D.C. al fine) | (coda) E |", "1 2 3 1 2"),
    "a fine in the coda": ("| D (to coda) | A (D.C. al coda) | (coda) E (fine) | G |", "1 2 1 3"),
    "the nearest segno": ("| (segno) D | (segno) A | G (D.S.) |", "1 2 3 2 3"),
    "two jumps": ("| D | A (D.C.) | (segno) G | E (D.S.) |", "1 2 1 2 3 4 3 4"),
    "the sign inside the segno's bar": ("| D | (segno) A (D.S.) | G |", "1 2 2 3"),
    "repeats once behind a jump": ("|: D :| A | G (D.C.) |", "1 1 2 3 1 2 3"),
    "the last ending behind a jump": ("|: D |1. A :|2. G || E (D.C.) |", "1 2 1 3 4 1 3 4"),
    "the inner repeat once, too": ("|: D |: A :| G :| E (D.C.) |", "1 2 2 3 1 2 2 3 4 1 2 3 4"),
    "new music has its repeats": ("|: D :| A (D.C.) |: G :|", "1 1 2 1 2 3 3"),
    "a coda has its repeats": ("| D (to coda) | A (D.C. al coda) |: (coda) G :| x3 D |", "1 2 1 3 3 3 4"),
    "a jump in a repeat waits for the last time": ("|: D | A (D.C.) :| G |", "1 2 1 2 1 2 3"),
    "a segno in a repeat": ("|: D | (segno) A :| G (D.S.) |", "1 2 1 2 3 2 3"),
}


@pytest.mark.parametrize(("bars", "numbers"), SIGNS.values(), ids=SIGNS.keys())
def test_signs(bars: str, numbers: str) -> None:
    assert [bar.number for bar in section(bars).bars] == [int(number) for number in numbers.split()]


def test_the_last_time_is_told_behind_a_jump() -> None:
    route = section("|: D |1. A :|2. G || E (D.C.) |")
    assert times(route) == [1, 1, 2, 2, 1, 2, 2, 1]


SONG = "== Verse ==\n| D | A |\n== Chorus ==\n| G | E |\n== Bridge ==\n| Bm |"
ROADMAPS = {
    "as written without a roadmap": ("", "V1 V2 C1 C2 B1"),
    "in the roadmap's order": ("Chorus\nVerse\nChorus", "C1 C2 V1 V2 C1 C2"),
    "twice": ("Verse\nChorus twice", "V1 V2 C1 C2 C1 C2"),
    "x3": ("Bridge x3", "B1 B1 B1"),
    "capitals aside": ("VERSE\nchorus", "V1 V2 C1 C2"),
}


@pytest.mark.parametrize(("lines", "bars"), ROADMAPS.values(), ids=ROADMAPS.keys())
def test_steps_of_the_roadmap(lines: str, bars: str) -> None:
    heading = f"== Roadmap ==\n{lines}\n" if lines else ""
    assert order(route_of(heading + SONG)) == bars


ACROSS = {
    "D.S. al coda over three sections": (
        "== Verse ==\n| D | (segno) A |\n== Chorus ==\n| G (to coda) | E (D.S. al coda) |\n== Tail ==\n| (coda) D |",
        "V1 V2 C1 C2 V2 C1 T1",
    ),
    "a section named Coda is the coda": (
        "== Verse ==\n| D |\n== Chorus ==\n| G (to coda) | E (D.C. al coda) |\n== Coda ==\n| D |",
        "V1 C1 C2 V1 C1 C1",
    ),
    "D.C. al fine over two sections": (
        "== Verse ==\n| D |1. A :|2. D (fine) |\n== Middle ==\n| G | E (D.C. al fine) |",
        "V1 V2 V1 V3 M1 M2 V1 V3",
    ),
    "signs in the roadmap's order": (
        "== Roadmap ==\nVerse\nChorus\nVerse\nBridge\nTail\n"
        "== Tail ==\n| (coda) D |\n== Bridge ==\n| Bm (D.S. al coda) |\n"
        "== Verse ==\n| (segno) D |\n== Chorus ==\n| G (to coda) |",
        "V1 C1 V1 B1 V1 B1 T1",
    ),
    "a jump waits for the last time of its step": (
        "== Roadmap ==\nVerse twice\nTail\n== Verse ==\n| D (fine) | A (D.C. al fine) |\n== Tail ==\n| D |",
        "V1 V2 V1 V2 V1",
    ),
}


@pytest.mark.parametrize(("body", "bars"), ACROSS.values(), ids=ACROSS.keys())
def test_signs_across_sections(body: str, bars: str) -> None:
    assert order(route_of(body)) == bars


def test_al_coda_without_a_to_coda_goes_on_to_the_end() -> None:
    assert order(section("| D | A (D.C. al coda) | (coda) G |")) == "V1 V2 V1 V2 V3"


# -- passes, steps, ends --------------------------------------------------------------------------------------------


def test_every_step_is_another_pass_and_another_step_number() -> None:
    route = route_of("== Roadmap ==\nVerse\nChorus twice\nVerse\n" + SONG)
    starts = [(bar.section, bar.pass_, bar.step) for bar in route.bars if bar.starts_section]
    assert starts == [("Verse", 1, 0), ("Chorus", 1, 1), ("Chorus", 2, 2), ("Verse", 2, 3)]
    assert [bar.number for bar in route.bars if bar.ends_section] == [2, 2, 2, 2]


def test_an_inner_repeat_is_the_same_pass() -> None:
    assert {(bar.pass_, bar.step) for bar in section("|: D | A :|").bars} == {(1, 0)}


def test_a_jump_back_into_the_middle_is_a_new_pass() -> None:
    route = section("| D | (segno) A | G (D.S.) | D |")
    assert [(bar.pass_, bar.step, bar.number) for bar in route.bars if bar.starts_section] == [(1, 0, 1), (2, 1, 2)]
    assert [(bar.pass_, bar.number) for bar in route.bars if bar.ends_section] == [(1, 3), (2, 4)]


def test_a_jump_forward_to_the_coda_is_no_new_pass() -> None:
    route = section("| D (to coda) | A (D.C. al coda) | (coda) G |")
    assert [(bar.number, bar.pass_) for bar in route.bars] == [(1, 1), (2, 1), (1, 2), (3, 2)]


def test_wait_is_on_the_last_bar_of_each_time() -> None:
    route = route_of("== Roadmap ==\nVerse twice, wait\nChorus\n" + SONG)
    assert [bar.wait for bar in route.bars] == [False, True, False, True, False, False]


def test_rit_is_on_the_last_two_bars_of_the_last_time() -> None:
    route = route_of("== Roadmap ==\nVerse twice, rit.\nBridge rit.\n== Verse ==\n| D | A | G |\n== Bridge ==\n| D |")
    assert [bar.rit for bar in route.bars] == [False] * 4 + [True] * 3


# -- pickup ---------------------------------------------------------------------------------------------------------


def test_a_pickup_is_played_where_the_route_begins_with_it_and_nowhere_else() -> None:
    body = "== Roadmap ==\nVerse\nChorus\nVerse twice\n== Verse ==\n| A | D | G |\n== Chorus ==\n| G |"
    route = route_of(body, "key = D\npickup = 1")
    assert order(route) == "V0 V1 V2 C1 V1 V2 V1 V2"
    assert [str(bar.position) for bar in route.bars[:3]] == ["0", "1", "5"]


@pytest.mark.parametrize("bars", ["| A | D | G :|", "|: A | D | G :|", "| A |: D | G :|"])
def test_a_repeat_from_the_start_goes_back_to_the_first_full_bar(bars: str) -> None:
    assert order(route_of(f"== Verse ==\n{bars}", "key = D\npickup = 1")) == "V0 V1 V2 V1 V2"


def test_da_capo_goes_back_to_the_first_full_bar() -> None:
    assert order(route_of("== Verse ==\n| A | D | G (D.C.) |", "key = D\npickup = 1")) == "V0 V1 V2 V1 V2"


# -- what a bar knows -----------------------------------------------------------------------------------------------


def test_the_sections_own_key_meter_tempo_and_feel() -> None:
    route = route_of(
        "== Roadmap ==\nVerse\nBridge\nBridge feel held\n"
        "== Verse ==\n| D |\n== Bridge ==\nkey = Em\nmeter = 6/8\ntempo = dotted quarter 60\nfeel = two in a bar\n| Em |",
        "key = D\ntempo = half 50\nfeel = quarters",
    )
    assert [bar.key.name for bar in route.bars] == ["D", "Em", "Em"]
    assert [bar.meter.name for bar in route.bars] == ["4/4", "6/8", "6/8"]
    assert [bar.quarter_bpm for bar in route.bars] == [100, 90, 90]
    assert [bar.feel for bar in route.bars] == ["quarters", "two in a bar", "held"]
    assert [bar.position for bar in route.bars] == [0, 4, 7]


def test_the_roadmaps_directions_reach_every_bar_of_the_step() -> None:
    route = route_of("== Roadmap ==\nVerse fuller, manuals only\nVerse thinner, out\nVerse\n" + SONG)
    told = [(bar.fullness, bar.manuals_only, bar.out) for bar in route.bars]
    assert told == [(1, True, False)] * 2 + [(-1, False, True)] * 2 + [(0, False, False)] * 2


LIFTS = {
    "a tone from D": ("key = D", "D G/B F#m7", "up a tone", "E", "E A/C# G#m7"),
    "a half step from D": ("key = D", "D G/B F#m7", "up a half step", "Eb", "Eb Ab/C Gm7"),
    "a half step from E": ("key = E", "E A/C# G#m7", "up a half step", "F", "F Bb/D Am7"),
    "down a tone from F": ("key = F", "F Bb Edim", "down a tone", "Eb", "Eb Ab Ddim"),
    "a minor third from Am": ("key = Am", "Am F E7", "up a minor third", "Cm", "Cm Ab G7"),
    "N.C. stays": ("key = C", "C N.C. G7/F", "up a tone", "D", "D N.C. A7/G"),
}


@pytest.mark.parametrize(("header", "chords", "words", "key", "lifted"), LIFTS.values(), ids=LIFTS.keys())
def test_a_lifted_step_is_spelled_for_its_new_key(header: str, chords: str, words: str, key: str, lifted: str) -> None:
    bars = " | ".join(chords.split())
    route = route_of(f"== Roadmap ==\nVerse\nVerse {words}\nVerse\n== Verse ==\n| {bars} |", header)
    passes = [[change.chord.symbol for change in route.changes[first : first + 3]] for first in (0, 3, 6)]
    assert passes == [chords.split(), lifted.split(), chords.split()]
    assert [bar.key.name for bar in route.bars[::3]] == [header[6:], key, header[6:]]


def test_a_lifted_section_leaves_its_own_key() -> None:
    route = route_of("== Roadmap ==\nBridge up a tone\n== Bridge ==\nkey = Ab\n| Ab Db |")
    assert route.bars[0].key.name == "Bb"
    assert [change.chord.symbol for change in route.changes] == ["Bb", "Eb"]


def test_words_and_marks_go_with_their_bars() -> None:
    route = section("|: D | A (vamp) | G (end vamp) :|\n  one\n  two")
    assert [bar.words for bar in route.bars] == [("one", "two"), (), ()] * 2
    assert [bar.marks for bar in route.bars] == [(), ("vamp",), ("end vamp",)] * 2
    assert {bar.line for bar in route.bars} == {3}


# -- changes --------------------------------------------------------------------------------------------------------


def test_every_written_chord_is_a_change_and_a_stroke_is_none() -> None:
    route = section("| D / G D | % | / / / / | A A &A / / |")
    assert [bar.changes for bar in route.bars] == [(0, 1, 2), (3, 4, 5), (), (6, 7, 8)]
    assert [str(change.position) for change in route.changes] == ["0", "2", "3", "4", "6", "7", "12", "13", "27/2"]
    assert [str(change.length) for change in route.changes] == ["2", "1", "1", "2", "1", "5", "1", "1/2", "5/2"]
    assert [change.bar for change in route.changes] == [0, 0, 0, 1, 1, 1, 3, 3, 3]


def test_no_chord_is_a_change_without_root_and_bass() -> None:
    change = section("| N.C. | D/F# |").changes[0]
    assert (change.root, change.bass, change.length) == (None, None, 4)


def test_marks_of_a_chord_go_with_it_every_time() -> None:
    assert [change.marks for change in section("|: D (hold) | A :|").changes] == [("hold",), ()] * 2


# -- errors ---------------------------------------------------------------------------------------------------------

REFUSED = {
    "D.S. without segno": ("| D | A (D.S.) |", 3, "segno"),
    "a segno only behind the D.S.": ("| D | A (D.S.) | (segno) G |", 3, "segno"),
    "to coda without coda": ("| D (to coda) | A (D.C.) |", 3, "coda"),
}


@pytest.mark.parametrize(("bars", "line", "word"), REFUSED.values(), ids=REFUSED.keys())
def test_a_jump_that_leads_nowhere_says_so(bars: str, line: int, word: str) -> None:
    with pytest.raises(ChartError, match=word) as refused:
        section(bars)
    assert refused.value.problems[0].line == line


def test_a_route_without_end_is_refused() -> None:
    with pytest.raises(ChartError, match=f"more than {LONGEST} bars"):
        section("|: D |: A |: G :| x99 E :| x99 Bm :| x99")


# -- properties -----------------------------------------------------------------------------------------------------

CELLS = st.sampled_from(["D", "A", "G Em", "%", "N.C.", "(segno) D", "A (to coda)", "(coda) G", "D (fine)"])
BEHIND = st.sampled_from(["|", "|", "|", "|:", ":|", ":| x3 |", "||", "|1.", ":|2.", "|1,2."])


@given(st.lists(st.tuples(CELLS, BEHIND), min_size=1, max_size=12), st.sampled_from(["", "(D.C.)", "(D.C. al coda)"]))
def test_a_route_has_no_gaps_and_counts_everything_once(cells: list[tuple[str, str]], jump: str) -> None:
    bars = "| D " + "".join(f"| {cell} {behind} D " for cell, behind in cells) + f"| (coda) G {jump} |"
    try:
        route = section(bars)
    except ChartError:
        reject()  # Signs thrown together at random need not make sense.
    position = Fraction(0)
    for index, bar in enumerate(route.bars):
        assert (bar.index, bar.position) == (index, position)
        position += bar.length
        assert all(route.changes[change].bar == index for change in bar.changes)
    assert position == route.length
    assert [change.index for change in route.changes] == list(range(len(route.changes)))
    assert sum(change.length for change in route.changes) == route.length - route.changes[0].position
    assert [number for bar in route.bars for number in bar.changes] == list(range(len(route.changes)))
    assert sum(bar.starts_section for bar in route.bars) == sum(bar.ends_section for bar in route.bars)


def test_an_underscore_stands_once_in_the_route_and_is_held_unless_it_names_a_feel() -> None:
    text = "key = C\nfeel = quarters\n== Roadmap ==\nA underscore\nA underscore, feel ballad\nA\n== A ==\nfeel = waltz\n| C |"
    bars = unfold(read_chart(text)).bars
    assert [(bar.underscore, bar.feel) for bar in bars] == [(True, "held"), (True, "ballad"), (False, "waltz")]
    assert write_chart(read_chart(text)).count("underscore") == 2


def test_an_underscore_told_how_often_is_worth_a_look() -> None:
    (problem,) = proof(read_chart("key = C\n== Roadmap ==\nA underscore, twice\n== A ==\n| C |"))
    assert (problem.line, problem.serious) == (3, False)
    assert "leave out x2" in problem.message


def test_words_come_again_where_a_repeat_leads_into_the_middle_of_their_line() -> None:
    text = (
        "key = G\npickup = 1\n== Verse ==\n| D7 |: G | Em |\n  one two three\n| C |1. D7 :|2. G |\n  four five\n"
        "== End ==\n| G |\n  six\n"
    )
    played = [(bar.number, bar.words) for bar in unfold(read_chart(text)).bars if bar.words]
    first = [(0, ("one two three",)), (3, ("four five",))]
    assert played == [*first, (1, ("one two three",)), (3, ("four five",)), (1, ("six",))]
