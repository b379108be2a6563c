"""Re-timing: after a cue that is early or late the figure goes on without a lurch, and every beat is told once.

A step is how far an attack falls from where it would follow evenly on the one before, by the pulse that holds; 12 % of a
counted beat is the project's own bound (a change of tempo of 12 % is noticed: see ``striking``). An attack that a foot places
is where the foot is, however far that is.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from liveassist.band.events import BeatIs, Event, KeyDown, NoteOff, NoteOn, Told
from liveassist.band.performance import Performance
from liveassist.band.song import arrangements
from liveassist.band.sounding import GAP
from liveassist.band.striking import REST, RESTART, STEP
from liveassist.settings import Settings
from tests.band.rehearsing import Rehearsal, lift, pedal, route_of, sounding_after, tune

HEAD = "title = Slipway\nkey = D\ntempo = quarter 120\nfeel = {feel}\n\n== Roadmap ==\nVerse\nEnding\n\n"
VERSE = "== Verse ==\n| D | G A | Bm | Em A |\n| D | G / &A / / | Bm Em | A |\n\n"
ENDING = "== Ending ==\n| G | D |\n"
SECONDS = 0.5
"""A beat, at 120."""
FEELS = ("quarters", "straight eighths", "off-beats", "shuffle", "held")
ROUTES = {feel: route_of(HEAD.format(feel=feel) + VERSE + ENDING) for feel in FEELS}
ARRANGED = {feel: arrangements(route, Settings()) for feel, route in ROUTES.items()}


@dataclass(frozen=True)
class Attack:
    at: float
    position: Fraction
    period: float
    """Seconds per quarter note by the pulse at the time."""
    by_foot: bool

    def has(self, note: NoteOn) -> bool:
        """Whether a note belongs to this attack; one whose key has to come up first sounds a moment later."""
        return note.position == self.position and note.at <= self.at + GAP + 1e-6


def rehearsed(feel: str, events: list[Event], until: float, **asked: object) -> tuple[Rehearsal, list[Attack]]:
    """What the band does, and the figure's attacks, each with the pulse as it was."""
    route = ROUTES[feel]
    band = Performance(route, ARRANGED[feel], Settings(**asked), random.Random(1))  # type: ignore[arg-type]
    rehearsal, attacks = Rehearsal(route, band), list[Attack]()

    def watched(actions, *, by_foot: bool) -> None:
        for action in actions:
            if isinstance(action, NoteOn) and not (attacks and attacks[-1].has(action)):
                attacks.append(Attack(action.at, action.position, band.pulse.period, by_foot))

    def moved_on(to: float) -> None:
        while (due := band.next_due()) is not None and due <= to:
            watched(rehearsal.until(due), by_foot=False)

    for event in events:
        moved_on(event.heard)
        watched(rehearsal.hear(event), by_foot=isinstance(event, KeyDown) and event.division == "pedal")
    moved_on(until)
    return rehearsal, attacks


def feet(feel: str, misses: list[float]) -> tuple[list[Event], float]:
    """The written bass of the verse, each foot so many beats late, and when the ending is due. The first begins."""
    route, found, at = ROUTES[feel], list[Event](), 1.0
    changes = [change for change in route.changes if route.bars[change.bar].section == "Verse"]
    for change, miss in zip(changes, [0.0, *misses], strict=False):
        foot = at + miss * SECONDS
        length = float(change.length) * SECONDS
        key = 36 + (change.bass or 0)
        found += [pedal(foot, key), lift(foot + 0.6 * length, key)]
        at += length
    return sorted(found, key=lambda event: event.at), at


def steps(attacks: list[Attack]) -> list[float]:
    """In beats (a quarter note here). After a long silence, or where a chord begins anew, there is nothing to follow on."""
    return [
        (after.at - before.at) / after.period - float(after.position - before.position)
        for before, after in pairwise(attacks)
        if not after.by_foot and 0 < after.position - before.position <= REST
    ]


# -- one foot out of time -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize("feel", FEELS)
@pytest.mark.parametrize("miss", [-0.3, -0.2, -0.1, 0.1, 0.2, 0.3])
def test_one_foot_out_of_time_makes_no_lurch(feel, miss):
    events, end = feet(feel, [0.0, 0.0, miss, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0])
    rehearsal, attacks = rehearsed(feel, events, end - 0.1, patience="always")
    assert max(map(abs, steps(attacks)), default=0.0) <= STEP + 1e-6
    sounding_after(rehearsal.done)


