"""Pitch: spelled note names, pitch classes and key numbers.

Conventions: pitch class 0 is C; a key number is a MIDI note number, the KEY and not the sounding pitch; middle C is 60 and C4.
A spelling is a letter and an alteration in semitones (-2 .. 2), so F sharp and G flat stay apart.
"""

from __future__ import annotations

from dataclasses import dataclass

LETTERS = "CDEFGAB"
NATURAL = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}

_ACCIDENTALS = {"bb": -2, "b": -1, "": 0, "#": 1, "##": 2}
_PLAIN = {alter: text for text, alter in _ACCIDENTALS.items()}
_SHOWN = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
_TYPOGRAPHIC = str.maketrans({"♭": "b", "♯": "#", "♮": "", "𝄫": "bb", "𝄪": "##"})


def plain_accidentals(text: str) -> str:
    """The same text with typographic accidentals written as ``#`` and ``b``."""
    return text.translate(_TYPOGRAPHIC)


@dataclass(frozen=True, slots=True)
class Spelling:
    """A note name without an octave: a letter and an alteration in semitones."""

    letter: str
    alter: int = 0

    def __post_init__(self) -> None:
        if self.letter not in NATURAL or self.alter not in _PLAIN:
            raise ValueError(f"no such note name: letter {self.letter!r}, alteration {self.alter}")

    @property
    def pitch_class(self) -> int:
        return (NATURAL[self.letter] + self.alter) % 12

    @property
    def name(self) -> str:
        """As typed: ``F#``, ``Bb``."""
        return self.letter + _PLAIN[self.alter]

    @property
    def shown(self) -> str:
        """As printed: ``F♯``, ``B♭``."""
        return self.letter + _SHOWN[self.alter]

    def transposed(self, steps: int, semitones: int) -> Spelling:
        """Up by a diatonic number of steps that sounds as so many semitones; respelled simply where that would need
        more than a double accidental. ``Spelling("D").transposed(1, 2)`` is E.
        """
        letter = LETTERS[(LETTERS.index(self.letter) + steps) % 7]
        target = (self.pitch_class + semitones) % 12
        alter = (target - NATURAL[letter] + 6) % 12 - 6
        if abs(alter) <= 2:
            return Spelling(letter, alter)
        return simplest(target, sharps=alter > 0)


def simplest(pitch_class: int, *, sharps: bool) -> Spelling:
    """The spelling of a pitch class with at most one accidental, a sharp or a flat as asked."""
    alter = 1 if sharps else -1
    for letter, natural in NATURAL.items():
        if natural == pitch_class % 12:
            return Spelling(letter, 0)
    for letter, natural in NATURAL.items():
        if (natural + alter) % 12 == pitch_class % 12:
            return Spelling(letter, alter)
    raise AssertionError("every pitch class has a name")


def read_spelling(text: str) -> tuple[Spelling, str] | None:
    """The note name at the start of a text and what follows it, or None. Only capital letters are note names."""
    text = plain_accidentals(text)
    if not text or text[0] not in NATURAL:
        return None
    for length in (2, 1):
        mark = text[1 : 1 + length]
        if len(mark) == length and mark in _ACCIDENTALS:
            return Spelling(text[0], _ACCIDENTALS[mark]), text[1 + length :]
    return Spelling(text[0]), text[1:]
