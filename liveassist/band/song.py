"""A song ready to be played: the route, and its arrangement in any key a nod may ask for."""

from __future__ import annotations

import random
from collections.abc import Callable, Generator, Iterable, Iterator

from charts.route import Route
from liveassist.arranging.arrangement import Arrangement, played_in_slices
from liveassist.arranging.feels import Feels
from liveassist.arranging.slicing import finished
from liveassist.arranging.tune import tune_of
from liveassist.band.arranged import arrangement_in_slices
from liveassist.band.performance import Performance
from liveassist.settings import Settings


class Arrangements:
    """The arrangement for a key lift in semitones, made when first asked for.

    One takes longer than the band may spend while playing, so they are made in slices beforehand. Asked for one that is not
    ready, it finishes what is missing: what a performance gets never depends on how far the slices came.
    """

    def __init__(self, route: Route, settings: Settings, feels: Feels | None = None) -> None:
        """``feels``: those there are, None for those that come with the tool."""
        self._route, self._settings, self._feels = route, settings, feels
        self._tune = tune_of(route)
        self._begun: dict[int, Generator[None, None, Arrangement]] = {}
        self._made: dict[int, Arrangement] = {}

    def __call__(self, lift: int) -> Arrangement:
        """The arrangement for a lift, whatever time that takes."""
        if lift not in self._made:
            self._made[lift] = finished(self._work(lift))
            del self._begun[lift]
        return self._made[lift]

    @property
    def made(self) -> tuple[int, ...]:
        """The lifts that are ready."""
        return tuple(self._made)

    def slices(self, lifts: Iterable[int], wanted: Callable[[], int]) -> Iterator[None]:
        """Makes the arrangements for some lifts, a slice at each step, and whichever is wanted before all others."""
        for lift in lifts:
            while lift not in self._made:
                self._slice(wanted() if wanted() not in self._made else lift)
                yield

    def _slice(self, lift: int) -> None:
        try:
            next(self._work(lift))
        except StopIteration as done:
            self._made[lift] = done.value
            del self._begun[lift]

    def _work(self, lift: int) -> Generator[None, None, Arrangement]:
        """The work on one arrangement, begun or taken up again."""
        if lift not in self._begun:
            self._begun[lift] = self._in_slices(lift)
        return self._begun[lift]

    def _in_slices(self, lift: int) -> Generator[None, None, Arrangement]:
        made = yield from arrangement_in_slices(self._route, self._settings, self._feels, lift=lift, tune=self._tune)
        return (yield from played_in_slices(made, bass=self._settings.bass))


def arrangements(route: Route, settings: Settings, feels: Feels | None = None) -> Arrangements:
    """The arrangements of a route in every key."""
    return Arrangements(route, settings, feels)


def performance(route: Route, settings: Settings, feels: Feels | None = None) -> Performance:
    """A performance of a route, at its beginning."""
    return Performance(route, arrangements(route, settings, feels), settings, random.Random(settings.seed))
