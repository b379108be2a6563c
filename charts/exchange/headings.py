"""Words on a page that are not sung: names of sections, jumps, marks, chords written as words.

A heading is a name of a section in its common forms (common practice, no source): ``Verse 1:``, ``[Chorus]``, ``CHORUS``,
``Bridge (x2)``, ``Intro -``. Names are written in the chart as ``Verse 1``, each word with a capital.
"""

from __future__ import annotations

import re
from collections.abc import Iterable

from charts.chart import BAR_MARKS
from charts.chord import Chord, read_chord
from charts.marks import read_mark

_NAMES = (
    "intro",
    "introduction",
    "verse",
    "vers",
    "stanza",
    "pre-chorus",
    "pre chorus",
    "prechorus",
    "chorus",
    "refrain",
    "post-chorus",
    "bridge",
    "middle eight",
    "middle 8",
    "interlude",
    "instrumental",
    "turnaround",
    "turn",
    "solo",
    "break",
    "channel",
    "vamp",
    "tag",
    "coda",
    "outro",
    "ending",
    "end",
    "final chorus",
    "last chorus",
    "last verse",
    "first verse",
    "second verse",
    "third verse",
    "fourth verse",
    "hook",
    "descant",
    "amen",
    "strophe",
    "part",
    "section",
)
_HEADING = re.compile(
    rf"""\s*[\[({{<*_\#-]*\s*(?P<name>(?:{"|".join(sorted(map(re.escape, _NAMES), key=len, reverse=True))})
        (?:\s*\#?\s*(?:\d{{1,2}}(?:\s*[-,&+/]\s*\d{{1,2}})*|[ivx]{{1,4}}|[a-d]))?)
        \s*(?P<times>[(\[]?\s*(?:x\s*\d{{1,2}}|\d{{1,2}}\s*x|repeat|\d{{1,2}}\s+times|twice)\s*[)\]]?)?
        \s*[\])}}>*_]*\s*[:.-]?\s*[\])}}>*_]*\s*""",
    re.VERBOSE | re.IGNORECASE,
)
_BRACKETED = re.compile(r"\s*\[(?P<name>[^\[\]|]{1,40})\]\s*:?\s*")
LONGEST_HEADING = 80
"""Characters of a line that may be one."""
LONGEST_SYMBOL = 40
"""Characters of a word that may be a chord."""
_SMALL_BASS = re.compile(r"/([a-g])([#b♯♭+]?)$")
_CHORD_LIKE = re.compile(r"\(?(?:[A-G][#b♯♭]?[A-Za-z0-9#b♯♭+°øΔ()\-,]*(?:/[A-Za-z0-9#b♯♭()]+){0,2}|N\.?C\.?)\)?")


def heading(text: str) -> tuple[str, int] | None:
    """The name of the section that a line of text is, and how often it says that it is played; None where it is none."""
    if len(text) > LONGEST_HEADING:
        return None
    match = _HEADING.fullmatch(text)
    if match:
        return section_name(match["name"]), _times(match["times"] or "")
    bracketed = _BRACKETED.fullmatch(text)
    if bracketed and chord_word(bracketed["name"].strip()) is None and re.search(r"[^\W\d_]", bracketed["name"]):
        return section_name(bracketed["name"]), 1
    return None


def section_name(text: str) -> str:
    """A name as a heading of a chart: single spaces, no signs that the notation needs, capitals at the start of words."""
    words = re.sub(r"[=|#:;,()]+", " ", text).split()
    return " ".join(
        word[:1].upper() + (word[1:].lower() if word.isupper() and len(word) > 3 else word[1:]) for word in words
    )


def _times(text: str) -> int:
    digits = re.search(r"\d+", text)
    if digits:
        return max(1, min(9, int(digits[0])))
    return 2 if text.strip() else 1


def jump_or_mark(text: str) -> tuple[str, bool] | None:
    """The mark that words mean and whether it belongs to the bar (else to a chord); None where they are no mark."""
    if len(text) > LONGEST_HEADING:
        return None
    plain = text.strip(" ()[].,:;").replace("ø", "coda").replace("Ø", "coda")
    mark = read_mark(plain) or read_mark(plain + ".")
    if mark is None and re.fullmatch(r"(?i)(to|al)\s*(the)?\s*coda.*", plain):
        mark = read_mark("to coda")
    if mark is None:
        jump = re.fullmatch(r"(?i)(d\.?\s*[cs]\.?|da capo|dal segno)\s*(?:al|to|till)?\s*(coda|fine|end)?.*", plain)
        if jump:
            goal = {"end": "fine"}.get((jump[2] or "").casefold(), (jump[2] or "").casefold())
            mark = read_mark(f"{jump[1]} al {goal}" if goal else jump[1])
    return None if mark is None else (mark, mark in BAR_MARKS)


def chord_word(text: str) -> Chord | None:
    """The chord that a word is, None where it is none."""
    # Some write the bass small, and a sharp in it as a plus: Am/c, D/f+.
    word = _SMALL_BASS.sub(lambda bass: f"/{bass[1].upper()}{bass[2].replace('+', '#')}", text.strip())
    # "Go" and "Do" are words; a diminished chord so short is hardly ever meant.
    if not word or len(word) > LONGEST_SYMBOL or not _CHORD_LIKE.fullmatch(word) or re.fullmatch("[A-G]o", word):
        return None
    for attempt in (word, word[1:-1] if word[0] == "(" and word[-1] == ")" else word):
        try:
            return read_chord(attempt)
        except ValueError:
            continue
    return None


def unique(name: str, taken: Iterable[str]) -> str:
    """A name that is not taken: ``Verse``, ``Verse Again``, ``Verse Again 2`` ..., as ``section_name`` writes them."""
    used = {each.casefold() for each in taken}
    number = 0
    found = name
    while found.casefold() in used:
        number += 1
        found = f"{name} Again" + (f" {number}" if number > 1 else "")
    return found
