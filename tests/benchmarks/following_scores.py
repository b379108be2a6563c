"""One song's scores, and a row of the table made of many. What the columns mean stands in ``following``."""

from __future__ import annotations

import statistics
from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

import mir_eval
import numpy as np

from charts.route import Route
from liveassist.band import states
from liveassist.band.conductor import Reading
from liveassist.band.events import Action, BeatIs, KeyDown, NoteOn, PlaceIs, StateIs
from liveassist.band.sounding import GAP
from liveassist.players.places import AFTER, beliefs, false_jumps, jumps_found, rightly_placed
from liveassist.players.scoring import beat_errors, chord_coverage, sounding_share
from liveassist.players.truth import Script, Truth, events

FOUR_BEATS = 4
SURE = 0.9
BELIEFS = (0.0, 0.5, 0.8, 0.9, 0.99, 1.01)
"""Edges of the table of reliability."""


STEP = 0.12
"""The largest step from one attack to the next, as a share of a counted beat."""
QUIET_AFTER, QUIET_BEFORE = 0.3, 0.05
"""Seconds: how long after the player has stopped a note may still begin, and how close to the foot that goes on."""


@dataclass(frozen=True, slots=True)
class Pauses:
    """What the band did while the player waited, and how it came back."""

    number: int
    silent: int
    """Pauses in which no note began."""
    back: int
    """Pauses after which the place was right at the first cue."""
    tempo: tuple[float, ...]
    """How far the tempo told after each re-entry was from the one told before the pause, as a share."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TempoIs:
    """No action of the band's but told among them: its pulse after all that it has done so far."""

    at: float
    period: float
    """Seconds per quarter note."""


@dataclass
class Score:
    """One song in one condition, followed by one follower."""

    song: str
    right: Sequence[bool]
    sounds: float | None
    """None: this follower sends no notes."""
    told: float
    mute: float | None
    false: Sequence[tuple[float, int]]
    found: Sequence[int | None]
    errors: Sequence[float]
    rhythm: tuple[float, float, float] | None
    """F-measure, Cemgil score and continuity; None: this follower tells no beats."""
    beats: int
    lost: int
    extra: int
    steps: Sequence[float]
    """For each attack of the figure how far it fell from where it would follow evenly on the one before, in beats."""
    tempo: float | None
    beliefs: Sequence[tuple[float, bool]]
    bars: float
    pauses: Pauses


# -- scoring ----------------------------------------------------------------------------------------------------------


def scored(song: str, performance: Script, actions: list[Action]) -> Score:
    truth = performance.truth
    last = truth.changes[-1].at - 0.1
    counted = [beat for beat in truth.beats if beat.at < last]
    band = sorted(action.at for action in actions if isinstance(action, BeatIs) and action.at < last)
    pairs = beat_errors([beat.at for beat in counted], band)
    near = {index for index, beat in enumerate(counted) if _close(truth.route, beat.change)}
    right = rightly_placed(truth, actions)
    reference, estimate = np.array([beat.at for beat in counted]), np.array(band)
    rhythm = (0.0, 0.0, 0.0) if any(isinstance(action, BeatIs) for action in actions) else None
    if rhythm is not None and len(reference) > 1 and len(estimate) > 1:
        rhythm = (
            float(mir_eval.beat.f_measure(reference, estimate)),
            float(mir_eval.beat.cemgil(reference, estimate)[0]),
            float(mir_eval.beat.continuity(reference, estimate)[1]),
        )
    notes = any(isinstance(action, NoteOn) for action in actions)
    return Score(
        song=song,
        right=right,
        sounds=sounding_share(truth, actions) if notes else None,
        told=chord_coverage(truth, actions),
        mute=_mute(truth, actions) if notes else None,
        false=false_jumps(truth, actions),
        found=[jump.cues for jump in jumps_found(truth, right, cues_of(performance))],
        errors=[error for index, error in pairs if index in near],
        rhythm=rhythm,
        beats=len(counted),
        lost=len(counted) - len(pairs),
        extra=len(band) - len(pairs),
        steps=_steps(performance, actions),
        tempo=_tempo_error(performance, actions),
        beliefs=beliefs(truth, actions),
        bars=bar_variation(truth),
        pauses=_pauses(performance, actions, right),
    )


def _close(route: Route, change: int) -> bool:
    here = route.changes[change]
    return here.length <= FOUR_BEATS * route.bars[here.bar].meter.counted_beat


def cues_of(performance: Script) -> list[bool]:
    """For each change whether a foot played it."""
    down = {
        event.at for event in events(performance.messages) if isinstance(event, KeyDown) and event.division == "pedal"
    }
    return [round(moment.at, 6) in down for moment in performance.truth.changes]


