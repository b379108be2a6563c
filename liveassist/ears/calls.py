"""Spoken calls: the name of the next section, then the count, in the bar before it; when to say what.

The name falls on the first beat of the bar before the section, of the second bar before it where bars are short; the numbers
of the last bar's beats follow on their beats, as far as the name leaves room. Everything that is spoken ends at least a beat
before the section begins, and nothing is spoken late: what does not fit stays unsaid, and where the name does not fit, the
call. Durations in, times out; no clock.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

SHORT_BAR = 1.6
"""Where a bar is shorter than this, in seconds, a call begins two bars before its section (a working value)."""
BREATH = 0.05
"""Seconds between two words."""
SAME = 1e-10
"""Seconds by which sums of the same lengths may differ."""


@dataclass(frozen=True, slots=True)
class Said:
    """One word of a call."""

    at: float
    """When it begins, in seconds."""
    word: int
    """0: the name of the section; from 1: the number of a beat."""


def begins(section_at: float, beat: float, beats: int) -> float:
    """When a call begins that fits."""
    bar = beat * beats
    return section_at - (bar if bar >= SHORT_BAR else 2 * bar)


def call(section_at: float, beat: float, beats: int, lengths: Sequence[float], now: float) -> tuple[Said, ...]:
    """The words of a call.

    Args:
        section_at: when the section begins, in seconds.
        beat: seconds in a counted beat.
        beats: counted beats in a bar.
        lengths: seconds that each word takes: the name, then "1", "2", ...
        now: nothing can begin before that.
    Returns:
        the words with their times; none where the name cannot be said in time.
    """
    bar, until = beat * beats, section_at - beat
    usual = begins(section_at, beat, beats)
    starts = [start for start in (usual, section_at - 2 * bar) if start >= now and start + lengths[0] <= until + SAME]
    if not starts:
        return ()
    said, free = [Said(starts[0], 0)], starts[0] + lengths[0] + BREATH
    for number in range(1, min(beats, len(lengths) - 1) + 1):
        at = section_at - bar + (number - 1) * beat
        if at >= free and at + lengths[number] <= min(at + beat, until):
            said.append(Said(at, number))
            free = at + lengths[number]
    return tuple(said)
