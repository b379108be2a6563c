"""What each command does. Imports are made inside functions, so that a command loads only what it needs."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from liveassist.errors import PlayerError

if TYPE_CHECKING:
    from charts.chart import Chart
    from liveassist.console.profile import Profile
    from liveassist.settings import Layered

OPTIONS = ("lead", "time", "place", "patience", "tempo", "fullness", "feel")
"""Settings that the command line may state."""


def read_profile_file(path: str | None) -> Profile:
    """The console profile in a file, or the plain console."""
    from liveassist.console.profile import PLAIN, read_profile

    return PLAIN if path is None else read_profile(read_text(path, "a console profile"), source=Path(path).name)


def read_text(path: str, what: str) -> str:
    """A text file, with errors that a player can act upon."""
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise PlayerError(f"{path}: there is no such file; I need {what}") from None
    except IsADirectoryError:
        raise PlayerError(f"{path} is a folder; I need {what}") from None
    except UnicodeDecodeError as error:
        raise PlayerError(f"{path}: not a text file in UTF-8 (byte {error.start + 1}); I need {what}") from None
    except OSError as error:
        raise PlayerError(f"{path}: cannot be read: {error.strerror}") from None


def chart_layer(chart: Chart) -> dict[str, Any]:
    """The settings that a chart states."""
    stated = {"lead": chart.lead, "patience": chart.patience, "room": chart.room}
    return {name: value for name, value in stated.items() if value is not None}


def stated(options: argparse.Namespace) -> dict[str, Any]:
    """The settings stated on the command line."""
    from liveassist.settings import check as checked

    found = {name: getattr(options, name, None) for name in OPTIONS}
    try:
        return {name: checked(name, value, "the command line") for name, value in found.items() if value is not None}
    except ValueError as error:
        raise PlayerError(str(error)) from None


def user_layer() -> dict[str, Any]:
    """The user's settings file, where there is one."""
    import tomllib

    from platformdirs import user_config_path

    path = user_config_path("liveassist") / "settings.toml"
    if not path.exists():
        return {}
    try:
        return tomllib.loads(read_text(str(path), "settings"))
    except tomllib.TOMLDecodeError as error:
        raise PlayerError(f"{path}: {error}") from None


def layers(*parts: tuple[str, Mapping[str, Any]]) -> Layered:
    """Settings from layers, weakest first."""
    from liveassist.arranging.feels import find_feel, load_feels
    from liveassist.settings import layered

    try:
        found = layered(*parts)
    except ValueError as error:
        raise PlayerError(str(error)) from None
    where, feel = found.origin["feel"], found.settings.feel
    if feel and find_feel(feel) is None:
        raise PlayerError(f'{where}: "{feel}" is not a feel I know; I can play {", ".join(sorted(load_feels()))}')
    return found


# -- page -----------------------------------------------------------------------------------------------------------


def check(options: argparse.Namespace) -> int:
    """Proof charts and tell everything found."""
    from charts.errors import ChartError
    from charts.notation import read_chart_file
    from charts.proof import proof
    from liveassist.arranging.feels import load_feels

    pedals = read_profile_file(options.console).pedal_compass
    worst = 0
    for path in options.charts:
        try:
            problems = proof(read_chart_file(path), pedals=pedals, feels=tuple(load_feels()))
        except ChartError as error:
            problems = error.problems
        for problem in problems:
            print(f"{'wrong' if problem.serious else 'look at'}: {problem}")
        serious = sum(problem.serious for problem in problems)
        others = len(problems) - serious
        if problems:
            print(f"{path}: {serious} wrong, {others} worth a look")
        else:
            print(f"{path}: nothing to mend")
        worst = max(worst, 1 if serious else 0)
    return worst


