"""Two lead sheets of the music21 corpus, from the first foot to the last chord, through real MIDI ports.

The charts are the chord symbols of the corpus (``tests/players/test_lead_sheets.py`` compares them with music21). An imagined
organist plays the pedals on a virtual console; the organ's side hears the figure. Played faster than written, to save time.
Root in the pedal is the cue: common practice, no source.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.band.events import KeyDown
from liveassist.console.launcher import Session, band_spec
from liveassist.console.profile import read_profile
from liveassist.console.takes import read_take
from liveassist.players.organist import Organist, Pace, script
from liveassist.players.scoring import place_share, sounding_share
from liveassist.players.truth import Moment, Truth
from liveassist.settings import layered
from tests.console.hall import CONSOLE, Hall, open_hall

SHEETS = Path(__file__).parent.parent / "lead_sheets"


@pytest.fixture
def hall(
    fake_console: Callable[..., Any], fake_organ: Callable[..., Any], until: Any, tmp_path: Path
) -> Iterator[Hall]:
    with open_hall(fake_console("console"), fake_organ("organ"), until, tmp_path) as opened:
        yield opened


def later(truth: Truth, by: float) -> Truth:
    """The truth on a clock that began earlier."""

    def moved(moments: tuple[Moment, ...]) -> tuple[Moment, ...]:
        return tuple(replace(moment, at=moment.at + by) for moment in moments)

    return replace(truth, beats=moved(truth.beats), changes=moved(truth.changes), end=truth.end + by)


@pytest.mark.timeout(240)
@pytest.mark.parametrize(("name", "tempo"), [("jeanie", 300.0), ("cuckoos_nest", 280.0)])
def test_a_lead_sheet_is_followed_to_its_end(hall: Hall, name: str, tempo: float, tmp_path: Path) -> None:
    chart = read_chart_file(SHEETS / f"{name}.chart")
    route = unfold(chart)
    pace = Pace(tempo=tempo, clock_noise=0.02)
    played = script(route, Organist(pace=pace, start=0.2, motor_noise=0.005, melody=False), random.Random(5))
    wishes = layered(("here", {"tempo": tempo}))
    song = Session(chart=chart, profile=read_profile(CONSOLE), layered=wishes)
    hall.begin(band_spec(song, str(tmp_path / "take.jsonl"), hall.ensemble.letter, hall.spec.token))

    begun = time.monotonic()
    for at, message in played.messages:
        time.sleep(max(0.0, begun + at - time.monotonic()))
        hall.console.play(*message)
    hall.show(lambda picture: picture.state in ("fine", "tacet"))
    assert hall.organ.sounding == set()

    with hall.ensemble:
        pass
    take = read_take(hall.spec.take)
    first = next(event.at for event in take.events if isinstance(event, KeyDown))
    truth = later(played.truth, first - next(at for at, message in played.messages if message[0] == 0x93))
    assert place_share(truth, take.actions) >= 0.97
    assert sounding_share(truth, take.actions, leave_out=0.05) >= 0.97
    assert {message[0] & 0xF0 for _, message in hall.organ.heard} == {0x80, 0x90}
