"""What each command does. Imports are made inside functions, so that a command loads only what it needs."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path

from charts.errors import ChartError
from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.layering import chart_layer, first_bar, layers, read_profile_file, sound_device, stated, user_layer

# -- page -----------------------------------------------------------------------------------------------------------


def check(options: argparse.Namespace) -> int:
    """Proof charts and tell everything found."""
    from charts.notation import text_of_file
    from charts.proof import proof_text
    from liveassist.arranging.feels import load_feels

    pedals = read_profile_file(options.console).pedal_compass
    worst = 0
    for path in options.charts:
        try:
            text = text_of_file(path)
        except ChartError as error:
            print(f"wrong: {error}")
            worst = 1
            continue
        problems = proof_text(text, Path(path).name, pedals=pedals, feels=tuple(load_feels()))
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
    from charts.telling import route_as_json, route_in_words

    unfolded = unfold(read_chart_file(options.chart))
    if options.json:
        print(json.dumps(route_as_json(unfolded), ensure_ascii=False))
    else:
        print("\n".join(route_in_words(unfolded)))
    return 0


def arrange(options: argparse.Namespace) -> int:
    """The left hand as data or as a list."""
    from liveassist.arranging.arrange import CHURCH
    from liveassist.arranging.arrange import arrange as arranged
    from liveassist.arranging.arrangement import played
    from liveassist.arranging.telling import note_as_json

    chart = read_chart_file(options.chart)
    settings = layers(
        (options.chart, chart_layer(chart)),
        ("the command line", stated(options)),
    ).settings
    arrangement = arranged(
        unfold(chart),
        room=settings.room or CHURCH,
        feel=settings.feel,
        tempo=settings.tempo,
        seed=settings.seed,
    )
    arrangement = played(arrangement, bass=settings.bass)
    for note in arrangement.levels[settings.fullness]:
        row = note_as_json(note)
        if options.json:
            print(json.dumps(row))
        else:
            change = arrangement.route.changes[note.change].chord.shown
            print(f"{row['position']:>10}  {row['length']:>8}  {note.part:<6}  key {note.pitch}  {change}")
    return 0


def bring_in(options: argparse.Namespace) -> int:
    """Charts made of files from elsewhere."""
    from liveassist import exchanging

    return exchanging.bring_in(options)


def send_out(options: argparse.Namespace) -> int:
    """A chart in another format."""
    from liveassist import exchanging

    return exchanging.send_out(options)


def key(options: argparse.Namespace) -> int:
    """Where the tune lies in each key, or the chart in another key."""
    from liveassist import exchanging

    return exchanging.show_keys(options)


def hear(options: argparse.Namespace) -> int:
    """Hear a chart, or write it to a WAV file."""
    from liveassist import hear

    return hear.hear(options)


# -- band -----------------------------------------------------------------------------------------------------------


def replay(options: argparse.Namespace) -> int:
    """What the band does with a take."""
    from liveassist import looking_back

    return looking_back.replay(options)


def review(options: argparse.Namespace) -> int:
    """What a take tells about the playing."""
    from liveassist import looking_back

    return looking_back.review(options)


def history(options: argparse.Namespace) -> int:
    """The takes kept, from week to week."""
    from liveassist import looking_back

    return looking_back.history(options)


def play(options: argparse.Namespace) -> int:
    """Play a chart on the console."""
    from liveassist.console.launcher import Session, run

    profile = read_profile_file(options.console)
    chart = read_chart_file(options.chart)
    extra = {} if options.from_bar is None else {"from_bar": first_bar(options.from_bar, chart)}
    sound = sound_device(options.sound)
    found = layers(
        ("your settings file", user_layer()),
        ("console profile", profile.settings),
        (Path(options.chart).name, chart_layer(chart)),
        ("the command line", {**stated(options), **extra}),
    )
    return run(
        Session(chart=chart, profile=profile, layered=found, take=options.take, sound=sound),
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
    "import": bring_in,
    "export": send_out,
    "key": key,
    "hear": hear,
    "replay": replay,
    "review": review,
    "history": history,
    "ports": ports,
    "console": console,
}
