"""A lead sheet as MusicXML 4.0: one staff with the tune, chord symbols above it, words below it, every sign of the roadmap.

A chart without a tune has slashes, one for each counted beat. Note values that no single note has are tied. A chord that falls
within a note has an offset from the note's beginning. Words are given note by note; what is left over stands at the line's last
note. ``charts.exchange.musicxml`` reads all of it back.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from fractions import Fraction
from io import BytesIO
from itertools import pairwise
from math import lcm
from xml.etree.ElementTree import Element, ElementTree, indent

from charts.chart import CODA, DC, DS, FINE, HOLD, SEGNO, TO_CODA, Tempo
from charts.exchange.elements import (
    TYPES,
    Pitch,
    backward,
    child,
    element,
    metronome,
    write_clef,
    write_direction,
    write_harmony,
    write_key,
    write_left_barline,
    write_note,
    write_right_barline,
    write_time,
)
from charts.exchange.sheet import GOES_ON, Sheet, SheetBar, attacks
from charts.meter import Meter
from charts.pitch import NATURAL, Spelling
from charts.qualities import written
from charts.syllables import Syllable, laid
from charts.tune import TuneNote

_SOUNDS = {DC: {"dacapo": "yes"}, DS: {"dalsegno": "segno"}, FINE: {"fine": "yes"}, TO_CODA: {"tocoda": "coda"}}
_FINEST = min(TYPES)
_OPENING = (SEGNO, CODA, "tag", "vamp")

Value = tuple[Fraction, str, int, tuple[int, int] | None]
"""Length in quarter notes, type, dots, and a tuplet (actual, normal)."""


def write_musicxml(sheet: Sheet) -> bytes:
    """The sheet as a file's bytes."""
    root = element("score-partwise", version="4.0")
    child(child(root, "work"), "work-title", sheet.title)
    if sheet.notes:
        child(child(child(root, "identification"), "miscellaneous"), "miscellaneous-field", sheet.notes, name="notes")
    child(child(child(root, "part-list"), "score-part", id="P1"), "part-name", "Tune")
    _Writer(sheet).measures(child(root, "part", id="P1"))
    indent(root, " ")
    data = BytesIO()
    ElementTree(root).write(data, encoding="UTF-8", xml_declaration=True)
    return data.getvalue() + b"\n"


