"""How long arranging takes, and how little the hand moves.

    python tests/benchmarks/arranging.py

Times a song of 200 bars, all four levels, against reading and unfolding the same chart and against a fixed loop of plain
Python in the same run; then compares the motion of the voices with chords in root position and with choosing the nearest
voicing chord by chord.
"""

from __future__ import annotations

import random
import statistics
import time
from collections.abc import Callable, Sequence
from itertools import pairwise

from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route
from liveassist.arranging.arrange import arrange
from liveassist.arranging.tones import recipe, voicings
from liveassist.arranging.voicing import Pitches, Stop, chain_cost, led, motion, step_cost, steps_between

BARS = 200
DIATONIC = ("C", "Dm7", "Em7", "F", "G7", "Am", "F/A", "G/B", "Fmaj7", "Gsus4", "C/E", "D7", "Bb", "Am7", "E7")
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
QUALITIES = ("", "m", "7", "maj7", "m7", "sus4", "9", "13", "dim7", "6")


def song(symbols: Callable[[], str], feel: str = "straight eighths") -> str:
    bars = " | ".join(f"{symbols()} {symbols()}" for _ in range(BARS))
    return f"title = Long\nkey = C\nmeter = 4/4\ntempo = 92\nfeel = {feel}\n\n== Verse ==\n| {bars} |\n"


def timed(work: Callable[[], object], times: int = 5) -> float:
    """The median of some runs, in seconds."""
    taken = []
    for _ in range(times):
        start = time.perf_counter()
        work()
        taken.append(time.perf_counter() - start)
    return statistics.median(taken)


def plain_loop() -> int:
    """A million additions and comparisons."""
    total = 0
    for number in range(1_000_000):
        if number & 3:
            total += number
    return total


def forget() -> None:
    """Empty what is remembered between songs."""
    for remembering in (voicings, motion, steps_between):
        remembering.cache_clear()


def cold(route: Route) -> None:
    forget()
    arrange(route)


def hand(route: Route) -> list[Stop]:
    made_of = [recipe(change.chord) for change in route.changes]
    return [(each, 3) for each in made_of if each is not None]


def nearest(stops: Sequence[Stop]) -> list[Pitches]:
    chain = [min(voicings(*stops[0]), key=lambda voicing: voicing.cost).pitches]
    for before, after in pairwise(stops):
        here = chain[-1]
        chain.append(
            min(
                voicings(*after),
                key=lambda voicing: voicing.cost + step_cost(here, voicing.pitches, before[0].pedal, after[0].pedal),
            ).pitches
        )
    return chain


def root_position(route: Route) -> list[Pitches]:
    """Block chords from the root up, the root in the octave of middle C."""
    chain = []
    for change in route.changes:
        root = 55 + ((change.root or 0) - 55) % 12
        chain.append(tuple(sorted(root + tone.semitones for tone in change.chord.tones[:3])))
    return chain


def per_voice(chain: Sequence[Pitches]) -> float:
    """Semitones a voice moves at a change, on average."""
    moved = [motion(before, after)[0] / max(len(before), len(after)) for before, after in pairwise(chain)]
    return statistics.mean(moved)


def main() -> None:
    dice = random.Random(7)
    songs = {
        "a diatonic song": song(lambda: dice.choice(DIATONIC)),
        "any chord after any": song(lambda: dice.choice(ROOTS) + dice.choice(QUALITIES)),
    }
    loop = timed(plain_loop)
    print(f"plain Python loop {loop * 1000:7.1f} ms")
    for name, text in songs.items():
        route = unfold(read_chart(text))
        reading = timed(lambda text=text: unfold(read_chart(text)))
        first, again = timed(lambda route=route: cold(route)), timed(lambda route=route: arrange(route))
        print(f"\n{name}: {len(route.bars)} bars, {len(route.changes)} changes")
        print(f"  reading and unfolding    {reading * 1000:7.1f} ms")
        print(
            f"  arranging, first time    {first * 1000:7.1f} ms  ({first / loop:.1f} loops, {first / reading:.1f} readings)"
        )
        print(f"  arranging, another time  {again * 1000:7.1f} ms")
        stops = hand(route)
        chains = {"whole route": led(stops), "nearest each time": nearest(stops), "root position": root_position(route)}
        for way, chain in chains.items():
            cost = f", cost {chain_cost(stops, chain) / 240:.0f}" if way != "root position" else ""
            print(f"  {way:18} {per_voice(chain):.2f} semitones a voice{cost}")


if __name__ == "__main__":
    main()
