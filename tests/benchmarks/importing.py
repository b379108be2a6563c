"""How well hymns become charts, and how fast files are read: prints tables.

    python tests/benchmarks/importing.py            both
    python tests/benchmarks/importing.py hymns      chords found against expert analyses
    python tests/benchmarks/importing.py speed      our readers beside a bare parse by music21

Hymns: the Roman-numeral analyses of 20 chorales in the corpus of music21 (Tymoczko and others), numbers odd for fitting, even
for reporting. Agreement is a share of the duration, sampled every sixteenth. Analysis and score are laid upon each other by
measure numbers; where an edition stands in another key the analysis is transposed, and where its measures are others (number
11: baseline and analysis agree on less than two fifths in any key) it is left out. Baseline: one chord on each beat by
music21's own root finding on the reduction of all parts. *Root*: the root is the same; *quality*: and the triad (major, minor,
diminished, augmented); *seventh*: and whether it has a seventh.
"""

from __future__ import annotations

import sys
import time
import warnings
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from charts.exchange.door import read_sheets
from charts.exchange.hymn import WEIGHTS, Weights, find_chords
from charts.exchange.settling import key_of_signature
from charts.exchange.sheet import SheetBar, tune_note
from charts.key import Key
from charts.meter import Meter
from charts.pitch import Spelling

GRID = Fraction(1, 4)
SAME_MUSIC = 0.4
"""Agreement of analysis and baseline below which they are not of the same measures."""
TRIADS = {
    "": "major",
    "m": "minor",
    "dim": "diminished",
    "aug": "augmented",
    "7": "major",
    "m7": "minor",
    "maj7": "major",
    "m7b5": "diminished",
    "dim7": "diminished",
}

Row = tuple[Fraction, int | None, str, bool]
"""From where on: root, triad, whether there is a seventh."""


@dataclass(frozen=True)
class Chorale:
    number: int
    bars: tuple[SheetBar, ...]
    key: Key
    expert: tuple[Row, ...]
    baseline: tuple[Row, ...]
    length: Fraction


def _exact(value: Any) -> Fraction:
    return Fraction(value).limit_denominator(96)


def _bars(score: Any) -> tuple[SheetBar, ...]:
    """The measures of a score as music21 has it."""
    columns = zip(*(part.getElementsByClass("Measure") for part in score.parts), strict=False)
    meter = Meter(4, 4)
    bars = []
    for column in columns:
        signature = column[0].timeSignature
        meter = Meter(signature.numerator, signature.denominator) if signature else meter
        notes = []
        for measure in column:
            for each in measure.recurse().notes:
                for pitch in each.pitches:
                    spelling = Spelling(pitch.step, round(pitch.alter))
                    at = _exact(each.getOffsetInHierarchy(measure))
                    ties = each.tie is not None and each.tie.type in ("start", "continue")
                    notes.append(tune_note(at, _exact(each.quarterLength), spelling, pitch.midi, ties=ties))
        length = max((_exact(measure.duration.quarterLength) for measure in column), default=meter.bar_length)
        bars.append(SheetBar(length=length or meter.bar_length, meter=meter, voices=tuple(notes)))
    return tuple(bars)


def chorales() -> list[Chorale]:
    """The 20 chorales with their analyses."""
    import music21
    from music21 import corpus, roman

    warnings.simplefilter("ignore")
    folder = Path(music21.__file__).parent / "corpus" / "bach" / "choraleAnalyses"
    found = []
    for number in range(1, 21):
        analysis = music21.converter.parse(folder / f"riemenschneider{number:03d}.rntxt").parts[0]
        score = next(iter(corpus.chorales.Iterator(number, number, numberingSystem="riemenschneider")))
        starts: dict[int, Fraction] = {}
        for measure in score.parts[0].getElementsByClass("Measure"):
            starts.setdefault(measure.number, _exact(measure.offset))
        expert: list[Row] = []
        for measure in analysis.getElementsByClass("Measure"):
            for each in measure.getElementsByClass(roman.RomanNumeral):
                if measure.number in starts:
                    at = starts[measure.number] + _exact(each.offset)
                    expert.append((at, each.root().pitchClass, each.quality, each.isSeventh()))
        bars = _bars(score)
        fifths = next((key.sharps for key in score.recurse().getElementsByClass("KeySignature")), 0)
        baseline = _baseline(score)
        length = min(sum((bar.length for bar in bars), Fraction(0)), expert[-1][0] + 1)
        rows = _in_the_scores_key(sorted(expert), baseline, length)
        if _agreement(rows, baseline, length)[0] < SAME_MUSIC:
            continue
        found.append(Chorale(number, bars, key_of_signature(fifths, bars), rows, baseline, length))
    return found


