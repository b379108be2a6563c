"""Below the tune or around it, never on its key; below it where the manuals are coupled."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.melody import MelodyNote
from charts.pitch import Spelling
from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import Arrangement, Note
from tests.arranging.routes import route_of, song

C4, E4, G4, B3, D4 = 60, 64, 67, 59, 62


def sung(*notes: tuple[int, str], start: str = "0") -> tuple[MelodyNote, ...]:
    """A tune of keys and lengths in quarter notes, one after the other; key 0 is a rest."""
    found, position = [], Fraction(start)
    for key, length in notes:
        if key:
            found.append(
                MelodyNote(position=position, length=Fraction(length), pitch=key, spelling=Spelling("C", 0), bar=0)
            )
        position += Fraction(length)
    return tuple(found)


def figure(arrangement: Arrangement, fullness: int = 2) -> tuple[Note, ...]:
    return arrangement.levels[fullness]


def together(arrangement: Arrangement, tune: tuple[MelodyNote, ...], *, coupled: bool = False) -> list[Note]:
    """Notes of the hand on a key that the tune has at the same time, or above it where the manuals are coupled."""
    return [
        note
        for notes in arrangement.levels.values()
        for note in notes
        for held in tune
        if held.position < note.position + note.length
        and note.position < held.end
        and (note.pitch >= held.pitch if coupled else note.pitch == held.pitch)
    ]


def test_the_third_makes_room_for_the_tune_and_still_sounds() -> None:
    tune = sung((E4, "4"))
    arrangement = arrange(song("C", feel="quarters"), tune=tune)
    assert together(arrangement, tune) == []
    assert {note.pitch % 12 for note in figure(arrangement)} >= {4}


def test_a_key_is_let_go_before_the_tune_comes_to_it() -> None:
    """Held chord, tune on its third in beat three: at 60 beats a minute the gap is a tenth of the reverberation time."""
    plain = arrange(song("C", feel="held", tempo="60"))
    key = next(note.pitch for note in figure(plain) if note.pitch % 12 == 7)
    tune = sung((0, "7/2"), (key, "1/2"))
    arrangement = arrange(song("C", feel="held", tempo="60"), tune=tune, room=2.0)
    assert together(arrangement, tune) == []
    held = next((note for note in figure(arrangement) if note.pitch == key), None)
    if held is not None:
        assert Fraction(7, 2) - held.length == Fraction(1, 5)


def test_the_tune_of_the_chart_counts_without_being_handed_in() -> None:
    route = route_of(
        "title = Song\nkey = C\nmeter = 4/4\ntempo = 92\nfeel = quarters\n\n== Verse ==\n| C | G |\nmelody = E8 | B,8 |\n"
    )
    tune = sung((E4, "4"), (B3, "4"))
    assert together(arrange(route), tune) == []
    assert arrange(route).levels == arrange(route, tune=tune).levels


def test_a_lift_lifts_the_tune_too() -> None:
    tune = sung((E4, "4"), (D4, "4"))
    lifted = sung((E4 + 2, "4"), (D4 + 2, "4"))
    assert together(arrange(song("C", "G", feel="quarters"), tune=tune, lift=2), lifted) == []


def test_coupled_manuals_keep_the_hand_below_the_tune() -> None:
    tune = sung((B3, "2"), (57, "2"), (B3, "4"))
    apart = arrange(song("C", "G7", feel="straight eighths"), tune=tune)
    coupled = arrange(song("C", "G7", feel="straight eighths"), tune=tune, coupled=True)
    assert together(apart, tune, coupled=True)
    assert together(coupled, tune, coupled=True) == []
    assert {note.pitch % 12 for note in figure(coupled) if note.change == 0} >= {4}, "the third still sounds"


def test_without_a_tune_coupling_changes_nothing() -> None:
    route = song("C", "G7", "Am", "F")
    assert arrange(route, coupled=True).levels == arrange(route).levels


def test_a_tune_that_nobody_can_read_is_left_out_of_account() -> None:
    """The proof tells it; the organist plays on."""
    text = "title = Song\nkey = C\nmeter = 4/4\ntempo = 92\n\n== Verse ==\n| C | G |\nmelody = E8 & | B,8 |\n"
    plain = text.replace("melody = E8 & | B,8 |\n", "")
    assert arrange(route_of(text)).levels == arrange(route_of(plain)).levels


chords = st.sampled_from(
    ("C", "F", "G7", "Am", "Dm7", "Bb", "E7", "Asus4", "D/F#", "Ebmaj7", "Bm7b5", "C5", "Db", "F#m7")
)
tunes = st.lists(
    st.tuples(st.sampled_from([0, *range(55, 77)]), st.sampled_from(["1/2", "1", "3/2", "2", "1/3", "4"])), max_size=24
)


@settings(max_examples=80, deadline=None)
@given(
    st.lists(chords, min_size=1, max_size=5),
    tunes,
    st.booleans(),
    st.sampled_from(["held", "straight eighths", "flowing four", "quarters"]),
    st.integers(-6, 6),
)
def test_never_on_the_tunes_key_never_above_it_coupled(
    bars: list[str], notes: list[tuple[int, str]], coupled: bool, feel: str, lift: int
) -> None:
    tune = sung(*notes)
    arrangement = arrange(song(*bars, feel=feel), tune=tune, coupled=coupled, lift=lift)
    lifted = sung(*((key and key + lift, length) for key, length in notes))
    assert together(arrangement, lifted, coupled=coupled) == []
    for notes_ in arrangement.levels.values():
        assert all(50 <= note.pitch <= 72 and note.length > 0 for note in notes_)


@pytest.mark.parametrize("key", [C4, E4, G4])
def test_a_tune_that_stays_on_a_tone_of_the_chord_leaves_the_others_to_the_hand(key: int) -> None:
    tune = sung((key, "4"))
    arrangement = arrange(song("C", feel="quarters"), tune=tune)
    assert together(arrangement, tune) == []
    assert len({note.pitch % 12 for note in figure(arrangement)}) >= 2
