"""How the imagined organist plays in each row of the table.

Where the figures come from: they are human, and none is taken from the band's own model.

* cue scatter 30 ms: onsets of musicians playing together differ by 27-49 ms SD (Rasch 1979), 30-40 ms in ensembles;
* clock noise 2 % of a beat: a musician's tapping SD is 2-4 % of the interval (Repp 2005, from memory);
* slow wander: 1/f noise (``liveassist.players.timing``); its size is fitted so that bar lengths vary by 2 % and 5 % over
  songs of the development set; what was measured is the table's last column;
* missed 5 %, wrong 3 %, passing notes 10 %: a hard day; organists err less than that, and least in the outer voices (Gingras et
  al. 2016). Sizes are choices of ours, as is an unplanned repeat or skip in every song.
* a congregation sinks by 5 to 10 % through each section, and is picked up again: a choice of ours (the mechanism is known:
  Chafe et al. 2004, see ``liveassist.players.timing``);
* inversions at every tenth change, a left hand that beats out chords below the tune: choices of ours;
* a tune that stands in the chart is played with 2 % of its notes beside the key, 3 % left out, after 5 % a note more: choices
  of ours, more than organists slip in outer voices (Gingras et al. 2016). In the other rows the charts of the reported set
  have no tune;
* feet like a bass player's: the same 30 ms in all, of which 12 ms change from section to section; Student's t of 4 degrees
  of freedom; half of a foot's error lives on in the next. Sizes are choices of ours;
* feet 20 ms ahead or behind: drummers' feet are 10 ms early (Fujii et al. 2011), tapping feet more (Aschersleben & Prinz 1995,
  from memory);
* start tempo 8 % off: the largest error at which a remembered tempo usually lies (Levitin & Cook 1996, from memory).

The feet are centred on the beat except where a row says otherwise: a constant lead is a matter of its own.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from following_melodies import in_the_chart
from following_songs import Song

from charts.chart import BREATH, HOLD
from charts.route import Route
from liveassist.players.organist import METRONOME, Organist
from liveassist.players.timing import Pace
from liveassist.settings import Settings

SCATTER = 0.030
CALM = Pace(clock_noise=0.02, wander=0.0165)
"""Bar lengths vary by 2 %."""
WILD = Pace(clock_noise=0.025, wander=0.0585)
"""Bar lengths vary by 5 %."""
ARCHED = replace(CALM, arch=0.04, ritard_to=0.6, closing_bars=2)
"""Phrases slow at both ends, and a last ritard that no chart marks; sources in ``liveassist.players``."""
DRAGGED = replace(CALM, drag=(0.05, 0.10))
"""A congregation that sinks, and an organist who stays with it."""
SLOW_2, SLOW_5 = Pace(wander=0.022), Pace(wander=0.061)
"""Bar lengths vary as much, but no beat is uneven by itself: a band that drifts together."""
PLAIN = replace(METRONOME, motor_noise=SCATTER, melody=False)
SLIPS = {"missed": 0.05, "wrong": 0.03, "passing": 0.10}
SUNG = {"melody": True, "finger_slips": 0.02, "graces": 0.05, "left_out": 0.03}
DRIFT_2 = replace(PLAIN, pace=CALM, **SLIPS)
DRIFT_5 = replace(PLAIN, pace=WILD, **SLIPS)
PULL = 0.012
BASS_LIKE = {"motor_noise": (SCATTER**2 - PULL**2) ** 0.5, "pull": PULL, "tails": 4.0, "lingering": 0.5}
OFF_TEMPO = 0.08


@dataclass(frozen=True, kw_only=True)
class Condition:
    """One row."""

    name: str
    organist: Organist
    settings: Settings = field(default_factory=Settings)
    compared: bool = False
    """The baselines play along."""
    jump: int = 0
    """Unplanned repeats and skips a song."""
    pauses: bool = False
    """A breath or a hold at the end of every section but the last, and one stop that nobody marked."""
    rest: str = ""
    """A section without pedal: "marked" in the chart, or "unmarked"."""
    tempo: float = 1.0
    """The player's tempo as a share of the chart's."""
    written: bool = False
    """The tune stands in the chart."""


def _table(*conditions: Condition) -> dict[str, Condition]:
    return {condition.name: condition for condition in conditions}


CONDITIONS = _table(
    Condition(name="clean", organist=replace(METRONOME, melody=False), compared=True),
    Condition(name="steady", organist=PLAIN, compared=True),
    Condition(name="drift 2 %", organist=DRIFT_2, compared=True),
    Condition(name="drift 5 %", organist=DRIFT_5, compared=True),
    Condition(name="slow drift 2 %", organist=replace(DRIFT_2, pace=SLOW_2), compared=True),
    Condition(name="slow drift 5 %", organist=replace(DRIFT_5, pace=SLOW_5), compared=True),
    Condition(name="drift 2 %, jump", organist=DRIFT_2, jump=1, compared=True),
    Condition(name="drift 5 %, jump", organist=DRIFT_5, jump=1, compared=True),
    Condition(name="drift 5 %, no slips", organist=replace(PLAIN, pace=WILD)),
    Condition(name="drift 2 %, melody", organist=replace(DRIFT_2, melody=True)),
    Condition(name="drift 5 %, melody", organist=replace(DRIFT_5, melody=True)),
    Condition(name="jump 5 %, melody", organist=replace(DRIFT_5, melody=True), jump=1),
    Condition(name="2 %, written tune", organist=replace(DRIFT_2, **SUNG), written=True),
    Condition(name="5 %, written tune", organist=replace(DRIFT_5, **SUNG), written=True),
    Condition(name="2 %, jump, written", organist=replace(DRIFT_2, **SUNG), jump=1, written=True),
    Condition(name="5 %, jump, written", organist=replace(DRIFT_5, **SUNG), jump=1, written=True),
    Condition(name="3 jumps, written", organist=replace(DRIFT_2, **SUNG), jump=3, written=True),
    Condition(name="no pedal, written", organist=replace(PLAIN, pace=CALM, **SUNG), rest="unmarked", written=True),
    Condition(name="left hand, written", organist=replace(DRIFT_2, left_hand=True, **SUNG), jump=1, written=True),
    Condition(name="arches, last ritard", organist=replace(PLAIN, pace=ARCHED)),
    Condition(name="pauses", organist=replace(PLAIN, pace=CALM), pauses=True),
    Condition(name="pauses, melody", organist=replace(PLAIN, pace=CALM, melody=True), pauses=True),
    Condition(name="manuals only, marked", organist=replace(PLAIN, pace=CALM, melody=True), rest="marked"),
    Condition(name="no pedal, unmarked", organist=replace(PLAIN, pace=CALM, melody=True), rest="unmarked"),
    Condition(name="pedal on every beat", organist=replace(PLAIN, pace=CALM, every_beat=True)),
    Condition(name="walking bass", organist=replace(PLAIN, pace=CALM, walking=0.5)),
    Condition(name="fifths", organist=replace(PLAIN, pace=CALM, fifths=0.3)),
    Condition(name="detached", organist=replace(PLAIN, pace=CALM, held=0.35)),
    Condition(name="detached, melody", organist=replace(PLAIN, pace=CALM, held=0.35, melody=True)),
    Condition(name="feet 20 ms ahead", organist=replace(PLAIN, pace=CALM, lead=0.020)),
    Condition(name="early and late", organist=replace(PLAIN, pace=CALM, early=0.03, late=0.03)),
    Condition(name="starts slow", organist=replace(PLAIN, pace=CALM), tempo=1 - OFF_TEMPO),
    Condition(name="starts fast", organist=replace(PLAIN, pace=CALM), tempo=1 + OFF_TEMPO),
    Condition(name="feet 20 ms behind", organist=replace(PLAIN, pace=CALM, lead=-0.020)),
    Condition(name="feet like a bass's", organist=replace(DRIFT_2, **BASS_LIKE)),
    Condition(name="drags", organist=replace(DRIFT_2, pace=DRAGGED)),
    Condition(name="drags, melody", organist=replace(DRIFT_2, pace=DRAGGED, melody=True)),
    Condition(name="inversions", organist=replace(DRIFT_2, inverted=0.1)),
    Condition(name="left hand too", organist=replace(DRIFT_2, missed=0.1, melody=True, left_hand=True)),
    Condition(name="drift 2 %, 3 jumps", organist=DRIFT_2, jump=3, compared=True),
    Condition(name="3 jumps, melody", organist=replace(DRIFT_2, melody=True), jump=3),
    Condition(name="lead click", organist=replace(PLAIN, **SLIPS), settings=Settings(lead="click", count_in=0)),
)


def prepared(song: Song, condition: Condition) -> tuple[Route, Organist]:
    """The route as this condition marks it, and the player of it. Dice depend on the song's name alone."""
    dice = random.Random(f"condition for {song.name}")
    song = in_the_chart(song) if condition.written else song
    route, organist = song.route, replace(condition.organist, line=song.line, tune=song.tune)
    if organist.every_beat or organist.walking or organist.fifths:
        organist = replace(organist, line=None)
    steps = _steps(route)
    middle = range(1, len(steps) - 1)
    if condition.tempo != 1.0:
        tempo = route.chart.tempo.quarter_bpm / float(route.chart.meter.counted_beat)
        organist = replace(organist, pace=replace(organist.pace, tempo=tempo * condition.tempo))
    if condition.jump:
        organist = replace(organist, jumps=_jumps(steps, condition.jump, dice))
    if condition.pauses:
        route = _with_pauses(route, dice)
        if middle:
            organist = replace(organist, stops=((steps[dice.choice(middle)][0], dice.uniform(2.0, 5.0)),))
    if condition.rest and middle:
        step = dice.choice(middle)
        if condition.rest == "marked":
            bars = tuple(replace(bar, manuals_only=bar.manuals_only or bar.step == step) for bar in route.bars)
            route = replace(route, bars=bars)
        else:
            organist = replace(organist, resting=(step,))
    return route, organist


