"""Listening to the tune: what a note of the right hand says of the place and of the beat.

Its pitch speaks for the chords that it fits and, where the chart has the tune, for the place where it is written. Its time
speaks for the place of the note that it is, or else for the nearest division of the beat. Each hypothesis about the player's
place is weighed by every note; the latest notes are kept, so that a jump which a foot shows only later is weighed by what the
tune has said since the player landed.

A note that is not where it should be may be a slip, or the player is out of time: a hypothesis that is, begins there.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from liveassist.band.expecting import Expecting
from liveassist.band.hypothesis import KEPT, Hypothesis, by_clock
from liveassist.band.plan import Plan
from liveassist.band.pulse import Pulse
from liveassist.band.written_tune import SAME_PLACE, Note, WrittenTune

CHORD_SAYS = 0.5
"""What a note says about the chord counts so much, as an exponent: neighbouring notes say the same again."""
TRUST, SCATTER = 0.8, 0.030
"""How far the pulse follows a note of the tune, and the SD of such notes around their place in the beat, in seconds."""
NEAR_DIVISION = (1.5, 0.35)
"""A note further from its division than both, in standard deviations and in divisions, says nothing of time."""
NEAR_WRITTEN = (4.0, 0.1)
"""A note is as written within the larger of both, in standard deviations and in quarter notes."""
OUT_OF_TIME, HOW_FAR = 0.003, 1.6
"""How likely a note that is not where it should be begins another time, and by how many counted beats at most."""
SOUNDS_WITH = 0.1
"""A note belongs to a foot that comes so much later, in seconds."""
KEPT_NOTES = 16
"""So many notes are remembered."""
BEFORE_FIRST = 6.0
"""At the first foot, notes of so many seconds before are remembered."""
BEYOND_DOUBT = 0.9
"""The hand's habits are learned from a place that is believed so much."""


@dataclass(frozen=True, slots=True)
class Sung:
    """A note was where the written tune has it, by the likeliest hypothesis."""

    change: int
    """The change in whose time it stands."""
    count: float
    """The count of that change."""
    into: float
    """Quarter notes from there to the note."""
    until: float
    """Quarter notes from there to its written end."""
    pulse: Pulse
    sure: float
    """Belief in the place, 0 to 1."""

    @property
    def opens(self) -> bool:
        """Whether its change begins with it."""
        return abs(self.into) < SAME_PLACE


