"""The launcher: what it hands to the band, how it goes on after a crash, what it says. No MIDI system is needed here."""

from __future__ import annotations

import os
import re
import signal
import threading
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import datetime
from pathlib import Path
from typing import Any

import pytest

import liveassist.desk
from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import NodTaken, PlaceIs, StateIs
from liveassist.band.states import FINE, PLAYING, READY, TACET
from liveassist.console import launcher, settling
from liveassist.console.ensemble import Ensemble
from liveassist.console.instrument import SCRIPT, Division, Part, Profile, contradictions
from liveassist.console.launcher import Session, again, band_spec, in_words
from liveassist.console.ports import EchoBinding, PortAmbiguous, PortUnknown
from liveassist.console.profile import PLAIN, read_profile
from liveassist.console.settling import by_laptop, scripted, settled
from liveassist.console.spec import read_spec
from liveassist.console.take_names import take_path
from liveassist.console.takes import Header, TakeWriter, read_take
from liveassist.errors import PlayerError
from liveassist.link import LinkReader
from liveassist.settings import Settings, layered

QUAY = """
title = Quay, at night
key = D
tempo = quarter 120
feel = quarters

== Verse ==
| D | G | A | D |

== Ending ==
| G | A | D |]
"""
ROUTE = unfold(read_chart(QUAY))


def session(**more: Any) -> Session:
    return Session(
        **{"chart": read_chart(QUAY, "quay.chart"), "profile": PLAIN, "layered": layered(), "take": "", **more}
    )


# -- what is handed on ------------------------------------------------------------------------------------------------


def test_the_spec_carries_everything_through_one_line() -> None:
    own = {"feels": {"quay.toml": 'name = "quay"\n'}, "notices": ("night.toml: grid: is missing",)}
    played = session(script=((1.0, b"\x93\x26\x40"),), sound="Kitchen", **own)
    spec = band_spec(played, "a.jsonl", "letter.json", "token")
    line = spec.line()
    assert "\n" not in line
    assert read_spec(line) == spec
    assert read_chart(spec.chart).title == "Quay, at night"
    assert read_profile(spec.profile) == PLAIN
    assert Settings(**spec.settings) == Settings()
    assert spec.script == ((1.0, "932640"),)
    assert (spec.feels, spec.notices) == (own["feels"], own["notices"])


@pytest.mark.parametrize("line", ["", "{}", "[]", "3", '{"chart": "", "mood": 3}'])
def test_a_line_that_is_no_spec_is_refused(line: str) -> None:
    with pytest.raises(ValueError):
        read_spec(line)


def test_how_a_desk_ends_means_the_same_on_both_sides() -> None:
    here = (launcher.DESK_LEFT, launcher.DESK_RESTART, launcher.DESK_REFUSED)
    assert here == (liveassist.desk.EXIT_LEFT, liveassist.desk.EXIT_RESTART, liveassist.desk.EXIT_REFUSED)


def test_takes_are_kept_by_date_time_and_title() -> None:
    path = Path(take_path("Wohin? / Là-bas … (№ 3)", datetime(2026, 1, 4, 10, 5, 6)))
    assert path.name == "2026-01-04-100506-wohin-là-bas-3.jsonl"
    assert path.parent.name == "takes"
    assert Path(take_path("???")).name.endswith("-untitled.jsonl")


# -- ports ------------------------------------------------------------------------------------------------------------


def test_with_one_instrument_the_plain_console_finds_its_ports() -> None:
    found = settled(PLAIN, Settings(), EchoBinding("Midi Through Port-0", "House Organ"))
    assert found.input_ports == ("House Organ",)
    assert found.output_ports == ("House Organ",)
    assert read_profile(launcher.write_profile(found)) == found


def test_with_two_instruments_it_asks_which() -> None:
    with pytest.raises(PortAmbiguous, match=r'"House Organ", "Keyboard"\. Which one.*liveassist console'):
        settled(PLAIN, Settings(), EchoBinding("House Organ", "Keyboard"))


def test_without_an_instrument_it_says_so() -> None:
    with pytest.raises(PortUnknown, match="plugged in and switched on"):
        settled(PLAIN, Settings(), EchoBinding("Midi Through Port-0"))


HALL = Profile(
    divisions={"pedal": Division(port="pedals", channel=4, compass=(36, 67))},
    parts={"figure": Part(port="organ", channel=2), "click": Part(port="in-ears", channel=10)},
)


