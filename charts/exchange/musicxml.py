"""MusicXML (W3C, version 4.0 and before), part-wise and time-wise, read into a sheet.

What is taken: the tune from the part that has words, else from the first part with notes; of it the first voice of the upper
staff, and of a chord the highest note. Harmonies of all parts, each once. Repeats, endings, signs, tempi and headings of all
parts, each once. Every bar of the page is a bar of the sheet, as long as it is written.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise
from xml.etree.ElementTree import Element

from charts.chart import (
    BREATH,
    CODA,
    DC,
    DS,
    FINE,
    HOLD,
    SEGNO,
    TO_CODA,
)
from charts.chord import NO_CHORD, Chord
from charts.errors import ChartError
from charts.exchange.files import score_in_archive, xml_of
from charts.exchange.harmony import chord_of_harmony
from charts.exchange.headings import chord_word, heading, jump_or_mark, section_name
from charts.exchange.musicxml_part import Measure, PartNote, PartReader, key_of
from charts.exchange.settling import UNTOLD, bracketed, guessed_key, key_of_signature, settled_repeats
from charts.exchange.sheet import GOES_ON, Remark, Sheet, SheetBar, SheetChord, fitting_meter, tune_note, with_marks
from charts.key import Key
from charts.marks import in_order
from charts.meter import Meter
from charts.transposing import Interval
from charts.tune import TuneNote

_SOUND_MARKS = {"dacapo": DC, "dalsegno": DS, "tocoda": TO_CODA, "fine": FINE, "segno": SEGNO, "coda": CODA}
MOST_BARS = 4000


@dataclass(slots=True)
class Part:
    """One part, read."""

    measures: list[Measure]
    steps: int
    semitones: int

    @property
    def words(self) -> int:
        return sum(bool(note.lyrics) for measure in self.measures for note in measure.notes)

    @property
    def pitched(self) -> int:
        return sum(not note.slash for measure in self.measures for note in measure.notes)


def read_musicxml(data: bytes, source: str) -> Sheet:
    """A MusicXML file, compressed or not. Raises ChartError where it is none or holds no music."""
    if data[:2] == b"PK":
        data = score_in_archive(data, source)
    root = xml_of(data, source)
    for element in root.iter():
        element.tag = element.tag.rpartition("}")[2] if isinstance(element.tag, str) else ""
    if root.tag not in ("score-partwise", "score-timewise"):
        raise ChartError.at(0, 0, f"this is XML, and no score in MusicXML: it begins with <{root.tag}>", source)
    parts = [_part(measures) for measures in _measures(root)]
    parts = [part for part in parts if part.measures]
    if not parts:
        raise ChartError.at(0, 0, "this score holds no measures", source)
    if max(len(part.measures) for part in parts) > MOST_BARS:
        raise ChartError.at(0, 0, f"this score has more than {MOST_BARS} bars", source)
    return _Merge(parts).sheet(root)


def _measures(root: Element) -> list[list[Element]]:
    """The measures of each part, time-wise scores turned."""
    if root.tag == "score-partwise":
        return [part.findall("measure") for part in root.findall("part")]
    parts: dict[str, list[Element]] = {}
    for number, measure in enumerate(root.findall("measure")):
        for part in measure.findall("part"):
            rows = parts.setdefault(part.get("id") or "", [])
            while len(rows) < number:
                rows.append(Element("measure"))
            turned = Element("measure", dict(measure.attrib))
            turned.extend(list(part))
            rows.append(turned)
    return list(parts.values())


def _part(measures: Sequence[Element]) -> Part:
    reader = PartReader(measures)
    read = [reader.read(measure) for measure in measures]
    return Part(read, *reader.transposes)


class _Merge:
    """Makes one sheet of all parts."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = parts
        self.remarks: list[Remark] = []
        self.melody = max(parts, key=lambda part: (part.words > 0, part.pitched > 0))
        self.any_harmony = any(measure.harmonies for part in parts for measure in part.measures)
        said = [text for part in parts for measure in part.measures for _, text in measure.words]
        chords = [text for text in said if _chords(text) and not heading(text)]
        self.chords_as_words = not self.any_harmony and len(chords) >= 2 and len(set(chords)) >= 2
        self.signature: tuple[int, str] | None = None

    def sheet(self, root: Element) -> Sheet:
        count = max(len(part.measures) for part in self.parts)
        bars: list[SheetBar] = []
        ends: list[bool] = []
        signatures: list[tuple[int, str] | None] = []
        meter = next((each.meter for part in self.parts for each in part.measures if each.meter), Meter(4, 4))
        stated = meter
        key: Key | None = None
        going: dict[str, bool] = {}
        for number in range(count):
            column = [(part, part.measures[number]) for part in self.parts if number < len(part.measures)]
            meter = next((measure.meter for _, measure in column if measure.meter), meter)
            for _, measure in column[:1]:
                if measure.odd_meter:
                    self._tell(number, f'the meter "{measure.odd_meter}" cannot be read; {meter.name} goes on')
            signature = next((key_of(m, p.steps, p.semitones) for p, m in column if m.key), None)
            signatures.append(signature)
            key = _plain_key(signature) if signature else key
            bars.append(self._bar(number, column, meter, key, going))
            ends.append(any(measure.ending_stops for _, measure in column))
        bars = bracketed(bars, ends)
        bars, odd = settled_repeats(bars)
        bars = _keyed(bars, signatures)
        self._too_many_voices()
        first = bars[0].key or guessed_key(bars)
        if bars[0].key is None:
            self.remarks.append(Remark(message=f"no key is stated; {first.shown} fits best", lost=False))
        title, notes = _credits(root)
        return Sheet(
            title=title,
            key=first,
            meter=stated,
            tempo=next((bar.tempo for bar in bars[:1]), None),
            notes=notes,
            bars=tuple(bars),
            remarks=tuple(dict.fromkeys((*self.remarks, *odd))),
        )

    def _tell(self, number: int, message: str, *, lost: bool = True) -> None:
        self.remarks.append(Remark(bar=number + 1, message=message, lost=lost))

    def _too_many_voices(self) -> None:
        pitched = [part for part in self.parts if part.pitched]
        if len(pitched) > 1:
            message = f"{len(pitched)} parts have notes; the tune is taken from one of them, its upper voice"
            self.remarks.append(Remark(message=message, lost=False))
        elif len({(note.staff, note.voice) for part in pitched for m in part.measures for note in m.notes}) > 1:
            self.remarks.append(Remark(message="there are several voices; the tune is the upper one", lost=False))
        sung = {_all_words(part) for part in self.parts if part is not self.melody and part.words}
        if sung - {_all_words(self.melody)}:
            self.remarks.append(Remark(message="the words of the other parts are not taken", lost=False))

    # -- one bar --------------------------------------------------------------------------------------------------

    def _bar(
        self, number: int, column: Sequence[tuple[Part, Measure]], meter: Meter, key: Key | None, going: dict[str, bool]
    ) -> SheetBar:
        measures = [measure for _, measure in column]
        for measure in measures:
            for odd in measure.odd:
                self._tell(number, odd)
        length = self._length(number, measures, meter)
        mine = next((m for p, m in column if p is self.melody), Measure())
        tune = _upper_voice(mine, length)
        bar_marks, change_marks, name = self._said(number, measures)
        signs = [_SOUND_MARKS[sign] for measure in measures for sign in measure.signs]
        all_marks = _settled_marks([*bar_marks, *signs])
        held = next((places for m in (mine, *measures) if (places := [n.offset for n in m.notes if n.hold])), [])
        breaths = [note.offset + note.length for m in measures for note in m.notes if note.breath]
        chords = self._chords(number, column, length, key)
        marked = [*change_marks, *((at, HOLD) for at in dict.fromkeys(held)), *((at, BREATH) for at in breaths[:1])]
        closes = next((m.closes for m in measures if m.closes is not None), None)
        return SheetBar(
            length=length,
            meter=meter,
            chords=tuple(with_marks(chords, marked)),
            notes=tune,
            voices=tuple(
                tune_note(n.offset, n.length, n.spelling, n.pitch, ties=n.ties)
                for m in measures
                for n in m.notes
                if not n.slash
            ),
            words=_words(mine, going),
            marks=all_marks,
            opens_repeat=any(m.opens for m in measures),
            closes_repeat=0 if closes is None else closes or UNTOLD,
            endings=next((m.endings for m in measures if m.endings), ()),
            barline=next((m.barline for m in measures if m.barline != "|"), "|"),
            tempo=next((m.tempo for m in measures if m.tempo), None),
            heading=name,
            new_line=any(m.new_line for m in measures),
            phrase_end=bool(held) or any(m.hold for m in measures) or bool(breaths),
        )

    def _length(self, number: int, measures: Sequence[Measure], meter: Meter) -> Fraction:
        length = max((measure.length for measure in measures), default=Fraction(0))
        if length == 0:
            return meter.bar_length
        if abs(length - meter.bar_length) < Fraction(1, 8):
            return meter.bar_length
        if fitting_meter(length, meter) is None:
            self._tell(
                number,
                f"this bar is {float(length):.3f} quarter notes long, which no meter is; {meter.name} is written",
            )
            return meter.bar_length
        return length

    def _chords(
        self, number: int, column: Sequence[tuple[Part, Measure]], length: Fraction, key: Key | None
    ) -> list[SheetChord]:
        found: list[tuple[Fraction, bool, SheetChord]] = []
        for part, measure in column:
            by = Interval(part.steps, part.semitones)
            mine: list[tuple[Fraction, bool, SheetChord]] = []
            for at, exact, element in measure.harmonies:
                chord, told = chord_of_harmony(element, key)
                if told:
                    self._tell(number, told)
                if chord is not None:
                    mine.append((at, exact, SheetChord(offset=at, chord=by.chord(chord) if by.semitones else chord)))
            if self.chords_as_words:
                for at, text in measure.words:
                    mine.extend((at, False, SheetChord(offset=at, chord=chord)) for chord in _chords(text))
            else:
                silent = (at for at, text in measure.words if _is_no_chord(text))
                mine.extend((at, False, SheetChord(offset=at, chord=NO_CHORD)) for at in silent)
            present = {(at, each.chord) for at, _, each in found}
            taken = {at for at, _, _ in found}
            for at, exact, each in mine:
                if (at, each.chord) in present:
                    continue
                if at in taken:
                    self._tell(
                        number, f"{each.chord.symbol} in another part contradicts the chord there; the first is taken"
                    )
                    continue
                found.append((at, exact, each))
        return self._spread(number, sorted(found, key=lambda row: row[0]), length)

    def _spread(
        self, number: int, rows: Sequence[tuple[Fraction, bool, SheetChord]], length: Fraction
    ) -> list[SheetChord]:
        """Chords in order. Several at one place, which is how some write a bar of one long note, share what follows."""
        offsets = sorted({at for at, _, _ in rows} | {length})
        chords: list[SheetChord] = []
        for place, at in enumerate(offsets):
            here = [each for where, _, each in rows if where == at]
            here = [each for index, each in enumerate(here) if not index or each.chord != here[index - 1].chord]
            end = offsets[place + 1] if place + 1 < len(offsets) else max(length, at)
            if len(here) > 1 and at < length:
                names = ", ".join(each.chord.symbol for each in here)
                self._tell(number, f"{names} stand at one place; they share what follows")
            if at >= length and here:
                self._tell(
                    number, f"{here[0].chord.symbol} stands behind the bar's end; it is written at its last beat"
                )
            share = (end - at) / max(1, len(here))
            chords.extend(replace(each, offset=at + index * share) for index, each in enumerate(here))
        return chords

    def _said(self, number: int, measures: Sequence[Measure]) -> tuple[list[str], list[tuple[Fraction, str]], str]:
        """Marks for the bar, marks for chords with their places, and a heading."""
        bar_marks: list[str] = []
        change_marks: list[tuple[Fraction, str]] = []
        name = next((measure.rehearsal for measure in measures if measure.rehearsal), "")
        for at, text in dict.fromkeys(row for measure in measures for row in measure.words):
            found, mark = heading(text), jump_or_mark(text)
            if found and not mark:
                name = name or found[0]
            elif mark and mark[1]:
                bar_marks.append(mark[0])
            elif mark:
                change_marks.append((at, mark[0]))
            elif not (self.chords_as_words and _chords(text)) and not _is_no_chord(text):
                self._tell(number, f'the words "{text[:60]}" are not taken', lost=False)
        return bar_marks, change_marks, section_name(name) if name else ""


