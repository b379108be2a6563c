"""MusicXML 4.0 of a sheet: three parts of one staff each, so that every program reads them alike.

The tune's part carries chord symbols, section names, tempo, words and the signs of the roadmap; the left hand's its feel and
suggested fullness. Elements come in the order that the schema wants. What is drawn is left to whoever draws it.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from xml.etree.ElementTree import Element, indent, tostring

from charts.chart import BREATH, HOLD
from charts.exchange.elements import (
    backward,
    child,
    element,
    write_clef,
    write_direction,
    write_harmony,
    write_key,
    write_left_barline,
    write_right_barline,
    write_time,
)
from charts.route import RouteBar
from liveassist.page.layout import Layout, layout
from liveassist.page.notes import Accidentals, write_symbol
from liveassist.page.rhythm import Stroke, Symbol, written_bar
from liveassist.page.score import ChordAt, Content, Score
from liveassist.page.sheet import Printed
from liveassist.page.signs import Remark, above, left_hand_remarks, words_below
from liveassist.page.spelling import Written, page_key, signature

DOCTYPE = (
    '<!DOCTYPE score-partwise PUBLIC "-//Recordare//DTD MusicXML 4.0 Partwise//EN" '
    '"http://www.musicxml.org/dtds/partwise.dtd">'
)
_NOT_IN_XML = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\ufffe\uffff]")
"""What XML 1.0 has no way to write; a stray one in a title or in words would spoil the whole page."""
TREBLE, BASS = ("G", 2), ("F", 4)
_STAVES = {TREBLE: (30, 38), BASS: (18, 26)}
"""Heights of the lowest and highest line, in steps above C0: E4 to F5 and G2 to A3."""

Voices = tuple[tuple[Symbol, ...], ...]
VoicesOf = Callable[[Content], tuple[tuple[Stroke, ...], ...]]


@dataclass(frozen=True, slots=True)
class Staff:
    """One part: what it is called and what stands in its bars."""

    id: str
    name: str
    abbreviation: str
    clef: tuple[str, int]
    bars: tuple[Voices, ...]


def musicxml(score: Score, printed: Sequence[Printed], *, degrees: bool = True) -> str:
    """The document. Without ``degrees`` a chord is its kind and its printed text only, for those who would print both."""
    return _Writer(score, printed, degrees=degrees).document()


class _Writer:
    """Writes one document."""

    def __init__(self, score: Score, printed: Sequence[Printed], *, degrees: bool) -> None:
        self.score, self.printed, self.degrees = score, printed, degrees
        self.bars = [score.route.bars[each.index] for each in printed]
        self.contents = [score.contents[each.index] for each in printed]
        self.staves = self._staves()
        self.divisions = lcm(1, *(place.denominator for place in self._places()))
        density = [max(len(voice) for staff in self.staves for voice in staff.bars[at]) for at in range(len(printed))]
        self.layout: Layout = layout(score, printed, density)

    def document(self) -> str:
        root = Element("score-partwise", version="4.0")
        chart = self.score.route.chart
        child(child(root, "work"), "work-title", chart.title)
        child(child(child(root, "identification"), "encoding"), "software", "Live Assist")
        parts = child(root, "part-list")
        group = child(parts, "part-group", type="start", number="1")
        child(group, "group-symbol", "brace")
        child(group, "group-barline", "yes")
        for staff in self.staves:
            if staff is self.staves[-1]:
                child(parts, "part-group", type="stop", number="1")
            part = child(parts, "score-part", id=staff.id)
            child(part, "part-name", staff.name)
            child(part, "part-abbreviation", staff.abbreviation)
            instrument = child(part, "score-instrument", id=f"{staff.id}-I1")
            child(instrument, "instrument-name", "Organ")
        for staff in self.staves:
            self._write_part(root, staff)
        indent(root, " ")
        body = _NOT_IN_XML.sub("", tostring(root, encoding="unicode"))
        return f'<?xml version="1.0" encoding="UTF-8"?>\n{DOCTYPE}\n{body}\n'

    # -- what stands on the staves ------------------------------------------------------------------------------------

    def _staves(self) -> list[Staff]:
        left = [note for content in self.contents for stroke in content.left + content.answer for note in stroke.notes]
        return [
            Staff("P1", "Melody", "Mel.", TREBLE, self._written(lambda content: (content.melody,))),
            Staff("P2", "Left hand", "L.H.", _clef(left), self._written(_left_voices)),
            Staff("P3", "Pedal", "Ped.", BASS, self._written(lambda content: (content.pedal,))),
        ]

    def _written(self, voices_of: VoicesOf) -> tuple[Voices, ...]:
        return tuple(
            tuple(written_bar(strokes, bar.length, bar.meter, _missing(bar)) for strokes in voices_of(content))
            for bar, content in zip(self.bars, self.contents, strict=True)
        )

    def _places(self) -> Iterator[Fraction]:
        for staff in self.staves:
            for voices in staff.bars:
                for voice in voices:
                    for symbol in voice:
                        yield from (symbol.start, symbol.length)
        for bar, content in zip(self.bars, self.contents, strict=True):
            yield bar.length
            yield from (change.offset for change in content.changes)

    def ticks(self, quarters: Fraction) -> int:
        return int(quarters * self.divisions)

    # -- parts ----------------------------------------------------------------------------------------------------------

    def _write_part(self, root: Element, staff: Staff) -> None:
        tune, left, _ = self.staves
        part = child(root, "part", id=staff.id)
        accidentals = Accidentals()
        systems = {system.first: system for system in self.layout.systems}
        number = 0 if self.bars[0].number == 0 else 1
        for at, (printed, bar, content) in enumerate(zip(self.printed, self.bars, self.contents, strict=True)):
            implicit = {"implicit": "yes"} if bar.length != bar.meter.bar_length else {}
            measure = child(part, "measure", number=str(number), **implicit)
            number += 1
            if at in systems and at and staff is tune:
                child(measure, "print", new_system="yes")
            ending = _ending(printed.endings, "start") if printed.endings else None
            write_left_barline(measure, opens_repeat=printed.opens_repeat, ending=ending)
            self._write_attributes(measure, staff, at)
            accidentals.begin_bar(signature(page_key(bar.key)))
            remarks: list[Remark] = []
            if staff is tune:
                remarks = [*above(self.score, self.printed, at), *words_below(systems.get(at))]
            elif staff is left:
                remarks = left_hand_remarks(self.score, self.printed, at)
            for remark in remarks:
                if not remark.at_end:
                    self._write_remark(measure, remark)
            if staff is tune:
                for change in content.changes:
                    self._write_harmony(measure, change)
            self._write_voices(measure, staff, at, accidentals)
            for remark in remarks:
                if remark.at_end:
                    self._write_remark(measure, remark)
            _write_right_barline(measure, printed)

    def _write_attributes(self, measure: Element, staff: Staff, at: int) -> None:
        bar, before = self.bars[at], self.bars[at - 1] if at else None
        key, meter = page_key(bar.key), bar.meter
        attributes = Element("attributes")
        if before is None:
            child(attributes, "divisions", self.divisions)
        if before is None or page_key(before.key) != key:
            write_key(attributes, key)
        if before is None or before.meter != meter:
            write_time(attributes, meter)
        if before is None:
            write_clef(attributes, *staff.clef)
        if len(attributes):
            measure.append(attributes)

    def _write_voices(self, measure: Element, staff: Staff, at: int, accidentals: Accidentals) -> None:
        bar, content = self.bars[at], self.contents[at]
        tune, left, _ = self.staves
        breathes = staff is (tune if content.melody else left)
        lines = [list(line) for line in self.layout.sung.get(at, ())] if staff is tune else []
        for number, voice in enumerate(staff.bars[at], start=1):
            if number > 1:
                child(child(measure, "backup"), "duration", self.ticks(bar.length))
            notations = _notations(voice, content, bar, breathes=breathes and number == 1)
            for place, symbol in enumerate(voice):
                sings = bool(symbol.notes) and not symbol.tie_in
                write_symbol(
                    measure,
                    symbol,
                    voice=number,
                    ticks=self.ticks,
                    accidentals=accidentals,
                    notations=notations.get(place, ()),
                    syllables=[line.pop(0) for line in lines if line] if sings else (),
                )

    def _write_remark(self, measure: Element, remark: Remark) -> None:
        write_direction(
            measure,
            *remark.elements,
            placement=remark.placement,
            offset=self.ticks(remark.offset),
            sound=remark.sound,
        )

    def _write_harmony(self, measure: Element, change: ChordAt) -> None:
        write_harmony(
            measure,
            change.chord,
            change.chord.body,
            offset=self.ticks(change.offset),
            degrees=self.degrees,
            placement="above",
            print_frame="no",
        )


def _left_voices(content: Content) -> tuple[tuple[Stroke, ...], ...]:
    """The answer above the figure where both sound; one of them where the other is silent."""
    return (content.answer, content.left) if content.answer and content.left else (content.answer or content.left,)


def _missing(bar: RouteBar) -> Fraction:
    """What a pickup lacks at its beginning."""
    return bar.meter.bar_length - bar.length if bar.number == 0 else Fraction(0)


def _clef(notes: Sequence[Written]) -> tuple[str, int]:
    """The clef that needs fewer ledger lines."""

    def ledgers(clef: tuple[str, int]) -> int:
        low, high = _STAVES[clef]
        return sum(max(0, (low - note.height) // 2, (note.height - high) // 2) for note in notes)

    return min((BASS, TREBLE), key=ledgers)


def _notations(voice: Sequence[Symbol], content: Content, bar: RouteBar, *, breathes: bool) -> dict[int, list[str]]:
    """Fermatas and breaths of a voice, by the number of the symbol."""
    found: dict[int, list[str]] = {}
    for number, change in enumerate(content.changes):
        following = content.changes[number + 1].offset if number + 1 < len(content.changes) else bar.length
        own = [place for place, symbol in enumerate(voice) if change.offset <= symbol.start < following]
        sounding = [place for place in own if voice[place].notes]
        if HOLD in change.marks:
            found.setdefault((own or [len(voice) - 1])[0], []).append("fermata")
        if BREATH in change.marks and sounding and breathes:
            found.setdefault(sounding[-1], []).append("breath-mark")
    return found


def _write_right_barline(measure: Element, printed: Printed) -> None:
    closes = printed.closes_repeat
    ending = _ending(printed.in_endings, "stop" if closes else "discontinue") if printed.closes_ending else None
    repeat = backward(closes if closes > 2 else 0) if closes else None
    write_right_barline(measure, printed.barline, ending=ending, repeat=repeat)


def _ending(times: Sequence[int], kind: str) -> Element:
    numbers = [str(time) for time in times]
    text = ", ".join(f"{number}." for number in numbers) if kind == "start" else None
    return element("ending", text, number=",".join(numbers), type=kind)
