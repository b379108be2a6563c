"""A chart arranged as the band would play it, with the player's settings and console, the chart's and the command line's."""

from __future__ import annotations

import argparse

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.arranging.arrangement import Arrangement, played
from liveassist.arranging.feels import Feels
from liveassist.band.arranged import arrangement_for
from liveassist.commands.layering import for_the_band, read_profile_file, stated
from liveassist.commands.own_feels import own_feels_told
from liveassist.settings import Settings


def arranged(path: str, options: argparse.Namespace) -> tuple[Arrangement, Settings, Feels]:
    """The arrangement, its settings, and the feels there were to choose from."""
    profile = read_profile_file(options.console)
    chart = read_chart_file(path)
    feels = own_feels_told(path).feels
    settings = for_the_band(path, chart, profile, stated(options), feels=feels).settings
    return played(arrangement_for(unfold(chart), settings, feels), bass=settings.bass), settings, feels