def _mute(truth: Truth, actions: Sequence[Action]) -> float:
    """Share of the bars with a chord in which the band starts no note."""
    route = truth.route
    attacks = np.array(
        sorted(action.at for action in actions if isinstance(action, NoteOn) and action.part == "figure")
    )
    firsts = [moment for before, moment in pairwise((None, *truth.beats)) if before is None or before.bar != moment.bar]
    silent = whole = 0
    for here, after in pairwise(firsts):
        if route.changes[here.change].root is not None and not route.bars[here.bar].out:
            whole += 1
            silent += not ((attacks >= here.at - 0.1) & (attacks < after.at)).any()
    return silent / whole if whole else 0.0


def _steps(performance: Script, actions: Sequence[Any]) -> list[float]:
    """Attacks that a foot placed are left out, and where there is no steady time: after a silence, in ritards and pauses, where
    the band stands, vamps or jumps."""
    route = performance.truth.route
    feet = [
        event.at for event in events(performance.messages) if isinstance(event, KeyDown) and event.division == "pedal"
    ]
    ritard = Reading(route, "feet", "change").ritard
    found: list[float] = []
    before = NoteOn(at=0.0, part="figure", pitch=0, position=Fraction(-1000))
    since: list[tuple[NoteOn, bool]] = []
    """Attacks since the tempo was last told, and whether each follows evenly on the one before."""
    place, even, latest = 0, True, before
    for action in actions:
        match action:
            case PlaceIs(change=change):
                even = even and 0 <= change - place <= 1 and not ritard[change]
                place = change
            case StateIs(state=state):
                even = even and state not in (states.HOLDING, states.VAMPING)
            case NoteOn(part="figure") if action.position != latest.position or action.at > latest.at + GAP + 1e-6:
                since.append((action, even))
                latest, even = action, True
            case TempoIs(period=period):
                beat = float(route.bars[route.changes[place].bar].meter.counted_beat)
                for attack, follows in since:
                    length = float(attack.position - before.position)
                    steady = follows and not _paused(performance.truth, before.at, attack.at)
                    if steady and 0 < length <= FOUR_BEATS * beat and not _by_foot(feet, attack.at):
                        found.append(abs((attack.at - before.at) / period - length) / beat)
                    before = attack
                since = []
    return found


def _by_foot(feet: Sequence[float], at: float) -> bool:
    """Whether an attack sounds with a foot, its key having come up first where it was still down."""
    index = bisect_right(feet, at + 1e-6)
    return index > 0 and at - feet[index - 1] <= GAP + 1e-6


def _paused(truth: Truth, start: float, end: float) -> bool:
    return any(begun < end and over > start for begun, over in truth.pauses)


def _tempo_error(performance: Script, actions: Sequence[Action]) -> float | None:
    """After four cues two beats or more apart: the tempo told against the player's, taken over four beats on either side,
    as a share."""
    truth = performance.truth
    kept: list[Any] = []
    for moment, cued in zip(truth.changes, cues_of(performance), strict=True):
        beat = truth.route.bars[moment.bar].meter.counted_beat
        if cued and (not kept or moment.position - kept[-1].position >= 2 * beat):
            kept.append(moment)
    if len(kept) < 4:
        return None
    at = kept[3].at
    told = [action.bpm for action in actions if isinstance(action, PlaceIs) and action.bpm and action.at <= at + 0.25]
    times = [beat.at for beat in truth.beats]
    middle = min(range(len(times)), key=lambda index: abs(times[index] - at))
    first, last = max(0, middle - 4), min(len(times) - 1, middle + 4)
    real = 60.0 * (last - first) / (times[last] - times[first])
    return abs(told[-1] / real - 1.0) if told else None


def bar_variation(truth: Truth) -> float:
    """Coefficient of variation of the player's bar lengths against the written tempo, pauses and ritards left out."""
    firsts = [moment for before, moment in pairwise((None, *truth.beats)) if before is None or before.bar != moment.bar]
    ratios = []
    for here, after in pairwise(firsts):
        bar = truth.route.bars[here.bar]
        if here.position == bar.position and bar.length == bar.meter.bar_length:
            ratios.append((after.at - here.at) * bar.quarter_bpm / float(bar.length))
    middle = statistics.median(ratios) if ratios else 1.0
    steady = [ratio for ratio in ratios if abs(ratio / middle - 1.0) < 0.25]
    return statistics.pstdev(steady) / statistics.fmean(steady) if len(steady) > 1 else 0.0


