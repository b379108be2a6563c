"""How surely the band follows: a matrix of conditions, scored from the notes sent and the places announced.

    python tests/benchmarks/following.py [--json] [--seeds N] [--quick] [--only CONDITION] [--set development] [--faults N]

Each row is a condition: how an imagined organist plays (``following_conditions``). Each song of the set
(``following_songs``) is played once a condition, so many random songs as ``--seeds`` says. Next to the band, on the same
performances, stand a fixed pulse started by the first foot (the band's own lead ``pulse``), a greedy matcher of the next
expected root, the band's own pulse told the place of every cue (the bound for its beats), and an alignment that sees the whole
performance at once (the bound for its places). See ``following_baselines``. Where the player jumps, there is an observer, too,
who hears the same feet as they come but knows the beat, the player's habits and the ways of jumps (``following_bound``): what
``causal`` does not find was not to be known in time; ``careful`` is the same, as slow to believe as the band. They tell no
beats.

The columns, and the thresholds they are held against:

* ``place``: changes with the right section, bar and chord 250 ms after they began, all songs together, and the worst song.
  Places that nobody could tell apart count by chord: the rule stands in ``liveassist.players.places``.
* ``sounds``: share of the sounding time of the figure's notes that belong to the player's chord; ``told``: share of the time
  with the right chord announced; 100 ms around each change left out of both. ``mute``: bars with a chord but without a note.
* ``false``: jumps that the player did not make, per 10,000 changes. ``found``: unplanned jumps found within two cues.
* ``|a|``, ``mean``, ``SD``: asynchrony of the beats told against the player's own, in milliseconds, where changes are at
  most four beats apart: median of the absolute, mean, and the SD within the typical song (median of songs). Band minus player.
  Onsets less than about 20 ms apart have no order to the ear (Hirsh 1959, after Watson 2004); trios of musicians keep within
  30-50 ms SD (Rasch 1979).
* ``F``, ``Cem``, ``CML``: mir_eval's beat F-measure (70 ms), Cemgil score (40 ms) and continuity (total, at the right
  level), the trimming of the first five seconds left out. ``lost`` and ``extra``: beats told never or without need, as a share.
* ``step`` and ``over``: how far an attack of the figure falls from where it would follow evenly on the one before, by the
  pulse that holds, in per cent of a counted beat: the 99.9th percentile, and how many go over 12 % (where a change of tempo
  is noticed). Attacks that a foot placed are left out, as are ritards, pauses, vamps and jumps.
* ``tempo``: median error of the tempo told after four cues, two beats or more apart, in per cent.
* ``sure``: of the places announced with 0.9 and more, how many were right.
* ``bars``: the player's own coefficient of variation of bar lengths, as measured, in per cent.

Beats after the last change has begun count nowhere: the last chord is held, and nobody counts there.
"""

from __future__ import annotations

import argparse
import json
import random
import statistics
import sys
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).parent))

from following_baselines import aligned, feet, greedy, knowing
from following_bound import causal
from following_conditions import CONDITIONS, Condition, prepared
from following_faults import faults
from following_scores import Score, TempoIs, cues_of, reliability, row, scored
from following_songs import Song, development_songs, long_route, reported_songs

from charts.route import Route
from liveassist.band.events import Action, Event, KeyDown
from liveassist.band.performance import Performance
from liveassist.band.song import arrangements
from liveassist.console.replaying import replayed
from liveassist.players.organist import METRONOME, script
from liveassist.players.truth import Script, events
from liveassist.settings import Settings

BAND, FIXED, GREEDY, KNOWING, WHOLE = "band", "fixed pulse", "greedy", "knows place", "sees all"
CAUSAL, CAREFUL = "causal", "careful"


# -- playing ----------------------------------------------------------------------------------------------------------


class Watched(Performance):
    """A band that also tells its tempo."""

    def due(self, now: float) -> list[Any]:
        return [*super().due(now), TempoIs(at=self.now, period=self.pulse.period)]


_arranged: dict[int, tuple[Route, Callable[[int], Any]]] = {}


def followed(route: Route, settings: Settings, heard: Iterable[Event]) -> list[Action]:
    """What the band does; a route is arranged once."""
    if id(route) not in _arranged:
        _arranged[id(route)] = (route, arrangements(route, settings))
    band = Watched(route, _arranged[id(route)][1], settings, random.Random(settings.seed))
    return list(replayed(band, heard))


