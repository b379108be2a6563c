"""The plan: which change comes next, with and without detours."""

from __future__ import annotations

from liveassist.band.plan import Detour, Plan
from tests.band.rehearsing import QUAY, route_of

ROUTE = route_of(QUAY)


def test_without_detours_the_route_is_played_straight_on():
    plan = Plan(ROUTE)
    assert [plan.next_change(index) for index in (0, 2, 4)] == [(1, 4.0), (3, 2.0), (5, 4.0)]
    assert plan.next_change(len(ROUTE.changes) - 1) is None


def test_a_detour_is_taken_once_and_counts_the_distance_through_it():
    plan = Plan(ROUTE)
    plan.lay(3, Detour(0, "again"))
    assert plan.next_change(4) == (0, 4.0)
    assert plan.taken(3) == Detour(0, "again")
    assert plan.next_change(4) == (5, 4.0)


def test_a_vamp_stays_until_lifted():
    plan = Plan(ROUTE)
    plan.lay(1, Detour(0, "vamp", stays=True))
    plan.taken(1)
    assert plan.next_change(1) == (0, 4.0)
    assert plan.lift()
    assert not plan.lift()
    assert plan.next_change(1) == (2, 4.0)


def test_bars_without_a_change_lie_between():
    route = route_of("title=x\nkey=D\n== Verse ==\n| D | / / / / | G |")
    assert Plan(route).next_change(0) == (1, 8.0)
    plan = Plan(route)
    plan.lay(2, Detour(0, "again"))
    assert plan.next_change(0) == (1, 8.0)
    assert plan.next_change(1) == (0, 4.0)
