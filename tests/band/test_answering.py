"""The answer in the band: written, or to what the right hand has just played. 120 a minute: a beat is half a second."""

from __future__ import annotations

import pytest

from liveassist.band.answering import Answering
from liveassist.band.events import KeyDown, NoteOff, NoteOn
from tests.band.rehearsing import Rehearsal, lift, nod, pedal, press, sounding_after, tune

HEAD = "title = Two\nkey = C\nmeter = 4/4\ntempo = quarter 120\nfeel = quarters\n"
WRITTEN = HEAD + (
    "== A ==\nanswer = canon, two beats\n| C | F | C | F |\nmelody = c2 e2 g2 e2 | f4 a4 | c2 e2 g2 e2 | f8\n"
    "== Ending ==\nanswer = none\n| G | C |]\n"
)
LIVE = (
    HEAD
    + "== A ==\nanswer = canon, two beats, octave below\n| C | F | C | F |\n== Ending ==\nanswer = none\n| G | C |]\n"
)
ECHOED = LIVE.replace("canon, two beats", "echo, one bar")


def answers(rehearsal: Rehearsal) -> list[tuple[float, int]]:
    return [
        (round(action.at, 3), action.pitch)
        for action in rehearsal.done
        if isinstance(action, NoteOn) and action.part == "answer"
    ]


def sung(rehearsal: Rehearsal, *notes: tuple[float, int, float]) -> None:
    """The right hand plays (at, key, length)."""
    events = [
        event for at, key, length in notes for event in (tune(at, key), lift(at + length, key, division="melody"))
    ]
    rehearsal.hear(*sorted(events, key=lambda event: event.at))


def test_the_written_answer_sounds_in_the_figures_place(rehearse) -> None:
    band = rehearse(WRITTEN, lead="pulse")
    band.hear(press(0.0))
    band.until(3.9)
    assert answers(band) == [(1.0, 72), (1.5, 76), (2.0, 79), (2.5, 77), (3.0, 77)]  # the E, on F, is F
    assert {action.part for action in band.starts()} == {"answer"}
    band.until(9.0)
    assert {action.part for action in band.starts(since=8.0)} == {"figure"}  # the ending has none


def test_with_the_feet_a_note_sings_on_over_a_change_that_it_fits(rehearse) -> None:
    text = HEAD + "== A ==\nanswer = canon, two beats\n| C | Am | C |\nmelody = c4 z4 | z8 | z8\n== E ==\n| G | C |]\n"
    band = rehearse(text.replace("two beats", "three beats"))
    band.hear(pedal(1.0, 36))
    band.until(2.9)  # at 2.5 the answer began a c of two beats
    band.hear(pedal(3.0, 45))
    ends = [(round(a.at, 2), a.pitch) for a in band.done if isinstance(a, NoteOff) and a.part == "answer"]
    assert (answers(band), ends) == ([(2.5, 72)], [])
    band.until(3.6)
    assert "answer" not in {part for part, _ in sounding_after(band.done)}


def test_out_and_the_hand_on_the_manual_silence_it(rehearse) -> None:
    band = rehearse(WRITTEN, lead="pulse")
    band.hear(press(0.0))
    band.until(1.2)
    band.hear(KeyDown(at=1.2, heard=1.2, division="figure", key=60))
    assert sounding_after(band.done) == set()
    band.until(2.9)
    assert answers(band) == [(1.0, 72)]
    band.hear(nod(2.9, "in"))
    band.until(3.2)
    assert answers(band)[1:] == [(3.0, 77)]


def test_what_the_right_hand_plays_comes_back(rehearse) -> None:
    band = rehearse(LIVE, lead="pulse")
    band.hear(press(0.0))
    sung(band, (0.0, 72, 0.4), (0.5, 76, 0.4), (1.0, 79, 0.8))
    band.until(3.5)
    assert answers(band) == [(1.0, 60), (1.5, 64), (2.0, 67)]
    assert {action.part for action in band.starts()} == {"answer"}


