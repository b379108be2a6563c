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


# -- the player's own keys --------------------------------------------------------------------------------------------


class Hand:
    """Keys that the player holds on channel 2."""

    def __init__(self) -> None:
        self.keys: set[int] = set()

    def holds(self, port: str, channel: int, key: int) -> bool:
        return channel == 2 and key in self.keys


@pytest.fixture
def played() -> tuple[Hand, Wire, Outlets]:
    hand, wire = Hand(), Wire()
    return hand, wire, Outlets(HALL, {"organ": wire}, guard=Wire(), held=hand.holds)


def test_a_key_that_the_player_holds_is_neither_pressed_nor_released(played: tuple[Hand, Wire, Outlets]) -> None:
    hand, wire, outlets = played
    hand.keys.add(60)
    for action in (on(60), on(64), off(60), off(64)):
        outlets.play(action, 1.0)
    assert wire.came == [(0x91, 64, 64), (0x81, 64, 64)]


def test_our_release_waits_until_the_player_lets_the_key_go(played: tuple[Hand, Wire, Outlets]) -> None:
    hand, wire, outlets = played
    outlets.play(on(60), 1.0)
    hand.keys.add(60)
    outlets.play(off(60), 1.1)
    outlets.due(1.2)
    assert wire.came == [(0x91, 60, 64)]
    assert outlets.sounding == [(0, 2, 60)]
    hand.keys.clear()
    outlets.due(1.3)
    assert wire.came == [(0x91, 60, 64), (0x81, 60, 64)]
    assert outlets.sounding == []


def test_a_key_that_was_just_let_go_speaks_again(played: tuple[Hand, Wire, Outlets]) -> None:
    hand, wire, outlets = played
    outlets.play(on(60), 1.0)
    hand.keys.add(60)
    outlets.play(off(60), 1.1)
    hand.keys.clear()
    outlets.play(on(60, at=1.2), 1.2)
    assert wire.came == [(0x91, 60, 64), (0x81, 60, 64), (0x91, 60, 64)]


@pytest.mark.parametrize("stop", ["release_all", "sweep"])
def test_stopping_everything_waits_for_nobody(played: tuple[Hand, Wire, Outlets], stop: str) -> None:
    hand, wire, outlets = played
    for action in (on(60), on(62)):
        outlets.play(action, 1.0)
    hand.keys |= {60, 62}
    outlets.play(off(60), 1.1)
    getattr(outlets, stop)(1.2)
    assert wire.came[2:4] == [(0x81, 60, 64), (0x81, 62, 64)]
    assert outlets.sounding == []


@given(st.lists(st.tuples(st.sampled_from(["on", "off", "press", "lift"]), st.integers(60, 62)), max_size=40))
def test_no_key_of_the_players_is_cut_and_none_of_ours_stays(moves: list[tuple[str, int]]) -> None:
    hand, wire = Hand(), Wire()
    outlets = Outlets(HALL, {"organ": wire}, held=hand.holds)
    for number, (what, key) in enumerate([*moves, *(("lift", key) for key in (60, 61, 62))]):
        before = len(wire.came)
        if what in ("on", "off"):
            outlets.play((on if what == "on" else off)(key, float(number)), float(number))
        else:
            (hand.keys.add if what == "press" else hand.keys.discard)(key)
        outlets.due(float(number))
        assert not [message for message in wire.came[before:] if message[1] in hand.keys]
    for key in (60, 61, 62):
        outlets.play(off(key, 99.0), 99.0)
    assert outlets.sounding == []


# -- receivers and wires ----------------------------------------------------------------------------------------------


def test_a_receiver_that_heeds_no_controllers_is_silent_after_a_sweep() -> None:
    """Controllers 120-123 may be ignored by an organ; note-offs alone must do (MIDI 1.0: 8n is a note off)."""
    sounding: set[tuple[int, int]] = {(2, 61), (2, 90), (4, 40)}  # notes whose ends were lost, and ours

    class Organ:
        def send(self, message: bytes) -> bool:
            key = ((message[0] & 0x0F) + 1, message[1])
            if message[0] & 0xF0 in (0x80, 0x90):
                (sounding.add if message[0] & 0xF0 == 0x90 and message[2] else sounding.discard)(key)
            return True

    outlets = Outlets(HALL, {"organ": Organ()})
    outlets.play(on(60), 1.0)
    outlets.sweep(1.1)
    outlets.due(99.0)
    assert sounding == set()


def test_a_part_without_a_place_is_not_sent() -> None:
    wire = Wire()
    Outlets(PLAIN, {"": wire}).play(on(76, part="click"), 1.0)
    assert wire.came == []


def test_an_answer_without_a_place_of_its_own_goes_where_the_figure_goes() -> None:
    assert PLAIN.outlet("answer") == PLAIN.parts["figure"]
    assert PLAIN.outlet("bass") is None
    own = replace(PLAIN, parts={**PLAIN.parts, "answer": Part(channel=3)})
    assert own.outlet("answer") == Part(channel=3)


def test_the_sound_process_hears_the_music_and_never_a_click() -> None:
    sound = Wire()
    outlets = Outlets(PLAIN, {}, sound=sound)
    for action in (on(60), on(76, part="click"), off(60), off(76, part="click")):
        outlets.play(action, 1.0)
    assert sound.came == [(0x91, 60, 64), (0x81, 60, 64)]


def test_a_click_goes_to_player_and_drummer_each_with_an_offset() -> None:
    wire = Wire()
    pair = Profile(parts={"click": Part(port="in-ears", channel=10), "drummer": Part(port="in-ears", channel=11)})
    outlets = Outlets(pair, {"in-ears": wire}, offsets={"click": 30.0, "drummer": -20.0})
    outlets.play(on(76, part="click"), 1.0)
    assert wire.came == [(0x9A, 76, 64)], "nothing can be sent before its time"
    outlets.due(1.03)
    assert wire.came[1:] == [(0x99, 76, 64)]
    outlets.play(off(76, at=1.05, part="click"), 1.05)
    outlets.due(1.1)
    assert outlets.sounding == []


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
