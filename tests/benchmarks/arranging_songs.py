"""The songs on which arranging is measured: at least 300 progressions.

* the lead sheets of the music21 corpus that carry chord symbols (two lead sheets, two reels, and two of its demonstrations of
  chord symbols), with their tunes;
* its twenty chorale analyses (Roman numerals; see ``following_songs`` for who made them) read as charts, with Bach's soprano
  where score and analysis fit together;
* the demo charts and this project's own lead sheets, the demo charts in all twelve keys;
* random songs, a seed always giving the same, which between them have every quality and every alteration of the tables, with
  slashes, marks, meters, feels, sections without pedal, and a tune over half of them.

Nothing of the corpus is copied here; it is read where it is installed.
"""

from __future__ import annotations

import random
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path
from typing import Any

from following_songs import CHORALES, ROOT, chorale, symbol_of

from charts.chart import Bar, Change, Chart, Section, Tempo
from charts.chord import NO_CHORD, Chord, read_chord
from charts.key import Key, read_key
from charts.melody import MelodyNote
from charts.meter import read_meter
from charts.notation import read_chart, read_chart_file
from charts.pitch import Spelling
from charts.qualities import QUALITIES, USUAL_ALTERATIONS
from charts.roadmap import unfold
from charts.route import Route
from liveassist.arranging.feels import load_feels

SEEDS = range(1, 161)
KEYS = range(-6, 6)


@dataclass(frozen=True, eq=False)
class Progression:
    """A route to arrange, and how."""

    name: str
    route: Route
    tune: tuple[MelodyNote, ...] | None = None
    """None: the chart's own, or none at all."""
    lift: int = 0
    room: float = 1.8
    source: str = ""


def sung(notes: Iterable[tuple[Fraction, Fraction, int]]) -> tuple[MelodyNote, ...]:
    """Position, length and key as notes of a tune. Their spelling is not asked for."""
    return tuple(
        MelodyNote(position=position, length=length, pitch=pitch, spelling=Spelling("C", 0), bar=0)
        for position, length, pitch in notes
    )


# -- the corpus -------------------------------------------------------------------------------------------------------

LEAD_SHEETS = (
    "leadSheet/berlinAlexandersRagtime",
    "leadSheet/fosterBrownHair",
    "nottingham-dataset/reelsa-c",
    "demos/chord_realization_exercise",
    "demos/ComprehensiveChordSymbolsTestFile",
)


def _exact(quarters: float) -> Fraction:
    return Fraction(quarters).limit_denominator(96)


def lead_sheets() -> Iterator[Progression]:
    from music21 import corpus, stream

    for name in LEAD_SHEETS:
        read = corpus.parse(name)
        scores = list(read.scores) if isinstance(read, stream.Opus) else [read]
        for number, score in enumerate(scores, 1):
            part = next(part for part in score.parts if list(part.recurse().getElementsByClass("ChordSymbol")))
            yield _lead_sheet(f"{name} {number}", part)


def _lead_sheet(name: str, part: Any) -> Progression:
    """A part with chord symbols as a chart: its bars put end to end, the tune as written."""
    measures = list(part.getElementsByClass("Measure"))
    meter = read_meter(measures[0].timeSignature.ratioString)
    bars, tune, position = [], [], Fraction(0)
    for measure in measures:
        length = _exact(measure.duration.quarterLength) or meter.bar_length
        found = {}
        for symbol in measure.recurse().getElementsByClass("ChordSymbol"):
            chord = _as_written(symbol.figure)
            if chord is not None:
                found[_exact(symbol.getOffsetInHierarchy(measure))] = chord
        if not bars:
            found.setdefault(Fraction(0), NO_CHORD)
        number = 0 if not bars and length < meter.bar_length else len(bars) + (0 if bars and bars[0].number == 0 else 1)
        changes = tuple(
            Change(offset=offset, chord=chord) for offset, chord in sorted(found.items()) if offset < length
        )
        bars.append(Bar(number=number, length=length, meter=meter, changes=changes))
        for note in measure.recurse().notes:
            if "ChordSymbol" not in note.classes and note.quarterLength:
                start = position + _exact(note.getOffsetInHierarchy(measure))
                tune.append((start, _exact(note.quarterLength), note.pitches[-1].midi))
        position += length
    return Progression(name, _unfolded(name, read_key("C"), bars), sung(tune), source="lead sheets")


