"""The command ``export``: a chart in another format."""

from __future__ import annotations

import argparse
from pathlib import Path

from liveassist.commands.options import add
from liveassist.errors import PlayerError


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart")
    parser.add_argument(
        "--to", metavar="FILE", required=True, help="its suffix says what: .musicxml, .mxl, .abc, .txt, .chart"
    )
    add(parser, "--force")


def run(options: argparse.Namespace) -> int:
    """A chart in another format."""
    from charts.exchange.files import write
    from charts.exchange.outlets import CHART, WRITERS, exported
    from charts.notation import read_chart_file
    from liveassist.commands.target import file_name

    suffixes = (*WRITERS, CHART)
    chart = read_chart_file(options.chart)
    target = Path(options.to)
    suffix = target.suffix.lower() or (options.to if options.to in suffixes else "")
    if options.to in suffixes:
        target = Path(f"{file_name(chart.title)}{options.to}")
    if suffix not in suffixes:
        raise PlayerError(f"--to {options.to}: its suffix says what to write; these are: {', '.join(suffixes)}")
    data, remarks = exported(chart, suffix)
    write(target, data, force=options.force)
    print(f"{options.chart} -> {target}")
    for remark in remarks:
        print(f"  note: {remark}")
    return 0
