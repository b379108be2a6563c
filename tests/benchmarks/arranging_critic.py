"""A critic of left hands who knows nothing of how they are made.

It reads the notes of an arrangement and the route, and has rules of its own: key numbers and lengths of time by hand, chord
tones from music21 wherever music21 knows the symbol (else from the chart's table). It judges what sounds together, not what is
struck together. Each rule that is broken is told with its name and its place.

Sources of the rules. Range: E below middle C to the A above it, and where a tune is in the way D to C (our own choice). Span: a
ninth. Low interval limits: the glossary of sweetwater.com, its tritone taken as B2, and the pedal's sounding notes, the key
in its lowest octave and the octave below (16' and 8' drawn). The gap: a tenth of the reverberation time, in which the level
falls by 6 dB, 50 ms to 400 ms, at most half of the time between the attacks. Doubling, and what must sound: common
practice, no source.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from itertools import combinations, pairwise

from charts.chart import BREAK, BREATH, HOLD, RIT, TACET
from charts.chord import Chord
from charts.melody import MelodyNote
from charts.qualities import SPELLINGS
from charts.route import RouteBar, RouteChange
from liveassist.arranging.arrangement import Arrangement, Note
from liveassist.arranging.feels import feel_for

LEFT = "left to the tune"
RULES = (
    "range",
    "span",
    "low interval",
    "key overlap",
    "re-attack gap",
    "on the tune",
    "wrong pitch class",
    "doubled",
    "blurred",
    "no third",
    "no seventh",
    "one attack",
    LEFT,
)
"""The last one is no fault: the tune itself sounds the third or seventh, on the key that the hand would have for it."""
CORE, OUTER, NINTH = (52, 69), (50, 72), 14
LIMITS = {1: 52, 2: 51, 3: 48, 4: 47, 5: 45, 6: 47, 7: 37, 8: 41, 9: 41, 10: 41, 11: 41}
"""Lowest allowed lower note for each interval in semitones."""
NOT_SYMBOLS = {"Neapolitan", "Italian", "French", "German", "Tristan", "pedal", "diminished-minor-ninth"}
"""Kinds of music21 that are no chord symbol, or read otherwise here."""
SLACK = 1e-9
Held = tuple[float, float, int]
"""Start, end and key of a note of the tune."""


@dataclass(frozen=True)
class Fault:
    """A rule that is broken."""

    rule: str
    fullness: int
    told: str


@cache
def kinds() -> dict[str, str]:
    """Our qualities to the kinds of music21."""
    from music21 import harmony

    return {
        SPELLINGS[spelling]: kind
        for kind, (_, spellings) in harmony.CHORD_TYPES.items()
        for spelling in spellings
        if kind not in NOT_SYMBOLS and spelling in SPELLINGS
    }


@cache
def tones_of(chord: Chord) -> tuple[frozenset[int], bool]:
    """The pitch classes of a chord without a foreign bass, and whether they are music21's."""
    from music21 import harmony

    assert chord.root is not None
    if chord.quality in kinds() and not chord.alterations:
        root = chord.root.name.replace("b", "-")
        theirs = harmony.ChordSymbol(root=root, kind=kinds()[chord.quality])
        return frozenset(pitch.pitchClass for pitch in theirs.pitches), True
    return frozenset((chord.root.pitch_class + tone.semitones) % 12 for tone in chord.tones), False


def wanted(chord: Chord) -> tuple[set[int], set[int]]:
    """The third or what is suspended in its place, and the seventh, as pitch classes; empty where the symbol has none."""
    assert chord.root is not None
    by_degree = {tone.degree: (chord.root.pitch_class + tone.semitones) % 12 for tone in chord.tones}
    third = [by_degree[degree] for degree in (3, 4, 2, 11) if degree in by_degree][:1]
    if 3 not in by_degree and 11 in by_degree and 7 not in by_degree and not {2, 4} & by_degree.keys():
        third = []  # an eleventh without a seventh is added, not suspended
    return set(third), {by_degree[7]} if 7 in by_degree else set()


