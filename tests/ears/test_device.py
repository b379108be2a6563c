"""A sound device that is away, goes away and comes back: a stand-in for the sound system, no threads, made-up times."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from liveassist.ears.destination import Destination
from liveassist.ears.device import LONGEST, Device
from liveassist.ears.earpiece import Earpiece
from liveassist.ears.output import SoundOutput
from liveassist.ears.sound import find_device
from liveassist.ears.stream import Line, Stream
from liveassist.ears.tone import Organ, Samples

RATE = 48_000
BLOCK = 960


class Card:
    """A sound device that plays when it is asked to."""

    def __init__(self, name: str, stream: Stream, there: list[str]) -> None:
        self.name, self._stream, self._there = name, stream, there
        self.closed = self.loose = False

    def gone(self) -> bool:
        return self.loose or self.name not in self._there

    def close(self) -> None:
        self.closed = True

    def plays(self, now: float, seconds: float = 0.02) -> Samples:
        count = round(seconds * RATE / BLOCK)
        return np.concatenate([self._stream.block(BLOCK, now + number * BLOCK / RATE) for number in range(count)])


class Laptop:
    """A laptop with some sound devices, looked at as time goes by."""

    def __init__(self, *there: str, wanted: str = "Box") -> None:
        self.there = list(there)
        self.now = 0.0
        self.said: list[str] = []
        self.cards: list[Card] = []
        self.device = Device(wanted, self._stream, self._open, self.said.append)

    def _stream(self) -> Stream:
        return Stream(Organ(RATE), self.now, [Earpiece(Destination())])

    def _open(self, name: str, stream: Stream, exact: bool) -> Card:
        found = find_device(name, [other for other in self.there if not exact or other == name])
        self.cards.append(Card(found, stream, self.there))
        return self.cards[-1]

    def until(self, now: float) -> None:
        while self.now < now:
            self.device.look(self.now)
            self.now += 0.25


def test_it_comes_back_by_itself_and_both_are_told_once():
    laptop = Laptop("Nave", "Box")
    laptop.until(20.0)
    laptop.there.remove("Box")
    laptop.until(60.0)
    assert laptop.cards[0].closed
    laptop.there.append("Box")
    laptop.until(62.5)
    assert laptop.said == ["playing Box", 'silent: the sound device "Box" went away', "playing Box"]
    assert [card.name for card in laptop.cards] == ["Box", "Box"]


def test_one_that_is_missing_at_first_is_opened_when_it_is_plugged_in():
    laptop = Laptop("Nave")
    laptop.until(10.0)
    assert laptop.said == ['silent: there is no sound device "Box"; there are: Nave']
    laptop.there.append("Box")
    laptop.until(11.5)
    assert laptop.said[1:] == ["playing Box"]


def test_another_device_with_a_name_like_it_is_never_taken_in_its_place():
    laptop = Laptop("Box", wanted="box")
    laptop.until(20.0)
    laptop.there[:] = ["Box loudspeakers", "box"]
    laptop.until(60.0)
    assert [card.name for card in laptop.cards] == ["Box"]


def loudness(samples: Samples) -> float:
    return float(np.abs(samples).max())


def test_clicks_come_back_softly_and_never_grow_by_more_than_6_db():
    """Six decibels are a factor of two, near enough: 10 ** (6 / 20) is 1.995."""
    laptop = Laptop("Box")
    laptop.until(1.0)

    def click(at: float) -> float:
        laptop.device.put(Line(at + 0.5, "on", "click", 76, scheduled=True))
        return loudness(laptop.cards[-1].plays(at, 1.0))

    before = [click(1.0 + number) for number in range(5)]
    laptop.until(20.0)
    laptop.there.clear()
    laptop.until(22.0)
    laptop.there.append("Box")
    laptop.until(25.0)
    after = [click(30.0 + number) for number in range(5)]
    assert before[4] == before[3] == after[4] == after[3]
    for loud in (before, after):
        assert loud[0] == pytest.approx(loud[3] / 10 ** (18 / 20), rel=0.02)
        assert max(later / earlier for earlier, later in pairwise(loud)) < 2.0


def test_what_should_sound_is_pressed_and_what_was_let_go_meanwhile_is_not():
    laptop = Laptop("Box")
    laptop.until(20.0)
    for key in (60, 64, 67):
        laptop.device.put(Line(20.0, "on", "figure", key))
    assert loudness(laptop.cards[0].plays(20.0, 0.2)) > 0.01
    laptop.there.clear()
    laptop.until(22.0)
    for key in (60, 64, 67):
        laptop.device.put(Line(22.0, "off", "figure", key))
    laptop.device.put(Line(22.5, "on", "bass", 43))
    laptop.there.append("Box")
    laptop.until(25.0)
    heard = laptop.cards[1].plays(25.0, 0.2)
    alone = Organ(RATE)
    alone.press("bass", 43)
    assert loudness(heard) == pytest.approx(loudness(alone.next(round(0.2 * RATE))), rel=0.05)


def test_a_click_that_was_due_while_it_was_away_is_not_heard_late():
    laptop = Laptop("Box")
    laptop.until(20.0)
    laptop.there.clear()
    laptop.until(21.0)
    laptop.device.put(Line(21.5, "on", "click", 76, scheduled=True))
    laptop.there.append("Box")
    laptop.until(25.0)
    assert loudness(laptop.cards[1].plays(25.0, 1.0)) == 0.0


def test_an_offset_stays():
    laptop = Laptop("Box")
    laptop.until(20.0)
    laptop.device.put(Line(20.0, "offset", key=0, value=100.0))
    laptop.there.clear()
    laptop.until(22.0)
    laptop.there.append("Box")
    laptop.until(25.0)
    card = laptop.cards[1]
    card.plays(25.0)
    laptop.device.put(Line(25.2, "on", "click", 76, scheduled=True))
    heard = np.flatnonzero(np.abs(card.plays(25.02, 0.4)[:, 0]) > 1e-9)
    device = 2 * BLOCK / RATE  # what waits in its blocks
    assert heard[0] / RATE == pytest.approx(25.2 + 0.1 - 25.02 - device, abs=0.001)


def test_a_loose_plug_is_left_alone_for_longer_and_longer():
    laptop = Laptop("Box")
    opened: list[float] = []
    while laptop.now < 250.0:
        laptop.until(laptop.now + 0.25)
        if len(laptop.cards) > len(opened):
            opened.append(laptop.now)
            laptop.cards[-1].loose = True
    pauses = [later - earlier for earlier, later in pairwise(opened)]
    assert pauses[:3] == pytest.approx([2.0, 4.0, 8.0], abs=0.3)
    assert pauses[-3:] == pytest.approx([LONGEST] * 3, abs=0.3)


def test_the_player_is_told_that_it_is_back():
    """Of the words of the process the band's end makes what the desk shows."""
    output = SoundOutput("", options=("--no-such-option",))
    output._process.wait(20)
    output._reader.join()
    output.troubles()
    for text in ("playing Box", 'silent: the sound device "Box" went away', "playing Box"):
        output._news.put(text)
    assert output.troubles() == [
        'sound: the sound device "Box" went away',
        'sound: the sound device "Box" is there now, softly at first',
    ]
    output.close()
