"""Expecting: what the chart says about a foot before it is heard.

Tables for the whole route, made once: how likely each pitch class is for the cue of a change, for a note that is no cue, and
for a note of the tune; which changes get no foot of their own; where a player may leave the written order, and where a jump
lands. They know nothing of time as it is played, nor of key changes by nods: pitch classes are as written.

The cue of a change plays the written bass 0.86, the root under a slash 0.04, the fifth 0.05, the third 0.02, anything else 0.03
in all, a slip to a neighbouring pedal being twice as likely as another. Jumps leave at bar lines, rarely inside a section,
likelier at its end; section starts are likelier places to land than other bars, the sections nearby above all. Departure and
landing are taken as independent, which keeps a jump linear in the length of the route (Nakamura et al. 2014).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from charts.chord import Chord
from charts.key import MAJOR_SCALE
from charts.route import Route
from liveassist.band.plan import Plan

BASS, ROOT, FIFTH, THIRD, OTHER = 0.86, 0.04, 0.05, 0.02, 0.03
MISSED = 0.05
"""How likely a player leaves out one root."""
JUMP_INSIDE, JUMP_AT_END = 0.004, 0.10
"""How likely a player leaves the written order at a bar line, and at the end of a section."""
LAND_ON_SECTION = 0.7
"""Share of jumps that land on the start of a section; the rest land on any bar."""
NEAR_STEPS = {0: 6.0, -1: 2.0, 1: 3.0, 2: 3.0}
"""How much likelier a jump lands on a step of the roadmap, by its distance: this section again, the last again,
the next one early, one left out."""
FAINTEST = 1e-4
"""Jumps less likely than this, as a share of all jumps, are not followed up: the pitch speaks against them."""
TUNE_CHORD, TUNE_SCALE, TUNE_FOREIGN = 0.70, 0.27, 0.03
"""Shares of a tune's notes that belong to the chord, to the scale, to neither (common practice, no source)."""
MINOR_SCALES = (0, 2, 3, 5, 7, 8, 9, 10, 11)
"""Semitones above a minor tonic, natural, harmonic and melodic together."""
EXITS = 3
"""Bar lines after a change at which a jump is looked for: feet may have been missed before it."""
MISSED_AT_LANDING = 2
"""The foot that first shows a jump is for one of so many changes after the landing."""


@dataclass(frozen=True, slots=True)
class Landing:
    """Where a jump may first show."""

    change: int
    step: int
    """Of the roadmap."""
    share: float
    """Of all jumps."""
    into: float
    """Quarter notes from the bar line at which the player landed."""


