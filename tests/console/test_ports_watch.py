"""Cables that are pulled and plugged in again, on wires without MIDI; the clock is handed in."""

from __future__ import annotations

import pytest

from liveassist.console.ports import EchoBinding, Output, PlayerError, ports_report
from liveassist.console.watching import EVERY, PAUSE, News, Outlet, Watch

ON, OFF = bytes((0x91, 60, 64)), bytes((0x81, 60, 64))


class Organ(EchoBinding):
    """Wires with an account of what comes out of them."""

    def __init__(self, *names: str) -> None:
        super().__init__(*names, clock=lambda: 12.5)
        self.came: list[bytes] = []

    def listen(self, name: str) -> None:
        self.open_input(name, lambda at, message: self.came.append(message))


def told(news: list[News]) -> list[tuple[str, bool]]:
    return [(item.wanted, item.well) for item in news]


def test_what_is_sent_is_heard_with_its_arrival_time() -> None:
    wires = EchoBinding("organ", "console", clock=lambda: 12.5)
    heard: list[tuple[float, bytes]] = []
    opened = wires.open_input("organ", lambda at, message: heard.append((at, message)))
    output = wires.open_output("organ")
    assert output.send(ON)
    opened.close()
    output.send(OFF)
    assert heard == [(12.5, ON)]


def test_an_output_closed_takes_nothing() -> None:
    output = EchoBinding("organ").open_output("organ")
    output.close()
    assert not output.send(ON)


def test_a_port_that_has_gone_cannot_be_opened() -> None:
    wires = EchoBinding("organ")
    wires.unplug("organ")
    with pytest.raises(PlayerError, match='"organ" has gone'):
        wires.open_output("organ")


def test_a_wire_plugged_in_again_stays_silent_until_it_is_opened_again() -> None:
    wires = Organ("organ")
    output = wires.open_output("organ")
    wires.unplug("organ")
    wires.plug("organ")
    wires.listen("organ")
    output.send(ON)
    assert wires.came == []


def test_a_wanted_port_is_opened_at_the_first_look() -> None:
    wires = Organ("organ")
    wires.listen("organ")
    watch = Watch(wires)
    outlet = watch.play("ORG")
    assert not outlet.send(ON)
    assert told(watch.look(0.0)) == [("ORG", True)]
    assert wires.came == [ON]
    assert outlet.send(OFF)
    assert wires.came == [ON, OFF]
    assert watch.away() == []


def test_looking_often_asks_the_system_some_times_a_second() -> None:
    wires = Organ("organ")
    watch = Watch(wires)
    watch.play("organ")
    watch.look(0.0)
    wires.unplug("organ")
    assert watch.look(EVERY * 0.9) == []
    assert told(watch.look(EVERY)) == [("organ", False)]


def test_a_cable_pulled_and_plugged_in_again_is_told_and_opened() -> None:
    wires = Organ("organ", "console")
    heard: list[bytes] = []
    watch = Watch(wires)
    watch.hear("console", lambda at, message: heard.append(message))
    watch.look(0.0)
    wires.unplug("console")
    gone = watch.look(1.0)
    assert told(gone) == [("console", False)]
    assert gone[0].is_input
    assert "unplugged" in gone[0].text
    assert watch.look(2.0) == []
    assert watch.away() == ["console"]
    wires.plug("console")
    back = watch.look(3.0)
    assert told(back) == [("console", True)]
    assert "is back" in back[0].text
    wires.open_output("console").send(ON)
    assert heard == [ON]


def test_a_port_missing_from_the_start_is_told_once() -> None:
    watch = Watch(EchoBinding("console"))
    watch.play("organ")
    first = watch.look(0.0)
    assert told(first) == [("organ", False)]
    assert 'I see "console"' in first[0].text
    assert watch.look(1.0) == []


def unplugged() -> tuple[Organ, Watch, Outlet]:
    """An organ whose cable was pulled while a key of it was down, a second after the watch began."""
    wires = Organ("organ")
    watch = Watch(wires)
    outlet = watch.play("organ")
    watch.look(0.0)
    outlet.send(ON)
    wires.unplug("organ")
    watch.look(1.0)
    return wires, watch, outlet


def test_when_the_organ_is_back_keys_left_down_are_let_go_and_what_should_be_down_is_pressed() -> None:
    wires, watch, outlet = unplugged()
    assert not outlet.send(OFF)
    assert not outlet.send(bytes((0x91, 64, 64)))
    wires.plug("organ")
    wires.listen("organ")
    watch.look(2.0)
    assert wires.came == [OFF, bytes((0x91, 64, 64))]


@pytest.mark.parametrize("off", [OFF, bytes((0x91, 60, 0))], ids=["note-off", "note-on-with-velocity-0"])
def test_keys_let_go_in_time_are_not_let_go_again(off: bytes) -> None:
    wires = Organ("organ")
    watch = Watch(wires)
    outlet = watch.play("organ")
    watch.look(0.0)
    outlet.send(ON)
    outlet.send(off)
    watch.look(1.0)
    watch.look(2.0)
    wires.unplug("organ")
    watch.look(3.0)
    wires.plug("organ")
    wires.listen("organ")
    watch.look(4.0)
    assert wires.came == []


