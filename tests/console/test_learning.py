"""Learning a console by pressing. Times are made up; nothing waits. What a switch sends by its make is common practice, no
source, but for the level 64 of a control (MIDI 1.0).
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from liveassist.console.instrument import Coupler
from liveassist.console.learning import (
    COUPLED,
    PADS,
    QUESTIONS,
    SWITCH_WINDOW,
    Learning,
    Question,
    learn,
    learn_console,
)
from liveassist.console.ports import EchoBinding
from liveassist.console.profile import PLAIN, read_profile, write_profile
from liveassist.errors import PlayerError

CONSOLE, RAIL = "console", "rail"
KEYS, CUE_ONLY = QUESTIONS[:4], QUESTIONS[4:5]


def on(channel: int, key: int) -> bytes:
    return bytes((0x90 | channel - 1, key, 80))


def off(channel: int, key: int) -> bytes:
    return bytes((0x80 | channel - 1, key, 0))


def control(value: int, number: int = 64, channel: int = 4) -> bytes:
    return bytes((0xB0 | channel - 1, number, value))


class Player:
    """Plays to a learning, with a clock of its own."""

    def __init__(self, questions: Sequence[Question] = QUESTIONS) -> None:
        self.learning = Learning(questions)
        self.now = 100.0

    def plays(self, *messages: bytes, port: str = CONSOLE, apart: float = 0.1) -> str:
        """Send messages, then wait until the answer is taken; what was said."""
        for message in messages:
            self.learning.hear(self.now, port, message)
            self.now += apart
        due = self.learning.due()
        assert due is not None
        self.now = max(self.now, due)
        return self.learning.settle(self.now)

    def asked(self) -> str:
        question = self.learning.question
        return question.name if question else "nothing more"

    def through_the_keys(self) -> Player:
        for message in (on(4, 36), on(4, 67), on(1, 60), on(2, 60)):
            self.plays(message, off(1 + (message[0] & 15), message[1]))
        return self


def test_a_whole_console_is_learned() -> None:
    player = Player()
    asked = []
    answers = {
        "lowest": (on(4, 36), off(4, 36)),
        "highest": (on(4, 65), off(4, 65)),
        "melody": (on(1, 60), off(1, 60)),
        "figure": (on(2, 72), off(2, 72)),
        "cue": (control(127), control(0)),
        "again": (bytes((0xC0, 5)),),
        "vamp": (on(16, 10), off(16, 10)),
    }
    while player.asked() != "nothing more":
        asked.append(player.asked())
        if player.asked() in answers:
            player.plays(*answers[player.asked()])
        else:
            assert player.learning.skip() == "Passed over."
    assert asked == [
        "lowest",
        "highest",
        "melody",
        "figure",
        "cue",
        "again",
        "on",
        "vamp",
        "out",
        "in",
        "close",
        "cut",
        *COUPLED,
        "pad kick",
    ]
    profile = player.learning.profile("organ")
    assert {name: (division.channel, division.compass) for name, division in profile.divisions.items()} == {
        "pedal": (4, (36, 65)),
        "melody": (1, (36, 96)),
        "figure": (2, (36, 96)),
    }
    assert (profile.parts["figure"].port, profile.parts["figure"].channel) == ("organ", 2)
    assert [(switch.what, switch.by, switch.number, switch.channel) for switch in profile.switches] == [
        ("cue", "control", 64, 4),
        ("again", "program", 5, 1),
        ("vamp", "note", 10, 16),
    ]
    assert read_profile(write_profile(profile)) == profile


def test_a_key_is_not_taken_before_its_window_is_over() -> None:
    player = Player()
    player.learning.hear(100.0, CONSOLE, on(4, 36))
    assert player.learning.settle(100.1) == ""
    assert player.asked() == "lowest"


def test_note_on_with_velocity_0_is_no_press() -> None:
    player = Player()
    player.learning.hear(100.0, CONSOLE, bytes((0x93, 36, 0)))
    assert player.learning.due() is None


@pytest.mark.parametrize(
    ("press", "said"),
    [
        pytest.param((on(4, 36), on(1, 36)), "take the couplers off", id="pedal-coupled-to-a-manual"),
        pytest.param((on(4, 36), on(4, 48)), "without octave couplers", id="octave-coupler"),
        pytest.param((on(4, 36), on(4, 37)), "more than one key", id="two-keys"),
    ],
)
def test_a_press_that_comes_twice_is_asked_again(press: tuple[bytes, ...], said: str) -> None:
    player = Player()
    assert said in player.plays(*press, apart=0.01)
    assert player.asked() == "lowest"
    player.plays(on(4, 36))
    assert player.asked() == "highest"


def test_one_key_by_two_feeds_is_one_press() -> None:
    player = Player()
    player.learning.hear(100.0, "by usb", on(4, 36))
    player.learning.hear(100.01, "by cable", on(4, 36))
    player.learning.settle(101.0)
    assert player.asked() == "highest"


@pytest.mark.parametrize(
    ("highest", "said"),
    [
        pytest.param(on(4, 36), "not above the lowest", id="the-same-pedal"),
        pytest.param(on(4, 30), "not above the lowest", id="lower"),
        pytest.param(on(1, 67), "no pedal", id="a-manual"),
    ],
)
def test_the_highest_pedal_is_on_the_pedalboard_and_above_the_lowest(highest: bytes, said: str) -> None:
    player = Player()
    player.plays(on(4, 36))
    assert said in player.plays(highest)
    assert player.asked() == "highest"


@pytest.mark.parametrize("channel", [pytest.param(4, id="pedal"), pytest.param(1, id="tune")])
def test_the_second_manual_is_another_division(channel: int) -> None:
    player = Player()
    for message in (on(4, 36), on(4, 67), on(1, 60)):
        player.plays(message)
    assert "same port and channel" in player.plays(on(channel, 60))
    assert player.asked() == "figure"


def test_the_same_channel_of_another_port_is_another_manual() -> None:
    player = Player()
    for message in (on(4, 36), on(4, 67), on(1, 60)):
        player.plays(message)
    player.plays(on(1, 60), port="upper")
    assert player.asked() == "cue"


@pytest.mark.parametrize(
    ("first", "more", "by", "rest", "latching"),
    [
        pytest.param((control(127), control(0)), (), "control", "open", False, id="open-at-rest"),
        pytest.param((control(0), control(127)), (), "control", "closed", False, id="closed-at-rest"),
        pytest.param((control(64), control(63)), (), "control", "open", False, id="just-on-just-off"),
        pytest.param((control(127),), (control(0),), "control", "open", True, id="latching"),
        pytest.param((control(0),), (control(127),), "control", "open", True, id="latching-from-on"),
        pytest.param((control(127),), (control(127),), "control", "open", False, id="silent-when-let-go"),
        pytest.param((control(0),), (control(0),), "control", "closed", False, id="closed-silent-when-let-go"),
        pytest.param((control(127),), (control(127), control(0)), "control", "open", False, id="held-long-at-first"),
        pytest.param((on(16, 3), off(16, 3)), (), "note", "open", False, id="a-note"),
        pytest.param((on(16, 3), bytes((0x9F, 3, 0))), (), "note", "open", False, id="a-note-ended-by-velocity-0"),
        pytest.param((off(16, 3), on(16, 3)), (), "note", "closed", False, id="a-note-closed-at-rest"),
        pytest.param((bytes((0xC3, 9)),), (), "program", "open", False, id="a-program-change"),
    ],
)
def test_a_switch_tells_what_it_is(
    first: tuple[bytes, ...], more: tuple[bytes, ...], by: str, rest: str, latching: bool
) -> None:
    player = Player((*KEYS, *CUE_ONLY)).through_the_keys()
    said = player.plays(*first)
    if more:
        assert said == "And once more."
        said = player.plays(*more)
    assert said.startswith("'cue'")
    assert player.asked() == "nothing more"
    (switch,) = player.learning.profile("organ").switches
    assert (switch.by, switch.rest, switch.latching) == (by, rest, latching)


def test_a_switch_may_be_held_for_a_while() -> None:
    player = Player((*KEYS, *CUE_ONLY)).through_the_keys()
    player.plays(control(127), control(0), apart=SWITCH_WINDOW * 0.8)
    assert player.asked() == "nothing more"


def test_another_switch_the_second_time_is_asked_from_the_beginning() -> None:
    player = Player().through_the_keys()
    player.plays(control(127))
    assert "another switch" in player.plays(control(127, number=66))
    assert player.plays(control(127), control(0)).startswith("'cue'")


def test_a_swell_shoe_is_no_switch() -> None:
    player = Player().through_the_keys()
    assert "swell shoe" in player.plays(*(control(value, number=11) for value in range(0, 120, 10)), apart=0.02)
    assert player.asked() == "cue"


def test_a_key_is_no_switch() -> None:
    player = Player().through_the_keys()
    assert "key of the pedal" in player.plays(on(4, 40))
    assert player.asked() == "cue"


def test_a_key_that_is_let_go_late_is_no_answer() -> None:
    player = Player().through_the_keys()
    player.learning.hear(player.now, CONSOLE, off(2, 60))
    assert player.learning.due() is None


def test_one_switch_does_not_ask_for_two_things() -> None:
    player = Player().through_the_keys()
    player.plays(control(127), control(0))
    assert "'cue' already" in player.plays(control(127), control(0))
    assert player.asked() == "again"


def test_keys_cannot_be_passed_over() -> None:
    player = Player()
    assert "needed" in player.learning.skip()
    assert player.asked() == "lowest"


def test_nothing_is_asked_after_the_last_question() -> None:
    player = Player(KEYS).through_the_keys()
    player.learning.hear(player.now, CONSOLE, on(1, 60))
    assert player.learning.due() is None
    assert player.learning.settle(player.now + 10) == player.learning.skip() == ""


# -- couplers and transposers ---------------------------------------------------------------------------------------


def coupled(*messages: bytes) -> tuple[Player, str]:
    """A console whose couplers are on, at the question for the tune's manual; what was said to what came."""
    asked = [question for question in QUESTIONS if question.name == "coupled melody"]
    player = Player((*KEYS, *asked)).through_the_keys()
    return player, player.plays(*messages, apart=0.001)


