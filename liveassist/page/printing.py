"""Printing: from a chart to a file. The file's name says what is written into it.

| suffix | what |
|---|---|
| .html | one file for screen and printer |
| .musicxml, .xml | MusicXML 4.0 |
| .mxl | the same, compressed |
| .svg | pages, numbered where there are several |
| .mid, .midi | Standard MIDI File |
"""

from __future__ import annotations

import io
import re
import sys
import zipfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from charts.chart import Chart
from charts.whole import write_whole
from liveassist.arranging.arrangement import Arrangement
from liveassist.arranging.feels import Feels
from liveassist.errors import PlayerError
from liveassist.page.score import score
from liveassist.page.sheet import sheet

HTML = ".html"
STANDARD_OUTPUT = "-"


@dataclass(frozen=True, kw_only=True, slots=True)
class Wishes:
    """How a score is printed."""

    fullness: int
    feel: str = ""
    """The feel that it was arranged with instead of the chart's."""
    tempo: float = 0.0
    """Counted beats a minute, 0 for the chart's."""
    unfolded: bool = False
    """Repeats written out."""
    by_feel: bool = True
    """The left hand plays the feel, so that the page names it."""
    known: Feels | None = None
    """All feels, where the player has some of their own."""


Files = Mapping[str, bytes]
"""What is written, by what is added to the name before the suffix."""


def musicxml_text(arrangement: Arrangement, wishes: Wishes, *, degrees: bool = True) -> str:
    """The score as MusicXML 4.0."""
    from liveassist.page.musicxml import musicxml

    found = score(
        arrangement,
        fullness=wishes.fullness,
        feel=wishes.feel,
        tempo=wishes.tempo,
        by_feel=wishes.by_feel,
        known=wishes.known,
    )
    return musicxml(found, sheet(found, unfolded=wishes.unfolded), degrees=degrees)


def score_as_html(arrangement: Arrangement, wishes: Wishes) -> str:
    """The score as one HTML file."""
    from liveassist.page.html import score_page

    title = arrangement.route.chart.title
    return score_page(title, musicxml_text(arrangement, wishes, degrees=False))


def _html(arrangement: Arrangement, wishes: Wishes) -> Files:
    return {"": score_as_html(arrangement, wishes).encode()}


def _musicxml(arrangement: Arrangement, wishes: Wishes) -> Files:
    return {"": musicxml_text(arrangement, wishes).encode()}


def _compressed(arrangement: Arrangement, wishes: Wishes) -> Files:
    container = (
        '<?xml version="1.0" encoding="UTF-8"?>\n<container><rootfiles>'
        '<rootfile full-path="score.musicxml" media-type="application/vnd.recordare.musicxml+xml"/>'
        "</rootfiles></container>\n"
    )
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, text in (
            ("META-INF/container.xml", container),
            ("score.musicxml", musicxml_text(arrangement, wishes)),
        ):
            archive.writestr(zipfile.ZipInfo(name), text, zipfile.ZIP_DEFLATED)
    return {"": packed.getvalue()}


def _svg(arrangement: Arrangement, wishes: Wishes) -> Files:
    from liveassist.page.engraving import alone, engrave

    pages = engrave(musicxml_text(arrangement, wishes, degrees=False))
    return {f"-{number}" if len(pages) > 1 else "": alone(page).encode() for number, page in enumerate(pages, start=1)}


def _midi(arrangement: Arrangement, wishes: Wishes) -> Files:
    from liveassist.page.midi import midi_file

    written = io.BytesIO()
    midi_file(arrangement, fullness=wishes.fullness, tempo=wishes.tempo).save(file=written)
    return {"": written.getvalue()}


WRITERS: Mapping[str, Callable[[Arrangement, Wishes], Files]] = {
    HTML: _html,
    ".musicxml": _musicxml,
    ".xml": _musicxml,
    ".mxl": _compressed,
    ".svg": _svg,
    ".mid": _midi,
    ".midi": _midi,
}
"""How a score is written, by suffix."""


def file_name(chart: Chart) -> str:
    """A file's name without suffix, from the chart's file or else its title."""
    stem = Path(chart.source).stem if chart.source else chart.title
    return re.sub(r"[^\w.-]+", "_", stem).strip("_.") or "song"


def names_itself(to: str | None) -> bool:
    """Whether each song gets a file of its own name there."""
    return not to or Path(to).is_dir() or to.endswith(("/", "\\")) or _suffix_alone(Path(to))


def _suffix_alone(path: Path) -> bool:
    return path.name.startswith(".") and not path.suffix


def target(to: str | None, name: str) -> Path:
    """Where to write: a file; in a folder, the song's own name; a suffix alone, the song's name with it.

    Raises PlayerError where the suffix is none of ours.
    """
    if not to:
        return Path(name + HTML)
    path = Path(to)
    if path.is_dir() or to.endswith(("/", "\\")):
        return path / (name + HTML)
    if _suffix_alone(path):
        path = path.with_name(name + path.name)
    if path.suffix.lower() not in WRITERS:
        raise PlayerError(
            f'{to}: I cannot tell what to write from "{path.suffix or path.name}"; names that end in {", ".join(WRITERS)} tell '
            "me, or the name of a folder that is there. For a PDF, print the .html from a browser"
        )
    return path


def printed(arrangement: Arrangement, path: Path, wishes: Wishes) -> list[Path]:
    """Write a score. Returns the files written. Raises PlayerError where they cannot be."""
    files = WRITERS[path.suffix.lower()](arrangement, wishes)
    return [write(path.with_name(path.stem + part + path.suffix), data) for part, data in files.items()]


def write(path: Path, data: bytes) -> Path:
    """Write a file whole or not at all. Raises PlayerError where it cannot be written."""
    try:
        write_whole(path, data)
    except FileNotFoundError:
        raise PlayerError(f"{path}: cannot be written: there is no folder {path.parent}") from None
    except IsADirectoryError:
        raise PlayerError(f"{path}: cannot be written: it is a folder") from None
    except PermissionError:
        raise PlayerError(f"{path}: cannot be written: you may not write there; --to names another place") from None
    except OSError as error:
        raise PlayerError(f"{path}: cannot be written: {error.strerror}") from None
    return path


def to_standard_output(text: str) -> None:
    """A page for whatever reads it next."""
    sys.stdout.buffer.write(text.encode())
    sys.stdout.flush()
