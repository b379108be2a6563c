"""The MIDI file, read by mido and by pretty_midi."""

from __future__ import annotations

import io
from collections import Counter

import mido
import pretty_midi
import pytest

from liveassist.page.midi import TICKS, midi_file


def heard(file: mido.MidiFile) -> pretty_midi.PrettyMIDI:
    written = io.BytesIO()
    file.save(file=written)
    written.seek(0)
    return pretty_midi.PrettyMIDI(written)


def test_one_track_a_part_with_its_name(song):
    file = midi_file(song)
    assert file.type == 1
    names = [next(message.name for message in track if message.type == "track_name") for track in file.tracks]
    assert names == [song.route.chart.title, "Melody", "Left hand", "Pedal"]


def test_every_note_that_begins_ends(song):
    for track in midi_file(song).tracks:
        down = Counter()
        for message in track:
            if message.type == "note_on":
                down[message.note] += 1
                assert down[message.note] == 1
            elif message.type == "note_off":
                down[message.note] -= 1
                assert not down[message.note]
        assert not any(down.values())


@pytest.mark.parametrize("fullness", [1, 4])
def test_the_left_hand_is_that_of_arrange(song, fullness):
    """Keys and times as pretty_midi reads them against the arrangement at the chart's tempo."""
    read = heard(midi_file(song, fullness=fullness))
    left = next(part for part in read.instruments if part.name == "Left hand")
    wanted = sorted((read.tick_to_time(round(note.position * TICKS)), note.pitch) for note in song.levels[fullness])
    found = sorted((note.start, note.pitch) for note in left.notes)
    assert [pitch for _, pitch in found] == [pitch for _, pitch in wanted]
    assert [start for start, _ in found] == pytest.approx([start for start, _ in wanted], abs=0.002)


def test_tempo_and_length_are_the_route_s(song):
    """Worked out from the bars: length in quarters over quarters a minute."""
    read = heard(midi_file(song))
    seconds = sum(float(bar.length) * 60 / bar.quarter_bpm for bar in song.route.bars)
    _, tempi = read.get_tempo_changes()
    assert tempi[0] == pytest.approx(song.route.bars[0].quarter_bpm, rel=1e-4)
    ticks = round(song.route.length * TICKS)
    assert read.tick_to_time(ticks) == pytest.approx(seconds, rel=1e-3)


def test_meter_and_key_as_a_reader_finds_them(arranged):
    song = arranged(
        "title = A\nkey = Eb\nmeter = 6/8\n\n== Verse ==\n| Eb |\n== B ==\nkey = Fm\nmeter = 4/4\n| Fm |]\n"
    )
    read = heard(midi_file(song))
    assert [(each.numerator, each.denominator) for each in read.time_signature_changes] == [(6, 8), (4, 4)]
    names = [pretty_midi.key_number_to_key_name(each.key_number) for each in read.key_signature_changes]
    assert names == ["Eb Major", "F minor"]


def test_another_tempo_moves_them_all(arranged):
    song = arranged("title = A\nkey = C\ntempo = 60\n\n== Verse ==\n| C |\n== B ==\ntempo = 120\n| F |]\n")
    _, tempi = heard(midi_file(song, tempo=90)).get_tempo_changes()
    assert list(tempi) == pytest.approx([90, 180], rel=1e-4)


def test_the_tune_is_heard_where_it_is_written(arranged):
    song = arranged("title = A\nkey = C\ntempo = 60\n\n== Verse ==\n| C | F |]\nmelody = C4 E4- | E4 F4 |\n")
    read = heard(midi_file(song))
    tune = next(part for part in read.instruments if part.name == "Melody")
    assert [(note.pitch, note.start, note.end) for note in tune.notes] == [
        (60, 0, 2),
        (64, 2, 6),
        (65, 6, 8),
    ]
