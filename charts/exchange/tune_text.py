"""Writing a tune as ABC (standard 2.1): bars of notes as text that ``charts.tune`` and other readers read alike.

An accidental is written wherever a reader might think otherwise: whether accidentals hold for one octave or for all, the text
says the same. Three equal notes in the time of two are a triplet; any other length is written as a fraction.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

from charts.key import Key
from charts.meter import Meter
from charts.pitch import LETTERS, NATURAL
from charts.tune import TuneNote

_WRITTEN = {-2: "__", -1: "_", 0: "=", 1: "^", 2: "^^"}
_SHARPS = "FCGDAEB"

Element = tuple[Fraction, TuneNote | None, Sequence[str]]
"""A length, its note (None: a rest), and what is written before it."""


def usual_unit(meter: Meter) -> Fraction:
    """The unit note length where none is stated, in quarter notes."""
    return Fraction(1, 4) if meter.bar_length < 3 else Fraction(1, 2)


def bar_text(
    notes: Sequence[TuneNote],
    length: Fraction,
    key: Key,
    unit: Fraction,
    above: Mapping[Fraction, str] | None = None,
) -> str:
    """One bar. ``above`` is what stands before the note that sounds at a place (chord symbols, in quotes)."""
    elements = _elements(notes, length, dict(above or {}))
    signature = {letter: (key.fifths - place + 6) // 7 for place, letter in enumerate(_SHARPS)}
    everywhere = dict(signature)
    here: dict[tuple[str, int], int] = {}
    parts: list[str] = []
    index = 0
    while index < len(elements):
        triplet = _is_triplet(elements[index : index + 3], unit)
        if triplet:
            parts.append("(3")
        for duration, note, before in elements[index : index + (3 if triplet else 1)]:
            written = "".join(before)
            shown = _length((duration * 3 / 2 if triplet else duration) / unit)
            if note is None:
                parts.append(f"{written}z{shown}")
                continue
            parts.append(written + _pitch(note, everywhere, here, signature) + shown + ("-" if note.ties else ""))
        index += 3 if triplet else 1
        parts.append(" ")
    return "".join(parts).strip()


def _elements(notes: Sequence[TuneNote], length: Fraction, above: dict[Fraction, str]) -> list[Element]:
    """Notes and rests that fill the bar, cut where something stands above them between their beginnings."""
    spans: list[tuple[Fraction, Fraction, TuneNote | None]] = []
    now = Fraction(0)
    for note in notes:
        if note.offset > now:
            spans.append((now, note.offset, None))
        spans.append((note.offset, note.offset + note.length, note))
        now = note.offset + note.length
    if now < length:
        spans.append((now, length, None))
    found: list[Element] = []
    for start, end, sounding in spans:
        inside = sorted(at for at in above if start < at < end)
        for one, other in pairwise([start, *inside, end]):
            before = [above[one]] if one in above else []
            # A note goes on, tied, behind what stands above its middle.
            goes_on = sounding is not None and other < end
            found.append((other - one, replace(sounding, ties=True) if sounding and goes_on else sounding, before))
    return found


def _is_triplet(elements: Sequence[Element], unit: Fraction) -> bool:
    lengths = {duration for duration, _, _ in elements}
    return len(elements) == 3 and len(lengths) == 1 and (next(iter(lengths)) / unit).denominator % 3 == 0


def _length(units: Fraction) -> str:
    top = "" if units.numerator == 1 else str(units.numerator)
    return top if units.denominator == 1 else f"{top}/{units.denominator}"


def _pitch(
    note: TuneNote, everywhere: dict[str, int], here: dict[tuple[str, int], int], signature: Mapping[str, int]
) -> str:
    letter, alter = note.spelling.letter, note.spelling.alter
    octave = (note.pitch - NATURAL[letter] - alter) // 12 - 5
    plain = everywhere[letter] == alter and here.get((letter, octave), signature[letter]) == alter
    if not plain:
        everywhere[letter] = here[letter, octave] = alter
    marks = "'" * (octave - 1) if octave > 0 else "," * -octave
    assert letter in LETTERS
    return ("" if plain else _WRITTEN[alter]) + (letter.lower() if octave > 0 else letter) + marks
