"""The body of a tune in ABC: bars as they come, voice by voice.

Every bar of the page is a bar of the sheet, as long as its notes, which ``charts.tune`` reads. Keys, tempi and headings belong
to the next bar of the first voice.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from charts.chart import BREATH, HOLD, Tempo
from charts.exchange.abc_above import Above, marks_of_letters, read_above
from charts.exchange.abc_header import FIELD, Header, Remarks, plain, tune_key
from charts.exchange.abc_words import put_words
from charts.exchange.headings import chord_word, section_name
from charts.exchange.settling import UNTOLD
from charts.exchange.sheet import SheetBar, fitting_meter, with_marks
from charts.key import Key
from charts.marks import in_order
from charts.meter import Meter
from charts.pitch import Spelling
from charts.tune import Tune, TuneBar, TuneNote, signs

MOST_BARS = 4000
LONGEST_BAR = 2000
"""Characters; a longer one has lost its barlines."""
LONGEST_METER = 4
"""Times its meter that a bar may last and still be meant."""
ONE_VOICE = ""


@dataclass(slots=True)
class Voice:
    """The bars of one voice as they come."""

    tune: Tune
    bars: list[SheetBar] = field(default_factory=list)
    chunk: str = ""
    """The bar under way."""
    opens: bool = False
    endings: tuple[int, ...] = ()
    line_notes: list[int] = field(default_factory=list)
    """For each note of the latest line of music the bar that it stands in."""
    verse: int = 0


@dataclass(slots=True)
class _Coming:
    """What the next bar of the first voice begins with."""

    heading: str | None = None
    key: Key | None = None
    tempo: Tempo | None = None
    new_line: bool = False


class Body:
    """The music of one tune, line by line."""

    def __init__(self, header: Header, remarks: Remarks) -> None:
        self.header = header
        self.remarks = remarks
        self._tell = remarks.tell
        self.voices: dict[str, Voice] = {}
        self.voice = ONE_VOICE
        """The name of the one whose music is read."""
        self.coming = _Coming()

    def first(self) -> Voice:
        """The tune's own voice."""
        return self._voice(next(iter(self.voices), ONE_VOICE))

    def finish(self) -> None:
        """Ends the bars under way."""
        for voice in self.voices.values():
            self._close_bar(voice)

    def read(self, line: str) -> None:
        """A line of music, or a field between lines."""
        match = FIELD.match(line)
        if match:
            self._field(match[1], match[2].strip())
            return
        voice = self._voice(self.voice)
        voice.line_notes = []
        voice.verse = 0
        if voice.bars and not voice.chunk.strip():
            self.coming.new_line = True
        for kind, text in signs(re.sub(r"\\$", "", line)):
            voice = self._voice(self.voice)
            if len(voice.bars) >= MOST_BARS:
                self._tell(0, f"there are more than {MOST_BARS} bars; the rest is left out")
                return
            if kind == "bar":
                self._barline(voice, text)
                continue
            if kind == "field" and text.startswith("["):
                self._field(text[1], text.strip("[]")[2:].strip())
                continue
            if kind == "bars":
                self._close_bar(voice)
                count = max(1, min(MOST_BARS, int(re.sub(r"\D", "", text)[:5] or 1)))
                for _ in range(count):
                    self._add(voice, TuneBar(notes=(), length=None, text="Z"), "")
                continue
            if kind == "unknown":
                self._unknown(voice, text)
                continue
            if kind in ("note", "chord"):
                voice.line_notes.append(len(voice.bars))
            voice.chunk += text
            if len(voice.chunk) > LONGEST_BAR:
                self._tell(len(voice.bars) + 1, f"this bar is longer than {LONGEST_BAR} characters, and is divided")
                self._close_bar(voice)
        voice.chunk += " "

    def read_words(self, line: str) -> None:
        """A line of words, aligned (``w:``) or below the tune (``W:``)."""
        voice = self._voice(self.voice)
        if line[0] == "W":
            self._tell(0, f'the words "{plain(line[2:])[:40]}" stand below the tune and belong to no bar')
            return
        count = self._pending_bar(voice)
        put_words(voice.bars, voice.line_notes, line[2:], voice.verse, count, lambda text: plain(text, words=True))
        voice.verse += 1

    def _pending_bar(self, voice: Voice) -> int:
        """How many bars there are when the bar under way has ended, too: words may reach into it."""
        if voice.chunk.strip():
            self._close_bar(voice)
        return len(voice.bars)

    def _voice(self, name: str) -> Voice:
        if name not in self.voices:
            unit, key = self.header.unit, tune_key(self.header.key_text)
            tune = Tune(Key(Spelling("C")), self.header.meter, self.header.accidentals)
            for value in (f"[L:{unit}]" if unit else "", f"[K:{key}]"):
                try:
                    tune.read(value)
                except ValueError:
                    self._tell(0, f'"{value.strip("[]")}" cannot be read')
            self.voices[name] = Voice(tune)
        return self.voices[name]

    def _unknown(self, voice: Voice, text: str) -> None:
        bar = len(voice.bars) + 1
        if text == "&":
            self._tell(bar, "a second voice in one bar (&) is left out")
            voice.chunk += "\x01"
        elif text != "!":  # alone it is an old sign for a new line
            self._tell(bar, f'the sign "{text}" is not understood')

    def _field(self, name: str, value: str) -> None:
        if name == "V":
            unnamed = self.voices.get(ONE_VOICE)
            if unnamed is not None and not unnamed.bars and not unnamed.chunk.strip():
                del self.voices[ONE_VOICE]
            self.voice = (value.split() or [ONE_VOICE])[0]
            return
        voice = self._voice(self.voice)
        bar = len(voice.bars) + 1
        if name == "K":
            voice.chunk += f"[K:{tune_key(value)}]"  # for the reader of the notes, where it stands
            if self._is_first(voice):
                key = self.header.read_key(value, bar)
                if key is not None:
                    self.coming.key = key
        elif name == "M":
            self.header.take_meter(value, bar)
        elif name == "L":
            self.header.take_unit(value)
            voice.chunk += f"[L:{self.header.unit}]"
        elif name == "Q":
            self.coming.tempo = self.header.read_tempo(value)
        elif name == "P":
            self.coming.heading = plain(value)
        elif name == "T" and value:
            self._tell(bar, f'the title "{plain(value)}" inside the tune is not taken', lost=False)

    def _is_first(self, voice: Voice) -> bool:
        return voice is next(iter(self.voices.values()))

    def _barline(self, voice: Voice, text: str) -> None:
        sign = re.fullmatch(r"(?P<stroke>[.\[|\]:]*?)(?P<open>:*)(?P<times>\d+(?:[,-]\d+)*)?", text)
        assert sign is not None
        stroke = text.rstrip("0123456789,-")
        closes = stroke.startswith(":") and ("|" in stroke or stroke.count(":") > 1)
        opens = (stroke.endswith(":") and ("|" in stroke or "::" in stroke)) and not (closes and stroke == ":")
        if "|" not in stroke and stroke == "::":
            opens = closes = True
        ended = self._close_bar(voice)
        if voice.bars and (ended or closes or "||" in stroke or "|]" in stroke or "[|" in stroke):
            colons = len(stroke) - len(stroke.lstrip(":"))
            last = voice.bars[-1]
            barline = "|]" if "|]" in stroke else "||" if ("||" in stroke or "[|" in stroke) else last.barline
            times = (UNTOLD if colons < 2 or stroke.strip(":") == "" else colons + 1) if closes else last.closes_repeat
            voice.bars[-1] = replace(last, barline="|" if closes else barline, closes_repeat=times)
        voice.opens = voice.opens or opens
        if sign["times"]:
            voice.endings = tuple(_numbers(sign["times"]))

    def _close_bar(self, voice: Voice) -> bool:
        """Ends the bar under way, if anything stands in it."""
        chunk, voice.chunk = voice.chunk, ""
        if not re.sub(r"[\s\x01`\\]", "", chunk):
            return False
        kept, _, _ = chunk.partition("\x01")
        try:
            found = voice.tune.read(kept)
        except ValueError as error:
            self._tell(len(voice.bars) + 1, f"the tune of this bar cannot be read: {error}")
            found = [
                TuneBar(
                    notes=(),
                    length=None,
                    text=kept,
                    above=tuple((Fraction(0), q) for q in re.findall(r'"[^"]*"', kept)),
                )
            ]
        if not found:
            quoted = re.findall(r'"[^"]*"', kept)
            if not any(chord_word(text[1:-1]) for text in quoted):
                # No music and no chord: signs behind the last bar, or nothing.
                self._after_all(voice, re.findall(r'"[^"]*"|![^!]*!', kept))
                return False
            found = [TuneBar(notes=(), length=None, text=kept, above=tuple((Fraction(0), text) for text in quoted))]
        for bar in found:
            for part in self._divided(len(voice.bars) + 1, bar):
                self._add(voice, part, kept)
        return True

    def _divided(self, number: int, bar: TuneBar) -> Sequence[TuneBar]:
        """The bar, or several where it is so long that no meter is: it has lost its barlines."""
        meter = self.header.meter
        usual = meter.bar_length
        if bar.length is None or bar.length <= LONGEST_METER * usual or fitting_meter(bar.length, meter):
            return (bar,)
        self._tell(number, f"this bar is {bar.length} quarter notes long; it is divided into bars of {meter.name}")
        return [_part(bar, k * usual, min((k + 1) * usual, bar.length)) for k in range(-(-bar.length // usual))]

    def _after_all(self, voice: Voice, said: Sequence[str]) -> None:
        """Signs that stand in no bar of their own: they belong to the bar before."""
        if not voice.bars or not said:
            return
        last = voice.bars[-1]
        above = self._above(len(voice.bars), [(last.length, text) for text in said], last.length)
        chords = tuple(with_marks(last.chords, above.change_marks))
        voice.bars[-1] = replace(last, marks=in_order((*last.marks, *above.marks)), chords=chords)

    def _add(self, voice: Voice, tune: TuneBar, text: str) -> None:
        if len(voice.bars) >= MOST_BARS:
            self._tell(0, f"there are more than {MOST_BARS} bars; the rest is left out")
            return
        number = len(voice.bars) + 1
        length = tune.length if tune.length is not None else self.header.meter.bar_length
        meter = self.header.meter
        if self.header.free:
            meter = fitting_meter(length, Meter(4, 4)) or self.header.meter
        if fitting_meter(length, meter) is None:
            whole = min(meter.bar_length, -(-length // Fraction(1, 2)) * Fraction(1, 2))
            self._tell(number, f"this bar is {length} quarter notes long, which no meter is; {whole} are written")
            length = whole if fitting_meter(whole, meter) else meter.bar_length
        above = self._above(number, tune.above, length)
        for mark in marks_of_letters(text):
            above.mark(length, mark)
        coming = self.coming if self._is_first(voice) else _Coming()
        notes = tuple(_within(note, length) for note in tune.notes if note.offset < length)
        voice.bars.append(
            SheetBar(
                length=length,
                meter=meter,
                chords=tuple(with_marks(above.chords, above.change_marks)),
                notes=notes,
                voices=notes,
                marks=in_order(tuple(above.marks)),
                opens_repeat=voice.opens,
                endings=voice.endings,
                key=coming.key,
                tempo=coming.tempo,
                heading=section_name(coming.heading or ""),
                new_line=coming.new_line,
                phrase_end=any(mark in (HOLD, BREATH) for _, mark in above.change_marks),
            )
        )
        voice.opens, voice.endings = False, ()
        if self._is_first(voice):
            self.coming = _Coming()

    def _above(self, number: int, texts: Sequence[tuple[Fraction, str]], length: Fraction) -> Above:
        above = read_above(number, texts, length, self.remarks)
        if self.coming.heading is None:
            self.coming.heading = above.heading
        return above


def _part(bar: TuneBar, start: Fraction, end: Fraction) -> TuneBar:
    """What stands in a bar from one place to another; a note that goes on is tied."""
    notes = (
        replace(
            note,
            offset=max(note.offset, start) - start,
            length=min(note.offset + note.length, end) - max(note.offset, start),
            ties=note.ties or note.offset + note.length > end,
        )
        for note in bar.notes
        if note.offset < end and note.offset + note.length > start
    )
    above = ((at - start, text) for at, text in bar.above if start <= at < end or at >= end == bar.length)
    return TuneBar(notes=tuple(notes), length=end - start, text=bar.text, above=tuple(above))


def _within(note: TuneNote, length: Fraction) -> TuneNote:
    return note if note.offset + note.length <= length else replace(note, length=length - note.offset)


def _numbers(text: str) -> Iterator[int]:
    for part in text.split(","):
        first, _, last = part.partition("-")
        if first[:3].isdecimal() and int(first[:3]):
            yield from range(int(first[:3]), min(99, int(last[:3]) if last[:3].isdecimal() else int(first[:3])) + 1)
