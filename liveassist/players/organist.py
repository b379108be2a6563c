"""An imagined organist: plays a route with feet and hands, as well or as badly as asked, and tells the truth.

The script is a list of (seconds, MIDI bytes) on the plain console's channels: melody manual 1, pedal 4, foot switch
control 64 on channel 4. The truth is what was really played and when each beat really fell, so that a follower can be
scored. The organist does not hear the band (open loop). The same seed gives the same script, byte for byte; the
beats, the feet, the slips, the tune, the hands and each further habit have dice of their own, so that a slip does not change
the beats.

Where the default timing comes from (published human data, not our follower's own constants):

* beat noise 2.5 % and motor noise 15 ms: musicians tap with an SD of 2-4 % of the interval (Repp 2005, from memory);
  these two together give 4 % at 90 beats a minute. The split: Wing & Kristofferson 1973 (from memory).
* drift 0.3 % a beat: a choice of ours, no source.
* feet 10 ms ahead: professional drummers' bass foot is about 10 ms early (Fujii et al. 2011).
* right hand 10 ms: the low end of musicians' tapping (10-20 ms at 500 ms; Repp 2005, from memory).
* arch 2 %: phrases slow at both ends (Todd 1985, Repp 1992, from memory; the size is a choice of ours).
* ritard to 0.6 with q = 2.5: listeners prefer q from 2 to 3 (Friberg & Sundberg 1999); final tempo a choice of ours.
* breath half a beat, hold two beats more, pedal held 0.9 of the change: common practice, no source.
* slips: organists err less in outer voices than in inner ones (Gingras et al. 2016), so the pedal line is fairly clean;
  ``SLIPPING`` has 1-2 % each of missed, wrong, early and late pedals, a size chosen for tests.
"""

from __future__ import annotations

import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import zip_longest

from charts.chart import BREATH, HOLD, LATE, PUSH, WALK
from charts.route import Route, RouteChange
from liveassist.arranging.clock import Clock, Pause
from liveassist.players.scatter import pull_at, pulled, scattered
from liveassist.players.timing import (
    Pace,
    PlayedBar,
    PlayedChange,
    changes_played,
    keep_time,
    playing_order,
    sections_played,
)
from liveassist.players.truth import Moment, Script, Truth
from liveassist.players.tune import Stroke, block_chords, fingered, given, nearest, sung

MELODY_CHANNEL, PEDAL_CHANNEL = 1, 4
"""Channels of the plain console, named 1-16."""
SWITCH_CONTROL = 64
NOD_CONTROL = 65
VELOCITY = 64
PEDALBOARD = range(36, 68)
"""C to g', 32 notes."""
FEET = range(36, 56)
"""Where a hymn's bass line lies under both feet: common practice, no source."""
UPPER = (3, 5)
"""Degrees of a chord on which an inversion stands."""


HUMAN_PACE = Pace(clock_noise=0.025, drift=0.003, arch=0.02, ritard_to=0.6)


