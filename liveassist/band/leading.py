"""Leading: who keeps the time. The feet have the place; time comes from them, from a steady click, from a drummer or from a
MIDI clock, and a nod may change that while playing.

A pulse that somebody else keeps is moved by no foot (``Pulse.followed``), and neither it nor a click's ever shifts by part of
a beat under a foot: a foot between two beats is taken for the nearest (``on_the_beat``). Only after a hold, a breath or a
wait, where nobody kept time, does the foot say where the beats are.

The drummer has the pulse from the moment somebody is heard to drum. A drummer who stops is told after a bar of four; the
pulse goes on; after twice as long the feet keep it, until the drummer is back. Where the feet do not have the place the pulse
just goes on.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction
from functools import partial
from typing import TYPE_CHECKING

from charts.route import RouteBar
from liveassist.band import states
from liveassist.band.counting_in import Counted
from liveassist.band.drumming import PRESENT, SILENT_GONE, SILENT_TOLD
from liveassist.band.events import Action, Told
from liveassist.band.groove import Grid, Stroke
from liveassist.band.kit import CRASH, KICK
from liveassist.band.pulse import Pulse

if TYPE_CHECKING:
    from liveassist.band.asking import Act
    from liveassist.band.bandstand import Bandstand
    from liveassist.band.performance import Performance
    from liveassist.band.playing import Playing

FEET, CLICK, DRUMS, CLOCK = "feet", "click", "drums", "clock"
"""Where time comes from: ``liveassist.settings.TIMES``."""
SAID = {FEET: "your feet", CLICK: "a steady click", DRUMS: "the drummer", CLOCK: "the MIDI clock"}
NEAR = 0.30
"""A stroke so near to the beat on which the song should begin begins it, as a share of a click of the count."""
DOWNBEAT_WAITS = 0.05
"""How long the first downbeat after a drummer's count waits for the drummer's own, in seconds: that may be one more click."""
BY_HAND = -1
"""The key of a count that was pressed on a switch: no drum's."""
TOUCH = 0.050
"""A stroke so long before a foot, in seconds, may be the same beat."""
RITARD = 6.0
"""How much faster a drummer's pulse follows in a marked ritard."""


# -- grid -----------------------------------------------------------------------------------------------------------


def grid(band: Playing) -> Grid:
    """The beats of the bar being played."""
    bar = band.route.bars[band.bar]
    return Grid(float(_a_beat(band, bar)) - band.offset, bar.meter.compound)


def _a_beat(band: Playing, bar: RouteBar) -> Fraction:
    """The position of a beat of a bar: a pickup may begin between two."""
    return next(iter(band.route.beats(bar)), bar.end)


def on_the_beat(band: Playing, change: int, count: float) -> float:
    """The count at which a change stands, so that the beats of its bar go on from those that were before."""
    if not (band.pulse.steady or band.pulse.followed) or band.change is None or not _goes_on(band):
        return count
    here = band.route.changes[change]
    after = count - float(here.position - _a_beat(band, band.route.bars[here.bar]))
    off = (after - grid(band).anchor) / band.pulse.beat
    moved = (off - round(off)) * band.pulse.beat
    return count if abs(moved) < 1e-6 else count - moved


def _goes_on(band: Playing) -> bool:
    """Whether somebody keeps time now."""
    if band.moving:
        return True
    kept = band.pulse.followed and is_kept(band, band.beat_seconds())
    return kept and (band.time_lead == CLOCK or not band.standing() or _played_through(band, band.now))


def led(band: Playing, pulse: Pulse) -> None:
    """The pulse is another, by those who keep it."""
    band.correct(pulse, band.offset)
    band.listening.retimed(pulse)


# -- the drummer ----------------------------------------------------------------------------------------------------


def stroke(band: Performance, key: int, strength: int, at: float) -> list[Action]:
    """A stroke on the kit."""
    struck = Stroke(at, key, strength)
    first = band.drummer.hear(struck)
    if band.state == states.READY:
        if not first or band.time_lead not in (CLICK, DRUMS):
            return []
        if struck.drum.counts:
            return count(band, at, key)
        band.counting.forget()
        return []
    if band.state == states.COUNT_IN and band.counted is not None:
        return _in_the_count(band, struck) if first else []
    if band.time_lead != DRUMS or not (band.state in states.BEGUN or band.state == states.COUNT_IN):
        return []
    band.silence_told = False
    if not band.pulse.followed:
        return _joins(band, at) if first else []
    if not band.standing():
        _follow(band, struck, flam=not first)
        if band.rejoins and len(band.drummer.since(band.led_since - TOUCH)) >= PRESENT:
            band.rejoins = False
            led(band, band.drummer.joined(band.pulse, grid(band), since=band.led_since - TOUCH))
    return []


def with_the_foot(band: Playing, pulse: Pulse, count: float, at: float) -> Pulse:
    """The pulse of a foot that stands at a count. After a hold, a breath or a wait the beats are where the foot is, until the
    first strokes say otherwise; unless the drummer has played through."""
    if not pulse.followed or band.time_lead != DRUMS or not band.standing() or _played_through(band, at):
        return pulse
    band.rejoins = True
    return replace(pulse, count=count, time=at, var_time=TOUCH**2, cov=0.0)


def _played_through(band: Playing, at: float) -> bool:
    """Whether kick or snare have struck the latest beat before a foot, as if there were no hold."""
    if not band.drummer.drums_at(at, band.beat_seconds()):
        return False
    beats = grid(band)
    for struck in band.drummer.since(at - 1.1 * band.beat_seconds()):
        off = (band.pulse.count_at(struck.at) - beats.anchor) / band.pulse.beat
        if struck.marks and struck.at < at - TOUCH and abs(off - round(off)) * band.beat_seconds() < TOUCH:
            return True
    return False


