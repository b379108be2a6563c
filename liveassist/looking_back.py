"""Looking back: takes played again, reviewed, kept, compared."""

from __future__ import annotations

import argparse
import json
import sys
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

from platformdirs import user_data_path

from charts.notation import read_chart, read_chart_file
from charts.roadmap import unfold
from charts.route import Route
from liveassist.arranging.feels import feels_from
from liveassist.band.events import Action, Event
from liveassist.band.song import performance
from liveassist.console.replaying import in_words, replayed, story
from liveassist.console.takes import Take, open_take, take_from_bytes
from liveassist.errors import PlayerError
from liveassist.layering import chart_layer, layers, read_profile_file, stated
from liveassist.own_feels import own_feels_told
from liveassist.rehearsal import telling
from liveassist.rehearsal.history import History, compared, listed, write_csv
from liveassist.rehearsal.report import report, strip
from liveassist.rehearsal.review import CLICK, FEET, Review
from liveassist.rehearsal.review import review as reviewed
from liveassist.settings import Settings


@dataclass(frozen=True, slots=True)
class Again:
    """A take played again."""

    route: Route
    settings: Settings
    take: Take
    actions: tuple[Action, ...]

    @property
    def events(self) -> tuple[Event, ...]:
        return tuple(self.take.events)


def played_again(options: argparse.Namespace) -> Again:
    """Plays the take, or the MIDI file, of a command again. Raises PlayerError, ChartError."""
    profile = read_profile_file(options.console)
    chart = read_chart_file(options.chart)
    wishes = stated(options)
    take = open_take(options.take, profile, shoe=wishes.get("shoe", ""))
    feels = feels_from(take.header.feels) if take.header.program else own_feels_told(options.chart).feels
    for remark in take.remarks:
        print(f"liveassist: {options.take}: {remark}", file=sys.stderr)
    settings = layers(
        ("console profile", profile.settings),
        (options.chart, chart_layer(chart)),
        (options.take, take.header.settings),
        ("the command line", wishes),
        feels=feels,
    ).settings
    route = unfold(chart)
    return Again(route, settings, take, tuple(replayed(performance(route, settings, feels), take.events)))


def replay(options: argparse.Namespace) -> int:
    """What the band does with a take."""
    again = played_again(options)
    if options.json:
        for line in story(again.actions, again.route):
            print(json.dumps(line, ensure_ascii=False, separators=(",", ":")))
    else:
        for text in in_words(again.actions, again.route):
            print(text)
    return 0


# -- review ---------------------------------------------------------------------------------------------------------


def review(options: argparse.Namespace) -> int:
    """What a take tells about the playing: words first, then figures. A take of the tool's own is kept in the history."""
    again = played_again(options)
    found = _review(again)
    if options.json:
        print(json.dumps(telling.as_json(found), ensure_ascii=False))
    else:
        for sentence in telling.summary(found):
            print(sentence)
        print()
        for row in (*strip(found), *telling.figures(found)):
            print(row)
    if again.take.header.started and not options.forget:
        _keep(options, again, found)
    if options.report:
        write_report(options.report, found, again.take.header.started)
    return 0


def write_report(path: str, found: Review, made: str = "") -> None:
    """Write the report as one HTML file. Raises PlayerError."""
    entries = []
    if history_file().exists():
        with History(history_file()) as kept:
            entries = [entry for entry in kept.entries() if entry.song == found.route.chart.title]
    try:
        Path(path).write_text(report(found, entries, made=made), encoding="utf-8")
    except OSError as error:
        raise PlayerError(f"{path}: cannot be written: {error.strerror}") from None
    print(f"{path}: the report", file=sys.stderr)


def _review(again: Again) -> Review:
    reference = CLICK if again.settings.time_lead == "click" else FEET
    return reviewed(again.route, again.events, again.actions, reference=reference)


def _keep(options: argparse.Namespace, again: Again, found: Review) -> None:
    """Keep a take in the history. Where that cannot be, it is told, and nothing else is lost."""
    made = None
    with suppress(ValueError):
        made = datetime.fromisoformat(again.take.header.started)
    try:
        with History(history_file()) as kept:
            kept.add(
                title=again.route.chart.title,
                lead=again.settings.lead,
                chart=Path(options.chart).read_text(encoding="utf-8-sig"),
                take=Path(options.take).read_bytes(),
                review=telling.as_json(found),
                made=made,
            )
    except PlayerError as error:
        print(f"liveassist: not kept: {error}", file=sys.stderr)


# -- history --------------------------------------------------------------------------------------------------------


def history_file() -> Path:
    """Where the history is kept."""
    return user_data_path("liveassist") / "history.sqlite3"


def history(options: argparse.Namespace) -> int:
    """The takes kept: listed, compared, exported, pruned."""
    with History(history_file()) as kept:
        if options.compare:
            entries = {entry.id: entry for entry in kept.entries()}
            for number in options.compare:
                if number not in entries:
                    raise PlayerError(
                        f"{number}: the history has no take of that number; liveassist history lists them"
                    )
            for line in compared(*(entries[number] for number in options.compare)):
                print(line)
            return 0
        if options.show is not None:
            for sentence in kept.review(options.show)["words"]:
                print(sentence)
            return 0
        if options.again:
            print(f"{kept.review_again(_review_kept, every=True)} takes reviewed again")
            return 0
        if options.keep is not None or options.days is not None:
            older = None if options.days is None else timedelta(days=options.days)
            print(f"{kept.prune(older_than=older, keep=options.keep)} takes forgotten")
            return 0
        entries_found = kept.entries(options.song)
    if options.csv:
        try:
            with Path(options.csv).open("w", newline="", encoding="utf-8") as file:
                write_csv(entries_found, file)
        except OSError as error:
            raise PlayerError(f"{options.csv}: cannot be written: {error.strerror}") from None
        print(f"{options.csv}: {len(entries_found)} takes")
        return 0
    for row in listed(entries_found):
        print(row)
    return 0


def _review_kept(text: str, content: bytes) -> dict[str, Any]:
    """A kept take reviewed anew."""
    take = take_from_bytes(content, "a kept take")
    chart = read_chart(text)
    feels = feels_from(take.header.feels)
    settings = layers(("the chart", chart_layer(chart)), ("the take", take.header.settings), feels=feels).settings
    route = unfold(chart)
    actions = tuple(replayed(performance(route, settings, feels), take.events))
    return telling.as_json(_review(Again(route, settings, take, actions)))
