"""Performances for the rehearsals of the band."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from liveassist.band.song import performance
from liveassist.settings import Settings
from tests.band.rehearsing import QUAY, Rehearsal, route_of


@pytest.fixture
def rehearse() -> Callable[..., Rehearsal]:
    def begin(text: str = QUAY, **settings: object) -> Rehearsal:
        route = route_of(text)
        return Rehearsal(route, performance(route, Settings(**settings)))  # type: ignore[arg-type]

    return begin