def played(song: Song, condition: Condition) -> Script:
    """The performance: the same song and condition give the same one."""
    route, organist = prepared(song, condition)
    return script(route, organist, random.Random(f"{song.name}, {condition.name}"))


def told_the_place(performance: Script) -> list[Action]:
    """The band's pulse with every cue's place known; only where the player goes straight through."""
    truth = performance.truth
    cued = cues_of(performance)
    return knowing(
        truth.route, [(moment.change, moment.at) for moment, foot in zip(truth.changes, cued, strict=True) if foot]
    )


BELIEVED = 0.8
"""How sure the careful observer must be to leave its way: as the band is."""
Follower = Callable[[Script, Condition, list[Event]], list[Action]]
FOLLOWERS: dict[str, Follower] = {
    BAND: lambda performance, condition, heard: followed(performance.truth.route, condition.settings, heard),
    FIXED: lambda performance, _, heard: followed(performance.truth.route, Settings(lead="pulse", count_in=0), heard),
    GREEDY: lambda performance, _, heard: greedy(performance.truth.route, feet(heard)),
    KNOWING: lambda performance, _, __: told_the_place(performance),
    WHOLE: lambda performance, _, heard: aligned(performance.truth.route, feet(heard)),
    CAUSAL: lambda performance, condition, heard: causal(performance.truth, feet(heard), condition.jump),
    CAREFUL: lambda performance, condition, heard: causal(performance.truth, feet(heard), condition.jump, BELIEVED),
}


# -- the table ---------------------------------------------------------------------------------------------------------

COLUMNS = (
    # heading, key, format
    ("place", "place", "6.2f"),
    ("worst", "worst", "6.1f"),
    ("sounds", "sounds", "6.2f"),
    ("told", "told", "6.2f"),
    ("mute", "mute", "5.1f"),
    ("false", "false", "6.1f"),
    ("found", "found", "5.0f"),
    ("|a|", "asynchrony", "5.1f"),
    ("mean", "mean", "6.1f"),
    ("SD", "sd", "5.1f"),
    ("F", "f_measure", "5.3f"),
    ("Cem", "cemgil", "5.3f"),
    ("CML", "continuity", "5.3f"),
    ("lost", "lost", "5.1f"),
    ("extra", "extra", "5.1f"),
    ("step", "step", "5.1f"),
    ("over", "over", "5.2f"),
    ("tempo", "tempo", "5.1f"),
    ("sure", "sure", "5.1f"),
    ("bars", "bars", "4.1f"),
)


def heading() -> str:
    widths = [int(form.split(".")[0]) for _, _, form in COLUMNS]
    return f"{'condition':<22} {'follower':<11} " + " ".join(
        f"{name:>{width}}" for (name, _, _), width in zip(COLUMNS, widths, strict=True)
    )


def line(values: dict[str, Any]) -> str:
    cells = []
    for _, key, form in COLUMNS:
        value, width = values[key], int(form.split(".")[0])
        cells.append(" " * (width - 1) + "-" if value is None else format(value, form))
    return f"{values['condition']:<22} {values['follower']:<11} " + " ".join(cells)


# -- cost -------------------------------------------------------------------------------------------------------------


def costs(
    bars: Sequence[int] = (50, 100, 200, 400), clock: Callable[[], float] = time.perf_counter
) -> list[dict[str, float]]:
    """What one cue costs, in milliseconds, by the length of the route. Every change is played; 5 % are wrong notes."""
    table = []
    for length in bars:
        route = long_route(length)
        organist = replace(METRONOME, motor_noise=0.03, wrong=0.05, melody=False)
        heard = events(script(route, organist, random.Random(1)).messages)
        band = Performance(route, arrangements(route, Settings()), Settings(), random.Random(1))
        spent = []
        for event in heard:
            while (due := band.next_due()) is not None and due <= event.heard:
                band.due(due)
            begun = clock()
            band.receive(event)
            if isinstance(event, KeyDown):
                spent.append(1000 * (clock() - begun))
        spent.sort()
        table.append(
            {
                "bars": length,
                "cues": len(spent),
                "median": statistics.median(spent),
                "p99": spent[int(len(spent) * 0.99)],
            }
        )
    return table