class _Writer:
    def __init__(self, sheet: Sheet) -> None:
        self.sheet = sheet
        self.tune = _with_tune(sheet.bars)
        lengths = [Fraction(1, 16)]
        for bar in sheet.bars:
            lengths += [bar.length, *(each.offset for each in bar.chords)]
            lengths += [x for note in bar.notes for x in (note.offset, note.length)]
        self.divisions = lcm(*(length.denominator for length in lengths))

    def units(self, length: Fraction) -> int:
        return int(length * self.divisions)

    def measures(self, part: Element) -> None:
        meter: Meter | None = None
        number = 0 if self._has_pickup() else 1
        words = _words(self.sheet, self.tune)
        for index, bar in enumerate(self.sheet.bars):
            measure = child(part, "measure", number=str(number + index))
            if bar.length != bar.meter.bar_length:
                measure.set("implicit", "yes")
            if bar.new_line and index:
                child(measure, "print", new_system="yes")
            self._left(measure, index)
            self._attributes(measure, bar, meter, first=not index)
            meter = bar.meter
            self._directions(measure, bar, first=not index)
            self._music(measure, bar, words.get(index, {}), tune=self.tune[index])
            self._right(measure, index)

    def _has_pickup(self) -> bool:
        first = self.sheet.bars[0]
        return first.length < first.meter.bar_length

    def _attributes(self, measure: Element, bar: SheetBar, meter: Meter | None, *, first: bool) -> None:
        if not (first or bar.key or bar.meter != meter):
            return
        attributes = child(measure, "attributes")
        if first:
            child(attributes, "divisions", self.divisions)
        key = bar.key or (self.sheet.key if first else None)
        if key is not None:
            write_key(attributes, key)
        if bar.meter != meter:
            write_time(attributes, bar.meter)
        if first:
            write_clef(attributes, "G", 2)

    def _directions(self, measure: Element, bar: SheetBar, *, first: bool) -> None:
        tempo = bar.tempo or (self.sheet.tempo if first else None)
        if tempo is not None:
            _tempo(measure, tempo)
        if bar.heading:
            write_direction(measure, element("rehearsal", bar.heading))
        for mark in bar.marks:
            if mark in _OPENING:
                _mark(measure, mark)

    # -- music ----------------------------------------------------------------------------------------------------

    def _music(
        self, measure: Element, bar: SheetBar, words: Mapping[int, Sequence[tuple[int, Syllable]]], *, tune: bool
    ) -> None:
        above = list(bar.chords)
        number = 0
        for start, length, note, attack in _spans(bar, tune=tune):
            while above and above[0].offset < start + length:
                each = above.pop(0)
                offset = self.units(each.offset - start)
                write_harmony(measure, each.chord, written(each.chord.quality, each.chord.alterations), offset=offset)
                for mark in each.marks:
                    _mark(measure, mark, offset)
            held = any(HOLD in each.marks and each.offset == start for each in bar.chords)
            lyrics: Sequence[tuple[int, Syllable]] = ()
            if attack:
                lyrics = words.get(number, ())
                number += 1
            self._notes(measure, length, note, lyrics, held=held and note is not None)

    def _notes(
        self,
        measure: Element,
        length: Fraction,
        note: TuneNote | str | None,
        lyrics: Sequence[tuple[int, Syllable]],
        *,
        held: bool,
    ) -> None:
        """One note, rest or slash, in as many tied values as it needs."""
        values = _values(length) or [(length, "", 0, None)]
        for index, (value, name, dots, tuplet) in enumerate(values):
            first, last = index == 0, index == len(values) - 1
            write_note(
                measure,
                self.units(value),
                pitch=_pitch(note),
                ties=("start",) if isinstance(note, TuneNote) and (note.ties or not last) else (),
                type=name,
                dots=dots,
                tuplet=tuplet,
                slash=isinstance(note, str),
                notations=(element("fermata"),) if held and first else (),
                lyrics=[(verse, each.syllabic, each.text) for verse, each in lyrics] if first else (),
            )

    # -- barlines -------------------------------------------------------------------------------------------------

    def _left(self, measure: Element, index: int) -> None:
        bar = self.sheet.bars[index]
        ending = _ending(bar.endings, "start") if bar.endings else None
        write_left_barline(measure, opens_repeat=bar.opens_repeat, ending=ending)

    def _right(self, measure: Element, index: int) -> None:
        bar = self.sheet.bars[index]
        for mark in bar.marks:
            if mark not in _OPENING:
                _mark(measure, mark)
        following = self.sheet.bars[index + 1] if index + 1 < len(self.sheet.bars) else None
        ends = bool(bar.in_endings) and (
            following is None
            or bool(following.endings)
            or following.in_endings != bar.in_endings
            or bool(bar.closes_repeat)
        )
        write_right_barline(
            measure,
            bar.barline,
            ending=_ending(bar.in_endings, "stop" if bar.closes_repeat else "discontinue") if ends else None,
            repeat=backward(bar.closes_repeat if bar.closes_repeat != 2 or bar.in_endings else 0)
            if bar.closes_repeat
            else None,
        )


def _ending(times: Sequence[int], kind: str) -> Element:
    return element("ending", number=", ".join(map(str, times)), type=kind)


def _with_tune(bars: Sequence[SheetBar]) -> list[bool]:
    """Whether each bar stands in a line with a tune; bars in other lines have slashes."""
    found: list[bool] = []
    for start, end in _lines(bars):
        found += [any(bar.notes for bar in bars[start:end])] * (end - start)
    return found


def _lines(bars: Sequence[SheetBar]) -> Iterator[tuple[int, int]]:
    """Lines of bars: from one that begins a line or has words to the next."""
    starts = [index for index, bar in enumerate(bars) if not index or bar.new_line or bar.words]
    return pairwise([*starts, len(bars)])


