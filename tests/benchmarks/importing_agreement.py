"""How far our readers and music21 agree about bars, notes and chord symbols: prints a table, and the differences.

    python tests/benchmarks/importing_agreement.py                    every MusicXML and ABC file that comes with music21
    python tests/benchmarks/importing_agreement.py --every 20         a twentieth of its large collections
    python tests/benchmarks/importing_agreement.py bach leadSheet     these folders of it
    python tests/benchmarks/importing_agreement.py random [NUMBER]    lead sheets that nobody wrote (importing_pages.py)
    python tests/benchmarks/importing_agreement.py untidy [NUMBER]    the same untidy, ours; music21 reads the tidy ones

Compared, for each tune of each file: *bars*, how many; *lengths*, of every bar; *notes*, bar, place, length and pitch of each
(in ABC of the tune, the highest of a chord); *chords*, how many; *places*, bar and place of each; *names*, root and sounding
tones. A file agrees or not. Where music21 departs from the standard, or we on purpose, a rule of ``RULES`` says so; it holds
for every file, and is carried out on what music21 reads or has read, never on what we do.
"""

from __future__ import annotations

import re
import sys
import warnings
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path
from typing import Any
from xml.etree.ElementTree import Element, SubElement, tostring

from importing_pages import UNTIDY, lead_sheet, untidy

from charts.errors import ChartError
from charts.exchange.door import sheets_of
from charts.exchange.files import decoded, score_in_archive, xml_of
from charts.exchange.sheet import Sheet

Place = tuple[int, Fraction]
"""Bar, from 1; quarter notes from its start."""
SUFFIXES = (".mxl", ".xml", ".musicxml", ".abc")
LARGE = ("ryansMammoth", "airdsAirs", "oneills1850", "essenFolksong", "bach", "trecento", "monteverdi")
"""Folders of which ``--every`` takes a part."""
FUNCTIONS = ("Neapolitan", "Italian", "French", "German", "pedal", "Tristan")


@dataclass(slots=True)
class Facts:
    """What a reader found in one tune."""

    title: str = ""
    lengths: list[Fraction] = field(default_factory=list)
    notes: Counter[tuple[int, Fraction, Fraction, int]] = field(default_factory=Counter)
    chords: list[tuple[Place, str, frozenset[int] | None]] = field(default_factory=list)
    """Place, root, pitch classes with the bass; None for those where a rule says that they differ."""


# -- rules ----------------------------------------------------------------------------------------------------------

QUOTED = re.compile(r'("[^"]*")')
FIELD = re.compile(r"^[A-Za-z+]:(?![|:])")
SIGNS = re.compile(
    r"""(?:^[A-Za-z]:.*$|"[^"]*"|\[[A-Za-z]:[^\]]*\])|(?P<accidental>[\^_=]{1,2})?(?P<letter>[A-Ga-g][,']*)[\d/]*(?P<tie>-)?|[^\n]|\n""",
    re.MULTILINE,
)
LETTERS = re.compile(r"(?<![A-Za-z:\[])[HLMOPSTuv~.](?=[HLMOPSTuv~.]*[\^_=]*[A-Ga-gz\[])")


def _plain_music(text: str) -> str:
    text = re.sub(r"\{[^}]*\}", "", LETTERS.sub("", text))
    text = re.sub(r"\((?!\d)|\)|`", "", text)
    return re.sub(r"(?<=[<>])-|-(?=[<>])", "", LETTERS.sub("", text))


