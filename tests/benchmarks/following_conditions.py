"""How the imagined organist plays in each row of the table.

Where the figures come from: they are human, and none is taken from the band's own model.

* cue scatter 30 ms: onsets of musicians playing together differ by 27-49 ms SD (Rasch 1979), 30-40 ms in ensembles;
* clock noise 2 % of a beat: a musician's tapping SD is 2-4 % of the interval (Repp 2005, from memory);
* slow wander: 1/f noise (``liveassist.players.timing``); its size is fitted so that bar lengths vary by 2 % and 5 % over
  songs of the development set; what was measured is the table's last column;
* missed 5 %, wrong 3 %, passing notes 10 %: a hard day; organists err less than that, and least in the outer voices (Gingras et
  al. 2016). Sizes are choices of ours, as is an unplanned repeat or skip in every song.
* start tempo 8 % off: the largest error at which a remembered tempo usually lies (Levitin & Cook 1996, from memory).

The feet are centred on the beat except where a row says otherwise: a constant lead is a matter of its own.
"""

from __future__ import annotations

import random
from dataclasses import dataclass, field, replace

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
SLOW_2, SLOW_5 = Pace(wander=0.022), Pace(wander=0.061)
"""Bar lengths vary as much, but no beat is uneven by itself: a band that drifts together."""
PLAIN = replace(METRONOME, motor_noise=SCATTER, melody=False)
SLIPS = {"missed": 0.05, "wrong": 0.03, "passing": 0.10}
DRIFT_2 = replace(PLAIN, pace=CALM, **SLIPS)
DRIFT_5 = replace(PLAIN, pace=WILD, **SLIPS)
OFF_TEMPO = 0.08


@dataclass(frozen=True, kw_only=True)
class Condition:
    """One row."""

    name: str
    organist: Organist
    settings: Settings = field(default_factory=Settings)
    compared: bool = False
    """The baselines play along."""
    jump: bool = False
    """One unplanned repeat or skip a song."""
    pauses: bool = False
    """A breath or a hold at the end of every section but the last, and one stop that nobody marked."""
    rest: str = ""
    """A section without pedal: "marked" in the chart, or "unmarked"."""
    tempo: float = 1.0
    """The player's tempo as a share of the chart's."""


def _table(*conditions: Condition) -> dict[str, Condition]:
    return {condition.name: condition for condition in conditions}


CONDITIONS = _table(
    Condition(name="clean", organist=replace(METRONOME, melody=False), compared=True),
    Condition(name="steady", organist=PLAIN, compared=True),
    Condition(name="drift 2 %", organist=DRIFT_2, compared=True),
    Condition(name="drift 5 %", organist=DRIFT_5, compared=True),
    Condition(name="slow drift 2 %", organist=replace(DRIFT_2, pace=SLOW_2), compared=True),
    Condition(name="slow drift 5 %", organist=replace(DRIFT_5, pace=SLOW_5), compared=True),
    Condition(name="drift 2 %, jump", organist=DRIFT_2, jump=True, compared=True),
    Condition(name="drift 5 %, jump", organist=DRIFT_5, jump=True, compared=True),
    Condition(name="drift 5 %, no slips", organist=replace(PLAIN, pace=WILD)),
    Condition(name="drift 2 %, melody", organist=replace(DRIFT_2, melody=True)),
    Condition(name="drift 5 %, melody", organist=replace(DRIFT_5, melody=True)),
    Condition(name="jump 5 %, melody", organist=replace(DRIFT_5, melody=True), jump=True),
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
    Condition(name="lead click", organist=replace(PLAIN, **SLIPS), settings=Settings(lead="click", count_in=0)),
)


def prepared(song: Song, condition: Condition) -> tuple[Route, Organist]:
    """The route as this condition marks it, and the player of it. Dice depend on the song's name alone."""
    dice = random.Random(f"condition for {song.name}")
    route, organist = song.route, replace(condition.organist, line=song.line)
    if organist.every_beat or organist.walking or organist.fifths:
        organist = replace(organist, line=None)
    steps = [[bar.index for bar in route.bars if bar.step == step] for step in range(route.bars[-1].step + 1)]
    middle = range(1, len(steps) - 1)
    if condition.tempo != 1.0:
        tempo = route.chart.tempo.quarter_bpm / float(route.chart.meter.counted_beat)
        organist = replace(organist, pace=replace(organist.pace, tempo=tempo * condition.tempo))
    if condition.jump:
        organist = replace(organist, jumps=(_jump(steps, dice),))
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


def _jump(steps: list[list[int]], dice: random.Random) -> tuple[int, int]:
    """One unplanned jump: a section taken again (a half of them), one left out (a third), or one broken off and begun anew."""
    if len(steps) < 3:
        bars = steps[0]
        return bars[len(bars) // 2 - 1], bars[0]
    step = dice.randrange(len(steps) - 2)
    bars = steps[step]
    kind = dice.choices(("again", "out", "anew"), (3, 2, 1))[0]
    if kind == "out":
        return bars[-1], steps[step + 2][0]
    return (bars[-1] if kind == "again" else bars[len(bars) // 2 - 1 if len(bars) > 1 else 0]), bars[0]


def _with_pauses(route: Route, dice: random.Random) -> Route:
    ends = {bar.changes[-1] for bar in route.bars[:-1] if bar.ends_section and bar.changes}
    changes = tuple(
        replace(change, marks=(*change.marks, dice.choice((BREATH, BREATH, HOLD)))) if change.index in ends else change
        for change in route.changes
    )
    return replace(route, changes=changes)
