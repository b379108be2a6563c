"""The command line. Nothing heavy is imported here: ``--help`` must come at once. The work is in ``liveassist.commands``."""

from __future__ import annotations

import argparse
import difflib
import os
import sys
from collections.abc import Iterable, Sequence
from typing import NoReturn

CAUTION = (
    "Hearing: start low, keep in-ears as quiet as they do their job, rest your ears; follow your local rules and ask a "
    "professional where in doubt."
)

MEANT = {
    "learn": "console",
    "start": "play",
    "run": "play",
    "perform": "play",
    "practise": "rehearse",
    "practice": "rehearse",
    "bug-report": "fault-report",
    "bug": "fault-report",
    "proof": "check",
    "proofread": "check",
    "roadmap": "route",
}
"""Words that a player may try, and the command that does it."""


class _Parser(argparse.ArgumentParser):
    """Tells what is wrong with a command in one line."""

    def error(self, message: str) -> NoReturn:
        said = message.removeprefix("argument ")
        self.exit(2, f"{self.prog}: {said} ({self.prog} --help tells what there is)\n")


def _whole(text: str) -> int:
    """A whole number, as stated on the command line."""
    try:
        return int(text)
    except ValueError:
        raise argparse.ArgumentTypeError(f'"{text}" is not a whole number') from None


def _unknown(word: str, names: Iterable[str]) -> str:
    """What to say to a word that is no command."""
    names = list(names)
    near = [MEANT[word]] if word in MEANT else difflib.get_close_matches(word, names, n=1)
    advice = f'did you mean "{near[0]}"?' if near else f"the commands are: {', '.join(names)}"
    return f'"{word}" is not a command; {advice}'


