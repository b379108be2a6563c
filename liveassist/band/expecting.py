"""Expecting: what the chart says about a foot before it is heard.

Tables for the whole route, made once: how likely each pitch class is for the cue of a change, for a note that is no cue, and
for a note of the tune; which changes get no foot of their own. They know nothing of time as it is played, nor of key changes by
nods: pitch classes are as written. Where a player may leave the written order stands in ``leaping``.

``CUES`` says how often the cue of a change plays what, with anybody; ``habits`` learns how often with this player. A slip to a
neighbouring pedal is twice as likely as another.
"""

from __future__ import annotations

from fractions import Fraction

from charts.chord import Chord
from charts.key import MAJOR_SCALE
from charts.route import Route
from liveassist.band.plan import Plan

BASS, ROOT, FIFTH, THIRD, OTHER = "bass", "root", "fifth", "third", "other"
CUES = {BASS: 0.86, ROOT: 0.04, FIFTH: 0.05, THIRD: 0.02, OTHER: 0.03}
"""What the cue of a change plays: the written bass, the root under a slash, another tone of the chord, anything else."""
UPPER = {3: THIRD, 5: FIFTH}
"""Degrees of the chord on which an inversion stands."""
MISSED = 0.05
"""How likely a player leaves out one root."""
TUNE_CHORD, TUNE_SCALE, TUNE_FOREIGN = 0.70, 0.27, 0.03
"""Shares of a tune's notes that belong to the chord, to the scale, to neither (common practice, no source)."""
MINOR_SCALES = (0, 2, 3, 5, 7, 8, 9, 10, 11)
"""Semitones above a minor tonic, natural, harmonic and melodic together."""


class Expecting:
    """The tables of one route; lists have one entry for each change."""

    def __init__(self, route: Route, plan: Plan) -> None:
        self.route = route
        changes = range(len(route.changes))
        self.pitch = [_pitch_table(route, change) for change in changes]
        """How likely a foot that cues a change plays each pitch class."""
        self.stray = [_stray_table(route, plan, change) for change in changes]
        """The same for a foot that is no cue, while a change sounds."""
        self.cue_kind = [_cue_kinds(route, change) for change in changes]
        """Which of ``CUES`` each pitch class is at a change."""
        self.tune = [_tune_table(route, change) for change in changes]
        """How well each pitch class of the tune fits a change, 1 being the average."""
        sounds: dict[Chord, int] = {}
        self.sounds = [sounds.setdefault(change.chord, len(sounds)) for change in route.changes]
        """Equal numbers for changes that sound the same."""
        bars = [route.bars[change.bar] for change in route.changes]
        written: dict[tuple[str, int, Fraction], int] = {}
        self.written = [
            written.setdefault((*bar.id, change.offset), len(written))
            for bar, change in zip(bars, route.changes, strict=True)
        ]
        """Equal numbers for changes that are one in the chart, whichever time its section comes round."""
        meters = [bar.meter for bar in bars]
        self.divisions = [float(meter.counted_beat) / (3 if meter.compound else 2) for meter in meters]
        """The usual division of the counted beat, in quarter notes."""

    def unheard(self, change: int) -> float:
        """How likely a change gets no foot of its own."""
        here = self.route.changes[change]
        before = self.route.changes[change - 1].bass if change else None
        if here.bass is None or self.route.bars[here.bar].manuals_only:
            return 0.95
        return 0.6 if here.bass == before or "ped. pt." in here.marks else MISSED


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
    weights = [CUES[OTHER] / 14] * 12
    for slip in (-1, 1):
        weights[(here.bass + slip) % 12] = 2 * CUES[OTHER] / 14
    for tone in here.chord.tones:
        kind = UPPER.get(tone.degree)
        if kind is not None:
            weights[(here.chord.root.pitch_class + tone.semitones) % 12] += CUES[kind]  # type: ignore[union-attr]
    if here.root is not None and here.root != here.bass:
        weights[here.root] += CUES[ROOT]
    weights[here.bass] += CUES[BASS]
    total = sum(weights)
    return tuple(weight / total for weight in weights)


def _cue_kinds(route: Route, change: int) -> tuple[str, ...]:
    """Which of ``CUES`` each pitch class is first of all."""
    here = route.changes[change]
    kinds = [OTHER] * 12
    for tone in here.chord.tones:
        if tone.degree in UPPER:
            kinds[(here.chord.root.pitch_class + tone.semitones) % 12] = UPPER[tone.degree]  # type: ignore[union-attr]
    if here.root is not None:
        kinds[here.root] = ROOT
    if here.bass is not None:
        kinds[here.bass] = BASS
    return tuple(kinds)


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