@pytest.mark.parametrize(
    ("there", "lead", "missing"),
    [
        pytest.param(("pedals", "organ"), "feet", "", id="the-click-may-be-away"),
        pytest.param(("organ",), "pulse", "", id="without-pedals-when-the-feet-do-not-lead"),
        pytest.param(("organ",), "feet", "pedals", id="pedals-away"),
        pytest.param(("pedals",), "feet", "organ", id="organ-away"),
    ],
)
def test_what_the_music_cannot_do_without_must_be_there(there: tuple[str, ...], lead: str, missing: str) -> None:
    if missing:
        with pytest.raises(PortUnknown, match=f'no MIDI port "{missing}"'):
            settled(HALL, Settings(lead=lead), EchoBinding(*there))
    else:
        assert settled(HALL, Settings(lead=lead), EchoBinding(*there)) == HALL


# -- going on ---------------------------------------------------------------------------------------------------------


def place(change: int) -> PlaceIs:
    return PlaceIs(at=1.0, change=change, position=ROUTE.changes[change].position, bpm=120.0, sure=1.0)


def test_another_band_goes_on_at_the_last_place_in_the_same_key_and_silent(tmp_path: Path) -> None:
    path = str(tmp_path / "quay.jsonl")
    take = TakeWriter(path, Header())
    nods = [NodTaken(at=1.0, nod=nod) for nod in ("up", "up", "down", "fuller")]
    for action in (place(0), place(1), *nods, place(2)):
        take.action(action)
    take.close()
    spec = again(band_spec(session(), path, "letter", "token"), ROUTE)
    settings = Settings(**spec.settings)
    assert (settings.from_bar, settings.out, settings.armed, settings.fullness) == (2, True, True, 3)
    assert spec.nods == ("up",)
    assert spec.take == str(tmp_path / "quay-part2.jsonl")
    assert again(spec, ROUTE).take == str(tmp_path / "quay-part3.jsonl")
    assert spec.origin["from_bar"] == "the last place"


@pytest.mark.parametrize(
    ("left", "lift"),
    [
        pytest.param((PLAYING, FINE, TACET), 0, id="after the fine"),
        pytest.param((PLAYING, TACET), 0, id="left in the middle"),
        pytest.param((READY, TACET), 1, id="never begun"),
    ],
)
def test_a_key_that_was_left_with_the_song_does_not_come_back(tmp_path: Path, left: tuple[str, ...], lift: int) -> None:
    take = TakeWriter(tmp_path / "quay.jsonl", Header())
    for action in (NodTaken(at=1.0, nod="up"), *(StateIs(at=2.0, state=state) for state in left), place(0)):
        take.action(action)
    take.close()
    assert again(band_spec(session(), str(take.path), "letter", "token"), ROUTE).nods == ("up",) * lift


@pytest.mark.parametrize("take", ["", "no such file"])
def test_without_a_take_it_begins_where_it_began(take: str) -> None:
    spec = band_spec(session(layered=layered(("here", {"from_bar": 3}))), take, "letter", "token")
    assert again(spec, ROUTE).settings["from_bar"] == 3
    assert again(spec, ROUTE).nods == ()


# -- what is said -----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("told", "said"),
    [
        pytest.param({"kind": "band", "pid": 1}, "", id="started"),
        pytest.param({"kind": "alive"}, "", id="alive"),
        pytest.param({"kind": "port", "name": "o", "well": True, "text": '"o" is open'}, "", id="port-well"),
        pytest.param(
            {"kind": "port", "name": "o", "well": False, "text": '"o" has gone'}, '"o" has gone', id="port-gone"
        ),
        pytest.param({"kind": "wrong", "text": "no"}, "no", id="wrong"),
        pytest.param(
            {"kind": "silenced", "why": "hung", "after_ms": 3.0, "notes": 4},
            "the band did not answer any more and was ended with keys down (4): the organ has been silenced",
            id="silenced",
        ),
        pytest.param({"kind": "ended", "why": "died", "code": -9}, "the band died", id="died"),
        pytest.param({"kind": "ended", "why": "left", "code": 0}, "", id="left"),
        pytest.param(
            {"kind": "ended", "why": "left", "code": 70},
            "the band ended, because something was wrong inside it (code 70)",
            id="bug",
        ),
    ],
)
def test_the_guardians_news_in_words(told: dict[str, Any], said: str) -> None:
    assert in_words(told) == said


# -- the desk in front ------------------------------------------------------------------------------------------------


class FakeEnsemble:
    """A band that plays on, or has died."""

    def __init__(self, *, playing: bool = True) -> None:
        self.playing = playing
        self.started: list[Any] = []

    def start(self, spec: Any) -> tuple[str, int]:
        self.started.append(spec)
        self.playing = True
        return "127.0.0.1", 2

    def news(self, wait: float = 0.0) -> None:
        return None

    def has_ended(self, *, within: float) -> bool:
        return not self.playing


