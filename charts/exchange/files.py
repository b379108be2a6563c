"""Files from elsewhere, read and written with care.

A file is read whole, up to a limit, and an archive is unpacked in memory, up to a limit: nothing that it names is ever
opened or written. XML that declares entities is refused: no score needs one, and by them a small file can grow to any size.
Text is decoded as its byte-order mark or its own declaration says, else as UTF-8, else as Windows-1252 or Latin-1.
A file that is there is written over only where that was asked for.
"""

from __future__ import annotations

import codecs
import io
import re
import zipfile
import zlib
from pathlib import Path
from xml.etree import ElementTree

from charts.errors import ChartError
from charts.whole import write_whole

LARGEST = 16 * 2**20
"""Bytes of a file, and of what an archive unpacks to."""
MOST_ELEMENTS = 600_000
MOST_MEMBERS = 1000
_MARKS = (
    (codecs.BOM_UTF8, "utf-8"),
    (codecs.BOM_UTF32_LE, "utf-32"),
    (codecs.BOM_UTF32_BE, "utf-32"),
    (codecs.BOM_UTF16_LE, "utf-16"),
    (codecs.BOM_UTF16_BE, "utf-16"),
)
_DECLARED = re.compile(rb"""^\s*<\?xml[^>]*encoding\s*=\s*["']([A-Za-z0-9._-]+)["']""")
_LARGE = f"larger than {LARGEST // 2**20} MB, and no song is"


def bytes_of(path: Path) -> bytes:
    """What a file holds. Raises ChartError where it cannot be opened or is too large."""
    try:
        with path.open("rb") as file:
            data = file.read(LARGEST + 1)
    except FileNotFoundError:
        raise ChartError.at(0, 0, "there is no such file", str(path)) from None
    except IsADirectoryError:
        raise ChartError.at(0, 0, "this is a folder, and a file was wanted", str(path)) from None
    except OSError as error:
        raise ChartError.at(0, 0, f"this cannot be opened: {error.strerror}", str(path)) from None
    if len(data) > LARGEST:
        raise ChartError.at(0, 0, f"this is {_LARGE}", str(path))
    return data


def decoded(data: bytes) -> str:
    """Bytes as text: by mark, by declaration, as UTF-8, as a western encoding."""
    for mark, name in _MARKS:
        if data.startswith(mark):
            return data[len(mark) if name == "utf-8" else 0 :].decode(name, "replace")
    declared = _DECLARED.match(data[:200])
    names = [declared[1].decode("ascii")] if declared else []
    for name in (*names, "utf-8", "cp1252"):
        try:
            return data.decode(name)
        except (LookupError, UnicodeError):
            continue
    return data.decode("latin-1")


def xml_of(data: bytes, source: str) -> ElementTree.Element:
    """The root of an XML text. Raises ChartError where it is none, or declares entities, or is too large."""
    text = decoded(data)
    if re.search(r"<!ENTITY", text[:100_000], re.IGNORECASE) or text.count("<!ENTITY"):
        raise ChartError.at(0, 0, "this declares entities of its own, which no score needs; it is not read", source)
    if text.count("<") > 2 * MOST_ELEMENTS:
        raise ChartError.at(0, 0, f"this has more than {MOST_ELEMENTS:,} elements, and no song has", source)
    try:
        return ElementTree.fromstring(text.lstrip("\ufeff \t\r\n"))
    except (ElementTree.ParseError, ValueError) as error:
        raise ChartError.at(0, 0, f"this is not whole XML ({error}); half a file, perhaps", source) from None


def score_in_archive(data: bytes, source: str) -> bytes:
    """The score that a compressed MusicXML file holds: the one its container names, else the first that looks like one.

    Raises ChartError where the archive is broken, too large when unpacked, or holds no score.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            if len(names) > MOST_MEMBERS:
                raise ChartError.at(0, 0, f"this archive holds {len(names)} files, and a score needs a few", source)
            named = _rootfile(archive, source) if "META-INF/container.xml" in names else None
            if named not in names:
                scores = [
                    n for n in names if n.lower().endswith((".xml", ".musicxml")) and not n.startswith("META-INF")
                ]
                named = scores[0] if scores else None
            if named is None:
                raise ChartError.at(0, 0, "this archive holds no score", source)
            return _member(archive, named, source)
    except (zipfile.BadZipFile, zlib.error, EOFError, NotImplementedError, RuntimeError, OSError, ValueError) as error:
        if isinstance(error, ChartError):
            raise
        raise ChartError.at(0, 0, f"this is not a whole compressed score ({error})", source) from None


def _rootfile(archive: zipfile.ZipFile, source: str) -> str | None:
    container = xml_of(_member(archive, "META-INF/container.xml", source), source)
    for element in container.iter():
        if element.tag.rpartition("}")[2] == "rootfile":
            return element.get("full-path")
    return None


def _member(archive: zipfile.ZipFile, name: str, source: str) -> bytes:
    with archive.open(name) as member:
        data = member.read(LARGEST + 1)
    if len(data) > LARGEST:
        raise ChartError.at(0, 0, f"unpacked this is {_LARGE}", source)
    return data


def write(path: Path, data: bytes, *, force: bool = False) -> None:
    """Writes a file whole or not at all. Raises ChartError where one is there (without ``force``) or it cannot be written."""
    try:
        write_whole(path, data, over=force)
    except FileExistsError:
        raise ChartError.at(0, 0, "this file is there already; --force writes over it", str(path)) from None
    except OSError as error:
        raise ChartError.at(0, 0, f"this cannot be written: {error.strerror}", str(path)) from None
