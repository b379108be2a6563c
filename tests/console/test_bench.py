"""The bench check at wires: a player who answers on the keys and by typing. Nothing waits; the clock is the test's.

The organ at the other end keeps its own account of what sounds, and heeds note-on and note-off only (MIDI 1.0)."""

from __future__ import annotations

import json
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path

import pytest

from liveassist.console.bench import CHORD, LOOK, PASSED, TICKS, WELL, WRONG, Line, in_order, save, steps_of
from liveassist.console.checking import check
from liveassist.console.instrument import Part, Profile, Switch
from liveassist.console.laptop import Look
from liveassist.console.ports import EchoBinding
from liveassist.console.profile import read_profile

CONSOLE = """
name = "Quay"
[divisions.melody]
port = "console"
channel = 1
[divisions.figure]
port = "console"
channel = 2
[divisions.pedal]
port = "console"
channel = 4
[parts.figure]
port = "organ"
channel = 2
[parts.click]
port = "ears"
channel = 10
[[switches]]
what = "cue"
port = "console"
channel = 4
control = 64
[[switches]]
what = "vamp"
argument = 4
port = "console"
channel = 16
program = 3
"""
PROFILE = read_profile(CONSOLE)

PRESSES: dict[str, tuple[bytes, ...]] = {
    "Play any pedal": (b"\x93\x24\x40", b"\x83\x24\x40"),
    "for the tune": (b"\x90\x3c\x40", b"\x90\x3c\x00"),
    "on the second manual: by that": (b"\x91\x3c\x40", b"\x91\x3c\x00"),
    "moves the place on": (b"\xb3\x40\x7f", b"\xb3\x40\x00"),
    "asks for 'vamp'": (b"\xcf\x03",),
}


class Player:
    """Answers each question as it is asked."""

    def __init__(
        self,
        *,
        ports: Sequence[str] = ("console", "organ", "ears"),
        presses: dict[str, tuple[bytes, ...]] | None = None,
        types: Callable[[str, Player], str | None] = lambda asked, player: "y\n" if "(y or n" in asked else None,
    ) -> None:
        self.now = 100.0
        self.wires = EchoBinding(*ports, clock=lambda: self.now)
        self._keys = self.wires.open_output("console")
        self._presses = PRESSES if presses is None else presses
        self._types = types
        self.asked = ""
        self.said: list[str] = []
        self.came: dict[str, list[bytes]] = {name: [] for name in ports}
        for name in ports:
            self.wires.open_input(name, lambda at, message, name=name: self.came[name].append(message))

    def says(self, text: str) -> None:
        self.said.append(text)
        if "(" not in text:
            return
        self.asked = text
        for words, messages in self._presses.items():
            if words in text:
                for message in messages:
                    self._keys.send(message)

    def typed(self, seconds: float) -> str | None:
        self.now += seconds
        if self.now > 200.0:
            pytest.fail(f"nobody answers: {self.said}")
        return self._types(self.asked, self)

    def checks(self, profile: Profile = PROFILE, laptop: Sequence[Look] = ()) -> dict[str, str]:
        found = check(profile, self.wires, self.says, self.typed, lambda: self.now, laptop)
        return {line.name: line.verdict for line in found}

    def sounding(self, port: str = "organ") -> set[int]:
        keys: set[int] = set()
        for message in self.came[port]:
            (keys.add if message[0] & 0xF0 == 0x90 and message[2] else keys.discard)(message[1])
        return keys


def test_everything_in_order() -> None:
    player = Player()
    found = player.checks(laptop=[Look("power", True, "the charger is in"), Look("sleep", False, "set it to never")])
    ports = {"port, heard": WELL, "port, played": WELL}
    steps = ("pedal", "tune", "own hand", "switch 'cue'", "switch 'vamp'", "figure", "silence", "click")
    assert found == {**ports, **dict.fromkeys(steps, WELL), "power": WELL, "sleep": LOOK}
    assert player.sounding() == player.sounding("ears") == set()


def test_the_chord_sounds_on_the_figures_manual_until_it_is_answered() -> None:
    sounding: list[set[int]] = []

    def types(asked: str, player: Player) -> str | None:
        if "A chord sounds" in asked:
            sounding.append(player.sounding())
            return "y\n" if len(sounding) > 20 else None
        return "y\n" if "(y or n" in asked else None

    player = Player(types=types)
    player.checks()
    assert sounding[1] == sounding[-1] == set(CHORD)
    assert {message[0] for message in player.came["organ"]} == {0x91, 0x81}, "on channel 2, and nothing but notes"
    assert len(player.came["organ"]) == 2 * len(CHORD)


def test_the_click_goes_to_the_ears_alone() -> None:
    waited = []

    def types(asked: str, player: Player) -> str | None:
        if "The click goes" in asked:
            waited.append(player.now)
            return "y\n" if waited[-1] - waited[0] > 10.0 else None
        return "y\n" if "(y or n" in asked else None

    player = Player(types=types)
    player.checks()
    assert [message[0] for message in player.came["ears"]] == [0x99, 0x89] * TICKS


def test_every_line_can_be_passed_over() -> None:
    player = Player(presses={}, types=lambda asked, player: "\n")
    found = player.checks()
    assert {verdict for name, verdict in found.items() if not name.startswith("port")} == {PASSED}
    assert player.sounding() == set()


