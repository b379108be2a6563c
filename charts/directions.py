"""Lines of the roadmap: a section's name, then what differs this time, in trade words.

Words stand one after the other, with or without commas. ``fuller`` and ``thinner`` may be said more than once;
``soft`` is thinner. ``feel`` takes the words up to the next comma or the next trade word.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

from charts.chart import Step
from charts.lines import Line, Problems
from charts.values import NUMBERS

_DIGITS = {str(n): n for n in range(2, 10)}
TIMES = {"once": 1, "twice": 2} | {f"{word} times": n for word, n in (NUMBERS | _DIGITS).items() if n > 1}
FULLNESS = {"fuller": 1, "thinner": -1, "softer": -1, "soft": -1}
FLAGS = {
    "manuals only": "manuals_only",
    "manuals": "manuals_only",
    "wait": "wait",
    "out": "out",
    "underscore": "underscore",
    "rit.": "rit",
    "rit": "rit",
    "ritard": "rit",
    "rall.": "rit",
    "rall": "rit",
}
INTERVALS = {
    "half step": 1,
    "semitone": 1,
    "half tone": 1,
    "tone": 2,
    "step": 2,
    "whole step": 2,
    "whole tone": 2,
    "minor third": 3,
    "major third": 4,
    "third": 4,
    "fourth": 5,
    "perfect fourth": 5,
    "tritone": 6,
    "fifth": 7,
    "perfect fifth": 7,
    "minor sixth": 8,
    "major sixth": 9,
    "minor seventh": 10,
    "major seventh": 11,
    "octave": 12,
}
"""Semitones; the first name of each is the one that is written."""
OCTAVE = 12
"""No step goes further up or down."""
ACCEPTED = (
    "twice, three times, x2 to x9, fuller, thinner, soft, manuals only, wait, out, underscore, rit., up or down (a "
    "half step, a tone, a minor third ...), feel (and its name)"
)


def _any(words: Iterable[str]) -> str:
    """A pattern for any of these, the longest first; a hyphen may stand for a space."""
    return "|".join(re.escape(word).replace(r"\ ", "[ -]+") for word in sorted(words, key=len, reverse=True))


_END = r"(?=[\s,;:()]|$)"
_DIRECTION = re.compile(
    rf"""(?: (?P<times>{_any(TIMES)}) | [x×]\s*(?P<x>\d{{1,2}}) | (?P<n>\d{{1,2}})\s*[x×]
        | (?P<fullness>{_any(FULLNESS)}) | (?P<flag>{_any(FLAGS)})
        | (?P<way>up|down)\s+(?:(?P<count>{_any(NUMBERS)}|\d{{1,2}})\s+)?(?P<interval>{_any(INTERVALS)})s?
        | (?P<feel>feel) ){_END}""",
    re.IGNORECASE | re.VERBOSE,
)
_BETWEEN = re.compile(r"[\s,;:()]*")
_SPACES = re.compile(r"\s+")
_WORD = re.compile(r"[^\s,;:()]+")


def read_step(line: Line, names: Sequence[str], problems: Problems) -> Step | None:
    """One line of the roadmap; ``names`` are the chart's sections. None where its section is not there, as reported."""
    found = _section(line.content, names)
    if found is None:
        problems.add(line.number, line.column, _unknown_section(line.content, names))
        return None
    name, length = found
    places: dict[str, tuple[int, int]] = {}
    directions = _directions(line.text, line.column - 1 + length, line.number, places, problems)
    return Step(section=name, line=line.number, places=places, **directions)


def _section(text: str, names: Sequence[str]) -> tuple[str, int] | None:
    """The longest section name that a line begins with, and how much of the line it takes."""
    best: tuple[str, int] | None = None
    for name in names:
        match = re.match(r"\s+".join(map(re.escape, name.split())) + _END, text, re.IGNORECASE)
        if match and (best is None or match.end() > best[1]):
            best = name, match.end()
    return best


def _unknown_section(text: str, names: Sequence[str]) -> str:
    if text.startswith("|"):
        return "bars stand in a section, below its name (== Verse 1 ==), and not in the roadmap"
    words = [word.start() for word in _WORD.finditer(text)]
    end = next((start for start in words[1:] if _DIRECTION.match(text, start)), len(text))
    asked = text[:end].rstrip(" ,;:(")
    plain = {name.casefold(): name for name in names}
    near = difflib.get_close_matches(asked.casefold(), plain, n=1, cutoff=0.5)
    advice = f'did you mean "{plain[near[0]]}"? ' if near else ""
    return f'there is no section "{asked}"; {advice}The sections are: {", ".join(dict.fromkeys(names)) or "none"}'


