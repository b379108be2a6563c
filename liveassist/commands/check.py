"""The command ``check``: charts and services proofed, everything wrong or odd at once."""

from __future__ import annotations

import argparse
from pathlib import Path

from liveassist.commands.options import add


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("charts", nargs="+", metavar="chart", help="charts, or services (.toml) with all their charts")
    add(parser, "--console", help="console profile: checks against its pedalboard")


def run(options: argparse.Namespace) -> int:
    """Proof charts and services and tell everything found."""
    from charts.errors import ChartError
    from charts.notation import text_of_file
    from charts.proof import proof_text
    from liveassist.commands.layering import read_profile_file
    from liveassist.commands.own_feels import own_feels
    from liveassist.commands.whole_service import check_service
    from liveassist.service.order import is_service

    profile = read_profile_file(options.console)
    pedals = profile.pedal_compass
    worst = 0
    for path in options.charts:
        if is_service(path):
            worst = max(worst, 1 if check_service(path, profile) else 0)
            continue
        try:
            text = text_of_file(path)
        except ChartError as error:
            print(f"wrong: {error}")
            worst = 1
            continue
        own = own_feels(path)
        for said in own.problems:
            print(f"look at: {said}")
        problems = proof_text(text, Path(path).name, pedals=pedals, feels=tuple(own.feels))
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
