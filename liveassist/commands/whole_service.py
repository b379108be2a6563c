"""What the commands do with a service file: proof it, print its page, play it."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from liveassist.commands.layering import (
    caution_before_sound,
    chart_layer,
    layers,
    read_profile_file,
    sound_device,
    stated,
    user_layer,
)
from liveassist.commands.own_feels import own_feels, own_feels_told
from liveassist.console.instrument import Profile
from liveassist.console.launcher import Programmed, ServiceSession, run_service
from liveassist.console.take_names import take_path
from liveassist.errors import PlayerError
from liveassist.page.overview import Line, overview_page
from liveassist.service.keeping import Change, changes, keep
from liveassist.service.order import Entry, Order, proof_order, read_order
from liveassist.settings import Layered


def check_service(path: str, profile: Profile) -> int:
    """Proof a service and all its charts, and tell everything found. Returns how many things are wrong."""
    problems = proof_order(path, pedals=profile.pedal_compass, feels=lambda chart: tuple(own_feels(chart).feels))
    for problem in problems:
        print(f"{'wrong' if problem.serious else 'look at'}: {problem}")
    serious = sum(problem.serious for problem in problems)
    if problems:
        print(f"{path}: {serious} wrong, {len(problems) - serious} worth a look")
    else:
        songs = len(read_order(path).songs)
        print(f"{path}: nothing to mend ({songs} song{'' if songs == 1 else 's'})")
    return serious


TODAY = ("lead", "patience", "fullness")
"""What the page of a service says that a song has otherwise."""


def overview(path: str) -> str:
    """The page of a service, as HTML."""
    return page_of(read_order(path))


def page_of(order: Order) -> str:
    service = order.service
    lines = [
        Line(
            title=entry.title,
            route=entry.route,
            notes=entry.item.notes,
            before=entry.item.gap,
            feel=str(entry.item.settings.get("feel", "")),
            today=", ".join(f"{name} {entry.item.settings[name]}" for name in TODAY if name in entry.item.settings),
        )
        for entry in order.entries
    ]
    return overview_page(lines, title=", ".join(filter(None, [service.title, service.date])))


def play_service(options: argparse.Namespace) -> int:
    """Play a service on the console, from item to item."""
    for name, value in (("--from-bar", options.from_bar), ("--take", options.take)):
        if value not in (None, ""):
            raise PlayerError(
                f"{name} is for one song; {options.chart} is a service, and every song in it has its own take"
            )
    order = read_order(options.chart)
    session = session_of(order, options)
    songs = [item.layered.settings for item in session.items if item.layered is not None]
    caution_before_sound(session.sound, session.layered.settings, *songs)
    code = run_service(session, desk=not options.no_desk)
    if sys.stdin.isatty() and sys.stdout.isatty():
        played = [entry for entry, item in zip(order.entries, session.items, strict=True) if _was_played(item)]
        ask_to_keep(changes(order.service, played))
    return code


def _was_played(item: Programmed) -> bool:
    """Whether there is a take of it."""
    return bool(item.take) and Path(item.take).exists()


def ask_to_keep(found: Sequence[Change], answer: Callable[[str], str] = input) -> None:
    """Ask once whether what was otherwise today is to hold from now on, and write it."""
    if not found:
        return
    print("Otherwise than in the charts was today:")
    for change in found:
        print(f"    {change.told}")
    try:
        said = answer(
            "Keep today's key, tempo and route as the default from now on? y and Enter keeps them, Enter alone not: "
        )
    except (EOFError, KeyboardInterrupt):
        return
    if said.strip().casefold() not in ("y", "yes"):
        return
    for change in found:
        before = keep(change)
        print(f"{change.path}: written; as it was: {before}")


def session_of(order: Order, options: argparse.Namespace) -> ServiceSession:
    """A service as the launcher wants it."""
    profile = read_profile_file(options.console)
    below = (("your settings file", user_layer()), ("console profile", profile.settings))
    service = order.service
    above = ("the command line", stated(options))
    items = []
    for entry in order.entries:
        if entry.path is None or entry.written is None:
            items.append(
                Programmed(title=entry.title, notes=entry.item.notes, before=entry.item.gap, gap=entry.item.seconds)
            )
            continue
        own = own_feels_told(entry.path)
        its = {**service.settings, **entry.item.settings, "armed": False}
        layered = layers(
            *below, (entry.path.name, chart_layer(entry.written)), (service.source, its), above, feels=own.feels
        )
        items.append(_programmed(entry, layered, own.texts, own.problems, takes=options.take is None))
    common = layers(*below, (service.source, {**service.settings, "armed": False}), above)
    return ServiceSession(
        title=service.title,
        items=tuple(items),
        profile=profile,
        layered=common,
        sound=sound_device(options.sound),
        text=service.text,
        name=service.source,
    )


def _programmed(
    entry: Entry, layered: Layered, feels: Mapping[str, str], notices: tuple[str, ...], *, takes: bool
) -> Programmed:
    chart = entry.chart
    return Programmed(
        title=entry.title,
        chart=chart,
        layered=layered,
        take=take_path(f"{entry.item.number} {entry.title}") if takes else "",
        feels=feels,
        notices=notices,
        notes=entry.item.notes or (chart.notes if chart is not None else ""),
        before=entry.item.gap,
        gap=entry.item.seconds,
        path=str(entry.path.resolve()) if entry.path is not None else "",
        stamp=entry.stamp,
    )
