"""The command ``hear`` as a player types it."""

from __future__ import annotations

import os
import subprocess
import sys
import wave
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.band.song import arrangements
from liveassist.cli import main
from liveassist.commands import hearing as command
from liveassist.commands import layering
from liveassist.console.profile import PLAIN, write_profile
from liveassist.ears.rendering import Written
from liveassist.ears.sound import list_devices
from liveassist.settings import Settings
from tests.ears.waveforms import RATE, onsets, strongest

ROOT = Path(__file__).parents[2]
QUAY = ROOT / "demo_charts" / "lanterns_on_the_quay.chart"

ONE_NOTE = """\
title = One Long Note
key   = A
meter = 4/4
tempo = quarter 60

== Verse ==
| A |]
melody = A8 |
"""

LOW_TUNE = """\
title = A Low Tune
key   = D
meter = 4/4
tempo = quarter 92
feel  = straight eighths

== Verse ==
| D | G A | Bm | D | D | G A | Bm | D |]
melody = D8 | d8 | B8 | A8 | D8 | d8 | B8 | A8 |
"""


@pytest.fixture
def chart(tmp_path):
    path = tmp_path / "note.chart"
    path.write_text(ONE_NOTE, encoding="utf-8")
    return path


def heard(path: Path) -> np.ndarray:
    with wave.open(str(path)) as file:
        assert file.getframerate() == RATE
        return np.frombuffer(file.readframes(file.getnframes()), "<i2").reshape(-1, 2) / 32768


def hear(*arguments: object) -> int:
    return main(["hear", *map(str, arguments)])


def test_the_written_tune_sounds_at_its_pitch(chart, tmp_path, capsys):
    # ABC standard 2.1: A is the A above middle C, 440 Hz to ISO 16.
    assert hear(chart, "--to", tmp_path / "a.wav", "--parts", "melody") == 0
    sound = heard(tmp_path / "a.wav")
    assert strongest(sound[RATE : 2 * RATE, 0], 430, 450) == pytest.approx(440.0, abs=0.1)
    told = capsys.readouterr()
    assert "One Long Note in A major: melody, 0:04" in told.out
    assert "dBFS" in told.out
    assert told.err == ""  # no progress where nobody watches


@pytest.mark.parametrize(
    ("asked", "hertz"),
    [(("--lift", 3), 523.251), (("--lift", -2), 391.995), (("--key", "C"), 523.251), (("--key", "E"), 329.628)],
    # equal temperament, A4 = 440 (ISO 16): C5, G4, E4
)
def test_another_key(chart, tmp_path, asked, hertz):
    assert hear(chart, "--to", tmp_path / "a.wav", "--parts", "melody", *asked) == 0
    sound = heard(tmp_path / "a.wav")[RATE : 2 * RATE, 0]
    assert strongest(sound, hertz * 0.97, hertz * 1.03) == pytest.approx(hertz, abs=0.2)


def test_clicks_fall_on_the_beats_at_the_tempo_asked_for(chart, tmp_path):
    assert hear(chart, "--to", tmp_path / "a.wav", "--parts", "click", "--tempo", 120) == 0
    ticks = onsets(heard(tmp_path / "a.wav")[:, 0] * (np.abs(heard(tmp_path / "a.wav")[:, 0]) > 1e-4))
    assert np.diff(ticks) == pytest.approx([0.5] * 3, abs=0.001)


@pytest.mark.parametrize("where_from", [("--section", "Chorus"), ("--from-bar", 2)], ids=["section", "bar"])
def test_the_tempo_asked_for_is_that_of_the_bar_where_it_begins(tmp_path, where_from):
    chart = tmp_path / "two.chart"
    chart.write_text(ONE_NOTE + "\n== Chorus ==\ntempo = quarter 90\n| D |]\nmelody = d8 |\n", encoding="utf-8")
    assert hear(chart, "--to", tmp_path / "a.wav", "--parts", "click", "--tempo", 120, *where_from) == 0
    ticks = onsets(heard(tmp_path / "a.wav")[:, 0] * (np.abs(heard(tmp_path / "a.wav")[:, 0]) > 1e-4))
    assert np.diff(ticks) == pytest.approx([0.5] * 3, abs=0.001)


