"""The score as MusicXML: valid against the schema, and what music21 reads back is what was arranged."""

from __future__ import annotations

import io
import zipfile
from collections import defaultdict
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from xml.etree import ElementTree

import pytest
from music21 import chord as m21chord
from music21 import harmony, stream
from music21.note import NotRest

from charts.meter import read_meter
from charts.notation import read_chart_file
from charts.roadmap import unfold
from charts.transposing import transposed
from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import ANSWER, Arrangement, Note
from liveassist.arranging.feels import load_feels
from liveassist.page.printing import WRITERS, Wishes, musicxml_text
from liveassist.page.score import score, swung
from liveassist.page.sheet import sheet
from tests.arranging.routes import notes_in
from tests.page.reading import read_back

DEFAULT = Wishes(fullness=2)
QUAY = Path(__file__).parents[2] / "demo_charts" / "lanterns_on_the_quay.chart"
IN_C = "title = All\nkey = C\nmeter = 4/4\ntempo = 80\n\n== Verse ==\n"


def attacks(measure: stream.Measure) -> dict[Fraction, list[int]]:
    """Where keys go down in a measure, and which; what is tied over is down already."""
    found = defaultdict(list)
    for note in measure.recurse().getElementsByClass(NotRest):
        if isinstance(note, harmony.ChordSymbol):
            continue
        heads = note.notes if isinstance(note, m21chord.Chord) else [note]
        for head in heads:
            if head.tie is None or head.tie.type == "start":
                found[Fraction(note.getOffsetInHierarchy(measure)).limit_denominator(48)].append(head.pitch.midi)
    return {place: sorted(pitches) for place, pitches in found.items()}


def arranged_attacks(song: Arrangement, index: int, fullness: int = 2) -> dict[Fraction, list[int]]:
    bar = song.route.bars[index]
    found = defaultdict(list)
    for note in notes_in(song, bar, fullness):
        found[note.position - bar.position].append(note.pitch)
    return {place: sorted(pitches) for place, pitches in found.items()}


@pytest.mark.parametrize("unfolded", [False, True], ids=["folded", "unfolded"])
def test_every_demo_chart_is_valid_musicxml(song, schema, unfolded):
    text = musicxml_text(song, Wishes(fullness=2, unfolded=unfolded))
    assert 'version="4.0"' in text
    schema.validate(text.partition("\n")[2].partition("\n")[2])


@pytest.mark.parametrize(
    ("fullness", "unfolded"), [(2, False), (2, True), (4, True)], ids=["folded", "unfolded", "full and unfolded"]
)
def test_a_printed_bar_holds_exactly_the_notes_of_arrange(song, fullness, unfolded):
    """Counted after reading back with music21: pitches and onsets of each bar. A swung bar is printed in even notes, so there
    the order of its attacks counts."""
    found = score(song, fullness=fullness)
    printed = sheet(found, unfolded=unfolded)
    _, left, _ = read_back(musicxml_text(song, Wishes(fullness=fullness, unfolded=unfolded)))
    measures = list(left.getElementsByClass(stream.Measure))
    assert len(measures) == len(printed)
    for measure, bar in zip(measures, printed, strict=True):
        wanted, read = arranged_attacks(song, bar.index, fullness), attacks(measure)
        if not swung(found.feels[bar.index]):
            assert read == wanted
        else:
            assert [read[place] for place in sorted(read)] == [wanted[place] for place in sorted(wanted)]


METERS = ("4/4", "2/2", "3/4", "6/8", "9/8", "12/8", "5/4", "2/4", "3/2", "7/8")


@pytest.mark.parametrize("meter", METERS)
def test_every_feel_can_be_printed_in_the_meters_it_fits(arranged, schema, meter):
    """Two chords in one bar, off-beat chords, pushes and breaths; read back as above. A feel that fits several meters is
    printed bare in one and full in the next."""
    fitting = {name: feel for name, feel in load_feels().items() if feel.fits(read_meter(meter))}
    assert fitting
    for name, feel in fitting.items():
        meters = [each for each in METERS if feel.fits(read_meter(each))]
        bare = meters.index(meter) % 2 == 0
        song = arranged(
            f"title = A\nkey = F\nmeter = {meter}\nfeel = {name}\n\n== Verse ==\n| F | D7 (push) | Gm (breath) | C7(b9) |\n"
            "| Bb (late) | Eb7 (break) | % | F (hold) |]\n"
        )
        for fullness in (1, 3) if len(meters) == 1 else (1,) if bare else (3,):
            text = musicxml_text(song, Wishes(fullness=fullness))
            schema.validate(text.partition('dtd">')[2])
            found = score(song, fullness=fullness)
            measures = list(read_back(text)[1].getElementsByClass(stream.Measure))
            for measure, bar in zip(measures, sheet(found), strict=True):
                wanted, read = arranged_attacks(song, bar.index, fullness), attacks(measure)
                assert [read[place] for place in sorted(read)] == [wanted[place] for place in sorted(wanted)], name
                if not swung(found.feels[bar.index]):
                    assert sorted(read) == sorted(wanted), name