@pytest.fixture
def in_front(monkeypatch: pytest.MonkeyPatch) -> Callable[..., list[int]]:
    """Run the desk loop with desks that end with these codes, and a player who types these lines."""

    def run(ensemble: FakeEnsemble, codes: list[int], typed: str = "") -> list[int]:
        ports: list[int] = []
        ends, lines = iter(codes), iter(typed.splitlines())

        def desk(terminal: object, address: tuple[str, int], token: str) -> int:
            ports.append(address[1])
            return next(ends)

        monkeypatch.setattr(launcher, "_desk", desk)
        monkeypatch.setattr("builtins.input", lambda: next(lines))
        spec = band_spec(session(), "", "letter", "token")
        assert launcher._with_desk(ensemble, spec, lambda last: again(last, ROUTE), ("127.0.0.1", 1)) == 0  # type: ignore[arg-type]
        return ports

    return run


@pytest.mark.parametrize("code", [launcher.DESK_LEFT, launcher.DESK_REFUSED])
def test_the_music_ends_when_the_player_leaves_the_desk(in_front: Callable[..., list[int]], code: int) -> None:
    assert in_front(FakeEnsemble(), [code]) == [1]


def test_a_dead_band_is_started_again_when_the_player_asks(in_front: Callable[..., list[int]]) -> None:
    ensemble = FakeEnsemble(playing=False)
    assert in_front(ensemble, [launcher.DESK_RESTART, launcher.DESK_LEFT]) == [1, 2]
    assert ensemble.started[0].settings["out"] is True


def test_a_band_that_still_plays_is_not_started_twice(in_front: Callable[..., list[int]]) -> None:
    ensemble = FakeEnsemble()
    assert in_front(ensemble, [launcher.DESK_RESTART, launcher.DESK_LEFT]) == [1, 1]
    assert ensemble.started == []


def test_a_desk_that_fell_over_is_offered_again_and_the_band_plays_on(
    in_front: Callable[..., list[int]], capsys: pytest.CaptureFixture[str]
) -> None:
    ensemble = FakeEnsemble()
    assert in_front(ensemble, [1, -9, 1], "\n\nq\n") == [1, 1, 1]
    assert ensemble.started == []
    assert capsys.readouterr().out.count("the band plays on") == 3


# -- with a real guardian and a real band, and no port ----------------------------------------------------------------


@pytest.fixture
def ensemble() -> Iterator[Ensemble]:
    with Ensemble(PLAIN) as found:
        yield found


def test_a_band_without_ports_plays_a_script_and_ends_properly(tmp_path: Path, until: Callable[..., None]) -> None:
    take = str(tmp_path / "take.jsonl")
    foot = ((0.3, b"\x93\x26\x40"),)
    with Ensemble(PLAIN) as ensemble:
        address = ensemble.start(band_spec(session(script=foot), take, ensemble.letter, "token"))
        reader = LinkReader(address, "token")
        states: list[str] = []

        def plays() -> bool:
            picture = reader.read()
            if picture is not None:
                states.append(picture.state)
            return "playing" in states

        until(plays)
        reader.close()
    assert not ensemble.playing
    found = read_take(take)
    assert found.header.title == "Quay, at night"
    assert found.header.chart == QUAY
    assert len(found.events) == 1
    assert found.remarks == ()


def test_what_the_band_cannot_play_is_told_by_the_launcher(ensemble: Ensemble, tmp_path: Path) -> None:
    there = tmp_path / "take.jsonl"
    there.write_text("")
    spec = band_spec(session(take=str(there)), str(there), ensemble.letter, "token")
    with pytest.raises(PlayerError, match="there is a take of that name already"):
        ensemble.start(spec)


def test_a_takes_folder_that_cannot_be_had_does_not_stop_the_music(
    ensemble: Ensemble, until: Any, tmp_path: Path
) -> None:
    (tmp_path / "file").write_text("")
    spec = band_spec(session(take=None), str(tmp_path / "file" / "take.jsonl"), ensemble.letter, "token")
    reader = LinkReader(ensemble.start(spec), "token")
    told: list[str] = []

    def is_told() -> bool:
        picture = reader.read()
        told.extend(line.text for line in picture.heard if picture) if picture else None
        return any(text.startswith("no take is written") for text in told)

    until(is_told)


def test_a_band_that_falls_over_before_it_begins_is_told_with_its_story(ensemble: Ensemble) -> None:
    spec = replace(band_spec(session(), "", ensemble.letter, "token"), settings={"mood": "good"})
    with pytest.raises(PlayerError, match="mood"):
        ensemble.start(spec)


