"""After a band has died, the next one: at the last place, in the key in force, silent, with the console as it was learned."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import KeyDown, NodTaken, ShoeMoved
from liveassist.console import band_process
from liveassist.console.hearing import Interpreter
from liveassist.console.instrument import Coupler
from liveassist.console.launcher import Session, again, band_spec
from liveassist.console.outlets import Outlets
from liveassist.console.profile import PLAIN, read_profile
from liveassist.console.runner import Runner
from liveassist.console.spec import BandSpec, read_spec
from liveassist.console.takes import Header, TakeWriter, read_take
from liveassist.console.timeline import Arrival, SimulatedTimeline
from liveassist.link import Picture, Request
from liveassist.settings import layered

SONG = (
    "title = Quay\nkey = D\ntempo = quarter 120\nfeel = quarters\n== Verse ==\n| D | G | A | Bm | Em | A | D | G |]\n"
)
D, G, A, B = 38, 43, 45, 47
CONSOLE = replace(
    PLAIN,
    couplers=(
        Coupler(pressed="melody", brings="figure"),
        Coupler(pressed="pedal", brings="melody"),
        Coupler(pressed="melody", brings="melody", shift=12),
    ),
)


class Life:
    """One band, from its start to the end of what is played."""

    def __init__(self, spec: BandSpec, moves: Sequence[tuple[float, bytes | Request]]) -> None:
        spec = read_spec(spec.line())
        profile = read_profile(spec.profile)
        song = band_process._song(spec, profile)
        self.pictures: list[Picture] = []
        self.sent: list[tuple[float, bytes]] = []
        script: list[Arrival] = []
        for at, what in sorted(moves, key=lambda move: move[0]):
            script.append(Arrival(at, "", what))
            if (
                isinstance(what, bytes) and what[0] == 0x93
            ):  # the coupler brings the pedal on the tune's manual, and it first
                script.insert(-1, Arrival(at - 0.004, "", bytes((0x90, *what[1:]))))
        script.append(Arrival(script[-1].at + 1.0, "", Request(ask="leave")))
        self.timeline = SimulatedTimeline(script)
        ears = Interpreter(profile)
        outlets = Outlets(profile, dict.fromkeys(profile.output_ports, self), sent=ears.sent, held=ears.holds)
        runner = Runner(
            song.band,
            self.timeline,
            profile,
            ears,
            outlets,
            take=song.take,
            painter=song.painter,
            publish=self.pictures.append,
            every=0.05,
        )
        runner.run(band_process.first_asked(spec))
        assert song.take is not None
        song.take.close()

    def send(self, message: bytes) -> bool:
        self.sent.append((self.timeline.now(), message))
        return True

    def at(self, moment: float) -> Picture:
        return [picture for picture in self.pictures if picture.at < moment][-1]

    def struck(self, since: float, until: float) -> set[int]:
        """Pitch classes that the figure strikes."""
        return {m[1] % 12 for at, m in self.sent if since <= at < until and m[0] & 0xF0 == 0x90 and m[2]}


def nod(name: str) -> Request:
    return Request(ask="nod", name=name)


def foot(at: float, key: int) -> list[tuple[float, bytes]]:
    return [(at, bytes((0x93, key, 64))), (at + 0.8, bytes((0x83, key, 0)))]


@pytest.fixture
def spec(tmp_path: Path) -> BandSpec:
    song = Session(chart=read_chart(SONG, "quay.chart"), profile=CONSOLE, layered=layered(("here", {"patience": "0"})))
    return band_spec(song, str(tmp_path / "quay.jsonl"), str(tmp_path / "letter"), "token")


def died(spec: BandSpec) -> BandSpec:
    """A band that was lifted a half step, came to the third bar, and died; the spec of the next."""
    first = Life(spec, [*foot(1.0, D), (1.5, nod("up")), *foot(3.0, G + 1), *foot(5.0, A + 1)])
    assert (first.at(5.8).bar, first.at(5.8).lift) == (3, 1)
    return again(spec, unfold(read_chart(SONG)))


def test_it_is_ready_at_the_last_place_in_the_key_in_force_and_silent_until_in(spec: BandSpec) -> None:
    second = Life(died(spec), [*foot(2.0, A + 1), *foot(4.0, B + 1), (5.0, nod("in")), *foot(6.0, 40 + 1)])
    ready = second.at(1.9)
    assert (ready.state, ready.bar, ready.lift, ready.out, ready.key) == ("ready", 3, 1, True, "E♭ major")
    assert (second.at(3.0).state, second.at(3.0).chord) == ("playing", "B♭")
    assert second.struck(0.0, 5.0) == set(), "the figure is out"
    assert second.at(5.9).chord == "Cm"
    assert second.struck(6.0, 7.0) == {5, 8, 0}, "F minor"


def test_one_press_is_one_as_the_couplers_were_learned(spec: BandSpec) -> None:
    going_on = died(spec)
    Life(going_on, [*foot(2.0, A + 1), *foot(4.0, B + 1), (4.5, nod("in")), *foot(6.0, 41)])
    keys = [(event.division, event.key) for event in read_take(going_on.take).events if isinstance(event, KeyDown)]
    assert keys == [("pedal", A + 1), ("pedal", B + 1), ("pedal", 41)]


def test_what_it_sends_and_comes_back_is_no_hand_of_the_players(spec: BandSpec) -> None:
    going_on = died(spec)
    moves = [*foot(2.0, A + 1), (2.5, nod("in"))]
    sent = Life(going_on, moves).sent
    echoes = [(at + 0.01, bytes((message[0] & 0xF0 | 1, *message[1:]))) for at, message in sent if 2.0 < at < 3.9]
    assert len(echoes) > 6
    echoing = Life(replace(going_on, take=going_on.take + "2"), [*moves, *echoes, *foot(4.0, B + 1)])
    assert not echoing.at(3.9).out, "a hand would have silenced the figure"
    assert echoing.struck(4.0, 5.0)


def test_with_the_pedal_silent_it_waits_and_a_count_in_begins_without_it(spec: BandSpec) -> None:
    going_on = died(spec)
    tune = [(1.0 + 0.5 * number, bytes((0x90, 62 + number, 64))) for number in range(6)]
    assert Life(going_on, tune).at(4.5).state == "ready", "the tune begins nothing"
    counted = Life(replace(going_on, take=going_on.take + "2"), [(1.0, nod("count")), (9.0, nod("in"))])
    assert counted.at(8.0).state in ("playing", "vamping")


TWO_TEMPI = (
    "title = Quay\nkey = D\ntempo = quarter 120\nfeel = quarters\n"
    "== Verse ==\n| D | G |\n== Chorus ==\ntempo = quarter 60\n| A | Bm | D |]\n"
)


@pytest.mark.parametrize(
    ("taps", "moves", "bpm"),
    [
        pytest.param((), (), 120.0, id="not-tapped"),
        pytest.param((0.2,), (), 120.0, id="one-tap-is-none"),
        pytest.param((0.2, 0.8), (), 100.0, id="before-the-start"),
        pytest.param((0.2, 0.8), foot(2.0, D), 100.0, id="before-the-start-and-begun"),
        pytest.param((2.4, 3.0, 3.6), foot(2.0, D), 100.0, id="while-playing"),
        pytest.param((2.4, 3.0), [*foot(2.0, D), (4.0, nod("tacet"))], 120.0, id="while-playing-and-left"),
        pytest.param((0.2, 0.8), [*foot(2.0, D), (4.0, nod("tacet"))], 100.0, id="before-the-start-and-left"),
    ],
)
def test_a_tapped_tempo_comes_back(
    spec: BandSpec, taps: Sequence[float], moves: Sequence[tuple[float, bytes | Request]], bpm: float
) -> None:
    Life(spec, [(0.1, nod("out")), *moves, *((at, nod("tap")) for at in taps)])
    going_on = again(spec, unfold(read_chart(SONG)))
    assert Life(going_on, [(1.0, nod("out"))]).at(1.0).bpm == pytest.approx(bpm, abs=0.1)
    once_more = again(going_on, unfold(read_chart(SONG)))
    assert Life(once_more, [(1.0, nod("out"))]).at(1.0).bpm == pytest.approx(bpm, abs=0.1), "and when that has died"


def test_a_tapped_tempo_keeps_its_proportion_in_a_section_with_a_tempo_of_its_own(spec: BandSpec) -> None:
    """A fifth slower than written in the verse: a fifth slower than the chorus's 60, too."""
    spec = replace(spec, chart=TWO_TEMPI)
    beat = 60.0 / 96.0
    feet = [each for n, key in enumerate((D, G, A)) for each in foot(4.0 + n * 4 * beat, key)]
    first = Life(spec, [(0.2, nod("tap")), (0.2 + beat, nod("tap")), *feet])
    assert first.at(99.0).section == "Chorus"
    going_on = again(spec, unfold(read_chart(TWO_TEMPI)))
    assert going_on.settings["from_bar"] == 2
    assert going_on.tempo == pytest.approx(48.0, abs=0.1)