@pytest.mark.parametrize("semitones", range(12))
def test_no_key_has_double_accidentals_or_odd_names(semitones):
    """The harbour song in every key: its chords are diatonic, so no note but the leading tones of others needs a sign."""
    moved = arrange(unfold(transposed(read_chart_file(QUAY), semitones)))
    tree = ElementTree.fromstring(musicxml_text(moved, DEFAULT).partition('dtd">')[2])
    signs = {each.text for each in tree.iter("accidental")}
    assert not signs & {"flat-flat", "double-sharp"}
    assert not signs, "every tone is in the key it stands in"


def test_unfolded_is_the_route_bar_by_bar(song):
    parts = read_back(musicxml_text(song, Wishes(fullness=2, unfolded=True)))
    for part in parts:
        assert [measure.duration.quarterLength for measure in part.getElementsByClass(stream.Measure)] == [
            bar.length for bar in song.route.bars
        ]


def test_every_measure_is_full_on_every_staff(song):
    for part in read_back(musicxml_text(song, DEFAULT)):
        for measure in part.getElementsByClass(stream.Measure):
            full = Fraction(measure.barDuration.quarterLength - measure.paddingLeft)
            for voice in list(measure.voices) or [measure]:
                filled = [each.quarterLength for each in voice.notesAndRests if not isinstance(each, harmony.Harmony)]
                assert sum(map(Fraction, filled), Fraction(0)).limit_denominator(48) == full


def test_the_pedal_plays_the_bass_of_each_change(arranged):
    song = arranged(IN_C + "| C/E | Am F#dim7/C | N.C. G7 | Bb |]\n")
    *_, pedal = read_back(musicxml_text(song, DEFAULT))
    heard = [attacks(measure) for measure in pedal.getElementsByClass(stream.Measure)]
    assert heard == [{0: [40]}, {0: [45], 2: [48]}, {2: [43]}, {0: [46]}], "each the nearest to the one before"


def test_manuals_only_leaves_the_pedal_silent(arranged):
    song = arranged("title = A\nkey = C\n\n== Roadmap ==\nVerse manuals only\n\n== Verse ==\n| C | G7 |]\n")
    *_, pedal = read_back(musicxml_text(song, DEFAULT))
    assert [attacks(measure) for measure in pedal.getElementsByClass(stream.Measure)] == [{}, {}]


def test_the_tune_is_on_the_upper_staff(arranged):
    song = arranged("title = A\nkey = D\nmeter = 3/4\n\n== Verse ==\n| D | G |]\nmelody = F4 ^G2 | B6 |\n")
    tune, *_ = read_back(musicxml_text(song, DEFAULT))
    heard = [attacks(measure) for measure in tune.getElementsByClass(stream.Measure)]
    assert heard == [{0: [66], 2: [68]}, {0: [71]}]


def test_an_answer_stands_in_the_figure_s_place_or_above_it(arranged, schema):
    song = arranged("title = A\nkey = C\nfeel = held\n\n== Verse ==\n| C | F |]\n")
    figure = [note for note in song.levels[2] if note.change == 1]
    answer = [
        Note(part=ANSWER, pitch=pitch, position=place, length=Fraction(7, 8), change=int(place >= 4), fullness=2)
        for pitch, place in ((72, Fraction(0)), (74, Fraction(1)), (76, Fraction(4)), (77, Fraction(6)))
    ]
    notes = sorted([*answer, *figure], key=lambda note: (note.position, note.pitch))
    both = replace(song, levels={2: tuple(notes)})
    text = musicxml_text(both, DEFAULT)
    schema.validate(text.partition('dtd">')[2])
    first, second = read_back(text)[1].getElementsByClass(stream.Measure)
    assert attacks(first) == {0: [72], 1: [74]}
    assert len(list(second.voices)) == 2
    assert attacks(second) == {0: sorted([76, *(note.pitch for note in figure)]), 2: [77]}


