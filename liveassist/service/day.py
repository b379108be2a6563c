"""The chart of the day: a song's chart, with what an item of the service says is otherwise today.

* The key moves the whole chart, by the smaller way.
* A roadmap of the day stands instead of the chart's.
* A *stanza* is a section called Verse or Stanza. With a stanza goes its refrain: the steps behind it that stand behind
  another stanza too, and those called Chorus or Refrain (common practice, no source). So ``omit`` takes both away, and
  ``add`` puts the new stanza behind the last one and its refrain, in the same key, and that refrain again behind it; a
  ``rit.`` stays at the end.
* ``last`` lifts the last stanza and everything behind it, on top of what the roadmap lifts; where no section is a stanza,
  the last step that is no ending, and what is behind it.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import takewhile

from charts.chart import Chart, Step, same_name
from charts.directions import OCTAVE, read_step
from charts.errors import ChartError, Problem
from charts.lines import Line, Problems
from charts.roadmap import unfold
from charts.transposing import transposed
from charts.values import read_tempo
from charts.writing import write_chart
from liveassist.service.file import Item

_STANZA = re.compile(r"(?:verse|stanza|strophe)\b\s*(?P<number>\d*)", re.IGNORECASE)
_REFRAIN = re.compile(r"(?:pre-?\s?)?(?:chorus|refrain)\b", re.IGNORECASE)
_ENDING = re.compile(r"(?:ending|outro|coda|amen)\b", re.IGNORECASE)

Steps = list[Step]


def chart_of_the_day(item: Item, chart: Chart, where: Callable[[str], str] = lambda name: name) -> Chart:
    """The chart as it is played today; its text is written anew where anything is otherwise.

    Args:
        item: the song in the service.
        chart: its chart.
        where: the place of a field of the item, for messages.
    Raises:
        ChartError: with everything that does not fit.
    """
    problems: list[Problem] = []

    def wrong(name: str, message: str) -> None:
        problems.append(Problem(line=item.line, column=0, message=message, source=where(name)))

    steps = _roadmap(item, chart, wrong)
    today = replace(chart, roadmap=tuple(steps)) if steps != _steps(chart) else chart
    if item.tempo:
        try:
            today = replace(today, tempo=read_tempo(item.tempo, chart.meter))
        except ValueError as error:
            wrong("tempo", str(error))
    if item.notes:
        today = replace(today, notes=item.notes)
    lift = _lift(item, chart, wrong)
    if problems:
        raise ChartError(*problems)
    if today is chart and not lift:
        return chart
    try:
        today = transposed(today, lift) if lift else replace(today, text=write_chart(today))
        unfold(today)
    except ChartError as error:
        raise ChartError(
            *(replace(problem, source=where("roadmap"), line=item.line) for problem in error.problems)
        ) from None
    except ValueError as error:
        raise ChartError(Problem(line=item.line, column=0, message=str(error), source=where("chart"))) from None
    return today


Wrong = Callable[[str, str], None]


def _lift(item: Item, chart: Chart, wrong: Wrong) -> int:
    """Half steps from the chart's key to the key of the day, by the smaller way."""
    if item.key is None:
        return 0
    if item.key.minor != chart.key.minor:
        kind = "minor" if chart.key.minor else "major"
        wrong("key", f"{item.key.shown} does not fit: the chart is in {chart.key.shown}; I need a {kind} key")
        return 0
    return chart.key.half_steps_to(item.key)


# -- the roadmap ----------------------------------------------------------------------------------------------------


def _steps(chart: Chart) -> Steps:
    """The chart's own roadmap; without one its sections as written."""
    return list(chart.roadmap) or [Step(section=section.name) for section in chart.sections]


def _roadmap(item: Item, chart: Chart, wrong: Wrong) -> Steps:
    if item.roadmap:
        steps = [step for step in (_step(line, chart, "roadmap", wrong) for line in item.roadmap) if step is not None]
    else:
        steps = _steps(chart)
        for stanza in item.omit:
            steps = _without(stanza, steps, chart, wrong)
        for stanza in item.add:
            steps = _with(stanza, steps, chart, wrong)
    if not any(_is_stanza(step) for step in steps) and any(_is_stanza(step) for step in _steps(chart)) and item.omit:
        wrong("omit", "nothing is left to sing: every stanza is left out")
    return _lifted_at_the_end(item.last, steps, wrong) if item.last else steps


def _step(line: str, chart: Chart, name: str, wrong: Wrong) -> Step | None:
    """A line of a roadmap as the notation reads it."""
    problems = Problems()
    step = read_step(Line(1, line), [section.name for section in chart.sections], problems)
    for problem in problems.found:
        wrong(name, problem.message)
    return None if step is None else replace(step, line=0, places={})


