"""Words with chords above them, as musicians type them: plain text, chords placed by column over the syllable.

The rules, which the report tells where they matter:

* A line is a chord line where every word of it is a chord, ``N.C.``, a barline, a stroke, ``%``, ``x2`` or a mark in
  parentheses, and at least one is a chord. Where the page states its key, scale degrees (``1 5/7 6-``) are chords, too. A lone
  ``A`` at the margin with nothing below it is words. In a mixed line (``Intro: G C D``) what stands before
  the colon is the heading.
* Lines such as ``Key: G``, ``Tempo: 92``, ``Time: 3/4``, ``Title: ...`` state what they say; the first line that is nothing
  else is the title.
* No bars are written on such a page: each chord has a bar of its own. Where a chord line has barlines, its bars are those, read
  as the chart notation reads them where it can.
* A chord belongs to the words from its column on, to the next chord's; words before a line's first chord belong to it, too.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from charts.bars import SectionBars
from charts.chart import CHANGE_MARKS, CODA, SEGNO, TAG, VAMP, Bar, Tempo
from charts.chord import Chord, read_chord
from charts.errors import ChartError
from charts.exchange.files import decoded
from charts.exchange.headings import chord_word, heading, jump_or_mark
from charts.exchange.settling import bracketed, guessed_key, settled_repeats
from charts.exchange.sheet import GOES_ON, Remark, Sheet, SheetBar, SheetChord
from charts.key import Key, read_key
from charts.lines import Line, Problems
from charts.meter import Meter, read_meter
from charts.values import read_tempo

TAB = 8
OPENING_MARKS = (SEGNO, CODA, TAG, VAMP)
"""Marks that stand before the first chord of their bar; all others behind its last."""
MOST_LINES = 5000
LONGEST_LINE = 1000
_SIGNS = re.compile(
    r"\|{1,2}:?|:\|{1,2}|\|\]|[/%\\-]+|[x×]\d{1,2}|\d{1,2}[x×]|\(?[x×]\s?\d{1,2}\)?|\.{1,4}|,|~|\*", re.IGNORECASE
)
_WORD = re.compile(r":?\|{1,2}:?\s?\d(?:,\d)*\.|\([^()\s]+(?: [^()\s]+){0,2}\)|\|{1,2}:|:\|{1,2}|\|\]|\|+|[^\s|]+")
_STATED = re.compile(
    r"\s*(?P<name>title|song|key|capo|tempo|bpm|time(?: signature)?|meter|metre|artist|author|words|music|composer|by|"
    r"copyright)\s*[:=]\s*(?P<value>.+?)\s*",
    re.IGNORECASE,
)
_NAMED_LINE = re.compile(r"\s*(?P<name>[^:|\[\]]{1,30}):\s+(?P<rest>\S.*)")


@dataclass(frozen=True, slots=True)
class Placed:
    """A chord (None: a barline) and its column."""

    column: int
    chord: Chord | None
    sign: str = ""
    mark: str = ""


def read_words_and_chords(data: bytes, source: str) -> list[Sheet]:
    """The song on a page of words and chords. Raises ChartError where no line has chords."""
    text = re.sub(r"\r\n?|[\u0085\u2028\u2029\f\v]", "\n", decoded(data)).replace("\0", "").replace("\u00a0", " ")
    lines = [line.expandtabs(TAB).rstrip() for line in text.split("\n")]
    if max(map(len, lines)) > LONGEST_LINE:
        message = f"this has a line of more than {LONGEST_LINE} characters, and no song has"
        raise ChartError.at(1 + next(i for i, line in enumerate(lines) if len(line) > LONGEST_LINE), 0, message, source)
    if len(lines) > MOST_LINES:
        raise ChartError.at(0, 0, f"this has more than {MOST_LINES} lines, and no song has", source)
    page = _Page()
    index = 0
    while index < len(lines):
        following = lines[index + 1] if index + 1 < len(lines) else ""
        index += page.take(lines[index], following)
    return [page.sheet(source)]


class _Page:
    """The page so far."""

    def __init__(self) -> None:
        self.title = ""
        self.notes: list[str] = []
        self.key: Key | None = None
        self.meter = Meter(4, 4)
        self.tempo_text = ""
        self.bars: list[SheetBar] = []
        self.remarks: list[Remark] = []
        self.heading = ""
        self.last_heading = ""
        self.times = 1
        self.section_start = 0
        self.barlines = 0
        self.line_start = 0
        self.drawn: SectionBars | None = None
        """The section's bars that are drawn with barlines."""

    def take(self, line: str, following: str) -> int:
        """Takes a line, perhaps with the one below it. Returns how many lines were taken."""
        if not line.strip():
            return 1
        stated = _STATED.fullmatch(line)
        if stated and self._state(stated["name"].casefold(), stated["value"]):
            return 1
        named = heading(line)
        if named:
            self._begin(*named)
            return 1
        mixed = _NAMED_LINE.fullmatch(line)
        if mixed and chord_line(mixed["rest"], self.key):
            found = heading(mixed["name"])
            self._begin(*(found or (mixed["name"].strip(), 1)))
            line = " " * mixed.start("rest") + mixed["rest"]
        placed = chord_line(line, self.key)
        if placed and not _article(line, following):
            words = following.strip() and not chord_line(following, self.key) and not heading(following)
            below = following if words and not _STATED.fullmatch(following) else ""
            self._line(line, placed, below)
            return 2 if below else 1
        if no_chords := _almost_chords(line, self.key):
            these = ", ".join(f'"{word}"' for word in no_chords)
            self._tell(f'"{line.strip()[:50]}" looks like a line of chords, but {these} is none; it is kept as words')
        self._words(line)
        return 1

    # -- what lines say -------------------------------------------------------------------------------------------

    def _state(self, name: str, value: str) -> bool:
        try:
            if name == "key":
                self.key = read_key(
                    re.split(r"[\s,;(]", value)[0] + ("m" if re.search(r"(?i)\sminor\b", value) else "")
                )
            elif name in ("tempo", "bpm"):
                self.tempo_text = value
            elif name.startswith(("time", "met")):
                self.meter = read_meter(value)
            elif name in ("title", "song"):
                self.title = value
            elif name == "capo":
                self._tell(f'"capo {value}" is not taken: chords stand as written', lost=False)
            elif len(self.bars) == 0:
                self.notes.append(f"{name}: {value}")
            else:
                return False
        except ValueError as error:
            self._tell(str(error))
        return True

    def _begin(self, name: str, times: int) -> None:
        self._end_section()
        self.heading, self.times = name, times
        self.last_heading = name

    def _end_section(self) -> None:
        """A heading that said x2 makes its section a repeat."""
        if self.times > 1 and len(self.bars) > self.section_start:
            first, last = self.section_start, len(self.bars) - 1
            if not any(bar.opens_repeat or bar.closes_repeat for bar in self.bars[first:]):
                self.bars[first] = replace(self.bars[first], opens_repeat=True)
                self.bars[last] = replace(self.bars[last], closes_repeat=self.times)
        self.section_start, self.times = len(self.bars), 1
        self.drawn = None

    def _words(self, line: str) -> None:
        """A line of words without chords of its own."""
        plain = " ".join(line.split())
        if not self.bars and not self.heading:
            if not self.title:
                self.title = plain
            else:
                self.notes.append(plain)
            return
        if len(self.bars) > self.section_start and not self.heading:
            # A line of words below a line that has its own: the next verse to the same chords.
            rows = max(len(bar.words) for bar in self.bars[self.line_start :])
            bar = self.bars[self.line_start]
            words = (*bar.words, *[""] * (rows - len(bar.words)), plain)
            self.bars[self.line_start] = replace(bar, words=words)
            return
        self._tell(f'the words "{plain[:50]}" have no chords above them in "{self.heading or self.last_heading}"')

    def _line(self, line: str, placed: Sequence[Placed], words: str) -> None:
        """A line of chords and the words below."""
        barred = any(each.sign.strip(":").startswith("|") or each.sign == "|" for each in placed)
        self.barlines += barred
        self.line_start = len(self.bars)
        bars = (self._drawn(line) or _barred(placed, self.meter)) if barred else _one_each(placed, self.meter)
        for index, (bar, column) in enumerate(bars):
            end = bars[index + 1][1] if index + 1 < len(bars) else len(words) + 1
            start = 0 if index == 0 else column
            text = _cut(words, start, end)
            first = index == 0
            self.bars.append(
                replace(
                    bar,
                    words=(text,) if text else (),
                    heading=self.heading if first else "",
                    new_line=first,
                )
            )
            if first:
                self.heading = ""
        if barred:
            return
        repeats = next((int(re.sub(r"\D", "", each.sign)) for each in placed if re.search(r"[x×]", each.sign, re.I)), 0)
        if 1 < repeats < 10 and bars and not any(bar.closes_repeat for bar, _ in bars):
            start = len(self.bars) - len(bars)
            self.bars[start] = replace(self.bars[start], opens_repeat=True)
            self.bars[-1] = replace(self.bars[-1], closes_repeat=repeats)

    def _drawn(self, line: str) -> list[tuple[SheetBar, int]]:
        """A line with barlines as the chart notation reads it; nothing where it cannot."""
        problems = Problems()
        drawn = self.drawn or SectionBars(self.meter, Fraction(0), self._chord, problems)
        bar_line = line if line.lstrip().startswith(("|", ":|")) else f"|{line[1:] if line[:1] == ' ' else line}"
        before = len(drawn.bars)
        fresh = SectionBars(self.meter, Fraction(0), self._chord, problems)
        fresh.bars.extend(drawn.bars)
        fresh.read(Line(1, bar_line))
        if problems:
            return []
        self.drawn = fresh
        return [(_drawn_bar(bar), bar.column - 1) for bar in fresh.bars[before:]]

    def _chord(self, text: str) -> Chord:
        return read_chord(text, key=self.key)

    def _tell(self, message: str, *, lost: bool = True) -> None:
        self.remarks.append(Remark(bar=len(self.bars), message=message, lost=lost))

    # -- all together ---------------------------------------------------------------------------------------------

    def sheet(self, source: str) -> Sheet:
        self._end_section()
        if self.heading:
            self._tell(f'"{self.heading}" has no chords; it is left out')
        if not self.bars:
            raise ChartError.at(0, 0, "no line of this has chords", source)
        if self.barlines == 0:
            message = "no bars are written on this page: each chord has a bar of its own"
            self.remarks.append(Remark(message=message, lost=False))
        bars, odd = settled_repeats(bracketed(self.bars, [False] * len(self.bars)))
        self.remarks.extend(odd)
        key = self.key or guessed_key(bars)
        if self.key is None:
            self.remarks.append(Remark(message=f"no key is stated; {key.shown} fits best", lost=False))
        tempo: Tempo | None = None
        if self.tempo_text:
            try:
                tempo = read_tempo(self.tempo_text, self.meter)
            except ValueError as error:
                self.remarks.append(Remark(message=str(error)))
        return Sheet(
            title=self.title,
            key=key,
            meter=self.meter,
            tempo=tempo,
            notes="; ".join(self.notes),
            bars=tuple(bars),
            remarks=tuple(self.remarks),
        )