@pytest.mark.parametrize(
    ("came", "couplers", "said"),
    [
        pytest.param((on(1, 60),), (), "one press is one key", id="none"),
        pytest.param((on(1, 60), on(2, 60)), (("figure", 0),), "the second manual at the same pitch", id="unison"),
        pytest.param((on(2, 60), on(1, 60)), (("figure", 0),), "the second manual", id="the-twin-first"),
        pytest.param((on(1, 60), on(2, 72)), (("figure", 12),), "an octave higher", id="octave"),
        pytest.param((on(1, 60), on(2, 48)), (("figure", -12),), "an octave lower", id="sub-octave"),
        pytest.param((on(1, 60), on(1, 72)), (("melody", 12),), "an octave higher", id="octave-of-its-own"),
        pytest.param(
            (on(1, 60), on(2, 60), on(2, 72), on(4, 60)),
            (("figure", 0), ("figure", 12), ("pedal", 0)),
            "and the second manual an octave higher and the pedal",
            id="everything-drawn",
        ),
        pytest.param((on(1, 60), on(7, 60)), (), "one press is one key", id="a-channel-of-no-division"),
    ],
)
def test_couplers_are_learned_by_pressing_the_same_key_again(
    came: tuple[bytes, ...], couplers: tuple[tuple[str, int], ...], said: str
) -> None:
    player, told = coupled(*came)
    assert said in told
    assert player.asked() == "nothing more"
    learned = player.learning.profile("organ").couplers
    assert set(learned) == {Coupler(pressed="melody", brings=brings, shift=shift) for brings, shift in couplers}


