"""What is told to the sound processes while a band plays: clicks before their time, each once; signs; calls; who hears what."""

from __future__ import annotations

from fractions import Fraction
from pathlib import Path
from queue import SimpleQueue
from threading import Event
from threading import enumerate as enumerate_threads

import pytest

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.band.events import Nodded, NodTaken, PlaceIs, StateIs, Told
from liveassist.band.song import performance
from liveassist.ears.dose import ListeningTime
from liveassist.ears.in_ears import InEars, Words, signs_of
from liveassist.ears.opening import Sounds, in_ears, open_sounds, sound_cautions
from liveassist.ears.voice import Voice, Word
from liveassist.settings import Settings

SONG = """
title = Told
key = D
tempo = quarter 80

== Verse 1 ==
| D | G | A | D |

== Chorus ==
| G | A | D | D |
"""
HALL_CLOCK = 5000.0


class Process:
    """Stands in for a sound process."""

    def __init__(self, device: str = "", options: tuple[str, ...] = ()) -> None:
        self.device, self.options = device, tuple(options)
        self.latency = 0.06
        self.came: list[str] = []

    def say(self, line: str) -> None:
        self.came.append(line)

    def troubles(self) -> list[str]:
        return [f"sound: {self.device} went away"]


def play(ears: InEars, until: float, nods: dict[float, str] | None = None, **settings: object):
    """Play a song with pulse lead, looking around every 50 ms."""
    band = performance(unfold(read_chart(SONG)), Settings(lead="pulse", click=True, ears="x", **settings))
    coming = dict(nods or {0.0: "count"})
    done = []
    for step in range(round(until / 0.05)):
        now = step * 0.05
        while coming and min(coming) <= now:
            nod = coming.pop(min(coming))
            actions = band.receive(Nodded(at=now, heard=now, nod=nod))
            ears.played(actions, now)
            done += actions
        actions = band.due(now)
        ears.played(actions, now)
        done += actions
        ears.ahead(band, now)
    return done


def times(lines: list[str], what: str) -> list[float]:
    return [
        round(float(line[1:].split()[0]) - HALL_CLOCK, 3) for line in lines if line.startswith("@") and what in line
    ]


def clock(at: float) -> float:
    return at + HALL_CLOCK


def test_every_click_is_told_once_at_its_time():
    process = Process()
    done = play(InEars(process, None, clock), 27.0, subdivision="none")
    clicked = [round(action.at, 3) for action in done if getattr(action, "part", "") == "click" and action.pitch]
    begun = sorted(set(clicked[::2]))
    told = times(process.came, "click")
    assert len(told) == len(set(told)) == 4 + 32
    assert set(told) >= {at for at in begun if at in told}
    assert told == pytest.approx([0.3 + 0.75 * number for number in range(36)], abs=0.002)


def test_mute_takes_back_what_was_told():
    process = Process()
    play(InEars(process, None, clock), 4.0, {0.0: "count", 2.0: "mute", 3.0: "mute"}, subdivision="none")
    assert process.came.count("still") == 2
    assert [at for at in times(process.came, "click") if 2.3 < at < 3.0] == []


def test_a_stop_takes_back_what_was_told():
    process = Process()
    play(InEars(process, None, clock), 5.0, {0.0: "count", 4.0: "cut"}, subdivision="none")
    assert process.came[-1] == f"@{HALL_CLOCK + 4.0:.6f} forget"


def test_the_next_section_is_called_with_the_count():
    made: SimpleQueue[Word] = SimpleQueue()
    for text, file, length in (("Verse 1", "v", 0.6), ("Chorus", "c", 0.5), ("2", "2", 0.3), ("3", "3", 0.3)):
        made.put((text, Path(f"{file}.wav"), length))
    process = Process()
    play(InEars(process, None, clock, words=Words(made)), 27.0)
    assert process.came[:2] == ["load word0 v.wav", "load word1 c.wav"]
    # the chorus begins after a bar of count-in and four bars of 3 s, at 15.3; its bar before at 12.3
    said = [
        (line.split()[-1], at)
        for line, at in zip(
            [item for item in process.came if " clip " in item], times(process.came, " clip "), strict=True
        )
    ]
    assert said == [("word1", 12.3), ("word2", 13.05), ("word3", 13.8)]


def test_without_a_voice_a_sign_calls():
    process = Process()
    play(InEars(process, None, clock, words=Words()), 27.0)
    assert [line.split()[-1] for line in process.came if " clip " in line] == ["call"]


