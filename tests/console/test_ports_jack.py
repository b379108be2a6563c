"""Real MIDI ports, on a JACK server of our own, through each of the bindings."""

from __future__ import annotations

import importlib.util
import os
import time
from collections.abc import Callable, Iterator
from typing import Any

import pytest

from liveassist.console import ports
from liveassist.console.ports import MODULES, WHICH, Binding, PlayerError, find_port
from liveassist.console.watching import Watch


@pytest.fixture(params=sorted(MODULES), autouse=True)
def binding_in_use(request: pytest.FixtureRequest, monkeypatch: pytest.MonkeyPatch) -> str:
    """Each test is played through each binding."""
    name = str(request.param)
    if importlib.util.find_spec(MODULES[name]) is None:
        if os.environ.get("LIVEASSIST_REQUIRE_JACK") == "1":
            pytest.fail(f"{MODULES[name]} is not installed")
        pytest.skip(f"{MODULES[name]} is not installed")
    monkeypatch.setenv(WHICH, name)
    return name


@pytest.fixture
def midi_binding(jack: object, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], Binding]]:
    """The binding; whatever a test leaves open is closed while the server lives: what is freed later ends the process."""
    opened: list[Any] = []

    def noted(opening: Callable[..., Any]) -> Callable[..., Any]:
        def open_(*given: Any) -> Any:
            opened.append(opening(*given))
            return opened[-1]

        return open_

    def make() -> Binding:
        binding = ports.midi_binding()
        for way in ("open_input", "open_output"):
            monkeypatch.setattr(binding, way, noted(getattr(binding, way)))
        return binding

    yield make
    for port in opened:
        port.close()


KNOCK = (0xBF, 119, 0)


def knock(console, heard: list, until) -> None:
    """Play something until it is heard: what is played in the moment before JACK has laid the cable is lost."""
    until(lambda: (console.play(*KNOCK), heard)[1])


def reach(output, organ, until) -> None:
    """The same towards an organ."""
    before = len(organ.heard)
    until(lambda: (output.send(bytes(KNOCK)), len(organ.heard) > before)[1])


def test_an_organ_is_played(midi_binding, fake_organ, until) -> None:
    organ = fake_organ("quay")
    binding = midi_binding()
    output = binding.open_output(find_port("quay", binding.outputs()))
    reach(output, organ, until)
    output.send(bytes((0x91, 60, 64)))
    until(lambda: organ.sounding == {(2, 60)})
    output.send(bytes((0x91, 60, 0)))
    until(lambda: not organ.sounding)
    output.close()
    assert not output.send(bytes((0x91, 60, 64)))


def test_closing_right_after_the_last_note_off_loses_nothing(midi_binding, fake_organ, until) -> None:
    organ = fake_organ("quay")
    binding = midi_binding()
    for key in range(60, 65):
        output = binding.open_output(find_port("quay", binding.outputs()))
        reach(output, organ, until)
        output.send(bytes((0x91, key, 64)))
        output.send(bytes((0x81, key, 64)))
        output.close()
    until(lambda: len([message for _, message in organ.heard if message != bytes(KNOCK)]) == 10)
    assert not organ.sounding


def test_a_console_is_heard_in_order_and_stamped_on_arrival(midi_binding, fake_console, until) -> None:
    console = fake_console("rail")
    binding = midi_binding()
    heard: list[tuple[float, bytes]] = []
    opened = binding.open_input(find_port("rail", binding.inputs()), lambda at, message: heard.append((at, message)))
    knock(console, heard, until)
    before = time.monotonic()
    messages = [(0x93, 36, 100), (0x83, 36, 0), (0xB3, 64, 127), (0xC0, 5), (0x93, 38, 0)]
    for message in messages:
        console.play(*message)
    until(lambda: heard[-1][1] == bytes(messages[-1]))
    opened.close()
    heard = [told for told in heard if told[1] != bytes(KNOCK)]
    assert [message for _, message in heard] == [bytes(message) for message in messages]
    stamps = [at for at, _ in heard]
    assert stamps == sorted(stamps)
    assert before <= stamps[0] <= stamps[-1] <= time.monotonic()


def test_a_clock_is_heard_and_system_exclusive_and_active_sensing_are_not(midi_binding, fake_console, until) -> None:
    console = fake_console("rail")
    binding = midi_binding()
    heard: list[bytes] = []
    opened = binding.open_input(find_port("rail", binding.inputs()), lambda at, message: heard.append(message))
    knock(console, heard, until)
    clock = [(0xFA,), (0xF8,), (0xF8,), (0xFC,), (0xFB,), (0xF8,)]
    for message in [(0xF0, 0x7E, 1, 0xF7), *clock, (0xFE,), (0x90, 60, 1)]:
        console.play(*message)
    until(lambda: bytes((0x90, 60, 1)) in heard)
    opened.close()
    assert [message for message in heard if message != bytes(KNOCK)] == [*map(bytes, clock), bytes((0x90, 60, 1))]


def test_our_own_ports_are_not_listed(midi_binding, fake_organ) -> None:
    fake_organ("quay")
    binding = midi_binding()
    output = binding.open_output(find_port("quay", binding.outputs()))
    assert not [name for name in binding.inputs() if "liveassist" in name]
    output.close()


def test_a_port_that_went_away_meanwhile_cannot_be_opened(midi_binding, fake_organ, until) -> None:
    organ = fake_organ("quay")
    binding = midi_binding()
    name = find_port("quay", binding.outputs())
    organ.close()
    until(lambda: name not in binding.outputs())
    with pytest.raises(PlayerError, match="has gone"):
        binding.open_output(name)
    with pytest.raises(PlayerError, match="has gone"):
        binding.open_input(name, lambda at, message: None)


def test_an_organ_switched_off_and_on_is_played_again(midi_binding, fake_organ, until) -> None:
    first = fake_organ("quay")
    watch = Watch(midi_binding())
    outlet = watch.play("quay")
    assert [news.well for news in watch.look(0.0)] == [True]
    reach(outlet, first, until)
    outlet.send(bytes((0x91, 60, 64)))
    until(lambda: first.sounding)
    first.close()
    assert [news.well for news in watch.look(1.0)] == [False]
    again = fake_organ("quay")
    assert [news.well for news in watch.look(2.0)] == [True]
    reach(outlet, again, until)
    watch.look(3.0)
    outlet.send(bytes((0x91, 62, 64)))
    until(lambda: again.sounding == {(2, 60), (2, 62)})
    heard = [message for _, message in again.heard if message != bytes(KNOCK)]
    assert heard[0] == bytes((0x81, 60, 64))  # the key left down is let go first, and then pressed
    watch.close()


def test_a_cable_out_and_in_between_two_looks_is_noticed_where_the_binding_tells(
    midi_binding, fake_organ, until, binding_in_use: str
) -> None:
    first = fake_organ("quay")
    binding = midi_binding()
    watch = Watch(binding)
    outlet = watch.play("quay")
    watch.look(0.0)
    first.close()
    again = fake_organ("quay")
    if binding_in_use == "rtmidi":  # it does not tell: a hand is slower than the looks
        assert binding.stirred() is None
        watch.close()
        return
    news: list[bool] = []
    until(lambda: news.extend(item.well for item in watch.look(0.1)) or news)
    assert news == [False, True]
    reach(outlet, again, until)
    outlet.send(bytes((0x91, 62, 64)))
    until(lambda: again.sounding == {(2, 62)})
    watch.close()
