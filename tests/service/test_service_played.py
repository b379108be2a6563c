"""A service played from item to item, on a clock that jumps: no ports, no desk, no guardian."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import replace
from pathlib import Path
from typing import Any, ClassVar

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import NoteOff, NoteOn
from liveassist.band.song import performance
from liveassist.cli import main
from liveassist.commands.whole_service import session_of
from liveassist.console import band_process
from liveassist.console.hearing import Interpreter
from liveassist.console.instrument import Profile
from liveassist.console.launcher import service_again, service_spec
from liveassist.console.outlets import Outlets
from liveassist.console.profile import PLAIN
from liveassist.console.replaying import replayed
from liveassist.console.runner import ENDED, Runner
from liveassist.console.spec import BandSpec, read_spec
from liveassist.console.takes import read_take
from liveassist.console.timeline import Arrival, SimulatedTimeline
from liveassist.console.watching import News
from liveassist.desk import wording
from liveassist.link import Picture, Request
from liveassist.settings import Settings
from tests.service.conftest import HYMN

D, EB, G, A, B = 38, 39, 43, 45, 47
SUNDAY = """\
title = "Harbour Sunday"
[[items]]
tacet = "Prelude"
notes = "principal"
[[items]]
chart = "bread.chart"
key = "Eb"
tempo = 88
notes = "flutes"
gap = "straight on"
[[items]]
tacet = "Prayer"
[[items]]
chart = "round.chart"
tempo = 60
"""


class Wire:
    """Keeps what was sent, and when."""

    def __init__(self, timeline: SimulatedTimeline, sent: list[tuple[float, bytes]]) -> None:
        self._timeline, self._sent = timeline, sent

    def send(self, message: bytes) -> bool:
        self._sent.append((self._timeline.now(), message))
        return True


class Sunday:
    """A service on the plain console; what came out of it."""

    def __init__(
        self,
        spec: BandSpec,
        script: Iterable[Arrival],
        profile: Profile = PLAIN,
        shoe: str = "",
        watch: Any = None,
    ) -> None:
        self.pictures: list[Picture] = []
        self.sent: list[tuple[float, bytes]] = []
        timeline = SimulatedTimeline(script)
        programme = band_process._programme(spec, profile)
        song = programme.song

        wire = Wire(timeline, self.sent)
        runner = Runner(
            song.band,
            timeline,
            profile,
            Interpreter(profile, shoe=shoe),
            Outlets(profile, dict.fromkeys(profile.output_ports, wire)),
            take=song.take,
            painter=song.painter,
            publish=self.pictures.append,
            every=0.05,
            watch=watch,
            programme=programme,
        )
        assert runner.run() == ENDED
        programme.close()

    def at(self, moment: float) -> Picture:
        """The last picture painted before a moment of the service."""
        return [picture for picture in self.pictures if picture.at < moment][-1]


def nod(at: float, name: str) -> Arrival:
    return Arrival(at, "desk", Request(ask="nod", name=name))


def foot(at: float, key: int, until: float) -> list[Arrival]:
    return [Arrival(at, "", bytes((0x93, key, 64))), Arrival(until, "", bytes((0x83, key, 0)))]


@pytest.fixture
def spec_of(sunday: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Callable[[str], BandSpec]:
    """The spec of a service, as it comes out of its line."""
    monkeypatch.setattr("liveassist.console.take_names.takes_folder", lambda: tmp_path / "takes")
    monkeypatch.setattr("liveassist.commands.whole_service.user_layer", dict)
    from liveassist.cli import _parser
    from liveassist.service.order import read_order

    def made(text: str) -> BandSpec:
        path = str(sunday(text))
        options = _parser()[0].parse_args(["play", path])
        return read_spec(service_spec(session_of(read_order(path), options), str(tmp_path / "letter"), "token").line())

    return made


@pytest.fixture
def spec(spec_of: Callable[[str], BandSpec]) -> BandSpec:
    return spec_of(SUNDAY)


def takes(tmp_path: Path) -> list[str]:
    return sorted(path.name[18:] for path in (tmp_path / "takes").glob("*.jsonl"))


def test_while_tacet_the_desk_shows_what_the_next_song_begins_with(spec: BandSpec) -> None:
    """D in the chart, a half step up today: the feet begin on E flat."""
    service = Sunday(spec, [nod(1.0, "next"), nod(2.0, "next"), nod(3.0, "next"), nod(4.0, "next"), nod(5.0, "back")])
    prelude, bread, prayer, round_ = (service.at(moment) for moment in (0.9, 1.9, 2.9, 3.9))
    assert [picture.item for picture in (prelude, bread, prayer, round_)] == [f"{n} of 4" for n in (1, 2, 3, 4)]
    assert [picture.state for picture in service.pictures] == ["tacet"] * len(service.pictures)
    assert (prelude.title, prelude.following) == ("Prelude", "Bread on the Table")
    assert wording.large(prelude) == wording.large(bread) == ("88", "E♭")
    assert wording.labels(prelude) == ("next: Bread on the Table, tempo", "first pedal")
    assert (bread.title, bread.key, wording.labels(bread)[0]) == ("Bread on the Table", "E♭ major", "tempo")
    assert (bread.words, bread.next_words) == (("flutes",), ("straight on",))
    assert wording.large(prayer) == wording.large(round_) == ("60", "B")
    assert wording.asked(bread) == "after this: Prayer"
    last = service.at(99.0)
    assert last.item == "3 of 4"
    assert any("last item" in line.text for picture in service.pictures for line in picture.heard)


def test_a_gap_in_seconds_is_counted_down_large_and_holds_nobody_back(spec_of: Callable[[str], BandSpec]) -> None:
    text = SUNDAY.replace('gap = "straight on"', "gap = 20").replace('"Prayer"', '"Prayer"\ngap = 8')
    spec = spec_of(text)
    service = Sunday(
        spec, [nod(1.0, "next"), nod(40.0, "next"), nod(50.0, "back"), nod(55.0, "ready"), *foot(57.0, EB, 58.0)]
    )
    assert [wording.large(service.at(moment)) for moment in (0.9, 1.2, 15.9, 20.9, 30.0)] == [
        ("88", "E♭"),
        ("20", "E♭"),
        ("6", "E♭"),
        ("1", "E♭"),
        ("88", "E♭"),
    ]
    bread, prayer = service.at(1.9), service.at(41.9)
    assert (wording.labels(bread), bread.next_words) == (("seconds left; tempo 88", "first pedal"), ())
    assert (wording.large(prayer)[0], wording.labels(prayer)[0]) == (
        "7",
        "seconds left; next: Four Times Round, tempo 60",
    )
    assert {picture.state for picture in service.pictures if picture.at < 55.0} == {"tacet"}
    assert [(service.at(moment).state, wording.large(service.at(moment))[0]) for moment in (56.5, 57.5)] == [
        ("ready", "14"),
        ("playing", "E♭"),
    ]


def test_nothing_is_armed_until_asked(spec: BandSpec, tmp_path: Path) -> None:
    service = Sunday(spec, [*foot(0.5, EB, 1.0), nod(2.0, "next"), *foot(3.0, EB, 4.0), nod(5.0, "next")])
    assert service.sent == []
    assert takes(tmp_path) == []


def test_each_song_is_played_with_a_take_and_a_clock_of_its_own(spec: BandSpec, tmp_path: Path) -> None:
    script = [
        nod(1.0, "next"),
        nod(2.0, "ready"),
        *foot(3.0, EB, 5.0),
        nod(4.0, "next"),
        nod(6.0, "cut"),
        nod(100.0, "next"),
        nod(101.0, "ready"),
        *foot(102.0, B, 103.5),
        nod(104.0, "cut"),
    ]
    service = Sunday(spec, script)
    assert service.at(3.9).state == "playing"
    assert "E♭" in service.at(3.9).chord
    assert service.at(5.5).item == "2 of 4"  # while the band plays nothing takes the song away
    assert service.at(100.9).title == "Prayer"
    assert service.at(102.5).title == "Four Times Round"  # armed from the prayer: one nod
    assert service.at(103.0).state == "playing"
    assert takes(tmp_path) == ["2-bread-on-the-table.jsonl", "4-four-times-round.jsonl"]
    down: set[int] = set()
    for _, (status, key, _) in service.sent:
        (down.add if status & 0xF0 == 0x90 else down.discard)(key)
    assert down == set()
    for path in (tmp_path / "takes").glob("*.jsonl"):
        take = read_take(path)
        route = unfold(read_chart(take.header.chart))
        assert max(event.at for event in take.events) < 10.0  # from when the song came up
        played = replayed(performance(route, Settings(**take.header.settings)), take.events)
        notes = [one for one in take.actions if isinstance(one, NoteOn | NoteOff)]
        again = [one for one in played if isinstance(one, NoteOn | NoteOff)]
        assert notes
        assert [replace(one, at=0.0) for one in again] == [replace(one, at=0.0) for one in notes]
        assert [one.at for one in again] == pytest.approx([one.at for one in notes], abs=1e-9)


def test_a_song_played_again_has_another_take(spec: BandSpec, tmp_path: Path) -> None:
    once = [nod(1.0, "ready"), nod(2.0, "tacet"), nod(3.0, "back"), nod(4.0, "ready"), nod(5.0, "tacet")]
    Sunday(spec, once)
    assert takes(tmp_path) == ["2-bread-on-the-table-part2.jsonl", "2-bread-on-the-table.jsonl"]


def test_another_band_goes_on_with_the_song_that_was_played_last(spec: BandSpec, tmp_path: Path) -> None:
    assert service_again(spec) == spec
    Sunday(spec, [nod(1.0, "ready"), *foot(3.0, EB, 4.0), *foot(5.7, 46, 7.5), nod(7.0, "cut")])
    going_on = service_again(spec)
    assert going_on.up == 1
    assert going_on.here == {"out": True, "armed": True, "from_bar": 1}
    service = Sunday(read_spec(going_on.line()), [nod(2.0, "tacet"), nod(3.0, "next"), nod(4.0, "back")])
    assert service.at(1.9).state == "ready"
    assert service.at(1.9).bar == 2
    assert (service.at(99.0).bar, service.at(99.0).state, service.at(99.0).out) == (1, "tacet", False)


def test_a_song_that_comes_twice_goes_on_where_it_stopped(spec_of: Callable[[str], BandSpec]) -> None:
    spec = spec_of('[[items]]\nchart = "bread.chart"\n[[items]]\nchart = "bread.chart"\nkey = "Eb"\n')
    once = [nod(1.0, "ready"), *foot(2.0, D, 3.0), nod(4.0, "cut")]
    Sunday(spec, [*once, nod(10.0, "next"), nod(11.0, "ready"), *foot(12.0, EB, 13.0), *foot(14.6, 46, 16.0)])
    assert service_again(spec).up == 1


def test_another_band_goes_on_with_the_chart_as_it_was_edited(spec: BandSpec) -> None:
    longer = replace(spec.pieces[1], chart=spec.pieces[1].chart.replace("Chorus", "Chorus   x9", 1))
    edited = replace(spec, pieces=(spec.pieces[0], longer, *spec.pieces[2:]))
    feet = [each for bar in range(1, 30) for each in foot(3.0 + 2.5 * bar, EB, 5.0 + 2.5 * bar)]
    Sunday(edited, [nod(1.0, "ready"), *foot(3.0, EB, 4.0), *(nod(4.0 + bar, "on") for bar in range(40)), *feet])
    going_on = service_again(spec)
    assert going_on.pieces == edited.pieces
    assert going_on.here["from_bar"] > 0


def test_a_song_is_reviewed_as_it_was_played(spec: BandSpec, tmp_path: Path, capsys: Any) -> None:
    """In the key of the day: D in the chart's file, E flat today."""
    bar = 4 * 60 / 88
    feet = [each for n, key in enumerate((EB, 46, EB, 44)) for each in foot(3.0 + n * bar, key, 5.0 + n * bar)]
    Sunday(spec, [nod(1.0, "ready"), *feet, nod(3.0 + 4 * bar, "cut")])
    (take,) = (tmp_path / "takes").glob("*.jsonl")
    assert main(["review", str(tmp_path / "bread.chart"), str(take), "--forget"]) == 0
    told = capsys.readouterr()
    assert "Every pedal note right" in told.out
    assert "the take's own chart is taken" in told.err


