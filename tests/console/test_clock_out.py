"""The MIDI clock that is sent. MIDI 1.0: F8 tick, 24 a quarter note; FA start, FB continue, FC stop; F2 song position, least
significant seven bits first, in sixteenths of six ticks each."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import Event, KeyDown, KeyUp, Nodded
from liveassist.band.song import performance
from liveassist.console.clock_out import ClockOut
from liveassist.settings import Settings

QUAY = """
title = Quay
key = D
tempo = quarter 120

== Roadmap ==
Verse
Chorus

== Verse ==
| D | Bm | G A | D |

== Chorus ==
| G | A | Em | D |]
"""
TICK, START, CONTINUE, STOP = 0xF8, 0xFA, 0xFB, 0xFC


class Module:
    """A drum module at the other end: what it was sent, and when."""

    def __init__(self, away: tuple[float, float] = (0.0, 0.0)) -> None:
        self.now = 0.0
        self.heard: list[tuple[float, bytes]] = []
        self.away = away
        """From when to when its cable is out."""

    def send(self, message: bytes) -> bool:
        if self.away[0] <= self.now < self.away[1]:
            return False
        self.heard.append((self.now, message))
        return True

    def ticks(self) -> list[float]:
        return [at for at, message in self.heard if message[0] == TICK]

    def said(self) -> list[tuple[float, str]]:
        names = {START: "start", CONTINUE: "continue", STOP: "stop"}
        return [
            (round(at, 3), names.get(message[0]) or f"position {message[1] + 128 * message[2]}")
            for at, message in self.heard
            if message[0] != TICK
        ]

    def place(self) -> list[tuple[float, float]]:
        """For each tick while it runs the quarter note at which a module would be."""
        found, running, at_tick, position = [], False, 0, 0
        for at, message in self.heard:
            if message[0] == 0xF2:
                position = 6 * (message[1] + 128 * message[2])
            elif message[0] == STOP:
                running = False
            elif message[0] in (START, CONTINUE):
                running, at_tick = True, 0 if message[0] == START else position
            elif running:
                found.append((at, at_tick / 24))
                at_tick += 1
        return found


class Guard:
    """The guardian's end: whether it believes that the clock goes."""

    def __init__(self) -> None:
        self.told: list[str] = []

    def clock_rolls(self) -> None:
        self.told.append("rolls")

    def clock_halts(self) -> None:
        self.told.append("halts")


def played(
    events: list[Event], until: float, module: Module | None = None, guard: Guard | None = None, **settings: object
) -> tuple[Module, object]:
    """Play these events, the clock being asked as the runner asks it."""
    band = performance(unfold(read_chart(QUAY)), Settings(**settings))  # type: ignore[arg-type]
    module = module or Module()
    clock = ClockOut(module, guard)
    left = list(events)
    now = 0.0
    while now < until:
        moments = [moment for moment in (band.next_due(), clock.next_due()) if moment is not None]
        if left:
            moments.append(left[0].heard)
        now = max(now, min([*moments, until]))
        while left and left[0].heard <= now:
            band.receive(left.pop(0))
        band.due(now)
        module.now = now
        clock.due(now, band.time_line())
    return module, band


def nod(at: float, name: str) -> Nodded:
    return Nodded(at=at, heard=at, nod=name)


def foot(at: float, key: int, *, held: float = 1.0) -> list[Event]:
    return [
        KeyDown(at=at, heard=at, division="pedal", key=key),
        KeyUp(at=at + held, heard=at + held, division="pedal", key=key),
    ]


def test_it_ticks_in_the_count_in_and_starts_on_the_first_beat():
    module, _ = played([nod(1.0, "count")], 5.0, lead="pulse")
    assert module.said() == [(3.0, "start")]
    assert module.ticks()[0] == pytest.approx(1.0)
    assert module.ticks() == pytest.approx([1.0 + k / 48 for k in range(len(module.ticks()))])
    assert module.place()[0] == pytest.approx((3.0, 0.0))


def test_before_the_song_and_after_it_there_is_no_tick():
    module, band = played([nod(1.0, "count")], 40.0, lead="pulse")
    assert band.state == "tacet"
    assert module.ticks()[-1] < 3.0 + 32 * 0.5 + 0.1
    assert module.said()[-1][1] == "stop"


