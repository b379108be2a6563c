"""Words with chords above them, as plain text: what a singer or a guitarist is handed.

The page has no bars, but where a section has repeats or endings, which are drawn as the chart notation draws them. Each chord
stands above the words that its place in the bar comes to, in order; bars through which a chord goes on add nothing. A line
without words is a line of chords. ``charts.exchange.words_and_chords`` reads it back: the same sections, chords in order, and
words.
"""

from __future__ import annotations

from collections.abc import Sequence

from charts.exchange.sheet import GOES_ON, Sheet, SheetBar
from charts.exchange.words_and_chords import OPENING_MARKS
from charts.values import tempo_text
from charts.writing import chords_text

APART = 2
"""Spaces at least between two chords."""


def write_words(sheet: Sheet) -> bytes:
    """The sheet as a file's bytes."""
    lines = [f"Title: {sheet.title}"]
    if sheet.key:
        lines.append(f"Key: {sheet.key.name}")
    lines.append(f"Time: {sheet.meter.name}")
    if sheet.tempo:
        lines.append(f"Tempo: {tempo_text(sheet.tempo)}")
    start = 0
    for index in range(1, len(sheet.bars) + 1):
        if index < len(sheet.bars) and not (sheet.bars[index].new_line or sheet.bars[index].heading):
            continue
        bars = sheet.bars[start:index]
        if bars[0].heading:
            lines += ["", f"[{bars[0].heading}]"]
        lines += _drawn(sheet.bars, start, index) if _has_repeats(sheet.bars, start) else _line(bars)
        start = index
    return ("\n".join(lines) + "\n").encode()


def _line(bars: Sequence[SheetBar]) -> list[str]:
    words = [" ".join(verse.replace(GOES_ON, "").split()) for verse in bars[0].words]
    first = words[0] if words else ""
    whole = sum(bar.length for bar in bars)
    chords, passed = "", bars[0].length * 0
    for bar in bars:
        opening = [f"({mark}) " for mark in bar.marks if mark in OPENING_MARKS]
        for each in bar.chords:
            column = round(float((passed + each.offset) / whole) * len(first))
            column = first.rfind(" ", 0, column + 1) + 1 if first else 0
            if chords:
                chords += " " * max(APART, column - len(chords))
            else:
                chords = " " * column
            chords += "".join(opening) + each.chord.symbol
            chords += "".join(f" ({mark})" for mark in each.marks)
            opening = []
        chords += "".join(f" ({mark})" for mark in bar.marks if mark not in OPENING_MARKS or opening)
        passed += bar.length
    return [line for line in (chords, *words) if line]


def _has_repeats(bars: Sequence[SheetBar], index: int) -> bool:
    """Whether the section that a bar lies in has any."""
    start = max((i for i in range(index + 1) if bars[i].heading), default=0)
    end = next((i for i in range(start + 1, len(bars)) if bars[i].heading), len(bars))
    return any(bar.opens_repeat or bar.closes_repeat or bar.endings for bar in bars[start:end])


def _drawn(bars: Sequence[SheetBar], start: int, end: int) -> list[str]:
    """A line with its barlines."""
    text = ""
    for index in range(start, end):
        bar = bars[index]
        before = (":" if bar.opens_repeat else "") + (f"{','.join(map(str, bar.endings))}." if bar.endings else "")
        symbols = [(each.offset, each.chord.symbol + "".join(f" ({m})" for m in each.marks)) for each in bar.chords]
        inside = chords_text(symbols, bar.meter, bar.length) or " ".join(symbol for _, symbol in symbols) or "/"
        marks = "".join(f" ({mark})" for mark in bar.marks if mark not in OPENING_MARKS)
        before += "".join(f" ({mark})" for mark in bar.marks if mark in OPENING_MARKS)
        text = f"{text.rstrip('|')}|{before} {inside}{marks} "
        following = bars[index + 1] if index + 1 < len(bars) else None
        leaves = bool(bar.in_endings) and (following is None or not following.in_endings)
        if not bar.closes_repeat and (leaves or bar.barline != "|"):
            text += "|| "
        if bar.closes_repeat:
            text += ":| " + (f"x{bar.closes_repeat} |" if bar.closes_repeat != 2 or bar.in_endings else "|")
    words = [" ".join(verse.replace(GOES_ON, "").split()) for verse in bars[start].words]
    return [f"{text.rstrip().rstrip('|').rstrip()} |".replace(":| |", ":|"), *words]
