"""How well the left hand is arranged, and how fast.

    python tests/benchmarks/arranging.py [--quick]

Arranges every song of the set (``arranging_songs``) at every fullness, where there is a tune with the manuals coupled too,
and has a critic (``arranging_critic``) count what no left hand may do. Then how far the hand moves (``arranging_motion``):
beside simpler hands, beside the best there is, beside Bach. Last the time: a song of 200 bars, all levels, against a
fixed loop of plain Python in the same run, and the longest of the slices in which it is made while the band plays.
"""

from __future__ import annotations

import argparse
import gc
import random
import statistics
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field

from arranging_critic import LEFT, RULES, Critic, leaps
from arranging_motion import STEPS, above_the_best, bach, rows, shares
from arranging_songs import ROOTS, Progression, long_song, the_set

from charts.route import Route
from liveassist.arranging import tones, voicing
from liveassist.arranging.arrange import arrange, in_slices
from liveassist.arranging.tune import tune_of

BARS = 200
DIATONIC = ("C", "Dm7", "Em7", "F", "G7", "Am", "F/A", "G/B", "Fmaj7", "Gsus4", "C/E", "D7", "Bb", "Am7", "E7")
FLAVOURS = ("", "m", "7", "maj7", "m7", "sus4", "9", "13", "dim7", "6")
AWAY, SLICE, COLD = 2.0, 0.002, 1.5
"""What is to be reached: semitones a voice at a change, seconds for a slice and for a route of 200 bars."""


# -- rules ------------------------------------------------------------------------------------------------------------


@dataclass
class Verdict:
    """What the critic found in the whole set."""

    songs: Counter[str] = field(default_factory=Counter)
    """Songs by their source."""
    heard: Counter[str] = field(default_factory=Counter)
    """Arrangements, notes, and notes whose chord tones music21 knows."""
    faults: dict[bool, Counter[str]] = field(default_factory=lambda: {False: Counter(), True: Counter()})
    """Broken rules, with the manuals coupled or not."""
    examples: list[str] = field(default_factory=list)
    moves: dict[int, list[int]] = field(default_factory=dict)
    """For each fullness how far each voice goes at each change."""


def judged(songs: Sequence[Progression]) -> Verdict:
    verdict = Verdict()
    for song in songs:
        verdict.songs[song.source] += 1
        tune = tune_of(song.route) if song.tune is None else song.tune
        for coupled in (False, True) if tune else (False,):
            arrangement = arrange(song.route, lift=song.lift, room=song.room, tune=tune, coupled=coupled)
            critic = Critic(arrangement, tune, room=song.room, coupled=coupled)
            for fault in critic.faults():
                verdict.faults[coupled][fault.rule] += 1
                if not coupled and fault.rule != LEFT:
                    verdict.examples.append(f"{song.name}, fullness {fault.fullness}: {fault.rule}: {fault.told}")
            verdict.heard["arrangements"] += 1
            verdict.heard["notes"] += critic.by_music21.total()
            verdict.heard["known to music21"] += critic.by_music21[True]
            if not coupled:
                for fullness, chain in arrangement.voicings.items():
                    verdict.moves.setdefault(fullness, []).extend(leaps(chain))
    return verdict


def tell_rules(verdict: Verdict) -> None:
    songs = ", ".join(f"{count} {source}" for source, count in verdict.songs.items())
    print(f"{verdict.songs.total()} progressions ({songs})")
    heard = verdict.heard
    known = heard["known to music21"] / heard["notes"]
    print(f"{heard['arrangements']} arrangements, {heard['notes']} notes, chord tones from music21 for {known:.0%}\n")
    print(f"{'rules broken':20} {'manuals apart':>14} {'coupled':>9}")
    for rule in RULES:
        print(f"{rule:20} {verdict.faults[False][rule]:>14} {verdict.faults[True][rule]:>9}")
    for example in verdict.examples[:8]:
        print(f"  {example}")
    print()
    for fullness, moves in verdict.moves.items():
        print(
            f"fullness {fullness}: {statistics.mean(moves):.2f} semitones a voice at a change (goal {AWAY:g} or less)"
        )


