"""Where what a command writes goes, and what it is called."""

from __future__ import annotations

import re
import unicodedata

STANDARD_OUTPUT = "-"


def file_name(title: str) -> str:
    """A title as a file's name: small letters, digits and underscores."""
    plain = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode().casefold()
    return re.sub(r"[^a-z0-9]+", "_", plain).strip("_")[:60].strip("_") or "song"
