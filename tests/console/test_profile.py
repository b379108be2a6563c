"""The console profile. Channels 1-16, keys and numbers 0-127 are MIDI 1.0's; compasses: 61 keys 36-96, 32 pedals 36-67
(AGO/RCO pedalboard, C to g')."""

from __future__ import annotations

from contextlib import suppress
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from liveassist.arranging.arrangement import BASS
from liveassist.band.nods import NODS
from liveassist.console.instrument import (
    ASKS,
    OUTPUT_PARTS,
    PAGE_KEYS,
    SILENCERS,
    UNITS,
    WAYS,
    Division,
    Part,
    Profile,
    Shoe,
    Switch,
    contradictions,
    with_bass_part,
)
from liveassist.console.profile import PLAIN, ProfileError, cautions, read_profile, write_profile
from liveassist.errors import PlayerError

CONSOLE = """
name = "House on the Quay"
velocity = 80

[divisions.melody]
port = "Console"
channel = 1

[divisions.pedal]
port = "Console"
channel = 4
compass = [36, 65]
cue_keys = [64, 65]

[parts.figure]
port = "Organ"
channel = 2
delay = 12

[parts.click]
port = "In-ears"
channel = 10
silencers = [123]

[[switches]]
what = "cue"
port = "Console"
channel = 4
control = 64
rest = "closed"

[[switches]]
what = "vamp"
channel = 16
program = 7
argument = 4

[page_turner]
pagedown = "cue"
pageup = "again"

[shoe]
port = "Console"
channel = 1
control = 11

[settings]
lead = "switch"
patience = 2
"""


def problems(text: str) -> tuple[str, ...]:
    with pytest.raises(ProfileError) as caught:
        read_profile(text, "quay.toml")
    assert isinstance(caught.value, PlayerError)
    return caught.value.problems


def test_the_plain_console() -> None:
    """The channels, switch and shoe that hold where no profile is given."""
    channels = {name: division.channel for name, division in PLAIN.divisions.items()}
    assert channels == {"melody": 1, "figure": 2, "pedal": 4, "drums": 10}
    assert {name: part.channel for name, part in PLAIN.parts.items()} == {"figure": 2}
    assert PLAIN.switches == (Switch(what="cue", by="control", number=64, channel=4),)
    assert PLAIN.shoe == Shoe(channel=1, control=11)
    assert PLAIN.divisions["melody"].compass == (36, 96)
    assert PLAIN.pedal_compass == (36, 67)
    assert not PLAIN.settings
    assert contradictions(PLAIN) == []
    assert cautions(PLAIN) == ()


def test_a_profile_is_read() -> None:
    profile = read_profile(CONSOLE)
    assert profile.name == "House on the Quay"
    assert profile.velocity == 80
    assert profile.divisions["melody"] == Division(port="Console", channel=1, compass=(36, 96))
    assert profile.divisions["pedal"] == Division(port="Console", channel=4, compass=(36, 65), cue_keys=(64, 65))
    assert profile.parts["figure"] == Part(port="Organ", channel=2, delay=12.0)
    assert profile.parts["click"].silencers == (123,)
    assert profile.switches[0].rest == "closed"
    assert profile.switches[1] == Switch(what="vamp", by="program", number=7, channel=16, argument=4)
    assert profile.page_turner == {"pagedown": "cue", "pageup": "again"}
    assert profile.settings == {"lead": "switch", "patience": "2"}
    assert profile.input_ports == ("Console", "")
    assert profile.output_ports == ("Organ", "In-ears")