@pytest.mark.parametrize(
    ("came", "said"),
    [
        pytest.param(on(1, 61), "1 half step higher: another key, or a transposer is on", id="transposer-up"),
        pytest.param(on(1, 58), "2 half steps lower", id="transposer-down"),
        pytest.param(on(2, 60), "did not come from the tune's manual", id="another-manual"),
    ],
)
def test_a_shifted_division_is_told_and_asked_again(came: bytes, said: str) -> None:
    player, told = coupled(came)
    assert said in told
    assert player.asked() == "coupled melody"


@pytest.mark.parametrize(
    ("lowest", "highest", "notes"),
    [
        pytest.param(36, 67, 32, id="AGO-and-RCO-32"),
        pytest.param(36, 65, 30, id="BDO-30"),
        pytest.param(36, 60, 25, id="spinet-25"),
    ],
)
def test_the_pedalboards_that_there_are_begin_at_c(lowest: int, highest: int, notes: int) -> None:
    """Compasses of AGO, RCO (C to g', 32 notes) and BDO (C to f', 30 notes); the octave's number is MIDI's."""
    player = Player()
    assert "transposer" not in player.plays(on(4, lowest))
    assert f"{notes} notes" in player.plays(on(4, highest))


@pytest.mark.parametrize(("lowest", "said"), [(37, "C♯, 1 half step higher"), (34, "A♯, 2 half steps lower")])
def test_a_pedalboard_that_does_not_begin_at_c_is_told(lowest: int, said: str) -> None:
    assert said in Player().plays(on(4, lowest))


