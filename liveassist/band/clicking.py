"""Clicking: where the click falls, and what will be clicked next.

A counted beat is clicked when it is told (``striking``). Here stand the clicks that are no beats of the music: between two
beats, and in the gap before a stanza. A section marked ``wait`` ends in such a gap: in steady time the click goes on through
it, so that organist and drummer come in together, and a foot that comes near a click is on it. At a hold, a breath or a stop
there is silence, and the click is back with the cue. In a marked ritard beats are not divided.

``coming`` tells clicks before they fall, for ears that want to be told ahead. It is a question: asking changes nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from itertools import takewhile
from typing import TYPE_CHECKING

from charts.chart import BREATH, HOLD
from charts.route import RouteBar
from liveassist.band import states
from liveassist.band.click import BETWEEN, ON_BAR, ON_BEAT, SETS, Click, divisions, role_of
from liveassist.band.conductor import STOP
from liveassist.band.events import Action
from liveassist.band.practising import BEATS, clicked
from liveassist.band.pulse import Pulse

if TYPE_CHECKING:
    from liveassist.band.playing import Playing
    from liveassist.band.striking import Striking

GAP_BARS = 4
"""The click goes on so many bars into a gap; then somebody is speaking."""
SAME = 0.35
"""A beat within this share of a beat of the latest clicked one is the same beat, and a foot this near a click is on it."""
SHUFFLE = "shuffle"


@dataclass(slots=True)
class Gap:
    """A gap between stanzas in which the click goes on."""

    count: float
    """Of its first click: where the next stanza would have begun."""
    clicked: int = 0
    """Clicks so far."""


@dataclass(frozen=True, slots=True)
class Ahead:
    """The next section, as far as it can be foretold."""

    name: str
    count: float
    """Where it begins, in quarter notes played since the start: tells one time round from another."""
    at: float
    """When it begins, in seconds."""
    beat: float
    """Seconds in a counted beat of the bar before it."""
    beats: int
    """Counted beats in that bar."""


def clicks(band: Striking) -> bool:
    """Whether a click is to be heard."""
    return band.settings.click and not band.muted


def key_of(band: Striking, role: str) -> int:
    """The key of a click on the instrument it goes to."""
    return SETS[band.settings.click_notes][role]


def falls(band: Striking, bar: RouteBar, beat: Fraction, *, ahead: int = 0) -> bool:
    """Whether a beat of a bar has its click, so many bars ahead."""
    settings, number = band.settings, band.bars_played + ahead
    return clicked(settings.click_on, settings.drop, beat, beats=bar.meter.counted_beats, number=number)


def _falls_at(band: Playing, position: Fraction) -> bool:
    """The same by position in the bar being played, or at its end."""
    bar = band.route.bars[band.bar]
    if band.loop is None and position == bar.end:
        following = band.plan.after(band.bar)
        bar = bar if following is None else band.route.bars[following]
        return falls(band, bar, Fraction(1), ahead=1)
    place = band.loop.start if band.loop is not None and position == band.loop.end else position
    return falls(band, bar, bar.beat_at(place))


def parts_of_a_beat(band: Striking) -> int:
    """Into how many clicks a beat of the bar being played is divided."""
    if band.settings.click_on != BEATS or (band.change is not None and band.reading.ritard[band.change]):
        return 1
    bar = band.route.bars[band.bar]
    feel = band.settings.feel or bar.feel or ""
    bpm = band.pulse.bpm(float(bar.meter.counted_beat))
    return divisions(band.settings.subdivision, bar.meter, bpm, swung=feel.casefold() == SHUFFLE)


def _grid(band: Playing, since: float) -> Iterator[Fraction]:
    """The clicked positions of the bar being played, or of the chord that goes round in it, from a time on, its end too."""
    bar = band.route.bars[band.bar]
    end = band.loop.end if band.loop else bar.end
    step = bar.meter.counted_beat / parts_of_a_beat(band)
    left = math.floor((float(end) - band.position_at(since)) / float(step) + 1e-6)
    return (end - step * number for number in range(left, -1, -1))


def _role(band: Playing, position: Fraction) -> str:
    """What a click of the bar being played is for."""
    bar = band.route.bars[band.bar]
    accent = band.settings.click_accent
    if band.loop is not None and position == band.loop.end:
        return role_of(bar.beat_at(band.loop.start), accent=accent)
    if position == bar.end:
        return role_of(Fraction(1), accent=accent)
    return role_of(bar.beat_at(position), accent=accent)


def _clicked_anew(band: Playing) -> float:
    """From when on a click is another one than the latest."""
    return max(band.now, band.clicked + SAME * band.beat_seconds() / parts_of_a_beat(band))


def moments(band: Playing) -> Iterator[tuple[float, Callable[[float], list[Action]]]]:
    """The next click that is no beat of the music."""
    if not clicks(band):
        return
    if band.gap is not None:
        if (count := _next_in_gap(band, band.gap)) is not None:
            yield band.pulse.time_of(count), partial(_click_in_gap, band)
        return
    if not band.moving or band.waiting is not None or parts_of_a_beat(band) == 1:
        return
    boundary = band.boundary()
    for position in _grid(band, _clicked_anew(band)):
        if position >= boundary:
            return
        if (role := _role(band, position)) == BETWEEN and _falls_at(band, position):
            yield band.time_of(position), partial(band.click, role, position=position)
            return


# -- the gap ----------------------------------------------------------------------------------------------------------


def gap_here(band: Playing) -> Gap | None:
    """The gap that begins where the band stops for the foot; None at a hold or a breath, and where no click keeps time."""
    bar = band.route.bars[band.bar]
    marked = any(mark in band.here.marks for mark in (HOLD, BREATH))
    if not bar.wait or marked or not band.pulse.steady:
        return None
    return Gap(float(band.boundary()) - band.offset)


def _next_in_gap(band: Playing, gap: Gap) -> float | None:
    """The count of the next click in a gap; None where it has been long enough."""
    meter = band.route.bars[band.bar].meter
    if gap.clicked >= GAP_BARS * meter.counted_beats:
        return None
    return gap.count + gap.clicked * float(meter.counted_beat)


def _role_in_gap(band: Playing, number: int) -> str:
    first = number % band.route.bars[band.bar].meter.counted_beats == 0
    return ON_BAR if first and band.settings.click_accent else ON_BEAT


def _click_in_gap(band: Playing, at: float) -> list[Action]:
    gap = band.gap
    assert gap is not None
    gap.clicked += 1
    return band.click(_role_in_gap(band, gap.clicked - 1), at, band.passed)


def on_the_click(band: Playing, pulse: Pulse, count: float) -> Pulse:
    """The pulse of a foot that ends a gap: near a click, the click keeps the time."""
    gap = band.gap
    if gap is None or not pulse.steady or not clicks(band):
        return pulse
    beat = band.beat_seconds()
    late = (pulse.time_of(count) - band.pulse.time_of(gap.count)) / beat
    off = late - round(late)
    return replace(pulse, time=pulse.time - off * beat) if abs(off) < SAME else pulse


# -- ahead ------------------------------------------------------------------------------------------------------------


def coming(band: Playing, until: float) -> tuple[Click, ...]:
    """The clicks that will fall until a time if nothing is heard before: at most those of this bar, and the next barline."""
    if not clicks(band):
        return ()
    return tuple(takewhile(lambda click: click.at <= until, _coming(band)))


def _coming(band: Playing) -> Iterator[Click]:
    accent = band.settings.click_accent
    if band.state == states.COUNT_IN:
        yield from (Click(band.pulse.time_of(count), role) for count, role in band.count_in)
        yield Click(band.time_of(band.passed), role_of(band.route.bars[band.bar].beat_at(band.passed), accent=accent))
    elif band.gap is not None:
        if (count := _next_in_gap(band, band.gap)) is not None:
            yield Click(band.pulse.time_of(count), _role_in_gap(band, band.gap.clicked))
    elif band.moving and band.waiting is None:
        bar = band.route.bars[band.bar]
        for position in _grid(band, _clicked_anew(band)):
            if band.loop is None and position == bar.end and not _goes_on(band):
                return
            if _falls_at(band, position):
                yield Click(band.time_of(position), _role(band, position))


def _goes_on(band: Playing) -> bool:
    """Whether time goes on at the end of the bar being played."""
    following = band.plan.after(band.bar)
    if following is None:
        return False
    change = band.plan.first_change(following)
    if change is None or band.route.changes[change].position != band.route.bars[following].position:
        return True
    stops = band.change is not None and band.meets(change, band.route.bars[band.bar]) == STOP
    return not stops or _gap_follows(band)


def _gap_follows(band: Playing) -> bool:
    """Whether the stop at the end of the bar being played will be a gap with a click in it."""
    bar = band.route.bars[band.bar]
    last = band.route.changes[bar.changes[-1]] if bar.changes else band.here
    return bar.wait and band.pulse.steady and not any(mark in last.marks for mark in (HOLD, BREATH))


def next_section(band: Playing, bars: int = 3) -> Ahead | None:
    """The section that begins within so many bars, detours counted; None where none does, or nothing moves."""
    if not band.moving or band.loop is not None or band.waiting is not None:
        return None
    here = band.bar
    count = float(band.route.bars[here].end) - band.offset
    for _ in range(bars):
        following, detour = band.plan.after(here), band.plan.detour(here)
        if following is None or (detour is not None and detour.stays):  # it goes round until somebody asks
            return None
        if band.route.bars[following].starts_section:
            meter = band.route.bars[here].meter
            beat = float(meter.counted_beat) * band.pulse.period
            return Ahead(
                band.route.bars[following].section, count, band.pulse.time_of(count), beat, meter.counted_beats
            )
        here = following
        count += float(band.route.bars[here].length)
    return None