def _abc_for_music21(tune: str) -> str:
    """A tune, its ABC as music21 understands it."""
    head, body = ["%abc-2.1"], False
    voices: dict[str, list[str]] = {}
    lines = head
    for line in tune.split("\n"):
        if not body:
            if FIELD.match(line) or line.startswith("%"):
                lines.append(line)
            body = line.startswith("K:")
        elif line.startswith("V:"):
            lines = voices.setdefault((line[2:].split() or [""])[0], [line])
        elif FIELD.match(line):
            lines.extend([] if line[0] == "P" else [line])
        else:
            line = re.sub(r"\[P:[^\]]*\]", "", line)
            line = QUOTED.sub(lambda text: text[0] if text[0][1] in "ABCDEFGN" else "", line)
            line = re.sub(r'/([a-g])(\+?)"', lambda bass: f'/{bass[1].upper()}{bass[2].replace("+", "#")}"', line)
            lines.append("".join(part if part[:1] == '"' else _plain_music(part) for part in QUOTED.split(line)))
    text = "\n".join([*head, *(line for lines in voices.values() for line in lines)]) + "\n"
    return "".join(_tied(text))


def _tied(text: str) -> Iterator[str]:
    """A tune in which an accidental that a tie carries over a barline is said again behind it."""
    altered: dict[str, str] = {}
    carried: dict[str, str] = {}
    for sign in SIGNS.finditer(text):
        accidental, letter, tie = sign["accidental"] or "", sign["letter"], sign["tie"]
        if letter:
            again = "" if accidental else carried.get(letter, "")
            carried = {}
            if accidental or again:
                altered[letter.upper()[0]] = accidental or again
            if tie and letter.upper()[0] in altered:
                carried = {letter: altered[letter.upper()[0]]}
            yield again
        elif sign[0] == "|":
            altered = {}
        yield sign[0]


def _xml_for_music21(root: Element) -> bytes:
    """A score as music21 understands it."""
    for measure in root.iter("measure"):
        for index, child in enumerate(list(measure)):
            if (
                child.tag == "note"
                and child.find("chord") is not None
                and index
                and measure[index - 1].tag == "direction"
            ):
                place = max(k for k in range(index) if measure[k].tag == "note")
                measure.remove(child)
                measure.insert(place + 1, child)
    for note in root.iter("note"):
        for accidental in note.findall("accidental"):
            note.remove(accidental)
    for alter in root.iter("alter"):
        alter.text = str(round(float(alter.text or 0)))
    for part in root.iter("part"):
        if part.find("measure/attributes/staves") is not None:
            for note in part.iter("note"):
                if note.find("staff") is None:
                    SubElement(note, "staff").text = "1"
    for forward in root.iter("forward"):
        forward.tag = "note"
        forward.insert(0, Element("rest"))
    for kind in root.iter("type"):
        kind.attrib.pop("size", None)
    for rest in root.iter("rest"):
        rest.attrib.pop("measure", None)
    for note in root.iter("note"):
        if all(note.find(name) is None for name in ("pitch", "rest", "unpitched")):
            note.insert(0, Element("rest"))
    return tostring(root)


RULES: dict[str, str] = {
    "ABC: accidentals hold to the end of the bar": "music21 is told the version, 2.1; without it no accidental holds",
    "ABC: a bar is what stands between barlines": "music21 divides bars longer than their meter; that step is left out",
    "ABC: letters, slurs and graces": "left out before music21 reads: it loses H's note, and broken rhythm beside them",
    "ABC: a header's line that is no field": "left out before music21 reads: it takes it for music",
    "ABC: texts that are no chords": "left out before music21 reads: of several above a note it takes the first for the chord",
    "ABC: small basses": "written as capitals for music21: Am/c, D/f+",
    "ABC: an accidental holds over a tie": "said again behind the barline for music21",
    "ABC: a voice taken up again is the same voice": "its lines are brought together; music21 makes a new part of them",
    "ABC: a tune without barlines": "left out: music21 makes no measures of it",
    "ABC: P: in the middle of a bar": "left out before music21 reads: it ends the bar there",
    "MusicXML: what alters a note is its alter": "accidentals left out before music21 reads: they win there",
    "MusicXML: quarter tones": "rounded to the semitone, as we do (and tell)",
    "MusicXML: a chord's notes are one": "brought together where a direction stands between them",
    "MusicXML: the first staff is meant where none is": "said for it; music21 has such notes on both staves",
    "MusicXML: a forward is time": "turned into a rest; music21 ends a bar before it",
    "MusicXML: a rest lasts as long as its duration": "music21 makes one for a whole bar as long as the meter",
    "MusicXML: a note without a pitch": "rhythm; for music21 it is middle C",
    "MusicXML: kinds that music21 has not": "compared by place: it takes the root alone",
    "MusicXML: slashes": "notes with the head slash are rhythm, no tune",
    "MusicXML: cue and grace notes": "no tune; what is only printed small is none of them",
    "MusicXML: N.C. as words": "a chord symbol to us (and a beginning of silence)",
    "MusicXML: harmonies at one place": "share what follows, evenly, as we read them (and tell)",
    "MusicXML: kinds that name a function": "compared by place: Neapolitan to Tristan are no chords on a named root elsewhere",
    "MusicXML: degrees of ninth chords and above": "compared by place: music21 alters or takes away another tone there",
}
"""Where the two read otherwise, and what is done about it."""