class TuneListening:
    """What the tune says of one route. ``lifted`` tells by how many semitones nods have lifted a change."""

    def __init__(self, plan: Plan, expects: Expecting, tune: WrittenTune, lifted: Callable[[int], int]) -> None:
        self.plan, self.route = plan, plan.route
        self._expects, self._tune, self._lifted = expects, tune, lifted
        self._latest: deque[tuple[float, int, float]] = deque(maxlen=KEPT_NOTES)
        """(seconds, key, how likely the note was by all that was believed) of the latest notes."""

    # -- a note --------------------------------------------------------------------------------------------------------

    def before_start(self, key: int, at: float) -> None:
        """A note was heard before the first foot."""
        self._latest.append((at, key, 1.0))

    def since(self, at: float) -> list[int]:
        """The keys heard from a time on."""
        return [key for heard, key, _ in self._latest if heard >= at]

    def weighed(
        self, hypotheses: Sequence[Hypothesis], key: int, at: float
    ) -> tuple[tuple[Hypothesis, ...], Sung | None]:
        """The hypotheses after a note, the likeliest first; and where it is written, if it is.

        Args:
            hypotheses: the likeliest first; there is one.
            key: MIDI key number.
            at: seconds.
        """
        before = hypotheses[0]
        heard: list[tuple[Hypothesis, Note | None]] = []
        for item in hypotheses:
            fit, pulse, note = self._fit(item, key, at)
            heard.append((replace(item, weight=item.weight * fit, pulse=pulse), note))
        likeliest, note = max(heard, key=lambda pair: pair[0].weight)
        grown = [item for item, _ in heard]
        if note is None:
            grown += self._out_of_time(before, key, at)
        if before.weight >= BEYOND_DOUBT:
            self._learn(before, heard[0][1], key, at)
        grown = sorted(grown, key=lambda item: (-item.weight, item.change))[:KEPT]
        total = sum(item.weight for item in grown) or 1.0
        self._latest.append((at, key, total))
        after = tuple(item.weighing(item.weight / total) for item in grown)
        if note is None:
            return after, None
        written = self._expects.written
        sure = sum(item.weight for item in after if written[item.change] == written[likeliest.change])
        return after, self._sung(likeliest, note, at, min(1.0, sure))

    def _fit(self, item: Hypothesis, key: int, at: float) -> tuple[float, Pulse, Note | None]:
        """How well a note fits a hypothesis, the pulse after it, and where it is written."""
        change, count, start = self._where(item, at)
        pulse = item.pulse
        by_chord = self._by_chord(change, key)
        place = start + pulse.count_at(at) - count
        if not self._tune.covers(place):
            return by_chord, self._near_division(pulse, change, count, at), None
        note = self._tune.nearest(place, key - self._lifted(change), _near_written(pulse, at))
        if note is not None:
            pulse = pulse.corrected(count + note.start - start, at, trust=TRUST, scatter=SCATTER)
        return self._tune.likely(note, by_chord), pulse, note

    def _where(self, item: Hypothesis, at: float) -> tuple[int, float, float]:
        """By the clock: the change that sounds at a time, its count, and its place in the route in quarter notes."""
        change, count = by_clock(self.plan, item, at)
        return change, count, float(self.route.changes[change].position)

    def _by_chord(self, change: int, key: int) -> float:
        return float(self._expects.tune[change][(key - self._lifted(change)) % 12] ** CHORD_SAYS)

    def _near_division(self, pulse: Pulse, change: int, count: float, at: float) -> Pulse:
        """The pulse after a note that is not written, where the division that it means is beyond doubt."""
        division = self._expects.divisions[change]
        nearest = count + division * round((pulse.count_at(at) - count) / division)
        spread = pulse.spread(nearest)
        seconds = division * pulse.period
        near = max(NEAR_DIVISION[0] * spread, NEAR_DIVISION[1] * seconds)
        if seconds < 4.0 * spread or abs(at - pulse.time_of(nearest)) > near:
            return pulse
        return pulse.corrected(nearest, at, trust=TRUST, scatter=SCATTER)

    def _out_of_time(self, item: Hypothesis, key: int, at: float) -> Iterator[Hypothesis]:
        """The note is one of its pitch before or after: the place is right, the time is not."""
        change, count, start = self._where(item, at)
        pulse = item.pulse
        here = start + pulse.count_at(at) - count
        if pulse.steady or pulse.followed or not self._tune.covers(here):
            return
        for note in self._tune.around(here, key - self._lifted(change), HOW_FAR * pulse.beat):
            weight = item.weight * OUT_OF_TIME * self._tune.likely(note, 1.0)
            moved = pulse.restarted(count + note.start - start, at)
            yield replace(item, pulse=moved, weight=weight, out_of_time=True)

    def _learn(self, item: Hypothesis, note: Note | None, key: int, at: float) -> None:
        change, count, start = self._where(item, at)
        if self._tune.covers(start + item.pulse.count_at(at) - count):
            self._tune.learn(note, self._by_chord(change, key))

    def _sung(self, item: Hypothesis, note: Note, at: float, sure: float) -> Sung | None:
        """A note that is as written, told from the change in whose time it stands; None where nods lead elsewhere before it."""
        change, count, start = self._where(item, at)
        following = self.plan.next_change(change)
        if following is not None and note.start >= start + following[1] - SAME_PLACE:
            if following[0] != change + 1:
                return None
            change, count, start = following[0], count + following[1], start + following[1]
        if note.start < start - SAME_PLACE:
            return None
        return Sung(change, count, note.start - start, note.end - start, item.pulse, sure)

    # -- notes that were heard before ----------------------------------------------------------------------------------

    def after_landing(self, item: Hypothesis, at: float) -> Hypothesis:
        """A jump that a foot has shown, weighed by what the tune has said since the player landed."""
        landed = item.pulse.time_of(item.count) - SOUNDS_WITH
        weight = item.weight
        for heard, key, likely in reversed(self._latest):
            if heard < landed:
                break
            if heard <= at:
                weight *= self._fit(item, key, heard)[0] / likely
        return item if weight == item.weight else item.weighing(weight)

    def after_silence(self, item: Hypothesis, first: int, at: float) -> Hypothesis:
        """A place where the player may begin, weighed by what the tune has said before its foot, if it began as the song does.

        Args:
            item: the place.
            first: the change at which the song begins.
            at: when the foot came.
        """
        pulse, weight = item.pulse, item.weight
        start, begins = (float(self.route.changes[change].position) for change in (item.change, first))
        for heard, key, _ in self._latest:
            place = start + pulse.count_at(heard) - item.count
            within = _near_written(pulse, heard)
            if at - heard > BEFORE_FIRST or place < begins - within or not self._tune.covers(max(place, begins)):
                continue
            note = self._tune.nearest(place, key - self._lifted(item.change), within)
            if weight == item.weight and (note is None or note.start > begins + SAME_PLACE):
                return item
            weight *= self._tune.likely(note, 1.0)
        return item.weighing(weight)

    # -- how a change begins -------------------------------------------------------------------------------------------

    def opening(self, change: int, key: int) -> dict[int, float]:
        """Which of the first two notes that the written tune has from a change on, within a bar's length, a key may be: by
        number (0 or 1), how far into the change it begins in quarter notes."""
        here = self.route.changes[change]
        start = float(here.position)
        lifted = key - self._lifted(change)
        notes = self._tune.first_two(start, start + float(self.route.bars[here.bar].length))
        return {
            index: place - start for index, (place, written) in enumerate(notes) if lifted - written in (-12, 0, 12)
        }

    def begin_alike(self, one: int, other: int) -> bool:
        """Whether a note that opens a change could open another, too: the tune begins alike there, or is not written."""
        pitches = []
        for change in (one, other):
            start = float(self.route.changes[change].position)
            notes = self._tune.first_two(start, start + SAME_PLACE + SAME_PLACE)
            pitches.append(notes[0][1] % 12 if notes else None)
        if pitches[1] is None:
            return pitches[0] in self.route.changes[other].chord.pitch_classes
        return pitches[0] == pitches[1]


def _near_written(pulse: Pulse, at: float) -> float:
    """How far from its written place a note that is heard at a time may be, in quarter notes."""
    return max(NEAR_WRITTEN[0] * pulse.spread(pulse.count_at(at)) / pulse.period, NEAR_WRITTEN[1])
