"""Offering the key in which the feet seem to play (see ``shifting``). It is told, it stands on the desk, and it is never taken
unasked: the nod ``yes`` takes it, and so do ``up`` and ``down``.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from liveassist.band import states
from liveassist.band.events import Action, Told

if TYPE_CHECKING:
    from liveassist.band.performance import Performance


def offer(band: Performance) -> list[Action]:
    """A foot was heard: offer the key where all feet are off by the same, once.

    Before the start another key takes the place of the one offered. While playing an offer that is not taken stands, without
    being told again, until the feet play as written again, and no other is made: the place is less and less sure by then, and
    the other keys that fit it would be wrong ones (on the demo songs, shifted throughout, one offer in three).
    """
    if band.state == states.READY:
        shift = band.shifting.at_the_start(band.first_cue())
    elif band.offered and not band.shifting.as_written():
        return []
    else:
        band.offered = None
        shift = None if band.change is None else band.shifting.while_playing(band.change)
    if not shift or shift == band.offered or band.listening.lift_asked:
        return []
    band.offered = shift
    text = f"your feet are {in_words(band, shift)}: another key, or a transposer? 'yes' takes the band there"
    return [Told(at=band.now, text=text, kind="caution")]


def in_words(band: Performance, shift: int) -> str:
    """A key that is offered."""
    steps = f"{abs(shift)} half step{'' if abs(shift) == 1 else 's'} {'higher' if shift > 0 else 'lower'}"
    return f"in {band.route.bars[band.bar].key.lifted(band.listening.lift + shift).shown}, {steps}"


def hear_again(band: Performance, feet: Sequence[tuple[int, float]]) -> None:
    """Before the start the key has changed: what the feet played before (pitch class as written now, and when) says where the
    player is. The next foot begins."""
    band.listening.hypotheses = ()
    for pitch_class, at in feet if band.state == states.READY else ():
        band.shifting.foot(pitch_class, at)
        band.first_foot((pitch_class + band.listening.lift) % 12, at)
