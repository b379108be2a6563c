"""Chord symbols as lead sheets write them, read into root, quality, alterations and bass, and written in one canonical form.

Conventions. The tables of ``charts.qualities`` drive reader, writer, speller and error text. A root is a capital letter with an
accidental; the accidental belongs to the root, so ``Cb5`` is a power chord on C flat and C with a flat fifth is ``C(b5)``. A
scale-degree symbol begins with a digit from 1 to 7, or an accidental and a digit: ``57`` is the fifth degree with a seventh,
``5/7`` the fifth degree over the seventh, ``55`` a power chord on the fifth, ``6-`` the sixth degree, minor. What stands behind
the last stroke is the bass where it is a note, or a degree under a degree; else the stroke parts the quality from what is added
to it, so ``C6/9`` and ``C7/13`` are qualities. ``C+9`` is an augmented and ``C-9`` a minor ninth chord, but ``C7+9`` has a
sharp ninth and ``C7-9`` a flat one. Spellings that name the same tones read to equal chords.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from charts.key import Key
from charts.pitch import Spelling, plain_accidentals, read_spelling
from charts.qualities import (
    ALTERATION_SPELLINGS,
    SPELLINGS,
    USUAL,
    USUAL_ALTERATIONS,
    WORDS,
    altered,
    canonical,
    written,
)

NO_CHORD_SPELLINGS = ("n.c.", "nc", "n.c", "no chord", "n. c.")
_DEGREE = re.compile(r"(bb|b|##|#|)([1-7])")
_ALTERED = sorted(ALTERATION_SPELLINGS, key=len, reverse=True)
_WRITTEN = sorted(SPELLINGS, key=len, reverse=True)
_SHOWN = {"b": "♭", "#": "♯"}
_SEPARATORS = "(),;/ "
_GLYPHS = str.maketrans("△∆º˚Ø∅−–‐‑", "ΔΔ°°øø----")
"""Signs that look like one that the table has."""
_WORDS = re.compile(rf"(?<![A-Za-z])([mMoj]?)((?i:{'|'.join(sorted(WORDS, key=len, reverse=True))})+)(?![A-Za-z])")
"""A run of the table's words, perhaps behind one letter that means something by itself: the M of ``CMadd9``."""


@dataclass(frozen=True, slots=True)
class Tone:
    """One tone of a chord, as an interval above the root."""

    degree: int
    """1 to 7, 9, 11 or 13, as the symbol names it."""
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
    """Canonical alterations, in the order of ``charts.qualities.ALTERATIONS``."""
    slash: Spelling | None = None
    """The bass after a stroke, where one is written."""

    @property
    def bass(self) -> Spelling | None:
        """What the feet play: the slash bass, or the root."""
        return self.slash or self.root

    @property
    def symbol(self) -> str:
        """As typed, in canonical form: ``F#m7/C#``, ``A7(b9)``, ``N.C.``. Reading it gives this chord again."""
        if self.root is None:
            return "N.C."
        return self.root.name + written(self.quality, self.alterations) + (f"/{self.slash.name}" if self.slash else "")

    @property
    def shown(self) -> str:
        """As printed, with typographic accidentals."""
        if self.root is None:
            return "N.C."
        return self.root.shown + self.body + (f"/{self.slash.shown}" if self.slash else "")

    @property
    def body(self) -> str:
        """What stands between root and stroke, as printed: ``7(♭9)``; empty for a major triad and for N.C."""
        return re.sub(r"[b#](?=\d)", lambda mark: _SHOWN[mark[0]], written(self.quality, self.alterations))

    @property
    def tones(self) -> tuple[Tone, ...]:
        """The tones that the symbol names, from the root up, without a slash bass foreign to the chord."""
        if self.root is None:
            return ()
        root = self.root
        return tuple(
            Tone(degree, semitones, root.transposed((degree - 1) % 7, semitones))
            for degree, semitones in altered(self.quality, self.alterations)
        )

    @property
    def pitch_classes(self) -> tuple[int, ...]:
        """The pitch classes of the tones and of the slash bass, sorted."""
        found = {tone.spelling.pitch_class for tone in self.tones}
        if self.slash is not None:
            found.add(self.slash.pitch_class)
        return tuple(sorted(found))

    def tone(self, degree: int) -> Tone | None:
        """The tone on a degree, None where the symbol names none."""
        return next((tone for tone in self.tones if tone.degree == degree), None)

    def transposed(self, steps: int, semitones: int) -> Chord:
        """Up by an interval: letter steps and semitones."""
        if self.root is None:
            return self
        slash = self.slash.transposed(steps, semitones) if self.slash else None
        return Chord(self.root.transposed(steps, semitones), self.quality, self.alterations, slash)


