"""Missing cues: the grace runs out, and the band goes on, keeps its chord going round, stands, or falls silent.

``conductor.when_missing`` decides; the functions here carry it out.

A piston or the general cancel can switch the pedal's MIDI off, and nothing says so but its silence. The rule, from what is
heard: a foot that was heard before did not come for a change that wants one; the tune has been struck since that change was
due; and no pedal has been heard for ``MUTED_BEATS`` counted beats from then, or ``POINT_BEATS`` where the old pedal is still
down, since that may be a pedal point. Then it is told, once. The band goes on with the tune and the pulse as it does without a
foot, and the next foot is told and followed as any other.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from liveassist.band import by_tune, states
from liveassist.band.bandstand import Loop
from liveassist.band.conductor import BE_SILENT, GO_ON, VAMP, Known, when_missing
from liveassist.band.events import MELODY_MANUAL, PEDAL, Action, Told

if TYPE_CHECKING:
    from liveassist.band.playing import Playing

SILENT_BEATS = 2
"""A vamp stops attacking when no key of the player's has been down for so many beats."""
MUTED_BEATS, POINT_BEATS = 2, 8
"""How long no foot may come under a moving tune, in counted beats, before that is told: pedals up, and one still down."""


def grace_over(band: Playing, at: float) -> list[Action]:
    """The grace ran out and no cue came."""
    assert band.waiting is not None
    change = band.waiting.change
    if band.ahead()[1] != change:  # a nod has come in between
        band.waiting = None
        return band.arrive(at)
    feet = band.settings.place_lead == "feet"  # a switch that does not come is a wish to stay
    arrived = band.time_of(band.boundary())
    sung = feet and by_tune.sung_at(band, change, arrived)
    verdict = when_missing(
        Known(
            melody_known=feet and MELODY_MANUAL in band.keys.latest,
            melody_moving=_melody_goes_on(band, arrived),
            pedal_down=bool(band.keys.down[PEDAL]),
            pedal_lost=feet and PEDAL in band.keys.lost,
            patience=band.settings.patience if feet else "0",
            missed=band.missed,
            nodded=band.nodded(),
            ending=not band.may_enter(change),
            ritard=feet and band.reading.ritard[change],
            sung=sung,
        )
    )
    name = band.route.changes[change].chord.shown
    if verdict == GO_ON:
        if band.keys.unheard_since is None:
            band.keys.unheard_since = arrived
        band.missed += 1
        band.sure *= 1.0 if sung else 0.7
        actions = band.by_clock(change, at, attack=False)
        return [*actions, Told(at=at, text=f"no foot for {name}: going on")]
    if verdict == VAMP:
        return [*_start_loop(band, at), Told(at=at, text=f"waiting for {name}: vamping", sign="waiting")]
    band.waiting.expires = None
    actions = [*band.sounding.end_music(at)] if verdict == BE_SILENT else []
    return [*actions, *band.become(states.HOLDING, at), Told(at=at, text=f"waiting for {name}", sign="waiting")]


def _melody_goes_on(band: Playing, arrived: float) -> bool:
    """Whether the tune goes on over a change that came without a foot: a note about then, or one of the beat before that is
    held over it while no pedal is down."""
    beat = band.beat_seconds()
    held_over = bool(band.keys.down[MELODY_MANUAL]) and not band.keys.down[PEDAL]
    return band.keys.melody_moved_since(arrived - (1.25 if held_over else 0.25) * beat)


def _start_loop(band: Playing, at: float) -> list[Action]:
    """Keep the chord: its last bar, or the whole beats that there are of it, goes round."""
    end, beat = band.boundary(), band.route.bars[band.bar].meter.counted_beat
    since = max(band.here.position, band.route.bars[band.bar].position)
    band.waiting = None
    band.loop = Loop(end - beat * max(1, (end - since) // beat), end, float(end) - band.offset)
    _turn_back(band)
    band.skip_to(at)
    return band.become(states.VAMPING, at)


def _turn_back(band: Playing) -> None:
    """Back to the start of the loop: the count grows on, the place does not."""
    assert band.loop is not None
    band.offset -= float(band.loop.end - band.loop.start)
    band.comes_in = None
    band.cursor = band.loop.start
    band.passed = max(band.loop.start, band.here.position)
    band.beat_next = band.beat_from(band.loop.start)


def go_round(band: Playing, at: float) -> list[Action]:
    """The loop comes round again."""
    _turn_back(band)
    return band.strike_held(at) if band.thinned() else []


def fall_silent(band: Playing, at: float) -> list[Action]:
    """Every division has been silent: the player has stopped."""
    band.loop = None
    actions: list[Action] = [*band.sounding.end_music(at)]
    return [*actions, *band.become(states.HOLDING, at), Told(at=at, text="nothing heard: waiting", sign="waiting")]


def muted_from(band: Playing) -> float | None:
    """When it is told that the pedal is silent, if nothing more is heard; None where there is nothing to tell."""
    keys, since = band.keys, band.keys.unheard_since
    if since is None or keys.muted or PEDAL in keys.lost or PEDAL not in keys.latest:
        return None
    if band.settings.place_lead != "feet" or not keys.melody_moved_since(since):
        return None
    return since + (POINT_BEATS if keys.down[PEDAL] else MUTED_BEATS) * band.beat_seconds()


def tell_muted(band: Playing, at: float) -> list[Action]:
    """The pedal is silent under a tune that goes on."""
    band.keys.muted = True
    text = "nothing from the pedal: if your feet play, its MIDI is off (a piston?); on with the tune and the pulse"
    return [Told(at=at, text=text, kind="caution")]


def heard_again(band: Playing) -> list[Action]:
    """A foot: the pedal speaks."""
    muted, band.keys.muted, band.keys.unheard_since = band.keys.muted, False, None
    return [Told(at=band.now, text="the pedal is heard again", kind="note")] if muted else []


def silent_from(band: Playing) -> float | None:
    """When a vamp falls silent if nobody plays; None while somebody does, or where the player's keys say nothing."""
    if band.loop is None or band.keys.silent_since is None or band.settings.place_lead != "feet":
        return None
    silent = max(band.keys.silent_since, band.pulse.time_of(band.loop.since))
    return silent + SILENT_BEATS * band.beat_seconds()
