"""MIDI ports through python-rtmidi."""

from __future__ import annotations

import sys
import time
import weakref
from collections.abc import Callable
from functools import partial
from typing import Any

import rtmidi

from liveassist.console.jack_server import JackServer, bury, hushed, library
from liveassist.console.ports import (
    CLIENT,
    OURS,
    Binding,
    Callback,
    Input,
    Output,
    PortUnknown,
    listed,
)
from liveassist.console.served_output import ServedOutput
from liveassist.errors import PlayerError

JACK = "jack"
SETTLE = 0.01
"""Seconds between the end of a callback and the closing of its port. A callback that has begun wants the interpreter's lock,
which closing holds while it waits for the callback: without this pause both may wait for ever."""


def systems() -> dict[str, Callable[[], Binding | None]]:
    """The MIDI systems that were compiled in, by name, and what tries each: a binding, or None where it does not answer."""
    return {rtmidi.get_api_name(api): partial(_tried, api) for api in rtmidi.get_compiled_api()}


def _tried(api: int) -> Binding | None:
    server = JackServer(library() if rtmidi.get_api_name(api) == JACK else None)
    if not server.meet():
        return None
    try:
        with hushed():
            return RtMidi(api, server)
    except rtmidi.RtMidiError:
        return None


class RtMidi:
    """Binding over python-rtmidi.

    One object in each direction is kept for asking, because making one is slow and asking is not. It is also the first to
    be opened: each object is a client of its own, and a JACK server waits for every client that dies with its process.

    A JACK server that goes takes everything with it: what was open is buried, and when the server is back all is made anew.
    """

    def __init__(self, api: int, server: JackServer) -> None:
        self._api, self.server = api, server
        self._asking: dict[str, Any] = {}
        """The object that is asked for names, by class."""
        self._used: set[str] = set()
        """The classes whose asking object is open."""
        for way in ("MidiIn", "MidiOut"):
            self._ask(way)
        weakref.finalize(self, _leave, self._asking, self._used, server)

    def inputs(self) -> list[str]:
        return list(self._numbers("MidiIn"))

    def outputs(self) -> list[str]:
        return list(self._numbers("MidiOut"))

    def open_input(self, name: str, callback: Callback) -> Input:
        port = self._opened("MidiIn", name)
        port.ignore_types(sysex=True, timing=False, active_sense=True)

        def heard(event: tuple[list[int], float], _: object) -> None:
            at = time.monotonic()
            callback(at, bytes(event[0]))

        port.set_callback(heard)
        return _RtMidiInput(port, self)

    def open_output(self, name: str) -> Output:
        return ServedOutput(self._opened("MidiOut", name), self.server, send=_sent, shut=self._shut)

    def stirred(self) -> frozenset[str] | None:
        lost, changed = self.server.lost(), self.server.changed()
        return lost if lost or changed else None

    def trouble(self) -> str:
        return self.server.trouble()

    def _ask(self, way: str) -> Any:
        """The object that is asked."""
        if way not in self._asking:
            self._asking[way] = getattr(rtmidi, way)(self._api, CLIENT)
        return self._asking[way]

    def _there(self) -> bool:
        """Whether the system is there: looks for a server that has gone, after burying what it left."""
        if not self.server.gone:
            return True
        for asking in self._asking.values():
            bury(asking)
        self._asking.clear()
        self._used.clear()
        return self.server.meet()

    def _numbers(self, way: str) -> dict[str, int]:
        """Names as listed, and the system's number of each; our own ports left out. None where the system is gone."""
        if not self._there():
            return {}
        try:
            names = self._ask(way).get_ports()
        except rtmidi.RtMidiError:
            return {}
        raw = {number: name for number, name in enumerate(names) if not OURS.match(name)}
        return dict(zip(listed(list(raw.values())), raw, strict=True))

    def _opened(self, way: str, name: str) -> Any:
        number = self._numbers(way).get(name)
        if number is None:
            raise PortUnknown(f'the MIDI port "{name}" has gone')
        try:
            if way in self._used:
                port = getattr(rtmidi, way)(self._api, CLIENT)
            else:
                port = self._ask(way)
                self._used.add(way)
            port.open_port(number, name.replace(":", " "))
        except rtmidi.RtMidiError as error:
            self.drop(port)
            raise PlayerError(
                f'the MIDI port "{name}" cannot be opened ({error}): does another program hold it?'
            ) from None
        self.server.opened(name)
        return port

    def _shut(self, port: Any) -> None:
        port.close_port()
        self.drop(port)

    def drop(self, port: Any) -> None:
        """An object is of no more use."""
        if self.server.gone or self.server.hangs:
            bury(port)
        else:
            port.delete()
        for way in [way for way, asking in self._asking.items() if asking is port]:
            del self._asking[way]
            self._used.discard(way)


def _leave(asking: dict[str, Any], used: set[str], server: JackServer) -> None:
    """Let go of what is only asked, at the end of the process at the latest: a JACK server waits for a client that is not
    closed and dies with it."""
    if not server.gone and not server.hangs:
        for way, port in asking.items():
            if way not in used:
                port.delete()
    asking.clear()
    server.close()


class _RtMidiInput:
    def __init__(self, port: Any, binding: RtMidi) -> None:
        self._port, self._binding = port, binding
        self._deaths = binding.server.deaths

    def close(self, *, vanished: bool = False) -> None:
        port, self._port = self._port, None
        if port is None or (vanished and sys.platform == "win32"):
            return  # closing a vanished input can crash Windows: drop it
        if self._binding.server.deaths != self._deaths or self._binding.server.hangs:
            bury(port)
            return
        port.cancel_callback()
        time.sleep(SETTLE)
        port.close_port()
        self._binding.drop(port)


def _sent(port: Any, message: bytes) -> bool:
    try:
        port.send_message(message)
    except OSError:  # the binding's errors are of this kind
        return False
    return True
