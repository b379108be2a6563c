"""Variety without accident: no four bars in a row are played twice alike, and nothing is lost by it.

*Alike*, as the critic here reads it off the finished arrangement: in two runs of four bars every note begins at the same place
of its bar, on the same key, and is as long. The rule is of our own choice.
"""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import Arrangement
from liveassist.arranging.feels import load_feels
from tests.arranging.routes import faults, notes_in, song

RUN = 4
Heard = tuple[tuple[Fraction, int, Fraction], ...]


def heard(arrangement: Arrangement, fullness: int, *, lengths: bool) -> list[Heard]:
    """Each bar as it is heard."""
    return [
        tuple(
            (note.position - bar.position, note.pitch, note.length if lengths else Fraction(0))
            for note in notes_in(arrangement, bar, fullness)
        )
        for bar in arrangement.route.bars
    ]


def alike(arrangement: Arrangement, fullness: int, *, lengths: bool = False) -> list[tuple[int, int]]:
    """Bars at which runs of four begin that are played alike; silence is always alike and is no run."""
    bars = heard(arrangement, fullness, lengths=lengths)
    first: dict[tuple[Heard, ...], int] = {}
    found = []
    for start in range(len(bars) - RUN + 1):
        run = tuple(bars[start : start + RUN])
        if any(run):
            earlier = first.setdefault(run, start)
            found += [(earlier, start)] if earlier != start else []
    return found


LOOPS = {
    "four chords": ["C", "G/B", "Am7", "F"],
    "two chords a bar": ["C G", "Am F", "Dm7 G7", "C C7"],
    "one chord": ["C"],
    "sevenths": ["Dm7", "G7", "Cmaj7", "A7"],
    "a change on every beat": ["C G Am F", "F C G7 C"],
    "power chords": ["C5", "G5"],
}


@pytest.mark.parametrize("feel", ["straight eighths", "quarters", "off-beats", "ballad", "flowing four", "two-beat"])
@pytest.mark.parametrize("chords", LOOPS.values(), ids=LOOPS.keys())
def test_a_loop_of_64_bars_is_never_played_twice_alike(chords: list[str], feel: str) -> None:
    arrangement = arrange(song(*(chords * (64 // len(chords))), feel=feel), room=1.0)
    assert faults(arrangement, room=1.0) == []
    for fullness in (2, 3, 4):
        assert alike(arrangement, fullness, lengths=True) == []


@pytest.mark.parametrize("feel", sorted(set(load_feels()) - {"held"}))
def test_in_the_usual_loop_every_feel_is_told_apart_by_places_and_keys_alone(feel: str) -> None:
    meter = load_feels()[feel].meters[0].replace("any", "4/4")
    arrangement = arrange(song(*["C", "G/B", "Am7", "F"] * 16, feel=feel, meter=meter, tempo="80"), room=1.0)
    assert faults(arrangement, room=1.0) == []
    for fullness in (2, 3, 4):
        assert alike(arrangement, fullness) == []


def test_unless_it_is_asked_for() -> None:
    loop = song(*["C", "G/B", "Am7", "F"] * 4, feel="straight eighths")
    assert alike(arrange(loop, variety=False), 2) != []
    assert alike(arrange(song(*["C", "G/B", "Am7", "F"] * 4, feel="held")), 2) != []


def test_the_same_seed_gives_the_same_bars_and_another_seed_others() -> None:
    loop = song(*["C", "G/B", "Am7", "F"] * 8, feel="straight eighths")
    assert arrange(loop, seed=5).levels == arrange(loop, seed=5).levels
    assert arrange(loop, seed=5).levels != arrange(loop, seed=6).levels


def test_most_bars_are_played_as_the_feel_has_them() -> None:
    """Counted in 200 bars of one chord: a bar that is varied differs in at most three attacks, and most are not varied."""
    loop = song(*["C", "G/B", "Am7", "F"] * 50, feel="straight eighths")
    plain, various = (heard(arrange(loop, variety=each, room=1.0), 2, lengths=False) for each in (False, True))
    same = sum(one == other for one, other in zip(plain, various, strict=True))
    assert 0.4 < same / len(plain) < 0.9


def test_a_chord_is_whole_where_it_comes_in() -> None:
    """Its third and its seventh sound in the first attack, whatever is left out later."""
    arrangement = arrange(song(*["Dm7", "G7"] * 40, feel="straight eighths"), room=1.0)
    for change in arrangement.route.changes:
        struck = {note.pitch % 12 for note in arrangement.notes_at(2, change.position)}
        assert struck >= ({5, 0} if change.chord.symbol == "Dm7" else {11, 5})


def test_a_ritard_a_hold_and_the_last_chord_are_played_as_they_stand() -> None:
    bars = ["C", "G (rit.)", "Am (hold)", "F"]
    plain = arrange(song(*bars, feel="straight eighths"), variety=False)
    for seed in range(12):
        arrangement = arrange(song(*bars, feel="straight eighths"), seed=seed)
        for bar in arrangement.route.bars[1:3]:
            assert notes_in(arrangement, bar) == notes_in(plain, bar)
        assert arrangement.notes_at(2, Fraction(12)) == plain.notes_at(2, Fraction(12))


@st.composite
def long_songs(draw: st.DrawFn) -> tuple[list[str], str]:
    """A few bars, many times over: in a random order, or as a loop."""
    chords = st.sampled_from(["C", "Am", "F", "G7", "Dm7", "Cmaj7", "Bb/D", "Esus4", "F#dim7", "G5"])
    bars = draw(st.lists(st.lists(chords, min_size=1, max_size=2).map(" ".join), min_size=1, max_size=5))
    times = draw(st.lists(st.sampled_from(bars), min_size=20, max_size=60)) if draw(st.booleans()) else bars * 12
    return times, draw(st.sampled_from(["straight eighths", "quarters", "shuffle", "three-three-two", "flowing four"]))


@settings(max_examples=60, deadline=None)
@given(long_songs(), st.integers(0, 1000), st.sampled_from([0.8, 1.8, 4.0]))
def test_no_song_has_the_same_four_bars_twice(song_: tuple[list[str], str], seed: int, room: float) -> None:
    bars, feel = song_
    arrangement = arrange(song(*bars, feel=feel), seed=seed, room=room)
    assert faults(arrangement, room=room) == []
    for fullness in (2, 3, 4):
        assert alike(arrangement, fullness, lengths=True) == []
