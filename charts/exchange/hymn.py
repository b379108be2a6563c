"""From a hymn in parts to chords: what chord each stretch of four-part writing is, found from its notes.

The notes are cut into slices, one for every place where a note begins. A slice is judged against every chord of a table on
every root: notes that belong to it count for it as long as they last, others against it. Notes that are reached and left by
step, and held notes that fall by step (passing notes, neighbours, suspensions), count little against a chord. A change of
chord has a price, low on the beats of the bar and high between them, so that there is one chord for a sensible harmonic
rhythm and not one for every passing note. The best way through the whole piece is found by dynamic programming (Viterbi
1967), as others have found chords from notes (Pardo and Birmingham 2002, whose template scoring this follows in spirit).
The figures were fitted to half of the Roman-numeral analyses of chorales in the corpus of music21;
``tests/benchmarks/importing.py`` prints both halves.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import pairwise

from charts.chart import BREATH
from charts.chord import Chord
from charts.exchange.settling import guessed_key
from charts.exchange.sheet import Remark, Sheet, SheetBar, SheetChord
from charts.key import Key
from charts.marks import in_order
from charts.meter import Meter
from charts.pitch import Spelling, simplest


@dataclass(frozen=True, kw_only=True, slots=True)
class Weights:
    """How much speaks for a chord and against it, in quarter notes of one voice. Fitted together: alone none means much."""

    outside: float = 2.4
    """A note that is none of the chord's."""
    stepwise: float = 0.6
    """The same, reached and left by step."""
    suspended: float = 0.6
    """The same, held over and falling by step."""
    root: float = 0.55
    """The chord's root sounds."""
    bass: float = 0.1
    """It is the lowest note."""
    fifth_below: float = -1.3
    """The lowest note is the fifth."""
    third: float = -0.35
    """The chord's third sounds."""
    seventh: float = -0.85
    """The chord has a seventh (sounding or not)."""
    dim: float = -0.45
    """The chord is diminished or augmented."""
    in_key: float = 0.1
    """All its tones belong to the key, raised leading note included. Not as fitted (-0.1): a lone note wants its key."""
    change: float = 0.4
    """The price of a change on a beat of the bar."""
    weak: float = -0.1
    """More on a weak beat."""
    off_beat: float = 0.5
    """More between beats."""


WEIGHTS = Weights()
_TEMPLATES = {
    "": (0, 4, 7),
    "m": (0, 3, 7),
    "dim": (0, 3, 6),
    "aug": (0, 4, 8),
    "7": (0, 4, 7, 10),
    "m7": (0, 3, 7, 10),
    "maj7": (0, 4, 7, 11),
    "m7b5": (0, 3, 6, 10),
    "dim7": (0, 3, 6, 9),
}
MOST_SLICES = 8000
"""A longer piece is no hymn, and its chords are not looked for."""
CLOSE_CALL = 0.25
"""Quarter notes of one voice, for each quarter that a chord lasts: an alternative no further behind is told."""
FEWEST_VOICES = 2.5
"""Notes at a time, on average: below that a page is no hymn."""

Candidate = tuple[int, str]
"""Root as a pitch class, and quality."""
CANDIDATES: tuple[Candidate, ...] = tuple((root, quality) for root in range(12) for quality in _TEMPLATES)
_TONES = {
    (root, quality): frozenset((root + each) % 12 for each in _TEMPLATES[quality]) for root, quality in CANDIDATES
}


@dataclass(frozen=True, slots=True)
class Sounding:
    """A note with its place in the piece."""

    start: Fraction
    end: Fraction
    pitch: int
    spelling: Spelling


@dataclass(frozen=True, slots=True)
class Slice:
    """A stretch in which nothing begins but at its start."""

    start: Fraction
    end: Fraction
    notes: tuple[tuple[Sounding, str], ...]
    """The notes that sound and how each is reached and left: "", "stepwise" or "suspended"."""
    price: float
    """Of a change here, before weighting: 0 on a strong beat, 1 on a weak one, 2 between beats."""


@dataclass(frozen=True, slots=True)
class Found:
    """A chord found."""

    start: Fraction
    end: Fraction
    candidate: Candidate
    bass: int
    """Pitch of the lowest note at its start."""
    rivals: tuple[Candidate, ...]
    """Others that came close, the nearest first."""


def is_hymn(sheet: Sheet) -> bool:
    """Whether a page has parts and no chord symbols."""
    if any(bar.chords for bar in sheet.bars):
        return False
    if too_long(sheet):
        return False
    sounding = sum((note.length for bar in sheet.bars for note in bar.voices), Fraction(0))
    filled = sum((bar.length for bar in sheet.bars if bar.voices), Fraction(0))
    return bool(filled) and sounding / filled >= FEWEST_VOICES


def too_long(sheet: Sheet) -> bool:
    """Whether a piece is too long for its chords to be found in a few seconds."""
    return sum(len({note.offset for note in bar.voices}) for bar in sheet.bars) > MOST_SLICES