def test_after_a_bug_or_a_kill_another_band_plays_under_the_same_guardian(ensemble: Ensemble, until: Any) -> None:
    spec = band_spec(session(), "", ensemble.letter, "token")
    first = ensemble.start(spec)
    pids: list[int] = []
    ended: list[str] = []

    def gone() -> bool:
        told = ensemble.news()
        if told is not None and told["kind"] == "band":
            pids.append(told["pid"])
            os.kill(told["pid"], signal.SIGKILL)
        if told is not None and told["kind"] == "ended":
            ended.append(told["why"])
        return bool(ended)

    until(gone)
    assert ended == ["died"]
    assert not ensemble.playing
    assert ensemble.start(again(spec, ROUTE)) != first
    assert ensemble.playing


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGINT], ids=["TERM", "Ctrl-C"])
def test_term_and_ctrl_c_end_the_music_properly(
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    until: Callable[..., None],
    number: signal.Signals,
) -> None:
    take = tmp_path / "take.jsonl"
    before = signal.getsignal(signal.SIGTERM)
    heeded = signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell may start us with Ctrl-C ignored

    def end_it() -> None:
        until(lambda: take.exists() and b"note on" in take.read_bytes())
        os.kill(os.getpid(), number)

    ender = threading.Thread(target=end_it)
    ender.start()
    assert launcher.run(session(take=str(take), script=((0.1, b"\x93\x26\x40"),)), desk=False) == 0
    ender.join()
    signal.signal(signal.SIGINT, heeded)
    assert signal.getsignal(signal.SIGTERM) is before
    assert re.search(r"The band is ready. Ctrl-C ends it. Take: .*take.jsonl", capsys.readouterr().out)
    found = read_take(take)
    assert len(found.events) == 1
    assert found.remarks == ()


def test_a_demo_without_a_screen_ends_by_itself(tmp_path: Path) -> None:
    """The imagined player lets go of everything, so the band waits, and nothing more would happen."""
    take = tmp_path / "take.jsonl"
    played = ((0.1, b"\x93\x26\x40"), (0.4, b"\x83\x26\x40"))
    assert launcher.run(session(take=str(take), script=played), desk=False) == 0
    assert len(read_take(take).events) == 2


def test_without_a_terminal_the_demo_tells_of_its_story_as_text(capsys: pytest.CaptureFixture[str]) -> None:
    played = ((0.1, b"\x93\x26\x40"), (0.4, b"\x83\x26\x40"))
    assert launcher.run(session(script=played)) == 0
    assert "liveassist demo --headless" in capsys.readouterr().out.splitlines()[0]


def test_an_imagined_player_needs_no_console() -> None:
    found = scripted(HALL)
    assert found.input_ports == (SCRIPT,)
    assert found.parts == HALL.parts
    assert scripted(PLAIN).output_ports == ("",)
    assert contradictions(found) == contradictions(scripted(PLAIN)) == []


@pytest.mark.parametrize(
    ("ports", "parts", "heard"),
    [
        ((), [], []),
        (("Midi Through Port-0",), [], []),
        (("Foot Switch",), ["figure"], ["figure", "melody", "pedal"]),
    ],
)
def test_by_laptop_a_switch_or_no_port_at_all_is_enough(monkeypatch, ports, parts, heard):
    monkeypatch.setattr(settling, "midi_binding", lambda: EchoBinding(*ports))
    found = by_laptop(PLAIN, Settings(lead="switch"))
    assert sorted(found.parts) == parts
    assert sorted(name for name in found.divisions if name != "drums") == heard


def test_by_laptop_a_machine_without_midi_will_do_unless_the_feet_lead(monkeypatch):
    def none() -> EchoBinding:
        raise PlayerError("no MIDI system")

    monkeypatch.setattr(settling, "midi_binding", none)
    assert by_laptop(PLAIN, Settings(lead="pulse")).input_ports == ()
    with pytest.raises(PlayerError, match="no MIDI system"):
        by_laptop(PLAIN, Settings())


def test_the_closing_lines_say_how_to_look_back(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    take = tmp_path / "last night.jsonl"
    played = [("quay.chart", str(take)), ("", ""), ("mill.chart", str(tmp_path / "none.jsonl"))]
    with launcher._closing_lines(played):
        pass
    assert capsys.readouterr().out == ""
    again = tmp_path / "last night-part2.jsonl"
    take.touch()
    again.touch()
    with launcher._closing_lines(played):
        pass
    said = [f"How it went: liveassist review quay.chart '{path}'\n" for path in (take, again)]
    assert capsys.readouterr().out == "".join(said)