@pytest.mark.parametrize("where", ["settings file", "console profile"])
@pytest.mark.parametrize(("wish", "value"), [("span", 12), ("coupled", True), ("seed", 5), ("action", 2.0)])
def test_what_is_heard_is_what_the_band_plays(tmp_path, monkeypatch, wish, value, where):
    chart = tmp_path / "song.chart"
    chart.write_text(LOW_TUNE if wish == "coupled" else QUAY.read_text(encoding="utf-8"), encoding="utf-8")
    console = tmp_path / "console.toml"
    in_profile = where == "console profile"
    console.write_text(write_profile(replace(PLAIN, settings={wish: value} if in_profile else {})), encoding="utf-8")
    monkeypatch.setattr(layering, "user_layer", lambda: {} if in_profile else {wish: value})
    written = []
    monkeypatch.setattr(command, "render", lambda notes, **_: written.extend(notes) or iter(()))
    monkeypatch.setattr(command, "write_wav", lambda *_, **__: Written(1.0, -10.0, -20.0))
    how = ("--console", console, "--parts", "figure", "--fullness", 4)
    assert hear(chart, "--to", tmp_path / "a.wav", *how) == 0
    route = unfold(read_chart_file(chart))
    plain, wished = (
        sorted((note.position, note.pitch) for note in arrangements(route, each)(0).levels[4])
        for each in (Settings(), Settings(**{wish: value}))
    )
    heard_pitches = [note.key for note in sorted(written, key=lambda note: (note.on, note.key))]
    assert heard_pitches == [pitch for _, pitch in wished]
    assert wished != plain


def test_a_softer_level_is_softer_by_as_much(chart, tmp_path):
    for level in (-20, -32):
        assert hear(chart, "--to", tmp_path / f"{-level}.wav", "--level", level) == 0
    loud, soft = heard(tmp_path / "20.wav"), heard(tmp_path / "32.wav")
    assert 20 * np.log10(np.std(loud) / np.std(soft)) == pytest.approx(12.0, abs=0.1)


def test_the_same_chart_gives_the_same_bytes(tmp_path):
    for name in ("one.wav", "two.wav"):
        assert hear(QUAY, "--to", tmp_path / name, "--section", "Chorus", "--reverb") == 0
    assert (tmp_path / "one.wav").read_bytes() == (tmp_path / "two.wav").read_bytes()


def test_a_whole_song_is_as_long_as_its_bars_and_below_the_ceiling(tmp_path):
    assert hear(QUAY, "--to", tmp_path / "quay.wav") == 0
    sound = heard(tmp_path / "quay.wav")
    # 59 bars of 4/4 at quarter 92 are 153.9 s; with the ritard, the breaths and the holds a little more.
    assert 153.9 < len(sound) / RATE < 165
    assert np.max(np.abs(sound)) <= 0.5
    assert not np.any(sound[: RATE // 5])


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ([], "--sound NAME plays through a sound device, --to FILE.wav writes a file"),
        (["--to", "song.mp3"], 'give it a name such as "song.wav"'),
        (["--to", "x.wav", "--section", "Bridge"], "there are: Verse"),
        (["--to", "x.wav", "--from-bar", "9"], "has bars 1 to 1"),
        (["--to", "x.wav", "--parts", "zink"], "I know figure, answer, bass, melody, click"),
        (["--to", "x.wav", "--parts", ","], "takes some of figure"),
        (["--to", "x.wav", "--level", "-3"], "from -60 to -16, not -3"),
        (["--to", "x.wav", "--lift", "30"], "half steps from -12 to 12, not 30"),
        (["--to", "x.wav", "--key", "H"], '"H" is not a key'),
        (["--to", "x.wav", "--key", "Em"], "a major key for a chart in A major, not E minor"),
        (["--to", "x.wav", "--fullness", "9"], "fullness takes one of 1, 2, 3, 4"),
        (["--to", "x.wav", "--room", "99"], "room takes a number from 0.1 to 15"),
        (["--to", "x.wav", "--feel", "polka of doom"], "is not a feel I know"),
    ],
    ids=[
        "nowhere",
        "mp3",
        "section",
        "bar",
        "part",
        "no part",
        "level",
        "lift",
        "key",
        "mode",
        "fullness",
        "room",
        "feel",
    ],
)
def test_what_cannot_be_heard_is_told_in_a_line(chart, tmp_path, monkeypatch, capsys, arguments, says):
    monkeypatch.chdir(tmp_path)
    assert hear(chart, *arguments) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert told.out == ""
    assert sorted(path.name for path in tmp_path.iterdir()) == ["note.chart"]


