"""A player who does anything at any time: the band never falls over, and leaves no note on. More of it in
``tests/benchmarks/faults.py``."""

from __future__ import annotations

import random

import pytest

from liveassist.band.events import Nodded
from liveassist.band.song import performance
from liveassist.settings import Settings
from tests.band.rehearsing import QUAY, route_of
from tests.band.wild import Account, wild


@pytest.mark.parametrize("lead", ["feet", "switch", "pulse", "click"])
def test_thousands_of_events_of_any_kind(lead: str) -> None:
    route = route_of(QUAY)
    band = performance(route, Settings(lead=lead, click=True))
    account = Account()
    for event in wild(route, 2500, random.Random(8)):
        account.hear(band.receive(event))
    account.hear(band.receive(Nodded(at=band.now, heard=band.now, nod="tacet")))
    assert account.starts > 100
    assert account.on == set()
