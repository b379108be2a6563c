"""The command ``demo``: an imagined organist plays a chart, and the band follows. Nothing need be plugged in."""

from __future__ import annotations

import argparse
from pathlib import Path

from liveassist.commands.options import add, add_playing
from liveassist.errors import PlayerError

CHART = Path(__file__).parents[2] / "demo_charts" / "lanterns_on_the_quay.chart"


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart", nargs="?", help="a chart to play instead of the demo's own")
    add(parser, "--headless", help="tell the story as text, as fast as it can, without a screen")
    add(parser, "--sound", help="sound device to play through, by name; silent without")
    parser.add_argument("--list-sound", action="store_true", help="list the sound devices and stop")
    add(parser, "--seed", help="another imagined organist (default 1)")
    add_playing(parser)


def run(options: argparse.Namespace) -> int:
    """Show it on the desk, or tell it as text."""
    if options.list_sound:
        return _list_sound()
    from charts.notation import read_chart_file
    from charts.roadmap import unfold
    from liveassist.commands.layering import chart_layer, layers, read_profile_file, sound_device, stated
    from liveassist.commands.own_feels import own_feels_told
    from liveassist.commands.scenes import headless, scene

    if options.chart is None and not CHART.exists():
        raise PlayerError("the demo's own chart is not beside the program; name a chart: liveassist demo song.chart")
    chart = read_chart_file(options.chart or CHART)
    profile = read_profile_file(options.console)
    sound = sound_device(options.sound)
    own = own_feels_told(options.chart or CHART)
    layered = layers(
        ("console profile", profile.settings),
        (chart.source, chart_layer(chart)),
        ("the command line", stated(options)),
        feels=own.feels,
    )
    route = unfold(chart)
    shown = scene(route, layered.settings, options.seed)
    if options.headless:
        return headless(route, layered.settings, shown, own.feels)
    from liveassist.console.launcher import Session
    from liveassist.console.launcher import run as launch

    return launch(
        Session(
            chart=chart,
            profile=profile,
            layered=layered,
            take="",
            sound=sound,
            script=tuple(shown.played.messages),
            begun=shown.begun(options.seed),
            nods=shown.nods,
            feels=own.texts,
            notices=own.problems,
        )
    )


def _list_sound() -> int:
    """The sound devices by name."""
    from liveassist.ears.caution import CAUTION
    from liveassist.ears.sound import list_devices

    devices = list_devices()
    print("\n".join(devices) if devices else "there is no sound device on this machine")
    print(f"\n{CAUTION}")
    return 0