# -- motion -----------------------------------------------------------------------------------------------------------


def tell_motion(songs: Sequence[Progression]) -> None:
    print(f"\n{'three voices':18} {'semitones':>10} {'over a fourth':>14} {'parallels':>10} {'off middle':>11}")
    for row in rows(songs, 3):
        print(f"{row.way:18} {row.motion:>10.2f} {row.far:>14.1%} {row.parallels:>10.1f} {row.off_middle:>11.2f}")
    above = above_the_best(songs)
    print(f"\ndearer than the cheapest of all chains, {len(above)} short cases: at most {max(above):.2%} (goal 10 %)")


def tell_bach(verdict: Verdict, chorales: Sequence[Progression]) -> None:
    ours: list[int] = []
    for song in chorales:
        ours += leaps(arrange(song.route, tune=song.tune).voicings[2])
    columns = {"Bach, alto and tenor": bach(), "hand, same chorales": ours, "hand, whole set": verdict.moves[2]}
    print(f"\n{'semitones at a change':24}" + "".join(f"{step:>7}" for step in STEPS) + "   mean")
    for name, moves in columns.items():
        told = "".join(f"{share:>7.1%}" for share in shares(moves).values())
        print(f"{name:24}{told}{statistics.mean(moves):>7.2f}")


# -- time -------------------------------------------------------------------------------------------------------------


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
    for remembering in (tones.voicings, tones._placed, voicing.motion, voicing._steps):
        remembering.cache_clear()


def cold(route: Route) -> None:
    forget()
    arrange(route)


def slices(route: Route) -> list[float]:
    """How long each slice took, in seconds of work (time that the computer gave to others not counted), from cold."""
    forget()
    taken = []
    work = in_slices(route)
    while True:
        start = time.thread_time()
        try:
            next(work)
        except StopIteration:
            return taken
        finally:
            taken.append(time.thread_time() - start)


def long_songs() -> dict[str, Route]:
    dice = random.Random(7)

    def dealt(deal: Callable[[], str]) -> Iterator[str]:
        while True:
            yield deal()

    return {
        "a diatonic song": long_song(dealt(lambda: dice.choice(DIATONIC)), BARS),
        "any chord after any": long_song(dealt(lambda: dice.choice(ROOTS) + dice.choice(FLAVOURS)), BARS),
    }


def tell_time() -> None:
    loop = timed(plain_loop)
    print(f"\nplain Python loop {loop * 1000:.1f} ms")
    for name, route in long_songs().items():
        first, again = timed(lambda route=route: cold(route)), timed(lambda route=route: arrange(route))
        gc.collect()
        gc.disable()  # as the band does while it plays
        runs = [slices(route) for _ in range(5)]
        gc.enable()
        longest = statistics.median(max(run) for run in runs)
        print(
            f"{name}, {len(route.bars)} bars, {len(route.changes)} changes: cold {first:.3f} s ({first / loop:.1f} loops, "
            f"goal {COLD} s), again {again:.3f} s; {len(runs[0])} slices, the longest {longest * 1000:.2f} ms "
            f"(goal {SLICE * 1000:g} ms)"
        )


def main() -> None:
    options = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    options.add_argument("--quick", action="store_true", help="a few songs of each kind, and no chorales")
    quick = options.parse_args().quick
    songs = list(the_set(quick=quick))
    gc.freeze()  # the songs stay: no collection need look at them again
    verdict = judged(songs)
    tell_rules(verdict)
    tell_motion(songs)
    if not quick:
        tell_bach(verdict, [song for song in songs if song.source == "chorales" and song.tune])
    tell_time()


if __name__ == "__main__":
    main()
