"""The door: a file from elsewhere to sheets, by its suffix and what is in it.

Everything is read with the standard library: no reader here needs music21, which takes longer to load than these take to read.
A file whose suffix says nothing is told by its content.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from pathlib import Path

from charts.errors import ChartError
from charts.exchange.abc import read_abc
from charts.exchange.files import bytes_of
from charts.exchange.midi import read_midi
from charts.exchange.musicxml import read_musicxml
from charts.exchange.sheet import Sheet
from charts.exchange.words_and_chords import read_words_and_chords

Reader = Callable[[bytes, str], Sequence[Sheet]]


def _musicxml(data: bytes, source: str) -> Sequence[Sheet]:
    return (read_musicxml(data, source),)


READERS: dict[str, Reader] = {
    ".musicxml": _musicxml,
    ".mxl": _musicxml,
    ".xml": _musicxml,
    ".abc": read_abc,
    ".txt": read_words_and_chords,
    ".mid": read_midi,
    ".midi": read_midi,
}
"""What reads a file, by its suffix."""


def read_sheets(path: Path) -> Sequence[Sheet]:
    """The songs of a file. Raises ChartError where it cannot be opened, or holds nothing that is understood."""
    return sheets_of(bytes_of(path), path.name, path.suffix)


def sheets_of(data: bytes, source: str, suffix: str = "") -> Sequence[Sheet]:
    """The songs in a file's bytes."""
    reader = READERS.get(suffix.lower()) or _by_content(data)
    if reader is None:
        known = ", ".join(READERS)
        raise ChartError.at(0, 0, f"this is no kind of file that is understood here; these are: {known}", source)
    if not data.strip(b" \t\r\n\0"):
        raise ChartError.at(0, 0, "this file is empty", source)
    return reader(data, source)


def _by_content(data: bytes) -> Reader | None:
    start = data[:400].lstrip(b"\xef\xbb\xbf \t\r\n")
    if start[:2] == b"PK" or start[:5] in (b"<?xml", b"<scor", b"<!DOC"):
        return _musicxml
    if start[:4] == b"MThd":
        return read_midi
    if re.search(rb"(?m)^X:", data[:4000]) and re.search(rb"(?m)^K:", data[:20000]):
        return read_abc
    return None