def _is_stanza(step: Step) -> bool:
    return _STANZA.match(step.section) is not None


def _named(stanza: str, chart: Chart) -> str:
    """The name of the section that a stanza's number means: 2 is Verse 2; else the name as it is."""
    if not stanza.isdecimal():
        return stanza
    found = ((section.name, _STANZA.fullmatch(section.name.strip())) for section in chart.sections)
    return next((name for name, match in found if match and match["number"] == stanza), stanza)


def _without(stanza: str, steps: Steps, chart: Chart, wrong: Wrong) -> Steps:
    """The steps without a stanza and its refrain; of one that goes round with other words, without the time of that number."""
    name = _named(stanza, chart)
    places = [place for place, step in enumerate(steps) if same_name(step.section, name)]
    if places:
        place = places[-1]
        if steps[place].times > 1:
            wrong("omit", f'"{name}" is played {steps[place].times} times; say which with a roadmap of the day')
            return steps
    elif stanza.isdecimal() and (rounds := [step for step in steps if _is_stanza(step)]):
        if len({step.section for step in rounds}) > 1 or sum(step.times for step in rounds) < max(2, int(stanza)):
            wrong("omit", _unknown(f"Verse {stanza}", steps))
            return steps
        steps = _written_out(steps)
        place = [place for place, step in enumerate(steps) if _is_stanza(step)][int(stanza) - 1]
    else:
        wrong("omit", _unknown(name, steps))
        return steps
    return steps[:place] + steps[place + 1 + len(_refrain(place, steps)) :]


def _with(stanza: str, steps: Steps, chart: Chart, wrong: Wrong) -> Steps:
    """The steps with one more stanza, behind the last one and its refrain."""
    name = _named(stanza, chart)
    if name == stanza and stanza.isdecimal():
        wrong("add", _unknown(f"Verse {stanza}", [Step(section=section.name) for section in chart.sections]))
        return steps
    added = _step(name, chart, "add", wrong)
    if added is None:
        return steps
    places = [place for place, step in enumerate(steps) if _is_stanza(step)]
    if not places:
        wrong("add", "no section of this song is called Verse or Stanza; say where with a roadmap of the day")
        return steps
    place = places[-1]
    last, refrain = steps[place], _refrain(place, steps)
    added = replace(added, up=added.up or last.up, rit=added.rit or last.rit)
    before = [replace(step, rit=False) for step in (last, *refrain)]
    return [*steps[:place], *before, added, *refrain, *steps[place + 1 + len(refrain) :]]


def _unknown(name: str, steps: Sequence[Step]) -> str:
    names = list(dict.fromkeys(step.section for step in steps))
    near = difflib.get_close_matches(name.casefold(), [each.casefold() for each in names], n=1)
    advice = next((f'did you mean "{each}"? ' for each in names if each.casefold() in near), "")
    return f'there is no "{name}" here; {advice}there are {", ".join(names)}'


def _refrain(place: int, steps: Steps) -> Steps:
    """The steps behind a stanza that belong to it."""
    behind = _until_stanza(steps[place + 1 :])
    others = [
        _until_stanza(steps[other + 1 :]) for other, step in enumerate(steps) if _is_stanza(step) and other != place
    ]
    alike = max((_alike(behind, other) for other in others), default=0)
    called = len(list(takewhile(lambda step: _REFRAIN.match(step.section), behind)))
    return behind[: max(alike, min(called, 1))]


def _until_stanza(steps: Steps) -> Steps:
    return list(takewhile(lambda step: not _is_stanza(step), steps))


def _alike(one: Steps, other: Steps) -> int:
    """How many steps two rows begin with alike. An ending closes the song and belongs to no stanza."""
    pairs = zip(one, other, strict=False)
    same = takewhile(
        lambda pair: same_name(pair[0].section, pair[1].section) and not _ENDING.match(pair[0].section), pairs
    )
    return len(list(same))


def _written_out(steps: Steps) -> Steps:
    """Steps that are played several times written so many times; a ``rit.`` is for the last time."""
    return [
        replace(step, times=1, rit=step.rit and time == step.times)
        for step in steps
        for time in range(1, step.times + 1)
    ]


def _lifted_at_the_end(up: int, steps: Steps, wrong: Wrong) -> Steps:
    steps = _written_out(steps)
    sung = [place for place, step in enumerate(steps) if _is_stanza(step)]
    sung = sung or [place for place, step in enumerate(steps) if not _ENDING.match(step.section)] or [0]
    lifted = [step if place < sung[-1] else replace(step, up=step.up + up) for place, step in enumerate(steps)]
    if any(abs(step.up) > OCTAVE for step in lifted):
        wrong("last", "with what the roadmap lifts already that is more than an octave")
    return lifted