NO_CHORD = Chord(None)


def read_chord(text: str, *, key: Key | None = None, degrees_from: Spelling | None = None) -> Chord:
    """A chord symbol, or a scale-degree symbol where ``key`` is given.

    ``degrees_from`` is the tonic from which degrees count, where it is not the key's. Raises ValueError saying how far it could
    read and what would have been accepted after that.
    """
    plain = plain_accidentals(text.strip()).translate(_GLYPHS)
    if plain.casefold() in NO_CHORD_SPELLINGS:
        return NO_CHORD
    tonic = degrees_from or (key.tonic if key else None)
    read = _read_root(plain, tonic)
    if read is None:
        wanted = "a root from A to G, in capitals," + (" or a scale degree from 1 to 7," if tonic else "")
        raise ValueError(f'"{text}" is not a chord I know. It should begin with {wanted} or be N.C.')
    root, body = read
    slash = None
    before, stroke, behind = body.rpartition("/")
    if stroke:
        by_degree = plain[0] not in "ABCDEFG"
        bass = _read_root(behind.strip(), tonic if by_degree else None)
        if bass is not None and not bass[1]:
            slash, body = bass[0], before
    quality, alterations = _read_body(text, plain[: len(plain) - len(read[1])], body.strip())
    return Chord(root, quality, alterations, slash)


def _read_root(text: str, tonic: Spelling | None) -> tuple[Spelling, str] | None:
    """The root at the start of a text and what follows it: a note name, or a degree above a tonic."""
    match = _DEGREE.match(text) if tonic is not None else None
    if match is None or tonic is None:
        return read_spelling(text)
    alter = match[1].count("#") - match[1].count("b")
    return Key(tonic).degree(int(match[2]), alter), text[match.end() :]


def _read_body(text: str, root: str, body: str) -> tuple[str, tuple[str, ...]]:
    """Quality and alterations behind the root: the longest spelling behind which all the rest is alterations."""
    if re.search(r"[()]", re.sub(r"\([^()]*\)", "", body)):
        raise ValueError(f'"{text}" is not a chord I know: a parenthesis in it has no partner')
    lowered = _WORDS.sub(lambda run: run[1] + run[2].lower(), body)
    # where parentheses enclose the quality itself, C(maj7) or Cm(7), it is read without them
    for attempt in (lowered, re.sub(r"[() ]", "", lowered)):
        for quality, alterations, end in _readings(attempt):
            if end == len(attempt):
                return canonical(quality, alterations)
    furthest = max((end for _, _, end in _readings(lowered)), default=0)
    so_far = body[:furthest].rstrip(_SEPARATORS)
    told = f'"{text}" is not a chord I know. '
    if so_far:
        told += f'I could read "{root}{so_far}". '
    if body[len(so_far) :].lstrip(" )").startswith("/"):
        told += "After the stroke I can read a bass note such as G or F#. "
    raise ValueError(
        f'{told}After "{root}" I can read {", ".join(USUAL)} and so on, and behind that or in parentheses '
        f"{', '.join(USUAL_ALTERATIONS)}"
    )


def _readings(body: str) -> Iterator[tuple[str, tuple[str, ...], int]]:
    """The ways to read a body, the longest spelling of a quality first: quality, alterations and how far they go."""
    for spelling in _WRITTEN:
        if body.startswith(spelling):
            alterations, end = _read_alterations(body, len(spelling))
            yield SPELLINGS[spelling], alterations, end


def _read_alterations(body: str, start: int) -> tuple[tuple[str, ...], int]:
    """The alterations from a place on, and how far they go. A bare number stands behind a parenthesis, a stroke or a comma, so
    that ``C99`` is no chord."""
    found: list[str] = []
    end = start
    while end < len(body):
        if body[end] == "/" and body[end + 1 : end + 2] in ("", "/"):
            break
        if body[end] in _SEPARATORS:
            end += 1
            continue
        spelling = next((item for item in _ALTERED if body.startswith(item, end)), None)
        if spelling is None or (spelling.isdecimal() and body[end - 1] not in _SEPARATORS):
            break
        found.append(ALTERATION_SPELLINGS[spelling])
        end += len(spelling)
    return tuple(found), end
