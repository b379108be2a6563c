"""What each command does. Imports are made inside functions, so that a command loads only what it needs."""

from __future__ import annotations

import argparse
import json
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from charts.errors import ChartError
from charts.notation import read_chart_file
from charts.roadmap import unfold
from liveassist.errors import PlayerError
from liveassist.layering import chart_layer, first_bar, layers, read_profile_file, sound_device, stated, user_layer

if TYPE_CHECKING:
    from liveassist.arranging.arrangement import Arrangement
    from liveassist.arranging.feels import Feels
    from liveassist.settings import Settings

CHECK = "check"
"""The word after ``console`` that asks for the bench check."""

# -- page -----------------------------------------------------------------------------------------------------------


def check(options: argparse.Namespace) -> int:
    """Proof charts and services and tell everything found."""
    from charts.notation import text_of_file
    from charts.proof import proof_text
    from liveassist.own_feels import own_feels
    from liveassist.service.order import is_service
    from liveassist.whole_service import check_service

    profile = read_profile_file(options.console)
    pedals = profile.pedal_compass
    worst = 0
    for path in options.charts:
        if is_service(path):
            worst = max(worst, 1 if check_service(path, profile) else 0)
            continue
        try:
            text = text_of_file(path)
        except ChartError as error:
            print(f"wrong: {error}")
            worst = 1
            continue
        own = own_feels(path)
        for said in own.problems:
            print(f"look at: {said}")
        problems = proof_text(text, Path(path).name, pedals=pedals, feels=tuple(own.feels))
        for problem in problems:
            print(f"{'wrong' if problem.serious else 'look at'}: {problem}")
        serious = sum(problem.serious for problem in problems)
        others = len(problems) - serious
        if problems:
            print(f"{path}: {serious} wrong, {others} worth a look")
        else:
            print(f"{path}: nothing to mend")
        worst = max(worst, 1 if serious else 0)
    return worst


def route(options: argparse.Namespace) -> int:
    """The roadmap unfolded."""
    from charts.telling import route_as_json, route_in_words

    unfolded = unfold(read_chart_file(options.chart))
    if options.json:
        print(json.dumps(route_as_json(unfolded), ensure_ascii=False))
    else:
        print("\n".join(route_in_words(unfolded)))
    return 0


def arrange(options: argparse.Namespace) -> int:
    """The left hand as data or as a list."""
    from liveassist.arranging.telling import note_as_json

    arrangement, settings, _ = _arranged(options.chart, options)
    for note in arrangement.levels[settings.fullness]:
        row = note_as_json(note)
        if options.json:
            print(json.dumps(row))
        else:
            change = arrangement.route.changes[note.change].chord.shown
            print(f"{row['position']:>10}  {row['length']:>8}  {note.part:<6}  key {note.pitch}  {change}")
    return 0


def bring_in(options: argparse.Namespace) -> int:
    """Charts made of files from elsewhere."""
    from liveassist import exchanging

    return exchanging.bring_in(options)


def send_out(options: argparse.Namespace) -> int:
    """A chart in another format."""
    from liveassist import exchanging

    return exchanging.send_out(options)


def key(options: argparse.Namespace) -> int:
    """Where the tune lies in each key, or the chart in another key."""
    from liveassist import exchanging

    return exchanging.show_keys(options)


def _arranged(path: str, options: argparse.Namespace) -> tuple[Arrangement, Settings, Feels]:
    """The arrangement of a chart as it and the command line want it, and the feels there were to choose from."""
    from liveassist.arranging.arrange import CHURCH
    from liveassist.arranging.arrange import arrange as arranged
    from liveassist.arranging.arrangement import played
    from liveassist.arranging.touch import FASTEST
    from liveassist.own_feels import own_feels_told

    chart = read_chart_file(path)
    feels = own_feels_told(path).feels
    settings = layers(
        (path, chart_layer(chart)),
        ("the command line", stated(options)),
        feels=feels,
    ).settings
    arrangement = arranged(
        unfold(chart),
        room=settings.room or CHURCH,
        feel=settings.feel,
        tempo=settings.tempo,
        seed=settings.seed,
        span=settings.span,
        coupled=settings.coupled,
        variety=settings.variety,
        feels=feels,
        action=settings.action or FASTEST,
    )
    return played(arrangement, bass=settings.bass), settings, feels


def print_page(options: argparse.Namespace) -> int:
    """Print scores, chords or an overview."""
    from liveassist.page import printing

    if options.overview:
        from liveassist.page.overview import overview_page
        from liveassist.service.order import is_service

        services = [path for path in options.charts if is_service(path)]
        if services and len(options.charts) > 1:
            raise PlayerError(f"{services[0]} is a whole service: it has a page of its own, so name it alone")
        if services:
            from liveassist.whole_service import overview

            _write_page(options.to, "overview", overview(services[0]))
            return 0
        routes = [unfold(read_chart_file(path)) for path in options.charts]
        _write_page(options.to, "overview", overview_page(routes))
        return 0
    if len(options.charts) > 1 and not printing.names_itself(options.to):
        raise PlayerError(
            f"--to {options.to}: {len(options.charts)} charts do not go into one file; name a folder that is there, or a "
            "suffix alone such as .musicxml"
        )
    for path in options.charts:
        if options.chords:
            from liveassist.page.chords import chords_page

            chart = read_chart_file(path)
            _write_page(options.to, f"{printing.file_name(chart)}_chords", chords_page(chart))
            continue
        arrangement, settings, feels = _arranged(path, options)
        name = printing.file_name(arrangement.route.chart)
        if options.simple:
            from liveassist.page.simple import simplified

            arrangement, name = simplified(arrangement), f"{name}_simple"
        wishes = printing.Wishes(
            fullness=settings.fullness,
            feel=settings.feel,
            tempo=settings.tempo,
            unfolded=options.unfolded,
            by_feel=not options.simple,
            known=feels,
        )
        if options.to == printing.STANDARD_OUTPUT:
            printing.to_standard_output(printing.score_as_html(arrangement, wishes))
            continue
        for written in printing.printed(arrangement, printing.target(options.to, name), wishes):
            print(written)
    return 0


