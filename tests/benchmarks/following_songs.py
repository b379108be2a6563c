"""The songs on which following is measured.

* *development set*: the demo charts, two public-domain lead sheets, random songs of low seeds. Parameters may be fitted here.
* *reported set*: random songs of other seeds, Bach chorales, dance tunes. Nothing is fitted here.

Random songs are written in the chart notation with scale degrees, in every key; a seed always gives the same text. Their
bars are dealt from a table of what makes following hard: two chords in a bar, a chord on an off-beat, a root repeated, chords
that share a root (D, D7), slash basses, pedal points. A part of them, the loop songs, go round and round four chords, in
verse and chorus alike, as much of what bands play does (common practice, no source): most of their places look like others.

The chorales are those of the music21 corpus that carry an expert's Roman-numeral analysis (analysts A. Jones and D. Tymoczko,
proofreaders D. Tymoczko and H. Robb, as their files say). Chart: one change for each analysed chord, its bass from the
inversion. Pedal: Bach's own bass line with all its passing notes. The music is in the public domain; the files of the analyses
name no licence of their own, the corpus says that it is distributed with the permission of the encoders and that some
encodings may be restricted. So nothing of it is copied here: the charts are built from the installed corpus when they are
needed. Where a hand plays a tune, it is Bach's own soprano.

The dance tunes, from the same corpus, stand in ``following_tunes``.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import cache
from itertools import islice
from pathlib import Path
from typing import Any

from following_tunes import read_tune, section_lines

from charts.chart import Bar, Change, Chart, Section, Tempo
from charts.chord import read_chord
from charts.key import read_key
from charts.meter import read_meter
from charts.notation import read_chart, read_chart_file
from charts.roadmap import unfold
from charts.route import Route

ROOT = Path(__file__).parent.parent.parent
DEVELOPMENT_SEEDS, REPORTED_SEEDS = range(1, 101), range(101, 1000)
Line = tuple[tuple[Fraction, Fraction, int], ...]


@dataclass(frozen=True, eq=False)
class Song:
    """A route to play, and bass line and tune as written where there are any."""

    name: str
    route: Route
    line: Line | None = None
    tune: Line | None = None


# -- random songs -----------------------------------------------------------------------------------------------------

KEYS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")
METERS = {
    # meter: (counted beats a minute from, to, how often)
    "4/4": (66, 120, 6),
    "3/4": (72, 132, 3),
    "6/8": (44, 66, 2),
}
CHORDS = ("1", "1", "4", "4", "5", "57", "6m", "6m7", "2m", "2m7", "3m", "1/3", "5/7", "4/6", "1/5", "b7", "5sus4")
"""Commoner chords stand twice."""
BARS = {
    # what a bar holds: how often
    "one": 10,
    "two": 5,
    "off-beat": 1,
    "again": 2,
    "same root": 2,
    "pedal point": 1,
}
SHARED = {"1": "17", "5": "57", "4": "4maj7", "6m": "6m7", "2m": "2m7"}
"""Chords followed by another over the same root."""
ROADMAPS = (
    ("Intro", "Verse", "Chorus", "Verse", "Chorus", "Bridge", "Chorus", "Ending"),
    ("Verse", "Chorus", "Verse", "Chorus", "Bridge", "Verse", "Chorus", "Ending"),
    ("Intro", "Verse", "Verse", "Chorus", "Bridge", "Chorus", "Chorus", "Ending"),
)
LENGTHS = {"Intro": (2, 4), "Verse": (8, 8), "Chorus": (4, 8), "Bridge": (4, 8), "Ending": (2, 4)}


def _bar(kind: str, meter: str, previous: str, dice: random.Random) -> tuple[str, str]:
    """One bar as text, and the chord it ends on."""
    one, other = (dice.choice([chord for chord in CHORDS if chord != previous]) for _ in range(2))
    if other == one:
        other = "5" if one != "5" else "1"
    split = {"4/4": f"{one} {other}", "3/4": f"{one} / {other}", "6/8": f"{one} {other}"}
    pushed = {"4/4": f"{one} / &{other} / /", "3/4": f"{one} / &{other} /", "6/8": f"{one} &{other} /"}
    match kind:
        case "two":
            return split[meter], other
        case "off-beat":
            return pushed[meter], other
        case "again":
            return previous, previous
        case "same root" if previous in SHARED:
            return SHARED[previous], SHARED[previous]
        case "pedal point":
            over = dice.choice(("4", "57", "2m"))
            return f"{over}/1 (ped. pt.)", f"{over}/1"
    return one, one


def random_text(seed: int) -> str:
    """A song in the chart notation; the same seed gives the same text."""
    dice = random.Random(f"song {seed}")
    meter = dice.choices(list(METERS), [often for _, _, often in METERS.values()])[0]
    low, high, _ = METERS[meter]
    roadmap = dice.choice(ROADMAPS)
    value = "dotted quarter" if meter == "6/8" else "quarter"
    lines = [
        f"title = Song {seed}",
        f"key = {KEYS[seed % 12]}",
        f"meter = {meter}",
        f"tempo = {value} {dice.randint(low, high)}",
        "",
        "== Roadmap ==",
        *roadmap,
    ]
    for section in dict.fromkeys(roadmap):
        bars, previous = [], "5"
        length = dice.choice(LENGTHS[section])
        for number in range(length):
            kind = dice.choices(list(BARS), list(BARS.values()))[0]
            last = section == "Ending" and number == length - 1
            first = number == 0 and kind in ("again", "same root", "pedal point")
            text, previous = _bar("one" if first else kind, meter, previous, dice) if not last else ("1", "1")
            bars.append(text)
        lines += section_lines(section, bars)
    return "\n".join(lines) + "\n"


@cache
def random_song(seed: int) -> Song:
    return Song(f"random {seed}", unfold(read_chart(random_text(seed), f"random {seed}")))


LOOPS = (
    ("1", "5", "6m", "4"),
    ("6m", "4", "1", "5"),
    ("1", "6m", "4", "5"),
    ("1", "4", "6m", "5"),
    ("4", "1", "5", "6m"),
    ("1", "4", "1", "5"),
    ("6m", "5", "4", "4"),
    ("1", "b7", "4", "1"),
)
"""Four chords that go round: common practice, no source."""
LOOP_LENGTHS = {"Intro": (4,), "Verse": (8, 16), "Chorus": (8,), "Bridge": (4, 8), "Ending": (4,)}
"""Bars of each section."""
OTHER_BRIDGE, TURNED = 0.7, 0.4
"""How often the bridge goes round other chords, and how often the last bar of a section turns to the fifth degree."""


def loop_text(seed: int) -> str:
    """A song of few chords in the chart notation: verse and chorus go round the same four."""
    dice = random.Random(f"loop {seed}")
    loop, other = dice.sample(LOOPS, 2)
    bars_to_a_chord = dice.choices(("half", "one", "two"), (2, 6, 1))[0]
    roadmap = dice.choice(ROADMAPS)
    lines = [
        f"title = Loop {seed}",
        f"key = {KEYS[seed % 12]}",
        "meter = 4/4",
        f"tempo = quarter {dice.randint(66, 120)}",
        "",
        "== Roadmap ==",
        *roadmap,
    ]
    for section in dict.fromkeys(roadmap):
        chords = other if section == "Bridge" and dice.random() < OTHER_BRIDGE else loop
        round_ = {
            "half": [f"{chords[0]} {chords[1]}", f"{chords[2]} {chords[3]}"],
            "one": list(chords),
            "two": [chord for chord in chords for _ in range(2)],
        }[bars_to_a_chord]
        length = dice.choice(LOOP_LENGTHS[section])
        bars = (round_ * length)[:length]
        if section != "Ending" and dice.random() < TURNED:
            bars[-1] = "5sus4 5"
        if section == "Ending":
            bars[-1] = "1"
        lines += section_lines(section, bars)
    return "\n".join(lines) + "\n"


@cache
def loop_song(seed: int) -> Song:
    return Song(f"loop {seed}", unfold(read_chart(loop_text(seed), f"loop {seed}")))


def long_route(bars: int, seed: int = 7) -> Route:
    """A route of so many bars for measuring cost: verses, one after the other, cut to length."""
    dice = random.Random(f"long {seed}")
    text = ["title = Long", "key = D", "meter = 4/4", "tempo = quarter 100"]
    previous = "1"
    for section in range(-(-bars // 8)):
        written = []
        for number in range(min(8, bars - 8 * section)):
            line, previous = _bar(dice.choice(("one", "two")) if number else "one", "4/4", previous, dice)
            written.append(line)
        text += ["", f"== Verse {section + 1} ==", "| " + " | ".join(written) + " |"]
    return unfold(read_chart("\n".join(text) + "\n"))


# -- the demo charts and the lead sheets ------------------------------------------------------------------------------


@cache
def written_songs() -> tuple[Song, ...]:
    paths = sorted((ROOT / "demo_charts").glob("*.chart")) + sorted((ROOT / "tests" / "lead_sheets").glob("*.chart"))
    return tuple(Song(path.stem, unfold(_played_once(read_chart_file(path)))) for path in paths)


def _played_once(chart: Chart) -> Chart:
    """The chart without its underscores: the imagined organist does not nod, and would wait for nothing."""
    return replace(chart, roadmap=tuple(replace(step, underscore=False) for step in chart.roadmap))


# -- the chorales -----------------------------------------------------------------------------------------------------

QUALITIES = {
    (0, 4, 7): "",
    (0, 3, 7): "m",
    (0, 3, 6): "dim",
    (0, 4, 8): "aug",
    (0, 4, 7, 10): "7",
    (0, 4, 7, 11): "maj7",
    (0, 3, 7, 10): "m7",
    (0, 3, 6, 10): "m7b5",
    (0, 3, 6, 9): "dim7",
    (0, 3, 7, 11): "m(maj7)",
    (0, 4, 8, 11): "maj7(#5)",
    (0, 4, 8, 10): "7(#5)",
    (0, 4, 6, 10): "7(b5)",
    (0, 5, 7): "sus4",
    (0, 2, 7): "sus2",
}
"""Chord symbols by semitones above the root."""
CHORALE_TEMPO = 72.0
"""Quarter notes a minute: common practice, no source."""
CHORALES = range(1, 21)
"""Numbers of the chorales that the corpus has analyses of."""
SAME_KEY = 0.8
"""Share of the chords whose analysed bass must be Bach's: less, and the score stands in another key or bar."""
LINE_BARS = 4
"""Bars to a section, as the analyses name none."""


