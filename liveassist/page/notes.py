"""Notes of one staff as elements of MusicXML: which accidentals, beams, notations and syllables each of them has.

An accidental is printed where the note differs from what the signature or an earlier note of the bar gave its line, and, as
a reminder, where it takes back what the bar before had there. It holds for its own octave; a note across a tie needs none.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from xml.etree.ElementTree import Element

from charts.exchange.elements import child, element, write_note
from charts.syllables import Syllable
from liveassist.page.rhythm import Symbol
from liveassist.page.spelling import Written

ACCIDENTALS = {-2: "flat-flat", -1: "flat", 0: "natural", 1: "sharp", 2: "double-sharp"}
Place = tuple[str, int]
"""Letter and octave: a line or space of the staff."""


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
        first = not number
        write_note(
            measure,
            ticks(symbol.length),
            pitch=(note.spelling, note.octave) if note else None,
            in_chord=not first,
            whole_bar=not symbol.type,
            ties=[*(["stop"] if symbol.tie_in else []), *(["start"] if symbol.tie_out else [])],
            voice=voice,
            type=symbol.type,
            dots=symbol.dots,
            accidental=accidentals.needed(note, tied=symbol.tie_in) if note else None,
            tuplet=(3, 2) if symbol.triplet else None,
            beams=symbol.beams if first else (),
            notations=_notations(symbol, notations) if first else (),
            lyrics=[(line, each.syllabic, each.text) for line, each in enumerate(syllables, start=1)] if first else (),
        )


def _notations(symbol: Symbol, extra: Sequence[str]) -> Iterator[Element]:
    """The triplet's bracket, the staccato dot, breath and fermata."""
    if symbol.triplet in ("start", "stop"):
        yield element("tuplet", type=symbol.triplet, bracket="no" if symbol.beams else "yes")
    articulations = element("articulations")
    if symbol.short and symbol.notes:
        child(articulations, "staccato")
    if "breath-mark" in extra and symbol.notes:
        child(articulations, "breath-mark")
    if len(articulations):
        yield articulations
    if "fermata" in extra:
        yield element("fermata", type="upright")
