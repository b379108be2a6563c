"""One part of a MusicXML score, measure by measure: what stands where, before anything is chosen or merged.

Positions are quarter notes from the start of the measure. A duration is taken from note type, dots and tuplet where the written
duration is the same but for rounding. A part that states no divisions is given those that its first typed note comes to.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from xml.etree.ElementTree import Element

from charts.chart import Tempo
from charts.exchange.elements import TYPES
from charts.exchange.harmony import number
from charts.key import Key
from charts.meter import Meter
from charts.pitch import NATURAL, Spelling

_TYPES = {
    "maxima": Fraction(32),
    "long": Fraction(16),
    **{name: value for value, name in TYPES.items()},
    "128th": Fraction(1, 32),
}
ROUNDING = Fraction(1, 16)
"""Quarter notes by which a written duration may miss the exact one."""
MISSED = Fraction(1, 250)
"""Quarter notes by which a place may miss the exact one."""
LONGEST_BAR = 256
"""Quarter notes; a duration beyond that is a slip."""


@dataclass(slots=True)
class PartNote:
    offset: Fraction
    length: Fraction
    spelling: Spelling
    pitch: int
    voice: str
    staff: str
    ties: bool
    slash: bool
    """A slash in place of a note: rhythm, no pitch meant."""
    lyrics: list[tuple[str, str, str]] = field(default_factory=list)
    """Verse, syllabic, text."""
    hold: bool = False
    breath: bool = False


@dataclass(slots=True)
class Measure:
    """One measure of one part."""

    length: Fraction = Fraction(0)
    implicit: bool = False
    notes: list[PartNote] = field(default_factory=list)
    harmonies: list[tuple[Fraction, bool, Element]] = field(default_factory=list)
    """Offset, whether the page gives one itself, and the harmony."""
    words: list[tuple[Fraction, str]] = field(default_factory=list)
    rehearsal: str = ""
    signs: list[str] = field(default_factory=list)
    """segno, coda, and what sound elements say: dacapo, dalsegno, tocoda, fine."""
    key: tuple[int, str] | None = None
    """Sharps in the signature and the mode, empty where none is stated."""
    meter: Meter | None = None
    tempo: Tempo | None = None
    odd_meter: str = ""
    opens: bool = False
    closes: int | None = None
    """Times of a repeat that ends here; 0 where it does not say."""
    endings: tuple[int, ...] = ()
    ending_stops: bool = False
    barline: str = "|"
    new_line: bool = False
    hold: bool = False
    odd: list[str] = field(default_factory=list)


class PartReader:
    """Reads the measures of one part in order: divisions, meter and transposition hold from one to the next."""

    def __init__(self, measures: Sequence[Element]) -> None:
        self._divisions = _first_divisions(measures)
        self._meter = Meter(4, 4)
        self._steps, self._semitones = 0, 0

    def read(self, element: Element) -> Measure:
        measure = Measure(implicit=element.get("implicit") == "yes")
        now = latest = before = Fraction(0)
        for child in element:
            if child.tag == "note":
                length = self._length(child, measure)
                if child.find("chord") is not None:
                    self._note(child, before, length, measure)
                    continue
                before = now
                self._note(child, now, length, measure)
                now += length
            elif child.tag in ("backup", "forward"):
                length = self._duration(child)
                now = max(Fraction(0), now - length) if child.tag == "backup" else now + length
            elif child.tag == "attributes":
                self._attributes(child, measure)
            elif child.tag == "harmony":
                offset = child.find("offset")
                shift = self._units(offset.text) if offset is not None else Fraction(0)
                measure.harmonies.append((_exact(max(Fraction(0), now + shift)), offset is not None, child))
            elif child.tag == "direction":
                self._direction(child, now, measure)
            elif child.tag == "sound":
                _sound(child, measure)
            elif child.tag == "barline":
                _barline(child, measure)
            elif child.tag == "print":
                measure.new_line |= child.get("new-system") == "yes" or child.get("new-page") == "yes"
            latest = max(latest, now)
        measure.length = latest
        return measure

    # -- notes ----------------------------------------------------------------------------------------------------

    def _note(self, element: Element, at: Fraction, length: Fraction, measure: Measure) -> None:
        if element.find("grace") is not None or element.find("cue") is not None:
            return
        notations = element.find("notations")
        hold = notations is not None and notations.find("fermata") is not None
        breath = notations is not None and notations.find("articulations/breath-mark") is not None
        pitch = element.find("pitch")
        slash = (element.findtext("notehead") or "").strip() == "slash"
        if element.find("rest") is not None or (pitch is None and not slash and element.find("lyric") is None):
            measure.hold |= hold
            return
        if pitch is not None and number(pitch.findtext("alter")) % 1:
            measure.odd.append("a note between two semitones is written as the nearest")
        spelling, key = self._pitch(pitch)
        ties = any(tie.get("type") == "start" for tie in element.findall("tie"))
        measure.notes.append(
            PartNote(
                offset=at,
                length=length,
                spelling=spelling,
                pitch=key,
                voice=(element.findtext("voice") or "1").strip(),
                staff=(element.findtext("staff") or "1").strip(),
                ties=ties,
                slash=slash or pitch is None,
                lyrics=[
                    (
                        lyric.get("number") or "1",
                        (lyric.findtext("syllabic") or "single").strip(),
                        "".join((part.text or "") for part in lyric if part.tag in ("text", "elision")),
                    )
                    for lyric in element.findall("lyric")
                ],
                hold=hold,
                breath=breath,
            )
        )

    def _pitch(self, pitch: Element | None) -> tuple[Spelling, int]:
        if pitch is None:
            return Spelling("C"), 60
        letter = (pitch.findtext("step") or "C").strip().upper()
        alter = round(number(pitch.findtext("alter")))
        octave = round(number(pitch.findtext("octave")))
        spelling = Spelling(letter if letter in NATURAL else "C", max(-2, min(2, alter)))
        key = 12 * (octave + 1) + NATURAL[spelling.letter] + spelling.alter + self._semitones
        if self._steps or self._semitones:
            spelling = self.sounding(spelling)
        return spelling, max(0, min(127, key))

    def sounding(self, spelling: Spelling) -> Spelling:
        """A note of a transposing part as it sounds."""
        return spelling.transposed(self._steps, self._semitones)

    @property
    def transposes(self) -> tuple[int, int]:
        """Letter steps and semitones from what is written to what sounds, octaves aside."""
        return self._steps % 7, self._semitones % 12

    def _length(self, element: Element, measure: Measure) -> Fraction:
        if element.find("grace") is not None:
            return Fraction(0)
        if element.find("duration") is None:
            return _typed(element) or Fraction(0)
        length = self._duration(element)
        exact = _typed(element)
        if exact is not None and exact != length and abs(exact - length) <= ROUNDING:
            return exact
        return length

    def _duration(self, element: Element) -> Fraction:
        length = max(Fraction(0), self._units(element.findtext("duration")))
        # Whoever goes back too far means the beginning.
        return length if length <= LONGEST_BAR or element.tag == "backup" else Fraction(0)

    def _units(self, text: str | None) -> Fraction:
        value = number(text)
        return Fraction(value).limit_denominator(1000) / self._divisions

    # -- what is not notes ----------------------------------------------------------------------------------------

    def _attributes(self, element: Element, measure: Measure) -> None:
        divisions = Fraction(number(element.findtext("divisions"))).limit_denominator(1000)
        if divisions > 0:
            self._divisions = divisions
        for transpose in element.findall("transpose"):
            octaves = round(number(transpose.findtext("octave-change")))
            self._semitones = round(number(transpose.findtext("chromatic"))) + 12 * octaves
            self._steps = round(number(transpose.findtext("diatonic"))) + 7 * octaves
            if abs(self._semitones) > 48:
                self._semitones = self._steps = 0
        key = element.find("key")
        if key is not None and key.find("fifths") is not None:
            fifths = round(number(key.findtext("fifths")))
            if abs(fifths) <= 7:
                measure.key = fifths, (key.findtext("mode") or "").strip().casefold()
        if element.find("measure-style/measure-repeat[@type='start']") is not None:
            measure.odd.append("signs to repeat what stands before begin here; the bars have what is written in them")
        time = element.find("time")
        if time is not None and time.find("senza-misura") is None:
            self._time(time, measure)

    def _time(self, time: Element, measure: Measure) -> None:
        try:
            beats = [sum(map(int, (each.text or "").split("+"))) for each in time.findall("beats")]
            units = [int(each.text or "") for each in time.findall("beat-type")]
            length = sum((Fraction(4 * n, u) for n, u in zip(beats, units, strict=True)), Fraction(0))
            unit = max(units)
            self._meter = Meter(int(length * unit / 4), unit)
            measure.meter = self._meter
        except (ValueError, ZeroDivisionError):
            measure.odd_meter = (
                "/".join(filter(None, (time.findtext("beats"), time.findtext("beat-type")))) or "senza misura"
            )

    def _direction(self, element: Element, now: Fraction, measure: Measure) -> None:
        offset = element.find("offset")
        at = max(Fraction(0), now + (self._units(offset.text) if offset is not None else 0))
        said = []
        for kind in element.findall("direction-type"):
            for child in kind:
                if child.tag == "rehearsal":
                    measure.rehearsal = measure.rehearsal or " ".join((child.text or "").split())
                elif child.tag in ("segno", "coda"):
                    measure.signs.append(child.tag)
                elif child.tag == "words" and child.text and child.text.strip():
                    said.append(child.text)
                elif child.tag == "metronome":
                    measure.tempo = _metronome(child) or measure.tempo
                    if measure.tempo is None:
                        measure.odd.append(f'the tempo "{" ".join("".join(child.itertext()).split())}" cannot be read')
        if said:
            measure.words.append((at, " ".join(" ".join(said).split())))
        for sound in element.findall("sound"):
            _sound(sound, measure)


def _exact(place: Fraction) -> Fraction:
    """A place that misses a plain one by less than anybody can write."""
    plain = place.limit_denominator(48)
    return plain if abs(plain - place) <= MISSED else place


def _first_divisions(measures: Sequence[Element]) -> Fraction:
    """1, or what makes the first typed note as long as its type where the part states no divisions."""
    for measure in measures:
        if measure.find("attributes/divisions") is not None:
            return Fraction(1)
        for note in measure.findall("note"):
            typed, duration = _typed(note), number(note.findtext("duration"))
            if typed and duration > 0:
                return Fraction(duration).limit_denominator(1000) / typed
    return Fraction(1)


def _typed(note: Element) -> Fraction | None:
    """How long a note is by its type, dots and tuplet."""
    plain = _TYPES.get((note.findtext("type") or "").strip())
    if plain is None:
        return None
    dots = len(note.findall("dot"))
    length = plain * (2 - Fraction(1, 2**dots))
    actual = round(number(note.findtext("time-modification/actual-notes")))
    normal = round(number(note.findtext("time-modification/normal-notes")))
    return length * Fraction(normal, actual) if actual > 0 and normal > 0 else length


def _metronome(element: Element) -> Tempo | None:
    unit = _TYPES.get((element.findtext("beat-unit") or "").strip())
    per_minute = number((element.findtext("per-minute") or "").strip("c. =~"))
    if unit is None or not 1 <= per_minute <= 999:
        return None
    tempo = Tempo(unit * (Fraction(3, 2) if element.find("beat-unit-dot") is not None else 1), per_minute)
    return tempo if 1 <= tempo.quarter_bpm <= 999 else None


def _sound(element: Element, measure: Measure) -> None:
    for name in ("dacapo", "dalsegno", "tocoda", "fine", "segno", "coda"):
        value = element.get(name)
        if value and value != "no":
            measure.signs.append(name)
    bpm = number(element.get("tempo"))
    if 1 <= bpm <= 999 and measure.tempo is None:
        measure.tempo = Tempo(Fraction(1), round(bpm, 2))


def _barline(element: Element, measure: Measure) -> None:
    left = element.get("location") == "left"
    repeat = element.find("repeat")
    if repeat is not None and repeat.get("direction") == "forward":
        measure.opens = True
    elif repeat is not None:
        measure.closes = max(0, min(99, round(number(repeat.get("times")))))
    ending = element.find("ending")
    if ending is not None and ending.get("type") == "start":
        measure.endings = tuple(_endings(ending.get("number") or ending.text or "")) or (1,)
    elif ending is not None:
        measure.ending_stops = True
    style = (element.findtext("bar-style") or "").strip()
    if not left and style == "light-heavy":
        measure.barline = "|]"
    elif not left and style in ("light-light", "heavy-heavy", "heavy-light"):
        measure.barline = "||"
    for name in ("segno", "coda"):
        if element.find(name) is not None:
            measure.signs.append(name)
    measure.hold |= element.find("fermata") is not None


def _endings(text: str) -> Iterator[int]:
    for part in text.replace(".", ",").replace(" ", ",").split(","):
        first, _, last = part.partition("-")
        if first.isdecimal() and len(first) < 3 and int(first):
            yield from range(int(first), min(99, int(last) if last.isdecimal() and len(last) < 3 else int(first)) + 1)


def key_of(measure: Measure, steps: int, semitones: int) -> tuple[int, str] | None:
    """The signature of a measure as it sounds."""
    if measure.key is None:
        return None
    fifths, mode = measure.key
    if steps or semitones:
        tonic = Spelling("C")
        for _ in range(abs(fifths)):
            tonic = tonic.transposed(4, 7) if fifths > 0 else tonic.transposed(3, 5)
        fifths = (
            Key(tonic).lifted(semitones).fifths
            if not Key(tonic.transposed(steps, semitones)).usual
            else Key(tonic.transposed(steps, semitones)).fifths
        )
    return fifths, mode
