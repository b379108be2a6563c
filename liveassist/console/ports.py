"""MIDI ports by name: one small interface, python-rtmidi behind it, and wires without MIDI for tests and the demo.

Conventions. *Inputs* are what we can hear (a console's output), *outputs* what we can play (an organ's input). Messages are
whole MIDI messages as bytes. An arriving message is stamped with the monotonic clock in the first line of the callback; the
binding's own delta times are not used. Note-on with velocity 0 is passed on as it came. SysEx, MIDI clock and active
sensing are not listened to.

Names are not identities: systems append client or index numbers that change from day to day. A binding lists
*normalised* names, without them; two ports whose names are then the same are listed as ``1:NAME`` and ``2:NAME``, in the
system's order. A wanted name is matched exactly, then normalised and without regard to case, then as a part that only one
name has. Nobody tells that a port went away: see ``watching`` for that.

Use a binding from one thread: macOS refreshes its list only on the thread that first asked.
"""

from __future__ import annotations

import os
import re
import sys
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any, Protocol

from liveassist.errors import PlayerError

Callback = Callable[[float, bytes], None]
"""Takes the arrival time (seconds on the monotonic clock) and one message; called on the binding's thread: queue it."""

CLIENT = "liveassist"
"""How we call ourselves towards the MIDI system."""
SLOW_SEND = 0.1
"""A send that takes longer, in seconds, shows a dead port: it is left alone until it is opened again."""
LAST_OFF = 0.05
"""A port stays open this long, in seconds, after the last message, or the message may be lost."""
CHOICE = "LIVEASSIST_MIDI"
"""Environment variable that names the MIDI system to use, where there are two."""
SWITCH_ON = {
    "": "type: sudo modprobe snd-seq (or start JACK, if you use that)",
    "alsa": "type: sudo modprobe snd-seq",
    "jack": f"start JACK, or set {CHOICE}=alsa to do without it",
}
"""What to do where the MIDI system does not answer, by the one that was named."""

NUMBERS = (
    r"\s+\d+:\d+$",  # ALSA: client and port
    r"\s*\[\d+\]",  # bridges from ALSA to JACK: client
)
INDEX = r"\s+\d+$"  # Windows: index in the list
OURS = re.compile(rf"{CLIENT}(-\d+)?:")


class PortUnknown(PlayerError):
    """No port has the wanted name."""


class PortAmbiguous(PlayerError):
    """Several ports have the wanted name."""


class Input(Protocol):
    """An open input."""

    def close(self, *, vanished: bool = False) -> None:
        """Stop hearing. ``vanished``: the port is gone, so its driver is not to be troubled where that is dangerous."""


class Output(Protocol):
    """An open output."""

    @property
    def well(self) -> bool:
        """False once a send failed or took too long."""

    def send(self, message: bytes) -> bool:
        """Send one message; whether it was taken. Never raises, and does nothing on a port that is not well."""

    def close(self, *, vanished: bool = False) -> None:
        """Close; sends nothing. Waits until the last message is surely out, unless the port has vanished."""


class Binding(Protocol):
    """All that the house needs from a MIDI system."""

    def inputs(self) -> list[str]:
        """Names of what can be heard now."""

    def outputs(self) -> list[str]:
        """Names of what can be played now."""

    def open_input(self, name: str, callback: Callback) -> Input:
        """Hear a port of ``inputs()``. Raises PlayerError."""

    def open_output(self, name: str) -> Output:
        """Open a port of ``outputs()``. Raises PlayerError."""


# -- names ----------------------------------------------------------------------------------------------------------


def normalised(name: str, *, platform: str = sys.platform) -> str:
    """The name without the numbers that a system appends, and with single spaces."""
    for pattern in (*NUMBERS, INDEX) if platform == "win32" else NUMBERS:
        name = re.sub(pattern, "", name)
    return " ".join(name.split())


def listed(raw: Sequence[str], *, platform: str = sys.platform) -> list[str]:
    """The system's names as we list them: normalised, those that are then the same numbered from 1."""
    names = [normalised(name, platform=platform) for name in raw]
    total, so_far = Counter(names), Counter[str]()
    for index, name in enumerate(names):
        if total[name] > 1:
            so_far[name] += 1
            names[index] = f"{so_far[name]}:{name}"
    return names


def find_port(wanted: str, names: Sequence[str]) -> str:
    """The one of ``names`` that is meant by ``wanted``. Raises PortUnknown or PortAmbiguous, naming the candidates."""
    plain = normalised(wanted).casefold()
    rounds = (
        [name for name in names if name == wanted],
        [name for name in names if normalised(name).casefold() == plain],
        [name for name in names if plain and plain in normalised(name).casefold()],
    )
    found = next((candidates for candidates in rounds if candidates), [])
    if not found:
        seen = f"I see {_quoted(names)}" if names else "I see no port at all"
        raise PortUnknown(
            f'there is no MIDI port "{wanted}": {seen}. Is it plugged in and switched on? '
            "A name or a part that only one name has will do"
        )
    if len(found) > 1:
        candidates = found if len(set(found)) == len(found) else listed(found)
        raise PortAmbiguous(f'"{wanted}" may be any of {_quoted(candidates)}: give one of these names in full')
    return found[0]


