"""What MIDI messages mean to the band. The bytes are those of MIDI 1.0: status 8n note off, 9n note on (velocity 0 is a note
off), Bn control change (0-63 off, 64-127 on), Cn program change, F0 and above system messages; n is the channel less one."""

from __future__ import annotations

from dataclasses import replace
from itertools import permutations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.band.events import TOGETHER, Event, KeyDown, KeyUp, Nodded, ShoeMoved, SwitchPressed
from liveassist.console.echoes import AT_ONCE, ENOUGH
from liveassist.console.hearing import BOUNCE, ECHO, Interpreter
from liveassist.console.instrument import Coupler, Division, Profile, Switch
from liveassist.console.profile import PLAIN


class Console:
    """Plays messages into an interpreter."""

    def __init__(self, profile: Profile = PLAIN, port: str = "console") -> None:
        self.ears = Interpreter(profile)
        self.port = port

    def play(self, at: float, *message: int, port: str = "") -> list[Event]:
        return self.ears.events(at, at + 0.001, port or self.port, bytes(message))

    def presses(self, *timed: tuple[float, int]) -> list[float]:
        """When control 64 of channel 4 was a press, given its values."""
        return [at for at, value in timed if self.play(at, 0xB3, 64, value)]


def with_switch(**stated: object) -> Profile:
    switch = {"what": "cue", "by": "control", "number": 64, "channel": 4, **stated}
    return replace(PLAIN, switches=(Switch(**switch),))  # type: ignore[arg-type]


# -- keys -------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("message", "event"),
    [
        pytest.param((0x90, 60, 64), KeyDown(at=1.0, heard=1.001, division="melody", key=60), id="channel-1"),
        pytest.param((0x91, 60, 1), KeyDown(at=1.0, heard=1.001, division="figure", key=60), id="channel-2-softest"),
        pytest.param((0x93, 36, 127), KeyDown(at=1.0, heard=1.001, division="pedal", key=36), id="lowest-pedal"),
        pytest.param((0x93, 67, 64), KeyDown(at=1.0, heard=1.001, division="pedal", key=67), id="highest-pedal"),
        pytest.param((0x99, 38, 64), KeyDown(at=1.0, heard=1.001, division="drums", key=38), id="channel-10"),
    ],
)
def test_a_note_on_is_a_key_down(message: tuple[int, ...], event: Event) -> None:
    assert Console().play(1.0, *message) == [event]


@pytest.mark.parametrize("off", [(0x83, 40, 64), (0x83, 40, 0), (0x93, 40, 0)], ids=["off", "off-0", "on-velocity-0"])
def test_a_key_comes_up(off: tuple[int, ...]) -> None:
    console = Console()
    console.play(1.0, 0x93, 40, 64)
    assert console.play(2.0, *off) == [KeyUp(at=2.0, heard=2.001, division="pedal", key=40)]
    assert console.play(2.5, *off) == []


@pytest.mark.parametrize(
    "message",
    [
        pytest.param((0x92, 60, 64), id="channel-of-no-division"),
        pytest.param((0x93, 35, 64), id="below-the-pedals"),
        pytest.param((0x93, 68, 64), id="above-the-pedals"),
        pytest.param((0x90, 97, 64), id="a-stop-tab-above-the-manual"),
        pytest.param((0xB0, 11, 90), id="swell-shoe"),
        pytest.param((0xB0, 7, 90), id="volume"),
        pytest.param((0xC3, 64), id="program"),
        pytest.param((0xE0, 0, 64), id="pitch-bend"),
        pytest.param((0xA0, 60, 64), id="key-pressure"),
        pytest.param((0xF8,), id="clock"),
        pytest.param((0xFE,), id="active-sensing"),
        pytest.param((0xF0, 0x7E, 0xF7), id="system-exclusive"),
        pytest.param((0x93, 40), id="cut-off"),
        pytest.param((0x93, 40, 64, 40), id="too-long"),
        pytest.param((0x93, 0x90, 64), id="status-where-data-belongs"),
        pytest.param((64, 40, 1), id="no-status"),
        pytest.param((), id="nothing"),
    ],
)
def test_what_is_no_music_is_passed_over(message: tuple[int, ...]) -> None:
    assert Console().play(1.0, *message) == []


