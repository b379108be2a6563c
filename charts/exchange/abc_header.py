"""The fields of a tune in ABC (standard 2.1): what its header states, and what a field in its body changes.

A church mode is written as the major or minor key of its tonic, the notes as they sound.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterable, Iterator
from fractions import Fraction

from charts.chart import Tempo
from charts.exchange.sheet import Remark
from charts.key import Key
from charts.meter import Meter, read_meter
from charts.pitch import Spelling, read_spelling

FIELD = re.compile(r"^([A-Za-z+]):(?![|:])(.*)$")
ACCIDENTALS_HOLD = re.compile(r"^(?:%%|I:)\s*propagate-accidentals\s+(not|octave|pitch)\b")
_MINOR_MODES = ("m", "min", "aeo", "dor", "phr", "loc")
_PLAIN_MODES = ("", "maj", "ion", "m", "min", "aeo")
_ACCENTS = {"`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", "c": "\u0327", "r": "\u030a"}


class Remarks:
    """What there is to tell, each once, in the order found."""

    def __init__(self) -> None:
        self._found: dict[Remark, None] = {}

    def tell(self, bar: int, message: str, *, lost: bool = True) -> None:
        self._found.setdefault(Remark(bar=bar, message=message, lost=lost))

    def __iter__(self) -> Iterator[Remark]:
        return iter(self._found)


class Header:
    """What the fields state that have been read; meter and unit as they hold now."""

    def __init__(self, remarks: Remarks, common: Iterable[str] = ()) -> None:
        """``common``: fields that the file states for all its tunes."""
        self._tell = remarks.tell
        self.titles: list[str] = []
        self.credits: list[str] = []
        self.meter = Meter(4, 4)
        self.free = False
        """No meter is stated: a bar is as long as its notes."""
        self.unit: str | None = None
        """The unit of lengths as it is written, where one is stated."""
        self.key: Key | None = None
        self.key_text = ""
        self.tempo_text = ""
        self.order = ""
        self.accidentals = "pitch"
        """How long accidentals hold, as ``charts.tune`` has it."""
        for line in common:
            self.take_accidentals(line)
            if not line.startswith("%"):
                self.take(line)

    def take(self, line: str) -> None:
        """A line of the header."""
        match = FIELD.match(line)
        if match is None:
            message = f'the line "{line.strip()[:40]}" of the header is no field, and is not taken'
            self._tell(0, message, lost="|" in line)
            return
        name, value = match[1], match[2].strip()
        if name == "T" and value:
            self.titles.append(plain(value))
        elif name in "CO" and value:
            self.credits.append(f"{'composer' if name == 'C' else 'origin'}: {plain(value)}")
        elif name == "M":
            self.take_meter(value, 0)
        elif name == "L":
            self.take_unit(value)
        elif name == "Q":
            self.tempo_text = value
        elif name == "P":
            self.order = value
        elif name == "K":
            self.key_text = value
            self.key = self.read_key(value, 0)

    def take_accidentals(self, line: str) -> None:
        """How long accidentals hold, where a line says that."""
        match = ACCIDENTALS_HOLD.match(line)
        self.accidentals = match[1] if match else self.accidentals

    def take_meter(self, value: str, bar: int) -> None:
        self.meter, self.free = self._meter(value, bar)

    def take_unit(self, value: str) -> None:
        self.unit = value.replace(" ", "")

    def _meter(self, value: str, bar: int) -> tuple[Meter, bool]:
        """A meter, and whether the bars are free."""
        text = value.replace(" ", "").strip()
        if text in ("C", "c"):
            return Meter(4, 4), False
        if text in ("C|", "c|"):
            return Meter(2, 2), False
        if text.casefold() in ("none", ""):
            return Meter(4, 4), True
        added = re.fullmatch(r"\(?(\d+(?:\+\d+)+)\)?/(\d+)", text)
        if added and len(text) < 20:
            text = f"{sum(map(int, added[1].split('+')))}/{added[2]}"
        try:
            return read_meter(text), False
        except ValueError as error:
            self._tell(bar, f"{error}; {self.meter.name} is written")
            return self.meter, False

    def read_key(self, value: str, bar: int) -> Key | None:
        """A key; None where there is none, or none that can be read."""
        words = re.sub(r"(?i)\b(?:clef|octave|transpose|middle|stafflines|shift|name|style)=\S*", "", value)
        words = re.sub(r"(?i)\b(?:treble|bass|alto|tenor|perc)\S*|[\^_=]{1,2}[A-Ga-g]\b|\bexp\b", "", words).strip()
        if words.casefold() in ("", "none"):
            return None
        if words in ("HP", "Hp"):
            return Key(Spelling("A"))
        read = read_spelling(words[:1].upper() + words[1:])
        if read is None:
            self._tell(bar, f'the key "{value}" cannot be read')
            return None
        tonic, rest = read
        mode = rest.strip().casefold()[:3] if rest.strip() != "M" else ""
        mode = mode if mode in (*_MINOR_MODES, *_PLAIN_MODES, "mix", "lyd") else mode[:1] if mode[:1] == "m" else ""
        key = Key(tonic, minor=mode in _MINOR_MODES)
        if mode not in _PLAIN_MODES:
            self._tell(bar, f'"{value}" is written as {key.shown}', lost=False)
        return key if key.usual else Key(tonic).lifted(0)

    def read_tempo(self, value: str) -> Tempo | None:
        """A tempo; None where there is none, or none that can be."""
        text = re.sub(r'"[^"]*"', "", value).strip()
        match = re.search(
            r"(?:(?P<values>(?:\d{1,2}/\d{1,3}\s*)+)|(?P<unit>[A-Z]\d*))?\s*=?\s*(?P<number>\d{1,3}(?:\.\d+)?)", text
        )
        if match is None:
            return None
        if match["values"]:
            length = Fraction(0)
            for part in match["values"].split():
                top, _, below = part.partition("/")
                length += Fraction(4 * int(top), max(1, int(below)))
        else:
            length = self._unit_length()
        number = float(match["number"])
        tempo = Tempo(length, number)
        return tempo if 1 <= number <= 999 and 1 <= tempo.quarter_bpm <= 999 else None

    def _unit_length(self) -> Fraction:
        match = re.fullmatch(r"1/(\d{1,3})", self.unit or "")
        if match and int(match[1]):
            return Fraction(4, int(match[1]))
        return Fraction(1, 4) if self.meter.bar_length < 3 else Fraction(1, 2)


def tune_key(text: str) -> str:
    """A key as ``charts.tune`` reads it; none where it does not."""
    words = re.sub(r"(?i)\b(?:shift|name|style)=\S*|\bexp\b|[\^_=]{1,2}[A-Ga-g]\b", "", text).strip()
    if words in ("HP", "Hp"):
        return "D"
    words = words[:1].upper() + words[1:]
    read = read_spelling(words)
    if read is None:
        return "none"
    mode = re.match(r"\s*([A-Za-z]*)", read[1])
    word = (mode[1] if mode else "").casefold()[:3]
    known = ("maj", "ion", "m", "min", "aeo", "mix", "dor", "phr", "lyd", "loc")
    return read[0].name + (word if word in known and (mode is None or mode[1] != "M") else "")


def order_of(text: str) -> list[str]:
    """``A2(BC)2`` as A A B C B C. Nothing where it is not of that form."""
    signs = re.sub(r"[.\s]", "", text)
    if not re.fullmatch(r"[A-Za-z0-9()]*", signs) or len(signs) > 200:
        return []
    rows: list[list[str]] = [[]]
    for sign in re.findall(r"[A-Za-z]|\d+|[()]", signs):
        if sign == "(":
            rows.append([])
        elif sign == ")" and len(rows) > 1:
            rows[-2].append(" ".join(rows.pop()))
        elif sign.isdecimal() and rows[-1]:
            rows[-1][-1] = " ".join([rows[-1][-1]] * min(9, int(sign[:2])))
        elif sign.isalpha():
            rows[-1].append(sign)
        if sum(len(part) for row in rows for part in row) > 4000:
            return []
    return " ".join(part for row in rows for part in row).split()


def plain(text: str, *, words: bool = False) -> str:
    """Text with the standard's accents and entities as letters."""

    def accent(match: re.Match[str]) -> str:
        return unicodedata.normalize("NFC", match[2] + _ACCENTS[match[1]])

    shown = re.sub(r"""\\([`'^~"cr])([A-Za-z])""", accent, text)
    shown = re.sub(r"\\u([0-9A-Fa-f]{4})", lambda match: chr(int(match[1], 16)), html.unescape(shown))
    shown = re.sub(r"[\ud800-\udfff]", "", shown)
    return shown if words else " ".join(shown.replace("\\", "").split())