def _baseline(score: Any) -> tuple[Row, ...]:
    """One chord a beat by music21."""
    reduction = score.chordify()
    rows: list[Row] = []
    for each in reduction.recurse().getElementsByClass("Chord"):
        at = _exact(each.getOffsetInHierarchy(reduction))
        if at.denominator == 1 or not rows or int(at) > int(rows[-1][0]):
            rows.append((at, each.root().pitchClass, each.quality, each.isSeventh()))
    return tuple(sorted(rows))


def _in_the_scores_key(expert: Sequence[Row], baseline: Sequence[Row], length: Fraction) -> tuple[Row, ...]:
    def moved(by: int) -> tuple[Row, ...]:
        return tuple((at, None if root is None else (root + by) % 12, *rest) for at, root, *rest in expert)  # type: ignore[misc]

    agree = {by: _agreement(moved(by), baseline, length)[0] for by in range(12)}
    return moved(0 if agree[0] > SAME_MUSIC else max(agree, key=agree.__getitem__))


def _agreement(expert: Sequence[Row], found: Sequence[Row], length: Fraction) -> tuple[float, float, float]:
    """Shares of the duration: root; root and triad; and the seventh, too."""
    points = [GRID * k for k in range(int(length / GRID))]
    counts = [0, 0, 0]
    for at in points:
        one, other = _at(expert, at), _at(found, at)
        if one is None or other is None or one[1] != other[1]:
            continue
        counts[0] += 1
        counts[1] += one[2] == other[2]
        counts[2] += one[2:] == other[2:]
    whole = max(1, len(points))
    return counts[0] / whole, counts[1] / whole, counts[2] / whole


def _at(rows: Sequence[Row], at: Fraction) -> Row | None:
    found = None
    for row in rows:
        if row[0] > at:
            break
        found = row
    return found


def ours(chorale: Chorale, weights: Weights = WEIGHTS) -> tuple[Row, ...]:
    """What we find."""
    return tuple(
        (each.start, each.candidate[0], TRIADS[each.candidate[1]], "7" in each.candidate[1])
        for each in find_chords(chorale.bars, chorale.key, weights)
    )


def measured(songs: Sequence[Chorale], weights: Weights = WEIGHTS) -> tuple[list[float], list[float]]:
    """Agreement over all songs, each second as much as any other: ours and the baseline's."""
    whole = float(sum(song.length for song in songs))
    totals = [[0.0] * 3, [0.0] * 3]
    for song in songs:
        for total, rows in zip(totals, (ours(song, weights), song.baseline), strict=True):
            for index, share in enumerate(_agreement(song.expert, rows, song.length)):
                total[index] += share * float(song.length) / whole
    return totals[0], totals[1]


def hymns() -> None:
    songs = chorales()
    print(
        f"{'chorales':<22}{'root':>8}{'quality':>9}{'seventh':>9}{'chords':>8}{'expert':>8}   baseline: root, quality, seventh"
    )
    rows = [(str(song.number), [song]) for song in songs]
    rows.append(("fitted (odd)", [song for song in songs if song.number % 2]))
    rows.append(("reported (even)", [song for song in songs if not song.number % 2]))
    for name, group in rows:
        mine, base = measured(group)
        chords = sum(len(ours(song)) for song in group)
        expert = sum(len(song.expert) for song in group)
        print(
            f"{name:<22}{mine[0]:>8.1%}{mine[1]:>9.1%}{mine[2]:>9.1%}{chords:>8}{expert:>8}"
            f"   {base[0]:.1%}, {base[1]:.1%}, {base[2]:.1%}"
        )


def speed() -> None:
    import music21

    warnings.simplefilter("ignore")
    folder = Path(music21.__file__).parent / "corpus"
    sets = {
        "lead sheets (.mxl)": sorted((folder / "leadSheet").glob("*.mxl")),
        "chorales (.mxl)": sorted((folder / "bach").glob("*.mxl"))[:12],
        "tunes (.abc)": sorted((folder / "ryansMammoth").glob("*.abc"))[:60],
    }
    print(f"{'files':<22}{'number':>8}{'ours, s':>10}{'music21, s':>12}{'ratio':>8}")
    for name, paths in sets.items():
        start = time.perf_counter()
        for path in paths:
            read_sheets(path)
        between = time.perf_counter()
        for path in paths:
            music21.converter.parse(path, forceSource=True)
        mine, theirs = between - start, time.perf_counter() - between
        print(f"{name:<22}{len(paths):>8}{mine:>10.2f}{theirs:>12.2f}{theirs / mine:>8.1f}")


if __name__ == "__main__":
    asked = sys.argv[1:] or ["hymns", "speed"]
    if "hymns" in asked:
        hymns()
    if "speed" in asked:
        speed()
