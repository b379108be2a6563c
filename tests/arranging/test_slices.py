"""An arrangement made in slices is the one made at once, and no slice is long."""

from __future__ import annotations

import time
from itertools import count

from charts.route import Route
from liveassist.arranging.arrange import arrange, in_slices
from liveassist.arranging.slicing import finished
from tests.arranging.routes import route_of, song

CHORDS = ("C", "Dm7", "Em7", "F", "G7", "Am", "F/A", "G/B")


def long_song(bars: int) -> Route:
    numbers = count()
    return song(*(f"{CHORDS[next(numbers) % 8]} {CHORDS[next(numbers) * 5 % 7]}" for _ in range(bars)))


def plain_loop() -> None:
    total = 0
    for number in range(20_000):
        total += number


def test_a_song_made_in_slices_is_the_one_made_at_once() -> None:
    route = long_song(12)
    for lift in (0, 3):
        assert finished(in_slices(route, lift=lift, coupled=True)) == arrange(route, lift=lift, coupled=True)


def test_other_work_between_the_slices_changes_nothing() -> None:
    one, other = in_slices(long_song(6)), in_slices(long_song(6), lift=2)
    for _ in range(40):
        next(one)
        next(other)
    assert finished(one) == arrange(long_song(6))
    assert finished(other) == arrange(long_song(6), lift=2)


def test_no_slice_is_long() -> None:
    """In seconds of work, against a plain loop of about a millisecond: a slice is two at most, here with room for a busy
    computer. The benchmark prints the figures."""
    arrange(song("C"))  # the feels are read
    loops = []
    for _ in range(5):
        start = time.thread_time()
        plain_loop()
        loops.append(time.thread_time() - start)
    route, runs = long_song(60), []
    for _ in range(3):
        work, longest = in_slices(route), 0.0
        while True:
            start = time.thread_time()
            if next(work, work) is work:
                break
            longest = max(longest, time.thread_time() - start)
        runs.append(longest)
    assert min(runs) < 6 * min(loops)


def test_attacks_are_those_of_the_notes() -> None:
    arrangement = arrange(route_of("title = S\nkey = C\nmeter = 4/4\ntempo = 90\n\n== V ==\n| C | N.C. | G (push) |\n"))
    for fullness, notes in arrangement.levels.items():
        assert arrangement.attacks[fullness] == tuple(sorted({note.position for note in notes}))
