"""A computer that slept, and cues that were delivered late: what should have sounded meanwhile is past, and is not caught up
with."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.band.events import Nodded, NoteOn, Slept, Told
from liveassist.band.song import performance
from liveassist.settings import Settings
from tests.band.rehearsing import QUAY, Rehearsal, lift, nod, pedal, press, route_of, sounding_after, tune
from tests.band.test_properties import LEADS, events
from tests.trials import trials

Rehearse = Callable[..., Rehearsal]
D, B, G = 38, 47, 43
NIGHT = 3600.0


def slept(at: float, until: float) -> Slept:
    return Slept(at=at, heard=until)


def told(song: Rehearsal) -> list[str]:
    return [action.text for action in song.done if isinstance(action, Told)]


@pytest.mark.parametrize("asleep", [1.5, 60.0, NIGHT])
def test_what_sounds_ends_and_the_band_waits_where_it_was(rehearse: Rehearse, asleep: float) -> None:
    song = rehearse()
    song.hear(pedal(1.0, D))
    song.until(2.1)
    assert song.band.view().sounding
    woken = song.hear(slept(2.1, 2.1 + asleep))
    assert not song.band.view().sounding
    assert not [action for action in woken if isinstance(action, NoteOn)]
    assert song.band.state == "holding"
    assert song.band.change == 0
    assert told(song)[-1] == f"the computer slept for {asleep:.0f} s: waiting for you"
    song.until(2.1 + asleep + 30.0)
    assert not song.starts(since=2.2)


def test_the_next_foot_goes_on_as_after_a_hold_in_the_old_tempo(rehearse: Rehearse) -> None:
    song = rehearse()
    song.walk(0, 1, 1.0)
    song.until(4.2)
    song.hear(slept(4.2, NIGHT))
    song.hear(pedal(NIGHT + 3.0, G))
    assert song.band.change == 2
    assert song.starts(since=NIGHT)[0].at == NIGHT + 3.0
    song.until(NIGHT + 3.9)
    assert 110.0 < song.band.view().bpm < 130.0


@pytest.mark.parametrize("after", [0.1, 1.0, 20.0])
def test_the_foot_may_come_at_any_time(rehearse: Rehearse, after: float) -> None:
    song = rehearse()
    song.hear(pedal(1.0, D), slept(1.6, NIGHT), pedal(NIGHT + after, B))
    assert song.band.change == 1
    assert song.starts(since=NIGHT)[0].at == NIGHT + after


def test_notes_that_were_due_before_it_slept_are_played(rehearse: Rehearse) -> None:
    song = rehearse()
    song.hear(pedal(1.0, D), slept(2.1, NIGHT))
    assert sorted({round(start.at, 3) for start in song.starts()}) == [1.0, 1.5, 2.0]


@pytest.mark.parametrize(
    ("played", "state"),
    [
        ([], "tacet"),
        ([nod(0.5, "ready")], "ready"),
        ([nod(0.5, "count")], "ready"),
        ([nod(0.5, "ready"), pedal(1.0, D)], "holding"),
        ([nod(0.5, "ready"), pedal(1.0, D), nod(1.2, "vamp", 2)], "holding"),
        ([nod(0.5, "ready"), pedal(1.0, D), nod(1.2, "hold")], "holding"),
        ([nod(0.5, "ready"), pedal(1.0, D), nod(1.2, "cut")], "fine"),
    ],
    ids=["tacet", "ready", "count-in", "playing", "vamping", "holding", "fine"],
)
def test_in_every_state(rehearse: Rehearse, played: list[object], state: str) -> None:
    song = rehearse(armed=False, click=True)
    song.hear(*played)  # type: ignore[arg-type]
    song.until(1.3)
    song.hear(slept(1.3, 1.3 + NIGHT))
    assert song.band.state == state
    assert not song.band.view().sounding


def test_in_the_ending_it_waits_too(rehearse: Rehearse) -> None:
    song = rehearse(from_bar=16)
    song.hear(pedal(1.0, G))
    assert song.band.state == "ending"
    song.hear(slept(1.3, NIGHT))
    assert song.band.state == "holding"
    song.hear(pedal(NIGHT + 1.0, 45))
    assert song.band.state == "ending"


def test_the_last_chord_is_let_go_and_that_is_the_fine(rehearse: Rehearse) -> None:
    song = rehearse(from_bar=18)
    song.hear(pedal(1.0, D), slept(1.3, NIGHT))
    assert song.states()[-1] == "fine"
    assert sounding_after(song.done) == set()


def test_where_the_clock_leads_the_nod_goes_on(rehearse: Rehearse) -> None:
    song = rehearse(lead="pulse")
    song.hear(nod(0.5, "count"))
    song.until(6.0)
    song.hear(slept(6.0, NIGHT))
    assert told(song)[-1].endswith("'on' goes on")
    song.until(NIGHT + 5.0)
    assert not song.starts(since=6.1)
    song.hear(nod(NIGHT + 5.0, "on"))
    assert song.band.state == "playing"
    assert song.starts(since=NIGHT)[0].at == NIGHT + 5.0


def test_where_a_switch_leads_the_next_press_goes_on(rehearse: Rehearse) -> None:
    song = rehearse(lead="switch")
    song.hear(press(1.0), slept(1.3, NIGHT), press(NIGHT + 1.0))
    assert song.band.change == 1
    assert song.band.state == "playing"


def test_a_foot_from_before_the_sleep_is_no_cue(rehearse: Rehearse) -> None:
    song = rehearse()
    song.hear(pedal(1.0, D), slept(1.3, NIGHT), pedal(1.35, B, heard=NIGHT + 0.001))
    assert song.band.state == "holding"
    assert song.band.change == 0


@trials(40)
@given(events(), LEADS, st.integers(0, 40), st.sampled_from([1.2, 30.0, NIGHT]))
def test_whatever_was_played_a_sleep_leaves_silence_and_no_burst(played, lead, when, asleep) -> None:
    band = performance(route_of(QUAY), Settings(**({"time": lead} if lead == "clock" else {"lead": lead})))
    done = []
    for event in played[:when]:
        done += band.receive(event)
    now = band.now
    woken = band.receive(slept(now, now + asleep))
    done += woken
    assert not [action for action in woken if isinstance(action, NoteOn)]
    assert sounding_after(done) == set()
    still = band.due(now + asleep + 60.0)
    assert not [action for action in still if isinstance(action, NoteOn)]
    done += still + band.receive(Nodded(at=band.now, heard=band.now, nod="tacet"))
    assert sounding_after(done) == set()


# -- late deliveries ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("kept", [0.3, 1.0, 3.0, 6.0], ids=lambda kept: f"{kept:g} s")
@pytest.mark.parametrize("patience", ["0", "1", "always"])
def test_feet_delivered_late_together_move_the_place_and_sound_no_burst(
    rehearse: Rehearse, kept: float, patience: str
) -> None:
    """Rule: the feet count by when they were played. An attack more than 80 ms late is left out, so at the delivery at most
    the chord of the latest foot sounds, once (and again after the gap of a key that repeats)."""
    song = rehearse(patience=patience)
    delivered = 4.0 + kept
    for change in song.route.changes[:9]:
        at = 1.0 + 0.5 * float(change.position)
        late = 4.0 <= at < delivered
        heard = delivered if late else max(at, song.band.now)
        song.hear(pedal(at, 36 + change.bass, heard=heard), tune(max(at, heard), 74))
        song.hear(lift(max(heard, at + 0.1), 36 + change.bass))
    attacks = {round(start.at, 3) for start in song.starts(since=delivered - 0.001, until=delivered + 0.2)}
    assert len(attacks) <= 2
    keys = [start.pitch for start in song.starts(since=delivered - 0.001, until=delivered + 0.2)]
    assert len(keys) == len(set(keys))
    song.until(song.band.now + 1.0)
    sounding_after(song.done)