# -- the two readers ------------------------------------------------------------------------------------------------


def ours(data: bytes, name: str) -> list[Facts]:
    """What our readers find. Raises ChartError where they refuse the file."""
    return [_of_sheet(sheet) for sheet in sheets_of(data, name, Path(name).suffix)]


def _of_sheet(sheet: Sheet) -> Facts:
    facts = Facts(sheet.title, [bar.length for bar in sheet.bars])
    for number, bar in enumerate(sheet.bars, 1):
        facts.notes.update((number, note.offset, note.length, note.pitch) for note in bar.voices)
        for each in bar.chords:
            tones = {*each.chord.pitch_classes, *([each.chord.slash.pitch_class] if each.chord.slash else [])}
            root = each.chord.root.name if each.chord.root else "N.C."
            facts.chords.append(((number, each.offset), root, frozenset(tones)))
    return facts


def theirs(data: bytes, name: str) -> list[Facts]:
    """What music21 finds, under the rules."""
    import music21
    from music21.abcFormat import translate

    warnings.simplefilter("ignore")
    translate.reBar = lambda part, **_: part  # type: ignore[attr-defined]
    if name.endswith(".abc"):
        return [
            _of_score(music21.converter.parse(_abc_for_music21(text), format="abc", forceSource=True), highest=True)
            for text in _tunes(data)
        ]
    root = xml_of(score_in_archive(data, name) if data[:2] == b"PK" else data, name)
    text = _xml_for_music21(root).decode()
    return [_of_score(music21.converter.parse(text, format="musicxml", forceSource=True), highest=False)]


def _tunes(data: bytes) -> Iterator[str]:
    head, *tunes = re.split(r"(?m)^(?=X\s*:)", re.sub(r"\r\n?", "\n", decoded(data)))
    common = "".join(f"{line}\n" for line in head.split("\n") if line.startswith("%%") or FIELD.match(line))
    yield from (common + tune for tune in tunes if re.search(r"(?m)^K:", tune))


def _of_score(score: Any, *, highest: bool) -> Facts:
    from music21 import harmony, note

    if hasattr(score, "scores"):
        score = score.scores[0]
    if any(each.transposition for each in score.recurse().getElementsByClass("Instrument")):
        score = score.toSoundingPitch()
    facts = Facts()
    chords: dict[tuple[Place, str], frozenset[int] | None] = {}
    for part in score.parts or [score]:
        for number, measure in enumerate(part.getElementsByClass("Measure"), 1):
            facts.lengths += [Fraction(0)] * (number - len(facts.lengths))
            facts.lengths[number - 1] = max(facts.lengths[number - 1], _exact(measure.highestTime))
            for each in measure.recurse():
                at = _exact(each.getOffsetInHierarchy(measure))
                if isinstance(each, harmony.Harmony):
                    chords[(number, at), _root(each)] = _tones(each)
                elif isinstance(each, note.NotRest) and _is_tune(each):
                    members = each.notes if hasattr(each, "notes") else (each,)
                    pitches = [round(one.pitch.ps) for one in members if one.notehead != "slash"]
                    sounding = [max(pitches)] if highest and pitches else pitches
                    facts.notes.update((number, at, _exact(each.quarterLength), pitch) for pitch in sounding)
                elif type(each).__name__ == "TextExpression" and re.fullmatch(r"\(?N\.?C\.?\)?", each.content.strip()):
                    chords[(number, at), "N.C."] = frozenset()
    facts.chords = _shared([(place, root, tones) for (place, root), tones in chords.items()], facts.lengths)
    return facts


