"""Keys: tonic, mode, signature and the spelling that goes with them.

``fifths`` is the number of sharps (positive) or flats (negative) in the signature.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from charts.pitch import LETTERS, Spelling, read_spelling, simplest

_FIFTHS = {"F": -1, "C": 0, "G": 1, "D": 2, "A": 3, "E": 4, "B": 5}
MAJOR_SCALE = (0, 2, 4, 5, 7, 9, 11)
"""Semitones of the seven degrees above a major tonic."""


@dataclass(frozen=True, slots=True)
class Key:
    """``Key(Spelling("B", -1), minor=True)`` is B flat minor."""

    tonic: Spelling
    minor: bool = False

    @property
    def fifths(self) -> int:
        """Place on the circle of fifths: sharps in the signature, flats as a negative number."""
        return _FIFTHS[self.tonic.letter] + 7 * self.tonic.alter - (3 if self.minor else 0)

    @property
    def usual(self) -> bool:
        """Whether anybody would print this signature: no more than seven sharps or flats."""
        return abs(self.fifths) <= 7

    @property
    def sharps(self) -> bool:
        """Whether accidentals in this key lean to sharps."""
        return self.fifths > 0 or (self.fifths == 0 and not self.minor)

    @property
    def name(self) -> str:
        """As typed: ``Bb``, ``F#m``."""
        return self.tonic.name + ("m" if self.minor else "")

    @property
    def shown(self) -> str:
        """As printed: ``B♭ major``, ``F♯ minor``."""
        return self.tonic.shown + (" minor" if self.minor else " major")

    def degree(self, number: int, alter: int = 0) -> Spelling:
        """The note on a scale degree, 1 to 7, counted along the major scale of the tonic, raised or lowered."""
        if not 1 <= number <= 7:
            raise ValueError(f"{number} is not a scale degree; they go from 1 to 7")
        return self.tonic.transposed(number - 1, MAJOR_SCALE[number - 1] + alter)

    def lifted(self, semitones: int) -> Key:
        """The key so many semitones away, spelled with the fewest accidentals (flats where both are equal)."""
        target = (self.tonic.pitch_class + semitones) % 12
        if target == self.tonic.pitch_class:
            return self
        names = {simplest(target, sharps=True), simplest(target, sharps=False)}
        return min((Key(name, self.minor) for name in names), key=lambda key: (abs(key.fifths), key.fifths))

    def half_steps_to(self, other: Key) -> int:
        """Half steps up to another key's tonic by the smaller way, -5 to 6."""
        return (other.tonic.pitch_class - self.tonic.pitch_class + 5) % 12 - 5

    def steps_to(self, other: Key) -> int:
        """Letter steps up from this tonic to another's, 0 to 6: with the semitones, the interval of a transposition."""
        return (LETTERS.index(other.tonic.letter) - LETTERS.index(self.tonic.letter)) % 7


def read_key(text: str) -> Key:
    """``"D"``, ``"Bb"``, ``"F# minor"``, ``"Em"`` to a key. Raises ValueError saying what would fit."""
    read = read_spelling(text.strip())
    if read is not None:
        tonic, rest = read
        rest = rest.strip()
        if re.fullmatch(r"m|-|(?i:min|minor)", rest):
            return Key(tonic, minor=True)
        if re.fullmatch(r"|M|(?i:maj|major)", rest):
            return Key(tonic)
    raise ValueError(
        f'"{text.strip()}" is not a key; I can read a letter, an accidental and "m" or "minor": D, Bb, F#m'
    )
