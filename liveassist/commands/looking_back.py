"""Looking back: takes played again, reviewed, kept, compared."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from fractions import Fraction
from pathlib import Path
from typing import Any

from platformdirs import user_data_path

from charts.notation import read_chart, read_chart_file
from charts.roadmap import unfold
from charts.route import Route
from charts.whole import write_whole
from liveassist.arranging.feels import Feels, feels_from
from liveassist.band.events import Action, Event, KeyDown
from liveassist.band.song import performance
from liveassist.commands.layering import chart_layer, layers, read_profile_file, stated
from liveassist.commands.own_feels import own_feels_told
from liveassist.console.replaying import replayed
from liveassist.console.takes import Take, open_take, take_from_bytes
from liveassist.errors import PlayerError
from liveassist.rehearsal import telling
from liveassist.rehearsal.history import History
from liveassist.rehearsal.report import report, strip
from liveassist.rehearsal.review import CLICK, FEET, Review
from liveassist.rehearsal.review import review as reviewed
from liveassist.settings import Settings
from liveassist.wrapping import say


@dataclass(frozen=True, slots=True)
class Again:
    """A take played again."""

    route: Route
    settings: Settings
    take: Take
    actions: tuple[Action, ...]
    figure: tuple[Fraction, ...]
    """Where the figure strikes, as it stands in the arrangement."""

    @property
    def events(self) -> tuple[Event, ...]:
        return tuple(self.take.events)

    def feet_and_hands(self) -> Iterator[KeyDown]:
        """Whatever was played."""
        return (event for event in self.take.events if isinstance(event, KeyDown))


def played_again(options: argparse.Namespace) -> Again:
    """Plays the take, or the MIDI file, of a command again. Raises PlayerError, ChartError."""
    return play_again(options.chart, options.take, options.console, stated(options))


def play_again(chart_path: str, path: str, console: str | None, wishes: Mapping[str, Any] | None = None) -> Again:
    """Plays a take, or a MIDI file, again; ``wishes`` are the command line's settings. A take is played by the chart that it
    keeps: in a service the key or the route may have been others than the file's, and the file may have been edited since.
    Raises PlayerError, ChartError."""
    profile, wishes = read_profile_file(console), wishes or {}
    chart = read_chart_file(chart_path)
    take = open_take(path, profile, shoe=wishes.get("shoe", ""))
    if take.header.chart not in ("", chart.text):
        print(f"liveassist: {chart_path} is not as it was played: the take's own chart is taken", file=sys.stderr)
        chart = read_chart(take.header.chart, take.header.chart_name)
    feels = feels_from(take.header.feels) if take.header.program else own_feels_told(chart_path).feels
    for remark in take.remarks:
        print(f"liveassist: {path}: {remark}", file=sys.stderr)
    settings = layers(
        ("console profile", profile.settings),
        (chart_path, chart_layer(chart)),
        (path, take.header.settings),
        ("the command line", wishes),
        feels=feels,
    ).settings
    route = unfold(chart)
    return _again(route, settings, take, feels)


def _again(route: Route, settings: Settings, take: Take, feels: Feels) -> Again:
    band = performance(route, settings, feels)
    figure = band.arrangement.attacks[settings.fullness]
    return Again(route, settings, take, tuple(replayed(band, take.events)), figure)


# -- review ---------------------------------------------------------------------------------------------------------


def tell(again: Again, path: str, *, report_to: str | None, forget: bool, as_json: bool = False) -> None:
    """Tell the review of a take, keep it in the history (``forget``: don't), and write the report where one is asked for."""
    found = _review(again)
    if as_json:
        print(json.dumps(telling.as_json(found), ensure_ascii=False))
    else:
        for sentence in telling.summary(found):
            say(sentence)
        print()
        for row in (*strip(found), *telling.figures(found)):
            print(row)
    if again.take.header.started and not forget:
        _keep(path, again, found)
    if report_to:
        write_report(report_to, found, again.take.header.started)


def write_report(path: str, found: Review, made: str = "") -> None:
    """Write the report as one HTML file. Raises PlayerError."""
    entries = []
    if history_file().exists():
        with History(history_file()) as kept:
            entries = [entry for entry in kept.entries() if entry.song == found.route.chart.title]
    try:
        write_whole(Path(path), report(found, entries, made=made))
    except OSError as error:
        raise PlayerError(f"{path}: cannot be written: {error.strerror}") from None
    print(f"{path}: the report", file=sys.stderr)


def _review(again: Again) -> Review:
    """Up to where the player left: played again, the band would go on, and nobody would be there."""
    reference = CLICK if again.settings.time_lead == "click" else FEET
    there = [one.at for one in again.take.actions] + [one.heard for one in again.events]
    actions = again.actions
    if again.take.actions:
        actions = tuple(action for action in actions if action.at <= max(there))
    return reviewed(again.route, again.events, actions, reference=reference, figure=again.figure)


def _keep(path: str, again: Again, found: Review) -> None:
    """Keep a take in the history. Where that cannot be, it is told, and nothing else is lost."""
    made = None
    with suppress(ValueError):
        made = datetime.fromisoformat(again.take.header.started)
    try:
        with History(history_file()) as kept:
            kept.add(
                title=again.route.chart.title,
                lead=again.settings.lead,
                chart=again.route.chart.text,
                take=Path(path).read_bytes(),
                review=telling.as_json(found),
                made=made,
            )
    except PlayerError as error:
        print(f"liveassist: not kept: {error}", file=sys.stderr)


# -- history --------------------------------------------------------------------------------------------------------


def history_file() -> Path:
    """Where the history is kept."""
    return user_data_path("liveassist") / "history.sqlite3"


def review_kept(text: str, content: bytes) -> dict[str, Any]:
    """A kept take reviewed anew."""
    take = take_from_bytes(content, "a kept take")
    chart = read_chart(text)
    feels = feels_from(take.header.feels)
    settings = layers(("the chart", chart_layer(chart)), ("the take", take.header.settings), feels=feels).settings
    route = unfold(chart)
    return telling.as_json(_review(_again(route, settings, take, feels)))