def test_each_division_is_heard_by_its_port() -> None:
    profile = Profile(
        divisions={
            "melody": Division(port="east", channel=1, compass=(36, 96)),
            "pedal": Division(port="west", channel=1, compass=(36, 67)),
        }
    )
    console = Console(profile)
    assert console.play(1.0, 0x90, 40, 64, port="east") == [KeyDown(at=1.0, heard=1.001, division="melody", key=40)]
    assert console.play(1.0, 0x90, 40, 64, port="west") == [KeyDown(at=1.0, heard=1.001, division="pedal", key=40)]
    assert console.play(1.0, 0x90, 40, 64, port="north") == []


def test_one_key_by_two_feeds_is_one_key() -> None:
    console = Console()
    assert console.play(1.000, 0x93, 40, 64, port="usb") != []
    assert console.play(1.002, 0x93, 40, 64, port="din") == []
    assert console.play(1.500, 0x83, 40, 64, port="usb") == []
    assert console.play(1.502, 0x83, 40, 64, port="din") == [KeyUp(at=1.502, heard=1.503, division="pedal", key=40)]


def test_a_feed_that_died_with_a_key_down_does_not_deafen_the_other() -> None:
    console = Console()
    console.play(1.0, 0x93, 40, 64, port="usb")
    assert console.play(2.0, 0x93, 40, 64, port="din") == [KeyDown(at=2.0, heard=2.001, division="pedal", key=40)]
    assert console.play(2.5, 0x83, 40, 64, port="din") == [KeyUp(at=2.5, heard=2.501, division="pedal", key=40)]


def test_keys_of_a_port_that_has_gone_are_no_longer_down() -> None:
    console = Console()
    console.play(1.0, 0x93, 40, 64)
    console.ears.lost("console")
    assert console.play(2.0, 0x83, 40, 64) == []


def test_a_key_struck_again_without_coming_up_is_struck_again() -> None:
    console = Console()
    console.play(1.0, 0x93, 40, 64)
    assert console.play(2.0, 0x93, 40, 64) == [KeyDown(at=2.0, heard=2.001, division="pedal", key=40)]


# -- switches ---------------------------------------------------------------------------------------------------------


def test_the_foot_switch_of_the_plain_console_is_a_cue() -> None:
    assert Console().play(1.0, 0xB3, 64, 127) == [SwitchPressed(at=1.0, heard=1.001, unit="change")]


def test_only_going_to_64_from_below_is_a_press() -> None:
    values = ((1.0, 63), (2.0, 64), (3.0, 127), (4.0, 64), (5.0, 63), (6.0, 0), (7.0, 127), (8.0, 0))
    assert Console().presses(*values) == [2.0, 7.0]


def test_a_switch_that_rests_closed_is_pressed_when_it_opens() -> None:
    console = Console(with_switch(rest="closed"))
    assert console.presses((1.0, 127), (2.0, 0), (3.0, 127), (4.0, 0)) == [2.0, 4.0]


def test_a_latching_switch_is_pressed_whenever_it_changes_over() -> None:
    assert Console(with_switch(latching=True)).presses((1.0, 127), (2.0, 127), (3.0, 0), (4.0, 127)) == [1.0, 3.0, 4.0]


def test_bouncing_contacts_are_one_press() -> None:
    bounce = BOUNCE / 4
    timed = [(1.0, 127), (1.0 + bounce, 0), (1.0 + 2 * bounce, 127), (1.5, 0), (2.0, 127)]
    assert Console().presses(*timed) == [1.0, 2.0]


def test_a_switch_by_two_feeds_is_pressed_once() -> None:
    console = Console()
    assert console.play(1.0, 0xB3, 64, 127, port="usb") != []
    assert console.play(1.2, 0xB3, 64, 127, port="din") == []


@pytest.mark.parametrize(
    ("by", "press", "release"),
    [
        pytest.param("note", (0x9F, 7, 64), (0x8F, 7, 64), id="note"),
        pytest.param("note", (0x9F, 7, 1), (0x9F, 7, 0), id="note-with-velocity-0"),
        pytest.param("control", (0xBF, 7, 127), (0xBF, 7, 0), id="control"),
        pytest.param("program", (0xCF, 7), (0xCF, 8), id="program"),
    ],
)
def test_a_piston_asks_for_a_nod_each_time(by: str, press: tuple[int, ...], release: tuple[int, ...]) -> None:
    console = Console(with_switch(what="vamp", by=by, number=7, channel=16, argument=4))
    asked = []
    for second in (1.0, 2.0):
        asked += console.play(second, *press)
        asked += console.play(second + 0.5, *release)
    assert asked == [Nodded(at=second, heard=second + 0.001, nod="vamp", argument=4) for second in (1.0, 2.0)]


