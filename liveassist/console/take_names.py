"""How takes are named: by date, time and title, and one after the other where a song is played more than once in a session:
song.jsonl, song-part2.jsonl, song-part3.jsonl.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from platformdirs import user_data_path


def takes_folder() -> Path:
    """Where takes are kept unless told otherwise: in the user's data folder."""
    return user_data_path("liveassist") / "takes"


def take_path(title: str, now: datetime | None = None) -> str:
    """Where a take of a song is kept."""
    words = re.sub(r"[^\w]+", "-", title.casefold()).strip("-") or "untitled"
    stamp = (now or datetime.now()).strftime("%Y-%m-%d-%H%M%S")
    return str(takes_folder() / f"{stamp}-{words[:60]}.jsonl")


def next_name(take: str) -> str:
    """The name for another take of the same session."""
    if not take:
        return ""
    path = Path(take)
    match = re.fullmatch(r"(.*)-part(\d+)", path.stem)
    stem, number = (match[1], int(match[2]) + 1) if match else (path.stem, 2)
    return str(path.with_name(f"{stem}-part{number}{path.suffix}"))


def takes_of(take: str) -> Iterator[Path]:
    """The takes written of a song, in order."""
    with suppress(OSError):
        while take and Path(take).exists():
            yield Path(take)
            take = next_name(take)


def free_name(take: str) -> str:
    """The first of these names that no take has yet."""
    for path in takes_of(take):
        take = next_name(str(path))
    return take
