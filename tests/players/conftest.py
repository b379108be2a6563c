"""Routes written out by hand, so that these tests lean on no reader."""

from __future__ import annotations

from collections.abc import Callable
from fractions import Fraction

import pytest

from charts.chart import Chart, Section, Tempo
from charts.chord import Chord
from charts.key import Key
from charts.meter import Meter
from charts.pitch import Spelling
from charts.route import Route, RouteBar, RouteChange

BEAT = Fraction(1)


def _route(text: str, *, marks: dict[int, tuple[str, ...]] | None = None, bpm: float = 60.0) -> Route:
    """``"Verse: D G | A ; Chorus: G | D"``: sections of 4/4 bars of major chords that share each bar evenly; ``_`` for
    a bar in which the chord goes on. ``marks`` are given by change. At 60 a minute a quarter note is a second.
    """
    meter, key = Meter(4, 4), Key(Spelling("D"))
    bars: list[RouteBar] = []
    starts: list[tuple[Fraction, Chord, int, Fraction]] = []
    for step, section in enumerate(text.split(";")):
        name, written = section.split(":")
        inside = [bar.split() for bar in written.split("|")]
        for number, names in enumerate(inside, 1):
            position = 4 * BEAT * len(bars)
            chords = [Chord(Spelling(name[0])) for name in names if name != "_"]
            first = len(starts)
            starts += [
                (position + Fraction(4, len(chords)) * k, chord, len(bars), Fraction(4, len(chords)) * k)
                for k, chord in enumerate(chords)
            ]
            bars.append(
                RouteBar(
                    index=len(bars),
                    section=name.strip(),
                    step=step,
                    pass_=1,
                    time=1,
                    number=number,
                    position=position,
                    length=4 * BEAT,
                    meter=meter,
                    key=key,
                    quarter_bpm=bpm,
                    feel=None,
                    changes=tuple(range(first, len(starts))),
                    starts_section=number == 1,
                    ends_section=number == len(inside),
                )
            )
    ends = [start[0] for start in starts[1:]] + [4 * BEAT * len(bars)]
    changes = tuple(
        RouteChange(
            index=index,
            position=position,
            length=end - position,
            chord=chord,
            bar=bar,
            offset=offset,
            marks=(marks or {}).get(index, ()),
        )
        for index, ((position, chord, bar, offset), end) in enumerate(zip(starts, ends, strict=True))
    )
    chart = Chart(title="By hand", key=key, meter=meter, tempo=Tempo(BEAT, bpm), sections=(Section(name="x", bars=()),))
    return Route(chart=chart, bars=tuple(bars), changes=changes)


@pytest.fixture
def route_of() -> Callable[..., Route]:
    return _route
