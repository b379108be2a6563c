"""The settings of one performance, laid together: the user's file, the console profile, the chart, the command line.

What is read from files is read here, with errors that a player can act upon.
"""

from __future__ import annotations

import argparse
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from platformdirs import user_config_path

from charts.chart import Chart
from charts.roadmap import unfold
from liveassist.arranging.feels import Feels, find_feel, load_feels
from liveassist.console.instrument import Profile
from liveassist.console.profile import PLAIN, read_profile
from liveassist.errors import PlayerError
from liveassist.settings import Layered, Settings, check, layered, read

IN_EARS = ("click", "ears", "drummer_ears", "click_offset", "signals", "calls", "registration")
OPTIONS = (
    "lead",
    "time",
    "place",
    "patience",
    "tempo",
    "fullness",
    "feel",
    "room",
    "shoe",
    "variety",
    "bass",
    "click_on",
    "drop",
    *IN_EARS,
)
"""Settings that the command line may state."""


def read_profile_file(path: str | None) -> Profile:
    """The console profile in a file, or the plain console."""
    return PLAIN if path is None else read_profile(read_text(path, "a console profile"), source=Path(path).name)


def read_text(path: str, what: str) -> str:
    """A text file, with errors that a player can act upon."""
    try:
        return Path(path).read_text(encoding="utf-8-sig")
    except FileNotFoundError:
        raise PlayerError(f"{path}: there is no such file; I need {what}") from None
    except IsADirectoryError:
        raise PlayerError(f"{path} is a folder; I need {what}") from None
    except UnicodeDecodeError as error:
        raise PlayerError(f"{path}: not a text file in UTF-8 (byte {error.start + 1}); I need {what}") from None
    except OSError as error:
        raise PlayerError(f"{path}: cannot be read: {error.strerror}") from None


def chart_layer(chart: Chart) -> dict[str, Any]:
    """The settings that a chart states."""
    stated = {"lead": chart.lead, "patience": chart.patience, "room": chart.room}
    return {name: value for name, value in stated.items() if value is not None}


def stated(options: argparse.Namespace) -> dict[str, Any]:
    """The settings stated on the command line."""
    found = {name: getattr(options, name, None) for name in OPTIONS}
    where = "the command line"
    try:
        wishes = {
            name: read(name, value, where) if isinstance(value, str) else check(name, value, where)
            for name, value in found.items()
            if value is not None
        }
    except ValueError as error:
        raise PlayerError(str(error)) from None
    if wishes.get("ears") or wishes.get("drummer_ears"):  # who names in-ears wants to hear a click in them
        wishes.setdefault("click", True)
    return wishes


def first_bar(number: int, chart: Chart) -> int:
    """The bar of the route at which to start, counted from 0, as stated on the command line from 1."""
    bars = len(unfold(chart).bars)
    if not 1 <= number <= bars:
        raise PlayerError(
            f"--from-bar {number}: there is no such bar; in the order of playing this song has bars 1 to {bars} "
            "(liveassist route shows them)"
        )
    return number - 1


def sound_device(wanted: str | None) -> str | None:
    """The full name of the sound device that is meant: a name that is none is told before anything starts."""
    if wanted is None:
        return None
    from liveassist.ears.sound import find_device, list_devices

    return find_device(wanted, list_devices())


def caution_before_sound(device: str | None, *settings: Settings) -> None:
    """Where something will sound or click, show the cautions about hearing, once for good."""
    if device or any(each.ears or each.drummer_ears or each.click for each in settings):
        from liveassist.ears.caution import at_first_start

        at_first_start()


def user_layer() -> dict[str, Any]:
    """The user's settings file, where there is one."""
    path = user_config_path("liveassist") / "settings.toml"
    if not path.exists():
        return {}
    try:
        return tomllib.loads(read_text(str(path), "settings"))
    except (ValueError, RecursionError) as error:  # also numbers and nesting beyond what Python reads
        raise PlayerError(f"{path}: {error}") from None


def for_the_band(
    path: str, chart: Chart, profile: Profile, wishes: Mapping[str, Any], *, feels: Feels | None = None
) -> Layered:
    """The settings with which the band plays the chart in this file: whatever sounds, lists or prints it does it with these.

    Args:
        path: the chart's file, for what is told of it.
        chart: what it says.
        profile: the console.
        wishes: what the command line states.
        feels: those there are, by name; None: those that come with the tool.
    Raises:
        PlayerError: a setting that cannot be, with where it stands.
    """
    return layers(
        ("your settings file", user_layer()),
        ("console profile", profile.settings),
        (Path(path).name, chart_layer(chart)),
        ("the command line", wishes),
        feels=feels,
    )


def layers(*parts: tuple[str, Mapping[str, Any]], feels: Feels | None = None) -> Layered:
    """Settings from layers, weakest first; ``feels`` are those there are, None for those that come with the tool."""
    try:
        found = layered(*parts)
    except ValueError as error:
        raise PlayerError(str(error)) from None
    where, feel = found.origin["feel"], found.settings.feel
    if feel and find_feel(feel, feels) is None:
        known = ", ".join(sorted(load_feels() if feels is None else feels))
        raise PlayerError(f'{where}: "{feel}" is not a feel I know; I can play {known}')
    return found