def symbol_of(numeral: Any) -> str | None:
    """A Roman numeral's chord as a lead sheet writes it; None where a lead sheet has no name for it."""
    root, bass = numeral.root(), numeral.bass()
    above = tuple(sorted({(pitch.pitchClass - root.pitchClass) % 12 for pitch in numeral.pitches}))
    if above not in QUALITIES:
        return None
    over = "" if bass.pitchClass == root.pitchClass else "/" + bass.name.replace("-", "b")
    return root.name.replace("-", "b") + QUALITIES[above] + over


@cache
def chorale(number: int) -> Song | None:
    """A chorale by its number in the corpus.

    None where score and analysis do not fit together: of unequal length but for the last bar, in another key, or with
    chords that a lead sheet has no name for.
    """
    from music21 import converter, corpus
    from music21.corpus.chorales import ChoraleListRKBWV

    path = Path(corpus.__file__).parent / "bach" / "choraleAnalyses" / f"riemenschneider{number:03}.rntxt"
    analysis = converter.parse(str(path), format="romantext").parts[0]
    bwv = ChoraleListRKBWV().byRiemenschneider[number]["bwv"]
    score = corpus.parse(f"bach/bwv{bwv}")
    bass = score.parts[-1]
    bars = _bars(list(analysis.getElementsByClass("Measure")))
    if bars is None:
        return None
    last = bars[-1].length + _exact(bass.quarterLength - analysis.quarterLength)
    if not 0 < last <= bars[-1].length:  # many analyses fill up the last bar, which an upbeat has shortened
        return None
    bars[-1] = replace(bars[-1], length=last)
    key = next(iter(analysis.recurse().getElementsByClass("RomanNumeral"))).key
    route, line = _route_of(f"chorale {number}", key, bars), _line_of(bass)
    sounding = {position: pitch % 12 for position, _, pitch in line}
    agreed = [change.bass == sounding[change.position] for change in route.changes if change.position in sounding]
    if sum(agreed) < SAME_KEY * len(agreed):
        return None
    return Song(f"chorale {number}", route, line, _line_of(score.parts[0]))


