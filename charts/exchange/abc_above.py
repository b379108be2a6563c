"""What stands above the notes of a bar in ABC: chord symbols in quotes, annotations, decorations.

What stands in quotes and begins like no chord is a jump, a mark, the name of a section, or words, which are told.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from charts.chart import BAR_MARKS, BREATH, CODA, DC, DS, FINE, HOLD, SEGNO, TO_CODA
from charts.exchange.abc_header import Remarks, plain
from charts.exchange.headings import chord_word, heading, jump_or_mark
from charts.exchange.sheet import SheetChord

_DECORATIONS = {
    "fermata": HOLD,
    "breath": BREATH,
    "segno": SEGNO,
    "coda": CODA,
    "d.c.": DC,
    "d.s.": DS,
    "dacapo": DC,
    "dacoda": TO_CODA,
    "tocoda": TO_CODA,
    "fine": FINE,
    "d.c.alfine": "D.C. al fine",
    "d.c.alcoda": "D.C. al coda",
    "d.s.alfine": "D.S. al fine",
    "d.s.alcoda": "D.S. al coda",
}
_LETTERS = {"H": HOLD, "O": CODA, "S": SEGNO}


@dataclass(slots=True)
class Above:
    """Chords, marks and a heading of one bar."""

    chords: list[SheetChord] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)
    """Of the whole bar."""
    change_marks: list[tuple[Fraction, str]] = field(default_factory=list)
    """With their places."""
    heading: str | None = None

    def mark(self, at: Fraction, mark: str) -> None:
        if mark in BAR_MARKS:
            self.marks.append(mark)
        else:
            self.change_marks.append((at, mark))


def read_above(number: int, above: Sequence[tuple[Fraction, str]], length: Fraction, remarks: Remarks) -> Above:
    """What stands above the bar of this number and length: ``above`` holds places and texts with their signs."""
    found = Above()
    for at, quoted in above:
        text = quoted[1:-1]
        if quoted[0] in "!+":
            mark = _DECORATIONS.get(re.sub(r"\s", "", text.casefold()))
            if mark:
                found.mark(at, mark)
        elif quoted[0] == '"':
            _read_quoted(number, at, text, found, remarks)
    found.chords = _one_a_place(number, found.chords, length, remarks)
    return found


def marks_of_letters(text: str) -> list[str]:
    """The marks that single letters before the notes of a bar stand for."""
    bare = re.sub(r'"[^"]*"|![^!]*!|\[[A-Za-z]:[^\]]*\]', "", text)
    return [_LETTERS[letter] for letter in re.findall(r"[HOS](?=[\^_=A-Ga-gz(\[\"!~.])", bare)]


def _one_a_place(number: int, chords: Sequence[SheetChord], length: Fraction, remarks: Remarks) -> list[SheetChord]:
    """The chords in order; two at one place share what is left of the bar."""
    kept: dict[Fraction, SheetChord] = {}
    for each in chords:
        if each.offset >= length and kept:
            remarks.tell(number, f"{each.chord.symbol} stands behind the bar's last note; it is left out")
        elif each.offset in kept and kept[each.offset].chord != each.chord:
            share = (length - each.offset) / 2
            remarks.tell(
                number,
                f"{kept[each.offset].chord.symbol} and {each.chord.symbol} stand at one place; they share it",
            )
            kept.setdefault(each.offset + share, replace(each, offset=each.offset + share))
        else:
            kept.setdefault(min(each.offset, length), each)
    return [kept[at] for at in sorted(kept)]


def _read_quoted(number: int, at: Fraction, text: str, found: Above, remarks: Remarks) -> None:
    annotation = text[:1] in "^_<>@" and text[:1] != ""
    words = plain(re.sub(r"^(?:[\^_<>]|@[-\d.,\s]*)", "", text)).strip()
    mark = jump_or_mark(words) if words else None
    named = heading(words) if words else None
    if not annotation and words:
        chord = chord_word(words) or chord_word(re.split(r"[;\n]|(?<=.)\(", words)[0].strip())
        if chord is not None:
            found.chords.append(SheetChord(offset=at, chord=chord))
            if chord_word(words) is None:
                remarks.tell(number, f'of "{words}" the first chord is taken', lost=False)
            return
    if mark and mark[1]:
        found.marks.append(mark[0])
    elif mark:
        found.change_marks.append((at, mark[0]))
    elif named:
        found.heading = named[0] if found.heading is None else found.heading
    elif words:
        meant = not annotation and re.match(r"[A-GNac-g](?![a-z]{3})", words) is not None
        told = f'the chord "{words[:40]}" cannot be read' if meant else f'the words "{words[:40]}" are not taken'
        remarks.tell(number, told, lost=meant)
