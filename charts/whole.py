"""Writing a file whole or not at all: whoever reads it meanwhile finds the old one or the new one, and so does whoever comes
after a power cut.

A draft stands beside the file until all of it is there, and then takes its place. Where the path is a link, the file that it
leads to is written. A file that was there keeps its permissions, and one that may not be written is not replaced. A pipe or a
device is written into.
"""

from __future__ import annotations

import errno
import os
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO


@contextmanager
def whole_file(path: Path, *, over: bool = True, private: bool = False) -> Iterator[BinaryIO]:
    """A file to write into, which is at ``path`` when all is written; if that fails, what was there stays.

    Args:
        over: a file that is there is written over.
        private: for nobody else's eyes.

    Raises:
        OSError: it cannot be written; FileExistsError where there is one already, without ``over``.
    """
    if path.exists() and not over:
        raise _error(errno.EEXIST, path)
    path = Path(os.path.realpath(path))
    if path.exists() and not path.is_file():
        with path.open("wb") as file:
            yield file
        return
    if path.exists() and not os.access(path, os.W_OK):
        raise _error(errno.EACCES, path)
    draft = path.with_name(f".{os.urandom(8).hex()}.draft")
    new = 0o600 if private else 0o666
    try:
        with open(draft, "xb", opener=lambda name, flags: os.open(name, flags, new)) as file:
            yield file
            file.flush()
            os.fsync(file.fileno())
        if path.exists() and not private:
            draft.chmod(path.stat().st_mode & 0o777)
        draft.replace(path)
    finally:
        draft.unlink(missing_ok=True)


def write_whole(path: Path, content: bytes | str, *, over: bool = True, private: bool = False) -> None:
    """Write bytes, or a text in UTF-8, as ``whole_file`` does. Raises OSError."""
    with whole_file(path, over=over, private=private) as file:
        file.write(content.encode() if isinstance(content, str) else content)


def _error(number: int, path: Path) -> OSError:
    """The error of this number, as the system would raise it."""
    return OSError(number, os.strerror(number), str(path))