def _almost_chords(line: str, key: Key | None) -> list[str]:
    """What is no chord in a line that has two chords or more, and more chords than other words; an A counts for neither."""
    words = [word for word in _WORD.findall(line) if word not in ("A", "Am")]
    others = [word for word in words if not chord_line(word, key)]
    return others if len(words) - len(others) >= max(2, len(others) + 1) else []


def chord_line(line: str, key: Key | None = None) -> list[Placed]:
    """The chords, barlines and marks of a chord line with their columns; nothing where it is none."""
    placed: list[Placed] = []
    chords = 0
    for match in _WORD.finditer(line):
        word = match[0]
        if "|" in word or word == "%" or _SIGNS.fullmatch(word):
            placed.append(Placed(match.start(), None, word))
            continue
        chord = chord_word(word) or chord_word(word.strip(",;.*")) or _degree(word, key)
        if chord is not None:
            chords += 1
            placed.append(Placed(match.start(), chord))
            continue
        parts = [chord_word(part) for part in word.split("-")]
        if len(parts) > 1 and all(part is not None for part in parts):
            chords += len(parts)
            placed.extend(Placed(match.start() + index, part) for index, part in enumerate(parts))
            continue
        mark = jump_or_mark(word) if word.startswith("(") else None
        if mark is None:
            return []
        placed.append(Placed(match.start(), None, mark=mark[0]))
    return placed if chords else []


