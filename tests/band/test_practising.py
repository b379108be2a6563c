"""Sections in a loop, a click that leaves beats or bars to the player, another tempo for the next start."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.click import ON_BAR, SETS
from liveassist.band.events import NoteOn, TempoAsked, Told
from liveassist.band.practising import BACKBEAT, BARS, BEATS, clicked, spans
from liveassist.band.song import performance
from liveassist.settings import Settings, check
from tests.band.rehearsing import QUAY, nod, pedal, route_of, sounding_after
from tests.trials import trials

STEADY = {"lead": "pulse", "click": True, "count_in": 1, "subdivision": "none"}


def clicks(rehearsal, since=0.0):
    return [
        round(one.at, 3)
        for one in rehearsal.done
        if isinstance(one, NoteOn) and one.part == "click" and one.at >= since
    ]


def bars_begun(rehearsal):
    starts = {bar.position: (bar.section, bar.number) for bar in rehearsal.route.bars}
    return [starts[Fraction(place)] for _, place in rehearsal.beats() if Fraction(place) in starts]


@pytest.mark.parametrize(
    ("where", "beats", "expected"),
    [
        (BEATS, 4, [1, 2, 3, 4]),
        (BACKBEAT, 4, [2, 4]),
        (BACKBEAT, 3, [2, 3]),
        (BACKBEAT, 2, [2]),
        (BARS, 4, [1]),
        (BARS, 3, [1]),
    ],
    ids=lambda value: str(value),
)
def test_beats_that_are_clicked(where, beats, expected):  # common practice, no source
    assert [b for b in range(1, beats + 1) if clicked(where, "", Fraction(b), beats=beats, number=0)] == expected


def test_click_falls_out_for_two_bars_and_comes_back(rehearse):
    rehearsal = rehearse(**STEADY, drop="2:2")
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(17.9)  # a bar is two seconds: count-in, then eight bars
    assert clicks(rehearsal) == [n / 2 for n in range(36) if n // 4 == 0 or (n // 4 - 1) % 4 < 2]


def test_backbeat_is_clicked_after_a_whole_count_in(rehearse):
    rehearsal = rehearse(**STEADY, click_on="backbeat")
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(5.9)
    assert clicks(rehearsal) == [0.0, 0.5, 1.0, 1.5, 2.5, 3.5, 4.5, 5.5]


def test_bar_starts_alone_keep_their_accent(rehearse):
    rehearsal = rehearse(**STEADY, click_on="bars")
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(7.9)
    found = [one for one in rehearsal.done if isinstance(one, NoteOn) and one.part == "click" and one.at >= 2.0]
    assert [(one.at, one.pitch) for one in found] == [(at, SETS["wood blocks"][ON_BAR]) for at in (2.0, 4.0, 6.0)]


def test_named_section_alone_goes_round_until_on(rehearse):
    rehearsal = rehearse(**STEADY, practise="chorus", loop=True)
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(17.9)
    assert bars_begun(rehearsal) == [("Chorus", n) for n in (1, 2, 3, 4)] * 2
    assert "vamping" not in rehearsal.states()
    rehearsal.hear(nod(18.2, "on"))
    rehearsal.until(27.0)
    assert bars_begun(rehearsal)[12:] == [("Verse", 1)]


def test_two_sections_once_and_then_fine(rehearse):
    rehearsal = rehearse(**STEADY, practise="Chorus; Verse")
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(30.0)
    assert bars_begun(rehearsal) == [("Chorus", n) for n in (1, 2, 3, 4)] + [("Verse", n) for n in (1, 2, 3, 4)]
    assert rehearsal.states() == ["count-in", "playing", "fine", "tacet"]


def test_after_the_fine_the_same_section_is_counted_in_again(rehearse):
    rehearsal = rehearse(**STEADY, practise="Verse")
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(14.0)
    rehearsal.hear(nod(14.0, "count"))
    rehearsal.until(30.0)
    assert bars_begun(rehearsal) == [("Verse", n) for n in (1, 2, 3, 4)] * 2


def test_loop_of_one_bar_drops_every_other_time_round(rehearse):
    rehearsal = rehearse("title = One\nkey = G\ntempo = 120\n\n== Riff ==\n| G |\n", **STEADY, loop=True, drop="1:1")
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(9.9)
    assert clicks(rehearsal, 2.0) == [2.0, 2.5, 3.0, 3.5, 6.0, 6.5, 7.0, 7.5]


def test_another_tempo_comes_with_the_next_start(rehearse):
    rehearsal = rehearse(**STEADY, practise="Verse")
    rehearsal.hear(nod(0.0, "count"))
    told = rehearsal.hear(TempoAsked(at=3.0, heard=3.0, bpm=60.0))
    assert any(isinstance(one, Told) and one.kind == "caution" for one in told)
    rehearsal.until(14.0)
    rehearsal.hear(TempoAsked(at=14.0, heard=14.0, bpm=60.0), nod(14.0, "count"))
    rehearsal.until(40.0)
    assert [at for at, _ in rehearsal.beats() if at > 14.0][:3] == [18.0, 19.0, 20.0]


def test_clicks_told_ahead_are_the_clicks_that_fall(rehearse):
    """What the ears are told a moment before is what the band then plays, in a loop whose click falls out."""
    rehearsal = rehearse(**(STEADY | {"subdivision": "eighths"}), practise="Chorus", loop=True, drop="3:2")
    rehearsal.hear(nod(0.0, "count"))
    ahead: set[float] = set()
    for tick in range(1, 480):
        now = tick / 20 + 0.011
        rehearsal.until(now)
        ahead |= {round(one.at, 3) for one in rehearsal.band.clicks_until(now + 0.05)}
    assert ahead >= set(clicks(rehearsal, 0.1))
    assert {at for at in ahead if at < 23.9} - set(clicks(rehearsal)) == set()


def test_foot_is_told_by_the_nearest_beat_or_change(rehearse):
    rehearsal = rehearse("title = Push\nkey = G\ntempo = 60\n\n== Verse ==\n| G | C (push) | G | C |\n", **STEADY)
    rehearsal.hear(nod(0.0, "count"))
    rehearsal.until(5.1)
    assert rehearsal.band.off_the_beat(5.03) == pytest.approx(0.03)
    assert rehearsal.band.off_the_beat(4.96) == pytest.approx(-0.04)
    rehearsal.until(7.2)
    assert rehearsal.band.off_the_beat(7.48) == pytest.approx(-0.02)  # the pushed chord, half a beat before its bar


def test_no_beat_to_tell_before_the_start(rehearse):
    assert rehearse(**STEADY).band.off_the_beat(1.0) is None


def test_sections_are_found_in_any_capitals_where_they_first_come():
    assert spans(route_of(QUAY), "CHORUS;verse") == ((4, 7), (0, 3))
    assert spans(route_of(QUAY), "") == ((0, 18),)


@pytest.mark.parametrize("said", ["2", "0:2", "2:0", "a:b", "2:2:2", "100:1"])
def test_drop_says_what_it_takes(said):
    with pytest.raises(ValueError, match="bars with the click and bars without, as 2:2"):
        check("drop", said, "here")


@given(
    practise=st.sampled_from(["", "Verse", "Chorus", "Ending", "Chorus;Verse", "Ending;Chorus"]),
    loop=st.booleans(),
    where=st.sampled_from([BEATS, BACKBEAT, BARS]),
    drop=st.sampled_from(["", "1:1", "2:2", "3:5"]),
    moves=st.lists(
        st.tuples(
            st.floats(0.0, 3.0),
            st.sampled_from(["count", "again", "on", "vamp", "hold", "out", "in", "cut", "up", "tempo", "foot", "to"]),
        ),
        max_size=25,
    ),
)
@trials(30)
def test_whatever_is_asked_every_note_ends_and_a_replay_is_the_same(practise, loop, where, drop, moves):
    asked = Settings(**STEADY, practise=practise, loop=loop, click_on=where, drop=drop)  # type: ignore[arg-type]
    route = unfold(read_chart(QUAY))

    def once():
        band, at, done = performance(route, asked), 0.0, []
        for wait, what in moves:
            at += wait
            if what == "tempo":
                done += band.receive(TempoAsked(at=at, heard=at, bpm=90.0))
            elif what == "foot":
                done += band.receive(pedal(at, 43))
            else:
                done += band.receive(nod(at, what, 1 if what == "to" else None))
            band.clicks_until(at + 0.2)
            band.off_the_beat(at)
        done += band.due(at + 60.0)
        done += band.receive(nod(at + 60.0, "cut"))
        return [*done, *band.due(at + 70.0)]

    first = once()
    assert not sounding_after(first)
    assert once() == first