class Expecting:
    """The tables of one route; lists have one entry for each change."""

    def __init__(self, route: Route, plan: Plan) -> None:
        self.route = route
        changes = range(len(route.changes))
        self.pitch = [_pitch_table(route, change) for change in changes]
        """How likely a foot that cues a change plays each pitch class."""
        self.stray = [_stray_table(route, plan, change) for change in changes]
        """The same for a foot that is no cue, while a change sounds."""
        self.tune = [_tune_table(route, change) for change in changes]
        """How well each pitch class of the tune fits a change, 1 being the average."""
        self.landings = self._find_landings()
        self._landings_at = [self._landings_with(pitch_class) for pitch_class in range(12)]
        self.exits = [self._find_exits(change) for change in changes]
        """The bar lines after a change at which a player may leave the written order: (quarter notes to it, how likely)."""
        sounds: dict[Chord, int] = {}
        self.sounds = [sounds.setdefault(change.chord, len(sounds)) for change in route.changes]
        """Equal numbers for changes that sound the same."""
        meters = [route.bars[change.bar].meter for change in route.changes]
        self.divisions = [float(meter.counted_beat) / (3 if meter.compound else 2) for meter in meters]
        """The usual division of the counted beat, in quarter notes."""

    def _find_landings(self) -> tuple[Landing, ...]:
        """Where a jump may land: sections and bars that begin with a change, and what comes after a silent beginning."""
        starts = [bar for bar in self.route.bars if bar.changes and self.route.changes[bar.changes[0]].offset == 0]
        sections = [bar for bar in starts if bar.starts_section]
        inside = [bar for bar in starts if not bar.starts_section]
        shares = [(bar, LAND_ON_SECTION / len(sections), MISSED_AT_LANDING) for bar in sections]
        shares += [(bar, (1 - LAND_ON_SECTION) / len(inside), 1) for bar in inside]
        found = []
        for bar, share, within in shares:
            for change in range(bar.changes[0], min(bar.changes[0] + within, len(self.route.changes))):
                into = float(self.route.changes[change].position - bar.position)
                found.append(Landing(change, self.step(change), share, into))
                share *= self.unheard(change)
        return tuple(found)

    def _landings_with(self, pitch_class: int) -> tuple[Landing, ...]:
        """The landings that a written pitch class speaks for, their shares weighed by it."""
        weighed = (replace(item, share=item.share * self.pitch[item.change][pitch_class]) for item in self.landings)
        return tuple(item for item in weighed if item.share >= FAINTEST / max(NEAR_STEPS.values()))

    def landings_from(self, change: int, pitch_class: int) -> Iterator[tuple[Landing, float]]:
        """The landings of a jump from near a change that a written pitch class speaks for, and how likely each is."""
        step = self.step(change)
        for landing in self._landings_at[pitch_class]:
            share = landing.share * NEAR_STEPS.get(landing.step - step, 1.0)
            if share >= FAINTEST:
                yield landing, share

    def _find_exits(self, change: int) -> tuple[tuple[float, float], ...]:
        """See ``exits``: looked for at the next few bar lines, as long as no foot would have been heard before."""
        here = self.route.changes[change]
        found, going_on = [], 1.0
        for bar in self.route.bars[here.bar : here.bar + EXITS]:
            for passed in bar.changes:
                going_on *= self.unheard(passed) if passed > change else 1.0
            if going_on < FAINTEST:
                break
            leaves = JUMP_AT_END if bar.ends_section else JUMP_INSIDE
            found.append((float(bar.end - here.position), going_on * leaves))
        return tuple(found)

    def unheard(self, change: int) -> float:
        """How likely a change gets no foot of its own."""
        here = self.route.changes[change]
        before = self.route.changes[change - 1].bass if change else None
        if here.bass is None or self.route.bars[here.bar].manuals_only:
            return 0.95
        return 0.6 if here.bass == before or "ped. pt." in here.marks else MISSED

    def step(self, change: int) -> int:
        """The step of the roadmap that a change belongs to."""
        return self.route.bars[self.route.changes[change].bar].step


def _stray_table(route: Route, plan: Plan, change: int) -> tuple[float, ...]:
    """Probability of each pitch class for a note that is no cue, while a change sounds."""
    table = [0.25 / 12] * 12
    here, following = route.changes[change], plan.next_change(change)
    if here.bass is not None:
        table[here.bass] += 0.40
        table[(here.bass + 7) % 12] += 0.15
        for pitch_class in here.chord.pitch_classes:
            table[pitch_class] += 0.10 / len(here.chord.pitch_classes)
    coming = None if following is None else route.changes[following[0]].bass
    if coming is not None:
        for step in (-2, -1, 1, 2):
            table[(coming + step) % 12] += 0.04
        table[coming] += 0.04
    total = sum(table)
    return tuple(value / total for value in table)


def _pitch_table(route: Route, change: int) -> tuple[float, ...]:
    """Probability of each pitch class for a foot that cues a change."""
    here = route.changes[change]
    if here.bass is None:
        return (0.02 / 12,) * 12
    weights = [OTHER / 14] * 12
    for slip in (-1, 1):
        weights[(here.bass + slip) % 12] = 2 * OTHER / 14
    for tone in here.chord.tones:
        share = {3: THIRD, 5: FIFTH}.get(tone.degree)
        if share is not None:
            weights[(here.chord.root.pitch_class + tone.semitones) % 12] += share  # type: ignore[union-attr]
    if here.root is not None and here.root != here.bass:
        weights[here.root] += ROOT
    weights[here.bass] += BASS
    total = sum(weights)
    return tuple(weight / total for weight in weights)


def _tune_table(route: Route, change: int) -> tuple[float, ...]:
    """How well each pitch class of the tune fits a change, 1 being the average."""
    here = route.changes[change]
    key = route.bars[here.bar].key
    steps = MINOR_SCALES if key.minor else MAJOR_SCALE
    weights = [TUNE_FOREIGN / 12] * 12
    for step in steps:
        weights[(key.tonic.pitch_class + step) % 12] += TUNE_SCALE / len(steps)
    for pitch_class in here.chord.pitch_classes:
        weights[pitch_class] += TUNE_CHORD / len(here.chord.pitch_classes)
    total = sum(weights)
    return tuple(12 * weight / total for weight in weights)
