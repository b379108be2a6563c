"""What the commands do with a service file: proof it, print its page."""

from __future__ import annotations

from liveassist.console.instrument import Profile
from liveassist.own_feels import own_feels
from liveassist.page.overview import Line, overview_page
from liveassist.service.order import Order, proof_order, read_order


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