def _pauses(performance: Script, actions: Sequence[Action], right: Sequence[bool]) -> Pauses:
    truth = performance.truth
    starts = [action.at for action in actions if isinstance(action, NoteOn) and action.part == "figure"]
    told = [(action.at, action.bpm) for action in actions if isinstance(action, PlaceIs)]
    cued = cues_of(performance)
    silent = back = 0
    tempo = []
    for begun, over in truth.pauses:
        silent += not any(begun + QUIET_AFTER < at < over - QUIET_BEFORE for at in starts)
        later = [index for index, moment in enumerate(truth.changes) if cued[index] and moment.at > over - 0.2]
        back += bool(later) and right[later[0]]
        before = [bpm for at, bpm in told if at < begun]
        after = [bpm for at, bpm in told if later and at <= truth.changes[later[0]].at + AFTER]
        if before and after:
            tempo.append(abs(after[-1] / before[-1] - 1.0))
    return Pauses(len(truth.pauses), silent, back, tuple(tempo))


# -- a row of the table -----------------------------------------------------------------------------------------------


def row(condition: str, follower: str, scores: Sequence[Score]) -> dict[str, Any]:
    """One row: all songs of a condition together. Shares in per cent, times in milliseconds."""
    right = [sum(score.right) / len(score.right) for score in scores]
    changes = sum(len(score.right) for score in scores)
    errors = [1000 * error for score in scores for error in score.errors]
    spreads = [1000 * statistics.pstdev(score.errors) for score in scores if len(score.errors) > 3]
    found = [cues for score in scores for cues in score.found]
    sure = [right for score in scores for belief, right in score.beliefs if belief >= SURE]
    steps = sorted(step for score in scores for step in score.steps)
    rhythms = [score.rhythm for score in scores if score.rhythm is not None]
    tempos = [score.tempo for score in scores if score.tempo is not None]
    beats = sum(score.beats for score in scores)
    waits = sum(score.pauses.number for score in scores)
    kept = [change for score in scores for change in score.pauses.tempo]
    worst = min(range(len(scores)), key=right.__getitem__)
    return {
        "condition": condition,
        "follower": follower,
        "changes": changes,
        "place": 100 * sum(sum(score.right) for score in scores) / changes,
        "worst": 100 * right[worst],
        "worst_song": scores[worst].song,
        "sounds": _mean([score.sounds for score in scores]),
        "told": 100 * statistics.fmean(score.told for score in scores),
        "mute": _mean([score.mute for score in scores]),
        "false": 10_000 * sum(len(score.false) for score in scores) / changes,
        "jumps": len(found),
        "found": 100 * sum(cues is not None and cues <= 2 for cues in found) / len(found) if found else None,
        "asynchrony": statistics.median(map(abs, errors)) if errors else None,
        "mean": statistics.fmean(errors) if errors else None,
        "sd": statistics.median(spreads) if spreads else None,
        "f_measure": statistics.fmean(score[0] for score in rhythms) if rhythms else None,
        "cemgil": statistics.fmean(score[1] for score in rhythms) if rhythms else None,
        "continuity": statistics.fmean(score[2] for score in rhythms) if rhythms else None,
        "lost": 100 * sum(score.lost for score in scores) / beats if rhythms else None,
        "extra": 100 * sum(score.extra for score in scores) / beats if rhythms else None,
        "step": 100 * steps[int(0.999 * len(steps))] if steps else None,
        "over": 100 * sum(step > STEP + 0.001 for step in steps) / len(steps) if steps else None,
        "tempo": 100 * statistics.median(tempos) if tempos else None,
        "sure": 100 * sum(sure) / len(sure) if sure else None,
        "bars": 100 * statistics.fmean(score.bars for score in scores),
        "pauses": waits,
        "silent": 100 * sum(score.pauses.silent for score in scores) / waits if waits else None,
        "back": 100 * sum(score.pauses.back for score in scores) / waits if waits else None,
        "kept": 100 * statistics.median(kept) if kept else None,
    }


def _mean(shares: Sequence[float | None]) -> float | None:
    """In per cent; None where no share is known."""
    known = [share for share in shares if share is not None]
    return 100 * statistics.fmean(known) if known else None


def reliability(scores: Iterable[Score]) -> list[dict[str, Any]]:
    """How often the band was right, by how sure it was."""
    told = [belief for score in scores for belief in score.beliefs]
    table = []
    for low, high in pairwise(BELIEFS):
        inside = [right for sure, right in told if low <= sure < high]
        share = 100 * sum(inside) / len(inside) if inside else None
        table.append({"from": low, "to": min(high, 1.0), "places": len(inside), "right": share})
    return table