@dataclass(frozen=True, kw_only=True, slots=True)
class Organist:
    """One player's habits. Rates are chances between 0 and 1."""

    pace: Pace = HUMAN_PACE
    start: float = 2.0
    """Seconds before the first count."""
    first_bar: int = 0
    """Index of the route's bar to begin with."""
    bars: int = 0
    """Plays so many bars and no more; 0: to the end."""
    motor_noise: float = 0.015
    """SD of a foot's delay, in seconds."""
    hand_noise: float = 0.010
    """SD of a finger's delay, in seconds."""
    lead: float = 0.010
    """Seconds by which the feet are ahead of the beat; negative: behind it."""
    pull: float = 0.0
    """SD of a further lead that changes from section to section, in seconds."""
    tails: float = 0.0
    """Degrees of freedom of a foot's scatter (Student's t of the same SD), above 2; 0: a bell."""
    lingering: float = 0.0
    """How much of a foot's error lives on in the next: a correlation."""
    hold_beats: float = 2.0
    """Counted beats that a marked hold lasts beyond its written length."""
    breath_beats: float = 0.5
    """Counted beats that a marked breath takes."""
    wait_seconds: float = 2.0
    """Silence after a section marked ``wait``."""
    stops: tuple[tuple[int, float], ...] = ()
    """(index of a route bar, seconds): before that bar the player lets everything go and waits so long, once."""
    jumps: tuple[tuple[int, int], ...] = ()
    """(after, to) indices of route bars: unplanned repeats and skips, each taken once, in this order."""
    missed: float = 0.0
    """Chance that a change's pedal is not played."""
    wrong: float = 0.0
    """Chance that a change's pedal is another, mostly a neighbour."""
    inverted: float = 0.0
    """Chance that a change's pedal is the chord's third or fifth instead of the written bass."""
    early: float = 0.0
    """Chance that a change's pedal comes half a counted beat early."""
    late: float = 0.0
    """Chance that it comes half a counted beat late."""
    octaves: float = 0.0
    """Chance that it is played in the other octave."""
    passing: float = 0.0
    """Chance of a passing note half a beat before the next change."""
    fifths: float = 0.0
    """Chance that the fifth follows the root in the middle of a change."""
    every_beat: bool = False
    """Repeats the pedal on every counted beat."""
    walking: float = 0.0
    """Chance that the feet walk to the next root on the beats of a change, where the chart marks no walk."""
    line: tuple[tuple[Fraction, Fraction, int], ...] | None = None
    """The bass as written, (route position, length, key); None plays the basses of the changes. A note that begins with
    a change is its pedal and may slip; the others are played as they stand."""
    resting: tuple[int, ...] = ()
    """Steps of the roadmap in which the feet rest though the chart does not say so."""
    held: float = 0.9
    """Share of its time that a pedal stays down; a held chord and the last one stay to their end."""
    pedal_always: bool = False
    """Plays the pedal in sections marked manuals only too."""
    melody: bool = True
    tune: tuple[tuple[Fraction, Fraction, int], ...] | None = None
    """The melody as (route position, length, key); None plays the chart's, and makes one up where it has none."""
    finger_slips: float = 0.0
    """Chance that a note of the tune is its neighbour's key, a semitone or a tone off."""
    graces: float = 0.0
    """Chance that a note of the tune is followed by one that is not written, on its way to the next."""
    left_out: float = 0.0
    """Chance that a note of the tune is not played."""
    left_hand: bool = False
    """Plays block chords on the tune's manual, on every beat."""
    switch: str = ""
    """Presses the foot switch at each "change", "bar" or "section"; empty: never."""
    nods: bool = False
    """Nods ``on`` in the last bar of an underscore, with a switch that sends control 65 on channel 4."""


METRONOME = Organist(pace=Pace(), motor_noise=0.0, hand_noise=0.0, lead=0.0)
"""Plays what is written, when it is written."""
SLIPPING = replace(Organist(), missed=0.015, wrong=0.02, early=0.02, late=0.02, passing=0.05, fifths=0.05, octaves=0.02)
"""A person on a bad Sunday."""


HABITS = (
    "time",
    "feet",
    "slips",
    "tune",
    "hand",
    "slow",
    "walks",
    "drags",
    "tails",
    "pull",
    "inverted",
    "left",
    "fingers",
)
"""What has dice of its own. Added at the end only: the dice of those before stay as they are."""


@dataclass(frozen=True, slots=True)
class _Stroke:
    """One press of a pedal, before it is known when the next one comes."""

    at: float
    until: float
    key: int


