"""Hearing: a chart as the band would play it with nobody leading, through a sound device or to a WAV file.

The figure, the written tune and the pedal, each with a registration of its own, at the chart's tempi, with its ritards, holds
and breaths (the rules: ``liveassist.arranging.clock``).
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from dataclasses import replace

from charts.chart import Chart
from charts.key import read_key
from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.arranging.arrange import CHURCH
from liveassist.arranging.arrangement import ANSWER, BASS, CLICK, FIGURE, MELODY, PARTS, Note
from liveassist.arranging.clock import written_time
from liveassist.band.arranged import arrangement_for, tempo_from_the_top
from liveassist.commands.layering import for_the_band, read_profile_file, stated
from liveassist.commands.own_feels import own_feels_told
from liveassist.ears.caution import CAUTION
from liveassist.ears.in_time import click_line, excerpt, in_time, lines
from liveassist.ears.playback import play
from liveassist.ears.progress import Progress, minutes
from liveassist.ears.rendering import LEVELS, length_of, render, write_wav
from liveassist.ears.sound import find_device, list_devices
from liveassist.errors import PlayerError

USUAL = (FIGURE, ANSWER, MELODY, BASS)
"""The parts that are heard where none are asked for: those of them that the chart has."""
FARTHEST = 12
"""Half steps by which a chart may be lifted or lowered: an octave leaves every part on its keys."""


def hear(options: argparse.Namespace) -> int:
    """Play a chart or write it to a file."""
    if not (options.sound or options.to):
        raise PlayerError(
            "say where it should sound: --sound NAME plays through a sound device, --to FILE.wav writes a file;"
            f" sound devices here: {_devices()}"
        )
    device = find_device(options.sound, list_devices()) if options.sound else ""
    low, high = LEVELS
    if not low <= options.level <= high:
        raise PlayerError(f"the command line: --level takes dBFS from {low:g} to {high:g}, not {options.level:g}")
    chart = read_chart_file(options.chart)
    own = own_feels_told(options.chart)
    profile = read_profile_file(options.console)
    settings = for_the_band(options.chart, chart, profile, stated(options), feels=own.feels).settings
    lift = _lift(chart, options)
    route = unfold(chart)
    heard = excerpt(route, from_bar=options.from_bar, section=options.section, bars=options.bars)
    first = next(bar.index for bar in route.bars if bar.position == heard.start)
    settings = replace(settings, from_bar=first, practise="")
    arrangement = arrangement_for(route, settings, own.feels, lift=lift)
    parts = _chosen({**lines(arrangement, settings.fullness), CLICK: click_line(route)}, options.parts)
    clock = written_time(route, tempo_from_the_top(route, settings))
    notes = in_time(route, (note for part in parts.values() for note in part), clock, heard)
    if not notes:
        raise PlayerError(f"there is nothing to hear in these bars: no note for {', '.join(parts)}")
    room = (settings.room or CHURCH) if options.reverb else 0.0
    seconds = length_of(notes, room)
    told = f"{chart.title} in {chart.key.lifted(lift).shown}: {', '.join(parts)}, {minutes(seconds)}"
    sound = render(notes, level=options.level, room=room)
    if device:
        print(f"{told}\n\n{CAUTION}", flush=True)
        with Progress(seconds, sys.stderr) as progress:
            play(sound, device, told=progress.tell)
        return 0
    with Progress(seconds, sys.stderr) as progress:
        written = write_wav(options.to, sound, told=progress.tell)
    print(f"{told}\n{options.to}: loudest {written.loudest:.1f} dBFS, peak {written.peak:.1f} dBFS")
    return 0


def _devices() -> str:
    """The sound devices of this machine, or why there are none."""
    try:
        return ", ".join(list_devices()) or "none"
    except PlayerError as error:
        return f"none ({error})"


def _chosen(there: Mapping[str, tuple[Note, ...]], asked: str | None) -> dict[str, tuple[Note, ...]]:
    """The parts to hear: those asked for, or the usual ones that there are."""
    if asked is None:
        return {part: there[part] for part in USUAL if part in there}
    wanted = [part.strip().casefold() for part in asked.split(",") if part.strip()]
    for part in wanted:
        if part not in PARTS:
            raise PlayerError(f'the command line: "{part}" is not a part I can play; I know {", ".join(PARTS)}')
        if part == MELODY and part not in there:
            raise PlayerError('the chart has no tune written; it would stand below its bars, as "melody = D2 E F"')
        if part not in there:
            raise PlayerError(f"the chart has no notes for the part {part}; it has {', '.join(there)}")
    if not wanted:
        raise PlayerError(f"the command line: --parts takes some of {', '.join(PARTS)}, with commas between")
    return {part: there[part] for part in PARTS if part in wanted}


def _lift(chart: Chart, options: argparse.Namespace) -> int:
    """Semitones from the chart's key to the one asked for: the shorter way, and up where both are as long."""
    if options.key is None:
        if abs(options.lift) > FARTHEST:
            raise PlayerError(
                f"the command line: --lift takes half steps from -{FARTHEST} to {FARTHEST}, not {options.lift}"
            )
        return int(options.lift)
    try:
        key = read_key(options.key)
    except ValueError as error:
        raise PlayerError(f"the command line: --key: {error}") from None
    if key.minor != chart.key.minor:
        mode = "minor" if chart.key.minor else "major"
        raise PlayerError(
            f"the command line: --key takes a {mode} key for a chart in {chart.key.shown}, not {key.shown}"
        )
    return chart.key.half_steps_to(key)