def test_what_is_not_heard_is_wrong() -> None:
    presses = {words: messages for words, messages in PRESSES.items() if "pedal" not in words}
    player = Player(
        presses=presses, types=lambda asked, player: "n\n" if "pedal" in asked or "chord" in asked else "\n"
    )
    found = player.checks()
    assert found["pedal"] == WRONG
    assert found["figure"] == WRONG
    assert not in_order([Line(name, verdict, "") for name, verdict in found.items()])


def test_a_pedal_that_comes_as_the_tune_is_told() -> None:
    presses = {"Play any pedal": (b"\x90\x24\x40",)}
    player = Player(presses=presses, types=lambda asked, player: "n\n" if player.now > 105.0 else None)
    player.checks()
    assert "  I heard key 36 of the tune's manual" in player.said


def test_a_yes_does_not_make_a_silent_pedal_heard() -> None:
    def types(asked: str, player: Player) -> str:
        return "y\n" if player.now < 105.0 else "\n"

    assert Player(presses={}, types=types).checks()["pedal"] == PASSED


def test_a_port_that_is_not_there_is_wrong() -> None:
    player = Player(ports=("console", "ears"))
    found = player.checks()
    assert found["port, played"] in (WELL, WRONG)
    assert any(text.startswith(WRONG) and '"organ"' in text for text in player.said)


@pytest.mark.parametrize("stop", [KeyboardInterrupt, EOFError])
@pytest.mark.parametrize("during", ["A chord sounds", "The click goes", "Play any pedal"])
def test_whatever_ends_it_nothing_sounds(stop: type[BaseException], during: str) -> None:
    turns: list[float] = []

    def types(asked: str, player: Player) -> str | None:
        if during in asked:
            turns.append(player.now)
            if len(turns) == 2:
                raise stop
            return None
        return "y\n" if "(y or n" in asked else None

    presses = {words: messages for words, messages in PRESSES.items() if words not in during}
    player = Player(types=types, presses=presses)
    with pytest.raises(stop):
        player.checks()
    assert player.sounding() == player.sounding("ears") == set()


def test_a_console_that_echoes_the_chord_takes_nothing_over() -> None:
    profile = read_profile(CONSOLE.replace('"organ"', '"console"'))
    player = Player()
    assert player.checks(profile)["figure"] == WELL
    assert not [text for text in player.said if text.startswith("  I heard")]


def test_a_switch_for_each_thing_it_asks() -> None:
    switches = tuple(
        Switch(what=what, by="program", number=n, channel=16) for n, what in enumerate(("in", "out", "close"))
    )
    names = [step.name for step in steps_of(Profile(switches=switches))]
    assert names == ["switch 'in'", "switch 'out'", "switch 'close'"]


def test_each_part_of_the_band_is_sounded_where_it_goes() -> None:
    parts = {"figure": Part(channel=2), "answer": Part(channel=3), "bass": Part(channel=5)}
    assert [step.name for step in steps_of(Profile(parts=parts))] == ["figure", "answer", "bass", "silence"]


def test_a_console_without_click_or_figure_is_not_asked_for_them() -> None:
    assert [step.name for step in steps_of(Profile(parts={"click": Part(channel=10)}))] == ["click"]


def test_what_was_found_is_kept(tmp_path: Path) -> None:
    now = datetime(2031, 5, 4, 9, 30, tzinfo=UTC)
    folder = tmp_path / "takes"
    said = save(folder, [Line("pedal", WELL, "heard, key 36")], "Quay", now)
    path = folder / "2031-05-04-093000-bench-check.json"
    assert said == f"kept in {path}"
    kept = json.loads(path.read_text(encoding="utf-8"))
    assert kept["at"] == "2031-05-04T09:30:00+00:00"
    assert kept["console"] == "Quay"
    assert kept["lines"] == [{"name": "pedal", "verdict": "well", "text": "heard, key 36"}]


def test_a_folder_that_cannot_be_had_is_told(tmp_path: Path) -> None:
    (tmp_path / "takes").write_text("a file")
    assert save(tmp_path / "takes", [], "Quay", datetime(2031, 5, 4, tzinfo=UTC)).startswith("not kept: ")


def test_a_word_that_means_nothing_is_told_and_the_question_stands() -> None:
    answers = iter(["what\n", "Yes\n"])

    def types(asked: str, player: Player) -> str | None:
        if "A chord sounds" in asked:
            return next(answers)
        return "y\n" if "(y or n" in asked else None

    player = Player(types=types)
    assert player.checks()["figure"] == WELL
    assert [text for text in player.said if "means nothing" in text or "tells me nothing" in text] == [
        '  "what" tells me nothing: I know y, n and Enter'
    ]


def test_the_question_is_asked_again_below_the_news_of_a_cable() -> None:
    def types(asked: str, player: Player) -> str | None:
        if "Play any pedal" in asked and not any("has gone" in text for text in player.said):
            if "ears" in player.wires.outputs():
                player.wires.unplug("ears")
            return None
        return "\n" if "Enter passes" in asked else "y\n"

    player = Player(types=types, presses={})
    player.checks()
    gone = next(place for place, text in enumerate(player.said) if '"ears" has gone' in text)
    assert player.said[gone + 1] == next(text for text in player.said if "Play any pedal" in text)
