"""The song as a Standard MIDI File: what sounds, in the order of playing, one track a part.

Format 1, 480 ticks to a quarter note. The first track has tempo, meter, key and section names, and is called by the title.
Channels are those of the plain console: 1 tune, 2 the second manual, 4 pedal. The left hand has its touch and its swing; the
pedal plays the bass of each change, a little detached. All keys go down equally hard, as on an organ.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction

import mido

from charts.melody import joined, melody
from charts.route import Route
from liveassist.arranging.arrangement import ANSWER, FIGURE, Arrangement, Note
from liveassist.arranging.telling import DEFAULT_FULLNESS
from liveassist.page.score import faster, pedal_keys
from liveassist.page.spelling import page_key

TICKS = 480
VELOCITY = 80
DRAWBAR_ORGAN, CHURCH_ORGAN = 16, 19
"""General MIDI 1, programs counted from 0: 17 is a drawbar organ, 20 a church organ."""
DETACHED = Fraction(1, 8)
"""Quarter notes that the pedal is up before its next note."""

Sound = tuple[int, Fraction, Fraction]
"""Key, and where it goes down and comes up, in quarter notes."""


def midi_file(arrangement: Arrangement, *, fullness: int = DEFAULT_FULLNESS, tempo: float = 0.0) -> mido.MidiFile:
    """The file. ``tempo``: counted beats a minute at the start, 0 for the chart's.

    Raises ChartError where the chart's tune cannot be read.
    """
    route = arrangement.route
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    file.tracks.append(_conductor(route, tempo))
    tune = [(note.pitch, note.position, note.end) for note in joined(melody(route))]
    second = _sounds(note for note in arrangement.levels[fullness] if note.part in (FIGURE, ANSWER))
    for name, channel, program, sounds in (
        ("Melody", 0, CHURCH_ORGAN, tune),
        ("Left hand", 1, DRAWBAR_ORGAN, second),
        ("Pedal", 3, CHURCH_ORGAN, list(_pedal(route))),
    ):
        file.tracks.append(_track(name, channel, program, sounds))
    return file


def _sounds(notes: Iterable[Note]) -> list[Sound]:
    return [(note.pitch, note.position, note.position + note.length) for note in notes]


def _pedal(route: Route) -> Iterator[Sound]:
    """The bass of each change, a little detached."""
    for index, pitch in pedal_keys(route).items():
        change = route.changes[index]
        if not route.bars[change.bar].manuals_only:
            yield pitch, change.position, change.end - min(DETACHED, change.length / 4)


def _ticks(quarters: Fraction) -> int:
    return round(quarters * TICKS)


def _conductor(route: Route, tempo: float) -> mido.MidiTrack:
    """Tempo, meter, key and section names."""
    messages: list[tuple[int, mido.MetaMessage]] = []
    before = None
    for bar in route.bars:
        at, meter, key = _ticks(bar.position), bar.meter, page_key(bar.key)
        if before is None or bar.quarter_bpm != before.quarter_bpm:
            per_quarter = mido.bpm2tempo(bar.quarter_bpm * faster(route, tempo))
            messages.append((at, mido.MetaMessage("set_tempo", tempo=min(per_quarter, 0xFFFFFF))))
        if before is None or meter != before.meter:
            clocks = min(round(meter.counted_beat * 24), 255)
            messages.append(
                (
                    at,
                    mido.MetaMessage(
                        "time_signature", numerator=meter.beats, denominator=meter.unit, clocks_per_click=clocks
                    ),
                )
            )
        if before is None or key != page_key(before.key):
            messages.append((at, mido.MetaMessage("key_signature", key=key.name)))
        if bar.starts_section:
            messages.append((at, mido.MetaMessage("marker", text=bar.section)))
        before = bar
    return _laid([(0, mido.MetaMessage("track_name", name=route.chart.title)), *messages], _ticks(route.length))


def _track(name: str, channel: int, program: int, sounds: Iterable[Sound]) -> mido.MidiTrack:
    events = []
    for pitch, start, end in sounds:
        first = _ticks(start)
        last = max(_ticks(end), first + 1)
        events.append((first, 1, mido.Message("note_on", channel=channel, note=pitch, velocity=VELOCITY)))
        events.append((last, 0, mido.Message("note_off", channel=channel, note=pitch, velocity=0)))
    events.sort(key=lambda event: (event[0], event[1], event[2].note))
    begin = [
        (0, mido.MetaMessage("track_name", name=name)),
        (0, mido.Message("program_change", channel=channel, program=program)),
    ]
    return _laid([*begin, *((at, message) for at, _, message in events)], 0)


def _laid(messages: list[tuple[int, mido.Message | mido.MetaMessage]], end: int) -> mido.MidiTrack:
    """Messages at their times as a track, which ends with the last of them or later."""
    track, before = mido.MidiTrack(), 0
    for at, message in messages:
        track.append(message.copy(time=at - before))
        before = at
    track.append(mido.MetaMessage("end_of_track", time=max(0, end - before)))
    return track
