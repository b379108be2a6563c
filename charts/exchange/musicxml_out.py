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
from xml.etree.ElementTree import Element, ElementTree, SubElement, indent

from charts.chart import CODA, DC, DS, FINE, HOLD, SEGNO, TO_CODA, Tempo
from charts.chord import Chord
from charts.exchange.kinds import kind_of
from charts.exchange.sheet import GOES_ON, Sheet, SheetBar
from charts.meter import Meter
from charts.pitch import NATURAL, Spelling
from charts.qualities import written
from charts.tune import TuneNote

_TYPES = (
    ("breve", Fraction(8)),
    ("whole", Fraction(4)),
    ("half", Fraction(2)),
    ("quarter", Fraction(1)),
    ("eighth", Fraction(1, 2)),
    ("16th", Fraction(1, 4)),
    ("32nd", Fraction(1, 8)),
    ("64th", Fraction(1, 16)),
)
_SOUNDS = {DC: ("dacapo", "yes"), DS: ("dalsegno", "segno"), FINE: ("fine", "yes"), TO_CODA: ("tocoda", "coda")}
_STYLES = {"||": "light-light", "|]": "light-heavy"}
_OPENING = (SEGNO, CODA, "tag", "vamp")

Value = tuple[Fraction, str, int, tuple[int, int] | None]
"""Length in quarter notes, type, dots, and a tuplet (actual, normal)."""