def _is_tune(each: Any) -> bool:
    cue = each.hasStyleInformation and each.style.noteSize == "cue"
    return bool(each.pitches) and not each.duration.isGrace and not cue


def _root(each: Any) -> str:
    from music21 import harmony

    return "N.C." if isinstance(each, harmony.NoChord) or each.root() is None else each.root().name.replace("-", "b")


def _tones(each: Any) -> frozenset[int] | None:
    from music21 import harmony

    if isinstance(each, harmony.NoChord):
        return frozenset()
    if each.chordKind in FUNCTIONS or each.chordKind not in harmony.CHORD_TYPES:
        return None
    if each.chordStepModifications and re.search("ninth|11th|13th", each.chordKind):
        return None
    return frozenset(pitch.pitchClass for pitch in each.pitches)


def _shared(
    chords: list[tuple[Place, str, frozenset[int] | None]], lengths: Sequence[Fraction]
) -> list[tuple[Place, str, frozenset[int] | None]]:
    """Chords in order; several at one place share what follows."""
    places = [place for place, *_ in chords]
    found = []
    for place in sorted(set(places)):
        here = [row for row in chords if row[0] == place]
        bar, at = place
        end = min([lengths[bar - 1], *(other for number, other in places if number == bar and other > at)])
        for index, (_, root, tones) in enumerate(here):
            found.append(((bar, at + index * (end - at) / len(here)), root, tones))
    return found


def _exact(value: Any) -> Fraction:
    return Fraction(value).limit_denominator(960)


# -- comparing ------------------------------------------------------------------------------------------------------

FIGURES = ("bars", "lengths", "notes", "chords", "places", "names")


def agreement(one: Facts, other: Facts) -> dict[str, str]:
    """For each figure what differs, empty where nothing does."""
    both = {
        "bars": (len(one.lengths), len(other.lengths)),
        "lengths": (one.lengths, other.lengths),
        "notes": (sorted((one.notes - other.notes).elements()), sorted((other.notes - one.notes).elements())),
        "chords": (len(one.chords), len(other.chords)),
        "places": ([place for place, *_ in one.chords], [place for place, *_ in other.chords]),
        "names": ([row[1:] for row in one.chords], [row[1:] for row in other.chords]),
    }
    if len(one.chords) == len(other.chords):
        known = [(mine, yours) for mine, yours in zip(*both["names"], strict=True) if yours[1] is not None]  # type: ignore[misc]
        both["names"] = ([mine for mine, _ in known], [yours for _, yours in known])
    return {name: "" if mine == yours else _told(mine, yours) for name, (mine, yours) in both.items()}


def _told(mine: Any, yours: Any) -> str:
    if not isinstance(mine, list):
        return f"{mine}, music21 {yours}"
    place = next((k for k, (a, b) in enumerate(zip(mine, yours, strict=False)) if a != b), min(len(mine), len(yours)))
    shown = [", ".join(str(each).replace("Fraction", "") for each in rows[place : place + 2]) for rows in (mine, yours)]
    return f"[{place}] {shown[0]} | music21 {shown[1]}"


