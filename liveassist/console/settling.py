"""Which ports a console without port names means, and whether those that matter are there: looked at before it starts."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace

from liveassist.arranging.arrangement import FIGURE
from liveassist.band.events import PEDAL
from liveassist.console.instrument import PLAIN, SCRIPT, Profile, Switch, with_bass_part
from liveassist.console.ports import Binding, PortAmbiguous, PortUnknown, find_port, midi_binding
from liveassist.errors import PlayerError
from liveassist.settings import Settings

NO_INSTRUMENT = ("Midi Through",)
"""Ports that every machine with ALSA has and that no instrument is behind."""

IMAGINED = replace(PLAIN, switches=(*PLAIN.switches, Switch(what="on", by="control", number=65, channel=4)))
"""The plain console of an imagined player, who can leave an underscore."""


def settled(profile: Profile, settings: Settings, binding: Binding | None = None) -> Profile:
    """The profile with a name for every port.

    Raises:
        PlayerError: where there is no MIDI system, where a port is not named and several could be meant, and where the
            figure's port, or the pedal's when the feet have the place, is not there.
    """
    profile = with_bass_part(profile) if settings.bass else profile
    binding = binding or midi_binding()
    profile = named(profile, binding)
    if FIGURE in profile.parts:
        find_port(profile.parts[FIGURE].port, binding.outputs())
    if PEDAL in profile.divisions and settings.place_lead == "feet":
        find_port(profile.divisions[PEDAL].port, binding.inputs())
    return profile


def named(profile: Profile, binding: Binding) -> Profile:
    """The profile with a name for every port that it leaves open: the only one there is. Raises PlayerError where there are
    several, or none."""
    inputs, outputs = binding.inputs(), binding.outputs()
    if "" in profile.input_ports:
        name = _only(inputs, "heard")
        profile = replace(
            profile,
            divisions={key: replace(item, port=item.port or name) for key, item in profile.divisions.items()},
            switches=tuple(replace(item, port=item.port or name) for item in profile.switches),
            shoe=replace(profile.shoe, port=profile.shoe.port or name) if profile.shoe else None,
        )
    if "" in profile.output_ports:
        name = _only(outputs, "played")
        profile = replace(
            profile, parts={key: replace(item, port=item.port or name) for key, item in profile.parts.items()}
        )
    return profile


def by_laptop(profile: Profile, settings: Settings) -> Profile:
    """The console of a player who hears the band through the laptop: of a profile that names no ports, what is not there is
    left out. A foot switch, or a page-turner on the keyboard, is enough.

    Raises:
        PlayerError: where the feet are to lead, and there are none to be heard.
    """
    try:
        binding = midi_binding()
        inputs, outputs = binding.inputs(), binding.outputs()
    except PlayerError:
        if settings.place_lead == "feet":
            raise
        inputs, outputs = [], []
    if "" in profile.output_ports and not _instruments(outputs):
        profile = replace(profile, parts={name: part for name, part in profile.parts.items() if part.port})
    if "" in profile.input_ports and not _instruments(inputs) and settings.place_lead != "feet":
        profile = replace(
            profile,
            divisions={name: division for name, division in profile.divisions.items() if division.port},
            switches=tuple(switch for switch in profile.switches if switch.port),
            shoe=profile.shoe if profile.shoe and profile.shoe.port else None,
        )
    return profile


def _instruments(names: Sequence[str]) -> list[str]:
    return [name for name in names if not name.startswith(NO_INSTRUMENT)]


def ports_played(profile: Profile, binding: Binding) -> tuple[str, ...]:
    """The full names of the ports that a profile plays on, as far as they are there."""
    outputs = binding.outputs()
    found = []
    for name in filter(None, profile.output_ports):
        with suppress(PortUnknown, PortAmbiguous):
            found.append(find_port(name, outputs))
    return tuple(found)


def scripted(profile: Profile, *, bass: bool = False) -> Profile:
    """The console of an imagined player: heard on the plain console's channels, and played to the profile's ports if it has
    any."""
    plain = with_bass_part(PLAIN) if bass else PLAIN
    named = all(part.port for part in profile.parts.values())
    return replace(
        PLAIN,
        divisions={name: replace(division, port=SCRIPT) for name, division in PLAIN.divisions.items()},
        switches=tuple(replace(switch, port=SCRIPT) for switch in IMAGINED.switches),
        shoe=None,
        parts=profile.parts if named else plain.parts,
        velocity=profile.velocity,
    )


def _only(names: Sequence[str], what: str) -> str:
    """The only instrument there."""
    instruments = _instruments(names)
    if not instruments:
        raise PortUnknown(
            f"there is no MIDI port that can be {what}: is the instrument plugged in and switched on? "
            "(liveassist demo needs none.)"
        )
    if len(instruments) > 1:
        listed = ", ".join(f'"{name}"' for name in instruments)
        raise PortAmbiguous(
            f"several MIDI ports can be {what}: {listed}. Which one? Let liveassist console write it into a profile, and "
            "play with --console FILE"
        )
    return instruments[0]
