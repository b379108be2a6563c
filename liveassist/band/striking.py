"""Striking: what the band sounds on the way, the figure and the click.

The arrangement has the notes; the pulse says when. A cue, a late foot or a note of the tune corrects the pulse at once, and the
beats told with it; the figure does not lurch after it: no attack falls further than ``STEP`` from where it would follow evenly
on the one before, so a larger correction is worked off over several. Everything of the figure then lags (or leads) by the same
time, its ends and the changes that go by the clock with it. An attack that a foot places sounds with the foot.

An attack that a corrected pulse moves too far into the past is left out; a pushed chord is struck before its change, a held
one whose attack was skipped comes in on a beat, a vamp thins, and while the place is in doubt only notes sound that belong to
every likely chord.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from fractions import Fraction
from functools import partial

from charts.answer import ECHO, Answer
from charts.chart import TACET
from charts.route import RouteBar
from liveassist.arranging.answer import given_way, heavy, on_the_manual
from liveassist.arranging.arrangement import ANSWER, CLICK
from liveassist.band import clicking
from liveassist.band.answering import Heard
from liveassist.band.bandstand import Bandstand
from liveassist.band.click import BETWEEN, LENGTH, role_of
from liveassist.band.events import FIGURE_MANUAL, Action, BeatIs, NoteOn
from liveassist.band.pulse import Pulse
from liveassist.band.sounding import GAP, Start

TOO_LATE = 0.080
"""A note that a corrected pulse moves further than this into the past, or whose cue was delivered so late, is dropped, in
seconds. An end never is."""
STEP = 0.12
"""The largest step from one attack to the next in steady time, as a share of a counted beat: a change of tempo is noticed from
about 12 % on."""
RESTART = 0.8
"""A pulse that has moved by more than this share of a beat is begun anew, and no attack leans on an earlier one: two feet that
miss by 0.3 of a beat, one early and one late, still move it in steps."""
REST = 4
"""Nor does an attack after a silence of more counted beats than this."""
HELD_GAP = 0.25
"""A chord held by a rule and not by the arrangement ends so many quarter notes before the next."""
ON_THE_BEAT = Fraction(1, 8)
"""What the right hand plays within this share of a counted beat is meant for the beat."""
STOOD_STILL = 1.5
"""An echo of the right hand waits until it has been still for so many counted beats: a tune in quarters is moving."""
GRID = 960
"""Positions worked out from time are rounded to this share of a quarter note."""


class Striking(Bandstand):
    """The figure and the click."""

    def _next_attack(self) -> Fraction | None:
        return self.arrangement.next_attack(self.level(), self.cursor)

    # -- in even steps --------------------------------------------------------------------------------------------

    def lag(self, count: float) -> float:
        """How much later (negative: earlier) than the pulse the figure plays what stands at a count, in seconds."""
        if self.struck is None or (self.change is not None and self.reading.ritard[self.change]):
            return 0.0
        at, struck = self.struck
        beat = self.beat_seconds()
        off = at - self.pulse.time_of(struck)
        if abs(off) > RESTART * beat or count - struck > REST * self.pulse.beat:
            return 0.0
        return max(0.0, off - STEP * beat) + min(0.0, off + STEP * beat)

    def figure_time(self, position: Fraction) -> float:
        """When the figure plays a position by the pulse and the place as they are now."""
        return self.time_of(position) + self.lag(float(position) - self.offset)

    def correct(self, pulse: Pulse, offset: float) -> None:
        """The pulse and the place are corrected under a figure that goes on."""
        self.recount(self.offset - offset)
        self.pulse, self.offset = pulse, offset

    def recount(self, shift: float) -> None:
        """Counts go on from another number: what was struck keeps its place."""
        if self.struck is not None:
            self.struck = self.struck[0], self.struck[1] + shift
        self.sounding.shift(shift)
        self.answering.shift(shift)

    def _sound(self, starts: list[Start], at: float, count: float) -> list[Action]:
        """The figure strikes what stands at a count; where every key is still down, it is heard when the first has come up."""
        actions = self.sounding.start(starts, at)
        at_once = any(isinstance(action, NoteOn) for action in actions)
        if starts:
            self.struck = at if at_once else at + GAP, count
        return [*actions]

    # -- the figure -----------------------------------------------------------------------------------------------

    def skip_to(self, at: float) -> None:
        """Attacks before a time are left out."""
        place = self.position_at(at - self.lag(self.pulse.count_at(at)))
        self.cursor = max(self.cursor, Fraction(math.ceil(place * GRID - 1e-6), GRID))

    def _attack(self, at: float) -> list[Action]:
        """The figure's next attack."""
        position = self._next_attack()
        assert position is not None
        self.cursor = position + Fraction(1, GRID)
        if at - self.figure_time(position) > TOO_LATE:
            return []
        return self._strike(position, at)

    def _come_in(self, at: float) -> list[Action]:
        """The chord comes in on a beat, held to its end."""
        assert self.comes_in is not None
        position, self.comes_in = self.comes_in, None
        if self.silent_figure():
            return []
        ends = float(self.here.end) - self.offset - HELD_GAP
        count = float(position) - self.offset
        return self._sound([self._held(*key, position, ends) for key in self.without_attack(position)], at, count)

    def without_attack(self, position: Fraction) -> list[tuple[str, int]]:
        """(part, key) of what the chord being played holds and will not be struck any more, from a position on."""
        level, held = self.level(), self.arrangement.held(self.level(), self.here.index)
        following = {part: self.arrangement.next_of(part, level, position) for part in dict(held)}
        return [key for key in held if (at := following[key[0]]) is None or at >= self.here.end]

    def _strike(self, position: Fraction, at: float) -> list[Action]:
        """Start the notes written at a position."""
        if self.silent_figure() or self.thinned():
            return []
        starts = []
        count = float(position) - self.offset
        shared = self._shared(at)
        for note in self.arrangement.notes_at(self.level(), position):
            if note.change != self.change and not self._pushes(note.change):
                continue
            if note.change != self.change:
                self.pushed = note.change
            if shared is not None and (note.pitch - self.listening.lift) % 12 not in shared:
                continue
            length = float(note.length)
            ends = max(count + length, self.pulse.count_at(at) + length / 2)
            starts.append(Start(part=note.part, pitch=note.pitch, position=position, change=note.change, ends=ends))
        return self._sound(starts, at, count)

    def _shared(self, at: float) -> frozenset[int] | None:
        """The pitch classes to keep to while the place is in doubt: the figure thins to what every likely chord has, rather
        than play a wrong one. None where it is not, and where the place is not the feet's to tell."""
        if self.settings.place_lead != "feet" or self.loop is not None or self.change is None:
            return None
        return self.listening.shared(self.change, at)

    def _pushes(self, change: int) -> bool:
        """Whether an attack may come before its change: not round a vamp, and not before the cue that it waits for."""
        return self.change is not None and self.loop is None and not self.reading.wants_cue(self.change, change)

    def thinned(self) -> bool:
        """Whether a vamp on a missing cue has thinned to held chords: after a bar."""
        if self.loop is None:
            return False
        gone = float(self.loop.start) - self.offset - self.loop.since
        return gone >= float(self.route.bars[self.bar].meter.bar_length) - 1e-6

    def strike_held(self, at: float) -> list[Action]:
        """The chord of a vamp that has thinned, held through one time round."""
        assert self.loop is not None
        if self.silent_figure():
            return []
        ends = float(self.loop.end) - self.offset - HELD_GAP
        count = float(self.passed) - self.offset
        return self._sound([self._held(*key, self.passed, ends) for key in self._standing_keys()], at, count)

    def _standing_keys(self) -> tuple[tuple[str, int], ...]:
        """(part, key) of the chord being played, as held."""
        return self.arrangement.held(self.level(), self.here.index)

    def _held(self, part: str, pitch: int, position: Fraction, ends: float | None) -> Start:
        return Start(part=part, pitch=pitch, position=position, change=self.here.index, ends=ends)

    def hold(self, at: float) -> list[Action]:
        """The chord is held until it is let go; where it is between two attacks, it is struck again."""
        actions: list[Action] = []
        if self.change is not None and not self.silent_figure():
            up = [(part, pitch) for part, pitch in self._standing_keys() if not self.sounding.busy(part)]
            actions += self.sounding.start([self._held(*key, self.passed, None) for key in up], at)
        self.sounding.hold()
        self.answering.forget()
        return actions

    # -- answering the right hand -------------------------------------------------------------------------------------

    def answered_bar(self) -> Answer | None:
        """How the bar being played answers what the right hand plays; None where it does not, or a tune is written."""
        bar = self.route.bars[self.bar]
        return bar.answer if self.moving and self.reading.answers_live[bar.index] else None

    def answer_struck(self, key: int, at: float) -> list[Action]:
        """The right hand strikes a key: it will be answered, and an echo of what came before gives way."""
        answer, count = self.answered_bar(), self.pulse.count_at(at)
        if answer is None:
            self.answering.press(key, count, distance=None, key=key)
            return []
        distance = float(answer.distance(self.route.bars[self.bar].meter))
        self.answering.press(key, count, distance=distance, key=on_the_manual(key + 12 * answer.octaves))
        return [*self.sounding.end_all(self.now, part=ANSWER)] if answer.kind == ECHO else []

    def _answer(self, at: float) -> list[Action]:
        """What was played a distance ago comes back."""
        count = self.pulse.count_at(at)
        starts = [start for heard in self.answering.take(count) if (start := self._answer_to(heard, at)) is not None]
        return [*self.sounding.start(starts, at)]

    def _answer_to(self, heard: Heard, at: float) -> Start | None:
        answer, bar = self.answered_bar(), self.route.bars[self.bar]
        silent = self.silent_figure() or TACET in self.here.marks or self.change == len(self.route.changes) - 1
        if answer is None or silent or at - self.pulse.time_of(heard.due) > TOO_LATE:
            return None
        struck = self.answering.struck
        moving = struck is not None and heard.due - struck < STOOD_STILL * float(bar.meter.counted_beat)
        if answer.kind == ECHO and moving:
            return None
        position = Fraction(round((heard.due + self.offset) * GRID), GRID)
        sounding = frozenset((each + self.listening.lift) % 12 for each in self.here.chord.pitch_classes)
        shared, key = self._shared(at), heard.key
        if heavy(bar, _on_the_beat(bar, position), Fraction(heard.length)):
            key = given_way(key, sounding)
        doubtful = shared is not None and (key - self.listening.lift) % 12 not in shared
        if doubtful or key in self.keys.down[FIGURE_MANUAL]:
            return None
        return Start(part=ANSWER, pitch=key, position=position, change=self.here.index, ends=heard.due + heard.length)

    # -- beats and ends ---------------------------------------------------------------------------------------------

    def _beat(self, at: float) -> list[Action]:
        """A counted beat falls."""
        assert self.beat_next is not None
        position = self.beat_next
        self.beat_next = position + self.route.bars[self.bar].meter.counted_beat
        return self._tell_beat(position, self.route.bars[self.bar], at)

    def is_told(self, position: Fraction, due: float) -> bool:
        """Whether a beat has been told: what is due within half a beat of the latest is the same, unless it is the next."""
        at, told = self.beat_told
        following = told is not None and position == told + self.route.bars[self.bar].meter.counted_beat
        since = (due - at) / self.beat_seconds()
        return (since < 0.5 and not following) or (since < 1.0 and position == told)

    def beat_from(self, position: Fraction) -> Fraction:
        """The beat of the bar being played that is to be told next, from a position on; the bar's end where there is none."""
        bar = self.route.bars[self.bar]
        beats = [beat for beat in self.route.beats(bar) if beat >= position]
        if beats and self.is_told(beats[0], self.time_of(beats[0])):
            beats = beats[1:]
        return beats[0] if beats else bar.end

    def _tell_beat(self, position: Fraction, bar: RouteBar, at: float) -> list[Action]:
        """A beat is told, and clicked where a click is asked for."""
        self.beat_told = at, None if self.loop else position
        actions: list[Action] = [BeatIs(at=at, position=position)]
        if at - self.beat_clicked >= clicking.SAME * self.beat_seconds():
            role = role_of(bar.beat_at(position), accent=self.settings.click_accent)
            if clicking.falls(self, bar, bar.beat_at(position)):
                actions += self.click(role, at, position)
        return actions

    def click(self, role: str, at: float, position: Fraction) -> list[Action]:
        """A click, where one is asked for."""
        if not clicking.clicks(self):
            return []
        self.clicked = at
        if role != BETWEEN:
            self.beat_clicked = at
        ends, pitch = self.pulse.count_at(at) + LENGTH, clicking.key_of(self, role)
        return [*self.sounding.start([Start(part=CLICK, pitch=pitch, position=position, change=-1, ends=ends)], at)]

    def _count(self, at: float) -> list[Action]:
        _, role = self.count_in.pop(0)
        return self.click(role, at, self.passed)

    def next_ends(self) -> Iterator[tuple[float, Callable[[float], list[Action]]]]:
        """When something of each part ends next. Ends move with the attacks."""
        for part in self.sounding.parts:
            end = self.sounding.next_end(part)
            if end is not None:
                lag = 0.0 if part == CLICK else self.lag(end)
                yield self.pulse.time_of(end) + lag, partial(self._end_due, part, end)

    def _end_due(self, part: str, end: float, at: float) -> list[Action]:
        return [*self.sounding.end_due(end, at, part)]

    def _start_waiting(self, at: float) -> list[Action]:
        return [*self.sounding.start_waiting(at)]


def _on_the_beat(bar: RouteBar, position: Fraction) -> Fraction:
    """A place that a hand has played, or the counted beat that it is meant for where one is near."""
    beats = (position - bar.position) / bar.meter.counted_beat
    return bar.position + round(beats) * bar.meter.counted_beat if abs(beats - round(beats)) < ON_THE_BEAT else position