def _follow(band: Playing, struck: Stroke, *, flam: bool = False) -> None:
    slows = band.change is not None and band.reading.ritard[band.change]
    looseness = RITARD if slows else 1.0
    led(band, band.drummer.follow(band.pulse, grid(band), struck, flam=flam, looseness=looseness))


def _joins(band: Performance, at: float) -> list[Action]:
    """Somebody begins to drum."""
    if not band.drummer.drums_at(at, band.beat_seconds()):
        return []
    band.led_since = at
    led(band, band.drummer.joined(band.pulse.kept(followed=True), grid(band)))
    return [Told(at=band.now, text="the drummer is heard: time from the drums", kind="note")]


def silences(band: Playing) -> Iterator[tuple[float, Callable[[float], list[Action]]]]:
    """When it is noticed that nobody drums any more."""
    if not band.pulse.followed or not band.moving:
        return
    if band.time_lead == CLOCK:
        yield band.clock.silent_from(), partial(_clock_stopped, band)
        return
    since, beat = max(band.drummer.latest, band.led_since), band.beat_seconds()
    if not band.silence_told:
        yield since + SILENT_TOLD * beat, partial(_silent, band)
    else:
        yield since + SILENT_GONE * beat, partial(_gone, band)


def _silent(band: Playing, at: float) -> list[Action]:
    band.silence_told = True
    return [Told(at=at, text="no drums: time goes on", kind="note")]


def _gone(band: Playing, at: float) -> list[Action]:
    led(band, band.pulse.kept())
    return [Told(at=at, text=f"no drums: {without(band)} until the drummer is back", kind="caution")]


def _clock_stopped(band: Playing, at: float) -> list[Action]:
    led(band, band.pulse.kept())
    return [Told(at=at, text=f"the MIDI clock has stopped: {without(band)}", kind="caution")]


def without(band: Playing) -> str:
    """How time goes on where the one who had it has gone."""
    return "time from your feet" if band.settings.place_lead == FEET else "time goes on as it was"


# -- counted in by hand ---------------------------------------------------------------------------------------------


def count(band: Performance, at: float, key: int) -> list[Action]:
    """A click of a count, by sticks or on a switch, while the band is ready."""
    bar = band.route.bars[band.bar]
    counted = band.counting.hear(at, key, bar.meter, band.beat_seconds())
    if counted is None:
        return []
    band.counting.forget()
    band.to_the_start()
    beat = float(bar.meter.counted_beat)
    period = counted.interval / counted.beats / beat
    band.home = period * bar.quarter_bpm / band.bar_of(band.first).quarter_bpm
    followed = band.time_lead == DRUMS and key != BY_HAND
    pulse = Pulse.begin(0.0, counted.last, period, beat, steady=band.time_lead == CLICK, followed=followed)
    band.pulse = pulse.counted_in() if followed else pulse
    band.counted = counted
    band.offset = float(band.passed) - counted.beats * beat
    band.led_since = at
    text = f"counted in: {60.0 / (period * beat):.0f}"
    return [*band.become(states.COUNT_IN, band.now), Told(at=band.now, text=text, kind="note")]


def counts_on(band: Performance, counted: Counted) -> None:
    """One more click where the song should begin: it is counted for another bar."""
    band.offset -= counted.clicks * counted.beats * band.pulse.beat


def _in_the_count(band: Performance, struck: Stroke) -> list[Action]:
    """A stroke after a count: the first of the song, or the count goes on."""
    assert band.counted is not None
    counted = band.counted
    click = counted.interval
    early = band.time_of(band.passed) - struck.at
    if band.pulse.followed:
        _follow(band, struck)
    if early <= NEAR * click:
        if struck.drum.clicks:
            counts_on(band, counted)
            return []
        return band.counted_in(band.now)
    if struck.drum in (KICK, CRASH) and struck.at - counted.last > (1 - NEAR) * click:
        off = (struck.at - counted.last) / click
        if abs(off - round(off)) <= NEAR:  # on a beat of a bar of clicks that was not wanted
            band.offset = float(band.passed) - round(off) * counted.beats * band.pulse.beat
            return band.counted_in(band.now)
    return []


# -- changing who leads -----------------------------------------------------------------------------------------------


def time_from(lead: str) -> Act:
    """What the nod for a lead does."""

    def act(band: Performance, _argument: int | None, at: float) -> list[Action]:
        if band.time_lead != lead:
            return hand_over(band, lead, at)
        if lead == DRUMS:
            stated = band.settings.time_lead
            return hand_over(band, FEET if stated == DRUMS else stated, at)
        return [Told(at=band.now, text=f"time comes from {SAID[lead]} already")]

    return act


def hand_over(band: Performance, lead: str, at: float) -> list[Action]:
    """Time comes from somebody else from now on."""
    band.time_lead = lead
    if band.state in states.BEGUN or band.state == states.COUNT_IN:
        led(band, band.pulse.kept(steady=lead == CLICK, followed=is_kept(band, band.beat_seconds())))
    else:
        band.pulse = band.pulse_from(band.first, band.now)
    band.led_since, band.silence_told = at, False
    waits = "" if lead in (FEET, CLICK) or band.pulse.followed else ", as soon as it is heard"
    return [Told(at=band.now, text=f"time from {SAID[lead]}{waits}", kind="note")]


def is_kept(band: Bandstand, beat: float) -> bool:
    """Whether a drummer or a clock that should keep the time is there, a beat being so many seconds."""
    if band.time_lead == DRUMS:
        return band.drummer.drums_at(band.now, beat)
    return band.time_lead == CLOCK and band.clock.runs(band.now)
