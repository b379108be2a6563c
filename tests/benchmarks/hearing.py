"""How fast a song is rendered, and in how much memory.

    python tests/benchmarks/hearing.py

Renders the demo charts to sound, each part with its registration, alone and in a room, and a long song made of one of them
again and again; beside them the live tone of ``liveassist.ears.tone``, and one sine worked out sample by sample with numpy, in
the same run. Times are ratios: seconds of music for each second of work, the first render of each cold.
"""

from __future__ import annotations

import time
import tracemalloc
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.arranging.arrange import arrange
from liveassist.arranging.clock import written_time
from liveassist.ears import rendering, tone
from liveassist.ears.in_time import excerpt, in_time, lines
from liveassist.ears.tone import RATE, Played

CHARTS = Path(__file__).parent.parent.parent / "demo_charts"
LIVE_SECONDS = 30.0
AGAIN = 12
"""How often the long song has the short one."""


def notes_of(path: Path) -> tuple[Played, ...]:
    route = unfold(read_chart_file(path))
    parts = lines(arrange(route), 2)
    notes = (note for part in parts.values() for note in part)
    return in_time(route, notes, written_time(route), excerpt(route))


def rendered(notes: Sequence[Played], room: float = 0.0) -> tuple[float, float]:
    """Seconds of music, and of work: nothing remembered from before."""
    rendering.forget()
    began = time.perf_counter()
    frames = sum(len(block) for block in rendering.render(notes, room=room))
    return frames / RATE, time.perf_counter() - began


def live(notes: Sequence[Played]) -> float:
    """Times real time of the live tone."""
    began = time.perf_counter()
    tone.render([note for note in notes if note.off < LIVE_SECONDS], LIVE_SECONDS)
    return LIVE_SECONDS / (time.perf_counter() - began)


def sine() -> float:
    """Times real time of a single sine."""
    began = time.perf_counter()
    np.sin(2.0 * np.pi * 440.0 * np.arange(round(LIVE_SECONDS * RATE)) / RATE)
    return LIVE_SECONDS / (time.perf_counter() - began)


def memory(notes: Sequence[Played]) -> float:
    """The most that rendering keeps at a time, in megabytes."""
    rendering.forget()
    tracemalloc.start()
    for _ in rendering.render(notes):
        pass
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    return most / 1e6


def main() -> None:
    songs = {path.stem: notes_of(path) for path in sorted(CHARTS.glob("*.chart"))}
    longest = max(songs, key=lambda name: rendering.length_of(songs[name]))
    print(f"one sine                    {sine():6.0f} times real time")
    print(f"the live tone               {live(songs[longest]):6.0f} times real time ({longest})\n")
    print(f"{'':28}{'music':>8}{'work':>8}{'times real time':>17}{'in a room':>11}")
    for name, notes in songs.items():
        music, work = rendered(notes)
        wet, work_wet = rendered(notes, 1.8)
        print(f"{name:28}{music:6.0f} s{work:6.2f} s{music / work:17.0f}{wet / work_wet:11.0f}")
    short = songs[longest]
    length = rendering.length_of(short)
    long = [
        replace(note, on=note.on + turn * length, off=note.off + turn * length)
        for turn in range(AGAIN)
        for note in short
    ]
    music, work = rendered(long)
    print(f"\n{AGAIN} times {longest}: {music / 60:.0f} minutes in {work:.1f} s ({music / work:.0f} times real time);")
    print(f"{memory(long):.0f} MB at most, and {memory(short):.0f} MB for one of them")


if __name__ == "__main__":
    main()
