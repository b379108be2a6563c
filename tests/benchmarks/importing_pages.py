"""Lead sheets that nobody wrote: seeded, built and exported by music21, and the same ones made untidy as exporters make them.

``lead_sheet(seed)`` has chord symbols of every kind that music21 knows, with degrees and basses, over notes and rests; pickups,
repeats, endings, changes of meter and key, tuplets, ties, several verses, sometimes a second part or a transposing instrument.
``UNTIDY`` names the ways in which the same music is written less tidily, each a function from the score's root to nothing: it
changes the tree. All of them leave bars, notes and chords as they were.
"""

from __future__ import annotations

import copy
import random
from collections.abc import Callable, Iterator
from fractions import Fraction
from typing import Any
from xml.etree.ElementTree import Element, SubElement, fromstring, tostring

METERS = ("4/4", "3/4", "6/8", "2/2", "2/4", "9/8", "5/4", "12/8")
STEPS = ("C", "C#", "D-", "D", "E-", "E", "F", "F#", "G-", "G", "A-", "A", "B-", "B")
DEGREES = (
    ("add", 9, 0),
    ("add", 11, 1),
    ("add", 13, -1),
    ("alter", 5, 1),
    ("alter", 5, -1),
    ("subtract", 3, 0),
    ("subtract", 5, 0),
)
SYLLABLES = ("lo", "ra", "min", "ven", "sol", "ta", "bre", "nu")


def lead_sheet(seed: int) -> bytes:
    """A random lead sheet as music21 exports it."""
    from music21 import instrument, key, metadata, stream
    from music21.musicxml.m21ToXml import GeneralObjectExporter

    dice = random.Random(seed)
    score = stream.Score()
    score.insert(0, metadata.Metadata(title=f"Page {seed}"))
    shape = _shape(dice)
    first = key.KeySignature(dice.randint(-5, 5))
    for number in range(dice.choice((1, 1, 1, 2))):
        part = stream.Part(id=f"P{number + 1}")
        instruments = (instrument.Clarinet, instrument.AltoSaxophone)
        part.insert(0, dice.choice(instruments)() if dice.random() < 0.15 else instrument.Vocalist())
        _fill(dice, part, shape, first, chords=number == 0)
        score.append(part) if not number else score.insert(0, part)
    return GeneralObjectExporter(score).parse()


def _shape(dice: random.Random) -> list[dict[str, Any]]:
    """What each bar is, of whatever part: length, meter, key, repeats, endings."""
    from music21 import meter

    rows: list[dict[str, Any]] = []
    signature = dice.choice(METERS)
    count = dice.randint(5, 14)
    for index in range(count):
        change = index > 0 and dice.random() < 0.08
        signature = dice.choice(METERS) if change else signature
        length = Fraction(meter.TimeSignature(signature).barDuration.quarterLength)
        rows.append({"meter": signature if change or not index else None, "length": length, "pad": Fraction(0)})
    if dice.random() < 0.4:
        rows[0]["pad"] = rows[0]["length"] - dice.choice((1, Fraction(1, 2)))
    if dice.random() < 0.6:
        start, end = sorted(dice.sample(range(1, count), 2))
        rows[start]["opens"] = True
        rows[end]["closes"] = True
        if end - start > 1 and end + 1 < count:
            rows[end]["ending"], rows[end + 1]["ending"] = dice.choice((("1", "2"), ("1, 2", "3")))
    if dice.random() < 0.2:
        rows[dice.randrange(1, count)]["key"] = dice.randint(-5, 5)
    return rows


def _fill(dice: random.Random, part: Any, shape: list[dict[str, Any]], first: Any, *, chords: bool) -> None:
    from music21 import bar, key, meter, spanner, stream

    for index, row in enumerate(shape):
        measure = stream.Measure(number=index if shape[0]["pad"] else index + 1)
        if row["meter"]:
            measure.timeSignature = meter.TimeSignature(row["meter"])
        if not index:
            measure.keySignature = copy.deepcopy(first)
        elif "key" in row:
            measure.keySignature = key.KeySignature(row["key"])
        length = row["length"] - row["pad"]
        for note in _notes(dice, length):
            measure.append(note)
        if chords:
            for at, symbol in _symbols(dice, length):
                measure.insert(at, symbol)
        if row["pad"]:
            measure.paddingLeft = float(row["pad"])
        if row.get("opens"):
            measure.leftBarline = bar.Repeat(direction="start")
        if row.get("closes"):
            measure.rightBarline = bar.Repeat(direction="end")
        part.append(measure)
        if "ending" in row:
            part.insert(0, spanner.RepeatBracket(measure, number=row["ending"]))


