"""What the laptop may do in the middle of a service: run out of power, fall asleep, show a message. Read what can be read.

Each *reading* asks the system with one command and judges its answer; where there is no such command, or its answer says
nothing, the player is told to look himself. Nothing is ever changed. What the commands print is from memory of their manuals
(pmset, gsettings).
"""

from __future__ import annotations

import re
import shutil
import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

Run = Callable[[Sequence[str]], str]
"""What a command prints; empty where it is not there or fails."""
SUPPLIES = Path("/sys/class/power_supply")
PATIENT = 2.0
"""How long a command may take, in seconds."""


@dataclass(frozen=True, slots=True)
class Look:
    """One thing about the laptop."""

    name: str
    well: bool
    """Whether it was read and is as it should be; else the player is to look."""
    text: str


@dataclass(frozen=True, slots=True)
class Reading:
    """One command and what is made of its answer."""

    name: str
    command: tuple[str, ...]
    well: str
    """A pattern (of ``re``) that the answer has where all is well."""
    says: str
    """What to say then."""
    advice: str
    """What to say else."""


POWER = "put the charger in, and see that it charges"
SLEEP = "set sleep, the blanking of the screen and the closing of the lid to never for the service"
MESSAGES = "silence the system's notifications, updates and sounds"
SETTINGS = "org.gnome.settings-daemon.plugins.power"
READINGS: dict[str, tuple[Reading, ...]] = {
    "linux": (
        Reading("power", (), "", "", POWER),
        Reading(
            "sleep", ("gsettings", "get", SETTINGS, "sleep-inactive-ac-type"), "nothing", "never while charging", SLEEP
        ),
        Reading(
            "notifications",
            ("gsettings", "get", "org.gnome.desktop.notifications", "show-banners"),
            "false",
            "silenced",
            MESSAGES,
        ),
    ),
    "darwin": (
        Reading("power", ("pmset", "-g", "batt"), r"AC Power", "the charger is in", POWER),
        Reading("sleep", ("pmset", "-g"), r"(?m)^\s*sleep\s+0\b", "never", SLEEP),
        Reading("notifications", (), "", "", f"{MESSAGES}: switch on a focus that lets nothing through"),
    ),
    "win32": (
        Reading("power", (), "", "", POWER),
        Reading("sleep", (), "", "", SLEEP),
        Reading("notifications", (), "", "", f"{MESSAGES}: do not disturb; and no updates today"),
    ),
}


def looks(platform: str = sys.platform, run: Run | None = None, supplies: Path = SUPPLIES) -> tuple[Look, ...]:
    """What can be read of this laptop, one thing each."""
    ask = run or _asked
    found = []
    for reading in READINGS.get(platform, READINGS["win32"]):
        power = linux_power(supplies) if platform == "linux" and reading.name == "power" else None
        answer = ask(reading.command) if reading.command else ""
        well = bool(answer) and re.search(reading.well, answer) is not None
        found.append(power or Look(reading.name, well, reading.says if well else reading.advice))
    return tuple(found)


def linux_power(supplies: Path) -> Look | None:
    """The power as Linux tells it, in a folder for each supply; None where it does not."""
    mains = battery = ""
    for folder in sorted(supplies.glob("*")):
        kind = _content(folder / "type")
        if kind in ("Mains", "USB") and _content(folder / "online") == "1":
            mains = "the charger is in"
        elif kind == "Battery" and _content(folder / "scope") != "Device":  # a mouse has one too
            battery = f"battery {_content(folder / 'capacity') or '?'} %"
    if mains:
        return Look("power", True, ", ".join(filter(None, (mains, battery))))
    return Look("power", False, f"on {battery}: {POWER}") if battery else None


def _content(path: Path) -> str:
    try:
        return path.read_text(encoding="ascii", errors="replace").strip()
    except OSError:
        return ""


def _asked(command: Sequence[str]) -> str:
    if shutil.which(command[0]) is None:
        return ""
    try:
        answer = subprocess.run(command, capture_output=True, text=True, timeout=PATIENT, check=False)
    except (OSError, subprocess.TimeoutExpired):
        return ""
    return answer.stdout if answer.returncode == 0 else ""
