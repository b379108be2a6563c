"""From a route to an arrangement: the figure's attacks, the voicings led through the whole route, the touch.

Each of the three is made for the whole route: ``figure`` says where the hand attacks, ``voicing`` which keys it has for each
change, ``touch`` how long they stay down. No dice are thrown: equal routes, rooms, feels and tempos give equal arrangements.
"""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from types import MappingProxyType

from charts.melody import MelodyNote, joined, readable_melody
from charts.route import Route, RouteBar
from liveassist.arranging.answer import answer_line
from liveassist.arranging.arrangement import ANSWER, BASS, FIGURE, FULLNESS, MELODY, Arrangement, Note
from liveassist.arranging.bass import bass_line
from liveassist.arranging.clock import paces
from liveassist.arranging.feels import LIGHT
from liveassist.arranging.figure import Attack, Figure, level_of
from liveassist.arranging.tones import Recipe, recipe, thinned
from liveassist.arranging.touch import Stroke, gap_seconds, in_quarters, least_spacing_seconds, touched
from liveassist.arranging.voicing import led

CHURCH = 1.8
"""Reverberation time of a usual church, in seconds."""

Pitches = tuple[int, ...]


def arrange(
    route: Route, *, lift: int = 0, room: float = CHURCH, feel: str = "", tempo: float = 0.0, seed: int = 1
) -> Arrangement:
    """The left hand for a whole route, at every fullness.

    Args:
        route: as unfolded from the chart.
        lift: semitones by which everything is transposed; the range of the hand stays.
        room: reverberation time in seconds.
        feel: for every bar, instead of the chart's; empty takes the chart's. Where it does not fit a bar's meter, or no
            feel has that name, the meter's default is played.
        tempo: counted beats a minute at the start; 0 takes the chart's. Tempo changes of the chart keep their proportion.
        seed: of the performance. This hand throws no dice: any seed gives the same arrangement.

    Returns:
        levels: for each fullness asked for, the notes with each bar's own steps added; lines: the bass, the answer
        where the chart has one, and the melody as written.
    """
    del seed
    quarters = paces(route, tempo)
    figure = Figure(
        route,
        feel=feel,
        least_spacing=lambda bar: in_quarters(least_spacing_seconds(room), quarters[bar.index]),
    )
    gaps = [figure.ticks.of(in_quarters(gap_seconds(room), pace)) for pace in quarters]
    recipes = _recipes(route, lift)
    hands: dict[tuple[int, ...], tuple[Pitches, ...]] = {}
    levels: dict[int, tuple[Note, ...]] = {}
    voicings: dict[int, tuple[Pitches, ...]] = {}
    for fullness in FULLNESS:
        voices = tuple(figure.voices(change, fullness) for change in route.changes)
        if voices not in hands:
            hands[voices] = _hand(recipes, voices)
        voicings[fullness] = hands[voices]
        attacks = figure.attacks(fullness)
        lights = [figure.light(change, fullness) for change in route.changes]
        pitches = [_keys(attack, hands[voices], lights, recipes) for attack in attacks]
        levels[fullness] = _notes(touched(attacks, pitches, gaps), figure.ticks.per_quarter, route.bars, fullness)

    def gap(bar: RouteBar) -> Fraction:
        return Fraction(gaps[bar.index], figure.ticks.per_quarter)

    tune = joined(readable_melody(route))
    lines = {
        BASS: bass_line(route, lift=lift, takes_over=figure.takes_over, gap=gap),
        ANSWER: answer_line(route, tune, lift=lift, gap=gap),
        MELODY: _sung(route, tune, lift),
    }
    return Arrangement(
        route=route,
        lift=lift,
        levels=MappingProxyType(levels),
        voicings=MappingProxyType(voicings),
        lines=MappingProxyType(lines),
    )


def _sung(route: Route, tune: Sequence[MelodyNote], lift: int) -> tuple[Note, ...]:
    """The melody as notes, as long as written."""
    return tuple(
        Note(
            part=MELODY,
            pitch=note.pitch + lift,
            position=note.position,
            length=note.length,
            change=route.change_at(note.position).index,
            fullness=FULLNESS[0],
        )
        for note in tune
    )


def _recipes(route: Route, lift: int) -> list[Recipe | None]:
    """For each change what its voicings are made of."""
    found = []
    for change in route.changes:
        bar = route.bars[change.bar]
        leading = (bar.key.tonic.pitch_class + lift - 1) % 12
        found.append(recipe(change.chord, lift=lift, pedal_plays=not bar.manuals_only, leading=leading))
    return found


def _hand(recipes: Sequence[Recipe | None], voices: Sequence[int]) -> tuple[Pitches, ...]:
    """For each change its voicing, led through the route as if N.C. were not there."""
    stops = [(each, count) for each, count in zip(recipes, voices, strict=True) if each is not None]
    chain = iter(led(stops))
    return tuple(() if each is None else next(chain) for each in recipes)


def _keys(attack: Attack, hand: Sequence[Pitches], lights: Sequence[int], recipes: Sequence[Recipe | None]) -> Pitches:
    """The keys that an attack takes."""
    pitches, made_of = hand[attack.change], recipes[attack.change]
    if attack.voice:
        return (pitches[min(attack.voice, len(pitches)) - 1],)
    if attack.weight == LIGHT and made_of is not None:
        return thinned(pitches, made_of, lights[attack.change])
    return pitches


def _notes(strokes: Sequence[Stroke], per_quarter: int, bars: Sequence[RouteBar], fullness: int) -> tuple[Note, ...]:
    """Ticks to exact quarter notes."""
    exact: dict[int, Fraction] = {}

    def quarters(ticks: int) -> Fraction:
        if ticks not in exact:
            exact[ticks] = Fraction(ticks, per_quarter)
        return exact[ticks]

    notes = []
    for stroke in strokes:
        attack = stroke.attack
        level = level_of(bars[attack.bar], fullness)
        for pitch, end in zip(stroke.pitches, stroke.ends, strict=True):
            notes.append(
                Note(
                    part=FIGURE,
                    pitch=pitch,
                    position=quarters(attack.start),
                    length=quarters(end - attack.start),
                    change=attack.change,
                    fullness=level,
                )
            )
    return tuple(notes)
