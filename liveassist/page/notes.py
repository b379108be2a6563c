"""Notes of one staff as elements of MusicXML: pitches, ties, dots, accidentals, beams, syllables.

An accidental is printed where the note differs from what the signature or an earlier note of the bar gave its line, and, as
a reminder, where it takes back what the bar before had there. It holds for its own octave; a note across a tie needs none.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element, SubElement

from liveassist.page.layout import Syllable
from liveassist.page.rhythm import Symbol
from liveassist.page.spelling import Written

ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
Place = tuple[str, int]
"""Letter and octave: a line or space of the staff."""


def child(parent: Element, tag: str, content: object = None, /, **attributes: str) -> Element:
    """A new element inside another; underscores in attributes stand for hyphens."""
    element = SubElement(parent, tag, {name.replace("_", "-"): value for name, value in attributes.items()})
    if content is not None:
        element.text = str(content)
    return element


class Accidentals:
    """What each line of a staff has, from bar to bar."""

    def __init__(self) -> None:
        self._signature: Mapping[str, int] = {}
        self._bar: dict[Place, int] = {}
        self._before: dict[Place, int] = {}

    def begin_bar(self, signature: Mapping[str, int]) -> None:
        self._before = {place: alter for place, alter in self._bar.items() if alter != signature[place[0]]}
        self._signature, self._bar = signature, {}

    def needed(self, note: Written, *, tied: bool) -> str | None:
        """The accidental to print for a note, which from now on has its line."""
        place, alter = (note.spelling.letter, note.octave), note.spelling.alter
        holding = self._bar.get(place, self._signature[note.spelling.letter])
        reminded = place not in self._bar and self._before.get(place, alter) != alter
        if not tied:
            self._bar[place] = alter
        return None if tied or (holding == alter and not reminded) else ACCIDENTALS[alter]


def write_symbol(
    measure: Element,
    symbol: Symbol,
    *,
    voice: int,
    ticks: Callable[[Fraction], int],
    accidentals: Accidentals,
    notations: Sequence[str] = (),
    syllables: Sequence[Syllable] = (),
) -> None:
    """One note, chord or rest. ``notations``: fermata, breath-mark. ``syllables``: one for each line of words."""
    notes: list[Written | None] = [*sorted(symbol.notes, key=lambda note: note.height)]
    for number, note in enumerate(notes or [None]):
        element = child(measure, "note")
        if number:
            child(element, "chord")
        if note is None:
            child(element, "rest", **({} if symbol.type else {"measure": "yes"}))
        else:
            pitch = child(element, "pitch")
            child(pitch, "step", note.spelling.letter)
            if note.spelling.alter:
                child(pitch, "alter", note.spelling.alter)
            child(pitch, "octave", note.octave)
        child(element, "duration", ticks(symbol.length))
        if symbol.tie_in:
            child(element, "tie", type="stop")
        if symbol.tie_out:
            child(element, "tie", type="start")
        child(element, "voice", voice)
        if symbol.type:
            child(element, "type", symbol.type)
        for _ in range(symbol.dots):
            child(element, "dot")
        accidental = accidentals.needed(note, tied=symbol.tie_in) if note else None
        if accidental:
            child(element, "accidental", accidental)
        if symbol.triplet:
            change = child(element, "time-modification")
            child(change, "actual-notes", 3)
            child(change, "normal-notes", 2)
        if not number:
            for level, beam in enumerate(symbol.beams, start=1):
                child(element, "beam", beam, number=str(level))
        _write_notations(element, symbol, notations, first=not number)
        if not number:
            for line, syllable in enumerate(syllables, start=1):
                lyric = child(element, "lyric", number=str(line))
                child(lyric, "syllabic", syllable.syllabic)
                child(lyric, "text", syllable.text)


def _write_notations(element: Element, symbol: Symbol, extra: Sequence[str], *, first: bool) -> None:
    """Ties, the triplet's bracket, the staccato dot, fermata and breath."""
    notations = Element("notations")
    if symbol.tie_in:
        child(notations, "tied", type="stop")
    if symbol.tie_out:
        child(notations, "tied", type="start")
    if first and symbol.triplet in ("start", "stop"):
        child(notations, "tuplet", type=symbol.triplet, bracket="no" if symbol.beams else "yes")
    articulations = Element("articulations")
    if first and symbol.short and symbol.notes:
        child(articulations, "staccato")
    if first and "breath-mark" in extra and symbol.notes:
        child(articulations, "breath-mark")
    if len(articulations):
        notations.append(articulations)
    if first and "fermata" in extra:
        child(notations, "fermata", type="upright")
    if len(notations):
        element.append(notations)