def _quoted(names: Sequence[str]) -> str:
    return ", ".join(f'"{name}"' for name in names)


def ports_report(binding: Binding) -> list[str]:
    """What ``liveassist ports`` prints: one row a port, and a word on twins."""
    rows = []
    twins = False
    for heading, names in (
        ("can be heard (a console)", binding.inputs()),
        ("can be played (an organ)", binding.outputs()),
    ):
        rows.append(f"{heading}:")
        rows += [f"  {name}" for name in names] or ["  none: is the instrument plugged in and switched on?"]
        twins = twins or any(re.match(r"[2-9]:", name) for name in names)
    if twins:
        rows.append(
            "Ports of the same name are numbered in the system's order, which may differ the next time: try before you play."
        )
    return rows


# -- python-rtmidi --------------------------------------------------------------------------------------------------


def midi_binding(choice: str | None = None) -> Binding:
    """The machine's MIDI ports.

    ``choice`` (or the environment's LIVEASSIST_MIDI) is "alsa" or "jack" on Linux; without it ALSA is taken where it has a
    sequencer, else JACK. Raises PlayerError with advice where there is no MIDI system at all.
    """
    try:
        import rtmidi
    except ImportError:
        raise PlayerError(
            f"python-rtmidi is not installed; it comes with Python 3.11 and 3.12, and this is Python "
            f"{sys.version_info.major}.{sys.version_info.minor}"
        ) from None
    os.environ.setdefault("JACK_NO_START_SERVER", "1")
    systems = {rtmidi.get_api_name(api): api for api in rtmidi.get_compiled_api()}
    choice = (os.environ.get(CHOICE, "") if choice is None else choice).strip().lower()
    if choice and choice not in systems:
        raise PlayerError(f'{CHOICE} is "{choice}"; on this machine I can take {" or ".join(systems)}')
    for name in [choice] if choice else systems:
        if name == "alsa" and not Path("/dev/snd/seq").exists():
            continue
        try:
            with _hushed():
                return RtMidi(systems[name])
        except rtmidi.RtMidiError:
            continue
    if not sys.platform.startswith("linux"):
        raise PlayerError("the system's MIDI service does not answer: restart the computer and try again")
    tried = choice.upper() if choice else "ALSA or JACK"
    switch_on = SWITCH_ON.get(choice, SWITCH_ON[""])
    raise PlayerError(
        f"no MIDI system: this computer's own MIDI is switched off or missing ({tried} does not answer), so that no instrument "
        f"can be heard or played. To switch it on {switch_on}. If that does not help, show this line to whoever looks after "
        "the computer. (liveassist demo needs no MIDI.)"
    )


@contextmanager
def _hushed() -> Iterator[None]:
    """Keep the C libraries from printing while we try whether a MIDI system is there."""
    sys.stderr.flush()
    kept, nowhere = os.dup(2), os.open(os.devnull, os.O_WRONLY)
    os.dup2(nowhere, 2)
    try:
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)
        os.close(nowhere)


class RtMidi:
    """Binding over python-rtmidi.

    One object in each direction is kept for asking, because making one is slow and asking is not. It is also the first to
    be opened: each object is a client of its own, and a JACK server waits for every client that dies with its process.
    """

    def __init__(self, api: int) -> None:
        import rtmidi

        self._rtmidi, self._api = rtmidi, api
        self._asking: dict[str, Any] = {}
        """The object that is asked for names, by class."""
        self._used: set[str] = set()
        """The classes whose asking object is open."""
        for way in ("MidiIn", "MidiOut"):
            self._ask(way)

    def inputs(self) -> list[str]:
        return list(self._numbers("MidiIn"))

    def outputs(self) -> list[str]:
        return list(self._numbers("MidiOut"))

    def open_input(self, name: str, callback: Callback) -> Input:
        port = self._opened("MidiIn", name)
        port.ignore_types(sysex=True, timing=True, active_sense=True)

        def heard(event: tuple[list[int], float], _: object) -> None:
            at = time.monotonic()
            callback(at, bytes(event[0]))

        port.set_callback(heard)
        return _RtMidiInput(port, self._closed)

    def open_output(self, name: str) -> Output:
        return _RtMidiOutput(self._opened("MidiOut", name), self._closed)

    def __del__(self) -> None:
        """Let go of what is only asked: a client that is not closed dies with the process, and a JACK server waits for it."""
        for way, asking in [*self._asking.items()]:
            if way not in self._used:
                self._closed(asking)

    def _ask(self, way: str) -> Any:
        """The object that is asked."""
        if way not in self._asking:
            self._asking[way] = getattr(self._rtmidi, way)(self._api, CLIENT)
        return self._asking[way]

    def _numbers(self, way: str) -> dict[str, int]:
        """Names as listed, and the system's number of each; our own ports left out. None where the system is gone."""
        try:
            names = self._ask(way).get_ports()
        except self._rtmidi.RtMidiError:
            return {}
        raw = {number: name for number, name in enumerate(names) if not OURS.match(name)}
        return dict(zip(listed(list(raw.values())), raw, strict=True))

    def _opened(self, way: str, name: str) -> Any:
        number = self._numbers(way).get(name)
        if number is None:
            raise PortUnknown(f'the MIDI port "{name}" has gone')
        try:
            if way in self._used:
                port = getattr(self._rtmidi, way)(self._api, CLIENT)
            else:
                port = self._ask(way)
                self._used.add(way)
            port.open_port(number, name.replace(":", " "))
        except self._rtmidi.RtMidiError as error:
            self._closed(port)
            raise PlayerError(
                f'the MIDI port "{name}" cannot be opened ({error}): does another program hold it?'
            ) from None
        return port

    def _closed(self, port: Any) -> None:
        """An object is of no more use."""
        port.delete()
        for way in [way for way, asking in self._asking.items() if asking is port]:
            del self._asking[way]
            self._used.discard(way)


