"""Two bands never play one organ: the second is refused, and what a dead band left behind is no hindrance."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from charts.notation import read_chart
from liveassist.console import launcher
from liveassist.console.at_work import AtWork, bands, folder, put_up, refuse_a_second_band
from liveassist.console.ensemble import Ensemble
from liveassist.console.launcher import Session, band_spec
from liveassist.console.ports import EchoBinding
from liveassist.console.profile import PLAIN
from liveassist.console.settling import ports_played, settled
from liveassist.errors import PlayerError
from liveassist.link import LinkServer
from liveassist.settings import Settings, layered

CHART = read_chart("title = Quay, at night\nkey = D\n\n== Verse ==\n| D | G | A | D |]\n", "quay.chart")


@pytest.fixture(autouse=True)
def own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No band of this machine is met, and none meets ours."""
    monkeypatch.setenv("XDG_RUNTIME_DIR", str(tmp_path))


@pytest.fixture
def link() -> Iterator[LinkServer]:
    with LinkServer("token") as server:
        yield server


def at_work(link: LinkServer, *ports: str) -> AtWork:
    return AtWork(title="Quay", ports=ports, host=link.address[0], port=link.address[1])


def test_a_second_band_on_the_same_organ_is_refused(link: LinkServer) -> None:
    take_down = put_up(at_work(link, "House Organ", "In-ears"))
    with pytest.raises(PlayerError, match='"House Organ" already: Quay'):
        refuse_a_second_band(("Choir Organ", "House Organ"))
    take_down()
    refuse_a_second_band(("House Organ",))


@pytest.mark.parametrize("ports", [("Choir Organ",), ()], ids=["another organ", "no organ at all"])
def test_bands_on_different_organs_do_not_mind_each_other(link: LinkServer, ports: tuple[str, ...]) -> None:
    put_up(at_work(link, "House Organ"))
    refuse_a_second_band(ports)


def test_what_a_dead_band_left_behind_is_cleared_away() -> None:
    with LinkServer("token") as link:
        put_up(at_work(link, "House Organ"))
    refuse_a_second_band(("House Organ",))
    assert list(folder().iterdir()) == []


@pytest.mark.parametrize("content", ["", "{}", "[1]", '{"title": "x", "ports": 3, "host": "h", "port": "p"}', "\xff"])
def test_a_spoilt_file_is_cleared_away(content: str) -> None:
    folder().mkdir(parents=True)
    (folder() / "1.json").write_text(content, encoding="latin-1")
    assert list(bands()) == []
    assert list(folder().iterdir()) == []


def test_a_folder_that_cannot_be_had_does_not_stop_the_music(link: LinkServer) -> None:
    folder().parent.write_text("")
    put_up(at_work(link, "House Organ"))()
    refuse_a_second_band(("House Organ",))


def test_the_ports_are_known_by_their_full_names() -> None:
    binding = EchoBinding("House Organ", "Midi Through Port-0")
    profile = settled(PLAIN, Settings(), binding)
    part = next(iter(profile.parts))
    profile = replace(profile, parts={part: replace(profile.parts[part], port="house")})
    assert ports_played(profile, binding) == ("House Organ",)
    assert ports_played(PLAIN, binding) == ()


def test_the_launcher_refuses_before_anything_starts(link: LinkServer, monkeypatch: pytest.MonkeyPatch) -> None:
    put_up(at_work(link, "House Organ"))
    monkeypatch.setattr(launcher, "midi_binding", lambda: EchoBinding("House Organ"))
    monkeypatch.setattr(launcher, "Ensemble", lambda profile: pytest.fail("a second band was started"))
    with pytest.raises(PlayerError, match="another band is playing"):
        launcher.run(Session(chart=CHART, profile=PLAIN, layered=layered(), take=""), desk=False)


def test_a_band_says_what_it_plays_as_long_as_it_lives(until: Callable[..., None]) -> None:
    session = Session(chart=CHART, profile=PLAIN, layered=layered(), take="", script=((0.1, b"\x93\x26\x40"),))
    with Ensemble(PLAIN) as ensemble:
        spec = replace(band_spec(session, "", ensemble.letter, "token"), ports=("House Organ",))
        address = ensemble.start(spec)
        (found,) = bands()
        assert (found.title, found.ports, (found.host, found.port)) == ("Quay, at night", ("House Organ",), address)
        (path,) = folder().iterdir()
        assert path.stem != str(os.getpid())
        assert json.loads(path.read_text())["title"] == "Quay, at night"
    until(lambda: list(folder().iterdir()) == [])