def test_an_empty_file_is_a_console_without_anything() -> None:
    assert read_profile("") == Profile()
    assert cautions(Profile()) == ("there is no [parts.figure]: the figure sounds nowhere",)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param("x = ", "quay.toml: this is no TOML: ", id="no-toml"),
        pytest.param("x = " + "[" * 5000, "quay.toml: this is no TOML: ", id="nested-too-deep"),
        pytest.param(
            "speed = 3", 'speed: there is no "speed" here; I know name, velocity, divisions', id="unknown-name"
        ),
        pytest.param("velocity = 0", "velocity = 0: it takes a velocity from 1 to 127", id="velocity"),
        pytest.param("velocity = true", "velocity = true: it takes a velocity", id="true-is-no-number"),
        pytest.param("[divisions.swell]\nchannel = 1", "divisions.swell: there is no", id="unknown-division"),
        pytest.param(
            "[divisions.pedal]\nchannel = 17",
            "divisions.pedal.channel = 17: it takes a channel from 1 to 16",
            id="channel-17",
        ),
        pytest.param("[divisions.pedal]\nport = 'a'", 'divisions.pedal: "channel" is missing', id="no-channel"),
        pytest.param(
            "[divisions.pedal]\nchannel = 4\ncompass = [67, 36]",
            "divisions.pedal.compass = [67, 36]: it takes the lowest and the highest key",
            id="compass-upside-down",
        ),
        pytest.param("divisions = 3", "divisions = 3: these are tables, as in [divisions.melody]", id="no-table"),
        pytest.param("parts.figure = 3", "parts.figure = 3: this is a table, with port, channel", id="no-inner-table"),
        pytest.param(
            "[parts.figure]\nchannel = 2\nsilencers = [121]",
            "parts.figure.silencers = [121]: it takes a list of 120 (all sound off) and 123",
            id="reset-controllers-is-never-sent",
        ),
        pytest.param(
            "[parts.figure]\nchannel = 2\ndelay = -5", "delay = -5: it takes milliseconds from 0 to 500", id="delay"
        ),
        pytest.param("switches = 1", "begin each switch with a line [[switches]]", id="switches-no-list"),
        pytest.param(
            '[[switches]]\nwhat = "encore"\nchannel = 1\nnote = 1',
            'switches, number 1.what = "encore": it takes one of cue, ready,',
            id="unknown-nod",
        ),
        pytest.param(
            '[[switches]]\nwhat = "cue"\nchannel = 1',
            "switches, number 1: it needs one of control, note, program with its number, and has none",
            id="switch-without-a-message",
        ),
        pytest.param(
            '[[switches]]\nwhat = "cue"\nchannel = 1\nnote = 3\ncontrol = 4',
            "and has control and note",
            id="two-messages",
        ),
        pytest.param(
            '[[switches]]\nwhat = "again"\nchannel = 1\nnote = 3\nargument = 2',
            '"again" takes no argument',
            id="argument-for-nothing",
        ),
        pytest.param(
            '[[switches]]\nwhat = "again"\nchannel = 1\nnote = 3\nunit = "bar"', "a unit goes with a cue", id="unit"
        ),
        pytest.param('[page_turner]\nf13 = "cue"', 'page_turner.f13 = "cue": there is no "f13" here', id="unknown-key"),
        pytest.param("settings = 3", "settings = 3: this is a table", id="settings-no-table"),
        pytest.param('[settings]\nlead = "nose"', "lead takes one of feet, switch", id="unknown-lead"),
        pytest.param("[settings]\nvolume = 3", '"volume" is not a setting; I know lead', id="unknown-setting"),
    ],
)
def test_what_is_wrong_is_told_with_its_place_and_what_would_do(text: str, said: str) -> None:
    found = problems(text)
    assert len(found) == 1
    assert found[0].startswith("quay.toml: ")
    assert said in found[0]


def test_everything_wrong_is_told_at_once() -> None:
    found = problems('speed = 1\nvelocity = 200\n[parts.figure]\nchannel = 0\n[settings]\nlead = "nose"\nroom = 99')
    assert [
        part for problem in found for part in ("speed", "velocity", "channel", "lead", "room") if part in problem
    ] == [
        *("speed", "velocity", "velocity", "channel", "lead", "room"),
    ]


@pytest.mark.parametrize("part", OUTPUT_PARTS)
def test_no_part_may_sound_on_the_melody_manual(part: str) -> None:
    text = f'[divisions.melody]\nport = "Organ"\nchannel = 1\n[parts.{part}]\nport = "organ"\nchannel = 1'
    assert f"parts.{part} goes to channel 1, the melody manual: the band never sounds there" in problems(text)[0]