def test_a_key_that_is_a_switch_is_no_music() -> None:
    console = Console(with_switch(what="out", by="note", number=36, channel=1))
    assert console.play(1.0, 0x90, 36, 64) == [Nodded(at=1.0, heard=1.001, nod="out")]
    assert console.play(1.5, 0x80, 36, 64) == []


def test_a_range_of_pedals_may_serve_as_the_cue() -> None:
    pedal = replace(PLAIN.divisions["pedal"], cue_keys=(60, 67))
    console = Console(replace(PLAIN, divisions={**PLAIN.divisions, "pedal": pedal}))
    assert console.play(1.0, 0x93, 60, 64) == [SwitchPressed(at=1.0, heard=1.001, unit="change")]
    assert console.play(1.01, 0x93, 61, 64) == []
    assert console.play(1.2, 0x83, 60, 64) == []
    assert console.play(1.5, 0x93, 62, 64) != []
    assert console.play(2.0, 0x93, 59, 64) == [KeyDown(at=2.0, heard=2.001, division="pedal", key=59)]


@pytest.mark.parametrize(
    ("profile", "argument", "unit"),
    [
        pytest.param(PLAIN, "", "change", id="usual"),
        pytest.param(replace(PLAIN, settings={"switch_unit": "bar"}), "", "bar", id="profile"),
        pytest.param(replace(PLAIN, settings={"switch_unit": "bar"}), "section", "section", id="as-told"),
        pytest.param(with_switch(unit="section"), "bar", "section", id="the-switch-itself"),
    ],
)
def test_how_far_a_press_moves(profile: Profile, argument: str, unit: str) -> None:
    ears = Interpreter(profile, switch_unit=argument)
    assert ears.events(1.0, 1.0, "", bytes((0xB3, 64, 127))) == [SwitchPressed(at=1.0, heard=1.0, unit=unit)]


# -- echoes -----------------------------------------------------------------------------------------------------------


def test_what_we_sent_never_comes_back_as_a_cue() -> None:
    console = Console()
    console.ears.sent(1.0, "organ", 4, 40, True)
    console.ears.sent(1.1, "organ", 4, 40, False)
    assert console.play(1.01, 0x93, 40, 64) == []
    assert console.play(1.12, 0x83, 40, 64) == []


def test_an_echo_is_known_whatever_its_velocity_and_port() -> None:
    console = Console()
    console.ears.sent(1.0, "organ", 4, 40, True)
    assert console.play(1.0 + ECHO, 0x93, 40, 127, port="another") == []


def test_one_echo_for_each_that_was_sent() -> None:
    console = Console()
    console.ears.sent(1.0, "organ", 4, 40, True)
    assert console.play(1.01, 0x93, 40, 64) == []
    assert console.play(1.02, 0x93, 40, 64) != []


@pytest.mark.parametrize(
    ("at", "message"),
    [
        pytest.param(1.0 + ECHO + 0.01, (0x93, 40, 64), id="too-late-for-an-echo"),
        pytest.param(0.99, (0x93, 40, 64), id="before-we-sent-it"),
        pytest.param(1.01, (0x93, 41, 64), id="another-key"),
        pytest.param(1.01, (0x90, 40, 64), id="another-channel"),
    ],
)
def test_the_players_own_key_is_heard(at: float, message: tuple[int, ...]) -> None:
    console = Console()
    console.ears.sent(1.0, "organ", 4, 40, True)
    assert len(console.play(at, *message)) == 1


def figure_sent(console: Console, at: float, key: int = 60, *, echo: float | None = None) -> None:
    """The band strikes a key of the figure's manual for a tenth of a second; the console echoes it, or does not."""
    for moment, on in ((at, True), (at + 0.1, False)):
        console.ears.sent(moment, "organ", 2, key, on)
        if echo is not None:
            assert console.play(moment + echo, 0x91 if on else 0x81, key, 64) == []