@dataclass(slots=True)
class Tally:
    """One line of the table."""

    tunes: int = 0
    with_chords: int = 0
    refused: int = 0
    unread: int = 0
    """By music21."""
    agreeing: Counter[str] = field(default_factory=Counter)
    told: list[str] = field(default_factory=list)

    def take(self, name: str, data: bytes, source: str, facts: list[Facts] | None = None) -> None:
        """A file, read by both; ``facts``: what music21 is known to read."""
        try:
            found = ours(data, source)
        except ChartError as error:
            self.refused += 1
            self.told.append(f"{name}: refused: {error.problems[0].message}")
            return
        try:
            other = theirs(data, source) if facts is None else facts
        except Exception as error:  # whatever the second reader does
            self.unread += 1
            self.told.append(f"{name}: music21 cannot read this: {type(error).__name__}")
            return
        if len(found) != len(other):
            self.told.append(f"{name}: {len(found)} tunes, music21 {len(other)}")
        for one, two in zip(found, other, strict=False):
            if not two.lengths:
                self.unread += 1
                continue
            differences = agreement(one, two)
            self.tunes += 1
            self.with_chords += bool(one.chords or two.chords)
            self.agreeing.update(figure for figure, told in differences.items() if not told)
            self.told += [f"{name} {one.title!r}: {figure}: {told}" for figure, told in differences.items() if told]

    def line(self, name: str) -> str:
        whole = max(1, self.tunes)
        shares = "".join(f"{self.agreeing[figure] / whole:>9.2%}" for figure in FIGURES)
        return f"{name:<22}{self.tunes:>7}{self.with_chords:>8}{self.refused:>9}{self.unread:>8}{shares}"


HEAD = f"{'':<22}{'tunes':>7}{'chords':>8}{'refused':>9}{'unread':>8}" + "".join(f"{figure:>9}" for figure in FIGURES)


def corpus(every: int, only: Sequence[str]) -> Iterator[tuple[str, Tally]]:
    """The files that come with music21, folder by folder."""
    import music21

    folder = Path(music21.__file__).parent
    paths = sorted(path for path in folder.rglob("*") if path.suffix in SUFFIXES)
    sets: dict[str, list[Path]] = {}
    for path in paths:
        inside = path.relative_to(folder).parts
        sets.setdefault(inside[1] if inside[0] == "corpus" else inside[0], []).append(path)
    for name, members in sets.items():
        if only and name not in only:
            continue
        tally = Tally()
        for path in members[:: every if name in LARGE else 1]:
            tally.take(path.name, path.read_bytes(), path.name)
        yield name, tally


def made_up(number: int) -> Iterator[tuple[str, Tally]]:
    """Random lead sheets."""
    tally = Tally()
    for seed in range(number):
        tally.take(f"page {seed}", lead_sheet(seed), "page.musicxml")
    yield "random lead sheets", tally


def made_untidy(number: int) -> Iterator[tuple[str, Tally]]:
    """Random lead sheets made untidy, ours, against music21's reading of the tidy ones."""
    tallies = {name: Tally() for name in UNTIDY}
    for seed in range(number):
        tidy = lead_sheet(seed)
        facts = theirs(tidy, "page.musicxml")
        for place, (name, tally) in enumerate(tallies.items()):
            tally.take(f"page {seed}, {name}", untidy(tidy, name, seed + place), "page.musicxml", facts)
    yield from tallies.items()


def main(arguments: Sequence[str]) -> None:
    numbers = [int(each) for each in arguments if each.isdecimal()]
    if "random" in arguments:
        rows = made_up(*numbers or [200])
    elif "untidy" in arguments:
        rows = made_untidy(*numbers or [60])
    else:
        rows = corpus(
            numbers[0] if numbers else 1, [each for each in arguments if not each.isdecimal() and each != "--every"]
        )
    print("\n".join(f"rule: {name}: {why}" for name, why in RULES.items()))
    print(HEAD)
    whole = Tally()
    for name, tally in rows:
        print(tally.line(name), flush=True)
        whole.told += [f"{name}: {told}" for told in tally.told]
        whole.agreeing.update(tally.agreeing)
        for figure in ("tunes", "with_chords", "refused", "unread"):
            setattr(whole, figure, getattr(whole, figure) + getattr(tally, figure))
    print(whole.line("all"))
    print("\n".join(whole.told))


if __name__ == "__main__":
    main(sys.argv[1:])