def test_the_melody_manuals_channel_on_another_port_is_worth_a_look() -> None:
    text = '[divisions.melody]\nport = "Console in"\nchannel = 1\n[parts.figure]\nport = "Console out"\nchannel = 1'
    (caution,) = cautions(read_profile(text))
    assert "if these are the same manual, give it another channel" in caution


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param(
            '[divisions.pedal]\nport = "O"\nchannel = 4\n[parts.click]\nport = "O"\nchannel = 4',
            "parts.click goes to channel 4, the pedal: a click must not end up in the nave",
            id="click-on-the-pedal",
        ),
        pytest.param(
            "[parts.figure]\nchannel = 2\n[parts.click]\nchannel = 2",
            "the click needs its own",
            id="click-with-the-figure",
        ),
        pytest.param(
            "[divisions.melody]\nchannel = 1\n[divisions.pedal]\nchannel = 1",
            "divisions.melody and divisions.pedal both come from channel 1",
            id="two-divisions-on-one-channel",
        ),
        pytest.param(
            '[[switches]]\nwhat="cue"\nchannel=1\nnote=3\n[[switches]]\nwhat="out"\nchannel=1\nnote=3',
            "two switches, cue and out, are both note 3 on channel 1",
            id="two-switches-on-one-message",
        ),
    ],
)
def test_what_does_not_go_together_is_refused(text: str, said: str) -> None:
    assert said in problems(text)[0]


def test_a_split_keyboard_may_be_two_divisions() -> None:
    text = "[divisions.pedal]\nchannel = 1\ncompass = [36, 55]\n[divisions.melody]\nchannel = 1\ncompass = [56, 96]"
    assert read_profile(text).divisions["melody"].compass == (56, 96)


# -- writing and reading ----------------------------------------------------------------------------------------------

TEXTS = st.text(st.characters(blacklist_categories=("Cs",)), max_size=12)
CHANNELS = st.integers(1, 16)
NUMBERS = st.integers(0, 127)
RANGES = st.tuples(NUMBERS, NUMBERS).map(lambda pair: (min(pair), max(pair)))
DIVISION = st.builds(Division, port=TEXTS, channel=CHANNELS, compass=RANGES, cue_keys=st.none() | RANGES)
PART = st.builds(
    Part,
    port=TEXTS,
    channel=CHANNELS,
    delay=st.floats(0, 500, allow_nan=False),
    silencers=st.sampled_from([(), (120,), (123,), SILENCERS]),
)
SWITCH = st.builds(
    Switch,
    what=st.sampled_from(ASKS),
    by=st.sampled_from(WAYS),
    number=NUMBERS,
    port=TEXTS,
    channel=CHANNELS,
    rest=st.sampled_from(("open", "closed")),
    latching=st.booleans(),
    argument=st.none() | NUMBERS,
    unit=st.sampled_from(("", *UNITS)),
).map(
    lambda switch: replace(
        switch,
        argument=switch.argument if switch.what != "cue" and NODS[switch.what].takes else None,
        unit=switch.unit if switch.what == "cue" else "",
    )
)
PROFILES = st.builds(
    Profile,
    name=TEXTS,
    divisions=st.dictionaries(st.sampled_from(("melody", "figure", "pedal", "drums")), DIVISION),
    parts=st.dictionaries(st.sampled_from(OUTPUT_PARTS), PART),
    switches=st.lists(SWITCH, max_size=3).map(tuple),
    page_turner=st.dictionaries(st.sampled_from(PAGE_KEYS), st.sampled_from(ASKS)),
    shoe=st.none() | st.builds(Shoe, port=TEXTS, channel=CHANNELS, control=NUMBERS),
    velocity=st.integers(1, 127),
    settings=st.fixed_dictionaries(
        {}, optional={"lead": st.sampled_from(["feet", "pulse"]), "tempo": st.floats(20, 400)}
    ),
)


@given(PROFILES)
def test_a_profile_written_and_read_is_the_same(profile: Profile) -> None:
    text = write_profile(profile)
    if contradictions(profile):
        assert problems(text)
    else:
        assert read_profile(text) == profile
        assert write_profile(read_profile(text)) == text


