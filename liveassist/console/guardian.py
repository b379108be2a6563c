"""The guardian: parent of the band, and the one that lets go of the keys when the band dies or hangs.

Run as ``python -m liveassist.console.guardian`` in a session of its own; standard library and the MIDI binding only. It
holds its own outputs to the same destinations as the band, so that a dead or stuck band cannot take the way to the organ
with it, and silences with note-offs alone: no controller, since on consoles these move stops and shoes. What follows the MIDI
clock is told to stop: a drum module would play on or stand still in its bar.

What it reads (standard input, JSON lines from the launcher). First the *spec*::

    {"band": ["python", "-m", "..."],      command of the band
     "hand": "...",                        text handed to the band as the first line of its standard input
     "outputs": [{"name": "Organ", "channels": [2]}, ...],
                                           ports that the band plays, in the order of its PORT numbers, and channels (1-16)
     "clock": "Drum module",               the port to which it sends a MIDI clock, one of these or another (optional)
     "limit": 0.25}                        silence that is taken for a hang while something sounds, seconds (optional)

and then any of::

    {"do": "start", "hand": "..."}         another band, when the last one has ended; "band" may change the command
    {"do": "end"}                          ask the band to leave (TERM; on Windows a line "end" on its standard input),
                                           insist after a while, and leave

What it tells (standard output, JSON lines)::

    {"kind": "band", "pid": 17}            a band has started
    {"kind": "alive"}                      its first line has come: from now on it is guarded
    {"kind": "port", "name": "Organ", "well": false, "text": "..."}
                                           one of its own outputs went away or came back
    {"kind": "silenced", "why": "died" | "hung" | "left", "after_ms": 3.1, "notes": 4}
                                           note-offs for the sounding notes have been sent, so long after it noticed;
                                           the sweep goes on ("left": the band said bye with keys down)
    {"kind": "ended", "why": "died" | "hung" | "left", "code": -9}
                                           the band is no more and the sweep is done
    {"kind": "wrong", "text": "..."}       something that was read cannot be done

The band's end of it, and its lines, are in ``heartbeat``. The band's standard error is the guardian's own.

*Death* is the end of the band's pipe without ``bye``. A *hang* is silence above the limit, counted only while the guardian
itself was running: after a gap of its own, or a night in a closed laptop, it counts one step and reads first what has come.
The limit is short while something sounds, and longer while nothing does: a band that begins on a slow machine, or opens a
port, is not ended for it. Before its first line, and in long work that it has announced, it has a minute.
On a machine busy with other things a band that waits for its turn is not hung either, for up to a second (``starving``).
A hung band is killed before anything is sent, because a stopped process blocks what lies behind it in some MIDI systems.

When the launcher is gone (end of standard input), the music goes on: the guardian closes the band's standard input, which
tells the band to end after its fine, and leaves when the band has, and after some aftercare where it had to silence. INT,
TERM and HUP do not end it.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from queue import Empty, SimpleQueue
from typing import Any

from liveassist.console.heartbeat import LIMIT
from liveassist.console.ports import Binding, midi_binding
from liveassist.console.silencing import CLOCK_STOP, REPEATS, Account, silencing
from liveassist.console.starving import Turns
from liveassist.console.watching import NOTE_OFF, RELEASE, Outlet, Watch
from liveassist.errors import PlayerError

STEP = 0.02
"""The guardian looks around at least this often, seconds."""
AFTERCARE = (1.0, 2.0, 5.0)
"""When the keys last known are let go once more, seconds: a JACK server that loses two clients at once may stand still for
seconds. A new band, or the wish to end, cuts this short."""
STARVED = 1.0
"""A band that is given no turn by a busy machine has so long, seconds, before it is taken for hung all the same."""
IDLE = 2.0
"""The limit while no key may sound and no clock rolls, seconds: nothing is the worse for waiting."""
LONGEST = 60.0
"""The limit for starting and for long work that was announced, seconds."""
STAY = 0.15
"""A port stays open this long after its last message, seconds."""
GRACE = 3.0
"""Seconds that a band has for leaving when asked to."""
ONE_CLIENT = sys.platform == "win32"
"""Whether a port takes one client only, so that the guardian can open its own only after a death."""


class Quiet:
    """How long the band has been silent, counted only while somebody listened."""

    def __init__(self, now: float) -> None:
        self._looked = now
        self._silent = self._starved = 0.0

    def too_long(self, now: float, limit: float, *, heard: bool, starved: Callable[[], bool] = lambda: False) -> bool:
        """Look at ``now``, having ``heard`` from the band or not; whether the silence has passed the ``limit``.

        A look later than a step after the one before counts as one step: the guardian was not running, and the band may
        well have been. A step in which the band was ``starved`` counts towards a limit of its own; that is asked of silent
        steps alone, for asking costs two small files.
        """
        step = min(now - self._looked, STEP)
        self._looked = now
        if heard:
            self._silent = self._starved = 0.0
        elif starved():
            self._starved += step
        else:
            self._silent += step
        return self._silent > limit or self._silent + self._starved > max(limit, STARVED)


Arrivals = SimpleQueue[tuple[object, str]]
"""Who said it (a Band, or None for the launcher) and a line; "" at the end."""


def lines_from(read: Callable[[int], bytes], arrived: Callable[[str], None]) -> None:
    """Hand on line by line what arrives, and "" at the end. Empty lines are passed over."""
    rest = b""
    while piece := read(4096):
        *lines, rest = (rest + piece).split(b"\n")
        for line in filter(None, lines):
            arrived(line.decode("utf-8", "replace"))
    arrived("")


class Band:
    """One band process, as its parent sees it."""

    def __init__(self, argv: Sequence[str], hand: str, arrivals: Arrivals) -> None:
        self._process = subprocess.Popen(argv, stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        self.pid = self._process.pid
        self.turns = Turns(self.pid)
        self._to_band: SimpleQueue[str | None] = SimpleQueue()
        self._to_band.put(hand)
        assert self._process.stdout is not None
        fd = self._process.stdout.fileno()
        for work in (self._write, lambda: lines_from(partial(os.read, fd), lambda line: arrivals.put((self, line)))):
            threading.Thread(target=work, daemon=True).start()

    def orphan(self) -> None:
        """Tell it that nobody watches any more."""
        self._to_band.put(None)

    def ask_to_leave(self) -> None:
        """Ask it to leave."""
        if sys.platform == "win32":
            self._to_band.put("end")
        else:
            self._process.terminate()

    def kill(self) -> None:
        """End it now."""
        self._process.kill()

    def code(self, *, wait: float = 0.0) -> int | None:
        """Its exit code, or None when it still runs after so many seconds."""
        try:
            return self._process.wait(wait)
        except subprocess.TimeoutExpired:
            return None

    def _write(self) -> None:
        pipe = self._process.stdin
        assert pipe is not None
        try:
            while (line := self._to_band.get()) is not None:
                pipe.write(line.encode() + b"\n")
                pipe.flush()
            pipe.close()
        except OSError:
            return  # it has gone: the end of the other pipe tells


class Guardian:
    """Keeps one band after another, and the organ silent after each."""

    def __init__(
        self,
        spec: Mapping[str, Any],
        arrivals: Arrivals,
        tell: Callable[[Mapping[str, Any]], None],
        binding: Binding | None,
        *,
        one_client: bool = ONE_CLIENT,
    ) -> None:
        """``binding`` may be missing where the band plays to no port."""
        self._argv, self._names = list(spec["band"]), [str(port["name"]) for port in spec["outputs"]]
        self._channels = [tuple(int(channel) for channel in port["channels"]) for port in spec["outputs"]]
        self._clock = str(spec.get("clock", ""))
        self._limit = float(spec.get("limit", LIMIT))
        self._arrivals, self._tell, self._binding = arrivals, tell, binding
        self._one_client = one_client
        self._watch: Watch | None = None
        self._outlets: list[Outlet] = []
        self._module: Outlet | None = None
        """What follows the clock."""
        self._band: Band | None = None
        self._launcher = True
        self._ending = False
        self._begin_anew()
        if not one_client:
            self._open()

    # -- one band -----------------------------------------------------------------------------------------------------

    def start(self, hand: str) -> None:
        """Start a band."""
        self._begin_anew()
        try:
            self._band = Band(self._argv, hand, self._arrivals)
        except OSError as error:
            self._tell({"kind": "wrong", "text": f"{self._argv[0]} cannot be started: {error.strerror}"})
            return
        if not self._launcher:
            self._band.orphan()
        self._tell({"kind": "band", "pid": self._band.pid})

    def run(self) -> None:
        """Until there is neither band nor launcher, or the launcher said end and the band has gone."""
        while self._band is not None or (not self._ending and (self._launcher or self._aftercare)):
            self.step()
        self._close()

    def step(self) -> None:
        """Listen for one step, and do what is to be done."""
        heard = False
        for who, line in self._arrived():
            if who is None:
                self._obey(line)
            elif who is self._band:
                heard = True
                self._hear(line)
        now = time.monotonic()
        self._look(now)
        if self._band is None:
            self._care(now)
            return
        hung = self._quiet.too_long(now, self._patience(now), heard=heard, starved=self._band.turns.missed)
        late = now > self._leave_by
        if self._said_bye:
            if late or (self._pipe_closed and self._band.code() is not None):
                self._over("left", now)
        elif hung or late:
            self._over("hung", now)
        elif self._pipe_closed:
            self._over("died", now)

    def _begin_anew(self) -> None:
        self._account = Account(self._channels)
        self._quiet = Quiet(time.monotonic())
        self._aftercare: list[tuple[float, Sequence[Callable[[], object]]]] = []
        self._alive = self._listening = self._said_bye = self._pipe_closed = False
        self._leave_by = float("inf")

    def _patience(self, now: float) -> float:
        """How long the band may be silent now, in seconds."""
        if not self._listening:
            return LONGEST
        return self._limit if self._account.sounding(now) or self._account.rolls(now) else max(self._limit, IDLE)

    def _arrived(self) -> Iterator[tuple[object, str]]:
        """What arrives within a step: waits for the first, then takes all that are there."""
        try:
            yield self._arrivals.get(timeout=STEP)
            while True:
                yield self._arrivals.get_nowait()
        except Empty:
            return

    def _hear(self, line: str) -> None:
        """A line of the band's."""
        self._listening = line not in ("", "rest", "bye")
        if line in ("", "bye"):
            self._pipe_closed = line == ""
            self._said_bye = self._said_bye or line == "bye"
            self._leave_by = min(self._leave_by, time.monotonic() + GRACE)
            return
        if not self._alive:
            self._alive = True
            self._tell({"kind": "alive"})
        try:
            self._account.hear(line, time.monotonic())
        except (ValueError, IndexError):
            self._tell({"kind": "wrong", "text": f"the band said {line!r}, which means nothing to me"})

    def _over(self, why: str, now: float) -> None:
        """The band is no more, or good for nothing."""
        assert self._band is not None
        self._band.kill()  # before anything is sent; nothing where it has gone
        sounds = bool(self._account.down or (why != "left" and self._account.let_go))
        if sounds or self._account.rolls(now):
            self._silence(why, now, sounds=sounds)
        elif not self._one_client:
            for key in self._account.sounding(now):  # its last note-offs may have died with its port
                self._let_go(*key)
        self._tell({"kind": "ended", "why": why, "code": self._band.code(wait=GRACE)})
        self._band = None

    # -- silence ------------------------------------------------------------------------------------------------------

    def _silence(self, why: str, noticed: float, *, sounds: bool) -> None:
        """Let go of every key, where one ``sounds``, and stop what follows the clock."""
        self._open()
        notes = len(self._account.down)
        keys = self._account.sounding(noticed)
        rolls = self._account.rolls(noticed)
        plan = silencing(self._account, noticed) if sounds else [(0.0, key) for key in keys]
        steps: list[tuple[float, Callable[[], object]]] = [
            (moment, partial(self._let_go, *key)) for moment, key in plan
        ]
        steps += [(moment, self._stop_clock) for moment in REPEATS if rolls]
        told = not sounds
        begin = time.monotonic()
        for moment, act in sorted(steps, key=lambda step: step[0]):
            if moment > 0.0 and not told:
                told = True
                after = round((time.monotonic() - noticed) * 1000.0, 1)
                self._tell({"kind": "silenced", "why": why, "after_ms": after, "notes": notes})
            time.sleep(max(0.0, begin + moment - time.monotonic()))
            act()
        time.sleep(STAY)
        if self._one_client:
            self._close()
        else:
            acts = [partial(self._let_go, *key) for key in keys] + [self._stop_clock] * rolls
            self._aftercare = [(noticed + moment, acts) for moment in AFTERCARE]

    def _stop_clock(self) -> None:
        if self._module is not None:
            self._module.send(CLOCK_STOP)

    def _let_go(self, port: int, channel: int, key: int) -> None:
        self._outlets[port].send(bytes((NOTE_OFF | channel - 1, key, RELEASE)))

    def _care(self, now: float) -> None:
        """Let go once more of what is due."""
        while self._aftercare and self._aftercare[0][0] <= now:
            for act in self._aftercare.pop(0)[1]:
                act()

    def _open(self) -> None:
        if self._watch is None and self._binding is not None:
            self._watch = Watch(self._binding)
            self._outlets = [self._watch.play(name) for name in self._names]
            if self._clock in self._names:
                self._module = self._outlets[self._names.index(self._clock)]
            elif self._clock:
                self._module = self._watch.play(self._clock)
        self._look(time.monotonic())

    def _look(self, now: float) -> None:
        """See to the cables, and tell what is new."""
        for news in self._watch.look(now) if self._watch is not None else ():
            self._tell({"kind": "port", "name": news.wanted, "well": news.well, "text": news.text})

    def _close(self) -> None:
        if self._watch is not None:
            self._watch.close()
        self._watch = None

    # -- the launcher -------------------------------------------------------------------------------------------------

    def _obey(self, line: str) -> None:
        """A line of the launcher's."""
        if line == "":
            self._launcher = False
            if self._band is not None:
                self._band.orphan()
            return
        try:
            wish = json.loads(line)
            what = wish["do"]
        except (ValueError, TypeError, KeyError):
            what = None
        if what == "end":
            self._ending = True
            if self._band is not None:
                self._leave_by = min(self._leave_by, time.monotonic() + GRACE)
                self._band.ask_to_leave()
        elif what == "start" and self._band is None:
            self._argv = list(wish.get("band", self._argv))
            self.start(str(wish.get("hand", "")))
        elif what == "start":
            self._tell({"kind": "wrong", "text": "a band is still playing: I start another when it has ended"})
        else:
            self._tell({"kind": "wrong", "text": f'I can do {{"do": "start"}} and {{"do": "end"}}, not {line!r}'})


