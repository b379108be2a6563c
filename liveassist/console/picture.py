"""The band's state as the desk shows it: from a view of the performance, the route and the chart to a picture of the link.

What never changes during a song (the roadmap's lines, how many bars a section has, which words belong to which bar) is worked
out once, because a picture is made a dozen times a second by the thread that plays.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from charts.chart import Step as WrittenStep
from charts.directions import step_text
from charts.roadmap import HELD
from charts.route import Route, RouteBar
from liveassist.band.view import View
from liveassist.console.instrument import CUE
from liveassist.console.saying import in_words
from liveassist.link import Heard, Picture, PortHealth, Step
from liveassist.settings import Layered

HEARD_LINES = 8
"""So many of the latest lines are shown."""


@dataclass(frozen=True, kw_only=True, slots=True)
class Around:
    """What surrounds the performance at one moment."""

    heard: Sequence[Heard] = ()
    ports: tuple[PortHealth, ...] = ()
    take: str = ""
    feet: tuple[int, ...] | None = None
    """Where the latest pedal notes fell, in milliseconds after the beat; None where that is not shown."""
    bench: tuple[tuple[str, ...], str] = ((), "")
    """What a bench check found, and what it asks."""


class Painter:
    """Makes pictures of one song."""

    def __init__(self, route: Route, layered: Layered, page_turner: Mapping[str, str] | None = None) -> None:
        """
        Args:
            route: the song.
            layered: its settings, and where each came from.
            page_turner: the console profile's, what each key asks.
        """
        self._route, chart, settings = route, route.chart, layered.settings
        self._steps = tuple(_step_line(bars, route) for bars in _steps(route))
        self._bars = [max(bar.number for bar in bars) for bars in _steps(route)]
        self._words, self._next_words = _words(route)
        self._still = Picture(
            title=chart.title,
            roadmap=self._steps,
            lead=settings.lead,
            time_lead=settings.time_lead,
            place_lead=settings.place_lead,
            page_turner=page_turner_nods(page_turner or {}),
            origins=tuple(
                (name.replace("_", " "), in_words(name, settings), where)
                for name, where in sorted(layered.origin.items())
            ),
        )

    def picture(self, view: View, around: Around) -> Picture:
        """The picture of a moment."""
        bar = self._route.bars[view.bar]
        key = bar.key.lifted(view.lift)
        beat = int(view.beat + 1e-6) if view.beat else 0
        chord, pedal = self._chord(view.change, view.lift)
        next_chord, next_pedal = self._chord(self._coming(view), view.lift)
        return replace(
            self._still,
            at=view.at,
            state=view.state,
            key=key.shown,
            meter=bar.meter.name,
            chord=chord,
            pedal=pedal,
            next_chord=next_chord,
            next_pedal=next_pedal,
            next_in=view.next_in,
            section=bar.section,
            pass_=bar.pass_,
            bar=bar.number,
            bars=self._bars[bar.step],
            beat=beat,
            beats=bar.meter.counted_beats,
            bars_left=view.bars_left,
            next_section=view.next_section,
            counting=view.counting,
            time_lead=view.time_lead or self._still.time_lead,
            step=bar.step,
            bpm=view.bpm,
            home_bpm=view.home_bpm,
            sure=view.sure,
            heard=tuple(around.heard)[-HEARD_LINES:],
            ports=around.ports,
            words=self._words[bar.index],
            next_words=self._next_words[bar.index],
            fullness=view.fullness,
            lift=view.lift,
            out=view.out,
            asked=view.asked,
            underscore=None if view.underscore is None else int(view.underscore),
            sounding=len(view.sounding),
            muted=view.muted,
            take=around.take,
            rehearsing=around.feet is not None,
            feet=around.feet or (),
            bench=around.bench[0],
            bench_asks=around.bench[1],
        )

    def _coming(self, view: View) -> int | None:
        """The change that comes: before the start, the first of the bar at which it will be."""
        if view.change is not None:
            return view.next_change
        later = (bar.changes for bar in self._route.bars[view.bar :] if bar.changes)
        return next(later, (None,))[0]

    def _chord(self, change: int | None, lift: int) -> tuple[str, str]:
        """The chord and the pedal note of a change as shown, in the key as it sounds."""
        if change is None:
            return "", ""
        written = self._route.changes[change]
        bar = self._route.bars[written.bar]
        steps = bar.key.steps_to(bar.key.lifted(lift))
        chord = written.chord.transposed(steps, lift) if lift else written.chord
        return chord.shown, "" if chord.bass is None or bar.manuals_only else chord.bass.shown


def page_turner_nods(page_turner: Mapping[str, str]) -> tuple[tuple[str, str], ...]:
    """What the keys of a page-turner ask where that is a nod."""
    return tuple((key, asks) for key, asks in page_turner.items() if asks != CUE)


def _steps(route: Route) -> list[list[RouteBar]]:
    """The bars of each step of the roadmap."""
    steps: list[list[RouteBar]] = [[] for _ in range(route.bars[-1].step + 1)]
    for bar in route.bars:
        steps[bar.step].append(bar)
    return steps


def _step_line(bars: Sequence[RouteBar], route: Route) -> Step:
    """A step of the roadmap and what differs this time, read off its bars: a D.S. is a step too."""
    first, section = bars[0], route.chart.section(bars[0].section)
    feel = HELD if first.underscore else section.feel or route.chart.feel
    written = WrittenStep(
        section=first.section,
        fullness=first.fullness,
        up=first.up,
        manuals_only=first.manuals_only,
        wait=bars[-1].wait,
        out=first.out,
        underscore=first.underscore,
        rit=bars[-1].rit,
        feel=first.feel if first.feel != feel else None,
    )
    return Step(name=first.section, note=step_text(written).removeprefix(first.section).strip())


def _words(route: Route) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """For each bar the words of its written line of bars, and those of the line that comes after it in the route."""
    lines: list[list[RouteBar]] = []
    for bar in route.bars:
        before = lines[-1][-1] if lines else None
        same = before is not None and (before.step, before.line) == (bar.step, bar.line) and before.number < bar.number
        if same:
            lines[-1].append(bar)
        else:
            lines.append([bar])
    said = [next((bar.words for bar in line if bar.words), ()) for line in lines]
    words: list[tuple[str, ...]] = []
    next_words: list[tuple[str, ...]] = []
    for line, now, coming in zip(lines, said, [*said[1:], ()], strict=True):
        words += [now] * len(line)
        next_words += [coming] * len(line)
    return words, next_words
