"""The command ``print``: an organ score, chords, or the overview of charts or of a service."""

from __future__ import annotations

import argparse

from liveassist.commands.options import add
from liveassist.errors import PlayerError


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("charts", nargs="+", metavar="chart")
    parser.add_argument(
        "--to",
        metavar="FILE",
        help="where to; its suffix says what: .html (default), .musicxml, .mxl, .svg, .mid. A folder, a suffix alone, or - for "
        "standard output are understood too",
    )
    what = parser.add_mutually_exclusive_group()
    what.add_argument("--chords", action="store_true", help="the chart's chords and words only, in large type")
    what.add_argument("--simple", action="store_true", help="a left hand for a person to play: one chord a change")
    what.add_argument(
        "--overview",
        action="store_true",
        help="all charts, or a service (.toml), in order on one page: first pedal notes, tempi, roadmaps",
    )
    parser.add_argument("--unfolded", action="store_true", help="every repeat written out")
    add(parser, "--console", "--fullness", "--tempo", "--room", "--feel", "--no-variety")


def run(options: argparse.Namespace) -> int:
    """Print scores, chords or an overview."""
    from liveassist.page.printing import names_itself

    if options.overview:
        _print_overview(options)
        return 0
    if len(options.charts) > 1 and not names_itself(options.to):
        raise PlayerError(
            f"--to {options.to}: {len(options.charts)} charts do not go into one file; name a folder that is there, or a "
            "suffix alone such as .musicxml"
        )
    for path in options.charts:
        if options.chords:
            _print_chords(path, options)
        else:
            _print_score(path, options)
    return 0


def _print_overview(options: argparse.Namespace) -> None:
    from charts.notation import read_chart_file
    from charts.roadmap import unfold
    from liveassist.page.overview import overview_page
    from liveassist.service.order import is_service

    services = [path for path in options.charts if is_service(path)]
    if services and len(options.charts) > 1:
        raise PlayerError(f"{services[0]} is a whole service: it has a page of its own, so name it alone")
    if services:
        from liveassist.commands.whole_service import overview

        _write_page(options.to, "overview", overview(services[0]))
        return
    routes = [unfold(read_chart_file(path)) for path in options.charts]
    _write_page(options.to, "overview", overview_page(routes))


def _print_chords(path: str, options: argparse.Namespace) -> None:
    from charts.notation import read_chart_file
    from liveassist.page.chords import chords_page
    from liveassist.page.printing import file_name

    chart = read_chart_file(path)
    _write_page(options.to, f"{file_name(chart)}_chords", chords_page(chart))


def _print_score(path: str, options: argparse.Namespace) -> None:
    from liveassist.commands.arranged import arranged
    from liveassist.page import printing

    arrangement, settings, feels = arranged(path, options)
    name = printing.file_name(arrangement.route.chart)
    if options.simple:
        from liveassist.page.simple import simplified

        arrangement, name = simplified(arrangement), f"{name}_simple"
    wishes = printing.Wishes(
        fullness=settings.fullness,
        feel=settings.feel,
        tempo=settings.tempo,
        unfolded=options.unfolded,
        by_feel=not options.simple,
        known=feels,
    )
    if options.to == printing.STANDARD_OUTPUT:
        printing.to_standard_output(printing.score_as_html(arrangement, wishes))
        return
    for written in printing.printed(arrangement, printing.target(options.to, name), wishes):
        print(written)


def _write_page(to: str | None, name: str, page: str) -> None:
    """Write a page of text, which is HTML and nothing else."""
    from liveassist.page import printing

    if to == printing.STANDARD_OUTPUT:
        printing.to_standard_output(page)
        return
    path = printing.target(to, name)
    if path.suffix.lower() != printing.HTML:
        raise PlayerError(f"{path}: this page is written as {printing.HTML} only")
    print(printing.write(path, page.encode()))
