"""MIDI ports through pylibremidi: for the Pythons for which python-rtmidi has no wheels, and it tells of cables.

How it was found to be (5.4.3; JACK on Linux measured, the rest as its documentation has it). Everything that it has to tell
waits until it is asked (``poll``), so a thread asks the inputs once a millisecond. An exception in what it calls ends the
process. Messages come as numbers by ``on_raw_data`` only (those of ``on_message`` cannot be read from Python), and there what
it was told to ignore comes too. It never closes a port of its own accord. An error is true, and its text says nothing.

Its wheels load in Python 3.11 and 3.12. The one that says it is for all later Pythons too (cp312-abi3, up to 5.4.3) does not
load in 3.13: its file has a name that only 3.12 looks for, and needs a function that 3.13 has no more.
"""

from __future__ import annotations

import threading
import time
import weakref
from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from liveassist.console.jack_server import JackServer, bury, library
from liveassist.console.ports import (
    CLIENT,
    OURS,
    Binding,
    Callback,
    Input,
    Output,
    PortUnknown,
    listed,
    normalised,
)
from liveassist.console.served_output import ServedOutput
from liveassist.errors import PlayerError

JACK_LIBRARY = library()  # before the next import: see there

import pylibremidi  # noqa: E402

POLL = 0.001
"""Seconds between two looks whether something has come in: half of it is added to what python-rtmidi takes."""
SYSTEM = 0xF0
"""Status bytes from here on are system messages."""
CLOCK = frozenset((0xF8, 0xFA, 0xFB, 0xFC))
"""Those of a clock: tick, start, continue, stop."""
SYSTEMS = {
    "alsa": pylibremidi.API.ALSA_SEQ,
    "jack": pylibremidi.API.JACK_MIDI,
    "core": pylibremidi.API.COREMIDI,
    "winmm": pylibremidi.API.WINDOWS_MM,
}
"""The MIDI systems that we take, the likeliest first, by the names that the other binding has for them."""


def systems() -> dict[str, Callable[[], Binding | None]]:
    """The MIDI systems that are there, by name, and what tries each: a binding, or None where it does not answer."""
    there = pylibremidi.available_apis()
    return {name: partial(_tried, api) for name, api in SYSTEMS.items() if api in there}


def _tried(api: Any) -> Binding | None:
    server = JackServer(JACK_LIBRARY if api == pylibremidi.API.JACK_MIDI else None)
    return LibreMidi(api, server) if server.meet() else None