KINDS = {
    # what an unplanned jump does with a section: how often
    "again": 3,  # plays it to its end and once more
    "out": 2,  # plays it to its end and leaves out the next
    "anew": 1,  # breaks off in its middle and begins it once more
    "cut": 2,  # breaks off in its middle and goes on with the next
    "back": 1,  # plays it to its end, then the one before and itself once more
}


def _steps(route: Route) -> list[list[int]]:
    """The bars of each step of the roadmap."""
    return [[bar.index for bar in route.bars if bar.step == step] for step in range(route.bars[-1].step + 1)]


def leaps(route: Route) -> Iterator[tuple[int, int, float]]:
    """Every unplanned jump that a song may hold, as (bar after which, bar landed on, share)."""
    steps = _steps(route)
    if len(steps) <= 2:
        yield *_in_a_short_song(steps), 1.0
    for step in range(len(steps) - 2):
        for kind, often in KINDS.items():
            (after, to), _ = _leap(steps, step, kind)
            yield after, to, often / sum(KINDS.values()) / (len(steps) - 2)


def _jumps(steps: Sequence[Sequence[int]], number: int, dice: random.Random) -> tuple[tuple[int, int], ...]:
    """Unplanned jumps, spread over the song: each from the end of a bar to the start of a section."""
    found: list[tuple[int, int]] = []
    here = 0
    while len(found) < number and here < len(steps) - 2:
        step = here + dice.randrange(max(1, (len(steps) - 2 - here) // (number - len(found))))
        kind = dice.choices(list(KINDS), list(KINDS.values()))[0]
        jump, here = _leap(steps, step, kind)
        found.append(jump)
    if not found:
        found.append(_in_a_short_song(steps))
    return tuple(found)


def _in_a_short_song(steps: Sequence[Sequence[int]]) -> tuple[int, int]:
    """Out of the middle of the first section, begun anew."""
    bars = steps[0]
    return bars[len(bars) // 2 - 1], bars[0]


def _leap(steps: Sequence[Sequence[int]], step: int, kind: str) -> tuple[tuple[int, int], int]:
    """A jump of some kind out of a step of the roadmap, and the step that it leads to."""
    if len(steps[step]) == 1 and kind == "cut":  # it has no middle to break off in
        kind = "out"
    middle, end = steps[step][max(0, len(steps[step]) // 2 - 1)], steps[step][-1]
    after, landing = {
        "again": (end, step),
        "out": (end, step + 2),
        "anew": (middle, step),
        "cut": (middle, step + 1),
        "back": (end, max(0, step - 1)),
    }[kind]
    return (after, steps[landing][0]), landing


def _with_pauses(route: Route, dice: random.Random) -> Route:
    ends = {bar.changes[-1] for bar in route.bars[:-1] if bar.ends_section and bar.changes}
    changes = tuple(
        replace(change, marks=(*change.marks, dice.choice((BREATH, BREATH, HOLD)))) if change.index in ends else change
        for change in route.changes
    )
    return replace(route, changes=changes)