def test_chord_symbols_stand_where_they_fall(arranged):
    song = arranged("title = A\nkey = C\n\n== Verse ==\n| C &F / G / | Am |]\n")
    tune, *_ = read_back(musicxml_text(song, DEFAULT))
    found = [
        (each.measureNumber, each.offset, each.figure)
        for each in tune.recurse().getElementsByClass(harmony.ChordSymbol)
    ]
    assert found == [(1, 0.0, "C"), (1, 0.5, "F"), (1, 2.0, "G"), (2, 0.0, "Am")]


def test_section_names_tempo_and_signs(arranged):
    text = (
        "title = A\nkey = C\nfeel = held\ntempo = half 60\n\n"
        "== Verse ==\n| C (segno) | F (rit.) | G (to coda) | C (D.S. al coda) |\n"
        "\n== Coda ==\n| Am (coda) | C (hold) |]\n"
    )
    tree = ElementTree.fromstring(musicxml_text(arranged(text), Wishes(fullness=2)).partition('dtd">')[2])
    assert [each.text for each in tree.iter("rehearsal")] == ["Verse", "Coda"]
    assert next(tree.iter("beat-unit")).text == "half"
    assert next(tree.iter("per-minute")).text == "60"
    words = [each.text for each in tree.iter("words")]
    assert {"rit.", "to coda", "D.S. al coda"} <= set(words)
    assert next(tree.iter("segno")) is not None
    assert next(tree.iter("coda")) is not None
    assert len(list(tree.iter("fermata"))) == 3, "on all three staves"


def test_key_and_meter_change_where_a_section_has_its_own(arranged):
    song = arranged(
        "title = A\nkey = C\nmeter = 4/4\n\n== Verse ==\n| C | G |\n\n== Bridge ==\nkey = Eb\nmeter = 3/4\n| Eb | Bb |]\n"
    )
    for part in read_back(musicxml_text(song, DEFAULT)):
        third = part.measure(3)
        assert third.keySignature.sharps == -3
        assert third.timeSignature.ratioString == "3/4"


def test_a_pickup_is_bar_nought_and_as_short_as_it_is(arranged):
    song = arranged("title = A\nkey = G\nmeter = 3/4\npickup = 1\n\n== Verse ==\n| D7 | G | C |]\n")
    tune, *_ = read_back(musicxml_text(song, DEFAULT))
    measures = list(tune.getElementsByClass(stream.Measure))
    assert [measure.number for measure in measures] == [0, 1, 2]
    assert measures[0].duration.quarterLength == 1


def test_syllables_are_laid_only_where_it_is_certain(as_musicxml):
    head = "title = A\nkey = C\n\n== Verse ==\n"
    certain = as_musicxml(head + "| C | G |]\n  Wa-ter, come\nmelody = C4 D4 | E8 |\n")
    doubtful = as_musicxml(head + "| C | G |]\n  Water, come\nmelody = C4 D4 | E8 |\n")
    tree = ElementTree.fromstring(certain.partition('dtd">')[2])
    assert [(each.findtext("syllabic"), each.findtext("text")) for each in tree.iter("lyric")] == [
        ("begin", "Wa"),
        ("end", "ter,"),
        ("single", "come"),
    ]
    assert "<lyric" not in doubtful
    assert "Water, come" in doubtful


def test_a_swung_feel_is_printed_in_even_eighths_and_says_so(arranged):
    song = arranged("title = A\nkey = E\nfeel = shuffle\n\n== Verse ==\n| E | A |]\n")
    text = musicxml_text(song, DEFAULT)
    assert "swung" in text
    assert "time-modification" not in text


def test_mxl_holds_the_same_score_and_says_where(song):
    packed = zipfile.ZipFile(io.BytesIO(WRITERS[".mxl"](song, DEFAULT)[""]))
    container = ElementTree.fromstring(packed.read("META-INF/container.xml"))
    place = next(container.iter("rootfile")).attrib["full-path"]
    assert packed.read(place).decode() == musicxml_text(song, DEFAULT)


def test_the_same_song_gives_the_same_file(song):
    assert musicxml_text(song, DEFAULT) == musicxml_text(song, DEFAULT)


def test_an_underscore_says_that_it_goes_round_and_a_ritard_is_named_once(as_musicxml):
    page = as_musicxml(
        "key = C\n== Roadmap ==\nVerse\nPrayer   underscore\nEnding   rit.\n== Verse ==\n| C | F |\n"
        "== Prayer ==\n| C | F |\n== Ending ==\n| G (rit.) | C |]\n"
    )
    assert page.count("repeat ad lib.") == 1
    assert page.count("rit.") == 1