def test_a_tempo_that_was_stated_keeps_its_proportion_in_a_section_with_a_tempo_of_its_own(spec: BandSpec) -> None:
    """96 instead of 120 from the beginning: a fifth slower than the chorus's 60, too, and once more."""
    route = unfold(read_chart(TWO_TEMPI))
    spec = replace(spec, chart=TWO_TEMPI, settings={**spec.settings, "tempo": 96.0})
    feet = [each for n, key in enumerate((D, G, A)) for each in foot(4.0 + n * 4 * 60.0 / 96.0, key)]
    assert Life(spec, feet).at(99.0).section == "Chorus"
    for part in range(2):
        spec = again(spec, route)
        assert (spec.settings["from_bar"], spec.tempo) == (2, 0.0), part
        ready = Life(spec, [(1.0, nod("out"))]).at(1.0)
        assert ready.home_bpm == pytest.approx(48.0, abs=0.1), part


def test_a_tempo_ladder_begins_with_its_own_tempo(spec: BandSpec) -> None:
    Life(spec, [(0.2, nod("tap")), (0.8, nod("tap")), *foot(2.0, D)])
    assert again(spec, unfold(read_chart(SONG))).tempo == 100.0
    assert again(replace(spec, ladder="60:80:4"), unfold(read_chart(SONG))).tempo == 0.0


def test_fullness_and_a_muted_click_come_back(spec: BandSpec) -> None:
    spec = replace(spec, settings={**spec.settings, "click": True})
    asked = ["thinner", "thinner", "fuller", "fuller", "fuller", "mute", "mute", "mute"]  # 2: 1, 1, 2, 3, 4
    Life(spec, [*((0.1 * n, nod(name)) for n, name in enumerate(asked, 1)), *foot(2.0, D)])
    for part in range(2):
        spec = again(spec, unfold(read_chart(SONG)))
        ready = Life(spec, [(1.0, nod("out"))]).at(1.0)
        assert (ready.fullness, ready.muted) == (4, True), part
        assert spec.origin["fullness"] == "the last place"


def test_the_swell_shoe_s_fullness_comes_back(spec: BandSpec) -> None:
    """Wide open is fullness 4 (see ``shoe``)."""
    spec = replace(spec, settings={**spec.settings, "shoe": "fullness"})
    take = TakeWriter(spec.take, Header(settings=spec.settings))
    take.event(ShoeMoved(at=1.0, heard=1.0, value=127))
    take.action(NodTaken(at=2.0, nod="thinner"))
    take.close()
    assert again(spec, unfold(read_chart(SONG))).settings["fullness"] == 3
