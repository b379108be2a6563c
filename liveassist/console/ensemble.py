"""The guardian and its band, seen from the launcher: start, address, another band, the end, and the news in between.

Both run in a session of their own, so that closing the terminal does not reach them. The guardian's words are in ``guardian``;
the band's address comes by letter (``band_process``).
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import threading
import time
from collections import deque
from collections.abc import Mapping
from contextlib import suppress
from functools import partial
from pathlib import Path
from queue import Empty, SimpleQueue
from typing import Any

from liveassist.console.guardian import GRACE, LONGEST, lines_from
from liveassist.console.instrument import Profile
from liveassist.console.spec import BandSpec
from liveassist.errors import PlayerError

BAND = [sys.executable, "-m", "liveassist.console.band_process"]
GUARDIAN = [sys.executable, "-m", "liveassist.console.guardian"]
READY = LONGEST
"""Seconds in which a band must have made everything ready."""
LISTEN = 0.1
"""How long we listen to the guardian at a time, in seconds."""
LOOK = 0.01
"""How often we look for the letter, in seconds."""
GONE = ("ended", "wrong")
"""What the guardian says when there is no band (any more)."""
LAST_LINES = 12
"""So many lines of a crash are shown."""

Address = tuple[str, int]


class Ensemble:
    """A guardian with one band after another."""

    def __init__(self, profile: Profile) -> None:
        self._outputs = [
            {"name": name, "channels": sorted({part.channel for part in profile.parts.values() if part.port == name})}
            for name in profile.output_ports
        ]
        self._clock = profile.clock.sends if profile.clock is not None else ""
        self._folder = tempfile.TemporaryDirectory(prefix="liveassist-", ignore_cleanup_errors=True)
        self._lines: SimpleQueue[str] = SimpleQueue()
        self._kept: deque[dict[str, Any]] = deque()
        """News that came while we waited for something else."""
        self._process: subprocess.Popen[bytes] | None = None
        self.playing = False
        """Whether there is a band."""

    def __enter__(self) -> Ensemble:
        return self

    def __exit__(self, *_: object) -> None:
        self.end()
        self._folder.cleanup()

    @property
    def letter(self) -> str:
        """Where the band writes its address."""
        return str(Path(self._folder.name) / "address.json")

    def start(self, spec: BandSpec) -> Address:
        """Start a band, and the guardian with the first one.

        Returns:
            the address of the band's link.
        Raises:
            PlayerError: when the band says that it cannot play this, or fell over.
        """
        Path(self.letter).unlink(missing_ok=True)
        if self._process is None:
            self._process = self._guardian()
            self._say({"band": BAND, "hand": spec.line(), "outputs": self._ports(), "clock": self._clock})
        else:
            self._say({"do": "start", "hand": spec.line()})
        self.playing = True
        return self._address()

    def news(self, wait: float = 0.0) -> dict[str, Any] | None:
        """What the guardian says next, or None where it says nothing for so long (seconds)."""
        return self._kept.popleft() if self._kept else self._next(wait)

    def has_ended(self, *, within: float) -> bool:
        """Whether there is no band any more, now or within so many seconds."""
        until = time.monotonic() + within
        while self.playing and (left := until - time.monotonic()) > 0.0:
            if (told := self._next(left)) is not None:
                self._kept.append(told)
        return not self.playing

    def story(self) -> str:
        """The last lines that band and guardian wrote to their standard error."""
        with open(self._log(), encoding="utf-8", errors="replace") as log:
            return "".join(log.readlines()[-LAST_LINES:]).strip()

    def end(self) -> None:
        """End the band properly, and the guardian after it. One that still cares for the organ is left to it."""
        process, self._process = self._process, None
        if process is None:
            return
        assert process.stdin is not None
        with suppress(OSError):  # it may have gone
            process.stdin.write(b'{"do": "end"}\n')
            process.stdin.close()
        until = time.monotonic() + 2 * GRACE
        while self.playing and process.poll() is None and time.monotonic() < until:
            self._next(LISTEN)

    def let_go(self) -> None:
        """Leave the music to itself: it ends after its fine."""
        if self._process is not None and self._process.stdin is not None:
            self._process.stdin.close()
        self._process = None

    # -----------------------------------------------------------------------------------------------------------------

    def _next(self, wait: float) -> dict[str, Any] | None:
        try:
            line = self._lines.get(timeout=wait) if wait else self._lines.get_nowait()
        except Empty:
            return None
        if not line:
            self.playing = False
            return {"kind": "wrong", "text": "the guardian has gone"}
        try:
            told: dict[str, Any] = json.loads(line)
        except ValueError:  # a MIDI system's library that prints where it should not
            return {"kind": "printed", "text": line}
        self.playing = self.playing and told["kind"] != "ended"
        return told

    def _ports(self) -> list[dict[str, Any]]:
        return [port for port in self._outputs if port["name"]]

    def _log(self) -> str:
        return str(Path(self._folder.name) / "errors.log")

    def _guardian(self) -> subprocess.Popen[bytes]:
        own_group = getattr(subprocess, "CREATE_NEW_PROCESS_GROUP", 0)
        with open(self._log(), "wb") as log:
            process = subprocess.Popen(
                GUARDIAN,
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                stderr=log,
                start_new_session=True,
                creationflags=own_group,
            )
        assert process.stdout is not None
        reading = (partial(os.read, process.stdout.fileno()), self._lines.put)
        threading.Thread(target=lines_from, args=reading, daemon=True).start()
        return process

    def _say(self, wish: Mapping[str, Any]) -> None:
        assert self._process is not None and self._process.stdin is not None
        try:
            self._process.stdin.write(json.dumps(wish, ensure_ascii=False).encode() + b"\n")
            self._process.stdin.flush()
        except OSError:
            raise PlayerError(f"the guardian has gone: {self.story() or 'it said nothing'}") from None

    def _address(self) -> Address:
        """Wait for the letter."""
        until = time.monotonic() + READY
        while time.monotonic() < until:
            content = self._read_letter()
            if "wrong" in content:
                raise PlayerError(content["wrong"])
            if content:
                return str(content["host"]), int(content["port"])
            told = self._next(LOOK)
            if told is not None and told["kind"] in GONE:
                why = self._read_letter().get("wrong") or told.get("text") or self.story()
                raise PlayerError(str(why or "the band ended before it began"))
            if told is not None:
                self._kept.append(told)
        raise PlayerError(f"the band was not ready after {READY:g} seconds")

    def _read_letter(self) -> dict[str, Any]:
        try:
            content: dict[str, Any] = json.loads(Path(self.letter).read_text(encoding="utf-8"))
        except FileNotFoundError:
            return {}
        return content
