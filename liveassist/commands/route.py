"""The command ``route``: the roadmap unfolded."""

from __future__ import annotations

import argparse
import json

from liveassist.commands.options import add


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart")
    add(parser, "--json")


def run(options: argparse.Namespace) -> int:
    """The roadmap unfolded."""
    from charts.notation import read_chart_file
    from charts.roadmap import unfold
    from charts.telling import route_as_json, route_in_words

    unfolded = unfold(read_chart_file(options.chart))
    if options.json:
        print(json.dumps(route_as_json(unfolded), ensure_ascii=False))
    else:
        print("\n".join(route_in_words(unfolded)))
    return 0