def _parser() -> tuple[argparse.ArgumentParser, tuple[str, ...]]:
    """What reads the command line, and the names of the commands."""
    parser = _Parser(
        prog="liveassist",
        description="The rhythm section's left hand for a solo organist: follows a chord chart by the pedals and plays a "
        "detached figure on a second manual.",
        epilog=CAUTION,
    )
    parser.add_argument("--version", action="store_true", help="tell the version and stop")
    commands = parser.add_subparsers(dest="command", metavar="COMMAND", title="commands")

    demo = commands.add_parser("demo", help="see and hear it with nothing plugged in")
    demo.add_argument("chart", nargs="?", help="a chart to play instead of the demo's own")
    demo.add_argument(
        "--headless", action="store_true", help="tell the story as text, as fast as it can, without a screen"
    )
    demo.add_argument("--sound", metavar="DEVICE", help="sound device to play through, by name; silent without")
    demo.add_argument("--list-sound", action="store_true", help="list the sound devices and stop")
    demo.add_argument("--seed", type=_whole, default=1, metavar="N", help="another imagined organist (default 1)")
    _options(demo)

    play = commands.add_parser(
        "play", help="play a chart or a whole service on your console, with the desk on the screen"
    )
    play.add_argument("chart", help="the chart, or the service (.toml)")
    play.add_argument("--no-desk", action="store_true", help="without the screen, until Ctrl-C")
    play.add_argument("--from-bar", type=_whole, metavar="N", help="start at bar N of the route, counted from 1")
    play.add_argument(
        "--take", metavar="FILE", help="where to write the take (default: the takes folder of your user data)"
    )
    play.add_argument("--sound", metavar="DEVICE", help="also sound the figure through this sound device, by name")
    _options(play)

    check = commands.add_parser("check", help="proof charts and services: everything wrong or odd, all at once")
    check.add_argument("charts", nargs="+", metavar="chart", help="charts, or services (.toml) with all their charts")
    check.add_argument("--console", metavar="FILE", help="console profile: checks against its pedalboard")

    for name, help_ in (
        ("route", "the roadmap unfolded: bars and changes in the order of playing"),
        ("arrange", "the left hand that the band would play"),
    ):
        command = commands.add_parser(name, help=help_)
        command.add_argument("chart")
        command.add_argument("--json", action="store_true", help="for programs")
        if name == "arrange":
            command.add_argument("--fullness", metavar="N", help="1 bare to 4 full (default 2)")
            command.add_argument("--tempo", metavar="BPM", help="counted beats a minute")
            command.add_argument("--room", metavar="SECONDS", help="reverberation time")
            command.add_argument("--feel", metavar="NAME", help="a feel for the whole chart")
            _variety(command)
            _bass(command)

    bring = commands.add_parser("import", help="make charts of files from elsewhere, and tell what was understood")
    bring.add_argument("files", nargs="+", metavar="FILE", help="a file, or a folder of them")
    bring.add_argument("--to", metavar="FILE|FOLDER", help="where to (default: this folder); - for standard output")
    bring.add_argument("--force", action="store_true", help="write over files that are there")

    send = commands.add_parser(
        "export", help="write a chart as MusicXML, ABC, words and chords, or in the chart notation"
    )
    send.add_argument("chart")
    send.add_argument(
        "--to", metavar="FILE", required=True, help="its suffix says what: .musicxml, .mxl, .abc, .txt, .chart"
    )
    send.add_argument("--force", action="store_true", help="write over a file that is there")

    in_key = commands.add_parser(
        "key", help="where the tune lies in each key, for a congregation; the chart in another key"
    )
    in_key.add_argument("chart")
    in_key.add_argument("key", nargs="?", metavar="KEY", help="write the chart in this key: G, Bb, F#m")
    in_key.add_argument("--to", metavar="FILE", help="where to write it (default: standard output)")
    in_key.add_argument("--force", action="store_true", help="write over a file that is there")

    page = commands.add_parser(
        "print", help="an organ score to print, read and send on; or chords, or a service's overview"
    )
    page.add_argument("charts", nargs="+", metavar="chart")
    page.add_argument(
        "--to",
        metavar="FILE",
        help="where to; its suffix says what: .html (default), .musicxml, .mxl, .svg, .mid. A folder, a suffix alone, or - for "
        "standard output are understood too",
    )
    what = page.add_mutually_exclusive_group()
    what.add_argument("--chords", action="store_true", help="the chart's chords and words only, in large type")
    what.add_argument("--simple", action="store_true", help="a left hand for a person to play: one chord a change")
    what.add_argument(
        "--overview",
        action="store_true",
        help="all charts, or a service (.toml), in order on one page: first pedal notes, tempi, roadmaps",
    )
    page.add_argument("--unfolded", action="store_true", help="every repeat written out")
    page.add_argument("--fullness", metavar="N", help="1 bare to 4 full (default 2)")
    page.add_argument("--tempo", metavar="BPM", help="counted beats a minute (default: the chart's)")
    page.add_argument("--room", metavar="SECONDS", help="reverberation time")
    page.add_argument("--feel", metavar="NAME", help="a feel for the whole chart")
    _variety(page)

    hear = commands.add_parser(
        "hear", help="hear a chart: figure, tune and pedal, through a sound device or as a WAV file"
    )
    hear.add_argument("chart")
    where = hear.add_mutually_exclusive_group()
    where.add_argument("--sound", metavar="DEVICE", help="sound device to play through, by name")
    where.add_argument("--to", metavar="FILE.wav", help="write a WAV file instead")
    begins = hear.add_mutually_exclusive_group()
    begins.add_argument(
        "--from-bar", type=int, metavar="N", default=1, help="start at bar N of the route, counted from 1"
    )
    begins.add_argument("--section", metavar="NAME", default="", help="this section alone, where it first comes")
    hear.add_argument("--bars", type=int, metavar="N", default=0, help="so many bars and no more")
    hear.add_argument(
        "--parts", metavar="NAMES", help="some of figure,answer,melody,bass,click (default: all but the click)"
    )
    key = hear.add_mutually_exclusive_group()
    key.add_argument("--lift", type=int, metavar="N", default=0, help="so many half steps up (down: negative)")
    key.add_argument("--key", metavar="KEY", help="in this key")
    hear.add_argument("--level", type=float, metavar="DBFS", default=-20.0, help="of a full chord (default -20)")
    hear.add_argument("--fullness", type=int, metavar="N", help="1 bare to 4 full (default 2)")
    hear.add_argument("--tempo", type=float, metavar="BPM", help="counted beats a minute (default: the chart's)")
    hear.add_argument("--room", type=float, metavar="SECONDS", help="reverberation time, for the touch")
    hear.add_argument("--reverb", action="store_true", help="let the room be heard, too")
    hear.add_argument("--feel", metavar="NAME", help="a feel for the whole chart")
    _variety(hear)

    click = commands.add_parser("click", help="a steady pattern to set the in-ear click by, beside the organ")
    click.add_argument("--console", metavar="FILE", help="console profile: the figure's division plays along")
    click.add_argument("--bars", type=_whole, default=8, metavar="N", help="so many bars, where there is no terminal")
    _in_ears(click)

    rehearse = commands.add_parser("rehearse", help="practise a chart against a steady click, and hear how it went")
    rehearse.add_argument("chart", help="the chart")
    rehearse.add_argument(
        "--section", action="append", metavar="NAME", help="this section alone; say it again for more (default: all)"
    )
    rehearse.add_argument("--loop", action="store_true", help="round and round until you nod 'on' or leave")
    rehearse.add_argument("--tempo", metavar="BPM", help="counted beats a minute (default: the chart's)")
    rehearse.add_argument(
        "--ladder", metavar="FROM:TO:STEP", help="tempo ladder, as 60:80:4: up after two good passes, else down"
    )
    rehearse.add_argument(
        "--figure", action=argparse.BooleanOptionalAction, default=True, help="with the figure, or without"
    )
    rehearse.add_argument("--click", dest="click_on", metavar="WHERE", help="on beats (default), backbeat or bars")
    rehearse.add_argument("--drop", metavar="ON:OFF", help="the click falls out, as 2:2: two bars on, two bars off")
    rehearse.add_argument("--report", metavar="FILE", help="write pictures, words and figures as one HTML file")
    rehearse.add_argument("--forget", action="store_true", help="do not keep it in the history")
    rehearse.add_argument("--take", metavar="FILE", help="where to write the take (default: the takes folder)")
    rehearse.add_argument("--no-desk", action="store_true", help="without the screen, from a count-in to the fine")
    rehearse.add_argument("--sound", metavar="DEVICE", help="sound device for the figure, by name")
    rehearse.add_argument(
        "--headless", action="store_true", help="an imagined rehearser plays, told as text, with nothing plugged in"
    )
    rehearse.add_argument("--seed", type=_whole, default=1, metavar="N", help="another imagined rehearser")
    rehearse.add_argument("--console", metavar="FILE", help="console profile (default: the plain console)")
    rehearse.add_argument("--fullness", metavar="N", help="1 bare to 4 full")
    rehearse.add_argument("--feel", metavar="NAME", help="a feel for the whole chart")
    _in_ears(rehearse)

    replay = commands.add_parser("replay", help="what the band does with a take, or with a MIDI file")
    replay.add_argument("chart")
    replay.add_argument("take", help="a take, or a Standard MIDI File")
    replay.add_argument("--json", action="store_true", help="for programs, one object a line")
    _options(replay)

    review = commands.add_parser("review", help="what a take tells about your playing: words first, then figures")
    review.add_argument("chart")
    review.add_argument("take", help="a take, or a Standard MIDI File")
    review.add_argument("--json", action="store_true", help="for programs")
    review.add_argument("--report", metavar="FILE", help="also write pictures, words and figures as one HTML file")
    review.add_argument("--forget", action="store_true", help="do not keep it in the history")
    _options(review)

    history = commands.add_parser("history", help="takes reviewed so far: list, compare, export, prune")
    history.add_argument("song", nargs="?", help="part of a song's title (default: all songs)")
    history.add_argument("--show", type=int, metavar="NO", help="what was said of a take")
    history.add_argument("--compare", type=int, nargs=2, metavar="NO", help="two takes, by their numbers")
    history.add_argument("--csv", metavar="FILE", help="write the list for a spreadsheet")
    history.add_argument("--again", action="store_true", help="review every take again, as this version does")
    history.add_argument("--keep", type=int, metavar="N", help="forget all but the latest N takes of each song")
    history.add_argument("--days", type=int, metavar="N", help="forget takes older than N days")

    drummer = commands.add_parser(
        "drummer", help="the drummer's sheet of the band that plays: section, bars left, beat"
    )
    drummer.add_argument("--browser", action="store_true", help="serve it to a browser on this machine")
    drummer.add_argument("--bind", metavar="ADDRESS", help="serve it to others too, at this address of this machine")
    drummer.add_argument("--port", type=_whole, metavar="N", help="port to serve it at (default 8460)")
    fault = commands.add_parser(
        "fault-report", help="take, chart, console and versions in one archive, for somebody who looks at a fault"
    )
    fault.add_argument("take", help="the take in which it went wrong, or a Standard MIDI File")
    fault.add_argument("--to", metavar="FILE.zip", help="where to write it (default: beside you, named after the take)")
    fault.add_argument("--chart", metavar="FILE", help="the chart, where the take does not carry it")
    fault.add_argument("--console", metavar="FILE", help="the console profile, where the take does not carry it")
    fault.add_argument(
        "--yes", action="store_true", help="write it without asking; what is personal is listed all the same"
    )

    feels = commands.add_parser(
        "feels", help="the ways of playing the figure: list, explain, hear; proof one of your own"
    )
    feels.add_argument("names", nargs="*", metavar="NAME", help="a feel to explain, or a file of your own to proof")
    feels.add_argument("--hear", action="store_true", help="play it: seven bars, with the pedal")
    feels.add_argument("--sound", metavar="DEVICE", help="sound device to play through, by name")
    feels.add_argument("--to", metavar="FILE.wav", help="write it to a WAV file instead")
    feels.add_argument("--tempo", metavar="BPM", help="counted beats a minute")
    feels.add_argument("--fullness", metavar="N", help="1 bare to 4 full (default 2)")
    feels.add_argument("--room", metavar="SECONDS", help="reverberation time")

    library = commands.add_parser(
        "library", help="look through a folder of charts; what was used when, what is there twice"
    )
    library.add_argument("folder", help="the folder, with all its subfolders")
    library.add_argument("words", nargs="*", metavar="WORD", help="words of title or text, right behind the folder")
    library.add_argument("--key", metavar="KEY", help="in this key")
    library.add_argument("--meter", metavar="METER", help="in this meter")
    library.add_argument("--tempo", metavar="BPM", help="counted beats a minute: 92, or 80-100")
    library.add_argument("--feel", metavar="NAME", help="with this feel")
    library.add_argument("--section", metavar="NAME", help="with a section of this name")
    library.add_argument("--duplicates", action="store_true", help="charts of the same title, or with the same chords")
    library.add_argument("--all", action="store_true", help="all that fit, however many")
    library.add_argument("--json", action="store_true", help="for programs, one object a line")

    commands.add_parser("ports", help="the MIDI ports of this machine")

    console = commands.add_parser("console", help="learn your console by pressing; check it before the service")
    console.add_argument(
        "profile",
        nargs="?",
        metavar="FILE",
        help='where to write the profile (default: console.toml); or the word "check" for the one-minute bench check',
    )
    console.add_argument(
        "checked", nargs="?", metavar="PROFILE", help='after "check": the console to check (default: the plain console)'
    )
    return parser, tuple(commands.choices)