def script(route: Route, organist: Organist | None = None, rng: random.Random | None = None) -> Script:
    """One performance of a route.

    Args:
        route: the chart unfolded.
        organist: the player's habits; without, the defaults.
        rng: seeded dice; without, seed 1.

    Raises:
        ValueError: a jump, stop or first bar that is not in the route, or a jump whose turn never comes.
    """
    organist, rng = organist or Organist(), rng or random.Random(1)
    dice = {habit: random.Random(rng.getrandbits(64)) for habit in HABITS}
    order = playing_order(route, organist.jumps, first=organist.first_bar, bars=organist.bars)
    changes = changes_played(route, order)
    pauses = _pauses(route, order, changes, organist)
    clock = keep_time(route, order, organist.pace, pauses, organist.start, dice["time"], dice["slow"], dice["drags"])
    written = None if organist.line is None else given(organist.line, order)
    leads = pulled(sections_played(order), organist.pull, dice["pull"])
    feet, begun = _feet(changes, clock, organist, dice, written, leads)
    messages = _keys(PEDAL_CHANNEL, feet)
    notes: Sequence[Stroke] = ()
    if organist.melody:
        notes = given(organist.tune, order) if organist.tune is not None else sung(route, order, changes, dice["tune"])
        notes = fingered(
            notes, dice["fingers"], slips=organist.finger_slips, graces=organist.graces, left_out=organist.left_out
        )
        messages += _keys(MELODY_CHANNEL, _hand(notes, clock, organist, dice["hand"]))
    if organist.left_hand:
        chords = block_chords(changes, {key for _, _, key in notes})
        fingers = _hand(chords, clock, organist, dice["left"])
        for key in sorted({stroke.key for stroke in fingers}):
            messages += _keys(MELODY_CHANNEL, [stroke for stroke in fingers if stroke.key == key])
    if organist.switch:
        messages += _presses(organist, order, changes, clock, dice["feet"])
    if organist.nods:
        messages += _nods(order, clock)
    truth = Truth(
        route=route,
        beats=_beats(route, order, changes, clock),
        changes=tuple(
            Moment(at=at, bar=played.bar.index, change=played.change.index, position=played.position)
            for played, at in zip(changes, begun, strict=True)
        ),
        bars=tuple((clock.at(played.count), played.bar.index) for played in order),
        end=clock.until(order[-1].end),
        pauses=clock.standing(),
    )
    return Script(messages=tuple(sorted((round(at, 6), data) for at, data in messages)), truth=truth)


def _pauses(
    route: Route, order: Sequence[PlayedBar], changes: Sequence[PlayedChange], organist: Organist
) -> dict[Fraction, Pause]:
    """Marked holds and breaths, waits and stops, by the count before which they stand."""
    found: dict[Fraction, Pause] = {}

    def add(count: Fraction, seconds: float, held: bool) -> None:
        before = found.get(count, Pause(0.0, True))
        found[count] = Pause(before.seconds + seconds, before.held and held)

    stops = dict(organist.stops)
    for place in order:
        if place.bar.index in stops:
            add(place.count, stops.pop(place.bar.index), False)
        if place.bar.wait and place is not order[-1]:
            add(place.end, organist.wait_seconds, False)
    if stops:
        raise ValueError(f"the player never comes to the stops before bars {', '.join(map(str, stops))}")
    for played in changes:
        beat_seconds = organist.pace.seconds(route, played.bar, played.beat)
        if HOLD in played.change.marks:
            add(played.end, organist.hold_beats * beat_seconds, True)
        if BREATH in played.change.marks:
            add(played.end, organist.breath_beats * beat_seconds, False)
    return {count: pause for count, pause in found.items() if count > order[0].count}


