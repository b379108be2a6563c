"""The figure: the cell cut at the changes, and what each mark does to it.

Onsets are counted by hand, in quarter notes from the start of the song. The rules are common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest

from charts.route import Route
from liveassist.arranging.arrange import arrange
from liveassist.arranging.arrangement import Arrangement
from liveassist.arranging.feels import Feels, feels_from
from tests.arranging.routes import faults, notes_in, onsets, route_of, song


def arranged(route: Route, room: float = 1.8) -> Arrangement:
    """Without variety: what the cell and the marks say."""
    arrangement = arrange(route, room=room, variety=False)
    assert faults(arrangement, room=room) == []
    return arrangement


# Each onset and the change it belongs to.
WRITTEN = {
    "quarters, a change on three": (["C F"], "quarters", "4/4", "0:0 1:0 2:1 3:1"),
    "three-three-two, a change on three is struck there": (["C F"], "three-three-two", "4/4", "0:0 3/2:0 2:1 3:1"),
    "three-three-two, a change on every beat": (["C F G C"], "three-three-two", "4/4", "0:0 1:1 3/2:1 2:2 3:3"),
    "off-beats answer inside the change": (
        ["C F", "C"],
        "off-beats",
        "4/4",
        "1/2:0 3/2:0 5/2:1 7/2:1 4:2 9/2:2 11/2:2 13/2:2 15/2:2",
    ),
    "two-beat answers on two and four": (["C F", "C"], "two-beat", "4/4", "1:0 3:1 4:2 5:2 7:2"),
    "two-beat, a change that gets no two or four is struck": (["C F G C"], "two-beat", "4/4", "0:0 1:1 2:2 3:3"),
    "a change on the and is struck on the and": (["C &F / / /"], "quarters", "4/4", "0:0 1/2:1 1:1 2:1 3:1"),
    "and in an off-beat feel": (["C / &F / /"], "two-beat", "4/4", "1:0 3/2:1 3:1"),
    "waltz, a change on two": (["C F /", "C"], "waltz", "3/4", "0:0 1:1 2:1 3:2 4:2 5:2"),
    "six-eight, a change on two": (["C F"], "six-eight lilt", "6/8", "0:0 1:0 3/2:1 5/2:1"),
    "six-eight, a change on the third eighth": (["C &F /"], "two in a bar", "6/8", "0:0 1:1 3/2:1"),
    "five in a bar": (["C / / F /"], "quarters", "5/4", "0:0 1:0 2:0 3:1 4:1"),
    "held: one attack for each change": (["C F", "/ / G /"], "held", "4/4", "0:0 2:1 6:2"),
    "a bar in which the chord goes on": (["C", "/ / / /"], "ballad", "4/4", "0:0 2:0 4:0 6:0"),
    "the last change is struck at its place": (
        ["C", "F"],
        "off-beats",
        "4/4",
        "1/2:0 3/2:0 5/2:0 7/2:0 4:1 9/2:1 11/2:1 13/2:1 15/2:1",
    ),
    "push: an eighth early, and not again on the beat": (
        ["C", "F (push)"],
        "quarters",
        "4/4",
        "0:0 1:0 2:0 3:0 7/2:1 5:1 6:1 7:1",
    ),
    "push inside a bar": (["C F (push)"], "quarters", "4/4", "0:0 1:0 3/2:1 3:1"),
    "push where two attacks are all there is": (["C", "F (push)"], "ballad", "4/4", "0:0 2:0 7/2:1 4:1 6:1"),
    "push in compound time: the third eighth": (["C F (push)"], "six-eight lilt", "6/8", "0:0 1:1 5/2:1"),
    "no push at the very beginning": (["C (push)"], "quarters", "4/4", "0:0 1:0 2:0 3:0"),
    "no push after a hold": (["C (hold)", "F (push)"], "quarters", "4/4", "0:0 4:1 5:1 6:1 7:1"),
    "late: an eighth late": (["C", "F (late)"], "quarters", "4/4", "0:0 1:0 2:0 3:0 9/2:1 5:1 6:1 7:1"),
    "hold: one attack": (["C (hold)", "F"], "quarters", "4/4", "0:0 4:1 5:1 6:1 7:1"),
    "break: one attack and silence": (["C (break)", "F"], "quarters", "4/4", "0:0 4:1 5:1 6:1 7:1"),
    "tacet: silence": (["C (tacet)", "F"], "quarters", "4/4", "4:1 5:1 6:1 7:1"),
    "no chord: silence": (["C N.C.", "F"], "quarters", "4/4", "0:0 1:0 4:2 5:2 6:2 7:2"),
    "ritard thins to quarters": (["C (rit.)", "F (a tempo)"], "three-three-two", "4/4", "0:0 3/2:0 3:0 4:1 11/2:1 7:1"),
    "and eighths to quarters": (["C (rit.)", "F"], "straight eighths", "4/4", "0:0 1:0 2:0 3:0 4:1 5:1 6:1 7:1"),
    "a breath: silence before what follows": (
        ["C (breath)", "F"],
        "straight eighths",
        "4/4",
        "0:0 1/2:0 1:0 3/2:0 2:0 5/2:0 3:0 4:1 9/2:1 5:1 11/2:1 6:1 13/2:1 7:1 15/2:1",
    ),
}


@pytest.mark.parametrize(("bars", "feel", "meter", "expected"), WRITTEN.values(), ids=WRITTEN.keys())
def test_onsets_by_hand(bars: list[str], feel: str, meter: str, expected: str) -> None:
    # A dry room and a slow tempo: nothing is thinned.
    arrangement = arranged(song(*bars, feel=feel, meter=meter, tempo="60"), room=0.4)
    found = {note.position: note.change for note in arrangement.levels[2]}
    assert " ".join(f"{place}:{change}" for place, change in found.items()) == expected


def test_a_hold_fills_its_change() -> None:
    notes = arranged(song("C (hold)", "F")).levels[2]
    longest = max(note.length for note in notes if note.change == 0)
    assert longest == 4


def test_a_break_is_short() -> None:
    notes = arranged(song("C (break)", "F")).levels[2]
    assert {note.length for note in notes if note.change == 0} == {Fraction(1, 2)}


def test_a_breath_leaves_half_a_beat() -> None:
    notes = arranged(song("C (breath)", "F", feel="held")).levels[2]
    assert max(note.position + note.length for note in notes if note.change == 0) == Fraction(7, 2)


def test_a_pickup_is_the_end_of_a_bar() -> None:
    route = song("G", "C", "F", feel="three-three-two", header="pickup = 2")
    assert route.bars[0].length == 2
    # The pickup has beats three and four of a bar whose cell strikes 0, 3/2 and 3: its first place is struck too.
    assert onsets(arranged(route))[:3] == [0, 1, 2]


SECTIONS = """
title = Out and in
key = C
tempo = 92
feel = quarters

