"""The command ``ports``: the MIDI ports of this machine."""

from __future__ import annotations

import argparse


def add_to(parser: argparse.ArgumentParser) -> None:
    """It has no options."""


def run(options: argparse.Namespace) -> int:
    """List the MIDI ports."""
    from liveassist.console.ports import midi_binding, ports_report

    for row in ports_report(midi_binding()):
        print(row)
    return 0
