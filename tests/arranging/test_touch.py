"""Touch: how long notes are, and the gap before a key is struck again."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from liveassist.arranging.arrange import arrange
from liveassist.arranging.feel import LIGHT, PLAIN, STRONG
from liveassist.arranging.figure import Attack
from liveassist.arranging.touch import gap_seconds, least_spacing, least_spacing_seconds, touched
from tests.arranging.routes import song

# Room, gap in seconds: a tenth of the reverberation (6 dB of 60), 50 ms for the action, never more than 0.4 s.
GAPS = [(0.3, 0.050), (0.5, 0.050), (1.0, 0.100), (1.8, 0.180), (4.0, 0.400), (9.0, 0.400)]


@pytest.mark.parametrize(("room", "gap"), GAPS)
def test_the_gap_grows_with_the_room(room: float, gap: float) -> None:
    assert gap_seconds(room) == pytest.approx(gap)


def test_attacks_keep_the_same_distance() -> None:
    assert least_spacing_seconds(0.3) == 0.125
    assert least_spacing_seconds(2.0) == pytest.approx(0.2)


# Feel, tempo, room, and where the first note of the first bar ends, by hand, in quarters.
LENGTHS = {
    # A tenth longer than detached (0.825 of a quarter), but the key is struck again after a gap of 180 ms, which at 60
    # is 0.18 quarters: that leaves 0.82.
    "strong, repeated": ("quarters", "60", 1.8, Fraction(82, 100)),
    # The same in a dry room: 50 ms, so the touch decides.
    "strong, dry": ("quarters", "60", 0.3, Fraction(825, 1000)),
    # Half of the value at most: an eighth at 120 lasts 250 ms, the gap would be 300 ms.
    "half the value at most": ("straight eighths", "120", 2.4, Fraction(1, 4)),
    # Held: to the end of the change, where the key is not struck again.
    "held": ("held", "60", 1.8, Fraction(4)),
}


@pytest.mark.parametrize(("feel", "tempo", "room", "length"), LENGTHS.values(), ids=LENGTHS.keys())
def test_the_first_note_by_hand(feel: str, tempo: str, room: float, length: Fraction) -> None:
    notes = arrange(song("C", "Bb", feel=feel, tempo=tempo), room=room, variety=False).levels[2]
    # The third sounds in every attack of the first chord, and not in the second.
    third = next(note for note in notes if note.pitch % 12 == 4)
    assert float(third.length) == pytest.approx(float(length), abs=1 / 480)


def test_strong_notes_are_longer_and_the_note_before_one_is_shorter() -> None:
    notes = arrange(song("C", "C", feel="quarters", tempo="60"), room=0.3, variety=False).levels[2]
    lengths = {note.position: note.length for note in notes if note.pitch % 12 == 4}
    assert lengths[Fraction(0)] > lengths[Fraction(1)] > lengths[Fraction(3)]


def test_strong_attacks_have_more_voices() -> None:
    arrangement = arrange(song("C", "F", feel="straight eighths"), variety=False)
    assert len(arrangement.notes_at(2, Fraction(0))) == 3
    assert len(arrangement.notes_at(2, Fraction(1, 2))) == 2


def test_strong_attacks_reach_higher() -> None:
    """Accent by register: in a plain triad the light attack leaves out the top voice, unless that is the third."""
    arrangement = arrange(song("F", "Bb", feel="straight eighths"), variety=False)
    for change in arrangement.route.changes:
        strong = [note.pitch for note in arrangement.notes_at(2, change.position)]
        light = [note.pitch for note in arrangement.notes_at(2, change.position + Fraction(1, 2))]
        third = (change.root + 4) % 12
        assert set(light) < set(strong)
        assert max(light) < max(strong) or max(strong) % 12 == third


def test_lengths_are_simple_fractions_of_a_quarter() -> None:
    for notes in arrange(song("C", "G7 Am", "F", feel="shuffle", tempo="97"), room=2.3).levels.values():
        assert all(960 % note.length.denominator == 0 for note in notes)
        assert all(12 % note.position.denominator == 0 for note in notes)


# Room, action, quarters a minute and counted beat, and how near attacks may come, in quarters, by hand: a tenth of the
# reverberation and never above 0.4 s, but no more than the beat; and never nearer than the action allows.
NEAREST = {
    "the room": (1.8, 8.0, 60.0, 1, 0.180),
    "the action, in a dry room": (0.5, 8.0, 60.0, 1, 0.125),
    "a slow action": (0.5, 4.0, 60.0, 1, 0.250),
    "a very live room gives way to the beat": (4.0, 8.0, 240.0, 1, 1.0),
    "and to a dotted beat": (9.0, 8.0, 252.0, Fraction(3, 2), 1.5),
    "but the action does not": (9.0, 2.0, 240.0, 1, 2.0),
}


@pytest.mark.parametrize(("room", "action", "bpm", "beat", "nearest"), NEAREST.values(), ids=NEAREST.keys())
def test_how_near_attacks_may_come(room: float, action: float, bpm: float, beat: Fraction, nearest: float) -> None:
    assert float(least_spacing(room, action, bpm, Fraction(beat))) == pytest.approx(nearest, abs=1 / 960)


@pytest.mark.parametrize("action", [3.0, 5.0, 8.0, 12.0])
@pytest.mark.parametrize("feel", ["straight eighths", "anthem", "shuffled sixteenths"])
def test_no_action_is_asked_for_more_than_it_can(feel: str, action: float) -> None:
    arrangement = arrange(song("C", "F G", "Am", feel=feel, tempo="150"), room=0.2, action=action)
    for places in arrangement.attacks.values():
        assert all((after - before) * 60 / 150 >= 1 / action - 1e-9 for before, after in pairwise(map(float, places)))


@pytest.mark.parametrize("touch", ["held", "legato", "detached", "short", "very short"])
def test_a_touch_is_a_share_of_what_is_written(touch: str) -> None:
    """Shares of our own choice: 100, 97, 75, 50 and 30 in a hundred. A light note of a key that is not struck again."""
    share = {"held": 100, "legato": 97, "detached": 75, "short": 50, "very short": 30}[touch]
    attack = Attack(0, 960, 0, 0, LIGHT, 0, touch, True)
    assert touched([attack], [(60,)], [0])[0].ends == [960 * share // 100]


def test_an_accent_is_longer_and_the_note_before_it_shorter() -> None:
    """A tenth longer, and 15 in a hundred shorter (reference figures of our own choice)."""
    weights = (PLAIN, STRONG, PLAIN)
    attacks = [Attack(960 * at, 960 * (at + 1), at, 0, each, 0, "short", True) for at, each in enumerate(weights)]
    strokes = touched(attacks, [(60,), (62,), (64,)], [0])
    assert [stroke.ends[0] - stroke.attack.start for stroke in strokes] == [408, 528, 480]


def test_every_touch_gives_a_repeated_key_its_gap() -> None:
    """A gap of 200 ticks, or half of what lies between the strokes."""
    for touch in ("held", "legato", "short"):
        attacks = [Attack(at, at + 240, 0, 0, PLAIN, 0, touch, not at) for at in (0, 240, 1200)]
        ends = [stroke.ends[0] for stroke in touched(attacks, [(60,)] * 3, [200])]
        assert ends[0] <= 120
        assert ends[1] <= 1000
