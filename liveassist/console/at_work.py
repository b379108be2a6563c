"""The bands that play on this machine now: on which ports, so that two never play one organ, and where one may look on.

Each band keeps one small file in the user's runtime folder while it plays: title, ports, and the address of its link. A
file may outlive its band, after a crash or a power cut, so it counts only if a band answers at that address.
"""

from __future__ import annotations

import json
import os
import warnings
from collections.abc import Callable, Collection, Iterator
from contextlib import suppress
from dataclasses import asdict, dataclass
from pathlib import Path

from platformdirs import user_runtime_path

from charts.whole import write_whole
from liveassist.errors import PlayerError
from liveassist.link import somebody_in


@dataclass(frozen=True, kw_only=True, slots=True)
class AtWork:
    """A band that plays."""

    title: str
    ports: tuple[str, ...]
    """The MIDI ports that it plays on, by their full names."""
    host: str
    port: int
    look: str = ""
    """The token with which one may look at the band, and no more."""


def folder() -> Path:
    """Where the files are."""
    with warnings.catch_warnings():  # where the session has no runtime folder another is taken, and nobody need be told
        warnings.simplefilter("ignore")
        return user_runtime_path("liveassist") / "bands"


def bands() -> Iterator[AtWork]:
    """The bands that play now. Files of those that have gone are taken away."""
    for path in sorted(folder().glob("*.json")):
        with suppress(OSError):
            found = _read(path.read_bytes())
            if found is not None and somebody_in((found.host, found.port)):
                yield found
            else:
                path.unlink()


def _read(content: bytes) -> AtWork | None:
    try:
        stated = json.loads(content)
        return AtWork(
            title=str(stated["title"]),
            ports=tuple(map(str, stated["ports"])),
            host=str(stated["host"]),
            port=int(stated["port"]),
            look=str(stated.get("look", "")),
        )
    except (ValueError, TypeError, KeyError, RecursionError):
        return None


def refuse_a_second_band(ports: Collection[str]) -> None:
    """Raises PlayerError where a band plays already on one of these ports."""
    if not ports:
        return
    for band in bands():
        shared = [name for name in band.ports if name in ports]
        if shared:
            raise PlayerError(
                f'another band is playing on "{shared[0]}" already: {band.title}. Two would take the keys from each other. '
                "End that one first: q on its desk, or Ctrl-C where it was started"
            )


def put_up(band: AtWork) -> Callable[[], None]:
    """Say what this process plays. Returns what takes the word back. A folder that cannot be had is no reason for silence."""
    path = folder() / f"{os.getpid()}.json"
    with suppress(OSError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        write_whole(path, json.dumps(asdict(band)), private=True)

    def take_down() -> None:
        with suppress(OSError):
            path.unlink(missing_ok=True)

    return take_down