def test_one_foot_early_and_the_next_but_one_late_make_no_lurch():
    events, end = feet("quarters", [-0.3, 0.0, 0.3, 0.0, 0.0, 0.0, 0.0, 0.0])
    _, attacks = rehearsed("quarters", events, end - 0.1, patience="always")
    assert max(map(abs, steps(attacks))) <= STEP + 1e-6


def test_a_late_foot_is_worked_off_in_even_steps_and_the_figure_is_with_the_pulse_again():
    late_from_bar_three = [0.0, 0.0, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3, 0.3]
    events, end = feet("off-beats", late_from_bar_three)
    rehearsal, attacks = rehearsed("off-beats", events, end - 0.1, patience="always")
    assert STEP / 2 < max(steps(attacks)) <= STEP + 1e-6
    last = attacks[-1]
    assert last.at == pytest.approx(rehearsal.band.time_of(last.position), abs=0.02)
    assert last.at == pytest.approx(1.0 + 0.5 * float(last.position) + 0.15, abs=0.05)


def test_an_attack_at_a_cue_sounds_with_the_foot():
    events, end = feet("quarters", [0.1, -0.1, 0.12, -0.15, 0.05, 0.1])
    _, attacks = rehearsed("quarters", events, end - 0.1)
    struck = {round(attack.at, 6) for attack in attacks}
    assert all(round(event.at, 6) in struck for event in events if isinstance(event, KeyDown))


def test_a_foot_late_for_a_chord_that_was_gone_on_to_makes_no_lurch():
    """The grace ran out, the band went on, then the foot came: nothing sounds with it, and what follows moves in steps."""
    events, _ = feet("straight eighths", [0.0, 0.0, 0.0, 0.0, 0.25, 0.25])
    rehearsal, attacks = rehearsed("straight eighths", events, 10.9, patience="always")
    assert "A: late for A" in [action.text for action in rehearsal.done if isinstance(action, Told)]
    assert max(steps(attacks)) > STEP / 2
    assert max(map(abs, steps(attacks))) <= STEP + 1e-6


def test_notes_end_with_their_attacks():
    """A figure that lags does not let its notes run into each other: no key has to come up in a hurry."""
    for miss in (-0.3, 0.3):
        events, end = feet("straight eighths", [0.0, 0.0, miss, 0.0, 0.0])
        rehearsal, _ = rehearsed("straight eighths", events, end - 0.1, patience="always")
        down: dict[int, float] = {}
        for action in rehearsal.done:
            if isinstance(action, NoteOn):
                down[action.pitch] = action.at
            elif isinstance(action, NoteOff):
                assert action.at - down.pop(action.pitch) >= 0.06


def test_a_tune_that_pulls_the_beat_pulls_it_in_steps():
    """Eighths of the tune, all of a sudden a sixth of a beat late."""
    events, end = feet("straight eighths", [0.0] * 9)
    shift = [0.0 if at < 5.0 else 0.08 for at in (1.0 + 0.25 * k for k in range(48))]
    notes = [tune(1.0 + 0.25 * k + late, 74 + k % 3) for k, late in enumerate(shift)]
    _, attacks = rehearsed("straight eighths", sorted([*events, *notes], key=lambda event: event.at), end - 0.1)
    assert max(map(abs, steps(attacks))) <= STEP + 1e-6


# -- where there is no steady time ---------------------------------------------------------------------------------------


def test_after_a_breath_the_figure_is_with_the_foot_at_once(rehearse):
    band = rehearse(HEAD.format(feel="off-beats") + "== Verse ==\n| D | G (breath) | A | D |\n\n" + ENDING)
    band.hear(pedal(1.0, 38), lift(2.8, 38), pedal(3.0, 43), lift(4.8, 43))
    band.until(6.1)
    band.hear(pedal(6.1, 45))
    band.until(7.9)
    later = sorted({action.at for action in band.starts(6.1)})
    assert later == pytest.approx([6.35, 6.85, 7.35, 7.85], abs=1e-6)  # half a beat after the foot, at the old tempo


def test_a_new_tempo_begins_at_its_bar_line(rehearse):
    band = rehearse(
        "title = Slipway\nkey = D\ntempo = quarter 120\nfeel = quarters\n\n== Roadmap ==\nVerse\nBridge\n\n"
        "== Verse ==\n| D | D |\n\n== Bridge ==\ntempo = quarter 60\n| D | G |\n"
    )
    band.hear(pedal(1.0, 38))
    band.until(8.9)
    assert sorted({action.at for action in band.starts(4.9)}) == pytest.approx([5.0, 6.0, 7.0, 8.0], abs=1e-6)


