"""Feels: what the files hold, what is said about a file that cannot be read, and one bar of each written out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.meter import Meter, read_meter
from liveassist.arranging.arrange import arrange
from liveassist.arranging.feels import (
    FeelError,
    default_feel,
    feel_for,
    find_feel,
    load_feels,
    read_feel,
)
from tests.arranging.routes import onsets, song

NAMES = (
    "held",
    "quarters",
    "straight eighths",
    "off-beats",
    "two-beat",
    "three-three-two",
    "half-time",
    "ballad",
    "waltz",
    "flowing three",
    "six-eight lilt",
    "two in a bar",
    "slow twelve",
    "twelve-eight lilt",
    "shuffle",
)
METERS = ("4/4", "2/2", "3/4", "6/8", "12/8", "2/4", "5/4", "9/8", "7/8", "3/8", "4/2", "3/2", "6/4")


def test_every_promised_feel_is_there() -> None:
    assert set(NAMES) <= set(load_feels())


@pytest.mark.parametrize("name", ["Straight Eighths", "  straight   eighths "])
def test_capitals_and_spaces_make_no_difference(name: str) -> None:
    found = find_feel(name)
    assert found is not None
    assert found.name == "straight eighths"


@pytest.mark.parametrize("meter", METERS)
def test_held_and_quarters_fit_any_meter(meter: str) -> None:
    assert load_feels()["held"].fits(read_meter(meter))
    assert load_feels()["quarters"].fits(read_meter(meter))
    assert default_feel(read_meter(meter)).fits(read_meter(meter))


@pytest.mark.parametrize("meter", ["4/4", "2/2", "3/4", "6/8", "12/8"])
def test_the_usual_meters_have_feels_of_their_own(meter: str) -> None:
    own = [feel for feel in load_feels().values() if meter in feel.meters]
    assert own, meter


def test_a_feel_that_does_not_fit_falls_back() -> None:
    assert feel_for("waltz", Meter(4, 4)) == default_feel(Meter(4, 4))
    assert feel_for("no such feel", Meter(5, 4)).name == "quarters"
    assert feel_for(None, Meter(6, 8)).name == "six-eight lilt"


# One full bar at fullness 2, its onsets counted out by hand in quarter notes. Common practice, no source.
WORKED = {
    "held": ("4/4", "0"),
    "quarters": ("4/4", "0 1 2 3"),
    "straight eighths": ("4/4", "0 1/2 1 3/2 2 5/2 3 7/2"),
    "off-beats": ("4/4", "1/2 3/2 5/2 7/2"),
    "two-beat": ("4/4", "1 3"),
    "three-three-two": ("4/4", "0 3/2 3"),
    "half-time": ("4/4", "0 2 3"),
    "ballad": ("4/4", "0 2"),
    "waltz": ("3/4", "1 2"),
    "flowing three": ("3/4", "0 1/2 1 3/2 2 5/2"),
    "six-eight lilt": ("6/8", "0 1 3/2 5/2"),
    "two in a bar": ("6/8", "0 3/2"),
    "slow twelve": ("12/8", "0 1/2 1 3/2 2 5/2 3 7/2 4 9/2 5 11/2"),
    "twelve-eight lilt": ("12/8", "0 1 3/2 5/2 3 4 9/2 11/2"),
    "shuffle": ("4/4", "0 2/3 1 5/3 2 8/3 3 11/3"),
}


@pytest.mark.parametrize("name", NAMES)
def test_one_bar_written_out_by_hand(name: str) -> None:
    meter, written = WORKED[name]
    route = song("C", "F", feel=name, meter=meter, tempo="60")
    expected = [Fraction(place) for place in written.split()]
    found = [place for place in onsets(arrange(route, room=0.5, variety=False)) if place < route.bars[0].end]
    assert found == expected


def test_quarters_follow_the_counted_beat() -> None:
    nine = load_feels()["quarters"].attacks(Meter(9, 8), 2)
    assert [attack.offset for attack in nine] == [0, Fraction(3, 2), 3]
    six = load_feels()["quarters"].attacks(Meter(6, 8, by_unit=True), 2)
    assert len(six) == 6


@pytest.mark.parametrize("name", NAMES)
def test_fuller_is_never_thinner(name: str) -> None:
    rows = load_feels()[name].rows
    for thin, full in ((1, 2), (2, 3), (3, 4)):
        assert rows[thin].voices <= rows[full].voices
        assert rows[thin].cell.count("x") <= rows[full].cell.count("x")


GOOD = """
name = "test"
about = "for this test"
meters = ["4/4"]
grid = "eighth"
touch = "short"
cell = "x-x-"
weight = ">.-."
[fullness]
1 = { voices = 2, light = 2 }
2 = { voices = 3, light = 2 }
3 = { voices = 4, light = 2 }
4 = { voices = 4, light = 3 }
"""

WRONG = {
    "no TOML": ("name", "name name", ["quay.toml", "line"]),
    "an unknown word": ('touch = "short"', 'tuch = "short"', ["tuch", "touch"]),
    "a word left out": ('touch = "short"\n', "", ["touch", "missing"]),
    "an unknown grid": ('"eighth"', '"eights"', ["grid", "eights", "sixteenth, eighth"]),
    "an unknown touch": ('"short"', '"crisp"', ["touch", "crisp", "detached"]),
    "a stray sign": ('"x-x-"', '"x-X-"', ["cell", "x-X-", "x - ."]),
    "no attack": ('"x-x-"', '"...."', ["cell", "no attack"]),
    "a hold from nowhere": ('"x-x-"', '"-xx-"', ["cell", "-xx-", "follows an x"]),
    "rows of different length": ('">.-."', '">.-"', ["weight", "3 signs", "4"]),
    "a cell that does not fill the bar": ('["4/4"]', '["3/4"]', ["meters", "3/4", "does not fill"]),
    "a meter that is none": ('["4/4"]', '["four"]', ["meters", "four", "4/4"]),
    "any meter on a fixed grid": ('["4/4"]', '["any"]', ["meters", "any", "eighth"]),
    "too many voices": ("4 = { voices = 4", "4 = { voices = 6", ["fullness.4.voices", "6", "2, 3, 4 or 5"]),
    "a fullness left out": ("4 = { voices = 4, light = 3 }", "", ["fullness", "1, 2, 3, 4"]),
    "voices in words": ("voices = 3", 'voices = "three"', ["fullness.2.voices", "three", "whole number"]),
    "a swing that is none": ('touch = "short"', 'touch = "short"\nswing = "2"', ["swing", "2:1"]),
    "capitals in the name": ('"test"', '"Test"', ["name", "Test", "small letters"]),
    "a default that is no meter of it": ('touch = "short"', 'touch = "short"\ndefault = ["2/4"]', ["default", "4/4"]),
}


def test_the_model_of_these_cases_reads() -> None:
    assert read_feel(GOOD).attacks(Meter(4, 4), 2)[1].offset == 1


@pytest.mark.parametrize(("old", "new", "told"), WRONG.values(), ids=WRONG.keys())
def test_what_cannot_be_read_is_told_with_file_field_value_and_what_fits(old: str, new: str, told: list[str]) -> None:
    assert old in GOOD
    with pytest.raises(FeelError) as caught:
        read_feel(GOOD.replace(old, new, 1), "quay.toml")
    for words in ["quay.toml", *told]:
        assert words in str(caught.value)


def test_from_fullness_2_up_a_bar_has_two_attacks() -> None:
    once = GOOD.replace('"x-x-"', '"x-------"').replace('">.-."', '">......."')
    with pytest.raises(FeelError, match=r"fullness\.2: a bar of 4/4 gets fewer than two attacks"):
        read_feel(once, "quay.toml")


def test_light_attacks_have_no_more_voices_than_the_others() -> None:
    with pytest.raises(FeelError, match=r"fullness\.2\.light: 4 does not fit; 2 to 3"):
        read_feel(GOOD.replace("voices = 3, light = 2", "voices = 3, light = 4"), "quay.toml")


def test_swing_stretches_the_first_of_each_pair() -> None:
    swung = read_feel(GOOD.replace('touch = "short"', 'touch = "short"\nswing = "3:2"').replace('"x-x-"', '"xxxx"'))
    assert [attack.offset for attack in swung.attacks(Meter(4, 4), 2)][:4] == [
        0,
        Fraction(3, 5),
        1,
        Fraction(8, 5),
    ]
