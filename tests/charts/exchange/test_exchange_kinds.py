"""Every chord kind of MusicXML 4.0 against the schema's own list and documentation (musicxml.xsd, W3C, as music21 ships it)."""

from __future__ import annotations

import re
from pathlib import Path
from xml.etree.ElementTree import fromstring

import pytest
from hypothesis import given
from hypothesis import strategies as st

from charts.chord import Chord, read_chord
from charts.exchange.harmony import chord_of_harmony
from charts.exchange.kinds import BEYOND, KINDS, Degree, chord_of, kind_of, with_degrees
from charts.pitch import Spelling
from charts.qualities import ALTERATIONS, QUALITIES, altered, canonical, tone

INTERVALS = {
    "major third": 4,
    "minor third": 3,
    "perfect fifth": 7,
    "augmented fifth": 8,
    "diminished fifth": 6,
    "minor seventh": 10,
    "major seventh": 11,
    "diminished seventh": 9,
    "added sixth": 9,
    "major ninth": 2,
    "perfect 11th": 5,
    "major 13th": 9,
    "major second": 2,
    "perfect fourth": 5,
    "major triad": (4, 7),
    "minor triad": (3, 7),
    "diminished triad": (3, 6),
    "augmented triad": (4, 8),
}


def _schema(folder: Path) -> str:
    text = (folder / "musicxml" / "musicxml.xsd").read_text()
    return text[text.index('simpleType name="kind-value"') :].split("</xs:simpleType>")[0]


def test_every_kind_of_the_schema_is_known(music21_folder: Path) -> None:
    named = set(re.findall(r'enumeration value="([^"]+)"', _schema(music21_folder)))
    assert named - {"other", "none"} == set(KINDS)


def test_every_kind_has_the_tones_that_the_schema_documents(music21_folder: Path) -> None:
    rows = dict(re.findall(r"^\t([a-z0-9-]+) \(([^)]+)\)$", _schema(music21_folder), re.MULTILINE))
    assert len(rows) > 20

    def tones(name: str) -> set[int]:
        found = {0}
        for part in re.split(", ", rows[name]):
            if part in INTERVALS:
                interval = INTERVALS[part]
                found |= set(interval) if isinstance(interval, tuple) else {interval}
            else:
                # The documentation says dominant-seventh of the kind that is called dominant.
                found |= tones("dominant" if part == "dominant-seventh" else part)
        return found

    for name in rows:
        if name != "pedal":
            assert {semitones for _, semitones in KINDS[name]} == tones(name), name


@pytest.mark.parametrize(
    ("kind", "degrees", "symbol"),
    [
        ("dominant", [("add", 9, -1)], "C7(b9)"),
        ("dominant", [("add", 9, 1), ("alter", 5, 1)], "C7(#5,#9)"),
        ("major", [("add", 9, 0)], "Cadd9"),
        ("major", [("subtract", 3, 0)], "C5"),
        ("suspended-fourth", [("add", 7, 0)], "C7sus4"),
        ("suspended-fourth", [("add", 7, 1)], "Cmaj7sus4"),
        ("major-sixth", [("add", 9, 0)], "C6/9"),
        ("dominant-13th", [("alter", 11, 1)], "C13(#11)"),
        ("minor-seventh", [("alter", 5, -1)], "Cm7b5"),
    ],
)
def test_degrees_are_read(kind: str, degrees: list[tuple[str, int, int]], symbol: str) -> None:
    read = [Degree(value, alter, what) for what, value, alter in degrees]
    assert chord_of(Spelling("C"), with_degrees(KINDS[kind], read)) == read_chord(symbol)


def test_the_functional_kinds_are_the_chords_that_they_sound_as() -> None:
    # From memory, any harmony textbook: the German sixth sounds as a seventh, the Neapolitan is a major triad.
    assert chord_of(Spelling("A", -1), KINDS["German"]) == read_chord("Ab7")
    assert chord_of(Spelling("D", -1), KINDS["Neapolitan"]) == read_chord("Db")
    assert chord_of(Spelling("A", -1), KINDS["French"]) == read_chord("Ab7b5")


@given(st.sampled_from(sorted(QUALITIES)), st.lists(st.sampled_from(sorted(ALTERATIONS)), max_size=2, unique=True))
def test_every_chord_is_written_as_a_kind_with_degrees_and_read_back(quality: str, alterations: list[str]) -> None:
    tones = altered(quality, alterations)
    chord = Chord(Spelling("F", 1), *canonical(quality, alterations), Spelling("B"))
    kind, degrees = kind_of(chord)
    assert chord_of(Spelling("F", 1), with_degrees(KINDS[kind], degrees), Spelling("B")) == chord, (
        kind,
        degrees,
        tones,
    )


@pytest.mark.parametrize("kind", BEYOND)
def test_kinds_beyond_the_schema_are_chords(kind: str) -> None:
    chord = chord_of(Spelling("C"), BEYOND[kind])
    assert chord is not None
    assert tuple(sorted((each.degree, each.semitones) for each in chord.tones)) == tuple(sorted(BEYOND[kind]))


def test_every_kind_of_another_reader_is_known() -> None:
    from music21.harmony import CHORD_TYPES

    for kind, (tones, _) in CHORD_TYPES.items():
        harmony = fromstring(f"<harmony><root><root-step>C</root-step></root><kind>{kind}</kind></harmony>")
        chord, told = chord_of_harmony(harmony, None)
        assert chord is not None
        if kind not in ("Neapolitan", "Italian", "French", "German", "pedal", "Tristan"):  # which name a function
            wanted = {tone(each.replace("-", "b"))[1] for each in tones.split(",")}
            assert set(chord.pitch_classes) == wanted, kind
            assert not told