def test_the_next_song_knows_where_the_shoe_is(spec: BandSpec) -> None:
    """An open shoe is fullness 4 (see ``shoe``); here it was opened during the prelude."""
    pieces = tuple(replace(piece, settings={**piece.settings, "shoe": "fullness"}) for piece in spec.pieces)
    opened = Arrival(0.5, "", b"\xb0\x0b\x7f")
    service = Sunday(replace(spec, pieces=pieces), [opened, nod(1.0, "next"), nod(3.0, "next")], shoe="fullness")
    assert service.at(2.9).fullness == 4


def test_the_next_song_knows_what_is_unplugged(spec: BandSpec) -> None:
    pedal = replace(PLAIN.divisions["pedal"], port="console")
    profile = replace(PLAIN, divisions={**PLAIN.divisions, "pedal": pedal})

    class Cable:
        """Comes out at once."""

        news: ClassVar = [News(wanted="console", is_input=True, well=False, text="gone")]

        def look(self, now: float) -> list[News]:
            return [self.news.pop()] if self.news else []

    service = Sunday(spec, [nod(1.0, "next"), nod(3.0, "next")], profile, watch=Cable())
    assert "the pedal has gone silent" in [line.text for line in service.at(2.9).heard]


def test_another_band_brings_up_the_item_that_was_up_deaf_where_it_was_not_played(spec: BandSpec) -> None:
    played = [nod(1.0, "ready"), *foot(3.0, EB, 4.0), nod(5.0, "cut")]
    Sunday(spec, [*played, nod(7.0, "next"), nod(8.0, "next")])
    going_on = service_again(spec)
    assert (going_on.up, going_on.here, going_on.nods) == (3, {}, ())
    service = Sunday(read_spec(going_on.line()), [*foot(2.0, B, 3.0), nod(4.0, "back")])
    assert (service.at(3.5).title, service.at(3.5).state, service.sent) == ("Four Times Round", "tacet", [])
    assert service_again(going_on).up == 2
    assert service_again(spec).here == {}, "the prayer"


def test_another_band_goes_on_in_the_key_in_force(spec: BandSpec) -> None:
    Sunday(spec, [nod(1.0, "ready"), nod(2.0, "up"), *foot(3.0, EB + 1, 4.0), nod(5.0, "up"), *foot(9.0, B + 1, 9.5)])
    assert service_again(spec).nods == ("up", "up")


def test_in_a_song_alone_next_means_nothing(spec: BandSpec) -> None:
    band = performance(unfold(read_chart(HYMN)), Settings(armed=False))
    from liveassist.band.events import Nodded, Told

    told = band.receive(Nodded(at=1.0, heard=1.0, nod="next"))
    assert [type(action) for action in told if isinstance(action, Told)] == [Told]


@pytest.mark.parametrize("option", [("--from-bar", "3"), ("--take", "x.jsonl")], ids=["bar", "take"])
def test_what_is_for_one_song_is_refused(sunday: Any, option: tuple[str, str], capsys: Any) -> None:
    assert main(["play", str(sunday(SUNDAY)), *option]) == 2
    assert "is for one song" in capsys.readouterr().err