def _notes(dice: random.Random, length: Fraction) -> Iterator[Any]:
    from music21 import duration, note, tie

    left = length
    while left > 0:
        if left >= 1 and dice.random() < 0.12:
            for _ in range(3):
                each = note.Note(dice.randint(58, 80))
                each.duration = duration.Duration("eighth")
                each.duration.appendTuplet(duration.Tuplet(3, 2, "eighth"))
                yield each
            left -= 1
            continue
        fitting = [value for value in (4, 3, 2, Fraction(3, 2), 1, Fraction(1, 2), Fraction(1, 4)) if value <= left]
        value = dice.choice(fitting)
        left -= value
        if dice.random() < 0.15:
            yield note.Rest(quarterLength=value)
            continue
        each = note.Note(dice.randint(58, 80), quarterLength=value)
        if dice.random() < 0.5:
            for verse in range(1, dice.choice((2, 2, 3, 4))):
                each.addLyric(dice.choice(SYLLABLES) + dice.choice(("-", "")), lyricNumber=verse)
        if dice.random() < 0.1:
            each.tie = tie.Tie("start")
        yield each


def _symbols(dice: random.Random, length: Fraction) -> Iterator[tuple[Fraction, Any]]:
    from music21 import harmony

    beats = [Fraction(k) for k in range(int(length))] or [Fraction(0)]
    for at in sorted(dice.sample(beats, min(len(beats), dice.choice((0, 1, 1, 2, 2, 3))))):
        if dice.random() < 0.05:
            yield at, harmony.NoChord()
            continue
        kind = dice.choice(list(harmony.CHORD_TYPES))
        has = {tone.strip("#-") for tone in harmony.CHORD_TYPES[kind][0].split(",")}
        symbol = harmony.ChordSymbol(
            root=dice.choice(STEPS),
            kind=kind,
            bass=dice.choice(STEPS) if dice.random() < 0.2 else None,
        )
        how, degree, alter = dice.choice(DEGREES)
        if dice.random() < 0.15 and (how == "add" or str(degree) in has):
            symbol.addChordStepModification(harmony.ChordStepModification(how, degree, alter), updatePitches=False)
        yield at, symbol


# -- untidy ---------------------------------------------------------------------------------------------------------

PLAIN_TEXTS = {
    "major": "",
    "minor": "m",
    "augmented": "+",
    "diminished": "dim",
    "dominant": "7",
    "major-seventh": "Maj7",
    "minor-seventh": "min7",
    "half-diminished": "ø7",
    "diminished-seventh": "o7",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "suspended-fourth": "sus4",
    "suspended-second": "sus2",
}
"""Kinds and what is printed for them."""


def _measures(root: Element) -> Iterator[Element]:
    yield from root.iter("measure")


def _places(measure: Element) -> Iterator[tuple[int, Element]]:
    """Each child with its place in the measure, in divisions."""
    now = 0
    for child in list(measure):
        length = int(child.findtext("duration") or 0)
        if child.tag == "backup":
            now -= length
        yield now, child
        if child.tag == "forward" or (child.tag == "note" and child.find("chord") is None):
            now += length


def _taken_out(measure: Element) -> tuple[list[tuple[int, Element]], int]:
    """The harmonies, taken out of a measure, with their places, and the measure's length."""
    found, end = [], 0
    for at, child in _places(measure):
        end = max(end, at + int(child.findtext("duration") or 0))
        if child.tag == "harmony":
            offset = child.find("offset")
            found.append((at + int(offset.text or 0) if offset is not None else at, child))
            if offset is not None:
                child.remove(offset)
            measure.remove(child)
    return sorted(found, key=lambda row: row[0]), end


