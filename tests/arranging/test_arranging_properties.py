"""Whatever is written, in whatever feel and meter: no left hand may do what the critic finds."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liveassist.arranging.arrange import arrange
from liveassist.arranging.feels import load_feels
from tests.arranging.routes import faults, song

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
QUALITIES = (
    "",
    "m",
    "7",
    "maj7",
    "m7",
    "sus4",
    "sus2",
    "5",
    "dim",
    "dim7",
    "m7b5",
    "6",
    "9",
    "13",
    "7sus4",
    "add9",
    "aug",
)
SLASHES = ("", "", "", "", "/C", "/F#", "/A")
MARKS = ("", "", "", "", "", "", "(hold)", "(break)", "(tacet)", "(push)", "(late)", "(breath)", "(rit.)", "(a tempo)")
METERS = {"4/4": 4, "2/2": 2, "3/4": 3, "6/8": 2, "12/8": 4, "5/4": 5, "9/8": 3, "2/4": 2}


@st.composite
def chord_symbols(draw: st.DrawFn) -> str:
    if draw(st.integers(0, 15)) == 0:
        return "N.C."
    return draw(st.sampled_from(ROOTS)) + draw(st.sampled_from(QUALITIES)) + draw(st.sampled_from(SLASHES))


@st.composite
def bars(draw: st.DrawFn, beats: int, first: bool) -> str:
    """A bar beat by beat: a chord, the chord before, or a chord on the and."""
    written: list[str] = []
    for beat in range(beats):
        fresh = draw(st.booleans()) or (first and beat == 0)
        written.append(f"{draw(chord_symbols())} {draw(st.sampled_from(MARKS))}" if fresh else "/")
        if draw(st.integers(0, 7)) == 0:
            written.append("&" + draw(chord_symbols()))
    return " ".join(written) if any(word != "/" for word in written) or not first else "C"


@st.composite
def songs(draw: st.DrawFn) -> tuple[list[str], str, str]:
    meter = draw(st.sampled_from(sorted(METERS)))
    written = [draw(bars(METERS[meter], first=number == 0)) for number in range(draw(st.integers(1, 5)))]
    # A bar of strokes alone would be read as it stands; a single chord alone shares the bar.
    return written, meter, draw(st.sampled_from(sorted(load_feels())))


@settings(max_examples=250, deadline=None)
@given(songs(), st.sampled_from([40, 60, 92, 120, 168]), st.sampled_from([0.3, 1.8, 3.5, 8.0]), st.integers(-6, 6))
def test_nothing_forbidden_ever_sounds(song_: tuple[list[str], str, str], tempo: int, room: float, lift: int) -> None:
    written, meter, feel = song_
    arrangement = arrange(song(*written, meter=meter, feel=feel), tempo=tempo, room=room, lift=lift)
    assert faults(arrangement, room=room, tempo=tempo) == []


@pytest.mark.parametrize("meter", sorted(METERS))
@pytest.mark.parametrize("feel", sorted(load_feels()))
def test_every_feel_in_every_meter(feel: str, meter: str) -> None:
    """Where it does not fit, the meter's own feel is played."""
    arrangement = arrange(song("C", "G7/B", "Am7", "F", feel=feel, meter=meter))
    assert faults(arrangement) == []
    assert all(arrangement.levels[fullness] for fullness in (1, 2, 3, 4))
