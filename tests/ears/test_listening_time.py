"""The week's listening. WHO-ITU H.870: 80 dB(A) for 40 hours a week, 3 dB more halves the time; the table below is that rule
computed by hand (20 h at 83, 10 h at 86, 2.5 h at 92, 37.5 min at 98). Weeks: ISO 8601."""

from __future__ import annotations

from datetime import date

import pytest

from liveassist.commands.layering import caution_before_sound
from liveassist.ears import caution
from liveassist.ears.caution import CAUTION, SOURCES, at_first_start
from liveassist.ears.dose import ListeningTime, in_words, share, week_of
from liveassist.settings import Settings


@pytest.mark.parametrize(
    ("level", "hours"), [(80, 40.0), (83, 20.0), (86, 10.0), (89, 5.0), (92, 2.5), (95, 1.25), (98, 0.625), (77, 80.0)]
)
def test_a_whole_week_at_each_level(level, hours):
    assert share(level, hours * 3600) == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("day", "week"),
    [(date(2024, 12, 30), "2025-W01"), (date(2027, 1, 3), "2026-W53"), (date(2026, 11, 25), "2026-W48")],
)
def test_weeks_are_isos(day, week):
    assert week_of(day) == week


def test_performances_of_a_week_add_up_and_monday_begins_anew(tmp_path):
    counted = ListeningTime(tmp_path / "data" / "listening.json")
    assert counted.so_far(date(2026, 11, 25)) == 0.0
    counted.add(date(2026, 11, 25), 86.0, 2 * 3600)
    assert counted.add(date(2026, 11, 29), 86.0, 3600) == pytest.approx(0.3)
    assert ListeningTime(counted.path).so_far(date(2026, 11, 29)) == pytest.approx(0.3)
    assert counted.so_far(date(2026, 11, 30)) == 0.0


@pytest.mark.parametrize(
    "text", ["", "not ours", "[]", '{"week": "2026-W48"}', '{"week": "2026-W48", "share": "much"}']
)
def test_a_file_that_is_not_ours_begins_the_count(tmp_path, text):
    (tmp_path / "listening.json").write_text(text)
    assert ListeningTime(tmp_path / "listening.json").so_far(date(2026, 11, 25)) == 0.0


def test_in_words():
    assert "30%" in in_words(0.3, 86.0)
    assert "7.0 hours are left" in in_words(0.3, 86.0)
    assert "rest your ears" in in_words(1.2, 86.0)


def test_the_caution_is_shown_once(tmp_path, capsys):
    assert at_first_start(tmp_path / "data")
    assert not at_first_start(tmp_path / "data")
    shown = capsys.readouterr().out
    assert shown.count(CAUTION) == 1
    for source in ("H.870", "NIOSH", "not a medical device", "hearing professional"):
        assert source in SOURCES


@pytest.mark.parametrize(
    ("device", "songs", "shown"),
    [
        pytest.param(None, [Settings()], False, id="midi-alone"),
        pytest.param("Box", [Settings()], True, id="a-sound-device"),
        pytest.param(None, [Settings(ears="Box")], True, id="in-ears"),
        pytest.param(None, [Settings(drummer_ears="Box")], True, id="the-drummers"),
        pytest.param(None, [Settings(), Settings(click=True)], True, id="a-click-in-one-song-of-a-service"),
    ],
)
def test_the_caution_comes_before_whatever_sounds(monkeypatch, device, songs, shown):
    asked = []
    monkeypatch.setattr(caution, "at_first_start", lambda: asked.append(True))
    caution_before_sound(device, *songs)
    assert bool(asked) is shown