# -- over wires -------------------------------------------------------------------------------------------------------


class Bench:
    """A player at wires, who answers each question as it is asked and types Enter at the rest."""

    ANSWERS = (
        ("the lowest pedal", (on(4, 36),)),
        ("the highest pedal", (on(4, 67),)),
        ("any key on the manual for the tune", (on(1, 60),)),
        ("any key on the second manual", (on(2, 60),)),
        ("Press the foot switch", (control(127), control(0))),
    )

    def __init__(self, *ports: str, types: Sequence[str] = ()) -> None:
        self.now = 100.0
        self.wires = EchoBinding(*ports, clock=lambda: self.now)
        self._console = self.wires.open_output(ports[0]) if ports else None
        self._types = list(types)
        self._enter = False
        self.said: list[str] = []

    def says(self, text: str) -> None:
        self.said.append(text)
        for words, messages in self.ANSWERS:
            if words in text and self._console is not None:
                for message in messages:
                    self._console.send(message)
                return
        self._enter = "or Enter" in text

    def typed(self, seconds: float) -> str | None:
        self.now += seconds
        if self._enter:
            self._enter = False
            return "\n"
        asked = any("Type its number" in text for text in self.said)
        return self._types.pop(0) if asked and self._types else None


def test_a_console_is_learned_over_its_ports() -> None:
    bench = Bench("console")
    profile = learn(bench.wires, bench.says, bench.typed, clock=lambda: bench.now)
    assert profile.divisions["pedal"].port == "console"
    assert profile.parts["figure"].port == "console"
    assert [switch.what for switch in profile.switches] == ["cue"]
    assert any("32 notes" in text for text in bench.said)


def test_a_cable_pulled_meanwhile_is_told_and_the_questions_go_on_when_it_is_back() -> None:
    bench = Bench("console", "spare")
    gone, back = '"console" has gone: is it unplugged or switched off?', '"console" is back'

    def says(text: str) -> None:
        if "the highest" in text and gone not in bench.said:
            bench.wires.unplug("console")
        bench.says(text)
        if text == gone:
            bench.wires.plug("console")
        if text == back:
            bench._console = bench.wires.open_output("console")

    def typed(seconds: float) -> str | None:
        assert bench.now < 200.0, bench.said
        return bench.typed(seconds)

    profile = learn(bench.wires, says, typed, clock=lambda: bench.now)
    assert profile.divisions["pedal"].compass == (36, 67)
    highest = "Play the highest pedal."
    told = [text for text in bench.said if text in (gone, back, highest)]
    assert told == [highest, gone, highest, back, highest]


def test_an_organ_on_a_port_of_another_name_is_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench("console", types=["organ\n", "9\n", "2\n"])
    monkeypatch.setattr(bench.wires, "outputs", lambda: ["house organ", "chapel organ"])
    profile = learn(bench.wires, bench.says, bench.typed, clock=lambda: bench.now)
    assert profile.parts["figure"].port == "chapel organ"
    assert bench.said.count("A number from 1 to 2, please.") == 2