def _bars(measures: Sequence[Any]) -> list[Bar] | None:
    """The bars with their changes, numbered through; None where a chord has no name or the meter changes."""
    meter = read_meter(measures[0].timeSignature.ratioString)
    bars: list[Bar] = []
    for index, measure in enumerate(measures):
        if index and measure.timeSignature is not None and measure.timeSignature.ratioString != meter.name:
            return None
        changes = []
        for numeral in measure.getElementsByClass("RomanNumeral"):
            symbol = symbol_of(numeral)
            if symbol is None:
                return None
            changes.append(Change(offset=_exact(numeral.offset), chord=read_chord(symbol)))
        length = _exact(measure.quarterLength)
        number = 0 if index == 0 and length < meter.bar_length else len(bars) + 1
        bars.append(Bar(number=number, length=length, meter=meter, changes=tuple(changes)))
    return bars


def _exact(quarters: float) -> Fraction:
    return Fraction(quarters).limit_denominator(16)


def _route_of(name: str, key: Any, bars: Sequence[Bar]) -> Route:
    """The bars in sections of one line each."""
    lines: list[list[Bar]] = [[]]
    for bar in bars:
        written = sum(1 for kept in lines[-1] if kept.number)
        if written >= LINE_BARS and bar.changes and bar.changes[0].offset == 0:
            lines.append([])
            written = 0
        lines[-1].append(replace(bar, number=bar.number and written + 1))
    tonic = key.tonic.name.replace("-", "b") + ("m" if key.mode == "minor" else "")
    chart = Chart(
        title=name,
        key=read_key(tonic),
        meter=bars[0].meter,
        tempo=Tempo(Fraction(1), CHORALE_TEMPO),
        pickup=Fraction(0) if bars[0].number else bars[0].length,
        sections=tuple(Section(name=f"Line {index}", bars=tuple(line)) for index, line in enumerate(lines, 1)),
    )
    return unfold(chart)