def _chords(text: str) -> list[Chord]:
    """The chords that words are, nothing where any of them is none."""
    found = [chord_word(word) for word in text.split()]
    return (
        [chord for chord in found if chord is not None] if found and all(chord is not None for chord in found) else []
    )


def _is_no_chord(text: str) -> bool:
    return chord_word(text.strip("() ")) == NO_CHORD


def _upper_voice(measure: Measure, length: Fraction) -> tuple[TuneNote, ...]:
    """The first voice of the upper staff, one note at a time, the highest of a chord."""
    staff = _lowest(measure.notes, "staff")
    notes = [note for note in measure.notes if not note.slash and note.staff == staff]
    voice = _lowest(notes, "voice")
    by_place: dict[Fraction, PartNote] = {}
    for note in notes:
        if note.voice == voice and (note.offset not in by_place or note.pitch > by_place[note.offset].pitch):
            by_place[note.offset] = note
    places = sorted(place for place in by_place if place < length)
    found = []
    for place, following in pairwise([*places, length]):
        note = by_place[place]
        sounds = min(note.length, following - place)
        if sounds > 0:
            found.append(tune_note(place, sounds, note.spelling, note.pitch, ties=note.ties))
    return tuple(found)


def _lowest(notes: Iterable[PartNote], what: str) -> str:
    names = {getattr(note, what) for note in notes if not note.slash}
    return min(names, key=lambda name: (not name.isdecimal(), int(name) if name.isdecimal() else 0, name), default="1")


