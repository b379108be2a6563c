"""Dance tunes of the music21 corpus as songs: real tunes, real repeats, chords put under them by the plainest of rules.

The corpus has next to no tunes that carry chord symbols: two lead sheets and two reels, of which the two that are clearly in
the public domain are this project's lead sheets (``tests/lead_sheets``). What it has are a thousand fiddle tunes of a
collection printed in 1883 (ryansMammoth; encoded by J. B. Walsh, as the files say; the corpus says that it is distributed with
the permission of the encoders). The tunes are in the public domain; the files are read from the installed corpus when they are
needed, and nothing of them is copied here. Tunes go by their number among the files in alphabetical order.

What is real: the melody with all its running notes, its rhythm, its form. Each part is a section, and the roadmap is that of a
dance, each part twice, the whole several times. What is ours: the chords, the tempo (slow enough to sing), the left-out notes.

The chords: one for each half of a bar (for each bar of three), the sequence that has most of the melody's notes, each note
weighing by its length, with a price on each change, a higher one inside the bar, and the tonic at the end of each part. That is
the harmony of someone who vamps along; it changes where the melody makes it change.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from charts.key import Key, read_key
from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route

Notes = tuple[tuple[Fraction, Fraction, int], ...]

METERS = {
    # meter of the corpus: (tempo as a chart says it, chords to a bar)
    "2/4": ("quarter 76", 2),
    "2/2": ("half 72", 2),
    "4/4": ("quarter 104", 2),
    "6/8": ("dotted quarter 66", 2),
    "3/4": ("quarter 108", 1),
}
NAMES = ("Tune", "Turn", "Third Part", "Fourth Part")
TIMES = 3
"""How often a dance tune goes round: common practice, no source."""
LOWEST = 60
"""Tunes are put up by octaves until no note lies below middle C."""

CHORDS = {
    False: {"1": (0, 4, 7), "4": (5, 9, 0), "57": (7, 11, 2, 5), "6m": (9, 0, 4), "2m": (2, 5, 9)},
    True: {"1m": (0, 3, 7), "4m": (5, 8, 0), "5": (7, 11, 2), "b7": (10, 2, 5), "b3": (3, 7, 10), "b6": (8, 0, 3)},
}
"""Chords by mode (minor or not): degrees above the tonic's major scale, and the semitones above the tonic that they hold."""
PLAIN = {"1": 0.25, "1m": 0.25, "4": 0.1, "57": 0.1, "5": 0.1, "b7": 0.1}
"""What speaks for a chord before a note is heard, in beats of melody."""
OVER_BAR, INSIDE = 0.3, 0.8
"""The price of a change at a bar line and inside a bar, in beats of melody."""


@dataclass(frozen=True)
class Part:
    """One part of a tune: whole bars, and the melody from its start; an upbeat lies before it."""

    bars: int
    notes: Notes


def files() -> list[Path]:
    """The tunes of the collection in alphabetical order."""
    from music21 import corpus

    return sorted((Path(corpus.__file__).parent / "ryansMammoth").glob("*.abc"))


def read_tune(number: int) -> tuple[Route, Notes] | None:
    """A tune by its number: its route and its melody at route positions.

    None where it does not end on its tonic, changes its meter, or is not made of two to four parts of whole bars.
    """
    from music21 import converter

    part = converter.parse(str(files()[number]), format="abc").parts[0]
    measures = list(part.getElementsByClass("Measure"))
    meter = measures[0].timeSignature.ratioString
    changed = any(measure.timeSignature is not None for measure in measures[1:])
    key = _key(part)
    if meter not in METERS or changed or key is None:
        return None
    bar = _exact(measures[0].timeSignature.barDuration.quarterLength)
    parts = _parts(measures, bar)
    if parts is None:
        return None
    route = unfold(read_chart(_text(number, key, meter, bar, parts), f"dance tune {number}"))
    return route, _melody(route, parts)


def _exact(quarters: float) -> Fraction:
    return Fraction(quarters).limit_denominator(96)


def _key(part: Any) -> Key | None:
    """The key of the signature, major or minor by the last note; None where that is the tonic of neither."""
    signature = next(iter(part.recurse().getElementsByClass("KeySignature")), None)
    notes = list(part.recurse().notes)
    if signature is None or not notes:
        return None
    for mode in ("major", "minor"):
        tonic = signature.asKey(mode).tonic
        if tonic.pitchClass == notes[-1].pitches[-1].pitchClass:
            return read_key(tonic.name.replace("-", "b") + ("m" if mode == "minor" else ""))
    return None


