"""Feels: what the files hold, what is said about a file that cannot be read, and one bar of each written out by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from charts.meter import Meter, read_meter
from liveassist.arranging.arrange import arrange
from liveassist.arranging.feel_files import FeelError, read_feel
from liveassist.arranging.feels import default_feel, feel_for, find_feel, load_feels, with_own
from tests.arranging.routes import onsets, route_of, song

METERS = ("4/4", "2/2", "3/4", "6/8", "12/8", "2/4", "5/4", "9/8", "7/8", "3/8", "4/2", "3/2", "6/4")


def test_every_feel_is_written_out_here_by_hand() -> None:
    assert set(WORKED) == set(load_feels())
    assert len(WORKED) >= 24


@pytest.mark.parametrize("meter", ["4/4", "2/2", "3/4", "6/8", "9/8", "12/8", "5/4"])
def test_each_of_the_usual_meters_has_at_least_two_feels_of_its_own(meter: str) -> None:
    assert sum(meter in feel.meters for feel in load_feels().values()) >= 2


def test_some_are_swung_and_most_are_straight() -> None:
    swung = {name for name, feel in load_feels().items() if feel.swing != 1}
    assert {"shuffle", "charleston", "jazz waltz", "four to the bar"} <= swung
    assert len(swung) < len(load_feels()) / 2


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


def test_a_feel_that_does_not_fit_falls_back() -> None:
    assert feel_for("waltz", Meter(4, 4)) == default_feel(Meter(4, 4))
    assert feel_for("no such feel", Meter(5, 4)).name == "quarters"
    assert feel_for(None, Meter(6, 8)).name == "six-eight lilt"


EIGHTHS = ["0", "1/2", "1", "3/2", "2", "5/2", "3", "7/2", "4", "9/2", "5", "11/2"]


def eighths(count: int) -> str:
    """So many even eighths, each as long as an eighth."""
    return " ".join(f"{place}:1/2" for place in EIGHTHS[:count])


# One full bar at fullness 2 and a quarter of 60, by hand: each attack and its written value, in quarter notes. At 60 swung
# pairs are two to one. Common practice, no source.
WORKED = {
    "after-beats": ("6/8", "1/2:1/2 1:1/2 2:1/2 5/2:1/2"),
    "anthem": ("4/4", "0:3/4 3/4:3/4 3/2:1 5/2:3/4 13/4:3/4"),
    "backbeat": ("4/4", "0:1 1:1 2:1 3:1"),
    "ballad": ("4/4", "0:2 2:2"),
    "broad three": ("3/2", "0:2 2:2 4:2"),
    "charleston": ("4/4", "0:5/3 5/3:1"),
    "flowing five": ("5/4", eighths(10)),
    "flowing four": ("4/4", eighths(8)),
    "flowing three": ("3/4", eighths(6)),
    "four to the bar": ("4/4", "0:2/3 1:2/3 2:2/3 3:2/3"),
    "gospel two": ("2/2", "1:1 3:1/2 7/2:1/2"),
    "habanera": ("2/4", "0:3/4 3/4:1/4 1:1/2 3/2:1/2"),
    "half-time": ("4/4", "0:2 2:1 3:1"),
    "held": ("4/4", "0:4"),
    "jazz waltz": ("3/4", "0:5/3 5/3:4/3"),
    "jig": ("6/8", eighths(6)),
    "lullaby": ("3/4", "0:2 2:1"),
    "march": ("2/4", "0:1 1:3/4 7/4:1/4"),
    "nine-eight lilt": ("9/8", "0:1 1:1/2 3/2:1 5/2:1/2 3:1 4:1/2"),
    "off-beats": ("4/4", "1/2:1/2 3/2:1/2 5/2:1/2 7/2:1/2"),
    "quarters": ("4/4", "0:1 1:1 2:1 3:1"),
    "rolling nine": ("9/8", eighths(9)),
    "rolling six": ("6/8", eighths(6)),
    "rolling twelve": ("12/8", eighths(12)),
    "sarabande": ("3/4", "0:1 1:2"),
    "shuffle": ("4/4", "0:2/3 2/3:1/3 1:2/3 5/3:1/3 2:2/3 8/3:1/3 3:2/3 11/3:1/3"),
    "shuffled sixteenths": ("4/4", "0:5/6 5/6:1/6 1:5/6 11/6:1/6 2:5/6 17/6:1/6 3:5/6 23/6:1/6"),
    "siciliana": ("6/8", "0:3/4 3/4:1/4 1:1/2 3/2:3/4 9/4:1/4 5/2:1/2"),
    "six-eight lilt": ("6/8", "0:1 1:1/2 3/2:1 5/2:1/2"),
    "six-four sway": ("6/4", "0:2 2:1 3:2 5:1"),
    "slow twelve": ("12/8", eighths(12)),
    "straight eighths": ("4/4", eighths(8)),
    "three and two": ("5/4", "0:3/2 3/2:3/2 3:1 4:1"),
    "three in a bar": ("9/8", "0:3/2 3/2:3/2 3:3/2"),
    "three-three-two": ("4/4", "0:3/2 3/2:3/2 3:1"),
    "twelve-eight lilt": ("12/8", "0:1 1:1/2 3/2:1 5/2:1/2 3:1 4:1/2 9/2:1 11/2:1/2"),
    "two in a bar": ("6/8", "0:3/2 3/2:3/2"),
    "two-beat": ("4/4", "1:1 3:1"),
    "two-two-three": ("7/8", "0:1 1:1 2:3/2"),
    "waltz": ("3/4", "1:1 2:1"),
}


def written(bar: str) -> list[tuple[Fraction, Fraction]]:
    return [(Fraction(place), Fraction(value)) for place, value in (each.split(":") for each in bar.split())]


@pytest.mark.parametrize(("name", "meter", "bar"), [(name, *row) for name, row in WORKED.items()], ids=WORKED.keys())
def test_one_bar_written_out_by_hand(name: str, meter: str, bar: str) -> None:
    # Two bars, because the last bar of a section may be another; a very dry room, because a live one thins.
    route = song("C", "F", feel=name, meter=meter, tempo="quarter 60")
    found = [place for place in onsets(arrange(route, room=0.1, variety=False)) if place < route.bars[0].end]
    assert found == [place for place, _ in written(bar)]


@pytest.mark.parametrize(("name", "meter", "bar"), [(name, *row) for name, row in WORKED.items()], ids=WORKED.keys())
def test_its_values_by_hand(name: str, meter: str, bar: str) -> None:
    feel = load_feels()[name]
    attacks = feel.attacks(read_meter(meter), 2, quarter_bpm=60)
    values = [(attack.offset, attack.value) for attack in attacks]
    assert values == ([] if feel.held else written(bar))  # a held feel's attacks are as long as the changes


# The last bar of a section at fullness 2, likewise, for those that end otherwise than they go on.
ENDINGS = {
    "anthem": ("4/4", "0 3/4 3/2 5/2"),
    "charleston": ("4/4", "0 5/3 3"),
    "flowing five": ("5/4", "0 1/2 1 3/2 2 5/2 3"),
    "flowing four": ("4/4", "0 1/2 1 3/2 2"),
    "gospel two": ("2/2", "1 3"),
    "habanera": ("2/4", "0 3/4 1"),
    "half-time": ("4/4", "0 2"),
    "jig": ("6/8", "0 1/2 1 3/2"),
    "march": ("4/4", "0 1 7/4 2 3"),
    "nine-eight lilt": ("9/8", "0 1 3/2 5/2 3"),
    "rolling nine": ("9/8", "0 1/2 1 3/2 2 5/2 3"),
    "rolling six": ("6/8", "0 1/2 1 3/2"),
    "rolling twelve": ("12/8", "0 1/2 1 3/2 2 5/2 3"),
    "shuffle": ("4/4", "0 2/3 1 5/3 2 8/3 3"),
    "shuffled sixteenths": ("4/4", "0 5/6 1 11/6 2 17/6 3"),
    "siciliana": ("6/8", "0 3/4 1 3/2 5/2"),
    "six-eight lilt": ("6/8", "0 1 3/2"),
    "slow twelve": ("12/8", "0 1/2 1 3/2 2 5/2 3 7/2 4 9/2"),
    "twelve-eight lilt": ("12/8", "0 1 3/2 5/2 3 4 9/2"),
}


@pytest.mark.parametrize(("name", "meter", "bar"), [(name, *row) for name, row in ENDINGS.items()], ids=ENDINGS.keys())
def test_the_last_bar_of_a_section_by_hand(name: str, meter: str, bar: str) -> None:
    route = route_of(
        f"title = Song\nkey = C\nmeter = {meter}\ntempo = quarter 60\nfeel = {name}\n\n"
        "== Verse ==\n| C | F |\n\n== Ending ==\n| C |\n"
    )
    begins, ends = route.bars[1].position, route.bars[1].end
    found = [place - begins for place in onsets(arrange(route, room=0.1, variety=False)) if begins <= place < ends]
    assert found == [Fraction(place) for place in bar.split()]


def test_no_other_feel_ends_with_another_rhythm() -> None:
    changing = {name for name, feel in load_feels().items() if feel.ending not in ("go on", "lift")}
    alike = {"four to the bar"}  # the same places, the last chord longer
    assert changing == set(ENDINGS) | alike


def test_quarters_follow_the_counted_beat() -> None:
    nine = load_feels()["quarters"].attacks(Meter(9, 8), 2)
    assert [attack.offset for attack in nine] == [0, Fraction(3, 2), 3]
    six = load_feels()["quarters"].attacks(Meter(6, 8, by_unit=True), 2)
    assert len(six) == 6


@pytest.mark.parametrize("name", sorted(load_feels()))
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
    "nested too deep": ("name", "x = " + "[" * 5000 + "\nname", ["quay.toml", "recursion"]),
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


def test_everything_wrong_with_a_file_is_told_at_once() -> None:
    broken = GOOD.replace('"short"', '"crisp"').replace('">.-."', '">.-"').replace("voices = 2", "voices = 1")
    with pytest.raises(FeelError) as caught:
        read_feel(broken + "\n[mood]\n", "quay.toml")
    lines = str(caught.value).splitlines()
    assert [line.split(": ")[1] for line in lines] == ["mood", "touch", "weight", "fullness.1.voices"]
    assert all(line.startswith("quay.toml: ") for line in lines)
    assert len(caught.value.problems) == 4


RULES = {
    "a word that is no ending": ('ending = "stop"', ["ending", "stop", "lift", "cell"]),
    "an ending of another length": ('ending = "x-x-x-x-"', ["ending", "8 signs", "4"]),
    "an ending with one attack": ('ending = "...x"\nmeters = ["2/4"]', ["ending", "2/4", "two attacks"]),
    "a word that is no ritard": ('ritard = "slow"', ["ritard", "slow", "quarters", "held", "cell"]),
    "a ritard that holds nothing": ('ritard = "-x--"', ["ritard", "follows an x"]),
    "variety in words": ('variety = "no"', ["variety", "true or false"]),
    "a swing in words": ('swing = "lazy"', ["swing", "lazy", "by tempo"]),
}


@pytest.mark.parametrize(("line", "told"), RULES.values(), ids=RULES.keys())
def test_rules_that_do_not_fit_are_told(line: str, told: list[str]) -> None:
    text = GOOD.replace('meters = ["4/4"]\n', "") if "meters" in line else GOOD
    with pytest.raises(FeelError) as caught:
        read_feel(text.replace('touch = "short"', f'touch = "short"\n{line}'), "quay.toml")
    for words in ["quay.toml", *told]:
        assert words in str(caught.value)


def test_rules_may_be_left_out() -> None:
    feel = read_feel(GOOD)
    assert (feel.ending, feel.ritard, feel.variety, feel.swing) == ("go on", "quarters", True, 1)


def test_two_to_five_voices_are_allowed() -> None:
    assert read_feel(GOOD.replace("4 = { voices = 4", "4 = { voices = 5")).rows[4].voices == 5


def test_ones_own_feels_come_before_those_of_the_tool() -> None:
    own = read_feel(GOOD.replace('"test"', '"shuffle"').replace("[fullness]", 'default = ["4/4"]\n[fullness]'))
    known = with_own([own])
    assert find_feel("Shuffle", known) == own
    assert default_feel(Meter(4, 4), known) == own
    assert default_feel(Meter(6, 8), known).name == "six-eight lilt"
    assert find_feel("shuffle") != own


def test_swing_stretches_the_first_of_each_pair() -> None:
    swung = read_feel(GOOD.replace('touch = "short"', 'touch = "short"\nswing = "3:2"').replace('"x-x-"', '"xxxx"'))
    assert [attack.offset for attack in swung.attacks(Meter(4, 4), 2)][:4] == [
        0,
        Fraction(3, 5),
        1,
        Fraction(8, 5),
    ]
