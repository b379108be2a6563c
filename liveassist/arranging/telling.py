"""An arrangement as data that programs read: one row a note."""

from __future__ import annotations

from typing import Any

from liveassist.arranging.arrangement import Arrangement, Note

DEFAULT_FULLNESS = 2


def note_as_json(note: Note) -> dict[str, Any]:
    """One note; position and length are quarter notes, exact, as text (``"33/2"``)."""
    return {
        "part": note.part,
        "pitch": note.pitch,
        "position": str(note.position),
        "length": str(note.length),
        "change": note.change,
        "fullness": note.fullness,
    }


def notes_of(arrangement: Arrangement, fullness: int = DEFAULT_FULLNESS) -> tuple[Note, ...]:
    """The notes at one fullness, in order of (position, pitch)."""
    return arrangement.levels[fullness]