== Roadmap ==
Verse
Chorus   out
Verse    fuller
Chorus   thinner, thinner, feel held
Verse    manuals only, up a tone

== Verse ==
| C | F |

== Chorus ==
| G7 | C |
"""


def test_a_section_that_is_out_is_silent() -> None:
    arrangement = arranged(route_of(SECTIONS))
    for bar in arrangement.route.bars:
        assert bool(notes_in(arrangement, bar)) is not bar.out


def test_each_bar_adds_its_own_steps_and_stays_between_bare_and_full() -> None:
    arrangement = arranged(route_of(SECTIONS))
    for asked in (1, 2, 3, 4):
        for bar in arrangement.route.bars:
            levels = {note.fullness for note in notes_in(arrangement, bar, asked)}
            assert levels <= {min(4, max(1, asked + bar.fullness))}


def test_a_feel_in_the_roadmap_holds_for_its_step() -> None:
    arrangement = arranged(route_of(SECTIONS))
    held = next(bar for bar in arrangement.route.bars if bar.feel == "held")
    assert {note.position for note in notes_in(arrangement, held)} == {held.position}


def test_where_the_pedal_is_silent_the_figure_has_the_roots() -> None:
    arrangement = arranged(route_of(SECTIONS))
    for bar in arrangement.route.bars[-2:]:
        change = arrangement.route.changes[bar.changes[0]]
        assert change.root in {note.pitch % 12 for note in notes_in(arrangement, bar)}


def test_a_feel_asked_for_holds_everywhere() -> None:
    arrangement = arrange(song("C", "F", feel="straight eighths"), feel="held")
    assert onsets(arrangement) == [0, 4]


@pytest.mark.parametrize("feel", ["waltz", "no such feel"])
def test_a_feel_that_does_not_fit_falls_back(feel: str) -> None:
    fallen, plain = arrange(song("C", "F", feel=feel)), arrange(song("C", "F"))
    assert fallen.levels == plain.levels


PHRASE = """
title = Ends and ritards
key = C
meter = {meter}
tempo = quarter 60
feel = {feel}

