"""Chord symbols: one table of qualities drives reader, speller, writer and error text.

(skeleton of the interface; see the dataclass below)
"""

from __future__ import annotations

from dataclasses import dataclass

from charts.key import Key
from charts.pitch import Spelling


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone of a chord, as an interval above the root."""

    degree: int
    """1, 3, 5, 7, 9, 11, 13, or 2, 4, 6 as the symbol names it."""
    semitones: int
    """Above the root, 0 to 11."""
    spelling: Spelling


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord symbol that has been read. ``root is None`` is N.C.: no root, no bass, no tones."""

    root: Spelling | None
    quality: str = ""
    """Canonical name of a row of the table of qualities: "" (major), "m", "7", "maj7", "m7", "sus4", ..."""
    alterations: tuple[str, ...] = ()
    """Canonical alterations and additions in parentheses order: "b9", "#5", "add9", "no3", ..."""
    slash: Spelling | None = None
    """The bass after a stroke, where one is written."""

    @property
    def bass(self) -> Spelling | None:
        """What the feet play: the slash bass, or the root."""
        return self.slash or self.root

    @property
    def symbol(self) -> str:
        """As typed, in canonical form: ``F#m7/C#``, ``A7(b9)``, ``N.C.``. Reading it gives this chord again."""
        raise NotImplementedError

    @property
    def shown(self) -> str:
        """As printed, with typographic accidentals."""
        raise NotImplementedError

    @property
    def tones(self) -> tuple[Tone, ...]:
        """The tones that the symbol names, from the root up, without a slash bass foreign to the chord."""
        raise NotImplementedError

    @property
    def pitch_classes(self) -> tuple[int, ...]:
        """The pitch classes of the tones and of the slash bass, sorted."""
        raise NotImplementedError

    def transposed(self, steps: int, semitones: int) -> Chord:
        """Up by an interval: letter steps and semitones."""
        raise NotImplementedError


NO_CHORD = Chord(None)


def read_chord(text: str, *, key: Key | None = None, degrees_from: Spelling | None = None) -> Chord:
    """A chord symbol or a scale-degree symbol (which needs ``key``). Raises ValueError saying how far it could read and
    what would have been accepted after that."""
    raise NotImplementedError
