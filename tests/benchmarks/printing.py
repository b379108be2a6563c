"""How long printing a song takes.

    python tests/benchmarks/printing.py

Every demo chart and a song of 200 bars, from the text of the chart to the file: the score as HTML (arranged, written as
MusicXML, engraved), as MusicXML and as MIDI, against a fixed loop of plain Python in the same run. The goal is 3 s a song. Then
how many pages and bars each takes, with its repeats and without.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable
from pathlib import Path

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.arranging.arrange import arrange
from liveassist.page.printing import HTML, WRITERS, Wishes
from liveassist.page.rhythm import written_bar
from liveassist.page.score import score
from liveassist.page.sheet import sheet

GOAL = 3.0
BARS = 200
DIATONIC = ("C", "Dm7", "Em7", "F", "G7", "Am", "F/A", "G/B", "Fmaj7", "Gsus4", "C/E", "D7", "Bb", "Am7", "E7(b9)")
FORMATS = (HTML, ".musicxml", ".mid")
DEFAULT = Wishes(fullness=2)
TIMES = 3


def song() -> str:
    """Two chords a bar, drawn by dice with a seed, and words below every line of four bars."""
    dice = random.Random(1)
    lines = (
        f"| {' | '.join(f'{dice.choice(DIATONIC)} {dice.choice(DIATONIC)}' for _ in range(4))} |\n"
        "  a line of words below its four bars, and a little more\n"
        for _ in range(BARS // 4)
    )
    return "title = Long\nkey = C\nmeter = 4/4\ntempo = 92\nfeel = straight eighths\n\n== Verse ==\n" + "".join(lines)


def plain_loop() -> int:
    """A million additions and comparisons."""
    total = 0
    for number in range(1_000_000):
        if number & 3:
            total += number
    return total


def timed(work: Callable[[], object]) -> float:
    """The median of some runs, in seconds."""
    taken = []
    for _ in range(TIMES):
        written_bar.cache_clear()
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def main() -> None:
    folder = Path(__file__).parents[2] / "demo_charts"
    songs = {path.stem: path.read_text(encoding="utf-8") for path in sorted(folder.glob("*.chart"))} | {
        f"{BARS} bars": song()
    }
    WRITERS[HTML](arrange(unfold(read_chart(song()))), DEFAULT)  # the libraries are loaded once
    baseline = timed(plain_loop)
    print(f"plain loop: {baseline * 1000:.0f} ms; goal {GOAL:g} s, {GOAL / baseline:.0f} loops\n")
    print(
        f"{'song':30}" + "".join(f"{suffix + ' ms':>14}{'loops':>8}" for suffix in FORMATS) + "   pages  bars  unfolded"
    )
    worst = 0.0
    for name, text in songs.items():
        row = f"{name:30}"
        for suffix in FORMATS:
            seconds = timed(lambda: WRITERS[suffix](arrange(unfold(read_chart(text))), DEFAULT))  # noqa: B023
            worst = max(worst, seconds)
            row += f"{seconds * 1000:14.0f}{seconds / baseline:8.1f}"
        arrangement = arrange(unfold(read_chart(text)))
        pages = WRITERS[HTML](arrangement, DEFAULT)[""].count(b'<div class="page">')
        bars = len(sheet(score(arrangement)))
        print(f"{row}{pages:8}{bars:6}{len(arrangement.route.bars):10}")
    print(
        f"\nthe longest: {worst:.2f} s, {worst / baseline:.1f} loops: {'within' if worst < GOAL else 'OVER'} the goal"
    )


if __name__ == "__main__":
    main()