def _all_words(part: Part) -> str:
    return " ".join(text for measure in part.measures for note in measure.notes for _, _, text in note.lyrics)


def _words(measure: Measure, going: dict[str, bool]) -> tuple[str, ...]:
    """The bar's words by verse. ``going``: whether a verse's last word goes on."""
    verses: dict[str, str] = {}
    for note in sorted(measure.notes, key=lambda each: each.offset):
        for verse, syllabic, text in note.lyrics:
            plain = " ".join(text.replace(GOES_ON, "").split())
            if not plain:
                continue
            said = verses.get(verse, "")
            space = "" if not said else GOES_ON if going.get(verse) else " "
            verses[verse] = said + space + plain
            going[verse] = syllabic in ("begin", "middle")
    if not verses:
        return ()
    digits = [int(verse) for verse in verses if verse.isdecimal() and len(verse) < 3]
    others = [verse for verse in verses if not (verse.isdecimal() and len(verse) < 3)]
    rows = [
        verses.get(str(number), "") + (GOES_ON if going.get(str(number)) else "")
        for number in range(1, max(digits, default=0) + 1)
    ]
    rows += [verses[verse] + (GOES_ON if going.get(verse) else "") for verse in others]
    return tuple(rows)


def _settled_marks(marks: Sequence[str]) -> tuple[str, ...]:
    """Each mark once; a jump that says where it leads stands for one that does not."""
    found = list(dict.fromkeys(marks))
    for plain in (DS, DC):
        if any(mark.startswith(f"{plain} ") for mark in found) and plain in found:
            found.remove(plain)
    return in_order(tuple(found))