def test_it_is_answered_as_long_as_it_was_held_but_no_longer_than_the_distance(rehearse) -> None:
    band = rehearse(LIVE, lead="pulse")
    band.hear(press(0.0))
    sung(band, (0.0, 72, 0.25), (1.5, 76, 1.9))
    band.until(4.5)
    ends = [(round(a.at, 3), a.pitch) for a in band.done if isinstance(a, NoteOff) and a.part == "answer"]
    assert ends == [(1.25, 60), (3.5, 65)]  # E on the middle of F, where it would rub, is F


def test_an_echo_waits_until_the_tune_stands_still(rehearse) -> None:
    band = rehearse(ECHOED, lead="pulse")
    band.hear(press(0.0))
    sung(band, (0.0, 72, 0.4), (0.5, 76, 0.4), (1.0, 79, 0.4), (1.5, 76, 0.4), (2.0, 77, 1.9))
    band.until(3.9)
    assert answers(band) == [(3.0, 67), (3.5, 64)]  # of the bar before, what comes two beats after the held F


def test_an_echo_ends_when_the_tune_goes_on(rehearse) -> None:
    band = rehearse(ECHOED, lead="pulse")
    band.hear(press(0.0))
    sung(band, (0.0, 72, 1.5))
    band.until(2.2)
    assert answers(band) == [(2.0, 60)]
    band.hear(tune(2.3, 77))
    assert sounding_after(band.done) == set()


def test_a_hold_and_a_jump_clear_what_was_played(rehearse) -> None:
    band = rehearse(LIVE)
    band.hear(pedal(1.0, 36))
    sung(band, (1.5, 76, 0.3))
    band.hear(nod(2.0, "hold"))
    band.until(8.0)
    assert answers(band) == []
    band = rehearse(LIVE, lead="pulse")
    band.hear(press(0.0), nod(0.5, "to", 1))
    sung(band, (1.5, 76, 0.3))  # the ending is reached at 2.0
    band.until(3.5)
    assert answers(band) == []


def test_a_key_that_the_player_holds_there_is_left_alone(rehearse) -> None:
    band = rehearse(LIVE, lead="pulse")
    band.hear(press(0.0))
    sung(band, (0.0, 72, 0.4), (0.5, 76, 0.4))
    band.hear(KeyDown(at=0.95, heard=0.95, division="figure", key=60), nod(0.96, "in"))
    band.until(1.6)
    assert answers(band) == [(1.5, 64)]


def test_tacet_silences_what_would_come_back(rehearse) -> None:
    band = rehearse(LIVE.replace("| C | F | C | F |", "| C | F (tacet) | C | F |"), lead="pulse")
    band.hear(press(0.0))
    sung(band, (0.0, 72, 0.4), (1.0, 76, 0.4))
    band.until(3.9)
    assert answers(band) == [(1.0, 60)]


def test_nothing_is_answered_where_the_chart_asks_for_nothing(rehearse) -> None:
    band = rehearse(HEAD + "== A ==\n| C | F |\n== B ==\n| C | F |\n", lead="pulse")
    band.hear(press(0.0))
    sung(band, (0.0, 72, 0.4))
    band.until(7.0)
    assert answers(band) == []


@pytest.mark.parametrize("lead", ["feet", "switch", "pulse"])
def test_the_same_playing_gives_the_same_answer(rehearse, lead: str) -> None:
    def once() -> str:
        band = rehearse(ECHOED, lead=lead)
        band.hear(pedal(0.0, 36), press(0.1))
        sung(band, (0.6, 76, 0.3), (1.1, 79, 0.3), (3.4, 81, 0.2))
        band.until(9.0)
        return repr(band.done)

    assert once() == once()


def test_the_memory_of_the_right_hand() -> None:
    memory = Answering()
    memory.press(72, 1.0, distance=2.0, key=60)
    memory.release(72, 1.5)
    memory.shift(0.25)
    assert memory.next_due() == 3.25
    (heard,) = memory.take(3.25)
    assert (heard.key, heard.due, heard.length) == (60, 3.25, 0.5)
    assert memory.next_due() is None
    memory.press(72, 4.0, distance=2.0, key=60)
    memory.forget()
    assert memory.take(99.0) == []
