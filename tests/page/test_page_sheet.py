"""What is printed once and what is written out. The expected orders are worked out by hand."""

from __future__ import annotations

import pytest
from music21 import repeat, stream

from charts.roadmap import JUMPS
from liveassist.page.printing import Wishes, musicxml_text
from liveassist.page.score import score
from liveassist.page.sheet import sheet
from tests.page.reading import read_back

HEAD = "title = A\nkey = C\nfeel = held\n\n"


def printed(arrangement, **how):
    return sheet(score(arrangement), **how)


def test_a_repeat_that_is_the_same_each_time_is_printed_once(arranged):
    bars = printed(arranged(HEAD + "== Verse ==\n|: C | C :| x3\n"))
    assert [bar.index for bar in bars] == [0, 1]
    assert (bars[0].opens_repeat, bars[1].closes_repeat) == (True, 3)


def test_unfolded_writes_it_out(arranged):
    bars = printed(arranged(HEAD + "== Verse ==\n|: C | C :| x3\n"), unfolded=True)
    assert [bar.index for bar in bars] == list(range(6))
    assert not any(bar.opens_repeat or bar.closes_repeat for bar in bars)


def test_twice_becomes_a_repeat(arranged):
    bars = printed(
        arranged(HEAD + "== Roadmap ==\nVerse twice\nChorus\n\n== Verse ==\n| C | C |\n== Chorus ==\n| F |]\n")
    )
    assert [bar.index for bar in bars] == [0, 1, 4]
    assert (bars[0].opens_repeat, bars[1].closes_repeat, bars[0].times) == (True, 2, 2)


def test_twice_around_a_repeat_adds_up(arranged):
    bars = printed(arranged(HEAD + "== Roadmap ==\nVerse x3\n\n== Verse ==\n|: C | C :|\n"))
    assert [bar.index for bar in bars] == [0, 1]
    assert bars[1].closes_repeat == 6


def test_what_differs_is_written_out(arranged):
    bars = printed(arranged(HEAD + "== Roadmap ==\nVerse\nVerse fuller\nVerse up a tone\n\n== Verse ==\n| C | C |\n"))
    assert [bar.index for bar in bars] == list(range(6))


def test_signs_stand_where_every_bar_is_the_same(arranged):
    bars = printed(arranged(HEAD + "== Verse ==\n| C (segno) | C (fine) |\n== Middle ==\n| C (D.S. al fine) ||\n"))
    assert [bar.index for bar in bars] == [0, 1, 2]
    assert [bar.marks for bar in bars] == [("segno",), ("fine",), ("D.S. al fine",)]
    assert bars[-1].barline == "||", "the song ends at fine"


def test_unfolded_has_no_signs_to_obey(arranged):
    song = arranged(HEAD + "== Verse ==\n| C (segno) | C (fine) |\n== Middle ==\n| C (D.S. al fine) ||\n")
    bars = printed(song, unfolded=True)
    assert [bar.index for bar in bars] == [0, 1, 2, 3, 4]
    assert not any(bar.marks for bar in bars)
    assert bars[-1].barline == "|]"


@pytest.mark.parametrize("unfolded", [False, True], ids=["folded", "unfolded"])
def test_every_bar_of_the_route_is_heard_in_what_is_printed(song, unfolded):
    """With its repeats obeyed, by music21's expander where there are any, the sheet is as long as the route."""
    tune = read_back(musicxml_text(song, Wishes(fullness=2, unfolded=unfolded)))[0]
    found = sheet(score(song), unfolded=unfolded)
    if any(JUMPS.keys() & set(bar.marks) for bar in found):
        pytest.skip("the signs are in words of ours, which music21 does not obey; see the tests above")
    if any(bar.closes_repeat for bar in found):
        tune = repeat.Expander(tune).process()
    assert len(tune.getElementsByClass(stream.Measure)) == len(song.route.bars)


def test_a_repeat_comes_out_as_long_as_the_route_with_its_endings(arranged):
    song = arranged(HEAD + "== Verse ==\n|: C | F |1. G :|2. C |]\n")
    bars = printed(song)
    if len(bars) == len(song.route.bars):
        pytest.skip("the hand was led differently the second time")
    tune = read_back(musicxml_text(song, Wishes(fullness=2)))[0]
    assert len(repeat.Expander(tune).process().getElementsByClass(stream.Measure)) == len(song.route.bars)
