"""The pattern to set a click by: even, told ahead, the organ with it, and offsets typed in."""

from __future__ import annotations

from itertools import pairwise

import pytest

from liveassist.commands.click_pattern import BEATS, TOLD_AHEAD, new_offset, pattern
from liveassist.settings import Settings


def test_clicks_and_organ_fall_together_and_clicks_are_told_ahead():
    done = list(pattern(10.0, tempo=120.0, bars=2))
    clicks = [do for do in done if do.what in ("bar", "beat")]
    assert [do.falls for do in clicks] == [10.0 + 0.5 * number for number in range(2 * BEATS)]
    assert [do.falls for do in done if do.what == "press"] == [do.falls for do in clicks]
    assert all(do.at == do.falls - TOLD_AHEAD for do in clicks)
    assert [do.what for do in clicks][:5] == ["bar", "beat", "beat", "beat", "bar"]
    assert all(before.at <= after.at for before, after in pairwise(done))
    assert sum(do.what == "release" for do in done) == 2 * BEATS


@pytest.mark.parametrize(
    ("typed", "whose", "offsets"), [("25\n", 0, (25.0, 0.0)), ("-12.5", 0, (-12.5, 0.0)), (" d 40", 1, (0.0, 40.0))]
)
def test_offsets_typed_in(typed, whose, offsets):
    number, settings = new_offset(typed, Settings())
    assert number == whose
    assert (settings.click_offset, settings.drummer_offset) == offsets


@pytest.mark.parametrize(
    ("typed", "says"),
    [
        ("later", "a number of milliseconds"),
        ("d", "a number of milliseconds"),
        ("900", "from -150 to 300"),
        ("nan", "from -150"),
    ],
)
def test_what_is_no_offset_is_told(typed, says):
    with pytest.raises(ValueError, match=says):
        new_offset(typed, Settings())