def _plain_key(signature: tuple[int, str]) -> Key:
    fifths, mode = signature
    return key_of_signature(fifths, ()) if mode != "minor" else _relative(key_of_signature(fifths, ()))


def _relative(key: Key) -> Key:
    return Key(key.tonic.transposed(5, 9), minor=True)


def _keyed(bars: Sequence[SheetBar], signatures: Sequence[tuple[int, str] | None]) -> list[SheetBar]:
    """The bars with the keys that begin at them; where the page does not say major or minor, the music does."""
    starts = [index for index, signature in enumerate(signatures) if signature] + [len(bars)]
    found = list(bars)
    for start, end in pairwise(starts):
        signature = signatures[start]
        assert signature is not None
        fifths, mode = signature
        if mode in ("minor", "aeolian"):
            key = _relative(key_of_signature(fifths, ()))
        elif mode in ("major", "ionian"):
            key = key_of_signature(fifths, ())
        else:
            key = key_of_signature(fifths, bars[start:end])
        found[start] = replace(found[start], key=key)
    return found


def _credits(root: Element) -> tuple[str, str]:
    """The title, and a line of who made it."""
    title = root.findtext("work/work-title") or root.findtext("movement-title") or ""
    if not title.strip():
        credits = [
            words
            for credit in root.findall("credit")
            if (credit.findtext("credit-type") or "title") == "title"
            for words in credit.findall("credit-words")
        ]
        title = next((words.text for words in credits if words.text and words.text.strip()), "")
    who = []
    for creator in root.findall("identification/creator"):
        name = " ".join((creator.text or "").split())
        if name and name not in title:
            who.append(f"{creator.get('type') or 'by'}: {name}")
    for row in root.findall("identification/miscellaneous/miscellaneous-field"):
        if row.get("name") == "notes" and row.text:
            who.append(" ".join(row.text.split()))
    return re.sub(r"\s+", " ", title).strip(), "; ".join(who)
