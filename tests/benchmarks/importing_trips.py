"""Whether a chart that goes out into another format comes back with the same music: prints a table, and the differences.

    python tests/benchmarks/importing_trips.py                 every chart that the files with music21 make
    python tests/benchmarks/importing_trips.py --every 10      of a tenth of its large collections
    python tests/benchmarks/importing_trips.py random [NUMBER] charts of random lead sheets (importing_pages.py)

Compared: bars, meters, keys, tempi, chords with their marks, tune and words by verse in the order of playing; and, unless a
roadmap orders the sections (other formats write them out), bars, repeats, endings and signs as written.
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

from charts.chart import Chart
from charts.errors import ChartError
from charts.exchange.charting import chart_of
from charts.exchange.door import sheets_of
from charts.exchange.outlets import CHART, exported
from charts.melody import joined, melody
from charts.notation import read_chart
from charts.roadmap import unfold

FORMATS = (CHART, ".musicxml", ".mxl", ".abc")


def music(chart: Chart) -> dict[str, Any]:
    """What is heard, in the order of playing, with its words; and the signs as written, where no roadmap orders them."""
    route = unfold(chart)
    bars = {(section.name, bar.number): bar for section in chart.sections for bar in section.bars}
    found = {
        "bars": [(bar.position, bar.length) for bar in route.bars],
        "meters": [(bars[bar.id].meter.name, bars[bar.id].meter.counted_beat) for bar in route.bars],
        "chords": [(change.position, change.chord.symbol, change.marks) for change in route.changes],
        "tune": [(note.position, note.length, note.pitch, note.spelling.name) for note in joined(melody(route))],
        "keys": [bar.key.name for bar in route.bars],
        "tempi": [round(bar.quarter_bpm, 3) for bar in route.bars],
        "words": " ".join(" ".join(bar.words) for bar in route.bars).split(),
    }
    if not chart.roadmap:
        found["verses"] = [bar.words for bar in route.bars if bar.words]
        found["signs"] = [
            (section.name, bar.number, bar.opens_repeat, bar.closes_repeat, bar.endings, bar.in_endings, bar.marks)
            for section in chart.sections
            for bar in section.bars
        ]
    return found


def came_back(chart: Chart, suffix: str) -> tuple[Chart, list[str]]:
    """The chart after its journey, and what was told as lost on the way back."""
    data, _ = exported(chart, suffix)
    if suffix == CHART:
        return read_chart(data.decode()), []
    (sheet,) = sheets_of(data, f"song{suffix}", suffix)
    made = chart_of(sheet)
    return made.chart, [str(remark) for remark in made.remarks if remark.lost]


def charts_of(data: bytes, name: str, counted: Counter[str]) -> Iterator[Chart]:
    """The charts that a file makes."""
    try:
        sheets = sheets_of(data, name, Path(name).suffix)
    except ChartError:
        counted["refused"] += 1
        return
    for sheet in sheets:
        counted["tunes"] += 1
        try:
            made = chart_of(sheet)
        except ChartError as error:
            counted["no chart"] += 1
            print(f"{name} {sheet.title!r}: {error.problems[0].message}")
            continue
        counted["something told as lost"] += any(remark.lost for remark in made.remarks)
        yield made.chart


def _files(arguments: Sequence[str]) -> Iterator[tuple[str, bytes]]:
    from importing_agreement import LARGE, SUFFIXES
    from importing_pages import lead_sheet

    numbers = [int(each) for each in arguments if each.isdecimal()]
    if "random" in arguments:
        yield from ((f"page {seed}.musicxml", lead_sheet(seed)) for seed in range(numbers[0] if numbers else 200))
        return
    import music21

    every = numbers[0] if numbers else 1
    seen: Counter[str] = Counter()
    for path in sorted(Path(music21.__file__).parent.rglob("*")):
        if path.suffix in SUFFIXES:
            large = next((name for name in LARGE if name in path.parts), "")
            seen[large] += 1
            if not large or seen[large] % every == 0:
                yield path.name, path.read_bytes()


def main(arguments: Sequence[str]) -> None:
    counted: Counter[str] = Counter()
    same: Counter[str] = Counter()
    for name, data in _files(arguments):
        for chart in charts_of(data, name, counted):
            counted["charts"] += 1
            before = music(chart)
            for suffix in FORMATS:
                after, told = came_back(chart, suffix)
                now = music(after)
                differences = [what for what in before if before[what] != now.get(what)]
                same[suffix] += not differences and not told
                if differences or told:
                    print(f"{name} {chart.title!r} {suffix}: {', '.join(differences)} {told[:2]}")
    print(", ".join(f"{name} {number}" for name, number in counted.items()))
    for suffix in FORMATS:
        print(f"{suffix:<12}{same[suffix]:>7} of {counted['charts']}{same[suffix] / max(1, counted['charts']):>10.2%}")


if __name__ == "__main__":
    main(sys.argv[1:])