def test_a_console_that_does_not_echo_swallows_no_key_of_the_players() -> None:
    console = Console()
    for number in range(ENOUGH + 1):
        figure_sent(console, float(number))
    at = float(ENOUGH) + AT_ONCE + 0.01
    assert [event.at for event in console.play(at, 0x91, 60, 64)] == [at]
    assert console.play(at + 0.06, 0x91, 60, 0) == [KeyUp(at=at + 0.06, heard=at + 0.061, division="figure", key=60)]


def test_a_console_that_begins_to_echo_late_in_the_day_is_known() -> None:
    console = Console()
    for number in range(2 * ENOUGH):
        figure_sent(console, float(number))
    figure_sent(console, 50.0, echo=AT_ONCE)


def test_once_the_echo_is_known_the_player_may_strike_the_key_we_sound() -> None:
    console = Console()
    for number in range(3):
        figure_sent(console, float(number), echo=0.008)
    console.ears.sent(5.0, "organ", 2, 60, True)
    assert console.play(5.008, 0x91, 60, 64) == []
    assert console.play(5.012, 0x91, 60, 64) != []


def test_a_release_of_the_players_is_not_lost_where_our_press_did_not_come_back() -> None:
    console = Console()
    console.play(1.0, 0x91, 60, 64)
    console.ears.sent(2.0, "organ", 2, 60, True)
    console.ears.sent(2.1, "organ", 2, 60, False)
    assert [type(event) for event in console.play(2.11, 0x81, 60, 64)] == [KeyUp]


def test_a_sweep_that_comes_back_lets_go_of_no_key_of_the_players() -> None:
    console = Console()
    console.play(1.0, 0x91, 60, 64)
    console.ears.sent(2.0, "organ", 2, 60, False)
    assert console.play(2.01, 0x81, 60, 64) == []
    assert console.ears.holds("organ", 2, 60)


# -- couplers ---------------------------------------------------------------------------------------------------------

COUPLED = replace(
    PLAIN,
    couplers=(
        Coupler(pressed="melody", brings="figure"),
        Coupler(pressed="melody", brings="figure", shift=12),
        Coupler(pressed="pedal", brings="melody"),
        Coupler(pressed="figure", brings="melody", shift=-24),
        Coupler(pressed="melody", brings="melody", shift=12),
    ),
)


def pressed(console: Console, *messages: tuple[float, int, int]) -> list[tuple[str, int]]:
    """Notes on (time, channel, key), each coming up a quarter of a second later: the keys that went down by them."""
    heard: list[Event] = []
    moves = [(at, 0x90 | channel - 1, key) for at, channel, key in messages]
    moves += [(at + 0.25, 0x80 | channel - 1, key) for at, channel, key in messages]
    for at, status, key in sorted(moves):
        heard += console.play(at, status, key, 64)
    heard += console.ears.due(99.0)
    down = [(event.division, event.key) for event in heard if isinstance(event, KeyDown)]
    assert sorted(down) == sorted((event.division, event.key) for event in heard if isinstance(event, KeyUp))
    return down


@pytest.mark.parametrize(
    ("messages", "keys"),
    [
        pytest.param(((1.0, 1, 60), (1.002, 2, 60)), [("melody", 60)], id="unison"),
        pytest.param(((1.0, 2, 60), (1.002, 1, 60)), [("melody", 60)], id="the-twin-first"),
        pytest.param(((1.0, 1, 60), (1.001, 2, 72)), [("melody", 60)], id="octave"),
        pytest.param(((1.0, 2, 72), (1.001, 1, 60), (1.002, 2, 60)), [("melody", 60)], id="both"),
        pytest.param(((1.0, 1, 60), (1.001, 1, 72)), [("melody", 60)], id="octave-of-its-own"),
        pytest.param(((1.0, 4, 40), (1.003, 1, 40)), [("pedal", 40)], id="manual-to-pedal"),
        pytest.param(((1.0, 2, 60), (1.001, 1, 36)), [("figure", 60)], id="pressed-on-the-figure's-manual"),
        pytest.param(((1.0, 1, 60), (1.002, 2, 64)), [("melody", 60), ("figure", 64)], id="two-hands"),
        pytest.param(((1.0, 1, 60), (1.05, 2, 60)), [("melody", 60), ("figure", 60)], id="later-is-a-press"),
    ],
)
def test_one_press_heard_on_two_divisions_is_one_press(
    messages: tuple[tuple[float, int, int], ...], keys: list[tuple[str, int]]
) -> None:
    assert sorted(pressed(Console(COUPLED), *messages)) == sorted(keys)


