"""Where the chords of a bar fall.

* Chords alone share the bar evenly where every chord then gets whole counted beats: 1, 2 or 4 chords in 4/4, 1 or 3
  in 3/4, 1 or 2 in 6/8. One chord alone always fits, in a pickup too.
* As soon as a ``/`` stands in the bar, every chord and every ``/`` is one counted beat, and they must fill the bar
  exactly.
* ``&A`` falls on the *and* of the beat just written, that is of the last beat of what stands before it, and takes no
  beat: in ``D &A / / /`` on the and of 1, in ``D / &A / /`` on the and of 2, and in ``D &A G`` (D has two beats) on
  the and of 2.
* The *and* is the last division of the beat: half-way through a simple one, the third eighth of a dotted quarter,
  where a chord pushed before the next beat falls (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from charts.meter import Meter

CHORD, AND, BEAT = "chord", "and", "beat"
"""What is written in a bar: a chord that takes a beat or a share, a chord on the *and*, a ``/``."""


def offsets(written: Sequence[str], meter: Meter, length: Fraction) -> tuple[Fraction, ...]:
    """Where each CHORD and AND of a bar falls, in quarter notes from its start, in the order written.

    ``length`` is the bar's, in quarter notes. Raises ValueError with what was found and what would fit.
    """
    if not written:
        raise ValueError("there is no chord in this bar")
    if any(symbol == AND and before in (AND, None) for before, symbol in zip([None, *written], written, strict=False)):
        raise ValueError("& needs a beat of its own bar just before it: D &A / /, or / &A / where the chord goes on")
    share = meter.counted_beat if BEAT in written else _share(written.count(CHORD), meter, length)
    taken = share * sum(symbol != AND for symbol in written)
    if taken != length:
        raise ValueError(_beats_message(taken, meter, length))
    last_division = meter.counted_beat / (3 if meter.compound else 2)
    if AND in written and share <= last_division:
        raise ValueError(f"this bar of {share} quarter notes is too short for an &")
    places: list[Fraction] = []
    end = Fraction(0)
    for symbol in written:
        if symbol == AND:
            places.append(end - last_division)
            continue
        if symbol == CHORD:
            places.append(end)
        end += share
    return tuple(places)


def _share(chords: int, meter: Meter, length: Fraction) -> Fraction:
    """What each of so many chords alone in a bar gets."""
    share = length / chords
    if chords > 1 and (share / meter.counted_beat).denominator != 1:
        raise ValueError(_sharing_message(chords, length / meter.counted_beat, meter))
    return share


def _sharing_message(chords: int, beats: Fraction, meter: Meter) -> str:
    fitting = [str(n) for n in range(1, int(beats) + 1) if beats % n == 0]
    found = f"{chords} chords do not share {_count(beats)} of {meter.name} evenly"
    if beats.denominator != 1 or chords > beats:
        return f"{found}; {_or(fitting or ['1'])} would, and & puts a chord between the beats: D &A"
    example = " ".join(["D", *["/"] * int(beats - chords), *["A", "G", "Bm", "Em", "F#m"][: chords - 1]])
    return f'{found}; {_or(fitting)} would, or write out the beats with /, such as "{example}"'


def _beats_message(taken: Fraction, meter: Meter, length: Fraction) -> str:
    beats, found = length / meter.counted_beat, taken / meter.counted_beat
    advice = f"add {beats - found}" if found < beats else f"take away {found - beats}"
    whose = "this pickup" if length < meter.bar_length else f"a bar of {meter.name}"
    return f"found {_count(found)}, and {whose} has {beats}: every chord and every / is one beat; {advice}"


def _count(beats: Fraction) -> str:
    return f"{beats} beat" if beats == 1 else f"{beats} beats"


def _or(numbers: Sequence[str]) -> str:
    return numbers[0] if len(numbers) == 1 else ", ".join(numbers[:-1]) + " or " + numbers[-1]
