"""Matching: which foot was meant for which change.

What was played is laid against what was written as a whole (a global alignment by dynamic programming, after Needleman and
Wunsch), not note by note to the nearest: one note too many does not make the next ten wrong. A pairing costs what it is out of
time, in counted beats; a wrong pitch costs extra and is a wrong note only near its time; leaving out a written note or a played
one costs more than half of what a wrong note does, so that one note missed and another one elsewhere stay two things.

Being out of time is judged against where the player is, not against the click: each way through carries along how far ahead or
behind the player has come (an alpha-beta filter, offset and its growth), so that somebody who drifts by bars is still matched.
A pedal that still lies, with the right key down, where its root is written again is held, not missed.

Times are seconds, keys MIDI key numbers, pitch classes 0 (C) to 11. Errors are positive where the foot was late.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

RIGHT, WRONG, MISSED, EXTRA, HELD = "right", "wrong", "missed", "extra", "held"

MISS = 0.55
"""Leaving out a written note, or a played one, in counted beats."""
WRONG_PITCH = 0.60
"""What a wrong pitch costs beyond its time; less than leaving out both."""
OUT_OF_TIME = 1.5
"""What a beat out of time costs: half a beat late costs more than a wrong note in time."""
FURTHEST, FURTHEST_WRONG = 0.60, 0.30
"""How far out of time a right and a wrong note may be, in counted beats."""
FOLLOW, FOLLOW_GROWTH = 0.35, 0.04
"""How far the offset, and its growth a beat, follow each right note."""
STEEPEST = 0.05
"""The growth is at most this share: a player more than 5 % off the click is not playing to it."""
HELD_ON = 0.1
"""A pedal lies under a change if it stays down so many seconds into it."""
BAND = 48
"""How many notes the two sides may be apart: a verse of missed or added ones."""


@dataclass(frozen=True, slots=True)
class Written:
    """A pedal note that the chart asks for."""

    change: int
    """Index of the change in the route."""
    at: float
    """When it was due, by the click or by the band's pulse."""
    bass: int
    beat: float
    """Seconds in a counted beat there."""


@dataclass(frozen=True, slots=True)
class Foot:
    """A pedal note that was played."""

    at: float
    until: float
    """When the pedal came up."""
    key: int


@dataclass(frozen=True, slots=True)
class Pair:
    """One written note, one played note, or both."""

    kind: str
    """RIGHT, WRONG, MISSED, EXTRA or HELD."""
    written: Written | None
    foot: Foot | None
    out: float = 0.0
    """How late (negative: early) the foot was against the player's own run so far, in counted beats."""

    @property
    def error(self) -> float:
        """How late (negative: early) the foot was, in seconds."""
        assert self.written is not None and self.foot is not None
        return self.foot.at - self.written.at


@dataclass(frozen=True, slots=True)
class _Cell:
    """The cheapest way to have dealt with so many written and so many played notes."""

    cost: float
    came: str
    offset: float
    """How far behind the click the player is by now, in beats of the last right note."""
    growth: float
    """How much that grows a beat."""
    last: float
    """When the last right note was due; growth counts from there."""
    out: float = 0.0
    """Of the pair, where there is one."""


def matched(written: Sequence[Written], feet: Sequence[Foot]) -> tuple[Pair, ...]:
    """Everything written and everything played, paired, in the order of time. Both come in order."""
    rows = _rows(written, feet)
    i, j = len(written), len(feet)
    pairs: list[Pair] = []
    while i or j:
        cell = rows[i][j]
        came = cell.came
        if came in (RIGHT, WRONG):
            i, j = i - 1, j - 1
            pairs.append(Pair(came, written[i], feet[j], cell.out))
        elif came == MISSED:
            i -= 1
            pairs.append(Pair(MISSED, written[i], None))
        else:
            j -= 1
            pairs.append(Pair(EXTRA, None, feet[j]))
    return tuple(_lying(pairs[::-1]))


def _rows(written: Sequence[Written], feet: Sequence[Foot]) -> list[dict[int, _Cell]]:
    """For each count of written notes and each near count of played ones the cheapest way there."""
    slope = len(feet) / len(written) if written else 1.0
    width = BAND + abs(len(feet) - len(written))
    rows: list[dict[int, _Cell]] = []
    for i in range(len(written) + 1):
        row: dict[int, _Cell] = {}
        above = rows[-1] if rows else {}
        middle = round(i * slope)
        for j in range(max(0, middle - width), min(len(feet), middle + width) + 1):
            best = _Cell(0.0, "", 0.0, 0.0, written[0].at if written else 0.0) if i == j == 0 else None
            if i and j and (before := above.get(j - 1)) is not None:
                best = _paired(before, written[i - 1], feet[j - 1])
            last: list[tuple[_Cell | None, str]] = [(above.get(j), MISSED), (row.get(j - 1), EXTRA)]
            if i and j and written[i - 1].at < feet[j - 1].at:
                last.reverse()  # of two that go without a partner the later one comes last
            for before, came in last:
                if before is not None and (best is None or before.cost + MISS < best.cost):
                    best = _Cell(before.cost + MISS, came, before.offset, before.growth, before.last)
            if best is not None:
                row[j] = best
        rows.append(row)
    return rows


def _paired(before: _Cell, written: Written, foot: Foot) -> _Cell | None:
    """One more written note with one more played one; None where they are too far apart."""
    beats = (written.at - before.last) / written.beat
    expected = before.offset + before.growth * beats
    out = (foot.at - written.at) / written.beat - expected
    if foot.key % 12 != written.bass:
        if abs(out) > FURTHEST_WRONG:
            return None
        return _Cell(
            before.cost + WRONG_PITCH + OUT_OF_TIME * abs(out), WRONG, before.offset, before.growth, before.last, out
        )
    if abs(out) > FURTHEST:
        return None
    growth = before.growth + FOLLOW_GROWTH * out / max(1.0, beats)
    return _Cell(
        before.cost + OUT_OF_TIME * abs(out),
        RIGHT,
        expected + FOLLOW * out,
        min(STEEPEST, max(-STEEPEST, growth)),
        written.at,
        out,
    )


def _lying(pairs: Sequence[Pair]) -> Iterator[Pair]:
    """A root written again, and not struck again, that lies under the foot: held, not missed."""
    lies: Foot | None = None
    bass = -1
    for pair in pairs:
        written, foot = pair.written, pair.foot
        if pair.kind == RIGHT:
            lies = foot
        elif written is not None and written.bass != bass:
            lies = None
        elif pair.kind == MISSED and written is not None and lies is not None and lies.until - HELD_ON > written.at:
            pair = Pair(HELD, written, None)
        bass = bass if written is None else written.bass
        yield pair