def _feet(
    changes: Sequence[PlayedChange],
    clock: Clock,
    organist: Organist,
    dice: Mapping[str, random.Random],
    written: Sequence[Stroke] | None,
    leads: Sequence[tuple[Fraction, float]],
) -> tuple[list[_Stroke], list[float]]:
    """The pedal strokes, and when each change really began: with its foot where one was played for it on time."""
    slips = dice["slips"]
    errors = scattered(dice["feet"], dice["tails"], tails=organist.tails, lingering=organist.lingering)
    strokes: list[_Stroke] = []
    begun: list[float] = []
    key = 43  # the middle of a bass line's range

    def stroke(count: Fraction, end: Fraction, pressed: int) -> float:
        at = clock.at(count) - organist.lead - pull_at(leads, count) + next(errors) * organist.motor_noise
        through = end == changes[-1].end or (end in clock.pauses and clock.pauses[end].held)
        until = at + (clock.until(end) - clock.at(count)) * (1.0 if through else organist.held)
        strokes.append(_Stroke(max(at, 0.0), until, pressed))
        return max(at, 0.0)

    for number, played in enumerate(changes):
        shift = _anticipation(played)
        begun.append(clock.at(played.count + shift))
        chances = {name: slips.random() for name in ("missed", "wrong", "off", "octaves", "passing", "fifths")}
        chances["walking"] = dice["walks"].random()
        turned, throw = dice["inverted"].random() < organist.inverted, dice["inverted"].random()
        bass, half = _turned(played.change, throw) if turned else played.change.bass, played.beat / 2
        if _feet_rest(played, organist):
            continue
        if written is not None:
            line = [note for note in written if played.count <= note[0] < played.end]
            if line and line[0][0] == played.count:
                taken = nearest(bass, line[0][2], FEET) if turned and bass is not None else line[0][2]
                line[0] = (*line[0][:2], _slipped(taken, organist, chances, slips))
        elif bass is not None:
            key = nearest(bass, key, FEET)
            pressed = _slipped(key, organist, chances, slips)
            following = changes[number + 1] if number + 1 < len(changes) else None
            line = _line(played, following, pressed, organist, chances)
        else:
            continue
        for count, end, pitch in line:
            if count > played.count:
                stroke(count, end, pitch)
            elif chances["missed"] >= organist.missed:
                if chances["off"] < organist.early:
                    stroke(max(count - half, changes[0].count), end, pitch)
                elif chances["off"] < organist.early + organist.late:
                    stroke(count + half, end, pitch)
                else:
                    begun[-1] = stroke(count + shift, end, pitch)
    return strokes, begun


def _feet_rest(played: PlayedChange, organist: Organist) -> bool:
    return (played.bar.manuals_only and not organist.pedal_always) or played.bar.step in organist.resting


def _turned(change: RouteChange, throw: float) -> int | None:
    """The chord's third or fifth, other than the written bass; the bass where there is no other."""
    found = [tone.spelling.pitch_class for tone in change.chord.tones if tone.degree in UPPER]
    other = [pitch_class for pitch_class in found if pitch_class != change.bass]
    return other[int(throw * len(other))] if other else change.bass


def _anticipation(played: PlayedChange) -> Fraction:
    """How far from its written place a pushed or late chord is played."""
    if PUSH in played.change.marks and played.count >= played.beat / 2:
        return -played.beat / 2
    return played.beat / 2 if LATE in played.change.marks else Fraction(0)


