"""A musician's own feels: files in the folder ``feels`` of their settings, and in a folder ``feels`` beside the chart.

A file that cannot be read never stops anything: the feel is left out, and what is wrong with it is told. Of two feels of one
name the one beside the chart is taken before the one among the settings, and either before one that comes with the tool.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from platformdirs import user_config_path

from liveassist.arranging.feel import Feel
from liveassist.arranging.feel_files import FeelError, read_feel
from liveassist.arranging.feels import Feels, with_own

FOLDER = "feels"


@dataclass(frozen=True, kw_only=True, slots=True)
class OwnFeels:
    """What was found."""

    feels: Feels
    """Every feel there is, by name: the musician's own, and those that come with the tool."""
    texts: Mapping[str, str]
    """Of their own that can be played, the text of each by the file's name: what a take needs to be replayed."""
    sources: Mapping[str, Path]
    """Of their own that can be played, the file by the feel's name."""
    problems: tuple[str, ...]
    """What is wrong with the others, a line each."""


def settings_folder() -> Path:
    """The folder of the musician's settings where own feels are."""
    return Path(user_config_path("liveassist")) / FOLDER


def own_feels(chart: str | Path | None = None) -> OwnFeels:
    """The feels for a chart, by its file; without one those among the settings."""
    folders = ([] if chart is None else [Path(chart).parent / FOLDER]) + [settings_folder()]
    found: dict[str, Feel] = {}
    texts: dict[str, str] = {}
    sources: dict[str, Path] = {}
    problems: list[str] = []
    for path in _files(list(dict.fromkeys(each.resolve() for each in folders))):
        try:
            text = path.read_text(encoding="utf-8-sig")
            feel = read_feel(text, str(path))
        except FeelError as error:
            count = len(error.problems)
            many = f"{path}: {count} wrong; liveassist feels {path.name}, in its folder, tells what"
            problems += error.problems if count == 1 else [many]
            continue
        except (OSError, UnicodeDecodeError) as error:
            problems.append(f"{path}: cannot be read as a text file in UTF-8 ({error})")
            continue
        if feel.name in found:
            if sources[feel.name].parent == path.parent:
                said = f'"{feel.name}" is the name of {sources[feel.name].name} too'
                problems.append(f"{path}: name: {said}; give each a name of its own")
            continue
        found[feel.name], sources[feel.name], texts[str(path)] = feel, path, text
    return OwnFeels(feels=with_own(found.values()), texts=texts, sources=sources, problems=tuple(problems))


def own_feels_told(chart: str | Path) -> OwnFeels:
    """The feels for a chart; what is wrong with some of them is told on the way."""
    own = own_feels(chart)
    for problem in own.problems:
        print(f"liveassist: {problem}", file=sys.stderr)
    return own


def _files(folders: list[Path]) -> Iterator[Path]:
    for folder in folders:
        if folder.is_dir():
            yield from sorted(folder.glob("*.toml"))