def _as_written(figure: str) -> Chord | None:
    """A chord symbol of music21's in our notation; None for what no symbol names (a function in a key)."""
    body, _, bass = figure.partition("/")
    text = body.replace("B-", "Bb").replace("E-", "Eb").replace("A-", "Ab").replace("G-", "Gb").replace("D-", "Db")
    bass = bass[:1].upper() + bass[1:].replace("-", "b").replace("+", "#")
    try:
        return read_chord(f"{text}/{bass}" if bass else text)
    except ValueError:
        return None


def _unfolded(name: str, key: Key, bars: Sequence[Bar]) -> Route:
    """Bars as a song of sections of eight."""
    upbeat = 1 if bars and not bars[0].number else 0
    sections, at = [], 0
    while at < len(bars):
        until = at + 8 + (upbeat if not at else 0)
        while until < len(bars) and not (bars[until].changes and bars[until].changes[0].offset == 0):
            until += 1
        some = bars[at:until]
        first = 0 if not at and upbeat else 1
        numbered = tuple(
            Bar(number=number, length=bar.length, meter=bar.meter, changes=bar.changes)
            for number, bar in enumerate(some, first)
        )
        sections.append(Section(name=f"Line {len(sections) + 1}", bars=numbered))
        at = until
    return unfold(
        Chart(
            title=name,
            key=key,
            meter=bars[0].meter,
            tempo=Tempo(Fraction(1), 84.0),
            pickup=bars[0].length if upbeat else Fraction(0),
            sections=tuple(sections),
        )
    )


ITALIAN = (0, 4, 10)
"""An augmented sixth, by its sound: a seventh chord without its fifth. Its lowest tone is what a lead sheet calls the root."""


def chorales(numbers: Iterable[int] = CHORALES) -> Iterator[Progression]:
    """The analyses as charts, with Bach's soprano where the score fits."""
    for number in numbers:
        song = chorale(number)
        if song is not None and song.tune is not None:
            yield Progression(song.name, song.route, sung(song.tune), source="chorales")
        else:
            yield Progression(f"chorale {number}", _analysis(number), (), source="chorales")


def _analysis(number: int) -> Route:
    """A chorale's analysis alone. A chord that no symbol names leaves the one before."""
    from music21 import converter, corpus

    path = Path(corpus.__file__).parent / "bach" / "choraleAnalyses" / f"riemenschneider{number:03}.rntxt"
    measures = converter.parse(str(path), format="romantext").parts[0].getElementsByClass("Measure")
    bars: list[Bar] = []
    meter = key = None
    for measure in measures:
        if measure.timeSignature is not None:
            meter = read_meter(measure.timeSignature.ratioString)
        changes = []
        for numeral in measure.getElementsByClass("RomanNumeral"):
            key = key or numeral.key
            symbol = symbol_of(numeral) or _seventh_without_fifth(numeral)
            if symbol is not None:
                changes.append(Change(offset=_exact(numeral.offset), chord=read_chord(symbol)))
        assert meter is not None
        length = _exact(measure.quarterLength) or meter.bar_length
        first = 0 if not bars and length < meter.bar_length else len(bars) + 1
        bars.append(Bar(number=first, length=length, meter=meter, changes=tuple(changes)))
    assert key is not None
    tonic = key.tonic.name.replace("-", "b") + ("m" if key.mode == "minor" else "")
    return _unfolded(f"chorale {number}", read_key(tonic), bars)


def _seventh_without_fifth(numeral: Any) -> str | None:
    bass = numeral.bass()
    above = tuple(sorted({(pitch.pitchClass - bass.pitchClass) % 12 for pitch in numeral.pitches}))
    return bass.name.replace("-", "b") + "7(no5)" if above == ITALIAN else None


# -- our own charts ---------------------------------------------------------------------------------------------------


def own_charts() -> Iterator[Progression]:
    for path in sorted((ROOT / "tests" / "lead_sheets").glob("*.chart")):
        yield Progression(path.stem, unfold(read_chart_file(path)), source="own lead sheets")
    for path in sorted((ROOT / "demo_charts").glob("*.chart")):
        route = unfold(read_chart_file(path))
        for lift in KEYS:
            yield Progression(f"{path.stem} {lift:+}", route, lift=lift, source="demo charts")


