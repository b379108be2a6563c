"""The left hand for a person: few attacks, an easy span, and what the chord lives by."""

from __future__ import annotations

from collections import defaultdict

import pytest

from liveassist.arranging.arrangement import FIGURE
from liveassist.arranging.tones import recipe
from liveassist.page.simple import MOST, WIDEST, simplified


def chords(arrangement, fullness=2):
    found = defaultdict(list)
    for note in arrangement.levels[fullness]:
        if note.part != FIGURE:
            continue  # an answer stays what it is
        found[note.position].append(note)
    return found


@pytest.mark.parametrize("fullness", [1, 2, 3, 4])
def test_one_chord_a_change_and_bar_within_an_octave(song, fullness):
    route = song.route
    places = {bar.position for bar in route.bars} | {change.position for change in route.changes}
    for position, notes in chords(simplified(song), fullness).items():
        pitches = sorted(note.pitch for note in notes)
        assert position in places
        assert len(pitches) <= MOST
        assert pitches[-1] - pitches[0] <= WIDEST


def test_it_keeps_what_the_chord_lives_by(song):
    """Third or suspension, and seventh: common practice, no source; which they are is told by ``arranging.tones``."""
    for notes in chords(simplified(song)).values():
        change = song.route.changes[notes[0].change]
        made_of = recipe(change.chord, pedal_plays=not song.route.bars[change.bar].manuals_only)
        kept = {note.pitch % 12 for note in notes}
        assert set(made_of.essential[:2]) <= kept


def test_it_is_silent_where_the_arrangement_is(song):
    silent = {bar.index for bar in song.route.bars if bar.out}
    for note in simplified(song).levels[2]:
        assert song.route.bar_at(note.position).index not in silent


def test_it_has_no_more_attacks_than_the_figure(arranged):
    song = arranged("title = A\nkey = C\nfeel = straight eighths\n\n== Verse ==\n| C | F G | C / / / | / / / / |]\n")
    assert [str(place) for place in chords(simplified(song))] == ["0", "4", "6", "8", "12"]


def test_a_held_chord_is_struck_once(arranged):
    song = arranged("title = A\nkey = C\n\n== Verse ==\n| C (hold) | / / / / |]\n")
    assert list(chords(simplified(song))) == [0]
