"""Takes: written as they happen, read back. Standard MIDI Files 1.0 is the outside check for what is made from MIDI files."""

from __future__ import annotations

import errno
import json
import os
from dataclasses import fields
from fractions import Fraction
from pathlib import Path
from typing import Any

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.band.events import (
    DIVISIONS,
    Action,
    BeatIs,
    ClockSays,
    DivisionBack,
    DivisionLost,
    Event,
    KeyDown,
    KeyUp,
    Nodded,
    NodTaken,
    NoteOff,
    NoteOn,
    PlaceIs,
    ShoeMoved,
    StateIs,
    SwitchPressed,
    Told,
)
from liveassist.console.profile import PLAIN
from liveassist.console.take_lines import ACTIONS, EVENTS, as_json, as_line, from_json, header_as_json
from liveassist.console.takes import Header, TakeWriter, open_take, read_take, take_from_midi
from liveassist.errors import PlayerError

HEADER = Header(program="1.2.3", started="2026-01-04T10:00:00+00:00", title="Quay ♭", chart="title = Quay\n", seed=7)
FOOT = KeyDown(at=1.25, heard=1.2507, division="pedal", key=38)
CHORD = NoteOn(at=1.2507, part="figure", pitch=62, position=Fraction(129, 2))


def written(path: Path, *things: Event | Action) -> Path:
    take = TakeWriter(path, HEADER)
    for thing in things:
        if isinstance(thing, Event):
            take.event(thing)
        else:
            take.action(thing)
    take.close()
    return path


# -- round trips --------------------------------------------------------------------------------------------------------

TIMES = st.floats(0, 1e5, allow_nan=False)
TEXTS = st.text(st.characters(blacklist_categories=("Cs",)), max_size=20)
FIELDS: dict[str, st.SearchStrategy[Any]] = {
    "at": TIMES,
    "heard": TIMES,
    "division": st.sampled_from(DIVISIONS),
    "key": st.integers(0, 127),
    "pitch": st.integers(0, 127),
    "unit": st.sampled_from(["change", "bar", "section"]),
    "argument": st.none() | st.integers(0, 99),
    "position": st.fractions(0, 1000, max_denominator=960),
    "change": st.integers(0, 999),
    "bpm": st.floats(20, 400),
    "sure": st.floats(0, 1),
    "part": st.sampled_from(["figure", "answer", "bass", "click"]),
    "nod": TEXTS,
    "state": TEXTS,
    "text": TEXTS,
    "sign": st.sampled_from(["", "waiting"]),
    "kind": TEXTS,
    "strength": st.integers(1, 127),
    "what": st.sampled_from(["tick", "start", "continue", "stop"]),
    "value": st.integers(0, 127),
}


def any_of(*kinds: type) -> st.SearchStrategy[Any]:
    return st.one_of([st.builds(kind, **{item.name: FIELDS[item.name] for item in fields(kind)}) for kind in kinds])


EVENT = any_of(KeyDown, KeyUp, SwitchPressed, ShoeMoved, Nodded, DivisionLost, DivisionBack, ClockSays)
ACTION = any_of(NoteOn, NoteOff, PlaceIs, BeatIs, StateIs, NodTaken, Told)


def test_every_event_and_action_has_a_row() -> None:
    for rows, kind in ((EVENTS, Event), (ACTIONS, Action)):
        assert {row.__name__ for row in rows.values()} == {each.__name__ for each in kind.__subclasses__()}


@given(EVENT | ACTION)
def test_an_event_or_action_written_and_read_is_the_same(thing: Event | Action) -> None:
    assert from_json(json.loads(as_line(as_json(thing)))) == thing


@given(st.lists(EVENT | ACTION, max_size=8))
def test_a_take_written_and_read_is_the_same(
    tmp_path_factory: pytest.TempPathFactory, things: list[Event | Action]
) -> None:
    take = read_take(written(tmp_path_factory.mktemp("take") / "take.jsonl", *things))
    assert take.header == HEADER
    assert list(take.events) == [thing for thing in things if isinstance(thing, Event)]
    assert list(take.actions) == [thing for thing in things if isinstance(thing, Action)]
    assert take.remarks == ()


