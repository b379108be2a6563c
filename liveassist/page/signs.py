"""Signs and words above and below the staves: section names, tempo, marks, the signs of the roadmap, what differs this time.

One row a mark: how it is printed, where in its bar, and what a program that plays the page must know of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from charts import chart as marks
from charts.exchange.elements import TYPES, element, metronome
from charts.route import RouteBar
from charts.values import number_text
from liveassist.page.layout import System
from liveassist.page.score import Score, swung
from liveassist.page.sheet import Printed

ABOVE, BELOW = "above", "below"
BEGIN, END = "begin", "end"
LONG = 8
"""Letters of a sign at a bar's end that begins in the middle of the bar, so that it ends with it; shorter ones later."""

_WORDS = {
    marks.RIT: "rit.",
    marks.A_TEMPO: "a tempo",
    marks.TACET: "tacet",
    marks.BREAK: "break",
    marks.PUSH: "push",
    marks.LATE: "late",
    marks.WALK: "walk",
    marks.PEDAL_POINT: "ped. pt.",
}
"""Marks of a change that are printed in words; hold and breath have signs of their own."""


@dataclass(frozen=True, slots=True)
class _Sign:
    """How a mark of a bar is printed."""

    place: str
    element: str
    text: str
    sound: Mapping[str, str] = field(default_factory=dict)


_SIGNS = {
    marks.SEGNO: _Sign(BEGIN, "segno", "", {"segno": "segno"}),
    marks.CODA: _Sign(BEGIN, "coda", "", {"coda": "coda"}),
    marks.TO_CODA: _Sign(END, "words", "to coda", {"tocoda": "coda"}),
    marks.FINE: _Sign(END, "words", "fine", {"fine": "yes"}),
    marks.DS: _Sign(END, "words", "D.S.", {"dalsegno": "segno"}),
    marks.DS_AL_CODA: _Sign(END, "words", "D.S. al coda", {"dalsegno": "segno"}),
    marks.DS_AL_FINE: _Sign(END, "words", "D.S. al fine", {"dalsegno": "segno"}),
    marks.DC: _Sign(END, "words", "D.C.", {"dacapo": "yes"}),
    marks.DC_AL_CODA: _Sign(END, "words", "D.C. al coda", {"dacapo": "yes"}),
    marks.DC_AL_FINE: _Sign(END, "words", "D.C. al fine", {"dacapo": "yes"}),
    marks.TAG: _Sign(BEGIN, "words", "tag"),
    marks.TAG_END: _Sign(END, "words", "end of tag"),
    marks.VAMP: _Sign(BEGIN, "words", "vamp"),
    marks.VAMP_END: _Sign(END, "words", "end of vamp"),
}


@dataclass(frozen=True, slots=True)
class Remark:
    """Something that is written above or below a staff."""

    elements: tuple[Element, ...]
    """What is drawn, each a direction of its own."""
    placement: str = ABOVE
    offset: Fraction = Fraction(0)
    """Quarter notes from the start of the bar, or from its end where it stands there."""
    at_end: bool = False
    """It belongs to the bar's end."""
    sound: Mapping[str, str] = field(default_factory=dict)


def above(score: Score, printed: Sequence[Printed], at: int) -> Iterator[Remark]:
    """What stands above the tune in a printed bar."""
    here = printed[at]
    bar, before = score.route.bars[printed[at].index], _before(score, printed, at)
    if here.heading:
        yield Remark((element("rehearsal", _heading(here), font_weight="bold", enclosure="square"),))
    if before is None or bar.quarter_bpm != before.quarter_bpm:
        yield _tempo(score, bar)
    for mark in here.marks:
        sign = _SIGNS[mark]
        style = {"font_style": "italic"} if sign.element == "words" else {}
        at_end = sign.place == END
        back = bar.length / (2 if len(sign.text) > LONG else 4) if at_end else Fraction(0)
        yield Remark(
            (element(sign.element, sign.text or None, **style),), at_end=at_end, offset=-back, sound=sign.sound
        )
    for change in score.contents[here.index].changes:
        for mark in change.marks:
            if mark in _WORDS:
                yield Remark((_italic(_WORDS[mark]),), offset=change.offset)
    marked = any(marks.RIT in change.marks for change in score.contents[here.index].changes)
    if bar.rit and not marked and not (before is not None and before.rit and not here.heading):
        yield Remark((_italic("rit."),))
    if here.closes_repeat > 2 and not here.in_endings:
        yield Remark((_italic(f"{here.closes_repeat} times"),), at_end=True, offset=-bar.length / 4)
    if bar.underscore and (before is None or before.step != bar.step):
        yield Remark((_italic("repeat ad lib."),))
    if bar.wait:
        yield Remark((_italic("wait"),), at_end=True, offset=-bar.length / 4)


def left_hand_remarks(score: Score, printed: Sequence[Printed], at: int) -> list[Remark]:
    """What the left hand is told where a section begins, or where it changes."""
    text = remarks_in_words(score, printed, at)
    return [Remark((_italic(text),))] if text else []


def remarks_in_words(score: Score, printed: Sequence[Printed], at: int) -> str:
    """Feel, swing, suggested fullness, and which hands and feet are silent: what changes here."""
    bar, before = score.route.bars[printed[at].index], _before(score, printed, at)
    index = printed[at].index
    feel, fullness = score.feels[index], score.fullness[index]
    last = printed[at - 1].index if at else None
    found = []
    if bar.out:
        if printed[at].heading or before is None or not before.out:
            found.append("left hand silent")
    else:
        if score.by_feel and (last is None or score.feels[last].name != feel.name):
            found.append(feel.name)
            if swung(feel):
                found.append(f"swung {feel.grid}s")
        if last is None or score.fullness[last] != fullness:
            found.append(f"fullness {fullness}")
    if bar.manuals_only and (before is None or not before.manuals_only):
        found.append("manuals only")
    if before is not None and before.manuals_only and not bar.manuals_only:
        found.append("with pedal")
    return ", ".join(found)


def words_below(system: System | None) -> Iterator[Remark]:
    """The lines of words below the first bar of their line."""
    for text in system.words if system else ():
        yield Remark((element("words", text, font_style="normal"),), placement=BELOW)


def _before(score: Score, printed: Sequence[Printed], at: int) -> RouteBar | None:
    """The printed bar before."""
    return score.route.bars[printed[at - 1].index] if at else None


def _heading(printed: Printed) -> str:
    times = {1: "", 2: " (twice)"}.get(printed.times, f" ({printed.times} times)")
    return printed.heading + times


def _italic(text: str) -> Element:
    return element("words", text, font_style="italic")


def _tempo(score: Score, bar: RouteBar) -> Remark:
    """The metronome's mark in the note value that the chart names."""
    chart = score.route.chart
    stated = chart.section(bar.section).tempo or chart.tempo
    value, bpm = stated.value, bar.quarter_bpm * score.faster
    plain, dots = (value, 0) if value in TYPES else (value / Fraction(3, 2), 1)
    if plain not in TYPES:
        value, plain, dots = Fraction(1), Fraction(1), 0
    mark = metronome(plain, dots, number_text(round(bpm / float(value), 1)), parentheses="no")
    return Remark((mark,), sound={"tempo": f"{bpm:g}"})
