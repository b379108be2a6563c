"""A feel to be heard: seven bars made up for it, the figure over the pedal, so that the last bar of a section is in them."""

from __future__ import annotations

import argparse
import sys

from charts.notation import read_chart
from charts.roadmap import unfold
from liveassist.arranging.arrange import CHURCH, arrange
from liveassist.arranging.arrangement import BASS, FIGURE
from liveassist.arranging.clock import written_time
from liveassist.arranging.feel import Feel
from liveassist.arranging.feel_words import shown_meter, usual_tempo
from liveassist.arranging.feels import with_own
from liveassist.commands.layering import layers, stated
from liveassist.ears.caution import CAUTION
from liveassist.ears.in_time import excerpt, in_time, lines
from liveassist.ears.playback import play
from liveassist.ears.progress import Progress, minutes
from liveassist.ears.rendering import length_of, render, write_wav
from liveassist.ears.sound import find_device, list_devices
from liveassist.errors import PlayerError

SONG = """
title = Seven bars
key = C
meter = {meter}
tempo = {tempo:g}

== Verse ==
| C | Am7 | Dm7 | G7 |

== Ending ==
| C | F | C (hold) |]
"""


def hear(feel: Feel, options: argparse.Namespace) -> int:
    """Play a feel, or write it to a file."""
    if not (options.sound or options.to):
        raise PlayerError(
            "say where it should sound: --sound NAME plays through a sound device (liveassist demo --list-sound lists "
            "them), --to FILE.wav writes a file"
        )
    device = find_device(options.sound, list_devices()) if options.sound else ""
    settings = layers(("the command line", stated(options))).settings
    meter = shown_meter(feel)
    tempo = settings.tempo or usual_tempo(meter)
    route = unfold(read_chart(SONG.format(meter=meter.name, tempo=tempo)))
    arrangement = arrange(
        route, room=settings.room or CHURCH, feel=feel.name, tempo=tempo, seed=settings.seed, feels=with_own([feel])
    )
    parts = lines(arrangement, settings.fullness)
    clock = written_time(route, tempo)
    notes = in_time(route, (note for part in (FIGURE, BASS) for note in parts[part]), clock, excerpt(route))
    seconds = length_of(notes)
    told = f"{feel.name} in {meter.name} at {tempo:g} beats a minute, fullness {settings.fullness}, {minutes(seconds)}"
    if device:
        print(f"{told}\n\n{CAUTION}", flush=True)
        with Progress(seconds, sys.stderr) as progress:
            play(render(notes), device, told=progress.tell)
        return 0
    with Progress(seconds, sys.stderr) as progress:
        write_wav(options.to, render(notes), told=progress.tell)
    print(f"{told}\n{options.to}")
    return 0