def test_the_only_organ_needs_no_asking(monkeypatch: pytest.MonkeyPatch) -> None:
    bench = Bench("console")
    monkeypatch.setattr(bench.wires, "outputs", lambda: ["house organ"])
    profile = learn(bench.wires, bench.says, bench.typed, clock=lambda: bench.now)
    assert profile.parts["figure"].port == "house organ"


def test_a_machine_without_instruments_is_told() -> None:
    bench = Bench()
    with pytest.raises(PlayerError, match="plugged in and switched on"):
        learn(bench.wires, bench.says, bench.typed)


def test_a_profile_that_is_there_is_not_written_over(tmp_path: Path) -> None:
    path = tmp_path / "church.toml"
    path.write_text("name = 'mine'\n")
    with pytest.raises(PlayerError, match=r"church\.toml is there already"):
        learn_console(path)
    assert path.read_text() == "name = 'mine'\n"


def test_nothing_is_learned_for_a_folder_that_is_not_there(tmp_path: Path) -> None:
    with pytest.raises(PlayerError, match="there is no folder"):
        learn_console(tmp_path / "church" / "console.toml")


def test_what_was_learned_is_shown_where_it_cannot_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def full(path: Path, text: str) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("liveassist.console.learning.midi_binding", EchoBinding)
    monkeypatch.setattr("liveassist.console.learning.learn", lambda *_: PLAIN)
    monkeypatch.setattr("liveassist.console.learning.write_whole", full)
    with pytest.raises(PlayerError, match="No space left"):
        learn_console(tmp_path / "console.toml")
    assert "[divisions.pedal]" in capsys.readouterr().out


def test_it_stops_when_the_terminal_has_gone(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("liveassist.console.learning.midi_binding", lambda: EchoBinding("console", "organ"))
    monkeypatch.setattr("liveassist.console.typing_in.open", lambda *_, **__: iter(()), raising=False)
    assert learn_console(tmp_path / "console.toml") == 130


# -- a drummer's pads -------------------------------------------------------------------------------------------------


def at_the_pads() -> Player:
    """All keys learned, the switches and couplers passed over."""
    player = Player((*KEYS, *(question for question in QUESTIONS if question.name in PADS))).through_the_keys()
    assert player.asked() == "pad kick"
    return player


def test_pads_are_learned_one_after_the_other() -> None:
    player = at_the_pads()
    for key in (22, 25, 27):
        player.plays(on(10, key), off(10, key), port="pads")
    player.learning.skip()  # no crash
    player.plays(on(10, 40), off(10, 40), port="pads")
    assert player.asked() == "nothing more"
    profile = player.learning.profile("organ")
    assert profile.kit == {"kick": (22,), "snare": (25,), "hat": (27,), "sticks": (40,)}
    assert (profile.divisions["drums"].port, profile.divisions["drums"].channel) == ("pads", 10)
    assert read_profile(write_profile(profile)) == profile


def test_without_a_kick_there_is_no_kit_and_no_more_questions() -> None:
    player = at_the_pads()
    assert player.learning.skip() == "Passed over."
    assert player.asked() == "nothing more"
    assert "drums" not in player.learning.profile("organ").divisions


@pytest.mark.parametrize(
    ("strokes", "said"),
    [
        pytest.param([(on(4, 40), CONSOLE)], "strike the pad", id="a-pedal"),
        pytest.param([(on(10, 22), "pads"), (on(10, 22), "pads")], "is the kick already", id="the-same-pad"),
        pytest.param([(on(10, 22), "pads"), (on(11, 25), "pads")], "The kit is channel 10", id="another-channel"),
    ],
)
def test_what_is_no_other_pad_is_asked_for_again(strokes, said) -> None:
    player = at_the_pads()
    told = [player.plays(message, port=port) for message, port in strokes]
    assert said in told[-1]
    assert player.asked() in ("pad kick", "pad snare")