BOTH_WAYS = replace(
    PLAIN,
    couplers=(
        Coupler(pressed="melody", brings="figure"),
        Coupler(pressed="figure", brings="melody"),
    ),
)
OCTAVES = replace(
    PLAIN,
    couplers=tuple(
        Coupler(pressed=pressed, brings=brings, shift=shift)
        for pressed, brings in (("melody", "melody"), ("melody", "figure"), ("figure", "melody"))
        for shift in (12, -12)
    ),
)


@pytest.mark.parametrize(
    ("first", "second", "heard"), [(1, 2, "melody"), (2, 1, "figure")], ids=["the-tune-first", "the-figure-first"]
)
def test_of_two_manuals_coupled_both_ways_the_one_heard_first_was_pressed(first: int, second: int, heard: str) -> None:
    console = Console(BOTH_WAYS)
    assert pressed(console, (1.0, first, 60), (1.002, second, 60)) == [(heard, 60)]
    assert pressed(console, (2.0, first, 60), (2.05, second, 60)) == [  # later than any coupler
        ("melody" if channel == 1 else "figure", 60) for channel in (first, second)
    ]


@pytest.mark.parametrize("order", list(permutations([48, 60, 72])), ids=str)
def test_with_octaves_up_and_down_the_middle_one_was_pressed(order: tuple[int, ...]) -> None:
    messages = [(1.0 + 0.001 * number, 1, key) for number, key in enumerate(order)]
    assert pressed(Console(OCTAVES), *messages) == [("melody", 60)]


@pytest.mark.parametrize("order", list(permutations([(1, 60), (1, 48), (1, 72), (2, 48), (2, 72)]))[::7], ids=str)
def test_with_octaves_up_and_down_on_two_manuals_one_press_is_one(order: tuple[tuple[int, int], ...]) -> None:
    messages = [(1.0 + 0.001 * number, channel, key) for number, (channel, key) in enumerate(order)]
    assert pressed(Console(OCTAVES), *messages) == [("melody", 60)]


def test_after_a_press_with_octaves_the_next_is_heard_as_ever() -> None:
    console = Console(OCTAVES)
    for beat in range(1, 5):
        order = [48, 60, 72] if beat % 2 else [72, 60, 48]
        messages = [(beat + 0.001 * number, 1, key) for number, key in enumerate(order)]
        assert pressed(console, *messages) == [("melody", 60)]


def test_where_no_coupler_was_learned_nothing_waits_and_a_twin_just_after_is_one() -> None:
    console = Console()
    assert pressed(console, (1.0, 4, 40), (1.003, 1, 40), (1.006, 2, 40)) == [("pedal", 40)]
    assert pressed(console, (2.0, 1, 60), (2.003, 2, 60)) == [("melody", 60)]
    assert pressed(console, (3.0, 2, 60), (3.003, 1, 60)) == [("figure", 60), ("melody", 60)]
    assert console.ears.next_due() is None


def test_a_key_that_may_be_a_twin_waits_only_a_moment() -> None:
    console = Console(COUPLED)
    assert console.play(1.0, 0x91, 60, 64) == []
    assert console.ears.next_due() == pytest.approx(1.0 + TOGETHER)
    assert console.ears.due(1.0 + TOGETHER) == [KeyDown(at=1.0, heard=1.0 + TOGETHER, division="figure", key=60)]
    assert console.ears.next_due() is None


def test_a_key_that_comes_up_while_it_waits_went_down_first() -> None:
    console = Console(COUPLED)
    console.play(1.0, 0x91, 60, 64)
    assert [type(event) for event in console.play(1.01, 0x81, 60, 64)] == [KeyDown, KeyUp]


def test_a_key_that_waits_is_forgotten_when_its_port_goes() -> None:
    console = Console(COUPLED)
    console.play(1.0, 0x91, 60, 64)
    console.ears.lost("console")
    assert console.ears.due(9.0) == []
    assert not console.ears.holds("", 2, 60)