def _spans(bar: SheetBar, *, tune: bool) -> Iterator[tuple[Fraction, Fraction, TuneNote | str | None, bool]]:
    """Notes, rests and slashes that fill the bar, and whether words may stand at them."""
    if not tune:
        beat = bar.meter.counted_beat if bar.length % bar.meter.counted_beat == 0 else bar.length
        for index in range(int(bar.length / beat)):
            yield index * beat, beat, "slash", True
        return
    now = Fraction(0)
    for note in bar.notes:
        if note.offset > now:
            yield now, note.offset - now, None, False
        yield note.offset, note.length, note, True
        now = note.offset + note.length
    if now < bar.length:
        yield now, bar.length - now, None, False


def _values(length: Fraction) -> list[Value] | None:
    """The note values that come to a length, the longest first; None where none do."""
    for scale, tuplet in (
        (Fraction(1), None),
        (Fraction(3, 2), (3, 2)),
        (Fraction(5, 4), (5, 4)),
        (Fraction(7, 4), (7, 4)),
    ):
        shown = length * scale
        if (shown / _FINEST).denominator != 1:
            continue
        found: list[Value] = []
        while shown > 0:
            value, name, dots = next(
                (plain * (2 - Fraction(1, 2**dots)), name, dots)
                for plain, name in TYPES.items()
                for dots in (2, 1, 0)
                if plain * (2 - Fraction(1, 2**dots)) <= shown and (dots == 0 or plain / 2**dots >= _FINEST)
            )
            found.append((value / scale, name, dots, tuplet))
            shown -= value
        return found
    return None


def _pitch(note: TuneNote | str | None) -> Pitch | None:
    """A slash stands on the middle line."""
    if note is None:
        return None
    if isinstance(note, str):
        return Spelling("B"), 4
    return note.spelling, (note.pitch - NATURAL[note.spelling.letter] - note.spelling.alter) // 12 - 1


def _tempo(measure: Element, tempo: Tempo) -> None:
    value = next((value for value in _values(tempo.value) or () if value[0] == tempo.value and not value[3]), None)
    unit, dots, number = Fraction(1), 0, tempo.quarter_bpm
    if value and value[2] < 2:
        dots, number = value[2], tempo.per_minute
        unit = tempo.value / (2 - Fraction(1, 2**dots))
    write_direction(measure, metronome(unit, dots, f"{number:g}"), sound={"tempo": f"{tempo.quarter_bpm:g}"})


def _mark(measure: Element, mark: str, offset: int = 0) -> None:
    """A mark as its sign or its words, and what players of scores need to obey it."""
    drawn = element(mark) if mark in (SEGNO, CODA) else element("words", mark)
    name = next((name for name in _SOUNDS if mark == name or mark.startswith(f"{name} ")), None)
    write_direction(measure, drawn, offset=offset, sound=_SOUNDS[name] if name else None)


def _words(sheet: Sheet, tune: Sequence[bool]) -> dict[int, dict[int, list[tuple[int, Syllable]]]]:
    """For each bar, for each of its notes, the verses and syllables that stand at it: none where a tie leads to it."""
    found: dict[int, dict[int, list[tuple[int, Syllable]]]] = {}
    for start, end in _lines(sheet.bars):
        begins = attacks(sheet.bars[start:end], sheet.bars[start - 1] if start else None)
        every = [
            (number, note)
            for number in range(start, end)
            for note in range(sum(attack for *_, attack in _spans(sheet.bars[number], tune=tune[number])))
        ]
        begun = [(number, note) for number, note in every if not tune[number] or begins[number - start][note]]
        places = begun or every
        for verse, line in enumerate(_sung(sheet.bars[start].words, len(places)), 1):
            for (number, note), syllable in zip(places, line, strict=False):
                found.setdefault(number, {}).setdefault(note, []).append((verse, syllable))
    return found


def _sung(verses: Sequence[str], notes: int) -> list[list[Syllable]]:
    """What each verse has for each note: its syllables, or else its words; what is left over goes with the last note."""
    plain = [verse.replace(GOES_ON, "") for verse in verses]
    syllables = laid(plain, notes)
    if syllables or not notes:
        return syllables
    words = (verse.split() for verse in plain)
    rows = ([*each[: notes - 1], *filter(None, [" ".join(each[notes - 1 :])])] for each in words)
    return [[Syllable(word, "single") for word in row] for row in rows]
