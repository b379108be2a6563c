"""The underscore: a section goes round, held and bare, until the nod "on". 120 a minute: a bar of four is two seconds."""

from __future__ import annotations

import pytest

from liveassist.band.events import Told
from tests.band.rehearsing import Rehearsal, nod, pedal, press, sounding_after, tune

SONG = """
title = Service
key = D
tempo = quarter 120
feel = quarters

== Roadmap ==
Verse
Prayer  underscore
Verse
Ending

== Verse ==
| D | A |

== Prayer ==
| G | Em A | G | A |

== Ending ==
| G | D |]
"""


def told(rehearsal: Rehearsal) -> list[tuple[float, str]]:
    return [(round(a.at, 2), a.text) for a in rehearsal.done if isinstance(a, Told) and "underscore" in a.text]


def chords(rehearsal: Rehearsal, since: float) -> list[str]:
    return [rehearsal.route.changes[change].chord.symbol for at, change in rehearsal.places() if at >= since]


def into_the_prayer(rehearsal: Rehearsal) -> float:
    """The feet play the verse, and rest from then on. Returns when the prayer begins."""
    return rehearsal.walk(0, 1, 1.0)


def test_the_feet_may_rest_and_it_goes_round_without_a_word(rehearse) -> None:
    band = rehearse(SONG)
    at = into_the_prayer(band)
    band.until(at + 39.0)
    assert chords(band, at - 0.2) == ["G", "Em", "A", "G", "A"] * 5
    assert told(band)[0] == (at, "underscore: round and round until 'on'")
    assert not [a for a in band.done if isinstance(a, Told) and ("no foot" in a.text or "waiting" in a.text)]
    assert band.states()[-1] == "vamping"
    assert "holding" not in band.states()


def test_where_the_song_goes_straight_on_it_is_played_once(rehearse) -> None:
    band = rehearse(SONG, lead="pulse", straight_on=True)
    band.hear(nod(0.0, "count"))
    band.until(60.0)
    assert chords(band, 0.0) == ["D", "A", "G", "Em", "A", "G", "A", "D", "A", "G", "D"]
    assert told(band) == []
    assert band.states()[-2:] == ["fine", "tacet"]


def test_its_chords_are_held_and_bare(rehearse) -> None:
    band = rehearse(SONG)
    at = into_the_prayer(band)
    band.until(at + 7.9)
    starts = {round(action.at - at, 2) for action in band.starts(at - 0.05)}
    assert starts == {0.0, 2.0, 3.0, 4.0, 6.0}  # one attack for each change
    voices = [action.pitch for action in band.starts(at - 0.05, at + 1.0)]
    bare = band.band.arrangement.voicings[1][2]
    assert sorted(voices) == list(bare)


def test_the_time_is_on_the_desk_and_told_each_minute(rehearse) -> None:
    band = rehearse(SONG)
    at = into_the_prayer(band)
    assert band.band.view(at - 0.5).underscore is None
    band.until(at + 125.0)
    assert band.band.view().underscore == pytest.approx(125.0)
    assert told(band)[1:] == [
        (at + 60.0, "underscore: 1 minute"),
        (at + 120.0, "underscore: 2 minutes"),
    ]
    assert band.band.view().asked == ()


def test_on_leaves_it_at_its_end_for_the_foot(rehearse) -> None:
    band = rehearse(SONG)
    at = into_the_prayer(band)
    band.hear(nod(at + 19.0, "on"))  # in the third time round, which ends at 24
    band.until(at + 23.5)
    band.hear(pedal(at + 24.0, 38))
    band.until(at + 24.2)
    assert chords(band, at + 22.5) == ["D"]
    assert told(band)[-1] == (at + 24.0, "underscore over, 0:24")
    assert band.band.state == "playing"
    assert band.band.view().underscore is None
    assert "holding" not in band.states()


def test_the_feet_may_play_on_and_change_nothing(rehearse) -> None:
    band = rehearse(SONG)
    at = into_the_prayer(band)
    for key, late in ((43, 0.0), (40, 2.0), (45, 3.0), (43, 4.0), (45, 6.0), (43, 8.0), (40, 10.0)):
        band.hear(pedal(at + late, key))
    band.until(at + 10.5)
    assert chords(band, at - 0.2) == ["G", "Em", "A", "G", "A", "G", "Em"]
    assert band.band.state == "vamping"


def test_feet_that_play_the_next_section_lead_out_of_it(rehearse) -> None:
    text = SONG.replace("== Verse ==\n| D | A |", "== Verse ==\n| D | F#m | Bm | A |")
    band = rehearse(text)
    at = band.walk(0, 3, 1.0)
    band.until(at + 8.0)
    for number, key in enumerate((38, 42, 47)):
        band.hear(pedal(at + 8.0 + 2.0 * number, key))
    band.until(at + 12.5)
    assert chords(band, at + 11.0)[-1] == "Bm"
    assert told(band)[-1][1].startswith("underscore over")


@pytest.mark.parametrize("lead", ["pulse", "switch"])
def test_other_leads_go_round_too(rehearse, lead: str) -> None:
    band = rehearse(SONG, lead=lead)
    band.hear(press(0.0))
    if lead == "switch":
        band.hear(press(2.0), press(4.0))
    band.until(4.0 + 19.0)
    assert chords(band, 3.9)[:10] == ["G", "Em", "A", "G", "A"] * 2
    band.hear(nod(23.5, "on"))
    band.until(27.9)
    if lead == "switch":
        band.hear(press(28.0))
    band.until(30.0)
    assert told(band)[-1][1] == "underscore over, 0:24"


def test_with_a_foot_switch_a_press_asks_to_go_on_and_the_next_one_goes(rehearse) -> None:
    band = rehearse(SONG, lead="switch")
    band.hear(press(0.0), press(2.0), press(4.0))
    band.until(7.0)
    band.hear(press(7.1), press(8.05))  # the second does no more than the first
    band.until(11.9)
    assert chords(band, 3.9) == ["G", "Em", "A", "G", "A"]
    assert band.band.state == "playing"
    band.hear(press(12.0))
    assert chords(band, 11.5) == ["D"]
    assert [text for _, text in told(band)[1:]] == ["underscore: on at its end", "underscore over, 0:08"]


def test_the_tune_may_be_silent_or_not(rehearse) -> None:
    band = rehearse(SONG)
    at = into_the_prayer(band)
    band.hear(tune(at + 0.5), tune(at + 1.0, 71))
    band.until(at + 30.0)
    assert band.band.state == "vamping"


def test_cut_and_tacet_end_it(rehearse) -> None:
    band = rehearse(SONG)
    at = into_the_prayer(band)
    band.hear(nod(at + 3.0, "tacet"))
    assert sounding_after(band.done) == set()
    assert band.band.view().underscore is None
    assert band.band.next_due() is None


def test_a_song_may_begin_and_end_with_one(rehearse) -> None:
    band = rehearse(
        "key = D\ntempo = quarter 120\n== Roadmap ==\nPrayer underscore\n== Prayer ==\n| G | A |\n", lead="pulse"
    )
    band.hear(press(0.0))
    band.until(9.0)
    assert chords(band, 0.0) == ["G", "A", "G", "A", "G"]
    band.hear(nod(9.0, "on"))
    band.until(20.0)
    assert band.states()[-2:] == ["fine", "tacet"]
