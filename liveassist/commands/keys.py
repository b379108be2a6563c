"""The command ``key``: where the tune lies in each key, for a congregation; the chart in another key."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from liveassist.commands.options import add
from liveassist.commands.target import STANDARD_OUTPUT
from liveassist.errors import PlayerError

if TYPE_CHECKING:
    from charts.chart import Chart
    from charts.melody import MelodyNote


def add_to(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("chart")
    parser.add_argument("key", nargs="?", metavar="KEY", help="write the chart in this key: G, Bb, F#m")
    parser.add_argument("--to", metavar="FILE", help="where to write it (default: standard output)")
    add(parser, "--force")


def run(options: argparse.Namespace) -> int:
    """Where the tune lies in each key, or the chart in another key."""
    from charts.exchange.files import write
    from charts.key import read_key
    from charts.notation import read_chart_file
    from charts.transposing import transposed

    chart = read_chart_file(options.chart)
    if options.key is None:
        if options.to:
            raise PlayerError("--to writes the chart in another key; say which: liveassist key CHART KEY --to FILE")
        _tell_keys(chart)
        return 0
    try:
        key = read_key(options.key)
    except ValueError as error:
        raise PlayerError(str(error)) from None
    if key.minor != chart.key.minor:
        raise PlayerError(
            f"{key.shown}: the chart is in {chart.key.shown}, and stays {'minor' if chart.key.minor else 'major'}"
        )
    up = chart.key.half_steps_to(key)
    moved = transposed(chart, up)
    if options.to is None or options.to == STANDARD_OUTPUT:
        print(moved.text, end="")
        return 0
    write(Path(options.to), moved.text.encode(), force=options.force)
    print(f"{options.chart} -> {options.to}: {chart.key.shown} to {moved.key.shown}, {_way(up)}")
    return 0


def _tell_keys(chart: Chart) -> None:
    from charts.roadmap import unfold
    from charts.singing import best, places
    from charts.transposing import transposed
    from liveassist.arranging.arrange import CHURCH, arrange

    found = places(chart)
    chosen = best(found)
    tune = found[0].lowest is not None
    print(f"{chart.title}: written in {chart.key.shown}")
    if not tune:
        print(
            "The chart has no tune (melody = ...): what the congregation sings cannot be told, only what the organ plays."
        )
    print(f"{'key':<10}  {'move':<18}  {'tune':<10}  {'above D5':>8}  {'below A3':>8}  {'pedals':<14}  left hand")
    for place in found:
        figure = arrange(unfold(transposed(chart, place.up)), room=chart.room or CHURCH).levels[2]
        pitches = [note.pitch for note in figure]
        sharps = place.key.sharps
        hand = f"{_name(min(pitches), sharps=sharps)}-{_name(max(pitches), sharps=sharps)}" if pitches else "silent"
        sung = f"{_note(place.lowest)}-{_note(place.highest)}" if place.lowest and place.highest else "-"
        pedals = f"{len(place.pedals)}, {place.black_pedals} black"
        sign = "  <- fits best" if tune and place is chosen else ""
        high, low = (f"{float(beats):g}" if beats else "-" for beats in (place.too_high, place.too_low))
        print(
            f"{place.key.shown:<10}  {_way(place.up):<18}  {sung:<10}  {high:>8}  {low:>8}  {pedals:<14}  {hand}{sign}"
        )
    print("Tune above and below: quarter notes outside A3 to D5, what most of a congregation can sing.")


def _way(up: int) -> str:
    if not up:
        return "as written"
    return f"{'up' if up > 0 else 'down'} {abs(up)} half step{'' if abs(up) == 1 else 's'}"


def _note(note: MelodyNote) -> str:
    return f"{note.spelling.shown}{note.octave}"


def _name(pitch: int, *, sharps: bool) -> str:
    from charts.pitch import simplest

    name = simplest(pitch % 12, sharps=sharps)
    return f"{name.shown}{pitch // 12 - 1}"