def test_the_plain_console_can_be_written_and_read() -> None:
    assert read_profile(write_profile(PLAIN)) == PLAIN
    assert read_profile(write_profile(read_profile(CONSOLE))) == read_profile(CONSOLE)


LINES = st.one_of(
    st.sampled_from(["[divisions.pedal]", "[parts.figure]", "[[switches]]", "[shoe]", "[page_turner]", "[settings]"]),
    st.builds(
        "{} = {}".format,
        st.sampled_from(
            ["port", "channel", "compass", "what", "note", "rest", "velocity", "lead", "space", "switches"]
        ),
        st.sampled_from(["0", "3", "-1", "1.5", "true", '"cue"', "[]", "[1, 2]", "{}", "1979-05-27", "nan"]),
    ),
)


@given(st.text() | st.lists(LINES, max_size=12).map("\n".join))
def test_no_text_breaks_the_reader(text: str) -> None:
    with suppress(ProfileError):
        read_profile(text)


def test_the_demo_console_is_read_and_nothing_in_it_is_worth_a_look() -> None:
    profile = read_profile((Path(__file__).parents[2] / "demo_charts" / "console.toml").read_text(encoding="utf-8"))
    assert cautions(profile) == ()
    assert {switch.what for switch in profile.switches} == {"cue", "again", "vamp", "close", "cut"}
    assert set(profile.parts) == {"figure", "click"}


def test_the_bass_never_goes_to_the_pedal_from_which_the_feet_are_heard() -> None:
    with pytest.raises(ProfileError) as caught:
        read_profile("[divisions.pedal]\nchannel = 4\n[parts.bass]\nchannel = 4\n", "hall.toml")
    assert "parts.bass goes to channel 4, the pedal from which your feet are heard" in str(caught.value)


def test_the_plain_console_gets_a_bass_only_when_asked() -> None:
    assert BASS not in PLAIN.parts
    asked = with_bass_part(PLAIN)
    assert asked.parts[BASS].channel not in {division.channel for division in PLAIN.divisions.values()}
    assert contradictions(asked) == []
    other = replace(PLAIN, name="hall")
    assert with_bass_part(other) is other
    assert "there is no [parts.bass]: the bass sounds nowhere" in cautions(other, bass=True)


# -- couplers ---------------------------------------------------------------------------------------------------------

COUPLED = """
[[couplers]]
pressed = "melody"
brings = "figure"

[[couplers]]
pressed = "pedal"
brings = "pedal"
shift = 12
"""


def test_couplers_are_read_and_written() -> None:
    profile = read_profile(COUPLED)
    assert [(item.pressed, item.brings, item.shift) for item in profile.couplers] == [
        ("melody", "figure", 0),
        ("pedal", "pedal", 12),
    ]
    assert read_profile(write_profile(profile)) == profile


@pytest.mark.parametrize(
    ("text", "said"),
    [
        pytest.param(
            '[[couplers]]\npressed = "swell"\nbrings = "figure"', "one of melody, figure, pedal", id="unknown"
        ),
        pytest.param('[[couplers]]\npressed = "pedal"', '"brings" is missing', id="half"),
        pytest.param(
            '[[couplers]]\npressed = "pedal"\nbrings = "melody"\nshift = 30', "half steps from -24 to 24", id="too-far"
        ),
        pytest.param('[[couplers]]\npressed = "pedal"\nbrings = "pedal"', "brings itself", id="itself"),
        pytest.param('couplers = "on"', "begin each coupler with a line [[couplers]]", id="no-list"),
    ],
)
def test_a_coupler_that_cannot_be_is_told(text: str, said: str) -> None:
    with pytest.raises(ProfileError) as caught:
        read_profile(text)
    assert said in str(caught.value)


def test_a_coupler_that_makes_the_feet_wait_is_worth_a_look() -> None:
    profile = replace(read_profile(COUPLED), parts=PLAIN.parts)
    assert any("each foot then waits" in text for text in cautions(profile))