def _degree(word: str, key: Key | None) -> Chord | None:
    """A scale degree as a chord, where the page states its key."""
    if key is None or not re.match(r"[b#♭♯]?[1-7]", word) or len(word) > 12:
        return None
    try:
        return read_chord(word, key=key)
    except ValueError:
        return None


def _article(line: str, following: str) -> bool:
    """Whether a lone A is the beginning of words rather than a chord."""
    return line.strip() in ("A", "Am") and not following.strip() and not line.startswith("  ")


def _drawn_bar(bar: Bar) -> SheetBar:
    return SheetBar(
        length=bar.length,
        meter=bar.meter,
        chords=tuple(SheetChord(offset=each.offset, chord=each.chord, marks=each.marks) for each in bar.changes),
        marks=bar.marks,
        opens_repeat=bar.opens_repeat,
        closes_repeat=bar.closes_repeat,
        endings=bar.endings,
        barline=bar.barline,
    )


def _one_each(placed: Sequence[Placed], meter: Meter) -> list[tuple[SheetBar, int]]:
    bars: list[tuple[SheetBar, int]] = []
    waiting: tuple[str, ...] = ()
    for each in placed:
        if each.chord is not None:
            bars.append((replace(_bar([each.chord], meter), marks=waiting), each.column))
            waiting = ()
        elif each.mark in OPENING_MARKS:
            waiting = (*waiting, each.mark)
        elif each.mark and bars:
            bars[-1] = (_marked(bars[-1][0], each.mark), bars[-1][1])
    return bars


