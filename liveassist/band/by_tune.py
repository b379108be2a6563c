"""By the tune: what the band does with a note of the player's right hand.

A note moves the pulse a little, and what is believed of the place. Where the chart has the tune and the note is where it should
be, it may be the cue that no foot gave:

* at a change whose foot is missing the band goes on; with an attack at once where the feet were missing before;
* while the band waits for a foot, either of the first two notes of the next change goes on; after a marked hold, a breath or a
  wait it takes both, one after the other, and no pedal down; after the nod ``hold`` it takes more (below);
* before the start it says that a foot beside the first pedal was the first foot; it starts nothing by itself;
* into the ending only a note that opens it leads, its place beyond doubt, if no other section begins like it;
* a place elsewhere is followed once it is believed as much as a jump of the feet has to be.

Else, after a hold or a stop, a note is the cue where no foot can come, and three beats of tune without a foot take the band
along.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from liveassist.band import states
from liveassist.band.conductor import BELIEVE, BELIEVE_JUMP, NO_JUMP
from liveassist.band.events import MELODY_MANUAL, PEDAL, Action, Told
from liveassist.band.striking import RESTART, TOO_LATE
from liveassist.band.tune_listening import Sung
from liveassist.band.written_tune import SAME_PLACE

if TYPE_CHECKING:
    from liveassist.band.performance import Performance
    from liveassist.band.playing import Playing

ALONE = 3.0
"""After so many counted beats of tune without a foot, the feet rest."""
WITH_FIRST_FOOT = 0.15
"""The note that opens the tune is struck within so many seconds of the first foot."""
LATELY = 0.5
"""A note this share of a beat before a change, or later, says that the change has come."""


def hear(band: Performance, division: str, key: int, at: float) -> list[Action]:
    """A note of the tune, or of the player's own left hand on the figure's manual."""
    if band.settings.place_lead != "feet":
        return []
    if band.state == states.READY:
        return _before_start(band, key, at) if division == MELODY_MANUAL else []
    if band.state == states.HOLDING:
        return _while_holding(band, key if division == MELODY_MANUAL else None, at)
    if not band.listening.hypotheses or not band.moving:
        return []
    sung = band.listening.tune(key, at)
    if sung is not None:
        sung = replace(sung, change=band.this_time(sung.change))
    band.sung = None if sung is None else (sung, at)
    best = band.listening.hypotheses[0]
    if best.change == band.change and band.loop is None:
        off = best.pulse.time_of(best.count) - band.time_of(band.here.position)
        if best.out_of_time and abs(off) > RESTART * band.beat_seconds():
            return _in_time_again(band, sung)
        band.correct(best.pulse, float(band.here.position) - best.count)
    return [] if sung is None else _follow(band, sung)


# -- the start --------------------------------------------------------------------------------------------------------


def _before_start(band: Performance, key: int, at: float) -> list[Action]:
    band.listening.tune_heard.before_start(key, at)
    foot = band.latest_foot
    if foot is None or at - foot[0] > WITH_FIRST_FOOT or not _opens_song(band, key):
        return []
    return begin(band, foot[0])


def has_opened(band: Performance, at: float) -> bool:
    """Whether the note that opens the tune was heard just before a time."""
    return any(_opens_song(band, key) for key in band.listening.tune_heard.since(at - WITH_FIRST_FOOT))


def _opens_song(band: Performance, key: int) -> bool:
    return band.listening.tune_heard.opening(band.first_cue(), key).get(0) == 0.0


def begin(band: Performance, at: float) -> list[Action]:
    """The first foot came at a time, on whatever pedal."""
    return band.begin_at(band.first_cue(), at, sure=BELIEVE_JUMP, attack=band.now - at <= TOO_LATE)


# -- while playing ----------------------------------------------------------------------------------------------------


def sung_at(band: Playing, change: int, due: float) -> bool:
    """Whether the written tune has come to a change that is due at a time, or is being held over it. In a ritard it says
    nothing: there everybody waits."""
    if band.sung is None or band.sung[0].sure < BELIEVE or band.reading.ritard[change]:
        return False
    sung, at = band.sung
    if sung.change == change:
        return at > due - LATELY * band.beat_seconds()
    following = band.plan.next_change(sung.change)
    held_over = following is not None and following[0] == change and sung.until > following[1] + SAME_PLACE
    return held_over and bool(band.keys.down[MELODY_MANUAL])


def opened(band: Playing, change: int) -> bool:
    """Whether the latest note is the one that opens a change, its place beyond doubt; into the ending, if nothing else begins
    like it."""
    if band.sung is None:
        return False
    sung, _ = band.sung
    if sung.change != change or not sung.opens or sung.sure < BELIEVE_JUMP:
        return False
    if not band.door_to_ending(change):
        return True
    others = (start for start in band.listening.section_starts if not band.listening.same_place(start, change))
    return not any(band.listening.tune_heard.begin_alike(change, start) for start in others)


def is_cue(band: Playing, change: int) -> bool:
    """Whether the note that opened a change is its cue: where the feet were missing before, and into the ending."""
    return opened(band, change) and (band.missed > 0 or band.door_to_ending(change))


def _in_time_again(band: Performance, sung: Sung | None) -> list[Action]:
    """The player was out of time, and it is known again where the beat is."""
    if sung is None or sung.change != band.change or sung.sure < BELIEVE_JUMP or band.waiting is not None:
        return []
    band.struck = None
    band.correct(sung.pulse, float(band.here.position) - sung.count)
    band.skip_to(band.now)
    return [Told(at=band.now, text="in time with the tune again")]


def _follow(band: Performance, sung: Sung) -> list[Action]:
    """The note tells where the player is."""
    change = sung.change
    if change == band.change or not band.may_enter(change):
        return []
    if 0 < band.hops_to(change) <= NO_JUMP:
        return _straight_on(band, sung) if sung.sure >= BELIEVE else []
    if sung.sure < BELIEVE_JUMP:
        return []
    bar = band.route.bars[band.route.changes[change].bar]
    if not band.hops_to(change):
        band.plan.lift()
    return [
        *_enter(band, sung, cued=False),
        Told(at=band.now, text=f"the tune is at {bar.section} bar {bar.number}"),
    ]


def _straight_on(band: Performance, sung: Sung) -> list[Action]:
    """On to one of the next changes, if its foot came early and is still down, or is not to be expected any more."""
    change = sung.change
    if sung.opens and band.hops_to(change) == 1 and band.already_down(change):
        return _enter(band, sung, cued=True)
    cue = band.waiting is not None and is_cue(band, change)
    return _without_foot(band, sung, cued=cue) if cue or band.loop is not None else []


def opens_now(band: Playing) -> list[Action]:
    """The change is due whose cue is the note that was heard just before (``is_cue``)."""
    assert band.sung is not None
    return _without_foot(band, band.sung[0], cued=True)


def _without_foot(band: Playing, sung: Sung, *, cued: bool) -> list[Action]:
    """On to a change without its foot: the feet are still missing."""
    missed = band.missed
    actions = _enter(band, sung, cued=cued)
    band.missed = missed
    return [*actions, _no_foot(band, sung.change)]


def _enter(band: Playing, sung: Sung, *, cued: bool) -> list[Action]:
    """Go where the tune is; with an attack where it is the cue."""
    band.listening.arrived(sung.change)
    return band.enter(sung.change, band.now, pulse=sung.pulse, count=sung.count, sure=sung.sure, cued=cued, attack=cued)


def _no_foot(band: Playing, change: int) -> Told:
    return Told(at=band.now, text=f"no foot for {band.route.changes[change].chord.shown}: with the tune")


# -- after a hold, a breath or a stop ----------------------------------------------------------------------------------


def _while_holding(band: Performance, key: int | None, at: float) -> list[Action]:
    """What a note does while the band stands. ``key``: None where it is not the right hand's."""
    following = band.plan.next_change(band.here.index)
    if following is None:
        return []
    change, count = following[0], float(band.here.position) + following[1] - band.offset
    if at < band.pulse.time_of(count) - 0.25 * band.beat_seconds():
        return []  # the chord that is held is not over yet
    band.tune_from = band.tune_from or at
    into = None if key is None else _opens_next(band, change, key)
    cued = into is not None or band.cued_by_tune(change)
    if not cued and (band.keys.down[PEDAL] or at - band.tune_from < ALONE * band.beat_seconds()):
        return []
    begun = band.tune_from if into is None else at
    pulse = band.pulse.restarted(count + (into or 0.0), begun)
    band.listening.moved(change, count, pulse)
    actions = band.enter(change, band.now, pulse=pulse, count=count, sure=band.sure, cued=cued, attack=cued)
    return actions if cued else [*actions, _no_foot(band, change)]


def _opens_next(band: Performance, change: int, key: int) -> float | None:
    """How far into the next change a note is with which the tune goes on, in quarter notes; None where that cannot be said."""
    if band.keys.down[PEDAL] or not band.may_enter(change) or band.change == band.woke_on:
        return None
    notes = band.listening.tune_heard.opening(change, key)
    after_first, band.tune_opened = band.tune_opened, 0 in notes
    if band.standing():
        return notes.get(1) if after_first else None
    return None if band.waiting is None else next(iter(notes.values()), None)