def test_the_lines_are_for_people_too(tmp_path: Path) -> None:
    lines = written(tmp_path / "take.jsonl", FOOT, CHORD).read_text(encoding="utf-8").splitlines()
    assert json.loads(lines[0])["take"] == 1
    assert json.loads(lines[0])["title"] == "Quay ♭"
    assert json.loads(lines[1]) == {"event": "key down", "at": 1.25, "heard": 1.2507, "division": "pedal", "key": 38}
    assert json.loads(lines[2]) == {
        "action": "note on",
        "at": 1.2507,
        "part": "figure",
        "pitch": 62,
        "position": "129/2",
    }


# -- writing ------------------------------------------------------------------------------------------------------------


def test_a_take_is_written_while_it_happens(tmp_path: Path, until: Any) -> None:
    """What was handed over is on the disk in a moment, without closing: a crash loses no more."""
    take = TakeWriter(tmp_path / "take.jsonl", HEADER)
    take.event(FOOT)
    until(lambda: Path(take.path).read_bytes().count(b"\n") == 2)  # the header and the foot
    assert read_take(take.path).events == (FOOT,)
    take.close()


def test_an_older_take_is_never_written_over(tmp_path: Path) -> None:
    path = written(tmp_path / "take.jsonl", FOOT)
    with pytest.raises(PlayerError, match="there is a take of that name already"):
        TakeWriter(path, HEADER)
    assert read_take(path).events == (FOOT,)


def test_folders_are_made(tmp_path: Path) -> None:
    assert read_take(written(tmp_path / "a" / "b" / "take.jsonl", FOOT)).events == (FOOT,)


def test_a_take_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(PlayerError, match="what should be a folder is a file"):
        TakeWriter(tmp_path / "file" / "take.jsonl", HEADER)


