"""The body of a tune in ABC notation (ABC standard 2.1): lines of notes, read into bars.

Conventions: lengths are quarter notes, exact. ``C`` is middle C and ``c`` the octave above; ``'`` raises and ``,`` lowers by
an octave. A note takes the key signature's accidental unless it has one of its own, which holds for its letter in every octave
to the end of the bar (the standard's default; ``accidentals`` says otherwise) and, on a tied note, over the barline.

Read: notes, rests (z, x; Z and X whole bars), lengths, ties, tuplets, broken rhythm, chords (the highest note is the tune), and
the fields K:, L: and M:, in the line or in brackets. Passed over: slurs, grace notes, decorations, chord symbols, annotations,
comments and all other fields. Bar lines divide; repeats and endings among them are the chart's affair, and add nothing here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction

from charts.key import Key
from charts.meter import Meter, read_meter
from charts.pitch import NATURAL, Spelling, read_spelling

_LENGTH = r"\d*(?:/+\d*)?"
_NOTE = rf"(?:\^\^|\^|__|_|=)?[A-Ga-g][,']*{_LENGTH}"
_TOKEN = re.compile(
    rf"""
      (?P<comment>%.*)
    | (?P<field>^[A-Za-z+]:(?![|:]).*|\[[A-Za-z]:[^\]\n]*\])
    | (?P<passed>"[^"\n]*"|![^!\n]*!|\+[^+\n]*\+|\{{[^}}\n]*\}}|y{_LENGTH})
    | (?P<tuplet>\((?P<p>[2-9])(?P<q>:\d*)?(?P<r>:\d*)?)
    | (?P<bar>(?:\.?\||\[\||:)[|:\]]*(?:\d+(?:[,-]\d+)*)?|\[\d+(?:[,-]\d+)*)
    | (?P<chord>\[(?P<inside>(?:{_NOTE}-?|"[^"\n]*"|![^!\n]*!|[\s.~()H-Wh-w])+)\](?P<value>{_LENGTH}))
    | (?P<note>{_NOTE})
    | (?P<rest>[zx](?P<silence>{_LENGTH}))
    | (?P<bars>[ZX](?P<count>\d*))
    | (?P<tie>\.?-)
    | (?P<broken>>+|<+)
    | (?P<line_end>\n)
    | (?P<ignored>[\s()`\\$*;?@.~H-Wh-w])
    """,
    re.VERBOSE | re.MULTILINE,
)
_NOTE_PARTS = re.compile(rf"(\^\^|\^|__|_|=)?([A-Ga-g])([,']*)({_LENGTH})(-?)")
_ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
_SHARPS = "FCGDAEB"
"""In the order in which a signature takes them; flats come from the other end."""
_MODES = {
    "maj": 0,
    "ion": 0,
    "": 0,
    "m": -3,
    "min": -3,
    "aeo": -3,
    "mix": -1,
    "dor": -2,
    "phr": -4,
    "lyd": 1,
    "loc": -5,
}
"""For each mode how many sharps more than the major key of its tonic it has."""
_COMPOUND_FILLS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
"""``(p``: so many notes in the time of so many others; 5, 7 and 9 go by the meter."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TuneNote:
    """One note of the tune."""

    offset: Fraction
    """Quarter notes from the start of its bar."""
    length: Fraction
    spelling: Spelling
    pitch: int
    """MIDI key number."""
    ties: bool
    """A tie leads on to the next note."""


@dataclass(frozen=True, kw_only=True, slots=True)
class TuneBar:
    """What stands between two bar lines."""

    notes: tuple[TuneNote, ...]
    length: Fraction | None
    """Notes and rests together; None for a whole bar's rest, as long as its bar."""
    text: str
    """As written, for messages."""
    above: tuple[tuple[Fraction, str], ...] = ()
    """What is passed over (in quotes, between exclamation marks), each with its place."""


@dataclass(slots=True)
class _Element:
    """A note or a rest, its length still to be changed by broken rhythm."""

    length: Fraction
    spelling: Spelling | None = None
    pitch: int = 0
    ties: bool = False


class Tune:
    """Reads the lines of one tune: key, unit note length and a tie hold from one line to the next.

    ``accidentals`` hold to the end of the bar for their letter in every octave ("pitch"), in their own ("octave"), or for
    their note alone ("not").
    """

    _next: Fraction
    _share: Fraction

    def __init__(self, key: Key, meter: Meter, accidentals: str = "pitch") -> None:
        self._holding = accidentals
        self._signature = _signature(key.fifths)
        self._unit = Fraction(1, 4) if meter.bar_length < 3 else Fraction(1, 2)
        """Quarter notes: a sixteenth where the bar is shorter than three quarters, else an eighth (the standard's default)."""
        self._compound = _is_compound(meter)
        self._last: _Element | None = None
        """The latest note or rest, of the bar before as well."""
        self._bars: list[TuneBar] = []
        self._begin_bar()

    def read(self, text: str, lengths: Sequence[Fraction] = ()) -> list[TuneBar]:
        """The bars of a line of tune, or of several.

        ``lengths``, quarter notes, are those of the bars it belongs to: a line that ends with a full bar may lack its bar line.
        Raises ValueError with what was read and what would fit.
        """
        self._bars = []
        self._begin_bar()
        place = 0
        while place < len(text):
            match = _TOKEN.match(text, place)
            if match is None:
                raise ValueError(f'"{text[place:].split()[0]}" is nothing I can read in a tune{_hint(text[place])}')
            self._take(match, lengths)
            place = match.end()
        self._end_bar()
        return self._bars

    def _take(self, match: re.Match[str], lengths: Sequence[Fraction]) -> None:
        kind = match.lastgroup
        if kind == "bar":
            self._end_bar()
            return
        if kind == "line_end":
            index = len(self._bars)
            if index < len(lengths) and self._length() == lengths[index]:
                self._end_bar()
        if kind != "comment":
            self._text += match[0]
        if kind == "passed" and match[0][0] != "{":
            self._above.append((self._length(), match[0]))
        elif kind in ("passed", "chord"):
            # What stands in quotes inside stands above it.
            inside = re.findall(r'"[^"\n]*"|![^!\n]*!', match[0])
            self._above.extend((self._length(), text) for text in inside)
        if kind == "field":
            name, _, value = match[0].strip("[]").partition(":")
            self._field(name, value.partition("%")[0].strip())
        elif kind == "tuplet":
            self._tuplet(int(match["p"]), match["q"], match["r"])
        elif kind == "note":
            self._add(self._note(match["note"]))
        elif kind == "chord":
            self._add(self._chord(match["inside"], match["value"]))
        elif kind == "rest":
            self._add(_Element(self._value(match["silence"])))
        elif kind == "bars":
            self._whole_rests(int(match["count"] or 1))
        elif kind == "tie":
            self._tie()
        elif kind == "broken":
            self._broken(match["broken"])

    # -- notes ----------------------------------------------------------------------------------------------------

    def _note(self, text: str) -> _Element:
        parts = _NOTE_PARTS.fullmatch(text)
        assert parts is not None
        accidental, written, marks, value, tie = parts.groups()
        letter = written.upper()
        octave = 5 * 12 + 12 * (written.islower() + marks.count("'") - marks.count(","))
        where = letter, octave if self._holding == "octave" else 0
        if accidental and self._holding != "not":
            self._altered[where] = _ACCIDENTALS[accidental]
        alter = _ACCIDENTALS[accidental] if accidental else self._altered.get(where, self._signature[letter])
        tied = self._last
        if not accidental and not self._elements and tied is not None and tied.ties and tied.spelling is not None:
            same_key = tied.pitch == octave + NATURAL[letter] + tied.spelling.alter
            alter = tied.spelling.alter if same_key and tied.spelling.letter == letter else alter
        return _Element(self._value(value), Spelling(letter, alter), octave + NATURAL[letter] + alter, bool(tie))

    def _chord(self, inside: str, value: str) -> _Element:
        """The highest note of a chord, as long as its first note says, times what stands behind the bracket."""
        plain = re.sub(r'"[^"]*"|![^!]*!|\s', "", inside)
        notes = [self._note(match[0]) for match in _NOTE_PARTS.finditer(plain)]
        if not notes:
            raise ValueError(f'"[{inside}]" is a chord without a note; [CEG]2 is one with three')
        top = max(notes, key=lambda note: note.pitch)
        return _Element(notes[0].length * self._value(value) / self._unit, top.spelling, top.pitch, top.ties)

    def _add(self, element: _Element) -> None:
        element.length *= self._next
        self._next = Fraction(1)
        if self._left:
            element.length *= self._share
            self._left -= 1
        self._elements.append(element)
        self._last = element

    def _tie(self) -> None:
        if self._last is None or self._last.spelling is None:
            raise ValueError('"-" ties a note to the next, and there is no note before it')
        self._last.ties = True

    def _broken(self, signs: str) -> None:
        """``a>b``: the first is dotted, the second halved; each further sign doubles the dots."""
        if not self._elements:
            raise ValueError(f'"{signs}" stands between two notes of a bar, and there is none before it: c>d')
        short = Fraction(1, 2 ** len(signs))
        longer = 2 - short
        self._elements[-1].length *= longer if signs[0] == ">" else short
        self._next = short if signs[0] == ">" else longer

    def _tuplet(self, notes: int, time: str | None, reach: str | None) -> None:
        usual = _COMPOUND_FILLS.get(notes, 3 if self._compound else 2)
        fills = int(time[1:]) if time and time != ":" else usual
        self._left = int(reach[1:]) if reach and reach != ":" else notes
        self._share = Fraction(fills, notes)

    def _value(self, text: str) -> Fraction:
        """``3/2``, ``2``, ``/``, ``//`` in quarter notes."""
        upper, slashes, lower = text.partition("/")
        lower = lower.lstrip("/")
        below = int(lower) if lower else 2 ** (text.count("/") if slashes else 0)
        if below == 0 or upper == "0":
            raise ValueError(f'"{text}" is no length of a note; 2, 3/2 and /2 are')
        return self._unit * Fraction(int(upper or 1), below)

    # -- bars -----------------------------------------------------------------------------------------------------

    def _begin_bar(self) -> None:
        self._elements: list[_Element] = []
        self._altered: dict[tuple[str, int], int] = {}
        self._text = ""
        self._above: list[tuple[Fraction, str]] = []
        self._next = Fraction(1)
        """What broken rhythm makes of the next note's length."""
        self._share, self._left = Fraction(1), 0
        """What a tuplet makes of its notes' lengths, and of how many more."""

    def _length(self) -> Fraction:
        return sum((element.length for element in self._elements), Fraction(0))

    def _end_bar(self) -> None:
        """A bar line: what stands before it is a bar, if anything does."""
        if self._elements:
            notes, offset = [], Fraction(0)
            for element in self._elements:
                if element.spelling is not None:
                    notes.append(
                        TuneNote(
                            offset=offset,
                            length=element.length,
                            spelling=element.spelling,
                            pitch=element.pitch,
                            ties=element.ties,
                        )
                    )
                offset += element.length
            text = " ".join(self._text.split())
            self._bars.append(TuneBar(notes=tuple(notes), length=offset, text=text, above=tuple(self._above)))
        self._begin_bar()

    def _whole_rests(self, count: int) -> None:
        if self._elements:
            raise ValueError('"Z" is a rest for whole bars and stands alone; z is a rest in a bar')
        self._bars.extend([TuneBar(notes=(), length=None, text="Z")] * count)
        self._last = None

    # -- fields ---------------------------------------------------------------------------------------------------

    def _field(self, name: str, value: str) -> None:
        if name == "L":
            match = re.fullmatch(r"1(?:/([1-9]\d*))?", value)
            if match is None:
                raise ValueError(f'"L:{value}" is no unit note length; L:1/8 and L:1/4 are')
            self._unit = Fraction(4, int(match[1] or 1))
        elif name == "K":
            self._signature = _signature(_fifths(value))
        elif name == "M" and value not in ("none", "C", "C|"):
            self._compound = _is_compound(read_meter(value))
        elif name == "M":
            self._compound = False


def signs(text: str) -> Iterator[tuple[str, str]]:
    """What a text of tune is made of, for readers of more than its notes: kind ("bar", "note", "field" ...) and text of each
    sign in order. What cannot be read is a sign of kind "unknown", one character long.
    """
    place = 0
    while place < len(text):
        match = _TOKEN.match(text, place)
        yield (match.lastgroup or "", match[0]) if match else ("unknown", text[place])
        place = match.end() if match else place + 1


def _hint(sign: str) -> str:
    """What may have been meant by a sign that cannot be read."""
    hints = {
        "&": "; the melody of a chart is one voice",
        "[": "; a chord is [CEG], a field such as [L:1/8]",
        '"': '; what is in quotes needs two: "G"',
    }
    return hints.get(sign, "; notes are A to G and a to g, rests z, lengths such as c2 or c/2, bar lines |")


def _is_compound(meter: Meter) -> bool:
    return meter.beats > 3 and meter.beats % 3 == 0


def _signature(fifths: int) -> dict[str, int]:
    """For each letter the alteration that a signature of so many sharps (flats, negative) gives it."""
    return {letter: (fifths - place + 6) // 7 for place, letter in enumerate(_SHARPS)}


def _fifths(text: str) -> int:
    """The sharps in the signature of an ABC key: ``G``, ``Bb``, ``F#m``, ``D mix``, ``none``."""
    words = re.sub(
        r"(?i)\b(?:clef|octave|transpose|middle|stafflines)=\S*|\b(?:treble|bass|alto|tenor)\S*", "", text
    ).strip()
    if words.casefold() in ("", "none"):
        return 0
    read = read_spelling(words)
    mode = read[1].strip() if read else ""
    word = mode.casefold()[:3]
    if read is None or mode == "M" or word not in _MODES or (word and not word.startswith("m") and len(word) < 3):
        raise ValueError(
            f'"K:{text}" is no key I can read in a tune; a letter, an accidental and a mode are: Bb, F#m, Ddor'
        )
    return Key(read[0]).fifths + _MODES[word]