def _options(command: argparse.ArgumentParser) -> None:
    """The settings that a player may state on the command line. Their values are read where all settings are."""
    command.add_argument("--console", metavar="FILE", help="console profile (default: the plain console)")
    command.add_argument("--lead", metavar="NAME", help="feet, switch, pulse, click or drums")
    command.add_argument("--time", metavar="FROM", help="where time comes from: feet, click, drums or clock")
    command.add_argument("--place", metavar="FROM", help="where place comes from: feet, switch or bars")
    command.add_argument("--patience", metavar="N", help="missing changes to carry on through: 0, 1, 2 or always")
    command.add_argument("--tempo", metavar="BPM", help="counted beats a minute (default: the chart's)")
    command.add_argument("--fullness", metavar="N", help="1 bare to 4 full")
    command.add_argument("--feel", metavar="NAME", help="a feel for the whole chart")
    command.add_argument("--shoe", metavar="USE", help="what the swell shoe sets: off (default) or fullness")
    command.add_argument("--click", action=argparse.BooleanOptionalAction, help="a click, or none")
    command.add_argument("--signals", action=argparse.BooleanOptionalAction, help="quiet signs in your ears")
    command.add_argument("--calls", action=argparse.BooleanOptionalAction, help="call the sections in your ears")
    command.add_argument("--registration", metavar="NAME", help="flutes, principals, strings or full, for --sound")
    _in_ears(command)
    _variety(command)
    _bass(command)


