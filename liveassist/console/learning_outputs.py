"""Where the band plays: the ports that cannot be learned by pressing, chosen by number from a list.

The organ's port is needed; the others are offered one after the other, and Enter passes each over. An answer is two numbers, a
port of the list and a channel; the port alone takes the channel that the question names. What would contradict the rest of the
profile (``instrument.contradictions``) is told and asked again.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from liveassist.arranging.arrangement import ANSWER, BASS, CLICK
from liveassist.console.instrument import DRUMMER, ClockPorts, Part, Profile, contradictions
from liveassist.console.typing_in import PATIENCE, Typed
from liveassist.errors import PlayerError

CLOCK = "clock"


@dataclass(frozen=True, kw_only=True, slots=True)
class Offer:
    """A port that the player may name."""

    name: str
    """A member of ``OUTPUT_PARTS``, or ``CLOCK``."""
    text: str
    channel: int = 0
    """The channel where none is typed; 0: there is none to choose."""


OFFERS = (
    Offer(name=BASS, text="If the band is to play the bass for you (--bass): where does it sound", channel=5),
    Offer(name=ANSWER, text="If an answer is to sound on a third manual: where", channel=3),
    Offer(name=CLICK, text="If a MIDI instrument is to click in your ears (--click): where", channel=10),
    Offer(name=DRUMMER, text="If another is to click in the drummer's ears: where", channel=10),
    Offer(name=CLOCK, text="If a drum module or sequencer is to follow the band by MIDI clock: where"),
)


def organ_port(heard_by: str, outputs: Sequence[str], say: Callable[[str], None], typed: Typed) -> str:
    """The port that leads to the organ: the one named like the console's, the only one, or the player's choice."""
    if heard_by in outputs:
        return heard_by
    if len(outputs) == 1:
        return outputs[0]
    say("By which port does the organ hear? Type its number.")
    _list(outputs, say)
    while True:
        numbers = _numbers(_line(typed))
        if len(numbers) == 1 and 1 <= numbers[0] <= len(outputs):
            return outputs[numbers[0] - 1]
        say(f"A number from 1 to {len(outputs)}, please.")


def with_offers(profile: Profile, outputs: Sequence[str], say: Callable[[str], None], typed: Typed) -> Profile:
    """The profile with what the player makes of the offers."""
    say("These are the ports that the band can play:")
    _list(outputs, say)
    for offer in OFFERS:
        asked = f"port and channel, 1 {offer.channel} say" if offer.channel else "the port's number"
        say(f"{offer.text}? Type {asked} (or Enter to pass it over).")
        while numbers := _line(typed).strip():
            try:
                profile, said = _taken(offer, _numbers(numbers), profile, outputs)
            except PlayerError as error:
                say(str(error))
                continue
            say(said)
            break
        else:
            say("Passed over.")
    return profile


def _taken(offer: Offer, numbers: Sequence[int], profile: Profile, outputs: Sequence[str]) -> tuple[Profile, str]:
    """The profile with one more port, and what to say. Raises PlayerError."""
    most = 2 if offer.channel else 1
    channel = (*numbers, offer.channel)[1] if len(numbers) in range(1, most + 1) else 0
    if not numbers or not 1 <= numbers[0] <= len(outputs) or not min(offer.channel, 1) <= channel <= 16:
        also = " and a channel from 1 to 16" if offer.channel else ""
        raise PlayerError(f"A number from 1 to {len(outputs)}{also}, or Enter to pass it over, please.")
    port = outputs[numbers[0] - 1]
    if offer.name == CLOCK:
        taken, said = replace(profile, clock=ClockPorts(sends=port)), f"The clock: {port}."
    else:
        part = Part(port=port, channel=channel)
        taken, said = replace(profile, parts={**profile.parts, offer.name: part}), f"Channel {channel} of {port}."
    known = contradictions(profile)
    if wrong := [problem for problem in contradictions(taken) if problem not in known]:
        raise PlayerError(f"{wrong[0]}. Once more, or Enter to pass it over.")
    return taken, said


def _list(outputs: Sequence[str], say: Callable[[str], None]) -> None:
    for number, name in enumerate(outputs, 1):
        say(f"  {number}  {name}")


def _line(typed: Typed) -> str:
    """The next line that the player types."""
    while (line := typed(PATIENCE)) is None:
        pass
    return line


def _numbers(line: str) -> list[int]:
    """The numbers of a line; none where it has anything else."""
    words = line.replace(",", " ").split()
    return [int(word) for word in words] if all(word.isdecimal() for word in words) else []