# -- all of it --------------------------------------------------------------------------------------------------------


def measured(songs: Sequence[Song], condition: Condition, followers: Sequence[str]) -> dict[str, list[Score]]:
    """Every song once, heard by every follower."""
    found: dict[str, list[Score]] = {name: [] for name in followers}
    for song in songs:
        performance = played(song, condition)
        heard = events(performance.messages)
        for name in followers:
            actions = FOLLOWERS[name](performance, condition, heard)
            found[name].append(scored(song.name, performance, actions))
    return found


def told_faults(songs: Sequence[Song], condition: Condition, number: int) -> None:
    """The worst moments of a condition, each with its story."""
    found = []
    for song in songs:
        performance = played(song, condition)
        actions = FOLLOWERS[BAND](performance, condition, events(performance.messages))
        found += [(song.name, fault) for fault in faults(performance, actions)]
    found.sort(key=lambda item: (-item[1].changes, item[0], item[1].at))
    for name, fault in found[:number]:
        print(f"\n{condition.name}, {name}, {fault.at:.3f} s, {fault.changes} changes: {fault.what}")
        print("\n".join(f"    {text}" for text in fault.story))


def main(arguments: Sequence[str] | None = None) -> None:
    parser = argparse.ArgumentParser(description="How surely the band follows: a matrix of conditions.")
    parser.add_argument("--json", action="store_true", help="one JSON object instead of the table")
    parser.add_argument("--seeds", type=int, default=12, help="how many random songs (default 12)")
    parser.add_argument("--quick", action="store_true", help="three random songs and three chorales")
    parser.add_argument("--only", action="append", help="this condition only; may be given more than once")
    parser.add_argument(
        "--faults", type=int, default=0, help="the worst so many moments of each condition, told in full"
    )
    parser.add_argument("--set", choices=("reported", "development"), default="reported")
    given = parser.parse_args(arguments)
    unknown = [name for name in given.only or () if name not in CONDITIONS]
    if unknown:
        parser.error(f"no condition {', '.join(unknown)}; there are: {', '.join(CONDITIONS)}")
    if given.set == "development":
        songs = development_songs(3 if given.quick else given.seeds)
    else:
        songs = reported_songs(3, (1, 2, 6)) if given.quick else reported_songs(given.seeds)
    rows: list[dict[str, Any]] = []
    heard: list[Score] = []
    if not given.json:
        print(f"{given.set} set: {len(songs)} songs")
        print(heading())
    for name in given.only or CONDITIONS:
        condition = CONDITIONS[name]
        followers = [BAND]
        if condition.compared:
            followers += [FIXED, GREEDY, WHOLE, CAUSAL, CAREFUL] if condition.jump else [FIXED, GREEDY, KNOWING, WHOLE]
        for follower, scores in measured(songs, condition, followers).items():
            rows.append(row(name, follower, scores))
            heard += scores if follower == BAND else []
            if not given.json:
                print(line(rows[-1]), flush=True)
        if given.faults and not given.json:
            told_faults(songs, condition, given.faults)
    table, cost = reliability(heard), costs()
    if given.json:
        print(json.dumps({"set": given.set, "songs": len(songs), "rows": rows, "sure": table, "cost": cost}, indent=1))
        return
    print("\nholds, breaths, waits and stops:")
    for values in rows:
        if values["follower"] == BAND and CONDITIONS[values["condition"]].pauses and values["pauses"]:
            silent, back = f"no note begun in {values['silent']:.1f} %", f"back at the first cue {values['back']:.1f} %"
            kept = f"tempo changed by {values['kept']:.1f} % (median)"
            print(f"  {values['condition']}: {values['pauses']}, {silent}, {back}, {kept}")
    print("\nhow sure the band was, and how often it was right, over all conditions:")
    for entry in table:
        share = "-" if entry["right"] is None else f"{entry['right']:.1f} %"
        print(f"  {entry['from']:.2f} to {entry['to']:.2f}: {entry['places']:>6} places, right {share}")
    print("\nwhat one cue costs, by the length of the route:")
    for entry in cost:
        figures = f"median {entry['median']:.3f} ms, p99 {entry['p99']:.3f} ms"
        print(f"  {entry['bars']:>4.0f} bars: {figures} ({entry['cues']:.0f} cues)")


if __name__ == "__main__":
    main()
