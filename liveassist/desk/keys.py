"""The keys of the desk. The nods' keys stand in ``liveassist.band.nods.NODS``; the rest stands here. Key map and help
screen are made from these tables alone.
"""

from __future__ import annotations

from liveassist.band.nods import NODS

CUE_KEYS = ("space", "pagedown", "pageup", "right", "left")
"""The cue to move on. Page-turner pedals send these; both pedals of one move on, because a foot under a console does
not look which it hits."""

DESK_KEYS: tuple[tuple[tuple[str, ...], str, str, str], ...] = (
    # keys, action (it may name the key), how the help shows the keys, what it does
    (CUE_KEYS, "cue('{key}')", "space, page keys, ← →", "cue: move on (or as the console profile says)"),
    (("m", "M"), "open('roadmap')", "m", "roadmap: choose where to go next"),
    (("s", "S"), "open('settings')", "s", "settings, and where each came from"),
    (("b", "B"), "open('bench')", "b", "bench check: everything once, before the service"),
    (("l", "L"), "light", "l", "light or dark"),
    (("question_mark", "f1"), "open('help')", "? or F1", "these pages; again for the next"),
    (("q", "Q", "ctrl+q", "ctrl+c"), "open('leave')", "q", "leave; asks first"),
)

FOLLOW_UPS: dict[str, tuple[int, ...]] = dict.fromkeys(("vamp", "tag"), (2, 4))
"""Nods that may be followed by a digit, and the digits. The nod alone goes out after ``FOLLOW_UP_WAIT``, or at once
when its key is pressed again."""
FOLLOW_UP_WAIT = 1.2
"""Seconds."""


def nod_keys(key: str) -> tuple[str, ...]:
    """A nod's key with and without Caps Lock."""
    return (key, key.upper()) if key.isalpha() else (key,)


def nod_help() -> list[tuple[str, str]]:
    """Key and meaning of each nod that has a key."""
    rows = []
    for nod in NODS.values():
        if nod.key:
            digits = " or ".join(str(digit) for digit in FOLLOW_UPS.get(nod.name, ()))
            rows.append((nod.key, f"{nod.name}: {nod.says}" + (f" (then {digits})" if digits else "")))
    return rows


def desk_help() -> list[tuple[str, str]]:
    """Keys and meaning of what is not a nod."""
    return [(shown, says) for _, _, shown, says in DESK_KEYS]
