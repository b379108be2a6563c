"""Words divided into what is sung on one note: at spaces, and at the hyphens written in them (``lan-terns``)."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

_GOES_ON = {"single": "begin", "end": "middle"}


@dataclass(frozen=True, slots=True)
class Syllable:
    """What is sung on one note."""

    text: str
    syllabic: str
    """single, begin, middle or end."""


def syllables_of(text: str) -> list[Syllable]:
    """A line of words divided at spaces and at the hyphens written in it."""
    found = []
    for word in text.split():
        parts = [part for part in word.split("-") if part]
        for number, part in enumerate(parts):
            first, last = number == 0, number + 1 == len(parts)
            found.append(
                Syllable(part, "single" if first and last else "begin" if first else "end" if last else "middle")
            )
    return found


def laid(verses: Sequence[str], notes: int) -> list[list[Syllable]]:
    """The syllables of each verse, one for each note; nothing unless every verse has just as many, for else it is not
    certain which belongs to which. A hyphen at the end of a verse: its last word goes on.
    """
    found = []
    for text in verses:
        plain = text.removesuffix("-")
        syllables = syllables_of(plain)
        if len(syllables) != notes or not all(all(word.split("-")) for word in plain.split()) or plain[-1:].isspace():
            return []
        if plain != text and syllables:
            syllables[-1] = replace(syllables[-1], syllabic=_GOES_ON[syllables[-1].syllabic])
        found.append(syllables)
    return found
