"""What the demo shows: an imagined organist plays a chart, and the band follows.

Where the feet have the place the organist has human timing, plays one wrong pedal, leaves one root out, and takes a section
again that was not planned. With lead ``switch`` the organist presses the foot switch; with lead ``pulse`` the band is counted
in and the organist plays to it. In both the song is played as it stands, because the feet would not be asked. From the first
nod on the organist goes along with the nods (``liveassist.players.companion``). The same runner and core play as in a real
service; ``--headless`` gives them a clock that jumps and tells the story as text.
"""

from __future__ import annotations

import random
from collections.abc import Sequence
from dataclasses import dataclass, replace

from charts.route import Route
from liveassist.arranging.feels import Feels
from liveassist.band.events import Action, Nodded, NoteOn, PlaceIs
from liveassist.band.song import performance
from liveassist.console.replaying import replayed
from liveassist.players.begun import Begun
from liveassist.players.companion import drummer, habits
from liveassist.players.drummer import with_drums
from liveassist.players.organist import Organist, script
from liveassist.players.truth import Moment, Script
from liveassist.settings import Settings

NEAR = 0.25
"""A pedal this near to a change, in seconds, is its own."""
CLEAR = 3
"""Changes between two slips, and between a slip and either end of the song."""


@dataclass(frozen=True, slots=True)
class Mishap:
    """Something that the organist did otherwise than written."""

    at: float
    text: str


COUNTED_IN = ("count",)
"""The nods with which a song begins that goes by the clock."""


@dataclass(frozen=True, slots=True)
class Scene:
    """What is to be seen: what is played, what goes wrong in it, and the nods with which it begins."""

    played: Script
    mishaps: Sequence[Mishap] = ()
    nods: tuple[str, ...] = ()

    def begun(self, seed: int) -> Begun:
        """What is to be known of it so that it can go on otherwise."""
        truth = self.played.truth
        mishaps = tuple((mishap.at, mishap.text) for mishap in self.mishaps)
        return Begun(seed=seed, bars=truth.bars, end=truth.end, mishaps=mishaps)


WHO = {
    "feet": "an imagined organist, whose feet have the place",
    "switch": "an imagined organist, who presses the foot switch at each {}",
    "bars": "an imagined organist, who plays to the band's steady pulse",
}
"""By what has the place."""


def scene(route: Route, settings: Settings, seed: int) -> Scene:
    """A performance that fits the lead."""
    if settings.place_lead == "switch":
        return Scene(script(route, habits(settings), random.Random(seed)))
    if settings.place_lead == "bars":
        return Scene(script(route, _to_the_pulse(route, settings), random.Random(seed)), nods=COUNTED_IN)
    played, mishaps = imagined(route, seed, habits(settings))
    drums = drummer(route, settings)
    if drums is not None:
        played = with_drums(played, drums, random.Random(seed))
    return Scene(played, mishaps)


def _to_the_pulse(route: Route, settings: Settings) -> Organist:
    """An organist who begins when the count-in is over, and then neither waits nor drifts."""
    band = performance(route, settings)
    counted = replayed(band, [Nodded(at=0.0, heard=0.0, nod=nod) for nod in COUNTED_IN])
    start = next((action.at for action in counted if isinstance(action, PlaceIs)), 0.0)
    return replace(habits(settings), start=start)


def imagined(route: Route, seed: int, organist: Organist) -> tuple[Script, list[Mishap]]:
    """An organist's performance with its mishaps: an unplanned repeat, a missed root, a wrong pedal."""
    dice = random.Random(seed)
    jumps = _unplanned(route)
    played = script(route, replace(organist, jumps=jumps), dice)
    mishaps = []
    for after, to in jumps:
        at = next(moment.at for moment in played.truth.changes if moment.bar == to and _follows(played, moment, after))
        mishaps.append(Mishap(at, f"the organist repeats the {route.bars[to].section}, unplanned"))
    feet = [moment for moment in played.truth.changes if _foot(played, moment) is not None]
    places = feet[CLEAR : -CLEAR * 2]
    if len(places) > CLEAR:
        missed = dice.randrange(len(places) - CLEAR)
        played, text = _missing(played, places[missed])
        mishaps.append(Mishap(places[missed].at, text))
        wrong = dice.choice([moment for moment in places if abs(places.index(moment) - missed) >= CLEAR])
        played, text = _slipped(played, wrong, dice.choice((-1, 1)))
        mishaps.append(Mishap(wrong.at, text))
    return played, sorted(mishaps, key=lambda mishap: mishap.at)


