"""What stands to the right of an equals sign: tempo, pickup, count, room, and the rest; read and written.

Note values are quarter notes. A bare number is of counted beats: a tempo of 56 in 6/8 is dotted quarter 56, a pickup of
1 in 4/4 is a quarter. Every reader raises ValueError with a sentence that says what was read and what would fit.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from fractions import Fraction

from charts.answer import INTERVALS, KINDS, NONE, Answer
from charts.chart import Tempo
from charts.meter import Meter

LEADS = ("feet", "switch", "pulse", "drums", "click")
PATIENCE = ("0", "1", "2", "always")
RELATIVE_MAJOR = "relative major"

NOTE_VALUES = {
    "double whole": Fraction(8),
    "whole": Fraction(4),
    "half": Fraction(2),
    "quarter": Fraction(1),
    "eighth": Fraction(1, 2),
    "sixteenth": Fraction(1, 4),
    "thirty-second": Fraction(1, 8),
}
_OTHER_NAMES = {
    "breve": "double whole",
    "semibreve": "whole",
    "minim": "half",
    "halve": "half",
    "crotchet": "quarter",
    "♩": "quarter",
    "quaver": "eighth",
    "♪": "eighth",
    "semiquaver": "sixteenth",
    "thirty second": "thirty-second",
}
NUMBERS = {
    "a": 1,
    "an": 1,
    "one": 1,
    "two": 2,
    "three": 3,
    "four": 4,
    "five": 5,
    "six": 6,
    "seven": 7,
    "eight": 8,
    "nine": 9,
}

_TEMPO = re.compile(r"(?P<value>[^\d=]*?)\s*=?\s*(?P<number>\d+(?:\.\d+)?)\s*(?:bpm)?", re.IGNORECASE)
_TEMPO_FITS = (
    'a note value and a number ("quarter 92", "dotted quarter 56"), or a number of counted beats a minute ("92")'
)
_PICKUP_FITS = 'counted beats ("1", "1/2") or note values ("quarter", "two eighths", "dotted quarter")'


_ANSWER_DISTANCE = re.compile(r"(?:(?P<half>half an?)|(?P<count>\w+)) (?P<unit>bar|beat)s?(?: later| behind)?")
_ANSWER_FITS = (
    f"{', '.join(KINDS[:-1])} or {KINDS[-1]}; then a distance in bars or beats (one bar, half a bar, two beats); then "
    f"{', '.join(INTERVALS)}"
)


def note_value(text: str) -> Fraction | None:
    """``"dotted quarter"`` or ``"eighths"`` in quarter notes; None where it is no note value."""
    words = " ".join(text.casefold().split()).removesuffix(" notes").removesuffix(" note")
    dotted = words.startswith("dotted ") or (len(words) > 1 and words.endswith("."))
    words = words.removeprefix("dotted ").removesuffix(".").strip()
    for name in (words, words.removesuffix("s")):
        plain = _OTHER_NAMES.get(name, name)
        if plain in NOTE_VALUES:
            return NOTE_VALUES[plain] * (Fraction(3, 2) if dotted else 1)
    return None


def note_name(value: Fraction) -> str | None:
    """The name of a note value, ``"dotted quarter"``; None where one word or two do not say it."""
    for name, plain in NOTE_VALUES.items():
        if value == plain:
            return name
        if value == plain * Fraction(3, 2):
            return f"dotted {name}"
    return None


def read_tempo(text: str, meter: Meter) -> Tempo:
    """``"quarter 92"``, ``"half = 60"``, or ``"92"`` counted beats of the meter."""
    match = _TEMPO.fullmatch(text.strip())
    if match is None:
        raise ValueError(f'"{text}" is not a tempo; I can read {_TEMPO_FITS}')
    value = note_value(match["value"]) if match["value"] else meter.counted_beat
    if value is None:
        raise ValueError(f'"{match["value"]}" is not a note value; I can read {_TEMPO_FITS}')
    number = float(match["number"])
    if not 1 <= number <= 999:
        raise ValueError(f'"{match["number"]}" is not a tempo anybody plays; a number from 1 to 999 would fit')
    return Tempo(value, number)


def tempo_text(tempo: Tempo) -> str:
    """``"dotted quarter 56"``; a value without a name is told in quarters."""
    name = note_name(tempo.value)
    number = tempo.per_minute if name else tempo.quarter_bpm
    return f"{name or 'quarter'} {number_text(number)}"


def number_text(number: float) -> str:
    """Without a useless ``.0``."""
    return str(int(number)) if number == int(number) else repr(number)


def read_pickup(text: str, meter: Meter) -> Fraction:
    """The pickup in quarter notes, from ``"1"`` (counted beats), ``"1/2"``, ``"quarter"`` or ``"two eighths"``."""
    words = " ".join(text.casefold().split())
    length: Fraction | None = None
    number = re.fullmatch(r"(\d+(?:\.\d+)?|\d+/[1-9]\d*)(?: beats?)?", words)
    if number:
        length = Fraction(number[1]) * meter.counted_beat
    else:
        first, _, rest = words.partition(" ")
        times = int(first) if first.isdecimal() else NUMBERS.get(first)
        value = note_value(rest) if times else note_value(words)
        if value is not None:
            length = value * (times or 1)
    if length is None:
        raise ValueError(f'"{text}" is not a pickup; I can read {_PICKUP_FITS}')
    if not 0 < length < meter.bar_length:
        raise ValueError(
            f'a pickup of "{text}" does not fit; it is more than nothing and less than a bar of {meter.name}'
        )
    return length


def pickup_text(length: Fraction, meter: Meter) -> str:
    """Counted beats where they are whole, else a note value, else a fraction of the counted beat."""
    beats = length / meter.counted_beat
    return str(beats) if beats.denominator == 1 else note_name(length) or str(beats)


def read_count(text: str) -> int:
    """``"eighths"`` to 8: meters written over that number count each of their units."""
    value = note_value(text)
    unit = Fraction(4) / value if value else Fraction(0)
    if unit not in (2, 4, 8, 16):
        raise ValueError(
            f'"{text}" is not a way to count; "eighths" makes 6/8 count six (halves, quarters, sixteenths likewise)'
        )
    return int(unit)


COUNT_NAMES = {2: "halves", 4: "quarters", 8: "eighths", 16: "sixteenths"}


def read_room(text: str) -> float:
    """Reverberation time in seconds."""
    match = re.fullmatch(r"(\d+(?:\.\d+)?)\s*(?:s|sec|seconds)?\.?", text.strip())
    if match is None or float(match[1]) > 20:
        raise ValueError(f'"{text}" is not a room; I can read its reverberation in seconds, from 0 to 20, such as 1.8')
    return float(match[1])


def read_answer(text: str) -> Answer:
    """``"echo, one bar, octave below"`` to an answer. Raises ValueError with what would fit."""
    parts = [" ".join(part.casefold().split()) for part in text.split(",")]
    if parts[0] not in KINDS or (parts[0] == NONE and len(parts) > 1):
        raise ValueError(f'"{text}" is not an answer I know; I can read {_ANSWER_FITS}')
    found: dict[str, object] = {}
    for part in parts[1:]:
        name = re.sub(r"^(?:at |in )?(?:the |an )?", "", part)
        match = _ANSWER_DISTANCE.fullmatch(part)
        count = _answer_count(match) if match else None
        if match and count and "unit" not in found:
            found |= {"count": count, "unit": match["unit"]}
        elif name in INTERVALS and "octaves" not in found:
            found["octaves"] = INTERVALS[name]
        else:
            raise ValueError(f'"{part}" is nothing I know of an answer; I can read {_ANSWER_FITS}')
    return Answer(kind=parts[0], **found)  # type: ignore[arg-type]


def _answer_count(match: re.Match[str]) -> Fraction | None:
    """How many bars or beats, None where it is no number of them."""
    if match["half"]:
        return Fraction(1, 2)
    word = match["count"]
    number = int(word) if word.isdecimal() else NUMBERS.get(word, 0)
    return Fraction(number) if 0 < number <= max(NUMBERS.values()) else None


def answer_text(answer: Answer) -> str:
    """The answer in canonical words."""
    if answer.kind == NONE:
        return NONE
    names = {value: name for name, value in reversed(NUMBERS.items())} | {1: "one"}
    if answer.count == Fraction(1, 2):
        distance = f"half a {answer.unit}"
    else:
        distance = f"{names[int(answer.count)]} {answer.unit}{'' if answer.count == 1 else 's'}"
    words = [answer.kind, distance]
    words += [name for name, octaves in INTERVALS.items() if octaves == answer.octaves and octaves]
    return ", ".join(words)


def one_of(name: str, accepted: Iterable[str]) -> Callable[[str], str]:
    """A reader that knows these values and no others."""
    values = tuple(accepted)

    def read(text: str) -> str:
        word = " ".join(text.casefold().split())
        if word not in values:
            raise ValueError(f'"{text}" is not a {name} I know; these are: {", ".join(values)}')
        return word

    return read


def read_text(text: str) -> str:
    """Any words, their spaces made single."""
    return " ".join(text.split())
