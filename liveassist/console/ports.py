"""MIDI ports by name: one small interface, a binding behind it, and wires without MIDI for tests and the demo.

Two bindings serve: python-rtmidi (``rtmidi_binding``), and pylibremidi (``libremidi_binding``) for the Pythons for which the
first has no wheels.

Conventions. *Inputs* are what we can hear (a console's output), *outputs* what we can play (an organ's input). Messages are
whole MIDI messages as bytes. An arriving message is stamped with the monotonic clock in the first line of the callback; the
binding's own delta times are not used. Note-on with velocity 0 is passed on as it came, and a MIDI clock is heard. SysEx and
active sensing are not listened to.

Names are not identities: systems append client or index numbers that change from day to day. A binding lists
*normalised* names, without them; two ports whose names are then the same are listed as ``1:NAME`` and ``2:NAME``, in the
system's order. A wanted name is matched exactly, then normalised and without regard to case, then as a part that only one
name has. Most systems do not tell that a port went away: see ``watching`` for that.

Use a binding from one thread: macOS refreshes its list only on the thread that first asked.
"""

from __future__ import annotations

import importlib.util
import os
import re
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Protocol

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
WHICH = "LIVEASSIST_BINDING"
"""Environment variable that names the binding to use, where both are installed."""
MODULES = {"rtmidi": "rtmidi", "libremidi": "pylibremidi"}
"""The bindings and their modules, the one to prefer first."""
PACKAGES = {"rtmidi": "python-rtmidi", "libremidi": "pylibremidi"}
"""The packages that they come in."""
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
OURS = re.compile(rf"({CLIENT}(-\d+)?:|libremidi client(-\d+)?:{CLIENT} )")


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

    def stirred(self) -> frozenset[str] | None:
        """What changed since the last asking: the names that went away, perhaps to come back at once. None where nothing
        has changed, or where the system does not tell. Costs next to nothing."""

    def trouble(self) -> str:
        """Why the whole MIDI system is away, for the player; empty where it is there."""


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


# -- the machine's MIDI ---------------------------------------------------------------------------------------------


def midi_binding(choice: str | None = None) -> Binding:
    """The machine's MIDI ports.

    ``choice`` (or the environment's LIVEASSIST_MIDI) is "alsa" or "jack" on Linux; without it ALSA is taken where it has a
    sequencer, else JACK. LIVEASSIST_BINDING is "rtmidi" or "libremidi"; without it python-rtmidi is taken where it is
    installed, else pylibremidi. Raises PlayerError with advice where there is no MIDI system at all.
    """
    os.environ.setdefault("JACK_NO_START_SERVER", "1")
    systems = _systems()
    choice = (os.environ.get(CHOICE, "") if choice is None else choice).strip().lower()
    if choice and choice not in systems:
        raise PlayerError(f'{CHOICE} is "{choice}"; on this machine I can take {" or ".join(systems)}')
    for name in [choice] if choice else systems:
        if name == "alsa" and not Path("/dev/snd/seq").exists():
            continue
        binding = systems[name]()
        if binding is not None:
            return binding
    if not sys.platform.startswith("linux"):
        raise PlayerError("the system's MIDI service does not answer: restart the computer and try again")
    tried = choice.upper() if choice else "ALSA or JACK"
    switch_on = SWITCH_ON.get(choice, SWITCH_ON[""])
    raise PlayerError(
        f"no MIDI system: this computer's own MIDI is switched off or missing ({tried} does not answer), so that no instrument "
        f"can be heard or played. To switch it on {switch_on}. If that does not help, show this line to whoever looks after "
        "the computer. (liveassist demo needs no MIDI.)"
    )


def _systems() -> dict[str, Callable[[], Binding | None]]:
    """The MIDI systems that the installed binding knows, the likeliest first, and what tries each."""
    wanted = os.environ.get(WHICH, "").strip().lower()
    if wanted and wanted not in MODULES:
        raise PlayerError(f'{WHICH} is "{wanted}"; I can take {" or ".join(MODULES)}')
    for name in [wanted] if wanted else MODULES:
        if importlib.util.find_spec(MODULES[name]) is not None:
            if name == "rtmidi":
                from liveassist.console.rtmidi_binding import systems
            else:
                from liveassist.console.libremidi_binding import systems
            return systems()
    wanting = PACKAGES[wanted] if wanted else " or ".join(PACKAGES.values())
    raise PlayerError(
        f"no MIDI binding: {wanting} cannot be loaded by this Python {sys.version_info.major}.{sys.version_info.minor}. "
        "Python 3.11 and 3.12 load both: set liveassist up with one of those"
    )


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

    def stirred(self) -> frozenset[str] | None:
        return None

    def trouble(self) -> str:
        return ""

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