def _in_ears(command: argparse.ArgumentParser) -> None:
    """Where the click is heard."""
    command.add_argument(
        "--ears", metavar="DEVICE", help="sound device of your in-ears, by name: the click, and no music"
    )
    command.add_argument("--drummer-ears", metavar="DEVICE", help="sound device of the drummer's in-ears")
    command.add_argument("--click-offset", metavar="MS", help="your click comes so many milliseconds later")


def _variety(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--no-variety",
        dest="variety",
        action="store_const",
        const=False,
        help="play equal bars alike, without small variations",
    )


def _bass(command: argparse.ArgumentParser) -> None:
    command.add_argument("--bass", action=argparse.BooleanOptionalAction, help="play the bass, too (default: no)")


def main(arguments: Sequence[str] | None = None) -> int:
    """Run a command. Returns the exit code: 0 well, 1 problems found in a chart, 2 bad input."""
    parser, names = _parser()
    words = sys.argv[1:] if arguments is None else list(arguments)
    if words and not words[0].startswith("-") and words[0] not in names:
        parser.error(_unknown(words[0], names))
    options = parser.parse_args(words)
    if options.version:
        from importlib.metadata import version

        print(f"liveassist {version('liveassist')}")
        return 0
    if options.command is None:
        parser.print_help()
        return 0

    from charts.errors import ChartError
    from liveassist import commands
    from liveassist.errors import PlayerError

    try:
        return commands.COMMANDS[options.command](options)
    except (PlayerError, ChartError) as error:
        print(f"liveassist: {error}", file=sys.stderr)
        return 2
    except KeyboardInterrupt:
        return 130
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())  # the reader has had enough; nothing to tell
        return 0


if __name__ == "__main__":
    sys.exit(main())