def with_chords(sheet: Sheet) -> Sheet:
    """The same sheet with the chords that its notes make, the close calls told."""
    if not sheet.bars:
        return sheet
    key = sheet.key or guessed_key(sheet.bars)
    found = find_chords(sheet.bars, key)
    starts = _starts(sheet.bars)
    bars = []
    remarks = [Remark(message="no chord symbols: chords are found from the notes", lost=False)]
    spell = _Speller(sheet.bars, key)
    before: Candidate | None = None
    for index, bar in enumerate(sheet.bars):
        chords = []
        for each in found:
            if not starts[index] <= each.start < starts[index] + bar.length:
                continue
            chord = spell.chord(each)
            offset = each.start - starts[index]
            chords.append(SheetChord(offset=offset, chord=chord))
            if each.rivals and each.candidate != before:
                others = " or ".join(spell.chord(replace(each, candidate=rival)).symbol for rival in each.rivals)
                beat = float(offset / bar.meter.counted_beat) + 1
                message = f"beat {beat:g}: {chord.symbol}, and it might be {others}"
                remarks.append(Remark(bar=index + 1, message=message, lost=False))
            before = each.candidate
        if bar.phrase_end and chords:
            chords[-1] = replace(chords[-1], marks=in_order((*chords[-1].marks, BREATH)))
        after_phrase = index > 0 and sheet.bars[index - 1].phrase_end
        bars.append(replace(bar, chords=tuple(chords), new_line=bar.new_line or after_phrase))
    return replace(sheet, key=key, bars=tuple(bars), remarks=(*sheet.remarks, *remarks))


def find_chords(bars: Sequence[SheetBar], key: Key, weights: Weights = WEIGHTS) -> list[Found]:
    """The chords of bars in parts, in order; equal neighbours are one, but for a new bass note on a beat."""
    slices = _slices(bars)
    if not slices:
        return []
    scores = [_scores(each, key, weights) for each in slices]
    path = _cheapest(slices, scores, weights)
    found: list[Found] = []
    begin = 0
    for index in range(1, len(slices) + 1):
        if index < len(slices) and path[index] == path[begin] and not _new_bass(slices, begin, index, path[begin]):
            continue
        stretch = range(begin, index)
        totals = {candidate: sum(scores[i][candidate] for i in stretch) for candidate in CANDIDATES}
        length = float(slices[index - 1].end - slices[begin].start)
        least = totals[path[begin]] - CLOSE_CALL * length
        rivals = sorted((c for c in CANDIDATES if c != path[begin] and totals[c] > least), key=lambda c: -totals[c])
        bass = min(note.pitch for note, _ in slices[begin].notes)
        found.append(Found(slices[begin].start, slices[index - 1].end, path[begin], bass, tuple(rivals[:2])))
        begin = index
    return found


def _new_bass(slices: Sequence[Slice], begin: int, index: int, candidate: Candidate) -> bool:
    """Whether the bass moves to another note of the chord on a beat: the feet have something else to play."""
    one, other = slices[begin], slices[index]
    lowest = min(note.pitch for note, _ in other.notes)
    was = min(note.pitch for note, _ in one.notes)
    starts = any(note.pitch == lowest and note.start == other.start for note, _ in other.notes)
    return other.price < 2 and starts and lowest % 12 != was % 12 and lowest % 12 in _TONES[candidate]


def _starts(bars: Sequence[SheetBar]) -> list[Fraction]:
    starts = [Fraction(0)]
    for bar in bars:
        starts.append(starts[-1] + bar.length)
    return starts


def _notes(bars: Sequence[SheetBar]) -> list[Sounding]:
    """Every note of the piece, tied ones as one, in order."""
    notes: list[Sounding] = []
    tied: dict[int, int] = {}
    for bar, start in zip(bars, _starts(bars), strict=False):
        for note in sorted(bar.voices, key=lambda each: (each.offset, each.pitch)):
            at, end = start + note.offset, start + min(note.offset + note.length, bar.length)
            if end <= at:
                continue
            before = tied.pop(note.pitch, None)
            if before is not None and notes[before].end == at:
                notes[before] = replace(notes[before], end=end)
            else:
                before = len(notes)
                notes.append(Sounding(at, end, note.pitch, note.spelling))
            if note.ties:
                tied[note.pitch] = before
    return notes


def _slices(bars: Sequence[SheetBar]) -> list[Slice]:
    notes = _notes(bars)
    cuts = sorted({note.start for note in notes} | {note.end for note in notes})
    how = _ways(notes)
    found: list[Slice] = []
    begin = 0
    starts = _starts(bars)
    place = 0
    ordered = sorted(range(len(notes)), key=lambda index: notes[index].start)
    active: list[int] = []
    for start, end in pairwise(cuts):
        while begin < len(ordered) and notes[ordered[begin]].start <= start:
            active.append(ordered[begin])
            begin += 1
        active = [index for index in active if notes[index].end > start]
        while place + 1 < len(bars) and starts[place + 1] <= start:
            place += 1
        if active:
            sounding = tuple((notes[index], how[index]) for index in active)
            found.append(Slice(start, end, sounding, _price(start - starts[place], bars[place])))
    return found


