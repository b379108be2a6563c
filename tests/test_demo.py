"""The demo told as text: with every lead there is something to hear, and what is said of it is true."""

from __future__ import annotations

import re

import pytest

from liveassist.cli import main


def told(capsys: pytest.CaptureFixture[str], *options: str) -> str:
    assert main(["demo", "--headless", *options]) == 0
    return capsys.readouterr().out


@pytest.mark.parametrize(
    ("lead", "who"),
    [("feet", "whose feet have the place"), ("switch", "presses the foot switch at each change")],
)
def test_the_band_goes_with_the_organist(capsys: pytest.CaptureFixture[str], lead: str, who: str) -> None:
    text = told(capsys, "--lead", lead)
    assert who in text.splitlines()[0]
    followed = float(re.search(r"Of the changes ([\d.]+)% were followed", text)[1])  # type: ignore[index]
    assert followed > 90
    assert "0 left on" in text
    assert ("unplanned" in text) == (lead == "feet"), "a switch is not asked whether the feet slip"


def test_a_song_with_an_underscore_is_followed_too(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "demo_charts/over_the_causeway.chart")
    assert float(re.search(r"Of the changes ([\d.]+)% were followed", text)[1]) > 98  # type: ignore[index]
    assert "unplanned" in text


def test_with_lead_click_the_pair_stays_together(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "--lead", "click")
    assert float(re.search(r"Of the changes ([\d.]+)% were followed", text)[1]) > 98  # type: ignore[index]


def test_with_lead_pulse_the_organist_goes_with_the_band(capsys: pytest.CaptureFixture[str]) -> None:
    text = told(capsys, "--lead", "pulse")
    assert "plays to the band's steady pulse" in text.splitlines()[0]
    assert text.index("-- count-in") < text.index("-- playing") < text.index("-- fine")
    assert "The band followed nobody. At 100.0% of the changes organist and band were together" in text