class Critic:
    """Judges one arrangement."""

    def __init__(
        self,
        arrangement: Arrangement,
        tune: Sequence[MelodyNote] = (),
        *,
        room: float = 1.8,
        span: int = NINTH,
        coupled: bool = False,
    ) -> None:
        self.arrangement, self.route, self.lift = arrangement, arrangement.route, arrangement.lift
        self.room, self.span, self.coupled = room, span, coupled
        self.tune: list[Held] = [(float(note.position), float(note.end), note.pitch + self.lift) for note in tune]
        self.by_music21 = Counter[bool]()
        """Keys judged by the chord tones of music21 (True), and by the chart's table."""
        self._places: dict[int, list[Held]] = defaultdict(list)
        """The tune in stretches of eight quarter notes."""
        for held in self.tune:
            for place in range(int(held[0]) // 8, int(held[1]) // 8 + 1):
                self._places[place].append(held)

    def faults(self) -> Iterator[Fault]:
        for fullness, notes in self.arrangement.levels.items():
            for rules in (self._keys, self._together, self._again, self._over_the_tune, self._changes, self._bars):
                yield from (Fault(rule, fullness, told) for rule, told in rules(fullness, notes))

    # -- each key by itself -------------------------------------------------------------------------------------------

    def _keys(self, _: int, notes: Sequence[Note]) -> Iterator[tuple[str, str]]:
        for note in notes:
            change = self.route.changes[note.change]
            low, high = OUTER if self._tune_in(float(change.position), float(change.end)) else CORE
            if not low <= note.pitch <= high:
                yield "range", f"key {note.pitch} at {note.position}"
            assert change.chord.root is not None, "a key sounds in N.C."
            allowed, known = tones_of(change.chord)
            self.by_music21[known] += 1
            if (note.pitch - self.lift) % 12 not in allowed:
                yield "wrong pitch class", f"key {note.pitch} at {note.position} in {change.chord.symbol}"

    # -- what sounds together -----------------------------------------------------------------------------------------

    def _together(self, _: int, notes: Sequence[Note]) -> Iterator[tuple[str, str]]:
        sounding: list[tuple[float, int]] = []
        for number, note in enumerate(notes):
            start = float(note.position)
            sounding = [(end, key) for end, key in sounding if end > start + SLACK]
            sounding.append((start + float(note.length), note.pitch))
            if number + 1 < len(notes) and notes[number + 1].position == note.position:
                continue
            keys = sorted({key for _, key in sounding})
            change = self.route.changes[note.change]
            told = f"{keys} at {note.position} in {change.chord.symbol}"
            if keys[-1] - keys[0] > self.span:
                yield "span", told
            pairs = [*combinations(keys, 2), *((below, key) for below in self._pedal(change) for key in keys)]
            if any(low < LIMITS.get(high - low, 0) for low, high in pairs):
                yield "low interval", told
            for each in self._single(change):
                if sum((key - self.lift - each) % 12 == 0 for key in keys) > 1:
                    yield "doubled", told

    def _pedal(self, change: RouteChange) -> tuple[int, ...]:
        """What the feet sound with 16' and 8' drawn."""
        bar = self.route.bars[change.bar]
        if change.bass is None or bar.manuals_only:
            return ()
        key = 36 + (change.bass + self.lift) % 12
        return key, key - 12

    def _single(self, change: RouteChange) -> set[int]:
        """The seventh and the key's leading tone."""
        leading = (self.route.bars[change.bar].key.tonic.pitch_class - 1) % 12
        return {leading} | wanted(change.chord)[1]

    # -- a key struck again -------------------------------------------------------------------------------------------

    def _again(self, _: int, notes: Sequence[Note]) -> Iterator[tuple[str, str]]:
        before: dict[int, Note] = {}
        for note in notes:
            last = before.get(note.pitch)
            before[note.pitch] = note
            if last is None:
                continue
            silence = float(note.position - last.position - last.length)
            if silence < -SLACK:
                yield "key overlap", f"key {note.pitch} at {last.position}"
            bpm = self.route.bar_at(last.position).quarter_bpm
            least = min(max(0.050, self.room / 10), 0.4) * bpm / 60
            if silence < min(least, float(note.position - last.position) / 2) - SLACK:
                yield "re-attack gap", f"key {note.pitch} at {last.position}"

    # -- the tune -----------------------------------------------------------------------------------------------------

    def _tune_in(self, start: float, end: float) -> list[Held]:
        """The notes of the tune that sound between two moments."""
        near = [note for place in range(int(start) // 8, int(end) // 8 + 1) for note in self._places.get(place, ())]
        return [note for note in near if note[0] < end - SLACK and note[1] > start + SLACK]

    def _over_the_tune(self, _: int, notes: Sequence[Note]) -> Iterator[tuple[str, str]]:
        for note in notes:
            start = float(note.position)
            for begin, _end, key in self._tune_in(start, start + float(note.length)):
                if key == note.pitch or (self.coupled and note.pitch > key):
                    yield "on the tune", f"key {note.pitch} at {note.position}, the tune has {key} at {begin:g}"

    # -- each change --------------------------------------------------------------------------------------------------

    def _changes(self, fullness: int, notes: Sequence[Note]) -> Iterator[tuple[str, str]]:
        sounding: dict[int, set[int]] = defaultdict(set)
        starts: dict[int, Fraction] = {}
        for note in notes:
            sounding[note.change].add((note.pitch - self.lift) % 12)
            starts.setdefault(note.change, note.position)
        for note in notes:
            following = note.change + 1
            end = self.route.changes[note.change].end
            if following in starts:
                end = min(end, starts[following])
            if note.position + note.length > end:
                yield "blurred", f"key {note.pitch} at {note.position}"
        for change in self.route.changes:
            bar = self.route.bars[change.bar]
            silent = change.root is None or TACET in change.marks or bar.out
            if silent or fullness + bar.fullness < 2 or change.length < bar.meter.counted_beat:
                continue
            third, seventh = wanted(change.chord)
            told = f"change {change.index}, {change.chord.symbol}, has {sorted(sounding[change.index])}"
            tune = {(key - self.lift) % 12 for _, _, key in self._tune_in(float(change.position), float(change.end))}
            for rule, tones in (("no third", third), ("no seventh", seventh)):
                if tones - sounding[change.index]:
                    yield LEFT if tones <= tune else rule, told

    # -- each bar -----------------------------------------------------------------------------------------------------

    def _bars(self, fullness: int, notes: Sequence[Note]) -> Iterator[tuple[str, str]]:
        attacks: dict[int, set[object]] = defaultdict(set)
        for note in notes:
            attacks[self.route.bar_at(note.position).index].add(note.position)
        slowing = self._slowing()
        for bar in self.route.bars:
            feel = feel_for(bar.feel or self.route.chart.feel, bar.meter)
            marked = {mark for change in self._in(bar) for mark in change.marks} & {HOLD, BREAK, TACET, BREATH}
            silent = bar.out or any(change.root is None for change in self._in(bar))
            spared = feel.held or marked or silent or bar.rit or bar.index in slowing or bar.number == 0
            if spared or fullness + bar.fullness < 2 or bar.meter.counted_beats < 2:
                continue
            if len(attacks[bar.index]) < 2:
                yield "one attack", f"{bar.section}, bar {bar.number} (bar {bar.index} of the route), {feel.name}"

    def _in(self, bar: RouteBar) -> list[RouteChange]:
        """The changes that sound in a bar."""
        found = {self.route.change_at(bar.position).index, *bar.changes}
        return [self.route.changes[index] for index in sorted(found)]

    def _slowing(self) -> set[int]:
        """Bars of a step in which a ritard is written."""
        steps = {self.route.bars[change.bar].step for change in self.route.changes if RIT in change.marks}
        return {bar.index for bar in self.route.bars if bar.step in steps}


def leaps(chain: Sequence[tuple[int, ...]]) -> Iterator[int]:
    """How far each voice goes at each change, in semitones: voices in order, where their number changes the nearest."""
    for before, after in pairwise([chord for chord in chain if chord]):
        few, many = sorted((before, after), key=len)
        if len(few) == len(many):
            yield from (abs(one - other) for one, other in zip(few, many, strict=True))
        else:
            yield from (min(abs(key - other) for other in few) for key in many)