def _directions(
    text: str, place: int, line: int, places: dict[str, tuple[int, int]], problems: Problems
) -> dict[str, Any]:
    """What differs this time: fields of a Step and their values. Where each stands is added to ``places``."""
    said: dict[str, Any] = {}
    for start, end in _pieces(text, place):
        match = _DIRECTION.match(text, start)
        if match is None:
            problems.add(line, start + 1, f'"{text[start:end]}" is no direction that I know; these are: {ACCEPTED}')
            continue
        field, value = _meaning(match, text[match.end() : end])
        places.setdefault(field, (line, start + 1))
        if not value:
            problems.add(
                line, start + 1, f'"{text[start:end]}" is more or less than I can do; these are accepted: {ACCEPTED}'
            )
        elif field == "fullness":
            said[field] = said.get(field, 0) + value
        elif said.setdefault(field, value) != value:
            problems.add(line, start + 1, f'"{text[start:end]}" contradicts what stands before it in this line')
    return said


def _pieces(text: str, place: int) -> Iterator[tuple[int, int]]:
    """Where each direction begins and ends: a trade word, a feel with its name, or a stretch that is neither."""
    while True:
        start = _after(_BETWEEN, text, place)
        if start >= len(text):
            return
        match = _DIRECTION.match(text, start)
        if match is None:
            end = _until_direction(text, _after(_WORD, text, start))
        elif match["feel"]:
            # The first word after it is its name, even where it is a trade word: feel soft ballad.
            end = _until_direction(text, _after(_WORD, text, _after(_SPACES, text, match.end())))
        else:
            end = match.end()
        yield start, end
        place = end


def _until_direction(text: str, place: int) -> int:
    """The end of a stretch of words: before a comma or the next direction."""
    while place < len(text):
        start = _after(_SPACES, text, place)
        end = _after(_WORD, text, start)
        if start in (place, end) or _DIRECTION.match(text, start):
            return place
        place = end
    return place


def _after(pattern: re.Pattern[str], text: str, place: int) -> int:
    match = pattern.match(text, place)
    return match.end() if match else place


def _meaning(match: re.Match[str], rest: str) -> tuple[str, Any]:
    """The field of a Step that a direction fills, and its value."""
    if match["times"]:
        return "times", TIMES[_plain(match["times"])]
    if match["x"] or match["n"]:
        return "times", int(match["x"] or match["n"])
    if match["fullness"]:
        return "fullness", FULLNESS[_plain(match["fullness"])]
    if match["flag"]:
        return FLAGS[_plain(match["flag"])], True
    if match["feel"]:
        return "feel", " ".join(rest.split())
    count = match["count"] or "a"
    semitones = INTERVALS[_plain(match["interval"])] * (int(count) if count.isdigit() else NUMBERS[_plain(count)])
    if semitones > OCTAVE:
        return "up", 0
    return "up", semitones if match["way"].lower() == "up" else -semitones


def _plain(words: str) -> str:
    return " ".join(words.casefold().replace("-", " ").split())


def step_text(step: Step) -> str:
    """The step as a line of the roadmap, in canonical words."""
    said = [_times_text(step.times)] if step.times != 1 else []
    said += ["fuller" if step.fullness > 0 else "thinner"] * abs(step.fullness)
    said += ["manuals only"] if step.manuals_only else []
    said += [_lift_text(step.up)] if step.up else []
    marks = (("out", step.out), ("underscore", step.underscore), ("rit.", step.rit), ("wait", step.wait))
    said += [word for word, marked in marks if marked]
    said += [f"feel {step.feel}"] if step.feel else []
    return f"{step.section}    {', '.join(said)}".rstrip()


def _times_text(times: int) -> str:
    return "twice" if times == 2 else f"x{times}"


def _lift_text(semitones: int) -> str:
    names = {value: name for name, value in reversed(INTERVALS.items())}
    size = abs(semitones)
    way = "up" if semitones > 0 else "down"
    return f"{way} {'an' if names[size] == 'octave' else 'a'} {names[size]}"
