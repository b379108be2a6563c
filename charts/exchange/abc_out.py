"""A lead sheet as ABC (standard 2.1): header, parts, the tune with its chord symbols, words below it.

A chart without a tune has rests, cut where chords stand. Marks of a chord stand as annotations above it, headings as parts.
``charts.exchange.abc`` reads all of it back.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from charts.chart import CODA, SEGNO, Tempo
from charts.exchange.abc_words import escaped
from charts.exchange.sheet import GOES_ON, Sheet, SheetBar, attacks
from charts.exchange.tune_text import bar_text
from charts.key import Key
from charts.pitch import Spelling
from charts.syllables import Syllable, laid

UNIT = Fraction(1, 2)
"""An eighth."""
_BARLINES = {"|": "|", "||": "||", "|]": "|]"}
_OPENING = (SEGNO, CODA, "tag", "vamp")


def write_abc(sheet: Sheet) -> bytes:
    """The sheet as a file's bytes."""
    key = sheet.key or Key(Spelling("C"))
    lines = ["%abc-2.1", "X:1", f"T:{_text(sheet.title)}"]
    if sheet.notes:
        lines.append(f"C:{_text(sheet.notes)}")
    lines += [f"M:{sheet.bars[0].meter.name}", "L:1/8"]
    if sheet.tempo:
        lines.append(f"Q:{_tempo(sheet.tempo)}")
    lines.append(f"K:{key.name}")
    meter = sheet.bars[0].meter
    start = 0
    for index in range(1, len(sheet.bars) + 1):
        if index < len(sheet.bars) and not _begins_line(sheet.bars[index]):
            continue
        bars = sheet.bars[start:index]
        first = bars[0]
        if first.heading:
            lines.append(f"P:{_text(first.heading)}")
        if first.key and (start or first.key != key):
            lines.append(f"K:{first.key.name}")
        key = first.key or key
        if first.tempo and start:
            lines.append(f"Q:{_tempo(first.tempo)}")
        music = ""
        for place, bar in enumerate(bars, start):
            if bar.meter != meter:
                music += f"[M:{bar.meter.name}] "
                meter = bar.meter
            music += _bar(sheet.bars, place, key)
        lines.append(music.strip())
        lines.extend(f"w:{text}" for text in _words(bars, sheet.bars[start - 1] if start else None))
        start = index
    return ("\n".join(lines) + "\n").encode()


def _begins_line(bar: SheetBar) -> bool:
    return bool(bar.new_line or bar.words or bar.heading or bar.key or bar.tempo)


def _bar(bars: Sequence[SheetBar], index: int, key: Key) -> str:
    bar = bars[index]
    before = f"|{':' * (_plays(bars, index) - 1)}" if bar.opens_repeat else ""
    if bar.endings:
        before += f"[{','.join(map(str, bar.endings))}"
    above: dict[Fraction, str] = {}
    for each in bar.chords:
        marks = "".join(f'"^{mark}"' for mark in each.marks)
        above[each.offset] = f'{marks}"{each.chord.symbol}"'
    opening = "".join(_mark(mark) for mark in bar.marks if mark in _OPENING)
    closing = "".join(_mark(mark) for mark in bar.marks if mark not in _OPENING)
    if opening or closing:
        above[Fraction(0)] = opening + closing + above.get(Fraction(0), "")
    music = bar_text(bar.notes, bar.length, key, UNIT, above)
    after = f"{':' * (bar.closes_repeat - 1)}|" if bar.closes_repeat else _BARLINES[bar.barline]
    return f"{before} {music} {after} "


def _plays(bars: Sequence[SheetBar], index: int) -> int:
    """How often the repeat that begins with a bar is played."""
    return (
        next((bar.closes_repeat for bar in bars[index:] if bar.closes_repeat), 2)
        if not _has_endings(bars, index)
        else 2
    )


def _has_endings(bars: Sequence[SheetBar], index: int) -> bool:
    for bar in bars[index:]:
        if bar.endings:
            return True
        if bar.closes_repeat:
            return False
    return False


def _mark(mark: str) -> str:
    return f"!{mark}!" if mark in _OPENING[:2] else f'"^{mark}"'


def _tempo(tempo: Tempo) -> str:
    value = tempo.value / 4
    return f"{value.numerator}/{value.denominator}={tempo.per_minute:g}"


def _text(text: str) -> str:
    return " ".join(text.replace("%", "\\%").split())


def _words(bars: Sequence[SheetBar], before: SheetBar | None) -> Iterator[str]:
    """The words of a line, a line a verse: a syllable or else a word for each note, held where a tie leads on."""
    notes: list[bool] = []
    for bar, begins in zip(bars, attacks(bars, before), strict=True):
        for note, attack in zip(bar.notes, begins, strict=True):
            cuts = sum(note.offset < each.offset < note.offset + note.length for each in bar.chords)
            notes += [attack, *[False] * cuts]
    verses = [verse.replace(GOES_ON, "") for verse in bars[0].words]
    syllables = laid(verses, sum(notes))
    for number, verse in enumerate(verses):
        sung = [
            escaped(each.text) + ("-" if each.syllabic in ("begin", "middle") else " ")
            for each in (syllables[number] if syllables else [Syllable(word, "single") for word in verse.split()])
        ]
        text = ""
        for attack in notes if sung else ():
            if attack and sung:
                text += sung.pop(0)
            elif not attack:
                # What is held is told before the hyphen or space behind it.
                text = f"{text[:-1]}_{text[-1:]}" if text else "* "
        yield (text + "".join(sung)).strip()
