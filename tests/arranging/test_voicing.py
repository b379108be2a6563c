"""Voices lead through the whole route as cheaply as can be."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations, pairwise, permutations, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.chord import read_chord
from liveassist.arranging.tones import UNIT, voicings
from liveassist.arranging.tones import recipe as recipe_of
from liveassist.arranging.voicing import InTheWay, Pitches, Stop, chain_cost, led, motion, parallels, step_cost

SYMBOLS = (
    "C",
    "F",
    "G7",
    "Am",
    "Dm7",
    "Em",
    "Bb",
    "E7",
    "Asus4",
    "D/F#",
    "Ebmaj7",
    "Bm7b5",
    "C5",
    "F#m",
    "G9",
    "Abmaj7",
)


def stop(symbol: str, voices: int = 3) -> Stop:
    made_of = recipe_of(read_chord(symbol), leading=11)
    assert made_of is not None
    return Stop(made_of, voices)


def stops(symbols: str, voices: int = 3) -> list[Stop]:
    return [stop(symbol, voices) for symbol in symbols.split()]


def greedy(chain: list[Stop]) -> list[Pitches]:
    """The nearest voicing each time, with no thought of what follows."""
    chosen = [min(voicings(*chain[0].choice), key=lambda voicing: voicing.cost).pitches]
    for before, after in pairwise(chain):
        here = chosen[-1]
        cheapest = min(
            voicings(*after.choice),
            key=lambda voicing: (
                voicing.cost + step_cost(here, voicing.pitches, before.recipe.pedal, after.recipe.pedal)
            ),
        )
        chosen.append(cheapest.pitches)
    return chosen


# Motion in semitones, and the widest move, by hand.
MOTION = {
    "nothing moves": ((60, 64, 67), (60, 64, 67), 0, 0),
    "C to F over a common tone": ((60, 64, 67), (60, 65, 69), 3, 2),
    "C to A minor": ((60, 64, 67), (60, 64, 69), 2, 2),
    "two voices from three": ((60, 64, 67), (60, 67), 3, 3),
    "four voices from three": ((60, 64, 67), (55, 60, 64, 67), 5, 5),
}


@pytest.mark.parametrize(("before", "after", "total", "widest"), MOTION.values(), ids=MOTION.keys())
def test_motion_by_hand(before: Pitches, after: Pitches, total: int, widest: int) -> None:
    assert motion(before, after) == (total, widest)


chords = st.sets(st.integers(52, 69), min_size=2, max_size=4).map(lambda keys: tuple(sorted(keys)))


def pairings(before: Pitches, after: Pitches) -> Iterator[list[tuple[int, int]]]:
    """Every way to send the voices on: one to one where there are as many, else every voice of either to some of the other."""
    if len(before) == len(after):
        yield from (list(zip(before, order, strict=True)) for order in permutations(after))
        return
    pairs = list(product(before, after))
    for size in range(max(len(before), len(after)), len(before) + len(after)):
        for chosen in combinations(pairs, size):
            if {one for one, _ in chosen} == set(before) and {other for _, other in chosen} == set(after):
                yield list(chosen)


@settings(max_examples=60, deadline=None)
@given(chords, chords)
def test_motion_is_the_smallest_sum_over_all_pairings(before: Pitches, after: Pitches) -> None:
    """Taxicab voice leading with doublings: theory in Tymoczko, The Geometry of Musical Chords (Science, 2006)."""
    best = min(sum(abs(one - other) for one, other in pairs) for pairs in pairings(before, after))
    assert motion(before, after)[0] == best


def test_parallel_octaves_with_the_pedal_count_and_contrary_motion_does_not() -> None:
    assert parallels((60, 64, 67), (62, 66, 69), 0, 2) == 2  # octave and fifth
    assert parallels((60, 64, 67), (57, 62, 66), 0, 2) == 0
    assert parallels((60, 64, 67), (60, 64, 67), 0, 0) == 0


def test_costs_are_what_the_theory_says() -> None:
    """Sum of motion 3, widest move 2 at 1.5, one common tone, no parallels: 3 + 3 - 1 semitones."""
    assert step_cost((60, 64, 67), (60, 65, 69), 0, 5) == 5 * UNIT


TUNE_COSTS = InTheWay(tuple(UNIT * (key % 5) for key in range(23)), tuple(UNIT * (key % 3) for key in range(23)))


@settings(max_examples=40, deadline=None)
@given(
    st.lists(
        st.tuples(st.sampled_from(SYMBOLS), st.sampled_from([2, 3, 4, 5]), st.booleans(), st.booleans()),
        min_size=1,
        max_size=4,
    )
)
def test_no_chain_of_voicings_is_cheaper(song: list[tuple[str, int, bool, bool]]) -> None:
    chain = [
        stop(symbol, voices)._replace(afresh=afresh, tune=TUNE_COSTS if sung else None)
        for symbol, voices, afresh, sung in song
    ]
    every = product(*([voicing.pitches for voicing in voicings(*each.choice)] for each in chain))
    assert chain_cost(chain, led(chain)) == min(chain_cost(chain, each) for each in every)


def test_a_section_begins_afresh_at_half_the_cost() -> None:
    one, other = stop("C"), stop("F#m")
    chain = ((60, 64, 67), (54, 57, 61))
    together = chain_cost([one, other], chain)
    apart = chain_cost([one, other._replace(afresh=True)], chain)
    step = step_cost(*chain, 0, 6)
    assert together - apart == step - step // 2


def test_the_hand_keeps_out_of_the_tunes_way() -> None:
    """Third and seventh cost more in the tune's way than a tone that may be missing."""
    everywhere = InTheWay((0,) * 23, (0,) * 23)
    on_e = everywhere._replace(guides=tuple(60 * UNIT if key == 64 - 50 else 0 for key in range(23)))
    assert 64 in led([stop("C")._replace(tune=everywhere)])[0] or 52 in led([stop("C")._replace(tune=everywhere)])[0]
    assert 64 not in led([stop("C")._replace(tune=on_e)])[0]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.sampled_from(SYMBOLS), min_size=1, max_size=24))
def test_the_whole_route_is_never_dearer_than_chord_by_chord(song: list[str]) -> None:
    chain = [stop(symbol, 4) for symbol in song]
    assert chain_cost(chain, led(chain)) <= chain_cost(chain, greedy(chain))


def test_guide_tones_move_by_step_in_a_circle_of_fifths() -> None:
    """Common practice, no source: sevenths fall to thirds."""
    for before, after in pairwise(led(stops("Em7 A7 Dm7 G7 C"))):
        assert max(abs(one - other) for one, other in zip(before, after, strict=True)) <= 2


def test_equal_costs_are_settled_the_same_way_each_time() -> None:
    chain = stops("C Am F G7 C Am F G7 C", 4)
    assert led(chain) == led(list(chain))


def test_nothing_to_lead() -> None:
    assert led([]) == ()
