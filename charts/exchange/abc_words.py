"""Words aligned to the notes of a line of tune (ABC standard 2.1, field ``w:``).

A space or ``-`` ends a syllable, ``_`` holds the last one for one more note, ``*`` passes over a note, ``|`` goes on to the
next bar, ``~`` is a space and ``\\-`` a hyphen within one syllable. The signs themselves are written by their numbers (section
8.2): ``\\u005f`` is ``_``.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from dataclasses import replace

from charts.exchange.sheet import GOES_ON, SheetBar

_SYLLABLE = re.compile(r"\s*(?:(?P<sign>[_*|])|(?P<dash>-)|(?P<text>(?:\\-|[^\s\-_*|])+))")


def escaped(word: str) -> str:
    """One word as it is written in a line of words."""
    plain = re.sub(r"[\\_*|~]|&(?=#?\w+;)", lambda sign: f"\\u{ord(sign[0]):04x}", word)
    return plain.replace("%", "\\%").replace("-", "\\-")


def put_words(
    bars: list[SheetBar], notes: Sequence[int], line: str, verse: int, count: int, plain: Callable[[str], str]
) -> None:
    """Gives each bar its words of a line. ``notes`` says for each note of the line which bar it stands in; ``plain`` makes
    letters of the standard's accents and numbers.
    """
    texts: dict[int, str] = {}
    place = 0
    joined = False
    last = None
    for match in _SYLLABLE.finditer(line):
        if match["dash"] or match["sign"] == "_":
            if match["dash"] and last is not None and not joined:
                joined = True
            else:
                place += 1
            continue
        if match["sign"] == "*":
            place += 1
            continue
        if match["sign"] == "|":
            here = notes[place - 1] if 0 < place <= len(notes) else -1
            while place < len(notes) and notes[place] <= here:
                place += 1
            continue
        bar = notes[place] if place < len(notes) else (notes[-1] if notes else count - 1)
        text = plain(re.sub(r"(?<!\\)~", " ", match["text"]).replace("\\-", "-").replace("\\%", "%")).replace(
            GOES_ON, ""
        )
        if last is not None and joined and last != bar:
            texts[last] += GOES_ON
        texts[bar] = (
            texts.get(bar, "") + ("" if bar not in texts else GOES_ON if joined and last == bar else " ") + text
        )
        place += 1
        last, joined = bar, False
    if last is not None and joined:
        texts[last] += GOES_ON
    for bar, text in texts.items():
        if 0 <= bar < len(bars):
            words = list(bars[bar].words)
            words += [""] * (verse + 1 - len(words))
            words[verse] = f"{words[verse]} {text}".strip()
            bars[bar] = replace(bars[bar], words=tuple(words))