def route(options: argparse.Namespace) -> int:
    """The roadmap unfolded."""
    from charts.notation import read_chart_file
    from charts.roadmap import unfold
    from charts.telling import route_as_json

    unfolded = unfold(read_chart_file(options.chart))
    if options.json:
        print(json.dumps(route_as_json(unfolded), ensure_ascii=False))
        return 0
    chart = unfolded.chart
    print(f"{chart.title}: {chart.key.shown}, {chart.meter.name}, {len(unfolded.bars)} bars")
    step = -1
    for bar in unfolded.bars:
        if bar.step != step:
            step = bar.step
            print(f"\n{bar.section}{f' (time {bar.pass_})' if bar.pass_ > 1 else ''}")
        names = " ".join(unfolded.changes[index].chord.shown for index in bar.changes) or "·"
        print(f"  {bar.number:>3}  {names}")
    return 0


def arrange(options: argparse.Namespace) -> int:
    """The left hand as data or as a list."""
    from charts.notation import read_chart_file
    from charts.roadmap import unfold
    from liveassist.arranging.arrange import CHURCH
    from liveassist.arranging.arrange import arrange as arranged
    from liveassist.arranging.telling import note_as_json

    chart = read_chart_file(options.chart)
    settings = layers(
        (options.chart, chart_layer(chart)),
        ("the command line", {**stated(options), **({"room": options.room} if options.room else {})}),
    ).settings
    arrangement = arranged(
        unfold(chart),
        room=settings.room or CHURCH,
        feel=settings.feel,
        tempo=settings.tempo,
        seed=settings.seed,
    )
    for note in arrangement.levels[settings.fullness]:
        row = note_as_json(note)
        if options.json:
            print(json.dumps(row))
        else:
            change = arrangement.route.changes[note.change].chord.shown
            print(f"{row['position']:>10}  {row['length']:>8}  key {note.pitch}  {change}")
    return 0


# -- band -----------------------------------------------------------------------------------------------------------


def replay(options: argparse.Namespace) -> int:
    """What the band does with a take."""
    from charts.notation import read_chart_file
    from charts.roadmap import unfold
    from liveassist.band.song import performance
    from liveassist.console.replaying import open_take, replayed, story

    profile = read_profile_file(options.console)
    chart = read_chart_file(options.chart)
    wishes = stated(options)
    take = open_take(options.take, profile)
    for remark in take.remarks:
        print(f"liveassist: {options.take}: {remark}", file=sys.stderr)
    settings = layers(
        ("console profile", profile.settings),
        (options.chart, chart_layer(chart)),
        (options.take, take.header.settings),
        ("the command line", wishes),
    ).settings
    unfolded = unfold(chart)
    actions = replayed(performance(unfolded, settings), take.events)
    for line in story(actions, unfolded) if options.json else _told(actions, unfolded):
        print(line if isinstance(line, str) else json.dumps(line, ensure_ascii=False, separators=(",", ":")))
    return 0


def _told(actions: Any, unfolded: Any) -> Iterator[str]:
    from liveassist.console.replaying import in_words

    return in_words(actions, unfolded)


def play(options: argparse.Namespace) -> int:
    """Play a chart on the console."""
    from charts.notation import read_chart_file
    from liveassist.console.launcher import Session, run

    profile = read_profile_file(options.console)
    chart = read_chart_file(options.chart)
    extra = {"from_bar": options.from_bar - 1} if options.from_bar else {}
    found = layers(
        ("your settings file", user_layer()),
        ("console profile", profile.settings),
        (Path(options.chart).name, chart_layer(chart)),
        ("the command line", {**stated(options), **extra}),
    )
    return run(
        Session(chart=chart, profile=profile, layered=found, take=options.take, sound=options.sound),
        desk=not options.no_desk,
    )


def ports(options: argparse.Namespace) -> int:
    """List the MIDI ports."""
    from liveassist.console.ports import midi_binding, ports_report

    for row in ports_report(midi_binding()):
        print(row)
    return 0


def console(options: argparse.Namespace) -> int:
    """Learn the console by pressing."""
    from liveassist.console.learning import learn_console

    return learn_console(Path(options.profile or "console.toml"))


def demo(options: argparse.Namespace) -> int:
    """The imagined organist plays."""
    from liveassist.demo import show

    return show(options)


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "demo": demo,
    "play": play,
    "check": check,
    "route": route,
    "arrange": arrange,
    "replay": replay,
    "ports": ports,
    "console": console,
}