def test_a_song_comes_up_before_its_words_are_spoken(monkeypatch):
    """A slow engine: until it has spoken nobody waits, and the chorus is called by a sign."""
    spoken, process = Event(), Process()
    monkeypatch.setattr(Voice, "word", lambda self, text: spoken.wait(5.0) and None)
    ears = in_ears(Sounds(player=process), Settings(calls=True), unfold(read_chart(SONG)), clock)
    play(ears, 27.0)
    assert "words" in [thread.name for thread in enumerate_threads()], "the engine is at its first word still"
    assert [line.split()[-1] for line in process.came if " clip " in line] == ["call"]
    spoken.set()


def test_words_that_come_while_the_band_plays_are_said_from_then_on():
    made: SimpleQueue[Word] = SimpleQueue()
    process = Process()
    ears = InEars(process, None, clock, words=Words(made))
    play(ears, 8.0)
    assert not [line for line in process.came if line.startswith("load")]
    made.put(("Chorus", Path("c.wav"), 0.5))
    play(ears, 14.0)
    assert process.came.count("load word0 c.wav") == 1
    assert [line.split()[-1] for line in process.came if " clip " in line] == ["word0"]


@pytest.mark.parametrize(
    ("actions", "signs"),
    [
        ([StateIs(at=1, state="ready")], ["armed"]),
        ([Told(at=1, text="waiting for G: vamping", sign="waiting"), StateIs(at=1, state="vamping")], ["waiting"]),
        ([StateIs(at=1, state="holding")], ["waiting"]),
        ([NodTaken(at=1, nod="hold"), StateIs(at=1, state="holding")], []),
        ([PlaceIs(at=1, change=1, position=Fraction(4), bpm=80, sure=1), StateIs(at=1, state="holding")], []),
        ([Told(at=1, text="in doubt", sign="doubt")], ["doubt"]),
        ([Told(at=1, text="gone", sign="lost")], ["lost"]),
        ([Told(at=1, text="your hand", sign="takeover")], ["takeover"]),
    ],
)
def test_signs_for_what_the_band_did(actions, signs):
    assert signs_of(actions) == signs


def test_signs_are_given_where_they_are_wanted_and_not_too_often():
    process, quiet = Process(), Process()
    for ears, at in ((InEars(process, None, clock, signals=True), 1.0), (InEars(quiet, None, clock), 1.0)):
        for off in (0.0, 0.5, 3.0):
            ears.played([Told(at=at + off, text="?", sign="doubt")], at + off)
    assert process.came == ["clip doubt"] * 2
    assert quiet.came == []


# -- who hears what ---------------------------------------------------------------------------------------------------


def opened(**settings: object):
    music = str(settings.pop("music", ""))
    demo = bool(settings.pop("demo", False))
    return open_sounds(Settings(**settings), music, demo=demo, opened=Process)


def test_loudspeakers_get_no_click():
    sounds = opened(music="Nave", click=True)
    assert sounds.player is None
    assert not any(option.startswith("--ear") for option in sounds.organ.options)


def test_a_demo_may_click_where_it_sounds():
    sounds = opened(music="Desk", demo=True)
    assert sounds.player is sounds.organ
    assert "--ear=both,0,0" in sounds.organ.options


def test_player_and_drummer_share_a_device_an_ear_each():
    sounds = opened(ears="Box", drummer_ears="box", ears_side="left", drummer_side="right", drummer_offset=-15.0)
    assert sounds.player is sounds.drummer
    assert len(sounds.outputs) == 1
    assert sounds.player.options[:2] == ("--ear=left,0,0", "--ear=right,0,-15")


def test_player_and_drummer_with_a_device_each():
    sounds = opened(ears="Box", drummer_ears="Other", click_offset=40.0, registration="strings", sound_buffer=10.0)
    assert sounds.player.options == ("--ear=both,0,40", "--buffer=10", "--drawn=strings")
    assert sounds.drummer.options[0] == "--ear=both,0,0"
    assert sounds.troubles() == ["sound: Box went away", "sound: Other went away"]


def test_one_ear_a_general_midi_2_click_and_a_measured_level_are_remarked(tmp_path):
    chosen = Settings(ears="Box", ears_side="left", click=True, click_notes="metronome", ear_level=85.0)
    told = " ".join(sound_cautions(chosen, open_sounds(chosen, "", opened=Process), ListeningTime(tmp_path / "l.json")))
    for word in ("one ear", "General MIDI 2", "listening this week"):
        assert word in told