class _RtMidiInput:
    def __init__(self, port: Any, closed: Callable[[Any], None]) -> None:
        self._port, self._closed = port, closed

    def close(self, *, vanished: bool = False) -> None:
        if self._port is None or (vanished and sys.platform == "win32"):
            return  # closing a vanished input can crash Windows: drop it
        self._port.cancel_callback()
        self._port.close_port()
        self._closed(self._port)
        self._port = None


class _RtMidiOutput:
    def __init__(self, port: Any, closed: Callable[[Any], None]) -> None:
        self._port, self._closed = port, closed
        self._sent = -LAST_OFF
        self.well = True

    def send(self, message: bytes) -> bool:
        if not self.well:
            return False
        before = time.monotonic()
        try:
            self._port.send_message(message)
        except OSError:  # the binding's errors are of this kind
            self.well = False
            return False
        self._sent = time.monotonic()
        self.well = self._sent - before <= SLOW_SEND
        return True

    def close(self, *, vanished: bool = False) -> None:
        if self._port is None:
            return
        self.well = False
        if not vanished:
            time.sleep(max(0.0, self._sent + LAST_OFF - time.monotonic()))
        self._port.close_port()
        self._closed(self._port)
        self._port = None


# -- without MIDI ---------------------------------------------------------------------------------------------------


class EchoBinding:
    """Wires in one process: what is sent to an output is heard at once on every open input of the same name.

    For tests and the demo. ``unplug`` and ``plug`` behave as a cable does: what was open stays open and is silent, also
    after plugging in again.
    """

    def __init__(self, *names: str, clock: Callable[[], float] = time.monotonic) -> None:
        self._names = list(names)
        self._clock = clock
        self._heard_by: dict[str, list[_EchoInput]] = {}
        self._times_plugged: Counter[str] = Counter(names)

    def inputs(self) -> list[str]:
        return list(self._names)

    def outputs(self) -> list[str]:
        return list(self._names)

    def open_input(self, name: str, callback: Callback) -> Input:
        opened = _EchoInput(self, self._there(name), callback)
        self._heard_by.setdefault(name, []).append(opened)
        return opened

    def open_output(self, name: str) -> Output:
        return _EchoOutput(self, self._there(name), self._times_plugged[name])

    def plug(self, name: str) -> None:
        """A port appears."""
        self._names.append(name)
        self._times_plugged[name] += 1

    def unplug(self, name: str) -> None:
        """A port vanishes."""
        self._names.remove(name)
        self._heard_by.pop(name, None)

    def _there(self, name: str) -> str:
        if name not in self._names:
            raise PortUnknown(f'the MIDI port "{name}" has gone')
        return name

    def carry(self, name: str, plugged: int, message: bytes) -> None:
        """Bring a message from an output, opened at the given plugging, to the inputs."""
        if name in self._names and plugged == self._times_plugged[name]:
            at = self._clock()
            for listener in tuple(self._heard_by.get(name, ())):
                listener.callback(at, message)

    def forget(self, listener: _EchoInput) -> None:
        """Take an input out."""
        listeners = self._heard_by.get(listener.name, [])
        if listener in listeners:
            listeners.remove(listener)


class _EchoInput:
    def __init__(self, binding: EchoBinding, name: str, callback: Callback) -> None:
        self._binding, self.name, self.callback = binding, name, callback

    def close(self, *, vanished: bool = False) -> None:
        self._binding.forget(self)


class _EchoOutput:
    def __init__(self, binding: EchoBinding, name: str, plugged: int) -> None:
        self._binding, self._name, self._plugged = binding, name, plugged
        self.well = True

    def send(self, message: bytes) -> bool:
        if self.well:
            self._binding.carry(self._name, self._plugged, message)
        return self.well

    def close(self, *, vanished: bool = False) -> None:
        self.well = False