def test_after_a_jump_the_song_position_is_right():
    module, _ = played([nod(1.0, "count"), nod(4.0, "again")], 14.0, lead="pulse")
    assert module.said() == [(3.0, "start"), (11.0, "stop"), (11.0, "start")]
    for at, place in module.place():
        meant = (at - 3.0) / 0.5 if at < 10.999 else (at - 11.0) / 0.5
        assert place == pytest.approx(meant, abs=0.001), at


def test_after_a_skip_the_song_position_is_right():
    module, _ = played([nod(1.0, "count"), Nodded(at=4.2, heard=4.2, nod="to", argument=1)], 10.0, lead="pulse")
    assert module.said()[1:] == [(5.0, "stop"), (5.0, "position 64"), (5.0, "continue")]
    assert module.place()[-1][1] == pytest.approx(16 + (module.place()[-1][0] - 5.0) / 0.5, abs=0.001)


def test_at_a_hold_it_stops_ticks_on_and_continues_with_the_cue():
    module, _ = played([nod(1.0, "count"), nod(5.3, "hold"), nod(8.0, "on")], 12.0, lead="pulse")
    assert [said for _, said in module.said()][:2] == ["start", "stop"]
    assert module.said()[1][0] == 5.3
    assert module.said()[-1][1] == "continue"
    gaps = [later - earlier for earlier, later in pairwise(module.ticks())]
    assert max(gaps) < 1.2 / 48
    assert module.place()[-1][1] == pytest.approx(8 + (module.place()[-1][0] - 8.0) / 0.5, abs=0.05)


@pytest.mark.parametrize(
    ("away", "words"),
    [
        pytest.param((4.1, 6.2), ["position", "continue"], id="in-the-song"),
        pytest.param((2.9, 3.3), ["position", "continue"], id="at-the-start"),
        pytest.param((3.0, 3.01), ["start"], id="for-the-first-tick"),
    ],
)
def test_a_module_whose_cable_was_out_is_told_where_the_song_is(away, words):
    module, _ = played([nod(1.0, "count")], 12.0, Module(away), lead="pulse")
    back = [(at, said) for at, said in module.said() if at >= away[1] and said != "stop"]
    assert [said.split()[0] for _, said in back] == words
    assert back[-1][0] < away[1] + 0.2
    since = [(at, place) for at, place in module.place() if at >= back[-1][0] + 1.0]  # what is late is worked off
    assert len(since) > 24 * 8
    for at, place in since:
        assert place == pytest.approx((at - 3.0) / 0.5, abs=0.01), at


def test_a_module_whose_cable_is_in_again_after_the_song_is_stopped():
    module, band = played([nod(1.0, "count")], 40.0, Module((5.0, 30.0)), lead="pulse")
    assert band.state == "tacet"
    assert module.said() == [(3.0, "start"), (40.0, "stop")]


def test_the_guardian_is_told_of_every_start_and_stop():
    guard = Guard()
    played([nod(1.0, "count"), nod(5.3, "hold"), nod(8.0, "on")], 9.0, guard=guard, lead="pulse")
    assert guard.told == ["rolls", "halts", "rolls"]


def test_a_corrected_tempo_is_worked_off_evenly():
    """Feet 50 ms late, then early: no tick is longer or shorter than a tenth more than its share."""
    feet = [*foot(1.0, 38), *foot(3.05, 47), *foot(4.97, 43), *foot(6.06, 45), *foot(7.0, 38)]
    module, _ = played(feet, 9.0)
    gaps = [later - earlier for earlier, later in pairwise(module.ticks())]
    assert min(gaps) > 0.85 / 48
    assert max(gaps) < 1.2 / 48
    assert [said for _, said in module.said()] == ["start"]


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0.05, 2.0), st.sampled_from(["pedal", "again", "on", "hold", "vamp", "tap"])), max_size=30
    )
)
def test_whatever_is_played_ticks_are_even_and_positions_are_sixteenths(steps):
    at, heard = 1.0, foot(0.5, 38)
    for gap, what in steps:
        at += gap
        heard += foot(at, 36 + round(at * 7) % 12) if what == "pedal" else [nod(at, what)]
    module, _ = played(sorted(heard, key=lambda event: event.heard), at + 3.0)
    kinds = [message[0] for _, message in module.heard]
    assert set(kinds) <= {TICK, START, CONTINUE, STOP, 0xF2}
    running = False
    for kind in kinds:
        assert not (kind in (START, CONTINUE, 0xF2) and running)
        running = (running or kind in (START, CONTINUE)) and kind != STOP
    assert all(later >= earlier for earlier, later in pairwise(module.ticks()))