def test_a_full_disk_is_told_once_and_loses_nothing_once_there_is_room(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, until: Any
) -> None:
    take = TakeWriter(tmp_path / "take.jsonl", HEADER)
    until(lambda: (tmp_path / "take.jsonl").stat().st_size)
    real = os.write
    halves: list[int] = []

    def full(file: int, line: bytes) -> int:
        if not halves:  # half a line still goes through
            halves.append(real(file, line[: len(line) // 2]))
            return halves[0]
        raise OSError(errno.ENOSPC, "No space left on device")

    with monkeypatch.context() as disk:
        disk.setattr("liveassist.console.takes.os.write", full)
        take.event(FOOT)
        told: list[str] = []
        until(lambda: told or told.extend(filter(None, [take.trouble()])))
        take.event(FOOT)
        assert told == ["the take cannot be written now (No space left on device); the music goes on"]
        until(lambda: take._lines.empty())
        assert take.trouble() == ""
    take.event(FOOT)
    take.close()
    assert read_take(take.path).events == (FOOT, FOOT, FOOT)


# -- reading ------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("cut", range(1, 60, 7))
def test_a_last_line_cut_off_is_told_and_left_out(tmp_path: Path, cut: int) -> None:
    path = written(tmp_path / "take.jsonl", FOOT, CHORD, FOOT)
    path.write_bytes(path.read_bytes()[:-cut])
    take = read_take(path)
    assert (take.events, take.actions) == ((FOOT,), (CHORD,))
    assert len(take.remarks) == 1
    assert "line 4, the last, was cut off" in take.remarks[0]


def test_a_take_of_which_only_the_header_is_left_is_empty(tmp_path: Path) -> None:
    take = read_take(written(tmp_path / "take.jsonl"))
    assert (take.events, take.actions, take.remarks) == ((), (), ())


def test_what_went_wrong_is_kept_and_does_not_hinder_reading(tmp_path: Path) -> None:
    take = TakeWriter(tmp_path / "take.jsonl", HEADER)
    take.event(FOOT)
    take.wrong("Traceback\n  line 3")
    take.close()
    assert read_take(take.path).events == (FOOT,)
    assert "Traceback" in take.path.read_text()


@pytest.mark.parametrize(
    ("line", "said"),
    [
        pytest.param("{", "line 3: the take is damaged", id="no-json"),
        pytest.param("[1]", "this is no JSON object", id="no-object"),
        pytest.param("[" * 50_000, "line 3: the take is damaged", id="nested-too-deep"),
        pytest.param('{"x": 1}', 'a line of a take begins with "event", "action" or "wrong"', id="something-else"),
        pytest.param('{"event": "sneeze", "at": 1}', '"sneeze" is no event; I know key down,', id="unknown-event"),
        pytest.param('{"action": "sneeze", "at": 1}', '"sneeze" is no action; I know note on,', id="unknown-action"),
        pytest.param('{"event": "key down", "at": 1, "heard": 1}', "division and key missing", id="missing"),
        pytest.param(
            '{"event": "key down", "at": "x", "heard": 1, "division": "pedal", "key": 3}',
            "\"at\": 'x' is not a number",
            id="time-in-words",
        ),
        pytest.param('{"action": "beat", "at": 1, "position": "1/0"}', "'1/0' is not a position", id="position"),
        pytest.param('{"action": "beat", "at": NaN, "position": "1"}', "is not a number", id="not-a-number"),
    ],
)
def test_other_damage_is_told_with_its_line(tmp_path: Path, line: str, said: str) -> None:
    path = tmp_path / "take.jsonl"
    foot, header = as_line(as_json(FOOT)), as_line(header_as_json(HEADER))
    path.write_text("\n".join([header, foot, line, foot, ""]))
    with pytest.raises(PlayerError, match="line 3") as caught:
        read_take(path)
    assert said in str(caught.value)


def test_bytes_that_are_no_text_are_damage(tmp_path: Path) -> None:
    path = written(tmp_path / "take.jsonl", FOOT)
    path.write_bytes(path.read_bytes() + b'{"event": "\xff"}\n')
    with pytest.raises(PlayerError, match="line 3: the take is damaged"):
        read_take(path)


@pytest.mark.parametrize(
    ("content", "said"),
    [
        pytest.param("", "line 1: this is no take|this is no take", id="empty"),
        pytest.param("title = Quay\n", "line 1: this is no take", id="a-chart"),
        pytest.param('{"event": "key down"}\n', "line 1: this is no take", id="no-header"),
        pytest.param("[]\n", "line 1: this is no take", id="no-object"),
        pytest.param("[" * 50_000 + "\n", "line 1: this is no take", id="nested-too-deep"),
        pytest.param('{"take": 2}\n', "format version 2; I can read version 1", id="another-version"),
        pytest.param('{"take": 1, "seed": "x"}\n', "\"seed\": 'x' is not a whole number", id="damaged-header"),
    ],
)
def test_what_is_no_take_is_told(tmp_path: Path, content: str, said: str) -> None:
    path = tmp_path / "take.jsonl"
    path.write_text(content)
    with pytest.raises(PlayerError, match=said):
        read_take(path)


def test_a_name_that_a_later_version_added_is_passed_over(tmp_path: Path) -> None:
    path = tmp_path / "take.jsonl"
    path.write_text(
        '{"take": 1, "weather": "fine"}\n{"event": "nod", "at": 1, "heard": 2, "nod": "on", "mood": "good"}\n'
    )
    assert read_take(path).events == (Nodded(at=1.0, heard=2.0, nod="on"),)


@pytest.mark.parametrize("read", [read_take, lambda path: open_take(path, PLAIN)], ids=["take", "either"])
def test_a_file_that_is_not_there_is_told(tmp_path: Path, read: Any) -> None:
    with pytest.raises(PlayerError, match="cannot be read: No such file"):
        read(tmp_path / "none.jsonl")


# -- MIDI files -----------------------------------------------------------------------------------------------------------


def midi_file(path: Path, *tracks: list[Any], ticks: int = 480, kind: int = 1) -> Path:
    file = mido.MidiFile(type=kind, ticks_per_beat=ticks)
    file.tracks += [mido.MidiTrack(track) for track in tracks]
    file.save(path)
    return path


def note(key: int, time: int, channel: int = 4, velocity: int = 64) -> Any:
    return mido.Message("note_on", channel=channel - 1, note=key, velocity=velocity, time=time)


def test_a_midi_files_notes_are_heard_as_if_played_live(tmp_path: Path) -> None:
    """120 quarters a minute where no tempo is stated (Standard MIDI Files 1.0): 480 ticks are half a second."""
    path = midi_file(tmp_path / "a.mid", [note(38, 480), note(38, 240, velocity=0), note(60, 0, channel=1)], kind=0)
    assert take_from_midi(path, PLAIN).events == (
        KeyDown(at=0.5, heard=0.5, division="pedal", key=38),
        KeyUp(at=0.75, heard=0.75, division="pedal", key=38),
        KeyDown(at=0.75, heard=0.75, division="melody", key=60),
    )


def test_the_tempo_map_of_one_track_holds_for_the_others(tmp_path: Path) -> None:
    """By hand: one beat at 60, then beats at 240 a minute: 1 s + 0.25 s."""
    tempi = [mido.MetaMessage("set_tempo", tempo=1_000_000), mido.MetaMessage("set_tempo", tempo=250_000, time=480)]
    path = midi_file(tmp_path / "a.mid", tempi, [note(38, 480), note(40, 480)])
    assert [event.at for event in take_from_midi(path, PLAIN).events] == [1.0, 1.25]


def test_frames_instead_of_beats(tmp_path: Path) -> None:
    """Division E7 28: 25 frames of 40 ticks a second, a tick is a millisecond (Standard MIDI Files 1.0)."""
    path = midi_file(tmp_path / "a.mid", [note(38, 500)], kind=0)
    content = bytearray(path.read_bytes())
    content[12:14] = b"\xe7\x28"
    path.write_bytes(content)
    assert [event.at for event in take_from_midi(path, PLAIN).events] == [0.5]


def test_a_foot_switch_in_a_midi_file_is_a_cue(tmp_path: Path) -> None:
    press = mido.Message("control_change", channel=3, control=64, value=127, time=480)
    path = midi_file(tmp_path / "a.mid", [press], kind=0)
    assert take_from_midi(path, PLAIN).events == (SwitchPressed(at=0.5, heard=0.5),)


def test_a_shoe_in_a_midi_file_is_heard_where_it_is_asked_for(tmp_path: Path) -> None:
    moved = mido.Message("control_change", channel=0, control=11, value=90, time=480)
    path = midi_file(tmp_path / "a.mid", [moved], kind=0)
    assert take_from_midi(path, PLAIN).events == ()
    assert take_from_midi(path, PLAIN, shoe="fullness").events == (ShoeMoved(at=0.5, heard=0.5, value=90),)


def test_the_end_of_the_file_lets_go_of_nothing(tmp_path: Path) -> None:
    track = [note(38, 480), mido.MetaMessage("end_of_track", time=4800)]
    assert len(take_from_midi(midi_file(tmp_path / "a.mid", track, kind=0), PLAIN).events) == 1


def test_a_console_with_port_names_hears_a_midi_file_all_the_same(tmp_path: Path) -> None:
    from liveassist.console.profile import read_profile

    console = read_profile('[divisions.pedal]\nport = "Console"\nchannel = 4')
    assert len(take_from_midi(midi_file(tmp_path / "a.mid", [note(38, 480)]), console).events) == 1


@pytest.mark.parametrize(
    ("content", "said"),
    [
        pytest.param(b"MThd", "this is no Standard MIDI File", id="cut-off"),
        pytest.param(b"RIFF....", "this is no Standard MIDI File", id="something-else"),
        pytest.param(b"MThd\0\0\0\6\0\2\0\0\1\xe0", "type 2 holds songs side by side", id="type-2"),
    ],
)
def test_a_file_that_is_no_midi_file_is_told(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "a.mid"
    path.write_bytes(content)
    with pytest.raises(PlayerError, match=said):
        take_from_midi(path, PLAIN)


@given(st.binary(max_size=60))
def test_no_bytes_break_the_reading_of_a_midi_file(tmp_path_factory: pytest.TempPathFactory, tail: bytes) -> None:
    path = tmp_path_factory.mktemp("midi") / "a.mid"
    path.write_bytes(b"MThd\0\0\0\6\0\1\0\1\1\xe0MTrk\0\0\0\x20" + tail)
    try:
        take = take_from_midi(path, PLAIN)
    except PlayerError as error:
        said = str(error)
        assert "MIDI" in said
    else:
        assert all(event.at >= 0 for event in take.events)


def test_either_kind_is_told_by_its_first_bytes(tmp_path: Path) -> None:
    midi = midi_file(tmp_path / "named.jsonl", [note(38, 480)])
    take = written(tmp_path / "named.mid", FOOT)
    assert len(open_take(midi, PLAIN).events) == 1
    assert open_take(take, PLAIN).events == (FOOT,)
