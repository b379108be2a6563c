"""Standard MIDI Files (SMF 1.0) made by mido, a second implementation of the standard."""

from __future__ import annotations

import io
from fractions import Fraction

import mido
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.errors import ChartError
from charts.exchange.charting import chart_of
from charts.exchange.door import sheets_of
from charts.exchange.sheet import Sheet

QUARTER = 480


def _file(*tracks: tuple[str, list[tuple[int, int, int]]], meter: tuple[int, int] = (4, 4), key: str = "G") -> bytes:
    """Tracks of (start, length, pitch) in ticks."""
    song = mido.MidiFile(ticks_per_beat=QUARTER)
    head = mido.MidiTrack()
    head.append(mido.MetaMessage("time_signature", numerator=meter[0], denominator=meter[1]))
    head.append(mido.MetaMessage("key_signature", key=key))
    head.append(mido.MetaMessage("set_tempo", tempo=mido.bpm2tempo(96)))
    song.tracks.append(head)
    for name, notes in tracks:
        track = mido.MidiTrack([mido.MetaMessage("track_name", name=name)])
        events = [(start, 1, pitch) for start, _, pitch in notes] + [
            (start + length, 0, p) for start, length, p in notes
        ]
        now = 0
        for at, on, pitch in sorted(events):
            track.append(mido.Message("note_on", note=pitch, velocity=64 * on, time=at - now))
            now = at
        song.tracks.append(track)
    data = io.BytesIO()
    song.save(file=data)
    return data.getvalue()


def _read(data: bytes) -> Sheet:
    (sheet,) = sheets_of(data, "song.mid", ".mid")
    return sheet


def _chord(at: int, *pitches: int, length: int = 4) -> list[tuple[int, int, int]]:
    return [(at * QUARTER, length * QUARTER, pitch) for pitch in pitches]


SONG = [*_chord(0, 43, 55, 59, 62), *_chord(4, 48, 55, 60, 64), *_chord(8, 50, 57, 60, 66), *_chord(12, 43, 55, 59, 67)]


def test_bars_key_tempo_and_chords() -> None:
    sheet = _read(_file(("Organ", SONG)))
    assert sheet.key is not None
    assert sheet.tempo is not None
    assert (sheet.key.name, sheet.meter.name, sheet.tempo.per_minute, len(sheet.bars)) == ("G", "4/4", 96, 4)
    chart = chart_of(sheet).chart
    assert [bar.changes[0].chord.symbol for bar in chart.sections[0].bars] == ["G", "C", "D7", "G"]


def test_a_broken_chord_is_one_chord() -> None:
    notes = [(index * 240, 240, pitch) for index, pitch in enumerate([43, 59, 62, 59, 43, 59, 62, 59])]
    sheet = _read(_file(("Organ", notes)))
    assert {each.chord.symbol for each in sheet.bars[0].chords} == {"G"}


def test_the_tune_is_the_track_that_says_so() -> None:
    tune = [(0, QUARTER, 50), (QUARTER, QUARTER, 52)]
    sheet = _read(_file(("Organ", SONG), ("Melody", tune)))
    assert [note.pitch for note in sheet.bars[0].notes] == [50, 52]


def test_notes_played_a_little_late_are_moved_to_their_place() -> None:
    sheet = _read(_file(("Melody", [(7, QUARTER - 20, 67), (QUARTER + 12, QUARTER, 69), (2 * QUARTER + 160, 150, 71)])))
    assert [note.offset for note in sheet.bars[0].notes] == [0, 1, Fraction(7, 3)]


def test_half_a_file_is_told() -> None:
    data = _file(("Organ", SONG))
    sheet = _read(data[:-20])
    assert any("half a file" in remark.message for remark in sheet.remarks if remark.lost)


def test_what_is_no_midi_file_is_refused() -> None:
    with pytest.raises(ChartError, match="MThd"):
        _read(b"RIFF and so on and on")
    with pytest.raises(ChartError, match="no notes"):
        _read(_file())


@settings(max_examples=150, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 0.999), st.integers(0, 255)), max_size=8), st.floats(0.3, 1))
def test_a_damaged_file_is_read_or_refused(damage: list[tuple[float, int]], kept: float) -> None:
    data = bytearray(_file(("Organ", SONG)))
    for where, value in damage:
        data[int(where * len(data))] = value
    try:
        for sheet in sheets_of(bytes(data[: int(kept * len(data))]), "song.mid", ".mid"):
            chart_of(sheet)
    except ChartError:
        return