def _moved(measure: Element, how: str, units: int) -> None:
    if units:
        SubElement(SubElement(measure, how), "duration").text = str(units)


def _behind_attributes(measure: Element) -> int:
    return next(
        (index for index, child in enumerate(measure) if child.tag in ("note", "backup", "direction")), len(measure)
    )


def offsets(root: Element) -> None:
    """All harmonies at the beginning of their measure, each with an offset."""
    for measure in _measures(root):
        rows, _ = _taken_out(measure)
        place = _behind_attributes(measure)
        for index, (at, harmony) in enumerate(rows):
            SubElement(harmony, "offset").text = str(at)
            measure.insert(place + index, harmony)


def behind_the_notes(root: Element) -> None:
    """Harmonies behind all notes, before those of a voice that only goes forward."""
    for measure in _measures(root):
        rows, end = _taken_out(measure)
        now = end
        place = len(measure) - sum(child.tag == "barline" for child in measure)
        barlines = [child for child in measure[place:] if child.tag == "barline"]
        for barline in barlines:
            measure.remove(barline)
        for at, harmony in rows:
            _moved(measure, "backup", max(0, now - at))
            _moved(measure, "forward", max(0, at - now))
            measure.append(harmony)
            now = at
        _moved(measure, "forward", end - now)
        measure.extend(barlines)


def in_another_part(root: Element) -> None:
    """Harmonies in a part of rests, below."""
    first = root.find("part")
    if first is None or root.find(".//transpose") is not None:
        return
    SubElement(SubElement(root.find("part-list") or root, "score-part", id="P9"), "part-name").text = "Chords"
    part = SubElement(root, "part", id="P9")
    for measure in first.findall("measure"):
        rows, end = _taken_out(measure)
        other = SubElement(part, "measure", dict(measure.attrib))
        for child in measure:
            if child.tag in ("attributes", "barline"):
                other.append(copy.deepcopy(child))
        now = 0
        for at, harmony in [*rows, (end, Element("harmony"))]:
            if at > now:
                rest = SubElement(other, "note")
                SubElement(rest, "rest")
                SubElement(rest, "duration").text = str(at - now)
            if len(harmony):
                other.append(harmony)
            now = at


def printed_kinds(root: Element) -> None:
    """Kinds that say "other" and have their meaning in what is printed."""
    for harmony in root.iter("harmony"):
        kind = harmony.find("kind")
        if kind is not None and kind.text in PLAIN_TEXTS and harmony.find("degree") is None and PLAIN_TEXTS[kind.text]:
            kind.set("text", PLAIN_TEXTS[kind.text])
            kind.text = "other"


def kinds_without_value(root: Element) -> None:
    """Kinds that are empty but for what is printed."""
    printed_kinds(root)
    for kind in root.iter("kind"):
        kind.text = None if kind.text == "other" else kind.text


def grace_and_cue_notes(root: Element) -> None:
    """A grace note before each first note, and cue notes in another voice."""
    for measure in _measures(root):
        index = _behind_attributes(measure)
        grace = Element("note")
        SubElement(grace, "grace", slash="yes")
        _pitched(grace, "A", 5)
        measure.insert(index, grace)
        end = max((at + int(child.findtext("duration") or 0) for at, child in _places(measure)), default=0)
        now = [at + int(child.findtext("duration") or 0) for at, child in _places(measure) if child.tag == "note"]
        _moved(measure, "backup", now[-1] if now else 0)
        cue = SubElement(measure, "note")
        SubElement(cue, "cue")
        _pitched(cue, "B", 5)
        SubElement(cue, "duration").text = str(end)
        SubElement(cue, "voice").text = "3"


def _pitched(note: Element, step: str, octave: int) -> None:
    pitch = SubElement(note, "pitch")
    SubElement(pitch, "step").text = step
    SubElement(pitch, "octave").text = str(octave)


