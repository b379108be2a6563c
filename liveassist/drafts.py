"""Writing a file whole or not at all: whoever reads it meanwhile finds the old one or the new one."""

from __future__ import annotations

from pathlib import Path


def write_whole(path: Path, text: str, *, private: bool = False) -> None:
    """Write a text as a draft beside the file, then put it in the file's place. ``private``: for nobody else's eyes. Raises
    OSError."""
    draft = path.with_name(path.name + ".draft")
    if private:
        draft.touch(mode=0o600)
    draft.write_text(text, encoding="utf-8")
    draft.replace(path)