def _write_page(to: str | None, name: str, page: str) -> None:
    """Write a page of text, which is HTML and nothing else."""
    from liveassist.page import printing

    if to == printing.STANDARD_OUTPUT:
        printing.to_standard_output(page)
        return
    path = printing.target(to, name)
    if path.suffix.lower() != printing.HTML:
        raise PlayerError(f"{path}: this page is written as {printing.HTML} only")
    print(printing.write(path, page.encode()))


def hear(options: argparse.Namespace) -> int:
    """Hear a chart, or write it to a WAV file."""
    from liveassist import hear

    return hear.hear(options)


# -- band -----------------------------------------------------------------------------------------------------------


def replay(options: argparse.Namespace) -> int:
    """What the band does with a take."""
    from liveassist import looking_back

    return looking_back.replay(options)


def review(options: argparse.Namespace) -> int:
    """What a take tells about the playing."""
    from liveassist import looking_back

    return looking_back.review(options)


def history(options: argparse.Namespace) -> int:
    """The takes kept, from week to week."""
    from liveassist import looking_back

    return looking_back.history(options)


def fault_report(options: argparse.Namespace) -> int:
    """A take and what belongs to it in one archive."""
    from liveassist import fault_report as reporting

    return reporting.write(options)


def play(options: argparse.Namespace) -> int:
    """Play a chart on the console, or a service."""
    from liveassist.console.launcher import Session, run
    from liveassist.own_feels import own_feels_told
    from liveassist.service.order import is_service

    if is_service(options.chart):
        from liveassist.whole_service import play_service

        return play_service(options)

    profile = read_profile_file(options.console)
    chart = read_chart_file(options.chart)
    extra = {} if options.from_bar is None else {"from_bar": first_bar(options.from_bar, chart)}
    sound = sound_device(options.sound)
    own = own_feels_told(options.chart)
    found = layers(
        ("your settings file", user_layer()),
        ("console profile", profile.settings),
        (Path(options.chart).name, chart_layer(chart)),
        ("the command line", {**stated(options), **extra}),
        feels=own.feels,
    )
    if sound or found.settings.ears or found.settings.drummer_ears or found.settings.click:
        from liveassist.ears.caution import at_first_start

        at_first_start()
    return run(
        Session(
            chart=chart,
            profile=profile,
            layered=found,
            take=options.take,
            sound=sound,
            feels=own.texts,
            notices=own.problems,
            chart_path=options.chart,
        ),
        desk=not options.no_desk,
    )


def rehearse(options: argparse.Namespace) -> int:
    """Rehearse a chart against a steady pulse."""
    from liveassist import rehearsing

    return rehearsing.rehearse(options)


def ports(options: argparse.Namespace) -> int:
    """List the MIDI ports."""
    from liveassist.console.ports import midi_binding, ports_report

    for row in ports_report(midi_binding()):
        print(row)
    return 0


def console(options: argparse.Namespace) -> int:
    """Learn the console by pressing, or check it."""
    if options.profile == CHECK:
        from liveassist.console.checking import check_console

        return check_console(read_profile_file(options.checked))
    if options.checked:
        raise PlayerError(
            f'"{options.checked}" is one word too many: liveassist console FILE, or liveassist console check FILE'
        )
    from liveassist.console.learning import learn_console

    return learn_console(Path(options.profile or "console.toml"))


def feels(options: argparse.Namespace) -> int:
    """Feels: list, explain, hear, proof."""
    from liveassist.showing_feels import show

    return show(options)


def library(options: argparse.Namespace) -> int:
    """Look through a folder of charts."""
    from liveassist.library.command import library as look_through

    return look_through(options)


def demo(options: argparse.Namespace) -> int:
    """The imagined organist plays."""
    from liveassist.demo import show

    return show(options)


def drummer(options: argparse.Namespace) -> int:
    """The drummer's sheet."""
    from liveassist.drummer import show

    return show(options)


def click(options: argparse.Namespace) -> int:
    """A pattern to set the click by."""
    from liveassist.click_pattern import show

    return show(options)


COMMANDS: dict[str, Callable[[argparse.Namespace], int]] = {
    "demo": demo,
    "play": play,
    "rehearse": rehearse,
    "check": check,
    "route": route,
    "arrange": arrange,
    "import": bring_in,
    "export": send_out,
    "key": key,
    "print": print_page,
    "hear": hear,
    "replay": replay,
    "review": review,
    "history": history,
    "drummer": drummer,
    "fault-report": fault_report,
    "click": click,
    "feels": feels,
    "library": library,
    "ports": ports,
    "console": console,
}
