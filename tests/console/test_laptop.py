"""What is read of the laptop. The folders are those of Linux's power supply class (its kernel documentation, from memory); what
pmset and gsettings print is from memory of their manuals."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import pytest

from liveassist.console.laptop import READINGS, linux_power, looks


def supply(root: Path, name: str, **content: str) -> None:
    (root / name).mkdir()
    for file, text in content.items():
        (root / name / file).write_text(f"{text}\n")


def test_the_charger_is_in(tmp_path: Path) -> None:
    supply(tmp_path, "AC", type="Mains", online="1")
    supply(tmp_path, "BAT0", type="Battery", capacity="81")
    look = linux_power(tmp_path)
    assert look is not None
    assert (look.well, look.text) == (True, "the charger is in, battery 81 %")


def test_on_battery_is_worth_a_look(tmp_path: Path) -> None:
    supply(tmp_path, "AC", type="Mains", online="0")
    supply(tmp_path, "BAT0", type="Battery", capacity="34")
    look = linux_power(tmp_path)
    assert look is not None
    assert not look.well
    assert look.text.startswith("on battery 34 %")


def test_the_battery_of_a_mouse_is_not_the_laptops(tmp_path: Path) -> None:
    supply(tmp_path, "hidpp", type="Battery", capacity="20", scope="Device")
    assert linux_power(tmp_path) is None


@pytest.mark.parametrize(
    ("platform", "answers", "well"),
    [
        pytest.param(
            "darwin",
            {"batt": "Now drawing from 'AC Power'", "-g": " sleep                0 (prevented by caffeinate)"},
            {"power", "sleep"},
            id="mac-ready",
        ),
        pytest.param(
            "darwin",
            {"batt": "Now drawing from 'Battery Power'", "-g": " sleep                10\n displaysleep 0"},
            set(),
            id="mac-not-ready",
        ),
        pytest.param(
            "linux",
            {"sleep-inactive-ac-type": "'nothing'", "show-banners": "false"},
            {"sleep", "notifications"},
            id="linux",
        ),
        pytest.param(
            "linux", {"sleep-inactive-ac-type": "'suspend'", "show-banners": "true"}, set(), id="linux-not-ready"
        ),
        pytest.param("linux", {}, set(), id="linux-without-the-commands"),
        pytest.param("win32", {}, set(), id="windows-is-looked-at"),
        pytest.param("haiku", {}, set(), id="another-system"),
    ],
)
def test_what_can_be_read_is_read(platform: str, answers: dict[str, str], well: set[str], tmp_path: Path) -> None:
    def run(command: Sequence[str]) -> str:
        return answers.get(command[-1], "")

    found = looks(platform, run, tmp_path)
    assert [look.name for look in found] == ["power", "sleep", "notifications"]
    assert {look.name for look in found if look.well} == well
    assert all(look.text for look in found)


def test_this_machine_can_be_looked_at() -> None:
    assert len(looks()) == len(READINGS["linux"])