def _tell(message: Mapping[str, Any]) -> None:
    """A line to the launcher, if it is still there."""
    try:
        os.write(1, (json.dumps(message, ensure_ascii=False) + "\n").encode())
    except OSError:
        return


def main() -> int:
    """Read the spec, then guard."""
    for name in ("SIGINT", "SIGTERM", "SIGHUP"):
        if hasattr(signal, name):  # caught and not ignored: what is ignored here would be ignored in the band too
            signal.signal(getattr(signal, name), lambda number, frame: None)
    arrivals: Arrivals = SimpleQueue()
    reading = (partial(os.read, 0), lambda line: arrivals.put((None, line)))
    threading.Thread(target=lines_from, args=reading, daemon=True).start()
    try:
        spec = json.loads(arrivals.get()[1])
        guardian = Guardian(spec, arrivals, _tell, midi_binding() if spec["outputs"] or spec.get("clock") else None)
    except (ValueError, KeyError, TypeError) as error:
        _tell({"kind": "wrong", "text": f"the spec cannot be read: {error!r}"})
        return 2
    except PlayerError as error:
        _tell({"kind": "wrong", "text": str(error)})
        return 1
    guardian.start(str(spec.get("hand", "")))
    guardian.run()
    return 0


if __name__ == "__main__":
    sys.exit(main())
