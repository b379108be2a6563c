"""Standard MIDI Files (SMF 1.0), read into a sheet: bars from the meter that the file states, chords from the notes.

Times are moved to the nearest sixteenth or triplet eighth. The tune is the track whose name says so (melody, tune, voice,
soprano, lead), else the one that lies highest; of notes together the highest. Drums (channel 10) are left out. A file has no
chord symbols: where its notes are no four-part writing, the notes of half a bar (of a whole one with an odd number of beats)
are taken together, so that a broken chord is one, and the chords are found as for a hymn. Marker texts are headings.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from fractions import Fraction

from charts.chart import Tempo
from charts.errors import ChartError
from charts.exchange.files import decoded
from charts.exchange.headings import heading
from charts.exchange.hymn import is_hymn, too_long, with_chords
from charts.exchange.settling import guessed_key, key_of_signature
from charts.exchange.sheet import Remark, Sheet, SheetBar, tune_note
from charts.key import Key
from charts.meter import Meter
from charts.pitch import simplest
from charts.tune import TuneNote

DRUMS = 9
"""Channel 10, counted from 0."""
LONGEST = 40_000
"""Quarter notes."""
MOST_NOTES = 200_000
_TUNE = re.compile(r"(?i)melod|tune|voice|vocal|sopran|lead|sing")


@dataclass(frozen=True, slots=True)
class Struck:
    """A note in quarter notes from the start."""

    start: Fraction
    end: Fraction
    pitch: int


@dataclass(slots=True)
class Track:
    name: str = ""
    notes: list[tuple[int, int, int, int]] = field(default_factory=list)
    """Start and end in ticks, pitch, channel."""


@dataclass(slots=True)
class Contents:
    """What a file holds, in ticks."""

    tracks: list[Track] = field(default_factory=list)
    meters: list[tuple[int, Meter]] = field(default_factory=list)
    keys: list[tuple[int, int, bool]] = field(default_factory=list)
    tempi: list[tuple[int, float]] = field(default_factory=list)
    markers: list[tuple[int, str]] = field(default_factory=list)
    odd: list[str] = field(default_factory=list)


def read_midi(data: bytes, source: str) -> list[Sheet]:
    """The song in a MIDI file. Raises ChartError where it is none, or has no notes."""
    if data[:4] != b"MThd" or len(data) < 14:
        raise ChartError.at(0, 0, "this is no Standard MIDI File: it should begin with MThd", source)
    division = int.from_bytes(data[12:14], "big")
    if division & 0x8000 or division == 0:
        raise ChartError.at(0, 0, "this file counts in seconds (SMPTE) and not in beats; bars cannot be found", source)
    contents = Contents()
    for chunk in _chunks(data[8 + int.from_bytes(data[4:8], "big") :], contents):
        _TrackReader(chunk, contents).read()
    return [_Sheeting(contents, division, source).sheet()]


def _chunks(data: bytes, contents: Contents) -> Iterator[bytes]:
    place = 0
    while place + 8 <= len(data):
        kind, length = data[place : place + 4], int.from_bytes(data[place + 4 : place + 8], "big")
        if kind == b"MTrk":
            if place + 8 + length > len(data):
                contents.odd.append("the file ends in the middle of a track; half a file, perhaps")
            yield data[place + 8 : place + 8 + length]
        place += 8 + length


class _TrackReader:
    """Reads the events of one track; what is cut off at its end is left out."""

    def __init__(self, data: bytes, contents: Contents) -> None:
        self.data = data
        self.contents = contents
        self.track = Track()
        self.place = 0

    def read(self) -> None:
        now, status = 0, 0
        sounding: dict[tuple[int, int], list[int]] = {}
        try:
            while self.place < len(self.data):
                now += self._number()
                if self.data[self.place] & 0x80:
                    status = self._byte()
                if status == 0xFF:
                    self._meta(now)
                elif status in (0xF0, 0xF7):
                    self.place += self._number()
                elif status >= 0x80:
                    self._channel(status, now, sounding)
                else:
                    self.place += 1
        except IndexError:
            self.contents.odd.append("a track ends in the middle of an event")
        for (channel, pitch), starts in sounding.items():
            self.track.notes.extend((start, now, pitch, channel) for start in starts if now > start)
        self.contents.tracks.append(self.track)

    def _channel(self, status: int, now: int, sounding: dict[tuple[int, int], list[int]]) -> None:
        kind, channel = status & 0xF0, status & 0x0F
        one = self._byte() & 0x7F
        two = 0 if kind in (0xC0, 0xD0) else self._byte() & 0x7F
        if kind == 0x90 and two:
            sounding.setdefault((channel, one), []).append(now)
        elif kind in (0x80, 0x90):
            starts = sounding.get((channel, one))
            if starts and len(self.track.notes) < MOST_NOTES:
                start = starts.pop(0)
                if now > start:
                    self.track.notes.append((start, now, one, channel))

    def _meta(self, now: int) -> None:
        kind = self._byte()
        length = self._number()
        data = self.data[self.place : self.place + length]
        self.place += length
        if kind == 0x03 and not self.track.name:
            self.track.name = " ".join(decoded(data).split())
        elif kind == 0x06 and data:
            self.contents.markers.append((now, " ".join(decoded(data).split())))
        elif kind == 0x51 and len(data) == 3 and any(data):
            self.contents.tempi.append((now, 60e6 / int.from_bytes(data, "big")))
        elif kind == 0x58 and len(data) >= 2 and 1 <= data[0] <= 99 and data[1] <= 5:
            self.contents.meters.append((now, Meter(data[0], 2 ** data[1])))
        elif kind == 0x59 and len(data) >= 2:
            fifths = data[0] - 256 if data[0] > 127 else data[0]
            if abs(fifths) <= 7:
                self.contents.keys.append((now, fifths, data[1] == 1))

    def _byte(self) -> int:
        value = self.data[self.place]
        self.place += 1
        return value

    def _number(self) -> int:
        """A number of variable length."""
        value = 0
        for _ in range(4):
            byte = self._byte()
            value = value << 7 | byte & 0x7F
            if not byte & 0x80:
                break
        return value


class _Sheeting:
    """Bars from what a file holds."""

    def __init__(self, contents: Contents, division: int, source: str) -> None:
        self.contents = contents
        self.division = division
        self.source = source
        self.remarks = [Remark(message=odd) for odd in contents.odd]

    def at(self, tick: int) -> Fraction:
        """Quarter notes, moved to the nearest sixteenth or triplet eighth."""
        exact = Fraction(tick, self.division)
        return min((Fraction(round(exact * grid), grid) for grid in (4, 3)), key=lambda near: abs(near - exact))

    def sheet(self) -> Sheet:
        tracks = [(track, self._struck(track)) for track in self.contents.tracks]
        tracks = [(track, notes) for track, notes in tracks if notes]
        if not tracks:
            raise ChartError.at(0, 0, "this file has no notes", self.source)
        end = max(note.end for _, notes in tracks for note in notes)
        if end > LONGEST:
            raise ChartError.at(0, 0, f"this file is longer than {LONGEST} beats, and no song is", self.source)
        tune = _melody([(track.name, notes) for track, notes in tracks])
        bars = list(self._bars(end))
        plain = self._filled(bars, tune, [note for _, notes in tracks for note in notes], sharps=True)
        key = self._key(plain)
        filled = self._filled(bars, tune, [note for _, notes in tracks for note in notes], sharps=key.sharps)
        tempo = min(self.contents.tempi, default=(0, 120.0))[1]
        name = next((track.name for track in self.contents.tracks[:1] if track.name), "")
        sheet = Sheet(
            title="" if _TUNE.search(name) else name,
            key=key,
            meter=filled[0].meter,
            tempo=Tempo(Fraction(1), float(round(min(999.0, max(1.0, tempo))))),
            bars=tuple(filled),
            remarks=tuple(self.remarks),
        )
        return sheet if is_hymn(sheet) or too_long(sheet) else self._by_half_bars(sheet)

    def _by_half_bars(self, sheet: Sheet) -> Sheet:
        """The chords of a piece that is no four-part writing: the notes of half a bar taken together."""
        together = []
        for bar in sheet.bars:
            whole = bar.meter.bar_length
            beat = whole if bar.meter.counted_beats % 2 else whole / 2
            voices = []
            for note in bar.voices:
                start = note.offset // beat * beat
                end = min(bar.length, -(-(note.offset + note.length) // beat) * beat)
                voices.append(replace(note, offset=start, length=end - start, ties=False))
            together.append(replace(bar, voices=tuple(dict.fromkeys(voices))))
        found = with_chords(replace(sheet, bars=tuple(together), remarks=()))
        bars = tuple(replace(bar, chords=each.chords) for bar, each in zip(sheet.bars, found.bars, strict=True))
        return replace(sheet, bars=bars, remarks=(*sheet.remarks, *found.remarks))

    def _struck(self, track: Track) -> list[Struck]:
        found = []
        for start, end, pitch, channel in track.notes:
            if channel == DRUMS:
                continue
            one, other = self.at(start), self.at(end)
            found.append(Struck(one, max(other, one + Fraction(1, 4)), pitch))
        return sorted(found, key=lambda note: (note.start, note.pitch))

    def _bars(self, end: Fraction) -> Iterator[tuple[Fraction, SheetBar]]:
        """Empty bars with their starts."""
        meters = sorted(((self.at(tick), meter) for tick, meter in self.contents.meters), key=lambda row: row[0])
        tempi = sorted({self.at(tick): bpm for tick, bpm in self.contents.tempi}.items())
        markers = [(self.at(tick), heading(text)) for tick, text in self.contents.markers]
        now, meter = Fraction(0), Meter(4, 4)
        while now < end:
            meter = next((each for at, each in reversed(meters) if at <= now), meter)
            until = min([now + meter.bar_length, *(at for at, _ in meters if at > now)])
            slow = [bpm for at, bpm in tempi if now <= at < until and at > 0]
            if slow and abs(slow[0] - tempi[0][1]) > tempi[0][1] / 10:
                message = f"the tempo changes to quarter {slow[0]:.0f} here; the chart keeps its own"
                self.remarks.append(Remark(message=message, lost=False))
            name = next((named[0] for at, named in markers if named and now <= at < until), "")
            yield now, SheetBar(length=until - now, meter=meter, heading=name)
            now = until

    def _filled(
        self,
        bars: Sequence[tuple[Fraction, SheetBar]],
        tune: Sequence[Struck],
        notes: Sequence[Struck],
        *,
        sharps: bool,
    ) -> list[SheetBar]:
        starts = [start for start, _ in bars]
        melody: list[list[TuneNote]] = [[] for _ in bars]
        voices: list[list[TuneNote]] = [[] for _ in bars]
        for row, into in ((tune, melody), (notes, voices)):
            for note in row:
                index = max(0, bisect_right(starts, note.start) - 1)
                at = note.start
                while at < note.end and index < len(bars):
                    start, bar = bars[index]
                    until = min(note.end, start + bar.length)
                    spelling = simplest(note.pitch % 12, sharps=sharps)
                    ties = until < note.end and index + 1 < len(bars)
                    into[index].append(tune_note(at - start, until - at, spelling, note.pitch, ties=ties))
                    at, index = until, index + 1
        return [
            replace(bar, notes=tuple(one), voices=tuple(all_))
            for (_, bar), one, all_ in zip(bars, melody, voices, strict=True)
        ]

    def _key(self, bars: Sequence[SheetBar]) -> Key:
        if not self.contents.keys:
            key = guessed_key(bars)
            self.remarks.append(Remark(message=f"no key is stated; {key.shown} fits best", lost=False))
            return key
        _, fifths, minor = min(self.contents.keys)
        if len({key[1:] for key in self.contents.keys}) > 1:
            self.remarks.append(Remark(message="the key changes within the file; the chart keeps the first"))
        key = key_of_signature(fifths, bars)
        relative = Key(key.tonic if key.minor else key.tonic.transposed(5, 9), minor=True)
        return relative if minor else key


def _melody(tracks: Sequence[tuple[str, Sequence[Struck]]]) -> list[Struck]:
    """One note at a time from the track that is the tune."""

    def height(notes: Sequence[Struck]) -> float:
        return sum(note.pitch for note in notes) / len(notes)

    _, notes = max(tracks, key=lambda row: (bool(_TUNE.search(row[0])), height(row[1])))
    highest: dict[Fraction, Struck] = {}
    for note in notes:
        if note.start not in highest or note.pitch > highest[note.start].pitch:
            highest[note.start] = note
    line = [highest[start] for start in sorted(highest)]
    ends = [note.start for note in line[1:]]
    cut = [replace(note, end=min(note.end, end)) for note, end in zip(line, [*ends, line[-1].end], strict=True)]
    return [note for note in cut if note.end > note.start]