# -- random songs -----------------------------------------------------------------------------------------------------

ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
METERS = {"4/4": 4, "2/2": 2, "3/4": 3, "6/8": 2, "9/8": 3, "12/8": 4, "5/4": 5, "2/4": 2}
MARKS = ("(hold)", "(break)", "(tacet)", "(push)", "(late)", "(breath)", "(rit.)", "(a tempo)")
ROADMAP = ("Verse", "Chorus  fuller", "Bridge  manuals only", "Chorus", "Ending  thinner")
ROOMS = (0.3, 1.0, 1.8, 3.0, 6.0)
LOWEST_TUNE, HIGHEST_TUNE = 57, 76
"""A below middle C to the E in the treble staff's top space: what a congregation sings."""


def random_progression(seed: int) -> Progression:
    """A song dealt from the tables of qualities and alterations."""
    dice = random.Random(f"arranging {seed}")
    meter = dice.choice(sorted(METERS))
    names = list(QUALITIES)
    lines = [
        f"title = Song {seed}",
        f"key = {dice.choice(ROOTS)}{dice.choice(('', 'm'))}",
        f"meter = {meter}",
        f"tempo = {dice.randint(50, 150)}",
        f"feel = {dice.choice(sorted(load_feels()))}",
        "",
        "== Roadmap ==",
        *ROADMAP,
    ]
    dealt = iter(range(seed * 17, 10**9))
    for section in ("Verse", "Chorus", "Bridge", "Ending"):
        bars = []
        for number in range(dice.choice((2, 4, 8))):
            beats = []
            for beat in range(METERS[meter]):
                if beat and dice.random() < 0.6:
                    beats.append("/")
                    continue
                beats.append(_random_chord(names[next(dealt) % len(names)], dice, silence=bool(number)))
            bars.append(" ".join(beats))
        lines += ["", f"== {section} ==", "| " + " | ".join(bars) + " |"]
    route = unfold(read_chart("\n".join(lines) + "\n", f"song {seed}"))
    tune = sung(_random_tune(route, dice)) if seed % 2 else ()
    return Progression(
        f"random {seed}", route, tune, lift=dice.randint(-5, 6), room=dice.choice(ROOMS), source="random songs"
    )


def _random_chord(quality: str, dice: random.Random, *, silence: bool) -> str:
    if silence and dice.random() < 0.03:
        return "N.C."
    symbol = dice.choice(ROOTS) + quality
    if dice.random() < 0.25:
        symbol += f"({dice.choice(USUAL_ALTERATIONS)})"
    chord = read_chord(symbol)
    if dice.random() < 0.3:
        tones = [tone.spelling.name for tone in chord.tones if len(tone.spelling.name) < 3]
        symbol = f"{symbol}/{dice.choice([*tones, *ROOTS])}"
    return f"{symbol} {dice.choice(MARKS)}" if dice.random() < 0.1 else symbol


def _random_tune(route: Route, dice: random.Random) -> Iterator[tuple[Fraction, Fraction, int]]:
    """A tune that walks and leaps, with rests."""
    position, key = Fraction(0), dice.randint(60, 69)
    while position < route.length:
        length = Fraction(dice.choice((1, 1, 2, 2, 2, 3, 4, 8)), 2)
        length = min(length, route.length - position)
        if dice.random() < 0.9:
            yield position, length, key
        position += length
        key = min(max(key + dice.choice((-5, -4, -2, -2, -1, 0, 1, 2, 2, 3, 5)), LOWEST_TUNE), HIGHEST_TUNE)


# -- the set ----------------------------------------------------------------------------------------------------------


def the_set(*, quick: bool = False) -> Iterator[Progression]:
    """All of it, or for a quick look the cheap ones and a few of each kind."""
    if not quick:
        yield from lead_sheets()
        yield from chorales()
    for number, song in enumerate(own_charts()):
        if not quick or number % 9 == 0:
            yield song
    for seed in SEEDS[:12] if quick else SEEDS:
        yield random_progression(seed)


def long_song(symbols: Iterator[str], bars: int) -> Route:
    """A song of so many bars, two chords in each."""
    cells = " | ".join(f"{next(symbols)} {next(symbols)}" for _ in range(bars))
    head = "title = Long\nkey = C\nmeter = 4/4\ntempo = 92\nfeel = straight eighths"
    return unfold(read_chart(f"{head}\n\n== Verse ==\n| {cells} |\n"))
