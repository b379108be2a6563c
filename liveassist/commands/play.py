"""The command ``play``: a chart, or a whole service, on the console."""

from __future__ import annotations

import argparse

from liveassist.commands.options import add, add_playing, whole


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart", help="the chart, or the service (.toml)")
    add(parser, "--no-desk", help="without the screen, until Ctrl-C")
    add(parser, "--from-bar", type=whole)
    add(parser, "--take", help="where to write the take (default: the takes folder of your user data)")
    add(parser, "--sound", help="also sound the figure through this sound device, by name")
    add_playing(parser)


def run(options: argparse.Namespace) -> int:
    """Play a chart on the console, or a service."""
    from charts.notation import read_chart_file
    from liveassist.commands.layering import (
        caution_before_sound,
        first_bar,
        for_the_band,
        read_profile_file,
        sound_device,
        stated,
    )
    from liveassist.commands.own_feels import own_feels_told
    from liveassist.commands.whole_service import play_service
    from liveassist.console.launcher import Session
    from liveassist.console.launcher import run as launch
    from liveassist.service.order import is_service

    if is_service(options.chart):
        return play_service(options)

    profile = read_profile_file(options.console)
    chart = read_chart_file(options.chart)
    extra = {} if options.from_bar is None else {"from_bar": first_bar(options.from_bar, chart)}
    sound = sound_device(options.sound)
    own = own_feels_told(options.chart)
    found = for_the_band(options.chart, chart, profile, {**stated(options), **extra}, feels=own.feels)
    caution_before_sound(sound, found.settings)
    return launch(
        Session(
            chart=chart,
            profile=profile,
            layered=found,
            take=options.take,
            sound=sound,
            feels=own.texts,
            notices=own.problems,
            chart_path=options.chart,
        ),
        desk=not options.no_desk,
    )