== Roadmap ==
Verse
Verse    rit.

== Verse ==
| C | F | G | C |
"""


def bars_of(feel: str, meter: str = "4/4", fullness: int = 2) -> list[str]:
    """The onsets of each bar, in quarter notes from its start."""
    arrangement = arranged(route_of(PHRASE.format(feel=feel, meter=meter)), room=0.3)
    return [
        " ".join(
            str(place)
            for place in sorted({note.position - bar.position for note in notes_in(arrangement, bar, fullness)})
        )
        for bar in arrangement.route.bars
    ]


def test_a_section_ends_with_its_feels_own_cell_from_fullness_2() -> None:
    """The last bar of a shuffle leaves out its last off-beat; the last two bars of a step marked rit. are quarters."""
    swung, short = "0 2/3 1 5/3 2 8/3 3 11/3", "0 2/3 1 5/3 2 8/3 3"
    assert bars_of("shuffle") == [swung, swung, swung, short, swung, swung, "0 1 2 3", "0 1 2 3"]
    assert bars_of("shuffle", fullness=1)[3] == "0 1 2 3"


def test_a_feel_may_have_a_cell_of_its_own_for_a_ritard() -> None:
    """A siciliana leaves out its sixteenth; a habanera keeps its beats."""
    assert bars_of("siciliana", "6/8")[5:] == ["0 3/4 1 3/2 9/4 5/2", "0 1 3/2 5/2", "0 1 3/2 5/2"]
    assert bars_of("habanera", "2/4")[5:] == ["0 3/4 1 3/2", "0 1", "0 1"]


def own(**words: str) -> Feels:
    """A feel of one's own called "mine": short eighths, and what is said of it."""
    rules = "\n".join(f'{word} = "{said}"' for word, said in words.items())
    rows = "\n".join(f"{level} = {{ voices = 3, light = 2 }}" for level in (1, 2, 3, 4))
    text = (
        'name = "mine"\nabout = "eighths"\nmeters = ["4/4"]\ngrid = "eighth"\ntouch = "legato"\n'
        f'cell = "xxxx"\nweight = ">.-."\n{rules}\n[fullness]\n{rows}\n'
    )
    return feels_from({"mine.toml": text})


# What the rule says, and the onsets of the last two bars of a step marked rit.
RITARDS = {
    "quarters": ("0 1 2 3", "0 1 2 3"),
    "held": ("0", "0"),
    "go on": ("0 1/2 1 3/2 2 5/2 3 7/2", "0 1/2 1 3/2 2 5/2 3 7/2"),
    "x-x.": ("0 1 2 3", "0 1 2 3"),
    "xx--": ("0 1/2 2 5/2", "0 1/2 2 5/2"),
}


@pytest.mark.parametrize(("rule", "bars"), RITARDS.items(), ids=RITARDS.keys())
def test_what_is_left_in_a_ritard(rule: str, bars: tuple[str, str]) -> None:
    route = route_of(PHRASE.format(feel="mine", meter="4/4"))
    arrangement = arrange(route, feels=own(ritard=rule), room=0.3, variety=False)
    for bar, onsets_there in zip(route.bars[6:], bars, strict=True):
        places = sorted({note.position - bar.position for note in notes_in(arrangement, bar)})
        assert " ".join(map(str, places)) == onsets_there


