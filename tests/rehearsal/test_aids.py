"""Practice aids looked back upon: the click that fell out, the player's left hand, the tune with feet; and a service told."""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import (
    FIGURE_MANUAL,
    MELODY_MANUAL,
    PEDAL,
    BeatIs,
    KeyDown,
    KeyUp,
    NodTaken,
    NoteOn,
    PlaceIs,
    StateIs,
    Told,
)
from liveassist.rehearsal import service as services
from liveassist.rehearsal.review import FEET, review
from liveassist.rehearsal.telling import as_json, summary


def beats_of(route, *, start=1.0, beat=1.0):
    return [
        BeatIs(at=start + beat * float(place / bar.meter.counted_beat), position=place)
        for bar in route.bars
        for place in route.beats(bar)
    ]


def keys(division, *notes):
    """(seconds, key) or (seconds, key, seconds held)."""
    found = []
    for at, key, *held in notes:
        found.append(KeyDown(at=at, heard=at, division=division, key=key))
        up = at + (held[0] if held else 0.5)
        found.append(KeyUp(at=up, heard=up, division=division, key=key))
    return sorted(found, key=lambda event: event.at)


def clicked(beats, silent):
    """A click on each beat but those of some bars of four."""
    clicks = [
        NoteOn(at=one.at, part="click", pitch=76, position=one.position)
        for number, one in enumerate(beats)
        if number // 4 not in silent
    ]
    return sorted([*beats, *clicks], key=lambda action: action.at)


def feet(route, errors):
    return keys(
        PEDAL,
        *(
            (1.0 + 4 * n + late, 36 + change.bass)
            for n, (change, late) in enumerate(zip(route.changes, errors, strict=True))
        ),
    )


# -- the click that fell out ------------------------------------------------------------------------------------------


def test_the_foot_at_the_return_of_the_click_tells_the_drift(ten):
    """Bars 3-4 and 7-8 of ten without a click: at its return, bars 5 and 9, the foot is 60 and 40 ms ahead."""
    errors = [0.0, 0.0, -0.02, -0.04, -0.06, 0.0, -0.01, -0.02, -0.04, 0.0]
    found = review(ten, feet(ten, errors), clicked(beats_of(ten), {2, 3, 6, 7}))
    assert [(one.at, one.bars) for one in found.returns] == [(17.0, 2), (33.0, 2)]
    # before the first silence the usual is 0; before the second it is the median of -60 and 0
    assert [one.off for one in found.returns] == pytest.approx([-0.06, -0.01])
    assert any("you were 35 ms ahead of it: without it you speed up" in line for line in summary(found))


@pytest.mark.parametrize(
    ("at_return", "said"),
    [
        ((0.01, -0.02), "you were with it when it came back"),
        ((0.09, 0.05), "behind it: without it you slow down"),
        ((0.09, -0.09), "up to 135 ms off, now ahead, now behind"),
    ],
    ids=["kept time", "slowed", "both"],
)
def test_who_drifted_is_said(ten, at_return, said):
    errors = [0.0] * 4 + [at_return[0]] + [0.0] * 3 + [at_return[1], 0.0]
    lines = summary(review(ten, feet(ten, errors), clicked(beats_of(ten), {2, 3, 6, 7})))
    assert any(said in line for line in lines), lines


def test_without_a_click_in_the_take_nothing_fell_out(ten):
    assert review(ten, feet(ten, [0.0] * 10), beats_of(ten)).returns == ()


def test_a_click_that_never_falls_out_never_comes_back(ten):
    assert review(ten, feet(ten, [0.0] * 10), clicked(beats_of(ten), set())).returns == ()


def test_what_is_tried_between_two_passes_is_no_note_too_many(ten):
    once = beats_of(ten)
    again = [BeatIs(at=one.at + 60.0, position=one.position) for one in once]
    played = feet(ten, [0.0] * 10)
    later = keys(PEDAL, *((61.0 + 4 * n, 36 + change.bass) for n, change in enumerate(ten.changes)))
    tried = keys(PEDAL, (50.0, 37), (52.0, 39))
    found = review(ten, [*played, *tried, *later], [*once, *again])
    assert (found.asked, len(found.remarks)) == (20, 20)


# -- the left hand ----------------------------------------------------------------------------------------------------

FOUR = unfold(read_chart("title = T\nkey = C\nmeter = 4/4\ntempo = 60\n\n== Verse ==\n| C | F | G7 | C |\n"))
"""Bars at 1, 5, 9 and 13 s."""