def test_ten_fingers_coupled_over_a_din_line_are_ten_keys() -> None:
    """A message takes 0.96 ms (3 bytes of 10 bits at 31,250 bit/s, MIDI 1.0); the ten twins come first."""
    keys = [*range(60, 70)]
    twins = [(1.0 + 0.00096 * number, 2, key) for number, key in enumerate(keys)]
    own = [(1.0 + 0.00096 * (10 + number), 1, key) for number, key in enumerate(keys)]
    assert pressed(Console(COUPLED), *twins, *own) == [("melody", key) for key in keys]


def test_our_own_key_that_a_coupler_brings_elsewhere_is_an_echo() -> None:
    console = Console(COUPLED)
    console.ears.sent(1.0, "organ", 2, 60, True)
    assert console.play(1.004, 0x90, 36, 64) == []
    assert console.ears.due(9.0) == []


@given(
    st.sampled_from([COUPLED, BOTH_WAYS, OCTAVES]),
    st.lists(st.tuples(st.sampled_from([1, 2, 4]), st.integers(40, 64), st.booleans(), st.floats(0, 0.1)), max_size=40),
)
def test_with_any_couplers_every_key_that_goes_down_comes_up_once(
    profile: Profile, moves: list[tuple[int, int, bool, float]]
) -> None:
    console, at, down = Console(profile), 0.0, set()
    heard: list[Event] = []
    for channel, key, on, wait in moves:
        at += wait
        heard += console.ears.due(at)
        heard += console.play(at, (0x90 if on else 0x80) | channel - 1, key, 64)
    heard += console.ears.due(at + 1.0)
    for channel in (1, 2, 4):
        for key in range(40, 65):
            heard += console.play(at + 2.0, 0x80 | channel - 1, key, 64)
    for event in heard:
        assert isinstance(event, KeyDown | KeyUp)
        if isinstance(event, KeyDown):
            down.add((event.division, event.key))
        else:
            assert (event.division, event.key) in down
            down.discard((event.division, event.key))
    assert not down


@given(st.lists(st.tuples(st.sampled_from(["send", "play"]), st.integers(36, 40), st.booleans()), max_size=40))
def test_a_console_that_echoes_everything_adds_nothing(moves: list[tuple[str, int, bool]]) -> None:
    """With every message we send echoed at once, the events are those of the player alone."""
    plain, echoing = Console(), Console()
    heard, heard_with_echoes = [], []
    for number, (what, key, on) in enumerate(moves):
        at, message = number * 0.5, (0x93 if on else 0x83, key, 64)
        if what == "play":
            heard += plain.play(at, *message)
            heard_with_echoes += echoing.play(at, *message)
        else:
            echoing.ears.sent(at, "organ", 4, key, on)
            heard_with_echoes += echoing.play(at + 0.002, *message)
    assert heard_with_echoes == heard


@given(st.lists(st.tuples(st.floats(0, 1), st.binary(max_size=4))))
def test_no_message_breaks_the_ears(messages: list[tuple[float, bytes]]) -> None:
    console = Console()
    for wait, message in messages:
        for event in console.play(wait, *message):
            assert event.heard >= event.at


# -- the swell shoe ---------------------------------------------------------------------------------------------------


def test_the_shoe_is_heard_where_the_settings_give_it_to_the_band() -> None:
    ears = Interpreter(PLAIN, shoe="fullness")
    assert ears.events(1.0, 1.001, "console", bytes((0xB0, 11, 90))) == [ShoeMoved(at=1.0, heard=1.001, value=90)]
    given_by_profile = Interpreter(replace(PLAIN, settings={"shoe": "fullness"}))
    assert given_by_profile.events(1.0, 1.0, "console", bytes((0xB0, 11, 0)))


def test_a_shoe_that_tells_where_it_is_over_and_over_is_heard_once() -> None:
    ears = Interpreter(PLAIN, shoe="fullness")
    heard = [ears.events(at, at, "console", bytes((0xB0, 11, value))) for at, value in ((1.0, 9), (1.1, 9), (1.2, 10))]
    assert [len(events) for events in heard] == [1, 0, 1]


def test_no_other_control_and_no_other_channel_is_the_shoe() -> None:
    ears = Interpreter(PLAIN, shoe="fullness")
    for message in ((0xB1, 11, 90), (0xB0, 7, 90), (0xB0, 1, 90)):
        assert ears.events(1.0, 1.0, "console", bytes(message)) == []
    assert Interpreter(replace(PLAIN, shoe=None), shoe="fullness").events(1.0, 1.0, "", bytes((0xB0, 11, 90))) == []