def test_a_chart_without_a_tune_says_how_one_is_written(tmp_path, capsys):
    chart = tmp_path / "bare.chart"
    chart.write_text(ONE_NOTE.replace("melody = A8 |\n", ""), encoding="utf-8")
    assert hear(chart, "--to", tmp_path / "x.wav", "--parts", "melody") == 2
    assert "melody =" in capsys.readouterr().err


def test_bars_in_which_nothing_sounds_are_told(tmp_path, capsys):
    chart = tmp_path / "rest.chart"
    chart.write_text(ONE_NOTE.replace("| A |]\nmelody = A8 |", "| N.C. | A |]"), encoding="utf-8")
    assert hear(chart, "--to", tmp_path / "x.wav", "--bars", 1) == 2
    assert "nothing to hear in these bars" in capsys.readouterr().err


def test_an_unknown_device_is_told_with_those_that_are_there(chart, capsys, monkeypatch):
    monkeypatch.setattr(command, "list_devices", lambda: ["Vestry loudspeaker", "Desk phones"])
    assert hear(chart, "--sound", "Nave") == 2
    assert 'no sound device "Nave"; there are: Vestry loudspeaker, Desk phones' in capsys.readouterr().err


def test_the_caution_is_shown_once_before_anything_sounds(chart, capsys, monkeypatch):
    played = []
    monkeypatch.setattr(command, "list_devices", lambda: ["Vestry loudspeaker"])
    monkeypatch.setattr(
        command, "play", lambda blocks, device, *, told: played.append((device, capsys.readouterr().out))
    )
    assert hear(chart, "--sound", "vestry") == 0
    ((device, told_before),) = played
    assert device == "Vestry loudspeaker"
    assert told_before.count("harm hearing") == 1
    assert capsys.readouterr().out == ""


def test_a_terminal_that_is_watched_sees_no_traceback_when_stopped(chart, monkeypatch):
    def stopped(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(command, "list_devices", lambda: ["Vestry loudspeaker"])
    monkeypatch.setattr(command, "play", stopped)
    assert hear(chart, "--sound", "Vestry loudspeaker") == 130


def test_a_file_needs_no_sound_system(chart, tmp_path):
    code = "import sys; sys.modules['miniaudio'] = None\nfrom liveassist.cli import main\nsys.exit(main(sys.argv[1:]))"
    arguments = [sys.executable, "-c", code, "hear", str(chart), "--to", str(tmp_path / "a.wav")]
    done = subprocess.run(
        arguments, cwd=ROOT, env={**os.environ}, capture_output=True, text=True, timeout=60, check=False
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "a.wav").exists()


def test_devices_of_this_machine_are_those_that_the_demo_lists(chart, capsys):
    pytest.importorskip("miniaudio")
    assert hear(chart) == 2
    assert all(name in capsys.readouterr().err for name in list_devices())