def _line_of(voice: Any) -> Line:
    """One of Bach's voices, tied notes joined, as (position, length, key)."""
    notes = voice.flatten().stripTies().notes
    return tuple((_exact(note.offset), _exact(note.quarterLength), note.pitch.midi) for note in notes)


# -- the dance tunes ---------------------------------------------------------------------------------------------------

DANCE_TUNES = range(0, 1000, 40)
"""Numbers of the tunes, those that cannot be used among them."""


@cache
def dance_tune(number: int) -> Song | None:
    """A dance tune by its number in the corpus; None where it cannot be used."""
    read = read_tune(number)
    return read and Song(f"dance tune {number}", read[0], tune=read[1])


# -- the two sets -----------------------------------------------------------------------------------------------------


def _part(seeds: int) -> int:
    """How many loop songs, and how many dance tunes, go with so many random songs."""
    return max(1, seeds // 4)


def development_songs(seeds: int) -> tuple[Song, ...]:
    """The written songs, so many random ones, and loop songs, a quarter as many."""
    return (
        *written_songs(),
        *(random_song(seed) for seed in DEVELOPMENT_SEEDS[:seeds]),
        *(loop_song(seed) for seed in DEVELOPMENT_SEEDS[: _part(seeds)]),
    )


def reported_songs(seeds: int, numbers: Sequence[int] = CHORALES) -> tuple[Song, ...]:
    """So many random songs; loop songs and dance tunes, a quarter as many each; and the chorales of these numbers that can be
    used."""
    tunes = (song for song in map(dance_tune, DANCE_TUNES) if song is not None)
    found = (chorale(number) for number in numbers)
    return (
        *(random_song(seed) for seed in REPORTED_SEEDS[:seeds]),
        *(loop_song(seed) for seed in REPORTED_SEEDS[: _part(seeds)]),
        *islice(tunes, _part(seeds)),
        *(song for song in found if song is not None),
    )
