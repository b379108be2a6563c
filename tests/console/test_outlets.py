"""What the band's notes become on the wires. MIDI 1.0: 9n is note on, 8n note off, n the channel less one; a 4-note chord
takes a DIN line some 4 ms, so a sweep goes at a message a millisecond."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.band.events import NoteOff, NoteOn
from liveassist.console.instrument import Part, Profile
from liveassist.console.outlets import PACE, TOO_LATE, Outlets
from liveassist.console.profile import PLAIN


class Wire:
    """Keeps what was sent, in order; several of them may share one account."""

    def __init__(self, account: list[tuple[object, ...]] | None = None) -> None:
        self.came = [] if account is None else account

    def send(self, message: bytes) -> bool:
        self.came.append(tuple(message))
        return True

    def note_on(self, port: int, channel: int, key: int) -> None:
        self.came.append(("on", port, channel, key))

    def note_off(self, port: int, channel: int, key: int) -> None:
        self.came.append(("off", port, channel, key))


def on(pitch: int, at: float = 1.0, part: str = "figure") -> NoteOn:
    return NoteOn(at=at, part=part, pitch=pitch, position=Fraction(0))


def off(pitch: int, at: float = 1.0, part: str = "figure") -> NoteOff:
    return NoteOff(at=at, part=part, pitch=pitch, position=Fraction(0))


HALL = Profile(
    parts={
        "figure": Part(port="organ", channel=2),
        "answer": Part(port="organ", channel=2),
        "bass": Part(port="organ", channel=4, delay=20.0),
        "click": Part(port="in-ears", channel=10, silencers=(120,)),
    }
)


def test_only_note_on_and_off_at_one_velocity() -> None:
    wire = Wire()
    outlets = Outlets(replace(PLAIN, velocity=80), {"": wire})
    outlets.play(on(60), 1.0)
    outlets.play(off(60), 1.5)
    assert wire.came == [(0x91, 60, 80), (0x81, 60, 64)]


def test_the_guardian_hears_of_a_press_before_and_of_a_release_after_it_is_sent() -> None:
    account: list[tuple[object, ...]] = []
    outlets = Outlets(HALL, {"organ": Wire(account), "in-ears": Wire(account)}, guard=Wire(account))
    outlets.play(on(76, part="click"), 1.0)
    outlets.play(off(76, part="click"), 1.1)
    assert account == [("on", 1, 10, 76), (0x99, 76, 64), (0x89, 76, 64), ("off", 1, 10, 76)]


def test_the_loop_guard_hears_of_everything_before_it_is_sent() -> None:
    told: list[tuple[object, ...]] = []
    outlets = Outlets(PLAIN, {"": Wire(told)}, sent=lambda *what: told.append(what))
    outlets.play(on(60), 1.0)
    outlets.play(off(60), 1.5)
    assert told == [(1.0, "", 2, 60, True), (0x91, 60, 64), (1.5, "", 2, 60, False), (0x81, 60, 64)]


def test_two_parts_on_one_manual_do_not_cut_each_other_off() -> None:
    wire = Wire()
    outlets = Outlets(HALL, {"organ": wire})
    for action in (on(60), on(60, part="answer"), off(60), off(60, part="answer")):
        outlets.play(action, 1.0)
    assert wire.came == [(0x91, 60, 64), (0x81, 60, 64)]


def test_a_start_that_comes_too_late_is_not_sent_nor_is_its_end() -> None:
    wire = Wire()
    outlets = Outlets(PLAIN, {"": wire})
    outlets.play(on(60, at=1.0), 1.0 + TOO_LATE + 0.01)
    outlets.play(off(60, at=1.05), 1.1)
    assert wire.came == []
    assert outlets.dropped == 1


def test_an_end_is_sent_however_late() -> None:
    wire = Wire()
    outlets = Outlets(PLAIN, {"": wire})
    outlets.play(on(60, at=1.0), 1.0)
    outlets.play(off(60, at=1.5), 9.0)
    assert wire.came[-1] == (0x81, 60, 64)
    assert outlets.sounding == []


def test_a_division_that_is_set_late_gets_its_notes_later() -> None:
    wire = Wire()
    outlets = Outlets(HALL, {"organ": wire})
    outlets.play(on(40, part="bass"), 1.0)
    assert wire.came == []
    assert outlets.next_due() == pytest.approx(1.02)
    outlets.due(1.019)
    assert wire.came == []
    outlets.due(1.02)
    assert wire.came == [(0x93, 40, 64)]
    outlets.play(off(40, at=1.5, part="bass"), 1.5)
    outlets.due(1.52)
    assert wire.came[-1] == (0x83, 40, 64)


def test_stopping_ends_exactly_what_sounds_and_forgets_what_waits() -> None:
    wire = Wire()
    outlets = Outlets(HALL, {"organ": wire})
    for action in (on(60), on(64, part="answer"), on(40, part="bass")):
        outlets.play(action, 1.0)
    wire.came.clear()
    outlets.release_all(1.01)
    assert wire.came == [(0x81, 60, 64), (0x81, 64, 64)]
    assert outlets.next_due() is None


def test_a_sweep_releases_every_key_of_our_divisions_at_the_pace_of_a_line() -> None:
    organ, ears = Wire(), Wire()
    outlets = Outlets(HALL, {"organ": organ, "in-ears": ears})
    outlets.sweep(1.0)
    now = 1.0
    moments = 0
    while (due := outlets.next_due()) is not None:
        assert due >= now - 1e-9
        now, moments = due, moments + 1
        outlets.due(due)
    assert organ.came == [(status, key, 64) for status in (0x81, 0x83) for key in range(128)]
    assert ears.came == [*((0x89, key, 64) for key in range(128)), (0xB9, 120, 0)]
    assert now == pytest.approx(1.0 + (moments - 1) * PACE)


def test_no_controller_is_sent_unless_the_player_has_enabled_it() -> None:
    wire = Wire()
    outlets = Outlets(PLAIN, {"": wire})
    outlets.sweep(0.0)
    outlets.due(10.0)
    assert {message[0] for message in wire.came} == {0x81}


def test_a_part_without_a_place_is_not_sent() -> None:
    wire = Wire()
    Outlets(PLAIN, {"": wire}).play(on(76, part="click"), 1.0)
    assert wire.came == []


def test_an_answer_without_a_place_of_its_own_goes_where_the_figure_goes() -> None:
    assert PLAIN.outlet("answer") == PLAIN.parts["figure"]
    assert PLAIN.outlet("bass") is None
    own = replace(PLAIN, parts={**PLAIN.parts, "answer": Part(channel=3)})
    assert own.outlet("answer") == Part(channel=3)


def test_the_sound_process_hears_every_part_as_on_the_plain_console() -> None:
    sound = Wire()
    outlets = Outlets(PLAIN, {}, sound=sound)
    for action in (on(60), on(76, part="click"), off(60), off(76, part="click")):
        outlets.play(action, 1.0)
    assert sound.came == [(0x91, 60, 64), (0x99, 76, 64), (0x81, 60, 64), (0x89, 76, 64)]


def test_stopping_silences_the_sound_process_too() -> None:
    """Controller 123 is all notes off (MIDI 1.0); it goes to our own sound process and to no organ."""
    organ, sound = Wire(), Wire()
    outlets = Outlets(PLAIN, {"": organ}, sound=sound)
    outlets.play(on(76, part="click"), 1.0)
    outlets.release_all(1.1)
    assert sound.came[-1][:2] == (0xB0, 123)
    assert organ.came == []


MOVES = st.lists(
    st.tuples(
        st.sampled_from(["figure", "answer", "bass", "click"]),
        st.integers(60, 62),
        st.booleans(),
        st.floats(0, 0.3),
        st.floats(0, 0.3),
    ),
    max_size=40,
)


@given(MOVES)
def test_every_press_has_one_release_whatever_the_parts_do(moves: list[tuple[str, int, bool, float, float]]) -> None:
    account: list[tuple[object, ...]] = []
    outlets = Outlets(HALL, {"organ": Wire(account), "in-ears": Wire(account)})
    now = 0.0
    for part, pitch, starts, wait, late in moves:
        now += wait
        outlets.due(now)
        outlets.play((on if starts else off)(pitch, now - late, part), now)
    outlets.release_all(now + 1.0)
    down: set[tuple[int, int]] = set()
    for status, key, _ in account:
        assert isinstance(status, int)
        assert isinstance(key, int)
        pressed = (status & 0x0F, key)
        assert (pressed in down) is (status & 0xF0 == 0x80)
        down ^= {pressed}
    assert not down
    assert outlets.sounding == []
