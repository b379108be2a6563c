"""Chord symbols in MusicXML: kinds of the schema, and tones that music21 reads back."""

from __future__ import annotations

import pytest
from music21 import converter, harmony

from charts.chord import NO_CHORD, read_chord
from charts.exchange.kinds import KINDS, NONE, kind_of
from charts.qualities import ALTERATIONS, QUALITIES
from liveassist.page.printing import Wishes, musicxml_text


def test_every_kind_is_one_of_the_schema_s(schema):
    allowed = set(schema.types["kind-value"].enumeration)
    assert set(KINDS) | {NONE} <= allowed


@pytest.mark.parametrize(
    ("symbol", "kind", "degrees"),
    [
        ("C", "major", []),
        ("Cm7b5", "half-diminished", []),
        ("C7sus4", "dominant", [(4, 0, "add"), (3, 0, "subtract")]),
        ("Csus4", "suspended-fourth", []),
        ("Cm(maj7)", "major-minor", []),
        ("C7(b9)", "dominant", [(9, -1, "add")]),
        ("C7(#9)", "dominant", [(9, 1, "add")]),
        ("Cadd9", "major", [(9, 0, "add")]),
        ("C6/9", "major-sixth", [(9, 0, "add")]),
        ("C5", "power", []),
        ("C(no3)", "power", []),
        ("C13", "dominant-13th", []),
        ("Cmaj7(#11)", "major-seventh", [(11, 1, "add")]),
    ],
)
def test_kinds_by_hand(symbol, kind, degrees):
    """By the descriptions of kind and degree in the schema: what is added counts from the dominant."""
    name, found = kind_of(read_chord(symbol))
    assert (name, [(each.value, each.alter, each.type) for each in found]) == (kind, degrees)


def test_no_chord_has_no_tones():
    assert kind_of(NO_CHORD) == (NONE, ())


def test_music21_reads_the_tones_of_every_quality(arranged):
    bars = " | ".join(f"D{name}" for name in QUALITIES)
    song = arranged(f"title = All\nkey = C\n\n== Verse ==\n| {bars} |]\n")
    tune = converter.parseData(musicxml_text(song, Wishes(fullness=2)), format="musicxml").parts[0]
    symbols = list(tune.recurse().getElementsByClass(harmony.ChordSymbol))
    assert len(symbols) == len(QUALITIES)
    for symbol, change in zip(symbols, song.route.changes, strict=True):
        read = {pitch.pitchClass for pitch in symbol.pitches}
        assert read == set(change.chord.pitch_classes), change.chord.symbol


@pytest.mark.parametrize("name", ALTERATIONS)
def test_every_alteration_can_be_told(name, arranged, schema):
    song = arranged(f"title = A\nkey = C\n\n== Verse ==\n| C7({name}) | Bb/C |]\n")
    schema.validate(musicxml_text(song, Wishes(fullness=2)).partition('dtd">')[2])
