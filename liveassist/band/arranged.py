"""A route arranged as its settings want it: the one place where settings become an arrangement, so that the band plays, the
listings and the page show, and ``liveassist hear`` sounds the same hand."""

from __future__ import annotations

from collections.abc import Generator, Sequence

from charts.melody import MelodyNote
from charts.route import Route
from liveassist.arranging.arrange import CHURCH, in_slices
from liveassist.arranging.arrangement import Arrangement
from liveassist.arranging.clock import in_proportion
from liveassist.arranging.feels import Feels
from liveassist.arranging.slicing import at_once
from liveassist.arranging.touch import FASTEST
from liveassist.band.practising import first_change
from liveassist.settings import Settings


def tempo_from_the_top(route: Route, settings: Settings) -> float:
    """The tempo of the first bar, in counted beats a minute: the settings state that of the bar in which the band begins. 0
    takes the chart's."""
    if not settings.tempo:
        return 0.0
    return in_proportion(settings.tempo, route.bars[first_change(route, settings).bar], route.bars[0])


def arrangement_in_slices(
    route: Route,
    settings: Settings,
    feels: Feels | None = None,
    *,
    lift: int = 0,
    tune: Sequence[MelodyNote] | None = None,
) -> Generator[None, None, Arrangement]:
    """The left hand for a whole route, giving way every millisecond or so.

    Args:
        route: as unfolded from the chart.
        settings: what they leave open (room, action) is the chart's or the usual.
        feels: those there are, by name; None: those that come with the tool.
        lift: semitones by which everything is transposed.
        tune: what the right hand plays, tied notes joined; None reads the chart's melody, which is a long slice.
    """
    return in_slices(
        route,
        lift=lift,
        room=settings.room or route.chart.room or CHURCH,
        feel=settings.feel,
        tempo=tempo_from_the_top(route, settings),
        seed=settings.seed,
        variety=settings.variety,
        feels=feels,
        action=settings.action or FASTEST,
        span=settings.span,
        coupled=settings.coupled,
        tune=tune,
    )


arrangement_for = at_once(arrangement_in_slices)
"""The left hand for a whole route, made at once."""
