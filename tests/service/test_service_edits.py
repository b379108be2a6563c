"""Somebody edits a chart during the service: it comes up while the band is tacet, and a broken one never."""

from __future__ import annotations

import os
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from liveassist.cli import _parser
from liveassist.commands.whole_service import session_of
from liveassist.console import band_process
from liveassist.console.edits import Edits
from liveassist.console.ensemble import Ensemble
from liveassist.console.launcher import service_spec
from liveassist.console.picture import Around
from liveassist.console.profile import PLAIN
from liveassist.console.programme import Programme
from liveassist.console.spec import BandSpec, Piece, read_spec
from liveassist.link import LinkReader
from liveassist.service.order import read_order
from tests.console.conftest import until  # noqa: F401  (a fixture)
from tests.service.conftest import HYMN

SUNDAY = """\
[[items]]
tacet = "Prelude"
[[items]]
chart = "bread.chart"
key = "Eb"
[[items]]
chart = "round.chart"
"""
HIGHER = HYMN.replace("== Intro ==\n| D | A |", "== Intro ==\n| G | A |")


@pytest.fixture
def spec(sunday: Callable[[str], Path], monkeypatch: pytest.MonkeyPatch) -> BandSpec:
    monkeypatch.setattr("liveassist.commands.whole_service.user_layer", dict)
    path = str(sunday(SUNDAY))
    options = _parser()[0].parse_args(["play", path, "--take", ""])
    return read_spec(
        service_spec(session_of(read_order(path), options), str(Path(path).parent / "letter"), "token").line()
    )


def edit(piece: Piece, text: str, second: int) -> None:
    """Write the file as it is at a second of its own."""
    Path(piece.path).write_text(text, encoding="utf-8")
    os.utime(piece.path, (second, second))


def opened(spec: BandSpec) -> tuple[Edits, Programme]:
    edits = Edits(spec.pieces, spec.service, spec.service_name)
    return edits, band_process._programme(spec, PLAIN, edits.news)


def first_pedal(programme: Programme) -> str:
    painter = programme.song.painter
    assert painter is not None
    return painter.picture(programme.song.band.view(), Around()).first_pedal


def test_an_edit_comes_up_in_the_key_of_the_day_once_the_file_has_settled(spec: BandSpec) -> None:
    """G in D is IV; in E flat that is A flat."""
    edits, programme = opened(spec)
    edits.look()
    edits.look()
    assert programme.edited(5.0) == (None, ())
    edit(spec.pieces[1], HIGHER, 2_000_000_000)
    edits.look()
    assert programme.edited(6.0) == (None, ())  # it may be written still
    edits.look()
    assert first_pedal(programme) == "E♭"
    up, told = programme.edited(7.0)  # the prelude is up, and shows what comes
    assert up is programme.song
    assert "has been edited" in told[0]
    assert first_pedal(programme) == "A♭"


def test_a_broken_edit_never_comes_up(spec: BandSpec) -> None:
    edits, programme = opened(spec)
    edit(spec.pieces[1], HYMN.replace("| Bm | G |", "| Bmm7 | G"), 2_000_000_000)
    edits.look()
    edits.look()
    up, told = programme.edited(5.0)
    assert up is None
    assert "stays as it was: bread.chart" in told[0]
    assert first_pedal(programme) == "E♭"
    edit(spec.pieces[1], HIGHER, 2_000_000_010)
    edits.look()
    edits.look()
    programme.nod("next", 9.0)
    assert first_pedal(programme) == "A♭"


def test_another_lead_waits_for_the_next_start_and_that_is_told(spec: BandSpec) -> None:
    edits, programme = opened(spec)
    edit(spec.pieces[1], HYMN.replace("key = D", "key = D\nlead = switch"), 2_000_000_000)
    edits.look()
    edits.look()
    programme.nod("next", 5.0)
    assert programme.song.notices[-1].startswith("bread.chart: another lead is stated now")
    assert programme.song.band.view().state == "tacet"


def test_a_file_that_has_gone_changes_nothing(spec: BandSpec) -> None:
    edits, programme = opened(spec)
    Path(spec.pieces[1].path).unlink()
    edits.look()
    edits.look()
    assert programme.edited(5.0) == (None, ())


def test_an_edit_of_a_song_that_is_not_up_waits_for_it(spec: BandSpec) -> None:
    edits, programme = opened(spec)
    before = Path(spec.pieces[2].path).read_text(encoding="utf-8")
    edit(spec.pieces[2], before.replace("title = Four", "title = Five"), 2_000_000_000)
    edits.look()
    edits.look()
    programme.nod("next", 5.0)
    programme.nod("next", 6.0)
    assert programme.song.title == "Five Times Round"


def test_in_the_bands_own_process(spec: BandSpec, until: Callable[..., None]) -> None:  # noqa: F811
    with Ensemble(PLAIN) as ensemble:
        reader = LinkReader(ensemble.start(replace(spec, letter=ensemble.letter)), spec.token)
        seen: list[str] = []

        def shows(pedal: str) -> bool:
            picture = reader.read()
            seen.extend([picture.first_pedal] if picture is not None else [])
            return bool(seen) and seen[-1] == pedal

        until(lambda: shows("E♭"))
        edit(spec.pieces[1], HIGHER, 2_000_000_000)
        until(lambda: shows("A♭"))
        reader.close()
    assert not ensemble.playing