# -- every beat told, once ------------------------------------------------------------------------------------------------


def beats_told(rehearsal: Rehearsal) -> list[Fraction]:
    return [action.position for action in rehearsal.done if isinstance(action, BeatIs)]


def in_order(told: list[Fraction]) -> list[Fraction]:
    """Every beat from the first told to the last."""
    return [told[0] + k for k in range(int(told[-1] - told[0]) + 1)]


def test_a_beat_at_which_a_cue_is_due_is_told_with_the_cue():
    events, _ = feet("quarters", [0.05])
    rehearsal, _ = rehearsed("quarters", events, 3.2)
    assert [at for at, _ in rehearsal.beats()][:5] == pytest.approx([1.0, 1.5, 2.0, 2.5, 3.025], abs=1e-3)


def test_a_beat_whose_cue_does_not_come_is_told_a_moment_later():
    events, _ = feet("quarters", [])
    rehearsal, _ = rehearsed("quarters", events, 3.2)
    told = [at for at, _ in rehearsal.beats()]
    assert told[:4] == pytest.approx([1.0, 1.5, 2.0, 2.5], abs=1e-3)
    assert 3.0 < told[4] <= 3.06


def test_a_click_waits_for_no_foot():
    events, _ = feet("quarters", [0.1])
    rehearsal, _ = rehearsed("quarters", events, 3.2, click=True)
    assert [at for at, _ in rehearsal.beats()][:5] == pytest.approx([1.0, 1.5, 2.0, 2.5, 3.0], abs=1e-3)


@pytest.mark.parametrize("late", [0.01, 0.1, 0.2])
def test_a_foot_just_after_a_beat_of_a_vamp_tells_no_second_beat(rehearse, late):
    band = rehearse(HEAD.format(feel="quarters") + "== Verse ==\n| D | G | A | D |\n\n" + ENDING, patience="0")
    band.hear(pedal(1.0, 38))
    band.until(5.0 + late)
    assert band.states()[-1] == "vamping"
    band.hear(pedal(5.0 + late, 43))  # a bar late, and a little
    band.until(6.9)
    told = [at for at, _ in band.beats()]
    assert len(told) == 12
    assert all(after - before > 0.25 for before, after in pairwise(told))


def test_a_foot_that_comes_when_the_vamp_has_just_begun_tells_no_beat_twice(rehearse):
    band = rehearse(HEAD.format(feel="quarters") + "== Verse ==\n| D | G | A | D |\n\n" + ENDING, patience="0")
    band.hear(pedal(1.0, 38), pedal(3.22, 43))
    assert band.states()[-2:] == ["vamping", "playing"]
    band.until(4.0)
    assert [position for _, position in band.beats()] == ["0", "1", "2", "3", "4", "5"]


# -- any feet ---------------------------------------------------------------------------------------------------------------


@settings(deadline=None, max_examples=60)
@given(feel=st.sampled_from(FEELS), misses=st.dictionaries(st.integers(1, 10), st.floats(-0.3, 0.3), max_size=2))
def test_whichever_feet_are_early_or_late_no_lurch_and_every_beat_once(feel, misses):
    events, end = feet(feel, [misses.get(index, 0.0) for index in range(1, 11)])
    rehearsal, attacks = rehearsed(feel, events, end - 0.3, patience="always")
    assert max(map(abs, steps(attacks)), default=0.0) <= STEP + 1e-6
    told = beats_told(rehearsal)
    assert told == in_order(told)
    times = [action.at for action in rehearsal.done]
    assert times == sorted(times)
    sounding_after(rehearsal.done)


@settings(deadline=None, max_examples=60)
@given(feel=st.sampled_from(FEELS), misses=st.lists(st.floats(-0.3, 0.3), min_size=9, max_size=11))
def test_feet_all_over_the_place_move_the_figure_in_steps_or_begin_it_anew(feel, misses):
    """Such feet may lose the band; then it is not corrected but starts again where they are."""
    events, end = feet(feel, misses)
    rehearsal, attacks = rehearsed(feel, events, end - 0.3, patience="always")
    places = [change for _, change in rehearsal.places()]
    assume(all(after - before == 1 for before, after in pairwise(places)))  # nothing was taken for a jump
    assert not [step for step in steps(attacks) if STEP + 1e-6 < abs(step) < RESTART - 1e-6]
    sounding_after(rehearsal.done)