def write_musicxml(sheet: Sheet) -> bytes:
    """The sheet as a file's bytes."""
    root = Element("score-partwise", version="4.0")
    SubElement(SubElement(root, "work"), "work-title").text = sheet.title
    if sheet.notes:
        miscellaneous = SubElement(SubElement(root, "identification"), "miscellaneous")
        SubElement(miscellaneous, "miscellaneous-field", name="notes").text = sheet.notes
    part = SubElement(SubElement(root, "part-list"), "score-part", id="P1")
    SubElement(part, "part-name").text = "Tune"
    _Writer(sheet).measures(SubElement(root, "part", id="P1"))
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

    def units(self, length: Fraction) -> str:
        return str(int(length * self.divisions))

    def measures(self, part: Element) -> None:
        meter: Meter | None = None
        number = 0 if self._has_pickup() else 1
        words = _words(self.sheet, self.tune)
        for index, bar in enumerate(self.sheet.bars):
            measure = SubElement(part, "measure", number=str(number + index))
            if bar.length != bar.meter.bar_length:
                measure.set("implicit", "yes")
            if bar.new_line and index:
                SubElement(measure, "print", {"new-system": "yes"})
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
        attributes = SubElement(measure, "attributes")
        if first:
            SubElement(attributes, "divisions").text = str(self.divisions)
        key = bar.key or (self.sheet.key if first else None)
        if key is not None:
            element = SubElement(attributes, "key")
            SubElement(element, "fifths").text = str(key.fifths)
            SubElement(element, "mode").text = "minor" if key.minor else "major"
        if bar.meter != meter:
            time = SubElement(attributes, "time")
            SubElement(time, "beats").text = str(bar.meter.beats)
            SubElement(time, "beat-type").text = str(bar.meter.unit)
        if first:
            clef = SubElement(attributes, "clef")
            SubElement(clef, "sign").text = "G"
            SubElement(clef, "line").text = "2"

    def _directions(self, measure: Element, bar: SheetBar, *, first: bool) -> None:
        tempo = bar.tempo or (self.sheet.tempo if first else None)
        if tempo is not None:
            self._tempo(measure, tempo)
        if bar.heading:
            SubElement(_direction(measure), "rehearsal").text = bar.heading
        for mark in bar.marks:
            if mark in _OPENING:
                _mark(measure, mark)

    def _tempo(self, measure: Element, tempo: Tempo) -> None:
        value = next((value for value in _values(tempo.value) or () if value[0] == tempo.value and not value[3]), None)
        direction = SubElement(measure, "direction", placement="above")
        metronome = SubElement(SubElement(direction, "direction-type"), "metronome")
        number = tempo.per_minute if value and value[2] < 2 else tempo.quarter_bpm
        SubElement(metronome, "beat-unit").text = value[1] if value and value[2] < 2 else "quarter"
        if value and value[2] == 1:
            SubElement(metronome, "beat-unit-dot")
        SubElement(metronome, "per-minute").text = f"{number:g}"
        SubElement(direction, "sound", tempo=f"{tempo.quarter_bpm:g}")

    # -- music ----------------------------------------------------------------------------------------------------

    def _music(
        self, measure: Element, bar: SheetBar, words: Mapping[int, Sequence[tuple[int, str]]], *, tune: bool
    ) -> None:
        above = list(bar.chords)
        number = 0
        for start, length, note, attack in _spans(bar, tune=tune):
            while above and above[0].offset < start + length:
                each = above.pop(0)
                self._harmony(measure, each.chord, each.offset - start)
                for mark in each.marks:
                    _mark(measure, mark, self.units(each.offset - start) if each.offset != start else "")
            held = any(HOLD in each.marks and each.offset == start for each in bar.chords)
            lyrics: Sequence[tuple[int, str]] = ()
            if attack:
                lyrics = words.get(number, ())
                number += 1
            self._notes(measure, length, note, lyrics, held=held and note is not None)

    def _notes(
        self,
        measure: Element,
        length: Fraction,
        note: TuneNote | str | None,
        lyrics: Sequence[tuple[int, str]],
        *,
        held: bool,
    ) -> None:
        """One note, rest or slash, in as many tied values as it needs."""
        values = _values(length) or [(length, "", 0, None)]
        for index, (value, name, dots, tuplet) in enumerate(values):
            first, last = index == 0, index == len(values) - 1
            element = SubElement(measure, "note")
            if note is None:
                SubElement(element, "rest")
            elif isinstance(note, str):
                unpitched = SubElement(element, "pitch")
                SubElement(unpitched, "step").text = "B"
                SubElement(unpitched, "octave").text = "4"
            else:
                _pitch(element, note)
            SubElement(element, "duration").text = self.units(value)
            ties = isinstance(note, TuneNote) and (note.ties or not last)
            if ties:
                SubElement(element, "tie", type="start")
            SubElement(element, "voice").text = "1"
            if name:
                SubElement(element, "type").text = name
            for _ in range(dots):
                SubElement(element, "dot")
            if tuplet:
                modification = SubElement(element, "time-modification")
                SubElement(modification, "actual-notes").text = str(tuplet[0])
                SubElement(modification, "normal-notes").text = str(tuplet[1])
            if isinstance(note, str):
                SubElement(element, "notehead").text = "slash"
            if ties or (held and first):
                notations = SubElement(element, "notations")
                if ties:
                    SubElement(notations, "tied", type="start")
                if held and first:
                    SubElement(notations, "fermata")
            if first:
                for verse, text in lyrics:
                    lyric = SubElement(element, "lyric", number=str(verse))
                    SubElement(lyric, "syllabic").text = "begin" if text.endswith(GOES_ON) else "single"
                    SubElement(lyric, "text").text = text.removesuffix(GOES_ON)

    def _harmony(self, measure: Element, chord: Chord, offset: Fraction) -> None:
        harmony = SubElement(measure, "harmony")
        if chord.root is None:
            root = SubElement(harmony, "root")
            SubElement(root, "root-step", text="").text = "C"
            SubElement(harmony, "kind", text="N.C.").text = "none"
        else:
            _named(harmony, "root", chord.root)
            kind, degrees = kind_of(chord)
            SubElement(harmony, "kind", text=written(chord.quality, chord.alterations)).text = kind
            if chord.slash:
                _named(harmony, "bass", chord.slash)
            for each in degrees:
                degree = SubElement(harmony, "degree", {"print-object": "no"})
                SubElement(degree, "degree-value").text = str(each.value)
                SubElement(degree, "degree-alter").text = str(each.alter)
                SubElement(degree, "degree-type").text = each.type
        if offset:
            SubElement(harmony, "offset").text = self.units(offset)

    # -- barlines -------------------------------------------------------------------------------------------------

    def _left(self, measure: Element, index: int) -> None:
        bar = self.sheet.bars[index]
        if not (bar.opens_repeat or bar.endings):
            return
        barline = SubElement(measure, "barline", location="left")
        if bar.opens_repeat:
            SubElement(barline, "bar-style").text = "heavy-light"
        if bar.endings:
            SubElement(barline, "ending", number=", ".join(map(str, bar.endings)), type="start")
        if bar.opens_repeat:
            SubElement(barline, "repeat", direction="forward")

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
        style = "light-heavy" if bar.closes_repeat else _STYLES.get(bar.barline, "")
        if not (style or ends):
            return
        barline = SubElement(measure, "barline", location="right")
        if style:
            SubElement(barline, "bar-style").text = style
        if ends:
            kind = "stop" if bar.closes_repeat else "discontinue"
            SubElement(barline, "ending", number=", ".join(map(str, bar.in_endings)), type=kind)
        if bar.closes_repeat:
            times = {"times": str(bar.closes_repeat)} if bar.closes_repeat != 2 or bar.in_endings else {}
            SubElement(barline, "repeat", {"direction": "backward", **times})


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
        if (shown / _TYPES[-1][1]).denominator != 1:
            continue
        found: list[Value] = []
        while shown > 0:
            value, name, dots = next(
                (plain * (2 - Fraction(1, 2**dots)), name, dots)
                for name, plain in _TYPES
                for dots in (2, 1, 0)
                if plain * (2 - Fraction(1, 2**dots)) <= shown and (dots == 0 or (plain / 2**dots) >= _TYPES[-1][1])
            )
            found.append((value / scale, name, dots, tuplet))
            shown -= value
        return found
    return None


