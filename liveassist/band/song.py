"""A song ready to be played: the route, and its arrangement in any key a nod may ask for."""

from __future__ import annotations

import random
from collections.abc import Callable
from functools import cache

from charts.route import Route
from liveassist.arranging.arrange import CHURCH, arrange
from liveassist.arranging.arrangement import Arrangement, played
from liveassist.band.performance import Performance
from liveassist.settings import Settings


def arrangements(route: Route, settings: Settings) -> Callable[[int], Arrangement]:
    """The arrangement for a key lift in semitones, made when first asked for. Made before the song starts for the lifts that
    a nod may ask for: one takes longer than the band may spend while playing."""
    room = settings.room or route.chart.room or CHURCH

    @cache
    def arrange_at(lift: int) -> Arrangement:
        made = arrange(route, lift=lift, room=room, feel=settings.feel, tempo=settings.tempo, seed=settings.seed)
        return played(made, bass=settings.bass)

    return arrange_at


def performance(route: Route, settings: Settings) -> Performance:
    """A performance of a route, at its beginning."""
    return Performance(route, arrangements(route, settings), settings, random.Random(settings.seed))