def _line(
    played: PlayedChange, following: PlayedChange | None, pressed: int, organist: Organist, chances: dict[str, float]
) -> list[Stroke]:
    """What the feet play through one change, as (count, end, key): its bass first, then what habit adds."""
    length, beat = played.end - played.count, played.beat
    line = [(played.count, pressed)]
    beats = [played.count + beat * k for k in range(1, int(-(-length // beat)))]
    next_bass = following.change.bass if following and not _feet_rest(following, organist) else None
    if (WALK in played.change.marks or chances["walking"] < organist.walking) and next_bass is not None:
        goal = nearest(next_bass, pressed, PEDALBOARD)
        line += [
            (count, pressed + round((goal - pressed) * (k + 1) / (len(beats) + 1))) for k, count in enumerate(beats)
        ]
    elif organist.every_beat:
        line += [(count, pressed) for count in beats]
    elif chances["fifths"] < organist.fifths and len(beats) >= 1:
        fifth = pressed + 7 if pressed + 7 in PEDALBOARD else pressed - 5
        line.append((beats[len(beats) // 2], fifth))
    if next_bass is not None and chances["passing"] < organist.passing and length > beat / 2:
        goal = nearest(next_bass, pressed, PEDALBOARD)
        step = 1 if abs(goal - pressed) == 2 else 2
        beside = goal + step if pressed > goal else goal - step
        line.append((played.end - beat / 2, beside if beside in PEDALBOARD else goal + step))
    return [(count, played.end, pitch) for count, pitch in line]


def _slipped(key: int, organist: Organist, chances: dict[str, float], slips: random.Random) -> int:
    """The pedal that the foot finds."""
    neighbour = slips.choice((-2, -1, -1, 1, 1, 2) if slips.random() < 0.8 else (-5, -4, -3, 3, 4, 5))
    if chances["wrong"] < organist.wrong:
        key += neighbour if key + neighbour in PEDALBOARD else -neighbour
    if chances["octaves"] < organist.octaves:
        key += 12 if key + 12 in PEDALBOARD else -12
    return key


def _hand(
    notes: Sequence[tuple[Fraction, Fraction, int]], clock: Clock, organist: Organist, dice: random.Random
) -> list[_Stroke]:
    """What a hand plays, in seconds: nearly legato (0.97 of the written value: a choice of ours)."""
    strokes = []
    for count, end, key in notes:
        at = clock.at(count)
        until = at + (clock.until(end) - at) * 0.97
        strokes.append(_Stroke(max(at + dice.gauss(0.0, 1.0) * organist.hand_noise, 0.0), until, key))
    return strokes


def _keys(channel: int, strokes: Sequence[_Stroke]) -> list[tuple[float, bytes]]:
    """Note messages of one voice. Each key is up at least 10 ms before the next goes down; a stroke within 30 ms of the
    one before it is left out, as no foot does that.
    """
    kept: list[_Stroke] = []
    for stroke in sorted(strokes, key=lambda stroke: stroke.at):
        if not kept or stroke.at - kept[-1].at >= 0.030:
            kept.append(stroke)
    messages = []
    for stroke, following in zip_longest(kept, kept[1:]):
        latest = following.at - 0.010 if following else stroke.until
        messages.append((stroke.at, bytes((0x8F + channel, stroke.key, VELOCITY))))
        messages.append((max(min(stroke.until, latest), stroke.at + 0.015), bytes((0x7F + channel, stroke.key, 0))))
    return messages


def _presses(
    organist: Organist, order: Sequence[PlayedBar], changes: Sequence[PlayedChange], clock: Clock, dice: random.Random
) -> list[tuple[float, bytes]]:
    """The foot switch at each change, bar or section."""
    counts = {
        "change": [played.count for played in changes],
        "bar": [played.count for played in order],
        "section": [played.count for played in order if played.bar.starts_section or played.landed],
    }
    if organist.switch not in counts:
        raise ValueError(f'the switch is pressed at each {", ".join(counts)}, not at each "{organist.switch}"')
    messages = []
    for count in counts[organist.switch]:
        at = max(clock.at(count) - organist.lead + dice.gauss(0.0, 1.0) * organist.motor_noise, 0.0)
        messages.append((at, bytes((0xAF + PEDAL_CHANNEL, SWITCH_CONTROL, 127))))
        messages.append((at + 0.1, bytes((0xAF + PEDAL_CHANNEL, SWITCH_CONTROL, 0))))
    return messages


def _nods(order: Sequence[PlayedBar], clock: Clock) -> list[tuple[float, bytes]]:
    """The nod ``on``, in the middle of the last bar of each underscore."""
    messages = []
    for played in order:
        if played.bar.underscore and played.bar.ends_section:
            at = clock.at(played.count + played.bar.length / 2)
            messages.append((at, bytes((0xAF + PEDAL_CHANNEL, NOD_CONTROL, 127))))
            messages.append((at + 0.1, bytes((0xAF + PEDAL_CHANNEL, NOD_CONTROL, 0))))
    return messages


def _beats(
    route: Route, order: Sequence[PlayedBar], changes: Sequence[PlayedChange], clock: Clock
) -> tuple[Moment, ...]:
    """Every counted beat as it fell. There are none inside a held chord: nobody counts there."""
    held = [(played.count, played.end) for played in changes if HOLD in played.change.marks]
    found = []
    for played in order:
        for position in route.beats(played.bar):
            count = played.count + position - played.bar.position
            if position >= played.bar.position and not any(start < count < end for start, end in held):
                change = route.change_at(position).index
                found.append(Moment(at=clock.at(count), bar=played.bar.index, change=change, position=position))
    return tuple(found)