def _pitch(element: Element, note: TuneNote) -> None:
    pitch = SubElement(element, "pitch")
    SubElement(pitch, "step").text = note.spelling.letter
    if note.spelling.alter:
        SubElement(pitch, "alter").text = str(note.spelling.alter)
    SubElement(pitch, "octave").text = str((note.pitch - NATURAL[note.spelling.letter] - note.spelling.alter) // 12 - 1)


def _named(harmony: Element, name: str, note: Spelling) -> None:
    element = SubElement(harmony, name)
    SubElement(element, f"{name}-step").text = note.letter
    if note.alter:
        SubElement(element, f"{name}-alter").text = str(note.alter)


def _direction(measure: Element, placement: str = "above") -> Element:
    return SubElement(SubElement(measure, "direction", placement=placement), "direction-type")


def _mark(measure: Element, mark: str, offset: str = "") -> None:
    """A mark as its sign or its words, and what players of scores need to obey it."""
    direction = SubElement(measure, "direction", placement="above")
    kind = SubElement(direction, "direction-type")
    if mark in (SEGNO, CODA):
        SubElement(kind, mark)
    else:
        SubElement(kind, "words").text = mark
    if offset:
        SubElement(direction, "offset").text = offset
    name = next((name for name in _SOUNDS if mark == name or mark.startswith(f"{name} ")), None)
    if name:
        SubElement(direction, "sound", {_SOUNDS[name][0]: _SOUNDS[name][1]})


def _words(sheet: Sheet, tune: Sequence[bool]) -> dict[int, dict[int, list[tuple[int, str]]]]:
    """For each bar, for each of its notes, the verses and texts that stand at it."""
    found: dict[int, dict[int, list[tuple[int, str]]]] = {}
    for start, end in _lines(sheet.bars):
        places = [
            (number, note)
            for number in range(start, end)
            for note in range(sum(attack for *_, attack in _spans(sheet.bars[number], tune=tune[number])))
        ]
        for verse, line in enumerate(sheet.bars[start].words, 1):
            words = line.replace(GOES_ON, "").split()
            for place, (number, note) in enumerate(places):
                text = words[place : place + 1] if place < len(places) - 1 else words[place:]
                if text:
                    found.setdefault(number, {}).setdefault(note, []).append((verse, " ".join(text)))
    return found
