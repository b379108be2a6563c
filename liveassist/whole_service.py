"""What the commands do with a service file: proof it, print its page, play it."""

from __future__ import annotations

import argparse
from collections.abc import Mapping

from liveassist.console.instrument import Profile
from liveassist.console.launcher import Programmed, ServiceSession, run_service
from liveassist.errors import PlayerError
from liveassist.layering import chart_layer, layers, read_profile_file, sound_device, stated, user_layer
from liveassist.own_feels import own_feels, own_feels_told
from liveassist.page.overview import Line, overview_page
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


def overview(path: str) -> str:
    """The page of a service, as HTML."""
    return page_of(read_order(path))


def page_of(order: Order) -> str:
    service = order.service
    lines = [
        Line(title=entry.title, route=entry.route, notes=entry.item.notes, before=entry.item.gap)
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
    return run_service(session_of(read_order(options.chart), options), desk=not options.no_desk)


def session_of(order: Order, options: argparse.Namespace) -> ServiceSession:
    """A service as the launcher wants it."""
    profile = read_profile_file(options.console)
    below = (("your settings file", user_layer()), ("console profile", profile.settings))
    service = order.service
    above = ("the command line", stated(options))
    items = []
    for entry in order.entries:
        if entry.path is None or entry.written is None:
            items.append(Programmed(title=entry.title, notes=entry.item.notes, before=entry.item.gap))
            continue
        own = own_feels_told(entry.path)
        its = {**service.settings, **entry.item.settings, "armed": False}
        layered = layers(
            *below, (entry.path.name, chart_layer(entry.written)), (service.source, its), above, feels=own.feels
        )
        items.append(_programmed(entry, layered, own.texts, own.problems))
    common = layers(*below, (service.source, {**service.settings, "armed": False}), above)
    return ServiceSession(
        title=service.title,
        items=tuple(items),
        profile=profile,
        layered=common,
        takes=options.take is None,
        sound=sound_device(options.sound),
    )


def _programmed(entry: Entry, layered: Layered, feels: Mapping[str, str], notices: tuple[str, ...]) -> Programmed:
    chart = entry.chart
    return Programmed(
        title=entry.title,
        chart=chart,
        layered=layered,
        feels=feels,
        notices=notices,
        notes=entry.item.notes or (chart.notes if chart is not None else ""),
        before=entry.item.gap,
    )
