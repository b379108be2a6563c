"""Routes for the rehearsals of the left hand, and a critic who finds what no left hand may do."""

from __future__ import annotations

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterator, Sequence
from fractions import Fraction
from operator import attrgetter

from charts.chart import BREAK, BREATH, HOLD, PUSH, TACET
from charts.melody import melody
from charts.notation import read_chart
from charts.roadmap import unfold
from charts.route import Route, RouteBar, RouteChange
from liveassist.arranging.arrangement import Arrangement, Note
from liveassist.arranging.feels import feel_for
from liveassist.arranging.low_intervals import too_low

LOWEST, HIGHEST, SPAN = 52, 69, 14
OUTER_LOWEST, OUTER_HIGHEST = 50, 72
"""Where a tune is in the way."""


def route_of(text: str) -> Route:
    return unfold(read_chart(text))


def song(*bars: str, feel: str = "", meter: str = "4/4", key: str = "C", tempo: str = "92", header: str = "") -> Route:
    """One section of bars: ``song("D", "G A")``."""
    lines = [f"title = Song\nkey = {key}\nmeter = {meter}\ntempo = {tempo}"]
    lines += [f"feel = {feel}"] if feel else []
    lines += [header] if header else []
    return route_of("\n".join(lines) + "\n\n== Verse ==\n| " + " | ".join(bars) + " |\n")


def onsets(arrangement: Arrangement, fullness: int = 2) -> list[Fraction]:
    return list(arrangement.attacks[fullness])


def notes_in(arrangement: Arrangement, bar: RouteBar, fullness: int = 2) -> list[Note]:
    notes = arrangement.levels[fullness]  # in order of their places: whatever is out of order is a fault of its own
    first, last = (bisect_left(notes, place, key=attrgetter("position")) for place in (bar.position, bar.end))
    return list(notes[first:last])


def essentials(change: RouteChange, lift: int = 0) -> set[int]:
    """The third or what is suspended in its place, and the seventh (or sixth), as pitch classes."""
    tones = {tone.degree: tone for tone in change.chord.tones}
    third = [tones[degree] for degree in (3, 4, 2) if degree in tones][:1]
    seventh = [tones[degree] for degree in (7, 6) if degree in tones][:1]
    return {(change.root or 0) + tone.semitones + lift for tone in third + seventh}


def faults(arrangement: Arrangement, *, room: float = 1.8, tempo: float = 0.0, feel: str = "") -> list[str]:
    """Everything that no left hand may do, at every fullness, told in words."""
    found: list[str] = []
    for fullness in arrangement.levels:
        for fault in _faults(arrangement, fullness, room, tempo, feel):
            found.append(f"fullness {fullness}: {fault}")
    return found


def _faults(arrangement: Arrangement, fullness: int, room: float, tempo: float, feel: str) -> Iterator[str]:
    notes = arrangement.levels[fullness]
    if list(notes) != sorted(notes, key=lambda note: (note.position, note.pitch)):
        yield "the notes are not in order of position and pitch"
    yield from _wrong_keys(arrangement, notes)
    yield from _wrong_chords(arrangement, fullness)
    yield from _blurred(arrangement.route, notes)
    yield from _stuck(arrangement.route, notes, room, tempo)
    yield from _missing(arrangement, fullness)
    yield from _bare_bars(arrangement, fullness, feel)


def _wrong_keys(arrangement: Arrangement, notes: Sequence[Note]) -> Iterator[str]:
    lowest, highest = (LOWEST, HIGHEST) if not melody(arrangement.route) else (OUTER_LOWEST, OUTER_HIGHEST)
    for note in notes:
        change = arrangement.route.changes[note.change]
        allowed = {((change.root or 0) + tone.semitones + arrangement.lift) % 12 for tone in change.chord.tones}
        if not lowest <= note.pitch <= highest:
            yield f"key {note.pitch} at {note.position} lies outside the range"
        if note.pitch % 12 not in allowed:
            yield f"key {note.pitch} at {note.position} is no tone of {change.chord.symbol}"
        if note.length <= 0:
            yield f"key {note.pitch} at {note.position} has no length"


