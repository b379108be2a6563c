"""Block letters for chord symbols, of our own drawing, at any height.

A letter is drawn as a scribe draws it: strokes of a broad pen, wider than high, along straight lines and arcs. Points
are given in a box of 1 by 1, x to the right and y down, which is the box of the pen's middle: at any size the outer
edges of a letter fall on whole pixels. A pixel is half a character cell high and one wide, which is nearly square.

A chord symbol is set as an engraver sets it: the root large, its accidental smaller and raised, the rest smaller on the
baseline, the bass after the slash.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterable
from functools import lru_cache
from itertools import pairwise

Point = tuple[float, float]
Stroke = tuple[Point, ...]


def _line(*points: Point) -> Stroke:
    return points


def _arc(cx: float, cy: float, rx: float, ry: float, start: float, end: float) -> Stroke:
    """Part of an ellipse; degrees clockwise from the right."""
    steps = max(4, round(abs(end - start) / 15))
    angles = [math.radians(start + (end - start) * step / steps) for step in range(steps + 1)]
    return tuple((cx + rx * math.cos(angle), cy + ry * math.sin(angle)) for angle in angles)


X = 0.4
"""Where small letters begin, from the top."""
_M = (1 + X) / 2
_HX = (1 - X) / 2


def _bowl(cx: float = 0.5, rx: float = 0.5) -> Stroke:
    return _arc(cx, _M, rx, _HX, 0, 360)


LETTERS: dict[str, tuple[float, tuple[Stroke, ...]]] = {
    # letter: (width over height, strokes)
    "A": (0.74, (_line((0, 1), (0.5, 0), (1, 1)), _line((0.2, 0.66), (0.8, 0.66)))),
    "B": (
        0.68,
        (
            _line((0, 0), (0, 1)),
            _line((0, 0), (0.55, 0)),
            _arc(0.55, 0.24, 0.4, 0.24, -90, 90),
            _line((0, 0.48), (0.6, 0.48)),
            _arc(0.58, 0.74, 0.42, 0.26, -90, 90),
            _line((0, 1), (0.58, 1)),
        ),
    ),
    "C": (0.68, (_arc(0.52, 0.5, 0.52, 0.5, 40, 320),)),
    "D": (
        0.68,
        (
            _line((0, 0), (0, 1)),
            _line((0, 0), (0.42, 0)),
            _arc(0.42, 0.5, 0.58, 0.5, -90, 90),
            _line((0, 1), (0.42, 1)),
        ),
    ),
    "E": (0.58, (_line((1, 0), (0, 0), (0, 1), (1, 1)), _line((0, 0.48), (0.8, 0.48)))),
    "F": (0.58, (_line((1, 0), (0, 0), (0, 1)), _line((0, 0.48), (0.8, 0.48)))),
    "G": (0.72, (_arc(0.52, 0.5, 0.52, 0.5, 50, 315), _line((0.68, 0.56), (1, 0.56), (1, 0.92)))),
    "H": (0.66, (_line((0, 0), (0, 1)), _line((1, 0), (1, 1)), _line((0, 0.5), (1, 0.5)))),
    "M": (0.86, (_line((0, 1), (0, 0), (0.5, 0.6), (1, 0), (1, 1)),)),
    "N": (0.7, (_line((0, 1), (0, 0), (1, 1), (1, 0)),)),
    "a": (0.54, (_bowl(), _line((1, X), (1, 1)))),
    "b": (0.54, (_bowl(), _line((0, 0), (0, 1)))),
    "d": (0.54, (_bowl(), _line((1, 0), (1, 1)))),
    "e": (0.54, (_arc(0.5, _M, 0.5, _HX, 40, 360), _line((0, _M), (1, _M)))),
    "g": (0.54, (_arc(0.5, 0.58, 0.5, 0.18, 0, 360), _line((1, X), (1, 0.86)), _arc(0.5, 0.84, 0.5, 0.16, 0, 150))),
    "h": (0.52, (_line((0, 0), (0, 1)), _arc(0.5, 0.64, 0.5, 0.24, 180, 360), _line((1, 0.64), (1, 1)))),
    "i": (0.0, (_line((0.5, X), (0.5, 1)), _line((0.5, 0), (0.5, 0.02)))),
    "j": (0.26, (_line((1, X), (1, 0.8)), _arc(0.3, 0.8, 0.7, 0.2, 0, 120), _line((1, 0), (1, 0.02)))),
    "l": (0.0, (_line((0.5, 0), (0.5, 1)),)),
    "m": (
        0.96,
        (
            _line((0, X), (0, 1)),
            _arc(0.25, 0.62, 0.25, 0.22, 180, 360),
            _line((0.5, 0.62), (0.5, 1)),
            _arc(0.75, 0.62, 0.25, 0.22, 180, 360),
            _line((1, 0.62), (1, 1)),
        ),
    ),
    "n": (0.52, (_line((0, X), (0, 1)), _arc(0.5, 0.64, 0.5, 0.24, 180, 360), _line((1, 0.64), (1, 1)))),
    "o": (0.54, (_bowl(),)),
    "p": (0.54, (_arc(0.5, 0.6, 0.5, 0.2, 0, 360), _line((0, X), (0, 1)))),
    "r": (0.4, (_line((0, X), (0, 1)), _arc(0.6, 0.64, 0.6, 0.24, 180, 300))),
    "s": (
        0.46,
        (
            _line((1, X), (0.3, X)),
            _arc(0.3, 0.55, 0.3, 0.15, 180, 270),
            _line((0.1, 0.62), (0.9, 0.78)),
            _arc(0.7, 0.85, 0.3, 0.15, 0, 90),
            _line((0.7, 1), (0, 1)),
        ),
    ),
    "t": (0.4, (_line((0.35, 0.12), (0.35, 0.85)), _arc(0.75, 0.85, 0.4, 0.15, 90, 180), _line((0, X), (1, X)))),
    "u": (0.52, (_line((0, X), (0, 0.76)), _arc(0.5, 0.76, 0.5, 0.24, 0, 180), _line((1, X), (1, 1)))),
    "0": (0.54, (_arc(0.5, 0.5, 0.5, 0.5, 0, 360),)),
    "1": (0.3, (_line((0, 0.22), (1, 0), (1, 1)),)),
    "2": (0.54, (_arc(0.5, 0.28, 0.5, 0.28, 190, 380), _line((0.95, 0.4), (0, 1), (1, 1)))),
    "3": (
        0.54,
        (
            _arc(0.45, 0.25, 0.5, 0.25, 210, 450),
            _line((0.3, 0.48), (0.5, 0.48)),
            _arc(0.45, 0.74, 0.55, 0.26, -90, 150),
        ),
    ),
    "4": (0.6, (_line((0.72, 1), (0.72, 0), (0, 0.68), (1, 0.68)),)),
    "5": (0.54, (_line((0.95, 0), (0.08, 0), (0.05, 0.45)), _arc(0.42, 0.69, 0.58, 0.31, -130, 145))),
    "6": (0.54, (_arc(0.5, 0.69, 0.5, 0.31, 0, 360), _line((0, 0.69), (0.1, 0.4), (0.4, 0.1), (0.8, 0)))),
    "7": (0.54, (_line((0, 0), (1, 0), (0.35, 1)),)),
    "8": (0.54, (_arc(0.5, 0.24, 0.44, 0.24, 0, 360), _arc(0.5, 0.73, 0.5, 0.27, 0, 360))),
    "9": (0.54, (_arc(0.5, 0.31, 0.5, 0.31, 0, 360), _line((1, 0.31), (0.9, 0.6), (0.6, 0.9), (0.2, 1)))),
    "♯": (
        0.7,
        (
            _line((0.2, 0.1), (0.2, 1)),
            _line((0.8, 0), (0.8, 0.9)),
            _line((0, 0.4), (1, 0.26)),
            _line((0, 0.76), (1, 0.62)),
        ),
    ),
    "♭": (0.52, (_line((0, 0), (0, 1)), _arc(0.4, 0.62, 0.6, 0.2, 210, 370), _line((1, 0.66), (0.6, 0.86), (0, 1)))),
    "♮": (0.4, (_line((0, 0), (0, 0.72), (1, 0.6)), _line((0, 0.4), (1, 0.28), (1, 1)))),
    "𝄪": (0.5, (_line((0, 0.25), (1, 0.75)), _line((1, 0.25), (0, 0.75)))),
    "°": (0.4, (_arc(0.5, 0.2, 0.5, 0.2, 0, 360),)),
    "ø": (0.54, (_arc(0.5, 0.42, 0.5, 0.36, 0, 360), _line((1, 0), (0, 0.84)))),
    "Δ": (0.6, (_line((0.5, 0.1), (0, 0.9), (1, 0.9), (0.5, 0.1)),)),
    "+": (0.5, (_line((0.5, 0.25), (0.5, 0.85)), _line((0, 0.55), (1, 0.55)))),
    "-": (0.36, (_line((0, 0.55), (1, 0.55)),)),
    "/": (0.4, (_line((1, 0), (0, 1)),)),
    "(": (0.34, (_line((1, 0), (0.4, 0.16), (0, 0.36), (0, 0.64), (0.4, 0.84), (1, 1)),)),
    ")": (0.34, (_line((0, 0), (0.6, 0.16), (1, 0.36), (1, 0.64), (0.6, 0.84), (0, 1)),)),
    "[": (0.36, (_line((1, 0), (0, 0), (0, 1), (1, 1)),)),
    "]": (0.36, (_line((0, 0), (1, 0), (1, 1), (0, 1)),)),
    ".": (0.0, (_line((0.5, 0.97), (0.5, 1)),)),
    ",": (0.1, (_line((1, 0.9), (0, 1.1)),)),
    " ": (0.1, ()),
    "–": (0.5, (_line((0, 0.5), (1, 0.5)),)),
}
LETTERS["𝄫"] = (0.86, tuple(tuple((x * 0.45 + dx, y) for x, y in s) for dx in (0, 0.55) for s in LETTERS["♭"][1]))
LETTERS["—"] = LETTERS["–"]
LETTERS["−"] = LETTERS["-"]
LETTERS["♢"] = LETTERS["Δ"]

THIN = "()[]°ø"
"""Signs that are always drawn with the light pen, or they would look like strokes and blots."""
EVEN = "AMm+Δ"
"""Letters with a stroke in the middle, which must fall on whole pixels."""
RAISED = "°ø"
"""Signs of a quality that stand beside the top of the root."""

Pixels = tuple[tuple[bool, ...], ...]
"""Rows of pixels, all of one length."""

CRAMPED = 10
"""Pixels: letters up to this height are drawn wider, or the pen would fill their bowls."""
LARGE = 20
"""Pixels: from this height a thinner pen is heavy enough."""
SMALLEST = 3
"""Rows of the smallest letters that still can be told apart."""


def _pen(height: int, light: bool) -> tuple[int, int]:
    """Width and height of the pen in pixels, for letters of this height in pixels."""
    high = max(1, round(height * 0.13))
    wide = max(1, round(height * (0.2 if height < LARGE else 0.17)))
    return (high if light else wide), high


def _near(point: Point, begin: Point, end: Point, pen: tuple[float, float]) -> bool:
    """Whether the pen, moving from begin to end, covers the point."""
    px, py = pen
    ax, ay = begin[0] / px, begin[1] / py
    dx, dy = end[0] / px - ax, end[1] / py - ay
    qx, qy = point[0] / px - ax, point[1] / py - ay
    length = dx * dx + dy * dy
    along = min(1.0, max(0.0, (qx * dx + qy * dy) / length)) if length else 0.0
    ex, ey = abs(qx - along * dx), abs(qy - along * dy)
    return (ex**4 + ey**4) <= 1.0 / 16  # a pen with softly rounded corners, half its size to each side


@lru_cache(maxsize=512)
def _letter(char: str, height: int, light: bool) -> Pixels:
    """One letter, ``height`` pixels high; a light pen makes it narrower."""
    ratio, strokes = LETTERS[char]
    px, py = _pen(height, light or char in THIN)
    stretch = (0.9 if light else 1.3) if height <= CRAMPED else 1.0
    width = max(px if strokes else 1, round(ratio * height * stretch))
    if char in EVEN:
        width += (width - px) % 2
    across, down = width - px, height - py

    def placed(point: Point) -> Point:
        return px / 2 + point[0] * across, py / 2 + point[1] * down

    drawn = [[placed(point) for point in stroke] for stroke in strokes]
    pairs = [(begin, end) for stroke in drawn for begin, end in pairwise(stroke)]
    return tuple(
        tuple(any(_near((x + 0.5, y + 0.5), begin, end, (px, py)) for begin, end in pairs) for x in range(width))
        for y in range(height)
    )


def _beside(blocks: Iterable[tuple[Pixels, int]], height: int, gap: int) -> Pixels:
    """Letters side by side, each put so many pixels below the top."""
    rows: list[list[bool]] = [[] for _ in range(height)]
    for pixels, top in blocks:
        width = len(pixels[0])
        for y, row in enumerate(rows):
            if row:
                row.extend([False] * gap)
            inside = top <= y < top + len(pixels)
            row.extend(pixels[y - top] if inside else [False] * width)
    return tuple(tuple(row) for row in rows)


_CELLS = {(False, False): " ", (True, False): "▀", (False, True): "▄", (True, True): "█"}


def _as_text(pixels: Pixels) -> str:
    pairs = zip(pixels[::2], pixels[1::2], strict=True)
    return "\n".join("".join(_CELLS[cell] for cell in zip(above, below, strict=True)) for above, below in pairs)


_SYMBOL = re.compile(r"([A-G])([♯♭𝄪𝄫]*)(.*?)(?:/([A-G])([♯♭𝄪𝄫]*))?")


def _set(symbol: str, rows: int, *, small_bass: bool, light: bool) -> Pixels:
    """A chord symbol or note name, ``rows`` cells high."""
    height = 2 * rows
    small = min(rows, max(4, round(rows * 0.58))) * 2
    low = height - small
    found = _SYMBOL.fullmatch(symbol)
    if found is None:
        sizes = [(char, height, 0) for char in symbol]
    else:
        root, accidental, rest, bass, bass_accidental = (part or "" for part in found.groups())
        sizes = [(root, height, 0)]
        sizes += [(char, small, 0) for char in accidental]
        sizes += [(char, small, 0 if char in RAISED else low) for char in rest]
        if bass:
            size, top = (small, low) if small_bass else (height, 0)
            sizes += [("/", size, top), (bass, size, top)]
            sizes += [(char, small, low if small_bass else 0) for char in bass_accidental]
    gap = max(1, round(height / 14))
    letters = ((_letter(char, size, light and size == small), top) for char, size, top in sizes)
    return _beside(letters, height, gap)


_TRIED = (
    {"small_bass": False, "light": False},
    {"small_bass": True, "light": False},
    {"small_bass": True, "light": True},
)
"""Ways to set a symbol, from the widest."""


@lru_cache(maxsize=256)
def block(symbol: str, columns: int, rows: int) -> str:
    """A chord symbol or note name in block letters, as large as the room allows.

    Args:
        symbol: as written on screens, with typographic accidentals.
        columns, rows: the room, in character cells.
    Returns:
        Lines of block characters, at most ``rows`` of them and ``columns`` long; the symbol itself where it does not
        fit in block letters or has a sign that we have no letter for.
    """
    if not symbol or any(char not in LETTERS for char in symbol):
        return symbol
    for high in range(rows, SMALLEST - 1, -1):
        for way in _TRIED:
            pixels = _set(symbol, high, **way)
            if len(pixels[0]) <= columns:
                return _as_text(pixels)
    return symbol