def _barred(placed: Sequence[Placed], meter: Meter) -> list[tuple[SheetBar, int]]:
    """Bars as the line draws them; chords share their bar evenly, a stroke is a beat."""
    bars: list[tuple[SheetBar, int]] = []
    here: list[Placed] = []
    opens = False
    for each in [*placed, Placed(10**6, None, "|")]:
        if each.chord is None and "|" in each.sign:
            if here:
                bar = _of_symbols(here, meter, bars[-1][0] if bars else None)
                bars.append((replace(bar, opens_repeat=opens), here[0].column))
                opens = False
            if each.sign.startswith(":") and bars:
                bars[-1] = (replace(bars[-1][0], closes_repeat=2), bars[-1][1])
            opens = opens or each.sign.endswith(":")
            here = []
        elif each.mark or each.chord is not None or re.fullmatch(r"[/%\\]+", each.sign):
            here.append(each)
    return bars


def _of_symbols(symbols: Sequence[Placed], meter: Meter, before: SheetBar | None) -> SheetBar:
    chords = [each for each in symbols if each.chord is not None]
    if any(each.sign == "%" for each in symbols) and not chords and before is not None:
        return _bar([each.chord for each in before.chords], meter)
    beats: list[Chord | None] = []
    for each in symbols:
        if each.chord is not None:
            beats.append(each.chord)
        elif each.sign.strip("/\\") == "":
            beats.extend([None] * len(each.sign))
    counted = len(beats) == meter.counted_beats
    share = meter.bar_length / max(1, len(chords))
    if counted:
        found = [(meter.counted_beat * index, chord) for index, chord in enumerate(beats) if chord is not None]
    else:
        found = [(share * index, each.chord) for index, each in enumerate(chords) if each.chord is not None]
    bar = SheetBar(
        length=meter.bar_length,
        meter=meter,
        chords=tuple(SheetChord(offset=at, chord=chord) for at, chord in found),
    )
    for each in symbols:
        bar = _marked(bar, each.mark) if each.mark else bar
    return bar


def _bar(chords: Sequence[Chord], meter: Meter) -> SheetBar:
    share = meter.bar_length / max(1, len(chords))
    placed = tuple(SheetChord(offset=share * index, chord=chord) for index, chord in enumerate(chords))
    return SheetBar(length=meter.bar_length, meter=meter, chords=placed)


def _marked(bar: SheetBar, mark: str) -> SheetBar:
    if mark not in CHANGE_MARKS:
        return replace(bar, marks=(*bar.marks, mark))
    if not bar.chords:
        return bar
    last = bar.chords[-1]
    return replace(bar, chords=(*bar.chords[:-1], replace(last, marks=(*last.marks, mark))))


def _cut(words: str, start: int, end: int) -> str:
    """The words from one column to another, a word cut in two going to where it begins, unless a chord stands within it."""
    text = words[start:end]
    goes_on = end < len(words) and words[end - 1 : end].strip() != "" and words[end : end + 1].strip() != ""
    return " ".join(text.split()) + (GOES_ON if goes_on and text.strip() else "")
