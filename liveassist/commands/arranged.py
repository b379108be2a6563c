"""A chart arranged as the chart itself and the command line want it."""

from __future__ import annotations

import argparse

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.arranging.arrangement import Arrangement, played
from liveassist.arranging.feels import Feels
from liveassist.band.arranged import arrangement_for
from liveassist.commands.layering import chart_layer, layers, stated
from liveassist.commands.own_feels import own_feels_told
from liveassist.settings import Settings


def arranged(path: str, options: argparse.Namespace) -> tuple[Arrangement, Settings, Feels]:
    """The arrangement, its settings, and the feels there were to choose from."""
    chart = read_chart_file(path)
    feels = own_feels_told(path).feels
    settings = layers(
        (path, chart_layer(chart)),
        ("the command line", stated(options)),
        feels=feels,
    ).settings
    return played(arrangement_for(unfold(chart), settings, feels), bass=settings.bass), settings, feels
