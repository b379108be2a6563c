"""The command ``fault-report``: everything that somebody needs to see a fault again, in one zip archive.

A take holds all that a replay needs; the archive has it as it is, and chart, console profile and feels beside it to be read.
What in it is the player's own (names, words, places, times) is listed before anything is written, and it is asked for. The path
of the home folder is written as ``~``: it tells a name, and no replay needs it.
"""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from liveassist.commands.options import add
from liveassist.errors import PlayerError

if TYPE_CHECKING:
    from liveassist.console.takes import Take

LIBRARIES = ("mido", "python-rtmidi", "textual", "miniaudio", "numpy", "music21", "matplotlib", "platformdirs")
DEVICES = ("ears", "drummer_ears", "calls_folder")
"""Settings that name a thing or a place of the player's."""
STAMP = (1980, 1, 1, 0, 0, 0)
"""The time of every file in the archive: the same take gives the same archive."""


@dataclass(frozen=True, slots=True)
class Report:
    """What goes into the archive, and what of it is personal."""

    files: Mapping[str, bytes]
    personal: tuple[str, ...]


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("take", help="the take in which it went wrong, or a Standard MIDI File")
    parser.add_argument(
        "--to", metavar="FILE.zip", help="where to write it (default: beside you, named after the take)"
    )
    parser.add_argument("--chart", metavar="FILE", help="the chart, where the take does not carry it")
    add(parser, "--console", help="the console profile, where the take does not carry it")
    parser.add_argument(
        "--yes", action="store_true", help="write it without asking; what is personal is listed all the same"
    )


def run(options: argparse.Namespace) -> int:
    """List what would be in it, ask, and write it."""
    path = Path(options.take)
    try:
        content = path.read_bytes()
    except OSError as error:
        raise PlayerError(f"{path}: cannot be read: {error.strerror}") from None
    found = report(content, path.name, chart=options.chart, console=options.console)
    target = Path(options.to or f"{path.stem}-fault.zip")
    print(f"{target} would hold:")
    for name, part in found.files.items():
        print(f"  {name:<16} {len(part):>9,} bytes")
    print("What in it is personal:")
    for line in found.personal:
        print(f"  * {line}")
    if not options.yes and not _agreed():
        print("Nothing was written.")
        return 1
    _write(target, found.files)
    print(f"{target}: written. Nothing was sent anywhere: give it to whoever is to look at the fault.")
    return 0


def report(content: bytes, name: str, *, chart: str | None = None, console: str | None = None) -> Report:
    """What a report of a take (or a MIDI file) holds.

    Args:
        content: of the take's file, which may be damaged.
        name: of that file.
        chart, console: files to add where the take does not carry them, as a MIDI file does not.
    """
    take, wrong = _read(content, name)
    files: dict[str, bytes] = {name: _homeless(content)}
    if take is not None:
        header = take.header
        files |= _texts({"song.chart": header.chart, "console.toml": header.profile})
        files |= _texts({f"feels/{Path(feel).name}": text for feel, text in header.feels.items()})
    for given, inside in ((chart, "song.chart"), (console, "console.toml")):
        if given is not None:
            files[inside] = _homeless(_file(given))
    files["versions.txt"] = "\n".join((*versions(), *wrong, "")).encode()
    return Report(files, tuple(_personal(take, files)))


def versions() -> Iterator[str]:
    """Programs and machine, without its name."""
    import platform
    from importlib import metadata

    yield f"liveassist {metadata.version('liveassist')}"
    yield f"Python {platform.python_version()}"
    yield f"{platform.system()} {platform.release()} {platform.machine()}"
    for library in LIBRARIES:
        try:
            yield f"{library} {metadata.version(library)}"
        except metadata.PackageNotFoundError:
            yield f"{library}: not there"


def _read(content: bytes, name: str) -> tuple[Take | None, tuple[str, ...]]:
    """The take, and what is wrong with it: a damaged one is a fault worth reporting."""
    from liveassist.console.takes import take_from_bytes

    if content.startswith(b"MThd"):
        return None, ("the take is a MIDI file",)
    try:
        take = take_from_bytes(content, name)
    except PlayerError as error:
        return None, (str(error),)
    return take, take.remarks


def _texts(stated: Mapping[str, str]) -> dict[str, bytes]:
    return {name: _homeless(text.encode()) for name, text in stated.items() if text}


def _file(path: str) -> bytes:
    try:
        return Path(path).read_bytes()
    except OSError as error:
        raise PlayerError(f"{path}: cannot be read: {error.strerror}") from None


def _homeless(content: bytes) -> bytes:
    """Without the path of the home folder, as it is and as JSON writes it."""
    home = str(Path.home())
    if len(home) < 3 or content.startswith(b"MThd"):
        return content
    for written in (home, json.dumps(home)[1:-1], json.dumps(home, ensure_ascii=False)[1:-1]):
        content = content.replace(written.encode(), b"~")
    return content


# -- what is personal -------------------------------------------------------------------------------------------------


def _personal(take: Take | None, files: Mapping[str, bytes]) -> Iterator[str]:
    if take is None:
        yield "every note that was played, as it stands in the file"
    else:
        yield from _of_the_take(take)
    if "song.chart" in files:
        yield "the chart: its title, chords and remarks, and the words of the song"
    user = Path.home().name
    times = sum(content.lower().count(user.lower().encode()) for content in files.values())
    if len(user) > 2 and times:
        yield f'the word "{user}", which is your user name here, {times} time{"s" if times > 1 else ""}'
    yield "the versions of the system and of the libraries; no name of the machine, no address"


def _of_the_take(take: Take) -> Iterator[str]:
    from liveassist.band.events import KeyDown

    header = take.header
    keys = sum(isinstance(event, KeyDown) for event in take.events)
    when = f" on {header.started}" if header.started else ""
    yield f"when you played{when}, and every key: {keys:,}, with its time"
    names = sorted(set(_ports(header.profile)))
    if names:
        yield f"the names of your ports: {', '.join(names)}"
    for name in DEVICES:
        if value := header.settings.get(name):
            yield f"the setting {name.replace('_', ' ')}: {value}"


def _ports(profile: str) -> Iterator[str]:
    """The port names of a console profile."""
    for line in profile.splitlines():
        name, _, value = line.partition("=")
        if name.strip() == "port" and value.strip(' "'):
            yield value.strip(' "')


# -- writing ----------------------------------------------------------------------------------------------------------


def _agreed() -> bool:
    """Ask. Where nobody is there to answer, nothing is written."""
    if not sys.stdin.isatty():
        raise PlayerError("there is nobody here to ask; --yes writes it without asking")
    return input("Write it? (yes or no) ").strip().casefold() in ("y", "yes")


def _write(target: Path, files: Mapping[str, bytes]) -> None:
    """Write the archive; an older one is never written over."""
    import zipfile

    from charts.whole import whole_file

    try:
        with whole_file(target, over=False) as file, zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
            for name, content in files.items():
                archive.writestr(zipfile.ZipInfo(name, STAMP), content, zipfile.ZIP_DEFLATED)
    except FileExistsError:
        raise PlayerError(f"{target}: there is a file of that name already; --to names another") from None
    except OSError as error:
        raise PlayerError(f"{target}: cannot be written: {error.strerror}") from None