def two_staves(root: Element) -> None:
    """A second staff with rests, every harmony told its staff."""
    for part in root.findall("part"):
        for number, measure in enumerate(part.findall("measure")):
            attributes = measure.find("attributes")
            if not number and attributes is not None:
                clef = attributes.find("clef")
                place = list(attributes).index(clef) if clef is not None else len(attributes)
                staves = Element("staves")
                staves.text = "2"
                attributes.insert(place, staves)
            for harmony in measure.findall("harmony"):
                SubElement(harmony, "staff").text = "1"
            end = max((at + int(child.findtext("duration") or 0) for at, child in _places(measure)), default=0)
            _moved(measure, "backup", end)
            rest = SubElement(measure, "note")
            SubElement(rest, "rest", measure="yes")
            SubElement(rest, "duration").text = str(end)
            SubElement(rest, "voice").text = "5"
            SubElement(rest, "staff").text = "2"


def rounded(root: Element) -> None:
    """Few divisions, and durations rounded to them: a triplet is known by its type."""
    if any(offset.text for offset in root.iter("offset")):
        return
    for part in root.findall("part"):
        old = int(part.findtext("measure/attributes/divisions") or 1)
        for divisions in part.iter("divisions"):
            divisions.text = "64"
        for duration in part.iter("duration"):
            duration.text = str(round(Fraction(int(duration.text or 0) * 64, old)))


def more_divisions(root: Element) -> None:
    """Seven times as many divisions, and no types."""
    for name in ("divisions", "duration", "offset"):
        for element in root.iter(name):
            element.text = str(7 * int(element.text or 0))
    for note in root.iter("note"):
        for name in ("type", "dot", "time-modification", "notations"):
            for element in note.findall(name):
                note.remove(element)


def furnished(root: Element) -> None:
    """Everything that may stand beside what matters: frames, inversions, levels, layout, sounds, empty words."""
    for harmony in root.iter("harmony"):
        harmony.set("print-frame", "no")
        harmony.set("default-y", "25")
        SubElement(SubElement(harmony, "frame"), "frame-strings").text = "6"
    for measure in _measures(root):
        printed = Element("print", {"new-system": "no"})
        SubElement(SubElement(printed, "system-layout"), "system-distance").text = "80"
        measure.insert(0, printed)
        direction = SubElement(measure, "direction")
        SubElement(SubElement(direction, "direction-type"), "words").text = " "
        SubElement(direction, "sound", dynamics="80")


def _time_wise(root: Element) -> None:
    """The same score, time-wise."""
    parts = root.findall("part")
    columns = list(zip(*(part.findall("measure") for part in parts), strict=False))
    for part in parts:
        root.remove(part)
    root.tag = "score-timewise"
    for column in columns:
        measure = SubElement(root, "measure", dict(column[0].attrib))
        for part, inside in zip(parts, column, strict=True):
            SubElement(measure, "part", id=part.get("id") or "").extend(list(inside))


UNTIDY: dict[str, Callable[[Element], None]] = {
    "offsets": offsets,
    "behind the notes": behind_the_notes,
    "in another part": in_another_part,
    "kinds printed": printed_kinds,
    "kinds without value": kinds_without_value,
    "grace and cue notes": grace_and_cue_notes,
    "two staves": two_staves,
    "rounded durations": rounded,
    "no note types": more_divisions,
    "furnished": furnished,
    "time-wise": _time_wise,
}
"""Ways in which exporters write the same music (common practice, no source)."""
ENCODINGS = ("utf-8", "utf-8-sig", "utf-16", "latin-1")


def untidy(data: bytes, name: str, seed: int) -> bytes:
    """A score made untidy in one way, in one of the encodings."""
    root = fromstring(data)
    UNTIDY[name](root)
    encoding = ENCODINGS[seed % len(ENCODINGS)]
    declared = {"utf-8-sig": "UTF-8", "latin-1": "ISO-8859-1"}.get(encoding, encoding.upper())
    doctype = (
        f'<!DOCTYPE {root.tag} PUBLIC "-//Recordare//DTD MusicXML 3.1//EN" "http://www.musicxml.org/dtds/score.dtd">'
    )
    head = f'<?xml version="1.0" encoding="{declared}"?>\n{doctype}\n<!-- a page -->\n'
    return (head + tostring(root, encoding="unicode")).encode(encoding, "xmlcharrefreplace")
