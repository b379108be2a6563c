"""Two lead sheets of the music21 corpus, from the first foot to the last chord, through real MIDI ports.

The charts are the chord symbols of the corpus (``tests/players/test_lead_sheets.py`` compares them with music21). An imagined
organist plays the pedals on a virtual console; the organ's side hears the figure. Played faster than written, to save time.
Root in the pedal is the cue: common practice, no source.
"""

from __future__ import annotations

import random
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass, replace
from operator import itemgetter
from pathlib import Path
from typing import Any

import pytest

from charts.chart import Chart
from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.band.events import KeyDown
from liveassist.console.instrument import Profile
from liveassist.console.launcher import Session, band_spec
from liveassist.console.profile import read_profile
from liveassist.console.takes import read_take
from liveassist.players.organist import Organist, Pace, script
from liveassist.players.scoring import place_share, sounding_share
from liveassist.players.truth import Moment, Script, Truth
from liveassist.settings import layered
from tests.console.hall import CONSOLE, Hall, open_hall

SHEETS = Path(__file__).parent.parent / "lead_sheets"


def later(truth: Truth, by: float) -> Truth:
    """The truth on a clock that began earlier."""

    def moved(moments: tuple[Moment, ...]) -> tuple[Moment, ...]:
        return tuple(replace(moment, at=moment.at + by) for moment in moments)

    return replace(truth, beats=moved(truth.beats), changes=moved(truth.changes), end=truth.end + by)


@dataclass
class Recital:
    """A lead sheet in a hall of its own."""

    hall: Hall
    played: Script

    def begin(self, chart: Chart, tempo: float, profile: Profile, take: Path) -> None:
        song = Session(chart=chart, profile=profile, layered=layered(("here", {"tempo": tempo})))
        self.hall.begin(band_spec(song, str(take), self.hall.ensemble.letter, self.hall.spec.token))

    def judge(self) -> None:
        """It was followed to its end."""
        hall, played = self.hall, self.played
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


@pytest.mark.timeout(240)
def test_lead_sheets_are_followed_to_their_end(
    fake_console: Callable[..., Any], fake_organ: Callable[..., Any], until: Any, tmp_path: Path
) -> None:
    """Both at the same time, in two halls, to save time."""
    with ExitStack() as halls:
        recitals: list[Recital] = []
        for name, tempo in (("jeanie", 300.0), ("cuckoos_nest", 280.0)):
            chart = read_chart_file(SHEETS / f"{name}.chart")
            organist = Organist(pace=Pace(tempo=tempo, clock_noise=0.02), start=0.2, motor_noise=0.005, melody=False)
            profile = read_profile(CONSOLE.replace('"console"', f'"rail {name}"').replace('"organ"', f'"organ {name}"'))
            opened = open_hall(fake_console(f"rail {name}"), fake_organ(f"organ {name}"), until, tmp_path, profile)
            recitals.append(Recital(halls.enter_context(opened), script(unfold(chart), organist, random.Random(5))))
            recitals[-1].begin(chart, tempo, profile, tmp_path / f"{name}.jsonl")
        together = [
            (at, number, message) for number, each in enumerate(recitals) for at, message in each.played.messages
        ]
        begun = time.monotonic()
        for at, number, message in sorted(together, key=itemgetter(0)):
            time.sleep(max(0.0, begun + at - time.monotonic()))
            recitals[number].hall.console.play(*message)
        for each in recitals:
            each.judge()