def test_left_hand_meets_its_changes():
    hand = review(FOUR, keys(FIGURE_MANUAL, (1.0, 52), (5.0, 53), (9.0, 53), (13.0, 55)), beats_of(FOUR)).left
    assert hand is not None
    assert (hand.asked, hand.met, hand.notes, hand.missed, hand.wrong) == (4, 4, 4, (), ())


def test_left_hand_pushes_holds_over_misses_and_strays():
    """A push just before F; F's C held into G7 (which is G B D F); nothing of its own in G7; an E flat in C."""
    played = keys(FIGURE_MANUAL, (1.0, 52), (4.8, 57), (5.0, 60, 5.0), (13.0, 55), (14.0, 63))
    found = review(FOUR, played, beats_of(FOUR))
    assert found.left is not None
    assert (found.left.missed, found.left.wrong) == ((2,), ((3, 63),))
    assert summary(found) == (
        "Left hand: 3 of 4 changes met, 80% of its notes of the chord.",
        "Against the simple part: 3 of 4 attacks together, 0 ms around its own middle; 2 of its own.",
        "Changes that it missed: Verse bar 3 (G7).",
        "Not of the chord: D♯ in Verse bar 4 (C).",
    )


def test_a_tone_held_over_a_change_meets_it():
    hand = review(FOUR, keys(FIGURE_MANUAL, (1.0, 60, 7.0), (9.0, 59), (13.0, 60)), beats_of(FOUR)).left
    assert hand is not None
    assert hand.missed == ()  # C lies in F too


def test_left_hand_in_the_key_as_lifted():
    """Up a half step from bar 2 on: D flat 7 major tones are asked for."""
    actions = [*beats_of(FOUR), NodTaken(at=2.0, nod="up")]
    played = keys(FIGURE_MANUAL, (1.0, 52), (5.0, 54), (9.0, 54), (13.0, 56))
    hand = review(FOUR, played, actions).left
    assert hand is not None
    assert (hand.met, hand.wrong) == (4, ())


def test_left_hand_is_laid_against_the_part_that_it_is_more_like():
    """The figure strikes on every half of a bar, the simple part on every change; every other half is 20 ms late."""
    figure = [Fraction(2 * half) for half in range(8)]
    halves = keys(
        FIGURE_MANUAL, *((1.0 + 2 * half + (0.02 if half % 2 else 0.0), 55) for half in range(8) if half != 5)
    )
    hand = review(FOUR, halves, beats_of(FOUR), figure=figure).left
    assert hand is not None
    assert (hand.rhythm.against, hand.rhythm.asked, hand.rhythm.together, hand.rhythm.own) == ("the figure", 8, 7, 0)
    changes = keys(FIGURE_MANUAL, *((1.0 + 4 * bar, 55) for bar in range(4)))
    hand = review(FOUR, changes, beats_of(FOUR), figure=figure).left
    assert hand is not None
    assert (hand.rhythm.against, hand.rhythm.together) == ("the simple part", 4)


def test_no_left_hand_no_word():
    assert review(FOUR, keys(PEDAL, (1.0, 36)), beats_of(FOUR)).left is None


# -- the tune ---------------------------------------------------------------------------------------------------------

TUNE = unfold(
    read_chart(
        "title = T\nkey = C\nmeter = 4/4\ntempo = 60\n\n== Verse ==\n| C | G |\nmelody = C2 D2 E2 C2 | G4 G4 |\n"
    )
)
"""Eighths: C D E C at 1, 2, 3, 4 s, G at 5 and 7 s."""


def test_tune_with_feet_is_told_beside_them():
    tune = keys(MELODY_MANUAL, (1.02, 72), (2.02, 74), (3.02, 75), (4.02, 72), (5.02, 79))
    found = review(TUNE, [*tune, *keys(PEDAL, (1.0, 36), (5.0, 43))], beats_of(TUNE))
    assert found.tune is not None
    assert (found.tune.asked, found.tune.right) == (6, 4)
    assert [TUNE.bars[bar].number for bar in found.tune.bars] == [1, 2]
    assert found.tune.timing is not None
    assert found.tune.timing.mean == pytest.approx(0.02)
    words = summary(found)
    assert words[0].startswith("Every pedal note right.")
    assert "The tune: 4 of 6 notes right, 0 ms around its own middle." in words
    assert "Look at the tune in Verse bar 1, Verse bar 2." in words