def _unplanned(route: Route) -> tuple[tuple[int, int], ...]:
    """After the third step of the roadmap, or one near it, that step again; behind every underscore, in which the feet are
    not followed."""
    starts = [bar for bar in route.bars if bar.starts_section]
    ends = [bar.index for bar in route.bars if bar.ends_section]
    after = max((step for step, bar in enumerate(starts) if bar.underscore), default=0)
    fit = range(after + 1, len(starts) - 1)
    if not fit:
        return ()
    which = min(fit, key=lambda step: abs(step - 2))
    return ((ends[which], starts[which].index),)


def _follows(played: Script, moment: Moment, after: int) -> bool:
    """Whether a moment is the landing of a jump from a bar."""
    before = [other for other in played.truth.changes if other.at < moment.at]
    return bool(before) and before[-1].bar == after


def _foot(played: Script, moment: Moment) -> int | None:
    """Which message is the pedal of a change, None where it has none of its own."""
    bass = played.truth.route.changes[moment.change].bass
    near = [
        (abs(at - moment.at), index)
        for index, (at, (status, key, velocity)) in enumerate(played.messages)
        if status == 0x93 and velocity and key % 12 == bass and abs(at - moment.at) < NEAR
    ]
    return min(near)[1] if near else None


def _release(messages: Sequence[tuple[float, bytes]], press: int) -> int:
    """The message that ends a pedal."""
    key = messages[press][1][1]
    return next(
        i for i in range(press + 1, len(messages)) if messages[i][1][0] & 0xEF == 0x83 and messages[i][1][1] == key
    )


def _missing(played: Script, moment: Moment) -> tuple[Script, str]:
    press = _foot(played, moment)
    assert press is not None
    gone = {press, _release(played.messages, press)}
    chord = played.truth.route.changes[moment.change].chord.shown
    kept = tuple(message for index, message in enumerate(played.messages) if index not in gone)
    return replace(played, messages=kept), f"the organist leaves out the root of {chord}"


def _slipped(played: Script, moment: Moment, by: int) -> tuple[Script, str]:
    press = _foot(played, moment)
    assert press is not None
    messages = list(played.messages)
    for index in (press, _release(messages, press)):
        at, (status, key, velocity) = messages[index]
        messages[index] = (at, bytes((status, key + by, velocity)))
    chord = played.truth.route.changes[moment.change].chord.shown
    return replace(played, messages=tuple(messages)), f"the organist slips to the pedal beside {chord}"


def headless(route: Route, settings: Settings, shown: Scene, feels: Feels | None = None) -> int:
    """The story as text, as fast as it can be played."""
    from liveassist.console.hearing import Interpreter
    from liveassist.console.outlets import Outlets
    from liveassist.console.replaying import told
    from liveassist.console.runner import Runner
    from liveassist.console.settling import IMAGINED
    from liveassist.console.timeline import Arrival, SimulatedTimeline
    from liveassist.players.scoring import chord_coverage, place_share, sounding_share

    done: list[Action] = []
    played = shown.played
    band = performance(route, settings, feels)
    timeline = SimulatedTimeline(Arrival(at, "organist", message) for at, message in played.messages)
    runner = Runner(band, timeline, IMAGINED, Interpreter(IMAGINED), Outlets(IMAGINED, {}), watched=done.extend)
    code = runner.run([Nodded(at=0.0, heard=0.0, nod=nod) for nod in shown.nods])

    chart = route.chart
    who = WHO[settings.place_lead].format(settings.switch_unit)
    print(f"{chart.title}: {chart.key.shown}, {chart.meter.name}, lead {settings.lead}; {who}\n")
    lines = [(action.at, 1, text) for action in done if (text := told(action, route))]
    lines += [(mishap.at, 0, f"** {mishap.text}") for mishap in shown.mishaps]
    for at, _, text in sorted(lines, key=lambda line: line[:2]):
        print(f"{int(at // 60):>3}:{at % 60:06.3f}  {text}")
    notes = sum(isinstance(action, NoteOn) for action in done)
    place, chord = place_share(played.truth, done), chord_coverage(played.truth, done)
    print(f"\n{notes} notes played, {len(band.view().sounding)} left on.")
    if settings.place_lead == "bars":
        print(
            f"The band followed nobody. At {place:.1%} of the changes organist and band were together; they were on one"
        )
        print(f"chord {chord:.1%} of the time.")
        return code
    print(
        f"Of the changes {place:.1%} were followed within a quarter of a second. The band was on the organist's chord"
    )
    print(
        f"{chord:.1%} of the time, and {sounding_share(played.truth, done):.1%} of what it played belonged to that chord."
    )
    return code
