"""A stand-in for the band in the guardian's tests: plays a chord on one port, tells the guardian, beats, and obeys.

Takes one JSON line from standard input: ``port`` (name), ``channel``, ``keys``, ``load`` (seconds of work between beats),
``then``: "play" (go on until ended), "bye" (release and leave), "lose" (a note-off told but never sent), "rest" (silent
without beats for a while), "begin slowly" (the same before it plays, and nothing announced), "roll" (as "play", with a MIDI
clock told, so that something sounds), "bye with keys down". Ends at TERM and at the end of standard input,
releasing first.
"""

from __future__ import annotations

import json
import signal
import sys
import threading
import time

from liveassist.console.heartbeat import Heartbeat
from liveassist.console.ports import find_port, midi_binding

CONNECTED = 0.1
"""Seconds after which a new port's first message is sure to arrive: JACK connects it between two of its periods."""


def main() -> int:
    heart = Heartbeat.over_stdout()
    leave = threading.Event()
    signal.signal(signal.SIGTERM, lambda number, frame: leave.set())
    hands = open(0, "rb", buffering=0, closefd=False)  # noqa: SIM115  (held until the end by a thread)
    wish = json.loads(hands.readline())

    def orphan() -> None:
        hands.read()
        leave.set()

    threading.Thread(target=orphan, daemon=True).start()
    print("this goes to standard error and not to the guardian")
    heart.beat(time.monotonic())
    output, channel = None, wish["channel"]
    if wish["port"]:
        heart.rest()  # to open a port takes long on a busy machine
        binding = midi_binding()
        output = binding.open_output(find_port(wish["port"], binding.outputs()))
        time.sleep(CONNECTED)
        heart.still_here()

    def press(key: int) -> None:
        heart.note_on(0, channel, key)
        if output is not None:
            output.send(bytes((0x90 | channel - 1, key, 64)))

    def release(key: int) -> None:
        if output is not None and wish["then"] != "lose":
            output.send(bytes((0x80 | channel - 1, key, 64)))
        heart.note_off(0, channel, key)

    def play(seconds: float) -> None:
        end = time.monotonic() + seconds
        while not leave.is_set() and time.monotonic() < end:
            heart.beat(time.monotonic())
            leave.wait(0.02)

    if wish["then"] == "begin slowly":
        time.sleep(0.6)
        play(0.2)
    for key in wish["keys"]:
        press(key)
    if wish["then"] == "lose":
        release(wish["keys"][0])
    if wish["then"] == "roll":
        heart.clock_rolls()
    if wish["then"] in ("play", "lose", "roll"):
        play(3600.0)
    if wish["then"] != "bye with keys down":
        for key in wish["keys"]:
            release(key)
    if wish["then"] == "rest":
        heart.rest()
        time.sleep(0.6)
        play(0.2)
    heart.bye()
    if output is not None:
        output.close()
    return 0


if __name__ == "__main__":
    sys.exit(main())
