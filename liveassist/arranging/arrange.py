"""From a route to an arrangement: the figure's attacks, the voicings led through the whole route, the touch.

Each of the three is made for the whole route: ``figure`` says where the hand attacks, ``voicing`` which keys it has for each
change, ``touch`` how long they stay down; ``tune`` keeps all of it out of the written tune's way. Between them ``variety``
keeps bars that come round again from sounding alike, with dice of its own: equal routes, rooms, feels, tempos and seeds give
equal arrangements. ``arrange`` makes one at once, ``in_slices`` the same one a little at a time.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from fractions import Fraction
from itertools import islice
from types import MappingProxyType

from charts.melody import MelodyNote
from charts.route import Route, RouteBar
from liveassist.arranging.answer import answer_in_slices
from liveassist.arranging.arrangement import ANSWER, BASS, FIGURE, FULLNESS, MELODY, Arrangement, Note
from liveassist.arranging.bass import bass_in_slices
from liveassist.arranging.clock import paces
from liveassist.arranging.feel import LIGHT
from liveassist.arranging.feels import Feels
from liveassist.arranging.figure import Attack, Figure, level_of
from liveassist.arranging.slicing import A_FEW, at_once
from liveassist.arranging.tones import WIDEST, Hand, recipe, thinned
from liveassist.arranging.touch import FASTEST, Stroke, gap_seconds, in_quarters, least_spacing, touched_in_slices
from liveassist.arranging.tune import Tune, held_in_slices, tune_of
from liveassist.arranging.variety import Struck, varied_in_slices
from liveassist.arranging.voicing import Pitches, Stop, led_in_slices

CHURCH = 1.8
"""Reverberation time of a usual church, in seconds."""


def in_slices(
    route: Route,
    *,
    lift: int = 0,
    room: float = CHURCH,
    feel: str = "",
    tempo: float = 0.0,
    seed: int = 1,
    variety: bool = True,
    feels: Feels | None = None,
    action: float = FASTEST,
    span: int = WIDEST,
    coupled: bool = False,
    tune: Sequence[MelodyNote] | None = None,
) -> Generator[None, None, Arrangement]:
    """The left hand for a whole route, at every fullness, giving way every millisecond or so.

    Args:
        route: as unfolded from the chart.
        lift: semitones by which everything is transposed; the range of the hand stays.
        room: reverberation time in seconds.
        feel: for every bar, instead of the chart's; empty takes the chart's. Where it does not fit a bar's meter, or no
            feel has that name, the meter's default is played.
        tempo: counted beats a minute at the start; 0 takes the chart's. Tempo changes of the chart keep their proportion.
        seed: of the performance: which small variations are played. The same seed gives the same arrangement.
        variety: small variations where bars come round again; without them equal bars are played alike.
        feels: those there are, by name; None: those that come with the tool.
        action: attacks a second that the organ's action is asked for at most.
        span: semitones from the lowest to the highest voice at most.
        coupled: the manuals are coupled: the hand stays below the tune.
        tune: what the right hand plays, tied notes joined; None reads the chart's melody, which is a long slice.

    Returns:
        levels: for each fullness asked for, the notes with each bar's own steps added; lines: the bass, the answer
        where the chart has one, and the melody as written.
    """
    quarters = paces(route, tempo)
    figure = Figure(
        route,
        feel=feel,
        least_spacing=lambda bar: least_spacing(room, action, quarters[bar.index], bar.meter.counted_beat),
        quickest=lambda bar: in_quarters(1 / action, quarters[bar.index]),
        paces=quarters,
        feels=feels,
    )
    yield
    gaps = [figure.ticks.of(in_quarters(gap_seconds(room), pace)) for pace in quarters]
    yield
    tune = tune_of(route) if tune is None else tune
    held = yield from held_in_slices(tune, figure.ticks, lift)
    taking = Tune(held, figure.ticks, coupled=coupled)
    yield
    stops = yield from _stops(route, figure, taking, lift, Hand(span=span))
    hands: dict[tuple[int, ...], tuple[Pitches, ...]] = {}
    levels: dict[int, tuple[Note, ...]] = {}
    voicings: dict[int, tuple[Pitches, ...]] = {}
    attacks: dict[int, tuple[Fraction, ...]] = {}
    for fullness in FULLNESS:
        voices = tuple(figure.voices(change, fullness) for change in route.changes)
        yield
        if voices not in hands:
            hands[voices] = yield from _hand(stops, voices)
            yield
        voicings[fullness] = hands[voices]
        dice = seed * 8 + fullness if variety else None
        strokes = _strokes(figure, fullness, hands[voices], stops, taking, gaps, dice)
        levels[fullness], attacks[fullness] = yield from _notes(
            (yield from strokes), figure.ticks.per_quarter, route.bars, fullness
        )
        yield

    def gap(bar: RouteBar) -> Fraction:
        return Fraction(gaps[bar.index], figure.ticks.per_quarter)

    lines = {
        BASS: (yield from bass_in_slices(route, lift=lift, takes_over=figure.takes_over, gap=gap)),
        ANSWER: (yield from answer_in_slices(route, tune, lift=lift, gap=gap)),
        MELODY: (yield from _sung(route, tune, lift)),
    }
    stops.clear()  # to forget everything at once would be a long slice
    yield
    return Arrangement(
        route=route,
        lift=lift,
        levels=MappingProxyType(levels),
        voicings=MappingProxyType(voicings),
        lines=MappingProxyType(lines),
        attacks=MappingProxyType(attacks),
    )


arrange = at_once(in_slices)
"""The left hand for a whole route, made at once."""


def _sung(route: Route, tune: Sequence[MelodyNote], lift: int) -> Generator[None, None, tuple[Note, ...]]:
    """The melody as notes, as long as written."""
    found: list[Note] = []
    for note in tune:
        if not len(found) % A_FEW:
            yield
        found.append(
            Note(
                part=MELODY,
                pitch=note.pitch + lift,
                position=note.position,
                length=note.length,
                change=route.change_at(note.position).index,
                fullness=FULLNESS[0],
            )
        )
    return tuple(found)


def _stops(route: Route, figure: Figure, tune: Tune, lift: int, hand: Hand) -> Generator[None, None, list[Stop | None]]:
    """For each change how it is to be taken, with no voices yet; None for N.C."""
    found: list[Stop | None] = []
    for change in route.changes:
        bar = route.bars[change.bar]
        leading = (bar.key.tonic.pitch_class + lift - 1) % 12
        made_of = recipe(change.chord, lift=lift, pedal_plays=not bar.manuals_only, leading=leading)
        if made_of is None:
            found.append(None)
        else:
            in_the_way = tune.in_the_way(figure.ticks.of(change.position), figure.ticks.of(change.end))
            afresh = bar.starts_section and change.index == bar.changes[0]
            found.append(Stop(made_of, 0, hand if in_the_way is None else hand.outer, afresh, in_the_way))
        if not len(found) % A_FEW:
            yield
    return found


def _hand(stops: Sequence[Stop | None], voices: Sequence[int]) -> Generator[None, None, tuple[Pitches, ...]]:
    """For each change its voicing, led through the route as if N.C. were not there."""
    way = [each._replace(voices=count) for each, count in zip(stops, voices, strict=True) if each is not None]
    yield
    chain = iter((yield from led_in_slices(way)))
    return tuple(() if each is None else next(chain) for each in stops)


def _strokes(
    figure: Figure,
    fullness: int,
    hand: Sequence[Pitches],
    stops: Sequence[Stop | None],
    tune: Tune,
    gaps: Sequence[int],
    dice: int | None,
) -> Generator[None, None, list[Stroke]]:
    """Every attack at one fullness with its keys and their lengths. ``dice``: the seed of the variations, None without."""
    attacks = yield from figure.attacks_in_slices(fullness)
    lights = [figure.light(change, fullness) for change in figure.route.changes]
    yield
    struck: list[Struck] = []
    for attack in attacks:
        struck.append(_struck(attack, hand, lights, stops, tune, figure))
        if not len(struck) % A_FEW:
            yield
    if dice is not None:
        bars = [(figure.ticks.of(bar.position), figure.ticks.of(bar.end)) for bar in figure.route.bars]
        yield
        struck = yield from varied_in_slices(struck, bars, seed=dice)
    strokes = yield from touched_in_slices([each.attack for each in struck], [each.pitches for each in struck], gaps)
    yield from tune.let_go(strokes, gaps)
    return strokes


def _struck(
    attack: Attack,
    hand: Sequence[Pitches],
    lights: Sequence[int],
    stops: Sequence[Stop | None],
    tune: Tune,
    figure: Figure,
) -> Struck:
    """An attack with the keys it takes, out of the tune's way."""
    chord, stop = hand[attack.change], stops[attack.change]
    if stop is None:
        return Struck(attack, (), (), (), True)
    pitches = chord
    if attack.voice:
        pitches = (chord[min(attack.voice, len(chord)) - 1],)
    elif attack.weight == LIGHT:
        pitches = thinned(chord, stop.recipe, lights[attack.change])
    pitches = tune.cleared(attack, pitches, chord, stop.recipe, stop.hand)
    free = tuple(sorted({*pitches, *tune.free(attack, chord)}))
    # Of a tone that is doubled the lowest is the one that must stay.
    sounding = {key % 12: key for key in reversed(free)}
    essential = tuple(sounding[each] for each in stop.recipe.essential if each in sounding)
    return Struck(attack, pitches, free, essential, figure.steady(attack))


def _notes(
    strokes: Sequence[Stroke], per_quarter: int, bars: Sequence[RouteBar], fullness: int
) -> Generator[None, None, tuple[tuple[Note, ...], tuple[Fraction, ...]]]:
    """Ticks to exact quarter notes: the notes, and where they begin."""
    exact: dict[int, Fraction] = {}

    def quarters(ticks: int) -> Fraction:
        if ticks not in exact:
            exact[ticks] = Fraction(ticks, per_quarter)
        return exact[ticks]

    notes, places = [], []
    waiting = iter(strokes)
    while few := list(islice(waiting, A_FEW)):
        for stroke in few:
            attack = stroke.attack
            level = level_of(bars[attack.bar], fullness)
            position = quarters(attack.start)
            if stroke.pitches:
                places.append(position)
            for pitch, end in zip(stroke.pitches, stroke.ends, strict=True):
                notes.append(
                    Note(
                        part=FIGURE,
                        pitch=pitch,
                        position=position,
                        length=quarters(end - attack.start),
                        change=attack.change,
                        fullness=level,
                        written=quarters(attack.stop - attack.start),
                    )
                )
        yield
    return tuple(notes), tuple(places)
