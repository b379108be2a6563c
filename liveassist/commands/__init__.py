"""The commands, one module each: ``add_to(parser)`` states its options, ``run(options)`` does the work.

``run`` returns the exit code: 0 well, 1 problems found in a chart, 2 bad input. A module is loaded when its command is asked
for, and no sooner: what stands in ``COMMANDS`` is all that ``liveassist --help`` needs.
"""

from __future__ import annotations

import argparse
from importlib import import_module
from typing import Protocol, cast

COMMANDS = {
    "demo": ("demo", "see and hear it with nothing plugged in"),
    "play": ("play", "play a chart or a whole service on your console, with the desk on the screen"),
    "check": ("check", "proof charts and services: everything wrong or odd, all at once"),
    "route": ("route", "the roadmap unfolded: bars and changes in the order of playing"),
    "arrange": ("arrange", "the left hand that the band would play"),
    "import": ("importing", "make charts of files from elsewhere, and tell what was understood"),
    "export": ("exporting", "write a chart as MusicXML, ABC, words and chords, or in the chart notation"),
    "key": ("keys", "where the tune lies in each key, for a congregation; the chart in another key"),
    "print": ("printing", "an organ score to print, read and send on; or chords, or a service's overview"),
    "hear": ("hear", "hear a chart: figure, tune and pedal, through a sound device or as a WAV file"),
    "click": ("click", "a steady pattern to set the in-ear click by, beside the organ"),
    "rehearse": ("rehearse", "practise a chart against a steady click, and hear how it went"),
    "replay": ("replay", "what the band does with a take, or with a MIDI file"),
    "review": ("review", "what a take tells about your playing: words first, then figures"),
    "history": ("history", "takes reviewed so far: list, compare, export, prune"),
    "drummer": ("drummer", "the drummer's sheet of the band that plays: section, bars left, beat"),
    "fault-report": (
        "fault_report",
        "take, chart, console and versions in one archive, for somebody who looks at a fault",
    ),
    "feels": ("feels", "the ways of playing the figure: list, explain, hear; proof one of your own"),
    "library": ("library", "look through a folder of charts; what was used when, what is there twice"),
    "ports": ("ports", "the MIDI ports of this machine"),
    "console": ("console", "learn your console by pressing; check it before the service"),
}
"""By name: the module, and what the command does. In the order of the help."""


class _Module(Protocol):
    def add_to(self, parser: argparse.ArgumentParser) -> None: ...

    def run(self, options: argparse.Namespace) -> int: ...


def _module(name: str) -> _Module:
    return cast(_Module, import_module(f"{__name__}.{COMMANDS[name][0]}"))


def add_options(name: str, parser: argparse.ArgumentParser) -> None:
    """State the options of a command."""
    _module(name).add_to(parser)


def run(name: str, options: argparse.Namespace) -> int:
    """Run a command. Raises PlayerError, ChartError."""
    return _module(name).run(options)
