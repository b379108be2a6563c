"""Marks in parentheses, and how musicians spell them: one row a mark.

Capitals, full stops and extra spaces make no difference: ``(Rit.)``, ``(rit)`` and ``(D.S. al Coda)``, ``(ds al
coda)``.
"""

from __future__ import annotations

from charts.chart import (
    A_TEMPO,
    BAR_MARKS,
    BREAK,
    BREATH,
    CHANGE_MARKS,
    CODA,
    DC,
    DC_AL_CODA,
    DC_AL_FINE,
    DS,
    DS_AL_CODA,
    DS_AL_FINE,
    FINE,
    HOLD,
    LATE,
    PEDAL_POINT,
    PUSH,
    RIT,
    SEGNO,
    TACET,
    TAG,
    TAG_END,
    TO_CODA,
    VAMP,
    VAMP_END,
    WALK,
)

_OTHER_SPELLINGS = {
    HOLD: ("fermata", "ferm", "held", "𝄐"),
    BREATH: ("breathe", "caesura"),
    RIT: ("ritard", "ritardando", "rall", "rallentando"),
    A_TEMPO: ("tempo i", "tempo primo", "in tempo"),
    TACET: (),
    BREAK: (),
    PUSH: ("pushed",),
    LATE: (),
    WALK: ("walking",),
    PEDAL_POINT: ("ped", "pedal", "pedal point", "pedal pt"),
    TAG: ("tag start", "start tag", "begin tag"),
    TAG_END: ("tag end",),
    VAMP: ("vamp start", "start vamp", "begin vamp"),
    VAMP_END: ("vamp end",),
    SEGNO: ("sign", "𝄋"),
    CODA: ("𝄌",),
    TO_CODA: ("tocoda", "to 𝄌"),
    DS: ("dal segno",),
    DC: ("da capo",),
    FINE: (),
    DS_AL_CODA: ("dal segno al coda",),
    DS_AL_FINE: ("dal segno al fine",),
    DC_AL_CODA: ("da capo al coda",),
    DC_AL_FINE: ("da capo al fine",),
}
ALL_MARKS = CHANGE_MARKS + BAR_MARKS


def _plain(text: str) -> str:
    return " ".join(text.casefold().replace(".", " ").split()).replace("d s", "ds").replace("d c", "dc")


_MARKS = {_plain(spelling): mark for mark in ALL_MARKS for spelling in (mark, *_OTHER_SPELLINGS[mark])}


def read_mark(text: str) -> str | None:
    """The mark that a musician means, or None."""
    return _MARKS.get(_plain(text))


def in_order(marks: tuple[str, ...]) -> tuple[str, ...]:
    """Each mark once, in the order of the tables of ``charts.chart``."""
    return tuple(sorted(set(marks), key=ALL_MARKS.index))