def _wrong_chords(arrangement: Arrangement, fullness: int) -> Iterator[str]:
    together: dict[Fraction, list[int]] = defaultdict(list)
    for note in arrangement.levels[fullness]:
        together[note.position].append(note.pitch)
    for where, pitches in [*together.items(), *enumerate(arrangement.voicings[fullness])]:
        if pitches and max(pitches) - min(pitches) > SPAN:
            yield f"{pitches} at {where} is wider than a ninth"
        if len(set(pitches)) != len(pitches) or len(pitches) > 5:
            yield f"{pitches} at {where} is no chord for five fingers"
        if too_low(sorted(pitches)):
            yield f"{pitches} at {where} lies too low for its intervals"
    for change, voicing in zip(arrangement.route.changes, arrangement.voicings[fullness], strict=True):
        sevenths = {(change.root or 0) + tone.semitones for tone in change.chord.tones if tone.degree == 7}
        leading = arrangement.route.bars[change.bar].key.tonic.pitch_class - 1
        for each in {*sevenths, leading}:
            if sum((pitch - each - arrangement.lift) % 12 == 0 for pitch in voicing) > 1:
                yield f"{voicing} for {change.chord.symbol} doubles a seventh or the leading tone"


def _blurred(route: Route, notes: Sequence[Note]) -> Iterator[str]:
    first: dict[int, Fraction] = {}
    for note in notes:
        first.setdefault(note.change, note.position)
    for note in notes:
        change = route.changes[note.change]
        following = route.changes[note.change + 1] if note.change + 1 < len(route.changes) else None
        end = change.end
        if following is not None and PUSH in following.marks:
            end = min(end, first.get(following.index, end))
        if note.position + note.length > end:
            yield f"key {note.pitch} at {note.position} sounds into the next change"
        if note.position < change.position and PUSH not in change.marks:
            yield f"key {note.pitch} at {note.position} comes before its change"
        if route.bar_at(note.position).out:
            yield f"key {note.pitch} at {note.position} sounds in a bar that is out"


def _stuck(route: Route, notes: Sequence[Note], room: float, tempo: float) -> Iterator[str]:
    """A key comes up before it is struck again: half the time between, or 50 ms and a tenth of the reverberation."""
    first = route.bars[0]
    faster = tempo * float(first.meter.counted_beat) / first.quarter_bpm if tempo else 1.0
    down: dict[int, Note] = {}
    for note in notes:
        before = down.get(note.pitch)
        down[note.pitch] = note
        if before is None:
            continue
        bpm = route.bar_at(before.position).quarter_bpm * faster
        least = min(float(note.position - before.position) / 2, max(0.050, min(room / 10, 0.4)) * bpm / 60)
        if float(note.position - before.position - before.length) < least - 1e-9:
            yield f"key {note.pitch} at {before.position} is not up in time for {note.position}"


def _missing(arrangement: Arrangement, fullness: int) -> Iterator[str]:
    """From fullness 2 every change of a beat or longer sounds its third (or suspension) and its seventh."""
    sounding: dict[int, set[int]] = defaultdict(set)
    for note in arrangement.levels[fullness]:
        sounding[note.change].add(note.pitch % 12)
    for change in arrangement.route.changes:
        bar = arrangement.route.bars[change.bar]
        silent = change.root is None or TACET in change.marks or bar.out
        if silent and sounding[change.index]:
            yield f"change {change.index} sounds and should be silent"
        if silent or fullness + bar.fullness < 2 or change.length < bar.meter.counted_beat:
            continue
        wanted = {pitch % 12 for pitch in essentials(change, arrangement.lift)}
        if not sounding[change.index] or wanted - sounding[change.index]:
            yield f"change {change.index} ({change.chord.symbol}) lacks {wanted - sounding[change.index]}"


def _bare_bars(arrangement: Arrangement, fullness: int, feel: str) -> Iterator[str]:
    """From fullness 2 a bar has two attacks, whatever the room, except in held feels and where a mark asks for less."""
    route = arrangement.route
    for bar in route.bars:
        here = {route.change_at(bar.position).index, *bar.changes}
        changes = [route.changes[index] for index in here]
        marked = any(change.root is None or {TACET, BREAK, HOLD, BREATH} & set(change.marks) for change in changes)
        name = feel or bar.feel or route.chart.feel
        if bar.out or marked or fullness + bar.fullness < 2 or feel_for(name, bar.meter).held or bar.number == 0:
            continue
        attacks = {note.position for note in notes_in(arrangement, bar, fullness)}
        if len(attacks) < 2:
            yield f"bar {bar.index} has {len(attacks)} attacks"
