"""Contrast of the two liveries, by the formula of WCAG 2.1 (relative luminance and contrast ratio in its glossary)."""

from __future__ import annotations

import pytest

from liveassist.desk.colours import INKS, LIVERIES


def luminance(colour: str) -> float:
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.03928 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    light, dark = sorted((luminance(one), luminance(other)), reverse=True)
    return (light + 0.05) / (dark + 0.05)


def test_the_formula_knows_black_on_white() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)  # WCAG 2.1: ratios range from 1 to 21


@pytest.mark.parametrize("livery", LIVERIES)
@pytest.mark.parametrize("ink", [ink for ink in INKS if ink != "ground"])
def test_every_ink_can_be_read(livery: str, ink: str) -> None:
    inks = LIVERIES[livery]
    assert contrast(inks[ink], inks["ground"]) >= 7.0  # success criterion 1.4.6, enhanced


def test_both_liveries_have_every_ink() -> None:
    for inks in LIVERIES.values():
        assert set(inks) == set(INKS)