class LibreMidi:
    """Binding over pylibremidi. One observer is kept for asking."""

    def __init__(self, api: Any, server: JackServer) -> None:
        self._api, self.server = api, server
        self._changes: list[tuple[str, bool]] = []
        """What the observer has told: a name, and whether it went away."""
        self._observers: list[Any] = [self._observing()]
        """The one that is asked."""
        self._heard: list[Any] = []
        """The inputs that are open."""
        self._lock = threading.Lock()
        weakref.finalize(self, _leave, self._observers, server)

    def inputs(self) -> list[str]:
        return list(self._ports("get_input_ports"))

    def outputs(self) -> list[str]:
        return list(self._ports("get_output_ports"))

    def open_input(self, name: str, callback: Callback) -> Input:
        def heard(message: Sequence[int], _: int) -> None:
            if message and (message[0] < SYSTEM or message[0] in CLOCK):
                callback(time.monotonic(), bytes(message))

        wanted = self._found("get_input_ports", name)
        configuration = pylibremidi.InputConfiguration()
        configuration.on_raw_data = heard
        port = pylibremidi.MidiIn(configuration, self._api)
        self._open(port, wanted, name)
        with self._lock:
            self._heard.append(port)
            if len(self._heard) == 1:
                threading.Thread(target=_listen, args=(self._heard, self._lock), name="midi", daemon=True).start()
        return _LibreMidiInput(port, self)

    def open_output(self, name: str) -> Output:
        wanted = self._found("get_output_ports", name)
        port = pylibremidi.MidiOut(pylibremidi.OutputConfiguration(), self._api)
        self._open(port, wanted, name)
        return ServedOutput(port, self.server, send=_sent, shut=_shut)

    def stirred(self) -> frozenset[str] | None:
        lost, changed = self.server.lost(), self.server.changed()
        if not self.server.gone:
            self._observers[0].poll()
        changes = [(name, went) for name, went in self._changes if not OURS.match(name)]
        self._changes.clear()
        left = lost.union(normalised(name) for name, went in changes if went)
        return left if left or changes or changed else None

    def trouble(self) -> str:
        return self.server.trouble()

    def unheard(self, port: Any) -> None:
        """An input is listened to no more."""
        with self._lock:
            if port in self._heard:
                self._heard.remove(port)

    def _observing(self) -> Any:
        """An observer that tells of every port."""
        configuration = pylibremidi.ObserverConfiguration()
        configuration.track_hardware = configuration.track_virtual = configuration.track_any = True
        configuration.notify_in_constructor = False
        changes, api = self._changes, self._api  # and not self, which the observer would keep
        for way in ("input", "output"):
            setattr(configuration, f"{way}_added", lambda port: changes.append((_name(port, api), False)))
            setattr(configuration, f"{way}_removed", lambda port: changes.append((_name(port, api), True)))
        return pylibremidi.Observer(configuration, self._api)

    def _there(self) -> bool:
        """Whether the system is there: looks for a server that has gone, after burying what it left."""
        if not self.server.gone:
            return True
        bury(self._observers[0])
        self._changes.clear()
        with self._lock:
            self._heard.clear()
        if not self.server.meet():
            return False
        self._observers[0] = self._observing()
        return True

    def _ports(self, which: str) -> dict[str, Any]:
        """The ports by their names as listed; our own left out. None where the system is gone."""
        if not self._there():
            return {}
        ports = [(_name(port, self._api), port) for port in getattr(self._observers[0], which)()]
        ports = [(name, port) for name, port in ports if not OURS.match(name)]
        return dict(zip(listed([name for name, _ in ports]), [port for _, port in ports], strict=True))

    def _found(self, which: str, name: str) -> Any:
        port = self._ports(which).get(name)
        if port is None:
            raise PortUnknown(f'the MIDI port "{name}" has gone')
        return port

    def _open(self, port: Any, wanted: Any, name: str) -> None:
        if port.open_port(wanted, f"{CLIENT} {name.replace(':', ' ')}"):
            raise PlayerError(f'the MIDI port "{name}" cannot be opened: does another program hold it?')
        self.server.opened(name)


def _leave(observers: list[Any], server: JackServer) -> None:
    """Let go of what is asked, at the end of the process at the latest: a JACK server waits for its clients. What a dead server
    has left is buried."""
    if server.gone:
        bury(observers[0])
    observers.clear()
    server.close()


def _name(port: Any, api: Any) -> str:
    """A port's name as the other binding has it: on ALSA with its client's before it (not measured)."""
    name = str(port.port_name or port.display_name)
    return f"{port.device_name}:{name}" if api == SYSTEMS["alsa"] and port.device_name else name


def _listen(heard: list[Any], lock: threading.Lock) -> None:
    """Ask the inputs for what has come, until none is open."""
    while True:
        with lock:
            if not heard:
                return
            for port in heard:
                port.poll()
        time.sleep(POLL)


class _LibreMidiInput:
    def __init__(self, port: Any, binding: LibreMidi) -> None:
        self._port, self._binding = port, binding
        self._deaths = binding.server.deaths

    def close(self, *, vanished: bool = False) -> None:
        port, self._port = self._port, None
        if port is None:
            return
        self._binding.unheard(port)
        if self._binding.server.deaths != self._deaths or self._binding.server.hangs:
            bury(port)
        else:
            port.close_port()


def _sent(port: Any, message: bytes) -> bool:
    return not port.send_message(list(message))


def _shut(port: Any) -> None:
    port.close_port()
