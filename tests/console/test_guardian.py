"""The guardian at work: real processes, real JACK ports, and an organ that heeds notes only (not controller 123) and keeps
its own set of sounding keys.
"""

from __future__ import annotations

import json
import os
import select
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Mapping
from pathlib import Path
from queue import SimpleQueue
from typing import Any

import pytest

from liveassist.console.guardian import Guardian
from liveassist.console.ports import EchoBinding

BAND = Path(__file__).with_name("standin_band.py")
CHORD = (55, 59, 62, 67)
TRIALS = 4
JACK = ("-t", "5")
"""Options of the server: see conftest."""
KEEPS_QUIET = 0.25
"""Heartbeat limit, seconds."""


class Guarded:
    """A guardian process as its launcher sees it."""

    def __init__(self, port: str = "", *, channel: int = 2, env: dict[str, str] | None = None) -> None:
        self._hand = {"port": port, "channel": channel, "keys": CHORD, "then": "play"}
        self._process = subprocess.Popen(
            [sys.executable, "-m", "liveassist.console.guardian"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            bufsize=0,
            start_new_session=True,
            env={**os.environ, **(env or {})},
        )
        self._outputs = [{"name": port, "channels": [channel]}] if port else []
        self._rest = b""
        self.told: list[dict[str, Any]] = []
        self.pid = self._process.pid

    def begin(self, **hand: Any) -> int:
        """Hand over the spec; the band's process number."""
        spec = {
            "band": [sys.executable, str(BAND)],
            "hand": json.dumps({**self._hand, **hand}),
            "outputs": self._outputs,
            "limit": KEEPS_QUIET,
        }
        self.say(spec)
        return self._band()

    def again(self, **hand: Any) -> int:
        """Start another band."""
        self.say({"do": "start", "hand": json.dumps({**self._hand, **hand})})
        return self._band()

    def _band(self) -> int:
        pid = int(self.hear("band")["pid"])
        self.hear("alive")
        return pid

    def say(self, message: object) -> None:
        assert self._process.stdin is not None
        self._process.stdin.write((json.dumps(message) + "\n").encode())

    def leave_alone(self) -> None:
        """The launcher dies."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.close()
        self._process.stdout.close()

    def hear(self, kind: str, within: float = 30.0) -> dict[str, Any]:
        """The next message of a kind; those before it are kept in ``told``."""
        assert self._process.stdout is not None
        end = time.monotonic() + within
        while True:
            *lines, self._rest = self._rest.split(b"\n", 1) if b"\n" in self._rest else (self._rest,)
            if lines:
                self.told.append(json.loads(lines[0]))
                if self.told[-1]["kind"] == kind:
                    return self.told[-1]
                continue
            ready, _, _ = select.select([self._process.stdout], [], [], max(0.0, end - time.monotonic()))
            assert ready, f"waited {within:g} s in vain for {kind}; told so far: {self.told}"
            piece = os.read(self._process.stdout.fileno(), 4096)
            assert piece, f"the guardian has gone without {kind}; told so far: {self.told}"
            self._rest += piece

    def exit_code(self, within: float = 30.0) -> int:
        return self._process.wait(within)

    def end(self) -> None:
        """Whatever happened: end what was started."""
        if self._process.stdin is not None and not self._process.stdin.closed and self._process.poll() is None:
            self.say({"do": "end"})
            self._process.stdin.close()
        for message in self.told:
            if message["kind"] == "band" and self._process.poll() is None:
                try:
                    os.kill(message["pid"], signal.SIGKILL)
                except ProcessLookupError:
                    continue
        try:
            self._process.wait(10)
        except subprocess.TimeoutExpired:
            self._process.kill()
            self._process.wait(10)
        if self._process.stdout is not None:
            self._process.stdout.close()


@pytest.fixture
def guarded() -> Iterator[Callable[..., Guarded]]:
    made: list[Guarded] = []

    def make(port: str = "", **more: Any) -> Guarded:
        made.append(Guarded(port, **more))
        return made[-1]

    yield make
    for guardian in made:
        guardian.end()


def sounds(organ: Any) -> bool:
    return organ.sounding == {(2, key) for key in CHORD}


def milliseconds(seconds: list[float]) -> str:
    ordered = sorted(seconds)
    return f"median {ordered[len(ordered) // 2] * 1000:.0f} ms, at most {ordered[-1] * 1000:.0f} ms"


@pytest.mark.parametrize(
    ("how", "why", "most"),
    [
        pytest.param(signal.SIGKILL, "died", 0.3, id="killed"),
        pytest.param(signal.SIGSTOP, "hung", KEEPS_QUIET + 0.1, id="stopped"),
    ],
)
def test_every_note_ends_when_the_band_is(how, why, most, guarded, fake_organ, until) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    band = guardian.begin()
    took = []
    for trial in range(TRIALS):
        if trial:
            guardian.hear("ended")
            band = guardian.again()
        until(lambda: sounds(organ))
        at = time.monotonic()
        os.kill(band, how)
        assert guardian.hear("silenced")["why"] == why
        until(lambda: not organ.sounding)
        took.append(organ.silent_since - at)
    assert guardian.hear("ended")["code"] == -signal.SIGKILL
    assert not organ.sounding
    # the goals are for an idle machine and stand in the benchmark, which makes more trials; one of these must reach them
    assert min(took) <= most, milliseconds(took)
    assert {status & 0xF0 for _, (status, *_) in organ.heard} == {0x80, 0x90}, "a controller was sent"


def test_a_note_off_that_died_with_the_band_is_sent_again(guarded, fake_organ, until) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    band = guardian.begin(then="lose")
    until(lambda: sounds(organ))
    os.kill(band, signal.SIGKILL)
    guardian.hear("ended")
    assert not organ.sounding


def test_a_band_that_says_bye_is_let_go_in_peace(guarded, fake_organ) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    guardian.begin(then="bye")
    assert guardian.hear("ended") == {"kind": "ended", "why": "left", "code": 0}
    assert "silenced" not in {message["kind"] for message in guardian.told}
    guardian.say({"do": "end"})
    assert guardian.exit_code() == 0
    assert len(organ.heard) == 3 * len(CHORD)
    assert not sounds(organ)
    # the last note-offs are sent once more: they may have died with the band's port
    assert [message for _, message in organ.heard[len(CHORD) :]] == 2 * [bytes((0x81, key, 64)) for key in CHORD]


def test_a_bye_with_keys_down_is_not_believed(guarded, fake_organ) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    guardian.begin(then="bye with keys down")
    assert guardian.hear("silenced")["notes"] == len(CHORD)
    assert guardian.hear("ended")["why"] == "left"
    assert not organ.sounding


def test_the_launcher_ends_the_band(guarded, fake_organ, until) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    guardian.begin()
    until(lambda: sounds(organ))
    guardian.say({"do": "end"})
    assert guardian.hear("ended") == {"kind": "ended", "why": "left", "code": 0}
    assert guardian.exit_code() == 0
    assert not organ.sounding


def test_signals_of_a_closed_terminal_do_not_end_the_guardian(guarded, fake_organ, until) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    band = guardian.begin()
    until(lambda: sounds(organ))
    for number in (signal.SIGHUP, signal.SIGINT, signal.SIGTERM):
        os.kill(guardian.pid, number)
    os.kill(band, signal.SIGKILL)
    assert guardian.hear("ended")["why"] == "died"
    assert not organ.sounding


def test_without_a_launcher_the_band_is_told_and_the_guardian_leaves_after_it(guarded, fake_organ, until) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    guardian.begin()
    until(lambda: sounds(organ))
    guardian.leave_alone()
    assert guardian.exit_code() == 0
    assert not organ.sounding


def test_a_band_killed_without_a_launcher_is_silenced_all_the_same(guarded, fake_organ, until) -> None:
    organ = fake_organ("quay")
    guardian = guarded("quay")
    band = guardian.begin(then="play")
    until(lambda: sounds(organ))
    os.kill(band, signal.SIGSTOP)  # so that it cannot heed that its launcher has gone
    guardian.leave_alone()
    assert guardian.exit_code() == 0
    assert not organ.sounding


def test_an_organ_that_is_away_is_told(guarded, jack) -> None:
    guardian = guarded("quay")
    guardian.begin(port="")
    assert [message["well"] for message in guardian.told if message["kind"] == "port"] == [False]


# -- without ports ------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("then", ["rest", "begin slowly"])
def test_long_work_that_is_announced_and_a_slow_beginning_are_no_hang(then: str, guarded) -> None:
    guardian = guarded()
    guardian.begin(keys=[], then=then)
    assert guardian.hear("ended") == {"kind": "ended", "why": "left", "code": 0}


def test_a_stopped_band_with_nothing_sounding_is_ended(guarded) -> None:
    guardian = guarded()
    band = guardian.begin(keys=[])
    os.kill(band, signal.SIGSTOP)
    assert guardian.hear("ended")["why"] == "hung"
    assert "silenced" not in {message["kind"] for message in guardian.told}


def test_a_band_that_never_begins_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("liveassist.console.guardian.LONGEST", KEEPS_QUIET)
    told: list[Mapping[str, Any]] = []
    spec = {"band": [sys.executable, "-c", "import time; time.sleep(600)"], "outputs": []}
    guardian = Guardian(spec, SimpleQueue(), told.append, None)
    guardian.start("")
    end = time.monotonic() + 30.0
    while told[-1]["kind"] != "ended":
        guardian.step()
        assert time.monotonic() < end, told
    assert told[-1]["why"] == "hung"


def test_two_bands_at_once_are_refused(guarded) -> None:
    guardian = guarded()
    guardian.begin(keys=[])
    guardian.say({"do": "start", "hand": ""})
    assert "still playing" in guardian.hear("wrong")["text"]


def test_where_a_port_takes_one_client_it_is_opened_after_the_death_only() -> None:
    wires, came, told, arrivals = EchoBinding("organ"), [], [], SimpleQueue()
    wires.open_input("organ", lambda at, message: came.append(message))
    outputs = [{"name": "organ", "channels": [2]}]
    spec = {"band": [sys.executable, str(BAND)], "outputs": outputs, "limit": KEEPS_QUIET}
    guardian = Guardian(spec, arrivals, told.append, wires, one_client=True)

    def tells(kind: str) -> dict[str, Any]:
        end = time.monotonic() + 30.0
        while not (found := [message for message in told if message["kind"] == kind]):
            guardian.step()
            assert time.monotonic() < end, f"waited in vain for {kind}; told so far: {told}"
        return found[0]

    guardian.start(json.dumps({"port": "", "channel": 2, "keys": CHORD, "then": "play"}))
    try:
        tells("alive")
        for _ in range(10):
            guardian.step()
        assert not [message for message in told if message["kind"] == "port"]
    finally:
        os.kill(tells("band")["pid"], signal.SIGKILL)
    assert tells("silenced")["notes"] == len(CHORD)
    assert tells("ended")["why"] == "died"
    assert tells("port")["well"]
    assert {message[1] for message in came} == set(range(128))
    assert {message[0] for message in came} == {0x81}


@pytest.mark.parametrize("wish", [{"do": "dance"}, ["end"], "end", {}])
def test_a_wish_that_it_does_not_know_is_told_with_those_that_it_does(wish, guarded) -> None:
    guardian = guarded()
    guardian.begin(keys=[])
    guardian.say(wish)
    assert '{"do": "end"}' in guardian.hear("wrong")["text"]


def test_a_band_that_cannot_be_started_is_told(guarded) -> None:
    guardian = guarded()
    guardian.say({"band": ["/no/such/band"], "outputs": []})
    assert "/no/such/band cannot be started" in guardian.hear("wrong")["text"]
    guardian.say({"do": "end"})
    assert guardian.exit_code() == 0


def test_a_spec_that_cannot_be_read_is_told(guarded) -> None:
    guardian = guarded()
    guardian.say({"bond": []})
    assert "spec cannot be read" in guardian.hear("wrong")["text"]
    assert guardian.exit_code() == 2


def test_no_midi_system_is_told(guarded) -> None:
    guardian = guarded("quay", env={"LIVEASSIST_MIDI": "jack", "JACK_DEFAULT_SERVER": "no-such-server"})
    guardian.say({"band": [sys.executable, str(BAND)], "outputs": [{"name": "quay", "channels": [2]}]})
    assert "JACK does not answer" in guardian.hear("wrong")["text"]
    assert guardian.exit_code() == 1


def test_no_false_alarm_while_both_cores_are_busy(guarded) -> None:
    guardian = guarded()
    busy = [subprocess.Popen([sys.executable, "-c", "while True: pass"]) for _ in range((os.cpu_count() or 1) + 1)]
    try:
        guardian.begin(keys=[], then="roll")
        with pytest.raises(AssertionError, match="in vain for ended"):
            guardian.hear("ended", within=3.0)
    finally:
        for process in busy:
            process.kill()
            process.wait()