def _ways(notes: Sequence[Sounding]) -> list[str]:
    """How each note is reached and left."""
    ending: dict[Fraction, list[Sounding]] = {}
    starting: dict[Fraction, list[Sounding]] = {}
    for note in notes:
        ending.setdefault(note.end, []).append(note)
        starting.setdefault(note.start, []).append(note)
    ways = []
    for note in notes:
        before = [note.pitch - other.pitch for other in ending.get(note.start, ())]
        after = [other.pitch - note.pitch for other in starting.get(note.end, ())]
        falls = any(-2 <= step < 0 for step in after)
        reached = any(0 < abs(step) <= 2 for step in before)
        if falls and (0 in before or note.end - note.start > 1):
            ways.append("suspended")
        elif reached and any(0 < abs(step) <= 2 for step in after):
            ways.append("stepwise")
        else:
            ways.append("")
    return ways


def _price(offset: Fraction, bar: SheetBar) -> float:
    meter: Meter = bar.meter
    # A short bar at the beginning counts as the end of a whole one.
    beat = (offset + (meter.bar_length - bar.length if bar.length < meter.bar_length else 0)) / meter.counted_beat
    if beat.denominator != 1:
        return 2.0
    strong = beat == 0 or (meter.counted_beats % 2 == 0 and beat % 2 == 0)
    return 0.0 if strong else 1.0


def _scores(each: Slice, key: Key, weights: Weights) -> dict[Candidate, float]:
    """What speaks for each chord in a slice."""
    length = float(each.end - each.start)
    lowest = min(note.pitch for note, _ in each.notes) % 12
    present = {note.pitch % 12 for note, _ in each.notes}
    against = {"": weights.outside, "stepwise": weights.stepwise, "suspended": weights.suspended}
    scale = _scale(key)
    found = {}
    gain = [0.0] * 12
    """What it brings that a chord has a tone: its notes count for it and no longer against it."""
    lost = 0.0
    for note, how in each.notes:
        gain[note.pitch % 12] += 1.0 + against[how]
        lost -= against[how]
    for candidate in CANDIDATES:
        root, quality = candidate
        tones = _TONES[candidate]
        total = lost + sum(gain[tone] for tone in tones)
        total += weights.root * (root in present) + weights.bass * (root == lowest)
        template = _TEMPLATES[quality]
        total += weights.third * ((root + template[1]) % 12 in present)
        total += weights.fifth_below * ((root + template[2]) % 12 == lowest)
        total += weights.seventh * (len(template) == 4)
        total += weights.dim * (template[2] != 7)
        total += weights.in_key * (tones <= scale)
        found[candidate] = total * length
    return found


def _scale(key: Key) -> frozenset[int]:
    """The tones of a key; of a minor key also its raised seventh."""
    steps = (0, 2, 3, 5, 7, 8, 10, 11) if key.minor else (0, 2, 4, 5, 7, 9, 11)
    return frozenset((key.tonic.pitch_class + step) % 12 for step in steps)


def _cheapest(slices: Sequence[Slice], scores: Sequence[dict[Candidate, float]], weights: Weights) -> list[Candidate]:
    """The best chord for each slice, the prices of changes paid."""
    best = dict(scores[0])
    came: list[dict[Candidate, Candidate]] = []
    for each, score in zip(slices[1:], scores[1:], strict=True):
        price = weights.change + weights.weak * (each.price == 1) + (weights.off_beat if each.price == 2 else 0)
        leader = max(best, key=best.__getitem__)
        from_where: dict[Candidate, Candidate] = {}
        now: dict[Candidate, float] = {}
        for candidate in CANDIDATES:
            stay, move = best[candidate], best[leader] - price
            from_where[candidate] = candidate if stay >= move else leader
            now[candidate] = max(stay, move) + score[candidate]
        came.append(from_where)
        best = now
    path = [max(best, key=best.__getitem__)]
    for from_where in reversed(came):
        path.append(from_where[path[-1]])
    return path[::-1]


class _Speller:
    """Spells chords as the page spells their notes."""

    def __init__(self, bars: Sequence[SheetBar], key: Key) -> None:
        self.key = key
        self.notes = _notes(bars)

    def chord(self, found: Found) -> Chord:
        root_class, quality = found.candidate
        root = self._spelling(root_class, found)
        plain = Chord(root, quality)
        bass_class = found.bass % 12
        if bass_class == root_class:
            return plain
        tone = next((tone.spelling for tone in plain.tones if tone.spelling.pitch_class == bass_class), None)
        return plain if tone is None else Chord(root, quality, (), tone)

    def _spelling(self, pitch_class: int, found: Found) -> Spelling:
        near = self._written(pitch_class, found)
        return next(near, simplest(pitch_class, sharps=self.key.sharps))

    def _written(self, pitch_class: int, found: Found) -> Iterator[Spelling]:
        for note in self.notes:
            if note.start < found.end and note.end > found.start and note.pitch % 12 == pitch_class:
                yield note.spelling
