"""Feels: the ones that come with the tool, and which of them a bar gets.

A feel is one TOML file in ``liveassist/feels``; ``held.toml`` tells its words line by line. A musician's own are read elsewhere
and handed in: ``with_own`` lays them over the others. Wherever a function here takes ``feels``, None means those that come with
the tool.

The patterns are common practice, no source; they are written for this project.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import cache
from importlib import resources
from types import MappingProxyType

from charts.meter import Meter
from liveassist.arranging.feel import QUARTERS, Feel
from liveassist.arranging.feel_files import FeelError, read_feel

Feels = Mapping[str, Feel]
"""Feels by name."""


@cache
def load_feels() -> Feels:
    """All feels that come with the tool, by name. Raises FeelError."""
    found: dict[str, Feel] = {}
    folder = resources.files("liveassist") / "feels"
    for file in sorted(folder.iterdir(), key=lambda entry: entry.name):
        if not file.name.endswith(".toml"):
            continue
        feel = read_feel(file.read_text(encoding="utf-8"), source=file.name)
        if feel.name in found:
            raise FeelError([f'name: another feel is called "{feel.name}"; give this one a name of its own'], file.name)
        found[feel.name] = feel
    return MappingProxyType(found)


def with_own(own: Iterable[Feel]) -> Feels:
    """A musician's own feels before those that come with the tool: of the same name, or the default of the same meter,
    theirs is taken."""
    theirs = {feel.name: feel for feel in own}
    rest = {name: feel for name, feel in load_feels().items() if name not in theirs}
    return MappingProxyType({**theirs, **rest})


def feels_from(texts: Mapping[str, str]) -> Feels:
    """The same from the texts of their files, by the files' names, the nearest first. Raises FeelError."""
    own: dict[str, Feel] = {}
    for source, text in texts.items():
        feel = read_feel(text, source)
        own.setdefault(feel.name, feel)
    return with_own(own.values())


def find_feel(name: str, feels: Feels | None = None) -> Feel | None:
    """The feel of that name, capitals and spaces aside; None where there is none."""
    return (load_feels() if feels is None else feels).get(" ".join(name.casefold().split()))


def default_feel(meter: Meter, feels: Feels | None = None) -> Feel:
    """The feel for a chart that names none, or names one that does not fit this meter."""
    known = load_feels() if feels is None else feels
    for feel in known.values():
        if meter.name in feel.default:
            return feel
    return known[QUARTERS] if known[QUARTERS].fits(meter) else load_feels()[QUARTERS]


def feel_for(name: str | None, meter: Meter, feels: Feels | None = None) -> Feel:
    """The feel of that name where there is one and it fits the meter, else the meter's default."""
    feel = find_feel(name, feels) if name else None
    return feel if feel is not None and feel.fits(meter) else default_feel(meter, feels)