def test_a_key_let_go_as_the_cable_was_pulled_is_let_go_again() -> None:
    wires = Organ("organ")
    watch = Watch(wires)
    outlet = watch.play("organ")
    watch.look(0.0)
    outlet.send(ON)
    wires.unplug("organ")
    assert outlet.send(OFF)  # taken, and lost
    watch.look(1.0)
    wires.plug("organ")
    wires.listen("organ")
    watch.look(2.0)
    assert wires.came == [OFF]


class Telling(Organ):
    """Wires whose system tells of cables."""

    def __init__(self, *names: str) -> None:
        super().__init__(*names)
        self.told: frozenset[str] | None = None

    def stirred(self) -> frozenset[str] | None:
        told, self.told = self.told, None
        return told


def test_a_cable_out_and_in_between_two_looks_is_opened_again_where_the_system_tells() -> None:
    wires = Telling("organ")
    watch = Watch(wires)
    outlet = watch.play("organ")
    watch.look(0.0)
    outlet.send(ON)
    wires.unplug("organ")
    wires.plug("organ")
    wires.listen("organ")
    assert watch.look(0.01) == []
    wires.told = frozenset({"organ"})
    assert told(watch.look(0.02)) == [("organ", False), ("organ", True)]
    assert wires.came == [OFF, ON]


class Hanging(Organ):
    """Wires whose system may hang: it lists its ports, and takes nothing."""

    def __init__(self, *names: str) -> None:
        super().__init__(*names)
        self.why = ""

    def trouble(self) -> str:
        return self.why

    def open_output(self, name: str) -> Output:
        output = super().open_output(name)
        send = output.send
        output.send = lambda message: not self.why and send(message)
        return output


def test_ports_of_a_system_that_hangs_stay_open_and_are_made_good_when_it_goes_on() -> None:
    wires = Hanging("organ", "console")
    wires.listen("organ")
    watch = Watch(wires)
    outlet = watch.play("organ")
    watch.hear("console", lambda at, message: None)
    watch.look(0.0)
    outlet.send(ON)
    wires.why = "it does not answer"
    assert [(news.wanted, news.well, news.text) for news in watch.look(1.0)] == [
        ("organ", False, 'it does not answer: "organ" stands still'),
        ("console", False, 'it does not answer: "console" stands still'),
    ]
    assert watch.look(2.0) == []
    assert not outlet.send(OFF)
    assert not outlet.send(bytes((0x91, 64, 64)))
    wires.why = ""
    assert told(watch.look(3.0)) == [("organ", True), ("console", True)]
    assert wires.came == [ON, OFF, bytes((0x91, 64, 64))]


def test_what_was_let_go_as_a_cable_was_laid_is_let_go_once_more() -> None:
    wires, watch, outlet = unplugged()
    outlet.send(OFF)
    wires.plug("organ")
    watch.look(2.0)  # it may be lost
    wires.listen("organ")
    watch.look(3.0)
    watch.look(4.0)
    assert wires.came == [OFF]


class Stuck:
    """An output whose driver does not answer."""

    def __init__(self) -> None:
        self.well = True
        self.closed = False

    def send(self, message: bytes) -> bool:
        self.well = False
        return False

    def close(self, *, vanished: bool = False) -> None:
        self.closed = True


def test_a_port_that_does_not_answer_is_left_alone_for_a_while(monkeypatch: pytest.MonkeyPatch) -> None:
    wires = Organ("organ")
    made: list[Stuck] = []
    monkeypatch.setattr(wires, "open_output", lambda name: made.append(Stuck()) or made[-1])
    watch = Watch(wires)
    outlet = watch.play("organ")
    watch.look(0.0)
    outlet.send(ON)
    assert "does not answer" in watch.look(1.0)[0].text
    assert made[0].closed
    assert watch.look(1.0 + PAUSE / 2) == []
    assert told(watch.look(1.0 + PAUSE)) == [("organ", True)]
    assert len(made) == 2


def test_a_name_that_two_ports_have_is_told_and_opens_neither() -> None:
    watch = Watch(EchoBinding("organ east", "organ west"))
    watch.play("organ")
    assert "may be any of" in watch.look(0.0)[0].text
    assert watch.away() == ["organ"]


def test_closing_leaves_all_ports() -> None:
    wires = Organ("organ")
    wires.listen("organ")
    watch = Watch(wires)
    outlet = watch.play("organ")
    watch.look(0.0)
    watch.close()
    assert not outlet.send(ON)


def test_the_report_lists_ports_and_speaks_of_twins() -> None:
    report = "\n".join(ports_report(EchoBinding("1:Rail", "2:Rail")))
    assert "  1:Rail\n  2:Rail\n" in report
    assert "same name are numbered" in report


def test_the_report_of_an_empty_machine_says_what_to_do() -> None:
    assert "none: is the instrument plugged in" in "\n".join(ports_report(EchoBinding()))
