"""Where the band plays, chosen from a list by number; Enter passes an offer over."""

from __future__ import annotations

from dataclasses import replace

import pytest

from liveassist.console.instrument import PLAIN, ClockPorts, Division, Part
from liveassist.console.learning_outputs import with_offers
from liveassist.console.profile import read_profile, write_profile

ORGAN, BOX, MODULE = "Quay Organ", "In-ear Box", "Drum Module"
CHURCH = replace(
    PLAIN,
    divisions={name: replace(division, port=ORGAN) for name, division in PLAIN.divisions.items() if name != "drums"},
    parts={"figure": Part(port=ORGAN, channel=2)},
    switches=(),
    shoe=None,
)


def offered(*typed: str, profile=CHURCH):
    """The profile after these lines, Enter after them, and what was said."""
    lines, said = [*typed], []

    def line(_seconds: float) -> str:
        return f"{lines.pop(0)}\n" if lines else "\n"

    return with_offers(profile, (ORGAN, BOX, MODULE), said.append, line), said


def test_all_may_be_passed_over():
    profile, said = offered()
    assert profile == CHURCH
    assert said.count("Passed over.") == 5


def test_each_is_kept_in_the_profile():
    profile, _ = offered("1 6", "1, 3", "2", "2 11", "3")
    assert profile.parts == {
        "figure": Part(port=ORGAN, channel=2),
        "bass": Part(port=ORGAN, channel=6),
        "answer": Part(port=ORGAN, channel=3),
        "click": Part(port=BOX, channel=10),
        "drummer": Part(port=BOX, channel=11),
    }
    assert profile.clock == ClockPorts(sends=MODULE)
    assert read_profile(write_profile(profile)) == profile


def test_the_ports_are_listed_once():
    _, said = offered()
    assert [text.strip() for text in said if text.startswith("  ")] == [
        f"1  {ORGAN}",
        f"2  {BOX}",
        f"3  {MODULE}",
    ]


@pytest.mark.parametrize("line", ["4", "0", "one", "1 17", "1 0", "1 5 5", "1.5"])
def test_what_is_no_port_is_asked_again(line):
    profile, said = offered(line, "1 5")
    assert "A number from 1 to 3 and a channel from 1 to 16, or Enter to pass it over, please." in said
    assert profile.parts["bass"] == Part(port=ORGAN, channel=5)


@pytest.mark.parametrize(
    ("lines", "told"),
    [
        pytest.param(("1 4",), "the pedal from which your feet are heard", id="bass-on-the-pedal"),
        pytest.param(("", "1 1"), "the band never sounds there", id="answer-on-the-tune"),
        pytest.param(("", "", "1 2"), "a click must not end up in the nave", id="click-on-the-organ"),
        pytest.param(("", "", "2", "2 10"), "the click needs its own", id="two-clicks-in-one-place"),
        pytest.param(("", "", "", "", "1"), "a clock is never sent to an organ", id="clock-to-the-organ"),
    ],
)
def test_what_contradicts_the_rest_is_told_and_not_taken(lines, told):
    profile, said = offered(*lines)
    assert any(told in text and "Once more, or Enter" in text for text in said)
    assert set(profile.parts) <= {"figure", "click"}
    assert profile.clock is None


def test_an_old_contradiction_is_no_reason_to_refuse():
    odd = replace(CHURCH, divisions={**CHURCH.divisions, "drums": Division(port=ORGAN, channel=1, compass=(36, 96))})
    profile, _ = offered("", "", "2", profile=odd)
    assert profile.parts["click"].port == BOX