def test_a_ritard_over_a_chord_that_is_already_there() -> None:
    """The chord of three bars is struck once more where a held ritard comes over its last two, and stays to the end."""
    text = PHRASE.format(feel="mine", meter="4/4").replace("| G | C |", "| / / / / | / / / / |")
    arrangement = arrange(route_of(text), feels=own(ritard="held"), room=0.3, variety=False)
    assert onsets(arrangement)[-2:] == [Fraction(47, 2), 24]
    assert max(note.length for note in arrangement.notes_at(2, Fraction(24))) == 8


def test_a_lift_lets_the_last_chord_come_up_half_a_beat_early() -> None:
    """A ballad: the last chord of the section stands on three and is over half a beat before the next section."""
    arrangement = arranged(route_of(PHRASE.format(feel="ballad", meter="4/4")), room=0.3)
    bar = arrangement.route.bars[3]
    last = [note for note in notes_in(arrangement, bar) if note.position == bar.position + 2]
    assert last
    assert all(note.position + note.length <= bar.end - Fraction(1, 2) for note in last)
    before = [note for note in notes_in(arrangement, arrangement.route.bars[0]) if note.position == 2]
    assert max(note.length for note in before) > max(note.length for note in last)


def test_a_section_of_one_bar_has_no_last_bar() -> None:
    assert len(onsets(arranged(song("C", feel="shuffle", tempo="60"), room=0.1))) == 8


def test_a_bar_keeps_two_attacks_where_a_push_and_the_room_leave_it_one() -> None:
    """2/4 at 120 in a live room: the pushed chord has left the beat, and the off-beats are too near to be carried."""
    arrangement = arranged(song("G /", "C (push) /", feel="shuffle", meter="2/4", tempo="120"), room=4.0)
    for fullness in (2, 3, 4):
        for bar in arrangement.route.bars:
            assert len({note.position for note in notes_in(arrangement, bar, fullness)}) >= 2


def test_fuller_means_more() -> None:
    arrangement = arranged(song("C", "Am", "F", "G7", feel="straight eighths"))
    sizes = [len(arrangement.levels[fullness]) for fullness in (1, 2, 3, 4)]
    assert sizes == sorted(sizes)
    assert sizes[0] < sizes[1] < sizes[2]


def test_eighths_thin_to_quarters_where_the_room_would_blur_them() -> None:
    """An eighth at 200 is 150 ms; a tenth of 1.8 s is 180 ms."""
    assert onsets(arrange(song("C", "C", tempo="200", feel="straight eighths"), room=1.8, variety=False))[:4] == [
        0,
        1,
        2,
        3,
    ]
    assert onsets(arrange(song("C", "C", tempo="200", feel="straight eighths"), room=1.0, variety=False))[
        1
    ] == Fraction(1, 2)


def test_no_action_is_asked_for_more_than_eight_strokes_a_second() -> None:
    """Cap of our own choice; an organist's fastest is said to be twice that."""
    arrangement = arrange(song("C", "F", "G", "C", tempo="300", feel="straight eighths"), room=0.3)
    for fullness in (1, 2, 3, 4):
        places = onsets(arrangement, fullness)
        assert all((after - before) * 60 / 300 >= Fraction(1, 8) for before, after in pairwise(places))


def test_the_tempo_asked_for_counts_and_not_the_chart() -> None:
    slow, fast = song("C", "C", tempo="80"), song("C", "C", tempo="200")
    assert onsets(arrange(slow, tempo=200)) == onsets(arrange(fast))


def test_arranging_twice_gives_the_same() -> None:
    one, other = arrange(route_of(SECTIONS), seed=3), arrange(route_of(SECTIONS), seed=3)
    assert one.levels == other.levels
    assert one.voicings == other.voicings


def test_a_lift_moves_the_chords_and_not_the_hand() -> None:
    route = route_of(SECTIONS)
    for lift in (-3, 1, 2, 11):
        lifted = arrange(route, lift=lift)
        assert faults(lifted) == []
        assert lifted.lift == lift
        assert onsets(lifted) == onsets(arrange(route))
