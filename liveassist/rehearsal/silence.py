"""Silence: what became of the pulse while the click had fallen out.

A bar without a click, in a take that has clicks, is silent. When the click comes back, the foot that falls on its first stroke
was placed without it: how far that foot is off, against the player's usual before the silence, is what was drifted. The
click itself does not drift, nor does the figure.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from statistics import fmean, median

from charts.route import Route
from liveassist.arranging.arrangement import CLICK
from liveassist.band.events import Action, NoteOn
from liveassist.rehearsal.story import Beat

WITH_IT = 0.030
"""Within so many seconds of the click somebody has kept time: half to two thirds of what live trios differ by (30 to 50 ms:
Rasch 1979)."""


@dataclass(frozen=True, slots=True)
class Return:
    """The click came back."""

    at: float
    off: float
    """Seconds behind it (negative: ahead), against the usual before."""
    bars: int
    """How many bars it had been away."""


def returns(
    route: Route, beats: Sequence[Beat], actions: Iterable[Action], errors: Sequence[tuple[float, float]]
) -> tuple[Return, ...]:
    """Each return of the click with a foot to tell by. ``errors``: (when due, seconds late) of right notes, in order."""
    starts = [beat.at for beat in beats if beat.position == route.bar_at(beat.position).position]
    clicks = [one.at for one in actions if isinstance(one, NoteOn) and one.part == CLICK]
    if not clicks or len(starts) < 2:
        return ()
    found, heard_from = [], 0.0
    for first, last in _silent(starts, clicks):
        back = starts[last + 1]
        bar = back - starts[last]
        before = [late for due, late in errors if heard_from <= due < starts[first]]
        without = [late for due, late in errors if starts[first] < due <= back + bar / 8]
        if before and without:
            found.append(Return(back, without[-1] - median(before), last - first + 1))
        heard_from = back
    return tuple(found)


def _silent(starts: Sequence[float], clicks: Sequence[float]) -> Iterator[tuple[int, int]]:
    """First and last bar of each stretch without a click, after which it came back."""
    clicked = {bisect_right(starts, at + 0.01) - 1 for at in clicks}
    first = None
    for bar in range(len(starts)):
        if bar not in clicked:
            first = bar if first is None else first
        elif first is not None:
            if first > 0:
                yield first, bar - 1
            first = None


def words(found: Sequence[Return]) -> Iterator[str]:
    """Who drifted."""
    if not found:
        return
    offs = [one.off for one in found]
    times = "once" if len(found) == 1 else f"{len(found)} times"
    middle = fmean(offs)
    if max(map(abs, offs)) <= WITH_IT:
        yield f"The click fell out {times}, and you were with it when it came back: within {_ms(WITH_IT)} ms."
    elif abs(middle) > WITH_IT / 2 and all(off * middle > 0 for off in offs):
        verb = "slow down" if middle > 0 else "speed up"
        yield (
            f"When the click came back ({times}) you were {_ms(abs(middle))} ms {'behind' if middle > 0 else 'ahead of'} it: "
            f"without it you {verb}."
        )
    else:
        yield f"When the click came back ({times}) you were up to {_ms(max(map(abs, offs)))} ms off, now ahead, now behind."


def _ms(seconds: float) -> int:
    return round(1000 * seconds)
