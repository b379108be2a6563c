"""The sounding notes: a key must come up before it can speak again, and nothing is ever left on."""

from __future__ import annotations

from fractions import Fraction

from hypothesis import given
from hypothesis import strategies as st

from liveassist.band.events import NoteOn
from liveassist.band.sounding import GAP, SoundingNotes, Start
from tests.band.rehearsing import sounding_after


def note(pitch: int, ends: float | None = 1.0) -> Start:
    return Start(part="figure", pitch=pitch, position=Fraction(0), change=0, ends=ends)


def test_a_key_that_sounds_is_ended_and_speaks_again_after_the_gap():
    notes = SoundingNotes()
    notes.start([note(60)], 0.0)
    actions = notes.start([note(60), note(64)], 1.0)
    assert [(type(a).__name__, a.pitch) for a in actions] == [("NoteOff", 60), ("NoteOn", 64)]
    assert notes.next_start() == 1.0 + GAP
    assert [type(a).__name__ for a in notes.start_waiting(1.0 + GAP)] == ["NoteOn"]


def test_a_key_that_came_up_long_ago_speaks_at_once():
    notes = SoundingNotes()
    notes.start([note(60)], 0.0)
    notes.end_all(0.5)
    assert [type(a) for a in notes.start([note(60)], 1.0)] == [NoteOn]


def test_what_is_held_has_no_end_until_released():
    notes = SoundingNotes()
    notes.start([note(60)], 0.0)
    notes.hold()
    assert notes.next_end() is None
    assert notes.held
    assert len(notes.end_all(9.0)) == 1


def test_ending_a_part_leaves_the_others():
    notes = SoundingNotes()
    notes.start([note(60), Start(part="click", pitch=76, position=Fraction(0), change=-1, ends=0.1)], 0.0)
    notes.end_all(0.2, part="figure")
    assert notes.keys == (("click", 76),)


@given(st.lists(st.tuples(st.sampled_from(["start", "end", "all", "wait"]), st.integers(60, 63)), max_size=60))
def test_whatever_happens_every_start_has_one_end(moves):
    notes, done, now = SoundingNotes(), [], 0.0
    for what, pitch in moves:
        now += 0.017
        if what == "start":
            done += notes.start([note(pitch, now + 1)], now)
        elif what == "end":
            done += notes.end_due(now, now)
        elif what == "all":
            done += notes.end_all(now)
        else:
            done += notes.start_waiting(now)
    done += notes.end_all(now + 1)
    assert sounding_after(done) == set()
    assert [action.at for action in done] == sorted(action.at for action in done)
