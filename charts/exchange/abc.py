"""ABC (standard 2.1), read into sheets: one for each tune of a file.

Read: the header's fields, parts (``P:``) and their order, chord symbols in quotes, repeats, endings and signs, changes of key,
meter and tempo in the line or between lines, aligned words (``w:``), several voices (the first is the tune). Every bar of the
page is a bar of the sheet, as long as its notes. A church mode is written as the major or minor key of its tonic, the notes as
they sound. What stands in quotes and begins like no chord is told as words.
"""

from __future__ import annotations

import html
import re
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from charts.chart import BAR_MARKS, BREATH, CODA, DC, DS, FINE, HOLD, SEGNO, TO_CODA, Tempo
from charts.errors import ChartError
from charts.exchange.abc_words import put_words
from charts.exchange.files import decoded
from charts.exchange.headings import chord_word, heading, jump_or_mark, section_name
from charts.exchange.settling import UNTOLD, bracketed, guessed_key, settled_repeats
from charts.exchange.sheet import Remark, Sheet, SheetBar, SheetChord, fitting_meter, with_marks
from charts.key import Key
from charts.marks import in_order
from charts.meter import Meter, read_meter
from charts.pitch import Spelling, read_spelling
from charts.tune import Tune, TuneBar, TuneNote, signs

_FIELD = re.compile(r"^([A-Za-z+]):(?![|:])(.*)$")
_MINOR_MODES = ("m", "min", "aeo", "dor", "phr", "loc")
_PLAIN_MODES = ("", "maj", "ion", "m", "min", "aeo")
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
_ACCENTS = {"`": "\u0300", "'": "\u0301", "^": "\u0302", "~": "\u0303", '"': "\u0308", "c": "\u0327", "r": "\u030a"}
MOST_TUNES = 5000
MOST_BARS = 4000
LONGEST_LINE = 5000
LONGEST_BAR = 2000
"""Characters; a longer one has lost its barlines."""
ONE_VOICE = ""


def read_abc(data: bytes, source: str) -> list[Sheet]:
    """The tunes of an ABC file. Raises ChartError where there are none."""
    text = re.sub(r"\r\n?", "\n", decoded(data)).replace("\0", "")
    sheets = [_AbcTune(lines, common).sheet() for lines, common in _tunes(text)]
    if not sheets:
        raise ChartError.at(0, 0, "there is no tune in this; a tune in ABC begins with X: and has a key, K:", source)
    return sheets


def _tunes(text: str) -> Iterator[tuple[list[str], list[str]]]:
    """The lines of each tune, and the fields that the file states for all."""
    common: list[str] = []
    lines: list[str] = []
    found = 0
    for line in [*text.split("\n"), "X:"]:
        if re.match(r"X\s*:", line):
            if any(each.startswith("K:") for each in lines):
                found += 1
                if found > MOST_TUNES:
                    return
                yield lines, common
            elif not found and not common:
                common = [each for each in lines if _FIELD.match(each)]
            lines = []
        lines.append(line)


@dataclass(slots=True)
class _Voice:
    """The bars of one voice as they come."""

    tune: Tune
    bars: list[SheetBar] = field(default_factory=list)
    ends: list[bool] = field(default_factory=list)
    chunk: str = ""
    opens: bool = False
    endings: tuple[int, ...] = ()
    line_notes: list[int] = field(default_factory=list)
    """For each note of the latest line of music the bar that it stands in."""
    verse: int = 0