def test_something_else_on_the_melody_manual_is_not_called_a_bad_tune():
    accompaniment = keys(MELODY_MANUAL, *((1.0 + n, 61) for n in range(8)))
    assert review(TUNE, accompaniment, beats_of(TUNE)).tune is None


def test_of_a_chord_in_the_right_hand_the_top_is_the_tune():
    chords = [(at + off, key) for at, key in ((1, 72), (2, 74), (3, 76), (4, 72), (5, 79), (7, 79)) for off, key in
              ((0.0, key - 5), (0.01, key))]  # fmt: skip
    found = review(TUNE, keys(MELODY_MANUAL, *chords), beats_of(TUNE)).tune
    assert found is not None
    assert found.right == 6


# -- a service --------------------------------------------------------------------------------------------------------


def place(at, change, route, bpm=60.0):
    return PlaceIs(at=at, change=change, position=route.changes[change].position, bpm=bpm, sure=1.0)


def test_a_service_tells_tempo_holds_nods_and_where_the_band_was_wrong(ten):
    """Verse (changes 0-4) at 60, Chorus (5-9) at 66; a hold of 3 s, a chord kept for 2 s, a jump nobody nodded, one nodded."""
    actions = [
        *(place(1.0 + 4 * n, n, ten) for n in range(4)),
        StateIs(at=15.0, state="holding"),
        StateIs(at=18.0, state="playing"),
        place(18.0, 4, ten),
        *(place(22.0 + 4 * n, 5 + n, ten, 66.0) for n in range(3)),
        StateIs(at=32.0, state="vamping"),
        StateIs(at=34.0, state="playing"),
        Told(at=35.0, text="G: in doubt, staying with the pulse", sign="doubt"),
        place(36.0, 1, ten),  # nobody asked
        NodTaken(at=37.0, nod="again"),
        place(40.0, 2, ten),
        place(44.0, 0, ten),  # asked
        NodTaken(at=45.0, nod="fuller"),
        StateIs(at=60.0, state="fine"),
    ]
    found = services.service(ten, actions)
    assert found.tempi[:2] == (("Verse", 1, 60.0), ("Chorus", 1, 66.0))
    assert [(one.at, one.seconds) for one in found.holds] == [(15.0, 3.0)]
    assert [(one.at, one.seconds) for one in found.vamps] == [(32.0, 2.0)]
    assert [(one.at, one.before, one.after) for one in found.moved] == [(36.0, 7, 1)]
    assert found.doubts == 1
    assert [nod for _, nod, _ in found.nods] == ["again", "fuller"]
    words = list(services.words(found, ten))
    assert words[0].startswith("Tempo: 60 as a rule, 60 at the beginning and 60 at the end. Otherwise: Chorus 66")
    assert "Held: Verse bar 4 3.0 s." in words
    assert "The band kept its chord and waited for a foot: Chorus bar 3 2.0 s." in words
    assert any("0:36 from Chorus bar 3 to Verse bar 2" in line for line in words)
    assert words[-1] == "Nods: again at 0:37, fuller at 0:45."


def test_a_vamp_that_was_asked_for_is_no_fault(ten):
    actions = [
        place(1.0, 0, ten),
        place(5.0, 1, ten),
        NodTaken(at=6.0, nod="vamp"),
        StateIs(at=6.0, state="vamping"),
        place(9.0, 0, ten),
        place(13.0, 1, ten),
        place(17.0, 0, ten),
        NodTaken(at=18.0, nod="on"),
        StateIs(at=18.0, state="playing"),
        place(21.0, 1, ten),
    ]
    found = services.service(ten, actions)
    assert (found.vamps, found.moved, found.holds) == ((), (), ())


def test_a_steady_service_says_so(ten):
    words = list(services.words(services.service(ten, [place(1.0 + 4 * n, n, ten) for n in range(10)]), ten))
    assert words == ["Tempo: 60 throughout."]


def test_only_a_take_that_the_feet_led_is_told_as_a_service(ten):
    actions = [*beats_of(ten), *(place(1.0 + 4 * n, n, ten) for n in range(10))]
    played = feet(ten, [0.0] * 10)
    assert review(ten, played, actions).service is None
    found = review(ten, played, actions, reference=FEET)
    assert any(line.startswith("Tempo: 60") for line in summary(found))
    assert as_json(found)["service"]["tempi"][0] == {"section": "Verse", "pass": 1, "bpm": 60.0}
