"""Opening the sound: which device gets what, one process for each device that is named.

The music (``--sound``) and the ears are asked for apart, because loudspeakers are no place for a click: what sounds through a
device named for the music is music alone. Where the ears' device is the same one, both come from one process.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from charts.route import Route
from liveassist.band.click import GM2_SETS
from liveassist.ears.destination import BOTH, Destination
from liveassist.ears.dose import ListeningTime
from liveassist.ears.dose import in_words as dose_in_words
from liveassist.ears.in_ears import InEars, Words
from liveassist.ears.output import SoundOutput
from liveassist.ears.voice import Voice, made_aside, words
from liveassist.settings import Settings

USUAL_BUFFER = 20.0
"""Milliseconds."""
MOST_BEATS = 12
"""The highest number that is counted."""


@dataclass(frozen=True, slots=True)
class Sounds:
    """The sound processes by what they are for; some may be the same."""

    organ: SoundOutput | None = None
    player: SoundOutput | None = None
    drummer: SoundOutput | None = None

    @property
    def outputs(self) -> tuple[SoundOutput, ...]:
        """Each once."""
        return tuple(dict.fromkeys(item for item in (self.organ, self.player, self.drummer) if item is not None))

    def troubles(self) -> list[str]:
        """What the player should know, since last asked."""
        return [text for output in self.outputs for text in output.troubles()]


def destinations(settings: Settings) -> tuple[Destination, Destination]:
    """The player's ears and the drummer's."""
    return (
        Destination(settings.ears_side, settings.ears_level, settings.click_offset),
        Destination(settings.drummer_side, settings.drummer_level, settings.drummer_offset),
    )


def open_sounds(
    settings: Settings, music: str, *, demo: bool = False, opened: Callable[..., SoundOutput] = SoundOutput
) -> Sounds:
    """Start the sound processes that are asked for.

    Args:
        settings: whose ears hear what, where.
        music: the device for the music, by name; empty: none.
        demo: nobody sits in the nave: the click may come through the device of the music.
        opened: starts a process for a device.
    """
    player, drummer = settings.ears or (music if demo else ""), settings.drummer_ears
    mine, drummers = destinations(settings)
    made: dict[str, SoundOutput] = {}
    for device in (music, player, drummer):
        if not device or device.casefold() in made:
            continue
        ears = [(player, mine), (drummer, drummers)]
        heard = [where.option() for name, where in ears if name.casefold() == device.casefold()]
        options = [f"--ear={option}" for option in heard]
        options += [f"--buffer={settings.sound_buffer or USUAL_BUFFER:g}", f"--drawn={settings.registration}"]
        made[device.casefold()] = opened(device, options=options)
    return Sounds(*(made.get(device.casefold()) for device in (music, player, drummer)))


def in_ears(sounds: Sounds, settings: Settings, route: Route, clock: Callable[[float], float]) -> InEars:
    """What is heard in the ears. Words for the calls are made by a thread of
    their own; until a section's name is there, a sign is heard for it."""
    said = None
    if settings.calls and sounds.player is not None:
        beats = min(MOST_BEATS, max(bar.meter.counted_beats for bar in route.bars))
        texts = [*(bar.section for bar in route.bars), *(str(number) for number in range(1, beats + 1))]
        said = Words(made_aside(lambda: words(Voice(settings.calls_folder, settings.calls_language), texts)))
    early = max(0.0, -settings.click_offset, -settings.drummer_offset) / 1000.0
    return InEars(sounds.player, sounds.drummer, clock, signals=settings.signals, words=said, early=early)


def sound_cautions(settings: Settings, sounds: Sounds, listening: ListeningTime) -> tuple[str, ...]:
    """What a player should know from the start of the sound that is asked for."""
    found = []
    sides = {settings.ears_side} if sounds.player else set()
    sides |= {settings.drummer_side} if sounds.drummer else set()
    if sides - {BOTH}:
        found.append("one ear alone tempts to turn up: two ears at a lower level are safer")
    if sounds.player is not None and settings.ear_level:
        found.append(dose_in_words(listening.so_far(date.today()), settings.ear_level))
    if settings.click and settings.click_notes in GM2_SETS:
        found.append(
            f'the click "{settings.click_notes}" needs an instrument with General MIDI 2; try it before the service'
        )
    if settings.calls and settings.calls_folder and not any(Voice(settings.calls_folder).own):
        found.append(f"{settings.calls_folder}: no WAV file to call with is there")
    return tuple(found)
