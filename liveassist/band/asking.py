"""What each nod does. One table, ``ACTS``; a nod that needs more than a row and a small function is designed wrong.

Nods that move the place lay a detour in the plan, which is taken at the next bar line or at the end of the section; nods that
change the sound act at the next attack; ``cut`` acts at once. A nod that means nothing in the present state is told so.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil
from typing import TYPE_CHECKING

from charts.chart import TAG, TAG_END, VAMP, VAMP_END
from liveassist.arranging.arrangement import CLICK
from liveassist.band import leading, offering, states
from liveassist.band.click import role_of
from liveassist.band.events import Action, NodTaken, Told
from liveassist.band.nods import NODS
from liveassist.band.plan import LOOP, UNDERSCORE, Detour

if TYPE_CHECKING:
    from liveassist.band.performance import Performance

Act = Callable[["Performance", int | None, float], "list[Action]"]

TAP_GAP = 2.0
"""Taps further apart than this begin a new measurement, in seconds."""
TAP_BOUNCE = 0.15
"""Taps nearer than this are one: 400 a minute is the fastest tempo."""
LOOP_BARS, TAG_BARS = 4, 4
COUNT_LEAD = 0.3
"""Seconds from the nod to the first click of a count-in where it is heard in in-ears, and three blocks of sound
more where the player has set them: their sound wants to be told ahead."""


def take(band: Performance, nod: str, argument: int | None, at: float) -> list[Action]:
    """Take a nod. Unknown names are told and change nothing."""
    if nod not in NODS:
        return [Told(at=band.now, text=f'"{nod}" is not a nod; I know {", ".join(NODS)}', kind="caution")]
    act, where = ACTS[nod]
    if band.state not in where:
        return [Told(at=band.now, text=f"'{nod}' means nothing while {band.state}")]
    bars = argument if nod == "to" or (argument or 0) > 0 else None  # no bars at all, or fewer, are none asked for
    return [NodTaken(at=band.now, nod=nod), *act(band, bars, at)]


def tap_heard(taps: Sequence[float], at: float) -> list[float]:
    """The taps of one measurement, the latest five, with another at ``at``, seconds; unchanged where that is a bounce."""
    if taps and abs(at - taps[-1]) < TAP_BOUNCE:
        return [*taps]
    return [*taps, at][-5:] if taps and 0 < at - taps[-1] <= TAP_GAP else [at]


def beat_tapped(taps: Sequence[float]) -> float | None:
    """Seconds from one of them to the next; None where there are not two."""
    return (taps[-1] - taps[0]) / (len(taps) - 1) if len(taps) > 1 else None


def set_tempo(band: Performance, bpm: float) -> list[Action]:
    """Another tempo for the next start: counted beats a minute of its first bar."""
    if band.state not in states.SILENT:
        return [Told(at=band.now, text="another tempo comes with the next start only", kind="caution")]
    band.home = 60.0 / bpm / float(band.bar_of(band.first).meter.counted_beat)
    band.pulse = band.pulse_from(band.first, band.now)
    return [Told(at=band.now, text=f"tempo {bpm:g}", kind="note")]


def in_words(band: Performance) -> tuple[str, ...]:
    """The nods that wait for their bar line."""
    words = [detour.why for detour in band.plan.asked if detour.why not in (LOOP, UNDERSCORE)]
    if band.listening.lift_asked:
        words.append(f"key {'up' if band.listening.lift_asked > 0 else 'down'} {abs(band.listening.lift_asked)}")
    if band.offered:
        words.append(f"{offering.in_words(band, band.offered)}? '{NODS['yes'].key}' takes it")
    return tuple(words)


def _marked(band: Performance, opening: str, closing: str) -> tuple[int, int] | None:
    """The bars between two marks, the nearest pair that ends at or after the bar being played."""
    start = None
    for bar in band.route.bars:
        if opening in bar.marks:
            start = bar.index
        if closing in bar.marks and start is not None:
            if bar.index >= band.bar:
                return start, bar.index
            start = None
    return None


def _ready(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    band.to_the_start()
    return band.become(states.READY, band.now)


def _tacet(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    if band.change is not None:
        band.home_key()
    band.to_the_start()
    return [*band.sounding.end_all(band.now), *band.become(states.TACET, band.now)]


def _count(band: Performance, _argument: int | None, at: float) -> list[Action]:
    band.to_the_start()
    bar = band.route.bars[band.bar]
    beat = float(bar.meter.counted_beat)
    bars = band.settings.count_in if band.settings.count_in >= 0 else (1 if band.pulse.bpm(beat) > 70 else 2)
    if bars == 0:
        return [*band.become(states.READY, band.now), *band.begin_by_hand(at)]
    length = float(bar.meter.bar_length)
    lead_in = bars * length + float(band.passed - bar.position)
    lead_in += length - float(bar.length) if bar.number == 0 else 0.0
    band.offset = float(band.passed) - lead_in
    beats = ceil(lead_in / beat - 1e-9)
    if band.settings.ears or band.settings.drummer_ears:
        lead = COUNT_LEAD + 3 * band.settings.sound_buffer / 1000.0
        band.pulse = replace(band.pulse, time=band.pulse.time + lead)
    accent = band.settings.click_accent
    band.count_in = [
        (k * beat, role_of(Fraction(k % bar.meter.counted_beats + 1), accent=accent)) for k in range(beats)
    ]
    return band.become(states.COUNT_IN, band.now)


def _lead_on(band: Performance) -> list[Action]:
    """A nod says where to go: where the chord goes round because its cue is missing, it is left at its end without one."""
    if not band.moving:
        return []
    if band.loop is not None:
        band.loop, band.nodded_on, band.missed = None, True, 0
        band.place_known(band.here.index)
    return band.flow(band.now)


def _again(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    first, last = band.step_bars()
    band.plan.lay(last, Detour(first, "again"))
    return _lead_on(band)


def _on(band: Performance, _argument: int | None, at: float) -> list[Action]:
    band.plan.lift()
    if band.final:
        return band.finish(band.now)
    if band.state != states.HOLDING:
        return _lead_on(band)
    following = band.plan.next_change(band.here.index)
    if following is None:
        return band.finish(band.now)
    count = band.pulse.count_at(at)
    pulse = band.pulse.restarted(count, at)
    band.listening.moved(following[0], count, pulse)
    return band.enter(following[0], band.now, pulse=pulse, count=count, sure=band.sure, cued=True)


def _vamp(band: Performance, argument: int | None, _at: float) -> list[Action]:
    first, _ = band.step_bars()
    marked = None if argument else _marked(band, VAMP, VAMP_END)
    start, end = marked or (max(first, band.bar - (argument or LOOP_BARS) + 1), band.bar)
    band.plan.lift()
    band.plan.lay(end, Detour(start, "vamp", stays=True))
    return _lead_on(band)


def _hold(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    actions = band.hold(band.now)
    band.waiting, band.loop, band.gap = None, None, None
    return [*actions, *band.become(states.HOLDING, band.now)]


def _out(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    band.out = True
    return [*band.sounding.end_music(band.now)]


def _in(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    band.out = False
    return []


def _tag(band: Performance, argument: int | None, _at: float) -> list[Action]:
    marked = None if argument else _marked(band, TAG, TAG_END)
    first, last = band.step_bars()
    start, end = marked or (max(first, last - (argument or TAG_BARS) + 1), last)
    band.plan.lay(end, Detour(start, "tag"))
    return _lead_on(band)


def _close(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    _, last = band.step_bars()
    ending = band.reading.ending_bar
    band.may_end = True
    band.plan.lift()
    if last < ending:
        band.plan.lay(last, Detour(ending, "close"))
    return _lead_on(band)


def _cut(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    return band.finish(band.now)


def _mute(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    """At once: where a click and the music fall apart, the music is right."""
    if not band.settings.click:
        return [Told(at=band.now, text="there is no click: it was not asked for")]
    band.muted = not band.muted
    if not band.muted:
        return [Told(at=band.now, text="the click is back", kind="note")]
    return [*band.sounding.end_all(band.now, part=CLICK), Told(at=band.now, text="click muted", kind="note")]


def _lift(semitones: int) -> Act:
    def act(band: Performance, _argument: int | None, _at: float) -> list[Action]:
        band.listening.lift_asked += semitones
        if band.state in states.SILENT:  # there is no bar line to wait for
            feet = [*band.shifting.run]
            band.lift_key()
            offering.hear_again(band, [((pitch_class - semitones) % 12, at) for pitch_class, at in feet])
        if band.state == states.HOLDING and band.listening.lift_asked:
            return [Told(at=band.now, text="the new key comes after this hold, at the next bar line", kind="note")]
        return []

    return act


def _yes(band: Performance, argument: int | None, at: float) -> list[Action]:
    if not band.offered:
        return [Told(at=band.now, text="'yes' to what? nothing is offered")]
    shift, band.offered = band.offered, None  # pressed again before the bar line it means nothing more
    steps = [NodTaken(at=band.now, nod="up" if shift > 0 else "down")] * abs(shift)  # so that a take tells its key
    return [*steps, *_lift(shift)(band, argument, at)]


def _fuller(steps: int) -> Act:
    def act(band: Performance, _argument: int | None, _at: float) -> list[Action]:
        band.fullness = min(4, max(1, band.fullness + steps))
        return []

    return act


def _tap(band: Performance, _argument: int | None, at: float) -> list[Action]:
    before, band.taps = band.taps, tap_heard(band.taps, at)
    tapped = beat_tapped(band.taps)
    if tapped is None or band.taps == before:
        return []
    beat = float(band.route.bars[band.bar].meter.counted_beat)
    period = tapped / beat
    if band.state in states.SILENT:
        first = band.bar_of(band.first)
        band.home = period * band.route.bars[band.bar].quarter_bpm / first.quarter_bpm
        band.pulse = band.pulse_from(band.first, band.now)
    else:
        bar, place = band.route.bars[band.bar], band.position_at(at)
        nearest = min((*band.route.beats(bar), bar.end), key=lambda position: abs(float(position) - place))
        band.pulse = replace(band.pulse.at_tempo(period, band.now), count=float(nearest) - band.offset, time=at)
        band.listening.retimed(band.pulse)
    return [Told(at=band.now, text=f"tempo {60.0 / (period * beat):.0f}", kind="note")]


def _sticks(band: Performance, _argument: int | None, at: float) -> list[Action]:
    if band.state == states.READY:
        return leading.count(band, at, leading.BY_HAND)
    if band.counted is not None and at > band.time_of(band.passed) - leading.NEAR * band.counted.interval:
        leading.counts_on(band, band.counted)
    return []


def _to(band: Performance, argument: int | None, _at: float) -> list[Action]:
    steps = [bar.index for bar in band.route.bars if bar.step == argument]
    if not steps:
        return [Told(at=band.now, text="there is no such step in the roadmap", kind="caution")]
    band.plan.lift()
    band.plan.lay(band.bar, Detour(steps[0], f"to {band.route.bars[steps[0]].section}"))
    return _lead_on(band)


def _alone(band: Performance, _argument: int | None, _at: float) -> list[Action]:
    """From item to item goes whoever plays a service (see the console's programme); a song knows nothing of others."""
    return [Told(at=band.now, text="this is one song, and no service: there is nothing before or after it")]


_ANY = frozenset(states.STATES)

ACTS: dict[str, tuple[Act, frozenset[str]]] = {
    "ready": (_ready, frozenset({states.TACET, states.FINE})),
    "count": (_count, states.SILENT),
    "tacet": (_tacet, _ANY - {states.TACET}),
    "again": (_again, states.BEGUN),
    "on": (_on, states.BEGUN),
    "vamp": (_vamp, frozenset({states.PLAYING, states.VAMPING, states.ENDING})),
    "hold": (_hold, frozenset({states.PLAYING, states.VAMPING, states.ENDING})),
    "out": (_out, _ANY),
    "in": (_in, _ANY),
    "tag": (_tag, states.BEGUN),
    "close": (_close, states.BEGUN),
    "cut": (_cut, _ANY - states.SILENT),
    "mute": (_mute, _ANY),
    "up": (_lift(1), _ANY),
    "down": (_lift(-1), _ANY),
    "yes": (_yes, _ANY),
    "fuller": (_fuller(1), _ANY),
    "thinner": (_fuller(-1), _ANY),
    "tap": (_tap, _ANY),
    "sticks": (_sticks, frozenset({states.READY, states.COUNT_IN})),
    **{lead: (leading.time_from(lead), _ANY) for lead in (leading.FEET, leading.DRUMS, leading.CLICK, leading.CLOCK)},
    "next": (_alone, states.SILENT),
    "back": (_alone, states.SILENT),
    "to": (_to, states.BEGUN),
}
"""For each nod what it does, and in which states it means something."""