class _AbcTune:
    """One tune."""

    def __init__(self, lines: Sequence[str], common: Sequence[str]) -> None:
        self.lines = lines
        self.titles: list[str] = []
        self.credits: list[str] = []
        self.meter = Meter(4, 4)
        self.free = False
        self.stated_unit: str | None = None
        self.key: Key | None = None
        self.key_text = ""
        self.tempo_text = ""
        self.order = ""
        self.remarks: list[Remark] = []
        self.voices: dict[str, _Voice] = {}
        self.voice = ONE_VOICE
        self.pending: dict[str, object] = {}
        """Heading, key and tempo for the next bar."""
        for line in common:
            self._header(line)

    def sheet(self) -> Sheet:
        body = False
        for whole in self.lines:
            line = whole[:LONGEST_LINE]
            if len(whole) > LONGEST_LINE:
                self._tell(0, f"a line has more than {LONGEST_LINE} characters; the rest of it is left out")
            bare = re.sub(r"(?<!\\)%.*$", "", line).rstrip()
            if not bare.strip():
                continue
            if not body:
                self._header(bare)
                if bare.startswith("K:"):
                    body = True
                continue
            if line.rstrip() and re.match(r"[wW]:", bare):
                self._words(bare)
            else:
                self._body(bare)
        first = self._voice(next(iter(self.voices), ONE_VOICE))
        self._finish()
        return self._sheet(first)

    # -- header ---------------------------------------------------------------------------------------------------

    def _header(self, line: str) -> None:
        match = _FIELD.match(line)
        if match is None:
            return
        name, value = match[1], match[2].strip()
        if name == "T" and value:
            self.titles.append(_plain(value))
        elif name in "CO" and value:
            self.credits.append(f"{'composer' if name == 'C' else 'origin'}: {_plain(value)}")
        elif name == "M":
            self.meter, self.free = self._meter(value, 0)
        elif name == "L":
            self.stated_unit = value.replace(" ", "")
        elif name == "Q":
            self.tempo_text = value
        elif name == "P":
            self.order = value
        elif name == "K":
            self.key_text = value
            self.key = self._key(value, 0)
        elif name == "V":
            return

    def _meter(self, value: str, bar: int) -> tuple[Meter, bool]:
        """A meter, and whether the bars are free."""
        plain = value.replace(" ", "").strip()
        if plain in ("C", "c"):
            return Meter(4, 4), False
        if plain in ("C|", "c|"):
            return Meter(2, 2), False
        if plain.casefold() in ("none", ""):
            return Meter(4, 4), True
        added = re.fullmatch(r"\(?(\d+(?:\+\d+)+)\)?/(\d+)", plain)
        if added and len(plain) < 20:
            plain = f"{sum(map(int, added[1].split('+')))}/{added[2]}"
        try:
            return read_meter(plain), False
        except ValueError as error:
            self._tell(bar, f"{error}; {self.meter.name} is written")
            return self.meter, False

    def _key(self, value: str, bar: int) -> Key | None:
        words = re.sub(r"(?i)\b(?:clef|octave|transpose|middle|stafflines|shift|name|style)=\S*", "", value)
        words = re.sub(r"(?i)\b(?:treble|bass|alto|tenor|perc)\S*|[\^_=]{1,2}[A-Ga-g]\b|\bexp\b", "", words).strip()
        if words.casefold() in ("", "none"):
            return None
        if words in ("HP", "Hp"):
            return Key(Spelling("A"))
        read = read_spelling(words[:1].upper() + words[1:])
        if read is None:
            self._tell(bar, f'the key "{value}" cannot be read')
            return None
        tonic, rest = read
        mode = rest.strip().casefold()[:3] if rest.strip() != "M" else ""
        mode = mode if mode in (*_MINOR_MODES, *_PLAIN_MODES, "mix", "lyd") else mode[:1] if mode[:1] == "m" else ""
        key = Key(tonic, minor=mode in _MINOR_MODES)
        if mode not in _PLAIN_MODES:
            self._tell(bar, f'"{value}" is written as {key.shown}', lost=False)
        return key if key.usual else Key(tonic).lifted(0)

    def _tempo(self, value: str) -> Tempo | None:
        plain = re.sub(r'"[^"]*"', "", value).strip()
        match = re.search(
            r"(?:(?P<values>(?:\d{1,2}/\d{1,3}\s*)+)|(?P<unit>[A-Z]\d*))?\s*=?\s*(?P<number>\d{1,3}(?:\.\d+)?)", plain
        )
        if match is None:
            return None
        if match["values"]:
            length = Fraction(0)
            for part in match["values"].split():
                top, _, below = part.partition("/")
                length += Fraction(4 * int(top), max(1, int(below)))
        else:
            length = self._unit(self.meter)
        number = float(match["number"])
        tempo = Tempo(length, number)
        return tempo if 1 <= number <= 999 and 1 <= tempo.quarter_bpm <= 999 else None

    def _unit(self, meter: Meter) -> Fraction:
        match = re.fullmatch(r"1/(\d{1,3})", self.stated_unit or "")
        if match and int(match[1]):
            return Fraction(4, int(match[1]))
        return Fraction(1, 4) if meter.bar_length < 3 else Fraction(1, 2)

    def _tell(self, bar: int, message: str, *, lost: bool = True) -> None:
        remark = Remark(bar=bar, message=message, lost=lost)
        if remark not in self.remarks:
            self.remarks.append(remark)

    # -- body -----------------------------------------------------------------------------------------------------

    def _voice(self, name: str) -> _Voice:
        if name not in self.voices:
            tune = Tune(Key(Spelling("C")), self.meter)
            for value in (f"[L:{self.stated_unit}]" if self.stated_unit else "", f"[K:{_tune_key(self.key_text)}]"):
                try:
                    tune.read(value)
                except ValueError:
                    self._tell(0, f'"{value.strip("[]")}" cannot be read', lost=True)
            self.voices[name] = _Voice(tune)
        return self.voices[name]

    def _body(self, line: str) -> None:
        match = _FIELD.match(line)
        if match:
            self._field(match[1], match[2].strip())
            return
        voice = self._voice(self.voice)
        voice.line_notes = []
        voice.verse = 0
        if voice.bars and not voice.chunk.strip():
            self.pending.setdefault("new_line", True)
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

    def _unknown(self, voice: _Voice, text: str) -> None:
        bar = len(voice.bars) + 1
        if text == "&":
            self._tell(bar, "a second voice in one bar (&) is left out")
            voice.chunk += "\x01"
        elif text != "!":  # alone it is an old sign for a new line
            self._tell(bar, f'the sign "{text}" is not understood')

    def _field(self, name: str, value: str) -> None:
        if name == "V":
            self.voice = (value.split() or [ONE_VOICE])[0]
            return
        voice = self._voice(self.voice)
        bar = len(voice.bars) + 1
        if name == "K":
            self._into(voice, f"[K:{_tune_key(value)}]")
            if self._is_first(voice):
                key = self._key(value, bar)
                if key is not None:
                    self.pending["key"] = key
        elif name == "M":
            self.meter, self.free = self._meter(value, bar)
        elif name == "L":
            self.stated_unit = value.replace(" ", "")
            self._into(voice, f"[L:{self.stated_unit}]")
        elif name == "Q":
            self.pending["tempo"] = self._tempo(value)
        elif name == "P":
            self.pending["heading"] = _plain(value)
        elif name == "T" and value:
            self._tell(bar, f'the title "{_plain(value)}" inside the tune is not taken', lost=False)

    def _into(self, voice: _Voice, text: str) -> None:
        """A field for the tune's own reader, where it stands."""
        voice.chunk += text

    def _is_first(self, voice: _Voice) -> bool:
        return voice is next(iter(self.voices.values()))

    def _barline(self, voice: _Voice, text: str) -> None:
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

    def _close_bar(self, voice: _Voice) -> bool:
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
            self._add(voice, bar, kept)
        return True

    def _after_all(self, voice: _Voice, said: Sequence[str]) -> None:
        """Signs that stand in no bar of their own: they belong to the bar before."""
        if not voice.bars or not said:
            return
        last = voice.bars[-1]
        _, marks, change_marks = self._above(len(voice.bars), [(last.length, text) for text in said], last.length)
        chords = tuple(with_marks(last.chords, change_marks))
        voice.bars[-1] = replace(last, marks=in_order((*last.marks, *marks)), chords=chords)

    def _add(self, voice: _Voice, tune: TuneBar, text: str) -> None:
        if len(voice.bars) >= MOST_BARS:
            self._tell(0, f"there are more than {MOST_BARS} bars; the rest is left out")
            return
        number = len(voice.bars) + 1
        length = tune.length if tune.length is not None else self.meter.bar_length
        meter = self.meter
        if self.free:
            meter = fitting_meter(length, Meter(4, 4)) or self.meter
        if fitting_meter(length, meter) is None:
            whole = min(meter.bar_length, -(-length // Fraction(1, 2)) * Fraction(1, 2))
            self._tell(number, f"this bar is {length} quarter notes long, which no meter is; {whole} are written")
            length = whole if fitting_meter(whole, meter) else meter.bar_length
        chords, marks, change_marks = self._above(number, tune.above, length)
        for letter in re.findall(
            r"[HOS](?=[\^_=A-Ga-gz(\[\"!~.])", re.sub(r'"[^"]*"|![^!]*!|\[[A-Za-z]:[^\]]*\]', "", text)
        ):
            mark = _LETTERS[letter]
            if mark in BAR_MARKS:
                marks.append(mark)
            else:
                change_marks.append((length, mark))
        chords = with_marks(chords, change_marks)
        pending = self.pending if self._is_first(voice) else {}
        notes = tuple(_within(note, length) for note in tune.notes if note.offset < length)
        voice.bars.append(
            SheetBar(
                length=length,
                meter=meter,
                chords=tuple(chords),
                notes=notes,
                voices=notes,
                marks=in_order(tuple(marks)),
                opens_repeat=voice.opens,
                endings=voice.endings,
                key=pending.get("key"),  # type: ignore[arg-type]
                tempo=pending.get("tempo"),  # type: ignore[arg-type]
                heading=section_name(str(pending.get("heading") or "")),
                new_line=bool(pending.get("new_line")),
                phrase_end=any(mark in (HOLD, BREATH) for _, mark in change_marks),
            )
        )
        voice.ends.append(False)
        voice.opens, voice.endings = False, ()
        if self._is_first(voice):
            self.pending = {}

    def _above(
        self, number: int, above: Sequence[tuple[Fraction, str]], length: Fraction
    ) -> tuple[list[SheetChord], list[str], list[tuple[Fraction, str]]]:
        """The chords above a bar, and its marks."""
        chords: list[SheetChord] = []
        marks: list[str] = []
        change_marks: list[tuple[Fraction, str]] = []
        for at, quoted in above:
            text = quoted[1:-1]
            if quoted[0] in "!+":
                mark = _DECORATIONS.get(re.sub(r"\s", "", text.casefold()))
                if mark in BAR_MARKS:
                    marks.append(mark)
                elif mark:
                    change_marks.append((at, mark))
            elif quoted[0] == '"':
                self._quoted(number, at, text, chords, marks, change_marks)
        kept: dict[Fraction, SheetChord] = {}
        for each in chords:
            if each.offset >= length and kept:
                self._tell(number, f"{each.chord.symbol} stands behind the bar's last note; it is left out")
            elif each.offset in kept and kept[each.offset].chord != each.chord:
                share = (length - each.offset) / 2
                self._tell(
                    number,
                    f"{kept[each.offset].chord.symbol} and {each.chord.symbol} stand at one place; they share it",
                )
                kept.setdefault(each.offset + share, replace(each, offset=each.offset + share))
            else:
                kept.setdefault(min(each.offset, length), each)
        return [kept[at] for at in sorted(kept)], marks, change_marks

    def _quoted(
        self,
        number: int,
        at: Fraction,
        text: str,
        chords: list[SheetChord],
        marks: list[str],
        change_marks: list[tuple[Fraction, str]],
    ) -> None:
        annotation = text[:1] in "^_<>@" and text[:1] != ""
        plain = _plain(re.sub(r"^(?:[\^_<>]|@[-\d.,\s]*)", "", text)).strip()
        mark = jump_or_mark(plain) if plain else None
        named = heading(plain) if plain else None
        if not annotation and plain:
            chord = chord_word(plain) or chord_word(re.split(r"[;\n]|(?<=.)\(", plain)[0].strip())
            if chord is not None:
                chords.append(SheetChord(offset=at, chord=chord))
                if chord_word(plain) is None:
                    self._tell(number, f'of "{plain}" the first chord is taken', lost=False)
                return
        if mark and mark[1]:
            marks.append(mark[0])
        elif mark:
            change_marks.append((at, mark[0]))
        elif named:
            self.pending.setdefault("heading", named[0])
        elif plain:
            meant = not annotation and re.match(r"[A-GNac-g](?![a-z]{3})", plain) is not None
            told = f'the chord "{plain[:40]}" cannot be read' if meant else f'the words "{plain[:40]}" are not taken'
            self._tell(number, told, lost=meant)

    # -- words ----------------------------------------------------------------------------------------------------

    def _words(self, line: str) -> None:
        voice = self._voice(self.voice)
        if line[0] == "W":
            self._tell(0, f'the words "{_plain(line[2:])[:40]}" stand below the tune and belong to no bar')
            return
        put_words(voice.bars, voice.line_notes, _plain(line[2:], words=True), voice.verse, self._pending_bar(voice))
        voice.verse += 1

    def _pending_bar(self, voice: _Voice) -> int:
        """How many bars there are when the bar under way has ended, too: words may reach into it."""
        if voice.chunk.strip():
            self._close_bar(voice)
        return len(voice.bars)

    # -- all together ---------------------------------------------------------------------------------------------

    def _finish(self) -> None:
        for voice in self.voices.values():
            self._close_bar(voice)

    def _sheet(self, first: _Voice) -> Sheet:
        others = [voice for voice in self.voices.values() if voice is not first and voice.bars]
        bars = list(first.bars)
        if others:
            message = f"{len(others) + 1} voices; the first is the tune, chords are taken from all"
            self._tell(0, message, lost=False)
            for index, bar in enumerate(bars):
                also = [voice.bars[index] for voice in others if index < len(voice.bars)]
                chords = bar.chords or next((each.chords for each in also if each.chords), ())
                voices = tuple(note for each in (bar, *also) for note in each.notes)
                bars[index] = replace(bar, chords=chords, voices=voices)
        bars = bracketed(bars, first.ends)
        bars, odd = settled_repeats(bars)
        key = self.key or (guessed_key(bars) if bars else None)
        if self.key is None and key is not None:
            self._tell(0, f"no key is stated; {key.shown} fits best", lost=False)
        roadmap = tuple(section_name(name) for name in _order(self.order))
        headings = {bar.heading.casefold() for bar in bars}
        if any(name.casefold() not in headings for name in roadmap):
            if headings != {""}:
                self._tell(
                    0, f'the order of parts "{self.order}" names parts that are not there; they stand as written'
                )
            roadmap = ()
        return Sheet(
            title=self.titles[0] if self.titles else "",
            key=key,
            meter=bars[0].meter if bars else self.meter,
            tempo=self._tempo(self.tempo_text) if self.tempo_text else None,
            notes="; ".join(dict.fromkeys(self.credits)),
            bars=tuple(bars),
            remarks=(*self.remarks, *odd),
            roadmap=roadmap,
        )


def _within(note: TuneNote, length: Fraction) -> TuneNote:
    return note if note.offset + note.length <= length else replace(note, length=length - note.offset)


def _tune_key(text: str) -> str:
    """A key as ``charts.tune`` reads it; none where it does not."""
    plain = re.sub(r"(?i)\b(?:shift|name|style)=\S*|\bexp\b|[\^_=]{1,2}[A-Ga-g]\b", "", text).strip()
    if plain in ("HP", "Hp"):
        return "D"
    plain = plain[:1].upper() + plain[1:]
    read = read_spelling(plain)
    if read is None:
        return "none"
    mode = re.match(r"\s*([A-Za-z]*)", read[1])
    word = (mode[1] if mode else "").casefold()[:3]
    known = ("maj", "ion", "m", "min", "aeo", "mix", "dor", "phr", "lyd", "loc")
    return read[0].name + (word if word in known and (mode is None or mode[1] != "M") else "")


def _numbers(text: str) -> Iterator[int]:
    for part in text.split(","):
        first, _, last = part.partition("-")
        if first[:3].isdecimal() and int(first[:3]):
            yield from range(int(first[:3]), min(99, int(last[:3]) if last[:3].isdecimal() else int(first[:3])) + 1)


def _order(text: str) -> list[str]:
    """``A2(BC)2`` as A A B C B C. Nothing where it is not of that form."""
    plain = re.sub(r"[.\s]", "", text)
    if not re.fullmatch(r"[A-Za-z0-9()]*", plain) or len(plain) > 200:
        return []
    rows: list[list[str]] = [[]]
    for sign in re.findall(r"[A-Za-z]|\d+|[()]", plain):
        if sign == "(":
            rows.append([])
        elif sign == ")" and len(rows) > 1:
            rows[-2].append(" ".join(rows.pop()))
        elif sign.isdecimal() and rows[-1]:
            rows[-1][-1] = " ".join([rows[-1][-1]] * min(9, int(sign[:2])))
        elif sign.isalpha():
            rows[-1].append(sign)
        if sum(len(part) for row in rows for part in row) > 4000:
            return []
    return " ".join(part for row in rows for part in row).split()


def _plain(text: str, *, words: bool = False) -> str:
    """Text with the standard's accents and entities as letters."""

    def accent(match: re.Match[str]) -> str:
        return unicodedata.normalize("NFC", match[2] + _ACCENTS[match[1]])

    plain = re.sub(r"""\\([`'^~"cr])([A-Za-z])""", accent, text)
    plain = re.sub(r"\\u([0-9A-Fa-f]{4})", lambda match: chr(int(match[1], 16)), plain)
    plain = re.sub(r"[\ud800-\udfff]", "", html.unescape(plain))
    return plain if words else " ".join(plain.replace("\\", "").split())
