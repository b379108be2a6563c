"""Rehearsing: a chart against a steady pulse, and afterwards the words of its review.

It is ``play`` with lead ``pulse``, the click on, and a coach that listens. What can be practised is in ``band.practising``
(some sections, a loop, a click that leaves beats or bars out) and ``rehearsal.ladder``. ``--headless`` has an imagined
rehearser play, as fast as it can, and tells the passes as text.
"""

from __future__ import annotations

import argparse
import random
import tempfile
from collections.abc import Iterable
from dataclasses import asdict
from datetime import datetime
from pathlib import Path
from typing import Any

from charts.chart import Chart, same_name
from charts.notation import read_chart_file
from charts.roadmap import unfold
from charts.writing import write_chart
from liveassist.band.events import Action, Nodded, Told
from liveassist.band.practising import BETWEEN
from liveassist.band.song import performance
from liveassist.commands.layering import (
    caution_before_sound,
    chart_layer,
    layers,
    read_profile_file,
    sound_device,
    stated,
    user_layer,
)
from liveassist.commands.looking_back import play_again, tell
from liveassist.commands.own_feels import OwnFeels, own_feels_told
from liveassist.errors import PlayerError
from liveassist.rehearsal.ladder import Ladder, ladder_from
from liveassist.settings import Layered

STEADY = {"lead": "pulse", "click": True, "straight_on": True}
LONGEST = 300.0
"""Seconds after which an imagined rehearser has had enough."""


def rehearse(options: argparse.Namespace) -> int:
    """Rehearse on the console, or with an imagined rehearser."""
    chart = read_chart_file(options.chart)
    ladder = _ladder(options)
    wishes = {**stated(options), **STEADY, **_practice(options, chart, ladder)}
    own = own_feels_told(options.chart)
    profile = read_profile_file(options.console)
    layered = layers(
        ("your settings file", {} if options.headless else user_layer()),
        ("console profile", profile.settings),
        (Path(options.chart).name, chart_layer(chart)),
        ("the command line", wishes),
        feels=own.feels,
    )
    if options.headless:
        return _headless(options, chart, layered, own, ladder)
    from liveassist.console.launcher import Session
    from liveassist.console.launcher import run as launch
    from liveassist.console.take_names import take_path

    take, sound = options.take or take_path(chart.title), sound_device(options.sound)
    caution_before_sound(sound, layered.settings)
    code = launch(
        Session(
            chart=chart,
            profile=profile,
            layered=layered,
            take=take,
            sound=sound,
            feels=own.texts,
            notices=own.problems,
            nods=("count",) if options.no_desk else (),
            rehearsed=True,
            ladder=options.ladder or "",
        ),
        desk=not options.no_desk,
    )
    _look_back(options, take)
    return code


def _practice(options: argparse.Namespace, chart: Chart, ladder: Ladder | None) -> dict[str, Any]:
    """The settings of what is practised."""
    found: dict[str, Any] = {"loop": options.loop, "out": not options.figure}
    if options.section:
        found["practise"] = f"{BETWEEN} ".join(_section(name, chart) for name in options.section)
    if ladder is not None:
        found["tempo"] = ladder.first
    return found


def _section(name: str, chart: Chart) -> str:
    """A section that is played, as it is written."""
    there = tuple(dict.fromkeys(bar.section for bar in unfold(chart).bars))
    found = next((section for section in there if same_name(section, name)), None)
    if found is None:
        raise PlayerError(f'--section: there is no "{name}" in the order of playing; there are: {", ".join(there)}')
    return found


def _ladder(options: argparse.Namespace) -> Ladder | None:
    if not options.ladder:
        return None
    if options.loop or options.tempo:
        raise PlayerError("--ladder counts every pass in anew, at its own tempo: leave --loop and --tempo away")
    try:
        return ladder_from(options.ladder)
    except ValueError as error:
        raise PlayerError(f"--ladder: {error}") from None


def _look_back(options: argparse.Namespace, take: str, *, forget: bool = False) -> None:
    """The words of the review, if anything was played; then the take is kept in the history."""
    if not Path(take).exists():
        return
    again = play_again(options.chart, take, options.console)
    if not any(again.feet_and_hands()):
        print("Nothing was played, so there is nothing to tell.")
        return
    print()
    tell(again, take, report_to=options.report, forget=forget or options.forget)


# -- headless ---------------------------------------------------------------------------------------------------------


def _headless(options: argparse.Namespace, chart: Chart, layered: Layered, own: OwnFeels, ladder: Ladder | None) -> int:
    """An imagined rehearser plays: the coach's words, and the review of the take."""
    from importlib.metadata import version

    from liveassist.console.coaching import Coach
    from liveassist.console.hearing import Interpreter
    from liveassist.console.outlets import Outlets
    from liveassist.console.profile import write_profile
    from liveassist.console.runner import Runner
    from liveassist.console.settling import IMAGINED
    from liveassist.console.takes import Header, TakeWriter
    from liveassist.console.timeline import Arrival, SimulatedTimeline
    from liveassist.players.rehearser import Rehearser

    route, settings = unfold(chart), layered.settings
    timeline = SimulatedTimeline(())
    player = Rehearser(route, random.Random(options.seed))
    done: list[Action] = []

    def watched(actions: Iterable[Action]) -> None:
        actions = tuple(actions)
        done.extend(actions)
        timeline.add(Arrival(at, "rehearser", message) for at, message in player.answer(actions))
        if timeline.now() > LONGEST:
            runner.leave()

    with tempfile.TemporaryDirectory(prefix="liveassist-") as folder:
        path = options.take or str(Path(folder) / "take.jsonl")
        header = Header(
            program=version("liveassist"),
            started=datetime.now().astimezone().isoformat(timespec="seconds"),
            title=chart.title,
            chart=chart.text or write_chart(chart),
            chart_name=chart.source,
            profile=write_profile(IMAGINED),
            settings=asdict(settings),
            feels=own.texts,
            seed=settings.seed,
        )
        take = TakeWriter(path, header)
        runner = Runner(
            performance(route, settings, own.feels),
            timeline,
            IMAGINED,
            Interpreter(IMAGINED),
            Outlets(IMAGINED, {}),
            take=take,
            watched=watched,
            coach=Coach(route, ladder, work=lambda work: work()),
            alone=True,
        )
        code = runner.run([Nodded(at=0.0, heard=0.0, nod="count")])
        take.close()
        for action in done:
            if isinstance(action, Told) and action.kind == "note":
                print(f"{int(action.at // 60):>3}:{action.at % 60:04.1f}  {action.text}")
        _look_back(options, path, forget=True)
    return code