def _parts(measures: Sequence[Any], bar: Fraction) -> list[Part] | None:
    """The parts between heavy bar lines. A bar that is not full is an upbeat at the start of a part, and the rest of its last
    bar at the end; anywhere else the tune is not used."""
    lines: list[list[Any]] = [[]]
    for measure in measures:
        lines[-1].append(measure)
        if measure.rightBarline is not None and measure.rightBarline.type == "final":
            lines.append([])
    found = []
    for line in filter(None, lines):
        upbeat = [measure for measure in line[:1] if _exact(measure.quarterLength) < bar]
        bars = line[len(upbeat) :]
        if len(bars) not in (4, 8, 16) or any(_exact(measure.quarterLength) != bar for measure in bars[:-1]):
            return None
        notes: list[tuple[Fraction, Fraction, int]] = []
        starts = [bar * index for index in range(len(bars))]
        if upbeat:
            bars, starts = [*upbeat, *bars], [-_exact(upbeat[0].quarterLength), *starts]
        for start, measure in zip(starts, bars, strict=True):
            notes += [
                (start + _exact(note.getOffsetInHierarchy(measure)), _exact(note.quarterLength), note.pitches[-1].midi)
                for note in measure.recurse().notes
                if note.quarterLength > 0  # grace notes aside
            ]
        found.append(Part(len(starts) - len(upbeat), tuple(notes)))
    return found if 2 <= len(found) <= len(NAMES) else None


def _text(number: int, key: Key, meter: str, bar: Fraction, parts: Sequence[Part]) -> str:
    """The chart: each part twice, and all of it several times."""
    names = NAMES[: len(parts)]
    lines = [f"title = Dance tune {number}", f"key = {key.name}", f"meter = {meter}", f"tempo = {METERS[meter][0]}", ""]
    lines += ["== Roadmap ==", *(name for _ in range(TIMES) for name in names for _ in range(2))]
    slots = METERS[meter][1]
    for name, part in zip(names, parts, strict=True):
        chords = _harmonised(part, key, bar / slots, part.bars * slots, slots)
        bars = [chords[start : start + slots] for start in range(0, len(chords), slots)]
        written = [inside[0] if len(set(inside)) == 1 else " ".join(inside) for inside in bars]
        lines += section_lines(name, written)
    return "\n".join(lines) + "\n"


def section_lines(name: str, bars: Sequence[str]) -> list[str]:
    """A section as a chart writes it, four bars to a line."""
    rows = ["| " + " | ".join(bars[start : start + 4]) + " |" for start in range(0, len(bars), 4)]
    return ["", f"== {name} ==", *rows]


def _harmonised(part: Part, key: Key, slot: Fraction, number: int, slots: int) -> list[str]:
    """The best chord for each slot, as chart symbols, by dynamic programming."""
    chords = CHORDS[key.minor]
    best: dict[str, tuple[float, list[str]]] = {}
    for index in range(number):
        heard: dict[int, float] = {}
        for start, length, pitch in part.notes:
            if slot * index <= start < slot * (index + 1):
                degree = (pitch - key.tonic.pitch_class) % 12
                heard[degree] = heard.get(degree, 0.0) + float(length / slot) * slots
        price = INSIDE if index % slots else OVER_BAR
        step: dict[str, tuple[float, list[str]]] = {}
        for name, tones in chords.items():
            fit = sum(share for degree, share in heard.items() if degree in tones) + PLAIN.get(name, 0.0)
            score, before = max(
                ((total - price * (path[-1] != name), path) for total, path in best.values()),
                key=lambda found: found[0],
                default=(0.0, []),
            )
            step[name] = (score + fit, [*before, name])
        best = step
    home = next(iter(chords))
    return [_symbol(name, key) for name in [*best[home][1][:-1], home]]


def _symbol(name: str, key: Key) -> str:
    """A degree above the tonic's major scale as a letter: a chart in minor may count its degrees otherwise."""
    flat = name.startswith("b")
    degree = name.removeprefix("b")
    return key.degree(int(degree[0]), -1 if flat else 0).name + degree[1:]


def _melody(route: Route, parts: Sequence[Part]) -> Notes:
    """The melody at route positions: an upbeat lies in the bar before, and is left out at the very start."""
    by_name = dict(zip(NAMES, parts, strict=False))
    lowest = min(key for part in parts for _, _, key in part.notes)
    lift = 12 * max(0, -(-(LOWEST - lowest) // 12))
    found: list[tuple[Fraction, Fraction, int]] = []
    for bar in route.bars:
        if bar.starts_section:
            placed = [(bar.position + start, length, key + lift) for start, length, key in by_name[bar.section].notes]
            first = next((start for start, _, _ in placed), bar.position)
            found = [note for note in found if note[0] < first]
            found += [note for note in placed if note[0] >= 0]
    return tuple(found)
